"""Rows kept on disk while a table is made, so that a run that was broken off goes on where it was.

A row counts only for the program and the pictures it was measured with: its file's name carries a
digest of both.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict
from functools import partial
from pathlib import Path

import numpy as np

from tests.bench import finding_table, pictures
from tests.bench.finding_table import Row
from tests.bench.pictures import Case

_ROOT = Path(__file__).parents[2]
_JUDGED_BY = ("trace2pop/**/*.py", "tests/bench/finding_table.py", "tests/bench/measure.py")


def rows(cases: Iterable[Case], folder: Path, workers: int) -> Iterator[Row]:
    """Yield the rows of cases in their order, from ``folder`` where it has them."""
    folder.mkdir(parents=True, exist_ok=True)
    one = partial(_row, folder=folder, state=state())
    if workers == 1:
        yield from map(one, cases)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(one, cases)


def state() -> str:
    """Return a digest of the program, of what measures it and of the pictures' version."""
    digest = hashlib.sha256(f"{pictures.VERSION}".encode())
    for file in sorted(file for some in _JUDGED_BY for file in _ROOT.glob(some)):
        digest.update(file.read_bytes())
    return digest.hexdigest()[:10]


def _row(case: Case, *, folder: Path, state: str) -> Row:
    file = folder / f"{case.key}.{state}.json"
    if not file.exists():
        row = finding_table.measured(case)
        kept = {**asdict(row), "rings": [np.round(ring, 4).tolist() for ring in row.rings]}
        rough = file.with_suffix(".part")
        rough.write_text(json.dumps(kept), "utf-8")
        rough.replace(file)
    kept = json.loads(file.read_text("utf-8"))
    return Row(
        case,
        kept["iou"],
        kept["kind"],
        kept["confidence"],
        tuple(kept["doubts"]),
        tuple(kept["spurs"]),
        kept["error"],
        tuple(np.array(ring) for ring in kept["rings"]),
    )
