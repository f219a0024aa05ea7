"""The tracer's two tables, and whether its bars are met.

    python -m tests.bench.trace_tables [--dev] [--only KIND[-LIGHT] ...] [--rows DIR] [--workers 2]
                                       [--no-line] [--overlays DIR]

Held-out motifs unless ``--dev``: those were never looked at while anything was set. Pictures are
rendered on the first run, which takes about a quarter of an hour of processor time, and kept beside
the corpus; tracing them all takes about as long again. A run that is broken off goes on from the
rows in ``--rows`` as long as the program is the same. Exits with 1 where a bar is missed.
"""

import argparse
import sys
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2] / "samples"))

from tests.bench import finding_table, kept_rows, line_table, overlays, pictures
from tests.bench.finding_table import Row
from tests.bench.pictures import Case

KINDS = ("solid", "line", "line1", "line2", "colour", "printed", "alpha")
LIGHTS = ("clean", "bad")
SHEET = 16
"""Overlays on one sheet."""

Bar = tuple[str, float, float, bool]
"""What is measured, its value, its limit, and whether that is met."""


def main() -> int:
    """Print both tables and every bar."""
    given = _arguments()
    held_out = not given.dev
    kept = given.rows or pictures.store_folder() / "rows"
    found, white = (
        list(kept_rows.rows(_picked(given.only, kinds, held_out), kept, given.workers))
        for kinds in (KINDS, ("pale",))
    )
    for title, some in (("The motif", found), ("White art on white paper", white)):
        if some:
            print(f"{title}:\n\n{finding_table.table(some)}\n\n{finding_table.astray(some)}\n")
    if given.overlays:
        _write_overlays([*found, *white], given.overlays)
    bars = [] if given.only else list(finding_bars(found, white))
    for light in () if given.no_line else ("perfect", "bad"):
        rows = line_table.rows(pictures.cases(("solid",), (light,), held_out=held_out))
        print(f"The line, {light}:\n\n{line_table.table(rows)}\n\n{line_table.above(rows)}\n")
        bars += line_bars(rows, light)
    if not given.no_line:
        large = float(np.median(line_table.large_seconds(held_out=held_out)))
        bars.append(_most("contour to curves of a 120 mm motif, median s", large, 0.2))
    for name, value, limit, met in bars:
        print(f"{'met   ' if met else 'MISSED'} {name}: {value:.4g}, bar {limit:.4g}")
    return 0 if all(met for *_, met in bars) else 1


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--dev", action="store_true")
    parser.add_argument("--only", nargs="*", default=[], help="such as line1 or printed-bad")
    parser.add_argument("--rows", type=Path)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--no-line", action="store_true")
    parser.add_argument("--overlays", type=Path)
    return parser.parse_args()


def _picked(only: list[str], kinds: tuple[str, ...], held_out: bool) -> list[Case]:
    """Return the cases of kinds, in both lights, that ``only`` names; all where it names none."""
    return [
        case
        for kind in kinds
        for light in LIGHTS
        if not only or kind in only or f"{kind}-{light}" in only
        for case in pictures.cases((kind,), (light,), held_out=held_out)
    ]


def _write_overlays(found: list[Row], folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for name, some in groupby(found, key=lambda row: f"{row.case.kind}{row.case.gap:g}"):
        mine = list(some)
        for number in range(0, len(mine), SHEET):
            part = mine[number : number + SHEET]
            overlays.sheet(part, folder / f"{name}-{number // SHEET + 1}.png")


def finding_bars(found: list[Row], white: list[Row]) -> Iterator[Bar]:
    """Yield the bars on finding the motif."""
    counted = [row for row in found if row.case.gap < 2]
    iou = np.array([row.iou for row in counted])
    good = [row for row in counted if row.iou >= 0.98]
    total, there = np.sum([row.spurs for row in counted], axis=0)
    wide = [row.iou >= 0.98 for row in found if row.case.gap == 2]
    unsaid = sum(row.iou < 0.9 and not row.doubted for row in (*found, *white))
    astray = sum(row.iou < 0.98 and not row.doubted for row in white)
    yield _least("share of pictures with IoU of 0.98", np.mean(iou >= 0.98), 0.95)
    yield _least("median IoU", np.median(iou), 0.995)
    yield _most("pictures below 0.9 not doubted", unsaid, 0)
    yield _most("share of good pictures doubted", np.mean([r.doubted for r in good]), 0.05)
    yield _least("share of the length of spurs that is there", there / total, 0.95)
    yield _least("share of drawings with 2 mm gaps at 0.98", np.mean(wide), 0.8)
    yield _most("white art traced wrong and not doubted", astray, 0)


def line_bars(rows: list[line_table.Row], light: str) -> Iterator[Bar]:
    """Yield the bars on the line itself, beside potrace."""
    ours, potrace, port = (
        [row for row in rows if row.tracer == name] for name in ("trace2pop", "potrace", "potracer")
    )
    name = {"perfect": "clean", "bad": "photo"}[light]
    yield _most(f"{name}: mean mm", _mean(ours, "mean"), {"clean": 0.0105, "photo": 0.0155}[name])
    yield _most(f"{name}: 99th percentile mm", _mean(ours, "p99"), _mean(potrace, "p99"))
    yield _most(f"{name}: largest mm, on average", _mean(ours, "worst"), _mean(potrace, "worst"))
    yield _most(f"{name}: largest mm of all", _largest(ours), _largest(potrace))
    segments = [sum(row.segments for row in some) for some in (ours, potrace)]
    yield _most(f"{name}: segments over potrace's", segments[0] / segments[1], 0.7)
    spent = [float(np.median([row.seconds for row in some])) for some in (ours, port)]
    yield _most(f"{name}: time over the port's", spent[0] / spent[1], 0.5)


def _mean(rows: list[line_table.Row], name: str) -> float:
    return float(np.mean([getattr(row.seen, name) for row in rows]))


def _largest(rows: list[line_table.Row]) -> float:
    return max(row.seen.worst for row in rows)


def _least(name: str, value: float, limit: float) -> Bar:
    return name, float(value), limit, bool(value >= limit)


def _most(name: str, value: float, limit: float) -> Bar:
    return name, float(value), limit, bool(value <= limit)


if __name__ == "__main__":
    sys.exit(main())
