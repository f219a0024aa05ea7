"""Makes random cards and tells what became of each.

    python -m tests.cli.random_run 0 2000 cases.jsonl

makes the cards of these seeds and writes a line for each; run again, it goes on where it was. Other
seeds into other files run beside it. ``--table cases.jsonl ...`` counts what became of them.

    python -m tests.cli.random_run 1234 [--ordinary] [--simpler] [--keep FOLDER]

makes one. ``--ordinary`` is what an ordinary run of the tests makes of the seed, ``--simpler``
leaves out what it can while the same becomes of it, ``--keep`` leaves drawing and card there.
"""

import argparse
import importlib
import json
import os
import re
import resource
import signal
import subprocess
import sys
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from tests.cli.random_cards import SHEET, Case, case, simpler
from trace2pop.commands import files
from trace2pop.commands.make import make
from trace2pop.console import Console
from trace2pop.errors import CheckError, FaultError, Trace2popError
from trace2pop.stages.capture import drawing

LEFT_OUT = ("artwork", "guide_pdf", "page_html", "preview", "as_png", "trace_picture")
"""What of a card only shows it, beside its film; the check reads none of these."""

SECONDS = 180
"""Of processor time; a case that takes longer is given up and counts as failed."""


LOADED_LATE = (
    *("ezdxf", "pypdfium2", "rectpack", "skfem", "skimage.measure", "skimage.morphology", "typst"),
    *("scipy.optimize", "scipy.sparse.linalg", "scipy.spatial", "scipy.special", "svgpathtools"),
)
"""What the program loads where it needs it: here once, not in each case's own process."""


class NoFilm:
    """Stands in for the film of a card."""

    takes = ()

    def __init__(self, *_: object) -> None:
        pass

    def gif(self, _: object) -> bytes:
        return b"-"


@dataclass(frozen=True)
class Outcome:
    """What became of a case: ``made``, ``refused`` or ``failed``; why, and processor seconds."""

    seed: int
    status: str
    kind: str
    text: str
    seconds: float = 0.0


def outcome_of(given: Case, seed: int, folder: Path) -> Outcome:
    """Make a card in ``folder``, its check with it, and return what became of it."""
    start = time.process_time()
    status, kind, text = _tried(given, folder)
    return Outcome(seed, status, kind, text, round(time.process_time() - start, 2))


def _tried(given: Case, folder: Path) -> tuple[str, str, str]:
    source = written(given, folder)
    before = sorted(path.name for path in folder.iterdir())
    try:
        with quick(given):
            make(source, folder / "card", given.options, force=False, console=Console(-1))
    except Trace2popError as error:
        text = f"{error}; {error.advice}"
        named = bool(str(error) and error.advice) and not isinstance(error, CheckError | FaultError)
        left = sorted(path.name for path in folder.iterdir()) != before
        if left:
            text = f"it left something behind; {text}"
        return "refused" if named and not left else "failed", type(error).__name__, text
    except Exception as error:
        return "failed", type(error).__name__, traceback.format_exc(limit=-6)
    return "made", "", ""


def written(given: Case, folder: Path) -> Path:
    """Write a case's drawing, and its card.toml where it has one; return what is to be made."""
    picture = folder / "motif.svg"
    picture.write_text(given.svg, "utf-8")
    if given.dpi:
        picture = _scanned(picture, given.dpi)
    if not given.rows and not given.dpi:
        return picture
    settings = folder / "asked.toml"
    stated = [f"dpi = {given.dpi}"] if given.dpi else []
    lines = ["[picture]", f'file = "{picture.name}"', *stated, *given.rows]
    settings.write_text("\n".join(lines), "utf-8")
    return settings


def _scanned(picture: Path, dpi: int) -> Path:
    import typst

    page = picture.with_suffix(".typ")
    side = f"{SHEET}mm"
    page.write_text(
        f"#set page(width: {side}, height: {side}, margin: 0mm, fill: white)\n"
        f'#image("{picture.name}", width: {side}, height: {side}, fit: "contain")'
    )
    scan = picture.with_suffix(".png")
    scan.write_bytes(typst.compile(str(page), format="png", ppi=float(dpi)))
    page.unlink()
    return scan


@contextmanager
def quick(given: Case) -> Iterator[None]:
    """Leave out what only shows a card, unless the case is one of those that are made whole."""
    with ExitStack() as left_out:
        if not given.whole:
            for name in LEFT_OUT:
                left_out.enter_context(patch.object(files, name, lambda *_: b"-"))
            left_out.enter_context(patch.object(files, "Film", NoFilm))
            left_out.enter_context(patch.object(files, "picture_files", lambda *_: {}))
            left_out.enter_context(patch.object(drawing, "rendered", lambda *_: None))
        yield


def apart(given: Case, seed: int, folder: Path | None = None) -> Outcome:
    """Make a case in a process of its own: nothing of it may end this one, or take for ever."""
    with TemporaryDirectory() as own:
        home = folder or Path(own)
        told = Path(own) / "outcome.json"
        (home / "case").mkdir()
        with warnings.catch_warnings():  # Python 3.12 warns where pytest has threads
            warnings.simplefilter("ignore", DeprecationWarning)
            child = os.fork()
        if child == 0:
            resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS + 5))
            done = outcome_of(given, seed, home / "case")
            told.write_text(json.dumps(asdict(done)))
            os._exit(0)
        _, status, used = os.wait4(child, 0)
        if told.exists():
            return Outcome(**json.loads(told.read_text()))
        code = os.waitstatus_to_exitcode(status)
        why = signal.Signals(-code).name if code < 0 else f"code {code}"
        return Outcome(seed, "failed", why, "its process ended", round(used.ru_utime, 2))


def many(first: int, last: int, log: Path) -> int:
    """Make the cases of seeds from ``first`` up to ``last``; return how many failed."""
    done = {outcome.seed for outcome in read(log)} if log.exists() else set()
    commit = _commit()
    for name in LOADED_LATE:
        importlib.import_module(name)
    failed = 0
    for seed in range(first, last):
        if seed in done:
            continue
        outcome = apart(case(seed), seed)
        with log.open("a", encoding="utf-8") as lines:
            lines.write(json.dumps(asdict(outcome) | {"commit": commit}) + "\n")
        if outcome.status == "failed":
            failed += 1
            print(f"{outcome.kind}: {outcome.text}\n  again: {again(seed)}", flush=True)
    return failed


def read(log: Path) -> list[Outcome]:
    """Return the outcomes of a log."""
    rows = [json.loads(line) for line in log.read_text("utf-8").splitlines()]
    return [Outcome(**{k: v for k, v in row.items() if k != "commit"}) for row in rows]


def again(seed: int, *, ordinary: bool = False) -> str:
    """Return the line that makes one case again."""
    return f"python -m tests.cli.random_run {seed}{' --ordinary' * ordinary}"


def table(outcomes: list[Outcome]) -> str:
    """Return how many were made, refused for which cause, and failed, and how long they took."""
    count = len(outcomes)
    lines = [f"{count} cases"]
    for status in ("made", "refused", "failed"):
        number = sum(outcome.status == status for outcome in outcomes)
        lines.append(f"{status:8} {number:5} {number / count:6.1%}")
    causes = Counter(
        (outcome.kind, re.sub(r"-?\d[\d.]*", "#", outcome.text)[:110])
        for outcome in outcomes
        if outcome.status != "made"
    )
    lines += [f"{number:5} {kind}: {text}" for (kind, text), number in causes.most_common()]
    seconds = sorted(outcome.seconds for outcome in outcomes)
    shown = ", ".join(f"{seconds[int(part * (count - 1))]:.1f}" for part in (0.5, 0.9, 0.99, 1))
    return "\n".join([*lines, f"processor seconds: {sum(seconds):.0f}; 50, 90, 99, 100 %: {shown}"])


def simplest(given: Case, seed: int) -> Case:
    """Return the case with all left out that isn't needed for the same to become of it."""
    wanted = apart(given, seed)
    return next(
        (simplest(less, seed) for less in simpler(given) if _alike(apart(less, seed), wanted)),
        given,
    )


def _alike(one: Outcome, other: Outcome) -> bool:
    begins = [re.sub(r"[-\d.]+", "#", outcome.text.split(":")[0]) for outcome in (one, other)]
    return (one.status, one.kind, begins[0]) == (other.status, other.kind, begins[1])


def _commit() -> str:
    told = subprocess.run(
        ["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=False
    )
    return told.stdout.strip()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("what", nargs="*", help="a seed; or first, last and a log")
    parser.add_argument("--ordinary", action="store_true")
    parser.add_argument("--simpler", action="store_true")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--table", nargs="+", type=Path)
    asked = parser.parse_args()
    if asked.table:
        print(table([outcome for log in asked.table for outcome in read(log)]))
        return 0
    if len(asked.what) == 3:
        return min(1, many(int(asked.what[0]), int(asked.what[1]), Path(asked.what[2])))
    seed = int(asked.what[0])
    given = case(seed, ordinary=asked.ordinary)
    if asked.simpler:
        given = simplest(given, seed)
    if asked.keep:
        asked.keep.mkdir(parents=True)
    outcome = apart(given, seed, asked.keep)
    print(given.svg, given.options, *given.rows, f"dpi: {given.dpi}", sep="\n")
    print(f"{outcome.status} {outcome.kind} in {outcome.seconds} s\n{outcome.text}")
    return int(outcome.status == "failed")


if __name__ == "__main__":
    sys.exit(main())
