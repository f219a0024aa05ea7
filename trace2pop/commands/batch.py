"""trace2pop batch: a folder of pictures and settings files, each to a card of its own."""

import os
import time
from collections import Counter
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from trace2pop import output, places
from trace2pop.commands.cluster import run_there
from trace2pop.commands.crew import run_here
from trace2pop.commands.job import Job
from trace2pop.commands.make import SETTINGS_FILE
from trace2pop.commands.summary import HEAD, MARK, Outcome, summary_csv, summary_html
from trace2pop.console import Console
from trace2pop.errors import BatchError, InterruptedRunError, OutputError, UsageError
from trace2pop.settings import read

PICTURES = (
    *(".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp", ".heic", ".heif"),
    *(".svg", ".svgz", ".pdf"),
)
TABLE, SHEET = "summary.csv", "index.html"


def batch(
    folder: Path,
    out: Path,
    options: Mapping[str, object],
    *,
    workers: int | None,
    scheduler: str | None,
    console: Console,
) -> None:
    """Make every card of ``folder``, and a summary of all.

    Raises:
        UsageError: where the folder holds nothing to make.
        OutputError: where the summary can't be written.
        BatchError: where cards failed; all others are made.
        InterruptedRunError: where it was stopped; what was made is kept, and not made again.
    """
    jobs = jobs_of(folder, out, options)
    if not jobs:
        raise UsageError(
            f"{folder} holds no picture and no card.toml", "name the folder your drawings are in"
        )
    _ready(out)
    outcomes: dict[str, Outcome] = {}
    run = run_there(jobs, scheduler) if scheduler else run_here(jobs, workers)
    progress = _Progress(len(jobs), console)
    try:
        for outcome in run:
            outcomes[outcome.name] = outcome
            progress.tell(outcome)
    except KeyboardInterrupt:
        raise InterruptedRunError(
            f"stopped: {len(outcomes)} of {len(jobs)} cards are done",
            "run the same again when you like; it goes on where it was",
        ) from None
    finally:
        run.close()  # type: ignore[attr-defined]  # both are generators
        _write_summary(out, [outcomes[job.name] for job in jobs if job.name in outcomes])
    failed = sum(outcome.status == "failed" for outcome in outcomes.values())
    console.result([("cards", f"{len(jobs) - failed} of {len(jobs)}"), ("sheet", str(out / SHEET))])
    if failed:
        raise BatchError(
            f"{failed} of {len(jobs)} cards were not made", f"open {out / SHEET}: it says why"
        )


def jobs_of(folder: Path, out: Path, options: Mapping[str, object]) -> list[Job]:
    """Return a job for every picture and every card.toml below ``folder``, in name order.

    A picture that a card.toml names is that card's, and what this program wrote is no drawing.
    """
    if not folder.is_dir():
        raise UsageError(f"{folder} is no folder", "name the folder your drawings are in")
    folder, out = Path(os.path.abspath(folder)), Path(os.path.abspath(out))  # noqa: PTH100  # keeps links as named
    given = tuple(sorted((name, _plain(value)) for name, value in options.items()))
    found = [path for path in sorted(folder.rglob("*")) if _is_source(path, folder, out)]
    taken = {picture for path in found for picture in _taken_by(path)}
    names: Counter[str] = Counter()
    jobs = []
    for path in found:
        if path.resolve() in taken:
            continue
        parts = path.relative_to(folder).parts
        if path.name == SETTINGS_FILE:
            name = "-".join(parts[:-1]) or folder.name or "card"
        else:
            name = "-".join([*parts[:-1], path.name.replace(".", "-")])
        names[name] += 1
        number = f"-{names[name]}" if names[name] > 1 else ""
        jobs.append(Job(str(path), str(out / f"{name}{number}"), given))
    return jobs


def _plain(value: object) -> str | bool | tuple[str, ...]:
    if isinstance(value, bool):
        return value
    return tuple(map(str, value)) if isinstance(value, list | tuple) else str(value)


def _is_source(path: Path, folder: Path, out: Path) -> bool:
    hidden = any(part.startswith(".") for part in path.relative_to(folder).parts)
    fitting = path.name == SETTINGS_FILE or path.suffix.lower() in PICTURES
    return fitting and not hidden and path.is_file() and not path.is_relative_to(out)


def _taken_by(settings: Path) -> set[Path]:
    """Return the pictures that are no drawings of their own because of a settings file."""
    if settings.name != SETTINGS_FILE:
        return set()
    home = settings.parent
    taken = {(home / name).resolve() for name in output.written_files(home)} - {settings.resolve()}
    with suppress(UsageError):  # it is told when its card is made
        taken.add(read(settings).picture)
    return taken


class _Progress:
    """Says what became of each card, and how long the rest will take."""

    def __init__(self, count: int, console: Console) -> None:
        self._count, self._console = count, console
        self._start = time.monotonic()
        self._done = self._worked = 0

    def tell(self, outcome: Outcome) -> None:
        self._done += 1
        self._worked += outcome.status != "kept"
        left = ""
        if self._worked and self._done < self._count:
            each = (time.monotonic() - self._start) / self._worked
            left = f" (about {_duration(each * (self._count - self._done))} left)"
        told = f": {outcome.message}" if outcome.message else ""
        text = f"{outcome.status}: {outcome.name}{told}{left}"
        self._console.stage(f"{self._done}/{self._count}", text)


def _duration(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 100 else f"{seconds / 60:.0f} min"


def _ready(out: Path) -> None:
    """Make the folder of the cards, and see that the summary writes over nothing else."""
    with places.plain_errors(out):
        out.mkdir(parents=True, exist_ok=True)
        sheet, table = out / SHEET, out / TABLE
        if (sheet.exists() and MARK.encode() not in sheet.read_bytes()[:2000]) or (
            table.exists() and not table.read_bytes().startswith(",".join(HEAD).encode())
        ):
            raise OutputError(
                f"{out} holds an {SHEET} or a {TABLE} that isn't from a batch",
                "name another folder with --out",
            )
        places.write_whole(sheet, summary_html([]).encode())


def _write_summary(out: Path, outcomes: list[Outcome]) -> None:
    with places.plain_errors(out):
        places.write_whole(out / TABLE, summary_csv(outcomes).encode())
        places.write_whole(out / SHEET, summary_html(outcomes).encode())
