"""One card of a batch: a function of plain values, so that any engine can run it anywhere."""

import json
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trace2pop import __version__, output, places
from trace2pop.commands.make import SETTINGS_FILE, make
from trace2pop.commands.summary import Outcome
from trace2pop.console import Console
from trace2pop.errors import BusyError, FaultError, Trace2popError
from trace2pop.settings import read

DONE = ".trace2pop/made-from"
"""In a card's folder: what it was made from, in one checksum."""

LOST = 71
"""Code in the summary of a card whose worker process never answered; see docs/errors.md."""

_BUSY_S = 60.0
_AGAIN_S = 0.5


@dataclass(frozen=True)
class Job:
    """One card to make. Paths are absolute: workers may run anywhere."""

    source: str
    target: str
    options: tuple[tuple[str, str | bool | tuple[str, ...]], ...]

    @property
    def name(self) -> str:
        """The card's name, its folder's."""
        return Path(self.target).name


def run_job(job: Job) -> Outcome:
    """Make one card; a failure becomes part of the outcome, never an exception."""
    start = time.monotonic()
    try:
        status, message, facts = _run(job)
        return Outcome(job.name, job.source, status, 0, message, facts, time.monotonic() - start)
    except Trace2popError as error:
        code, text = error.exit_code, f"{error}; {error.advice}"
    except Exception as error:  # one broken picture must not stop the others
        told = " ".join(str(error).split())[:200]
        code, text = (
            FaultError.exit_code,
            f"a fault of the program ({type(error).__name__}: {told})",
        )
        text += "; please report it (make this card alone with -v to see where it happened)"
    return Outcome(job.name, job.source, "failed", code, text, {}, time.monotonic() - start)


def lost(job: Job, why: str) -> Outcome:
    """Return the outcome of a card whose worker never answered."""
    text = f"{why}; run the batch again, or make this card alone"
    return Outcome(job.name, job.source, "failed", LOST, text, {})


def _run(job: Job) -> tuple[str, str, dict[str, str]]:
    target, mark = Path(job.target), _mark(job)
    own = _makers_own(target)
    if own:
        return "kept", own, facts(target)
    if _mark_of(target) == mark and output.is_whole(target):
        return "kept", "", facts(target)
    options = {name: list(v) if isinstance(v, tuple) else v for name, v in job.options}
    end = time.monotonic() + _BUSY_S
    while True:
        try:
            make(
                Path(job.source),
                target,
                options,
                force=False,
                console=Console(-1),
                extra={DONE: mark.encode()},
                again=(target / output.MANIFEST).exists(),
            )
        except BusyError:  # a worker that was given up may still be at it
            if time.monotonic() > end:
                raise
            time.sleep(_AGAIN_S)
        else:
            return "made", "", facts(target)


def _makers_own(target: Path) -> str:
    """Return what the maker did to a card since the batch made it, "" where nothing."""
    if not (target / output.MANIFEST).exists():
        return ""
    if SETTINGS_FILE in output.changed_files(target):
        return f"you changed its {SETTINGS_FILE}; run trace2pop make on that"
    if _mark_of(target) is None:
        return "you made it again by itself; delete its folder to have it made by the batch"
    return ""


def _mark(job: Job) -> str:
    """Return the checksum of all that a card is made from: program, source, picture, options."""
    source = Path(job.source)
    parts: list[object] = [__version__, _checksum(source), job.options]
    if source.name == SETTINGS_FILE:
        parts.append(_checksum(read(source).picture))
    return places.digest(repr(parts).encode())


def _checksum(path: Path) -> str:
    try:
        return places.file_digest(path)
    except OSError:
        return ""


def _mark_of(target: Path) -> str | None:
    try:
        return (target / DONE).read_text("utf-8")
    except (OSError, ValueError):
        return None


def facts(target: Path) -> dict[str, str]:
    """Return the few numbers of a card that the summary shows, as its card.json states them."""
    try:
        return _facts(json.loads((target / "card.json").read_text("utf-8")))
    except (OSError, ValueError, TypeError, LookupError, AttributeError):
        return {}  # the maker's own by now


def _facts(plan: dict[str, Any]) -> dict[str, str]:
    return {
        "width": f"{plan['motif']['width']:.1f}",
        "height": f"{plan['motif']['height']:.1f}",
        "beams": str(len(plan["supports"])),
        "by hand": str(sum(part["choice"] == "hand" for part in plan["hand_parts"])),
        "sag": f"{plan['sag']['max']:.2f}",
        "thickness": f"{plan['closed']['thickness']:.1f}",
        "findings": "; ".join(
            f"{row['rule']} ({row['where']})"
            for row in plan["findings"]
            if row["severity"] != "note"
        ),
    }
