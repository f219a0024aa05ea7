"""trace2pop batch: a folder of pictures and settings files, each to a card of its own."""

import json
import os
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

from trace2pop import __version__, output
from trace2pop.commands.make import SETTINGS_FILE, make
from trace2pop.commands.summary import Outcome, summary_csv, summary_html
from trace2pop.console import Console
from trace2pop.errors import Trace2popError, UsageError

PICTURES = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp", ".heic", ".svg", ".pdf")
DONE = ".trace2pop/made-from"
ATTEMPTS = 2
"""How often a card is tried whose worker process died."""


@dataclass(frozen=True)
class Job:
    """One card to make; picklable, so that any engine can run it anywhere."""

    source: str
    target: str
    options: tuple[tuple[str, str | bool], ...]


def run_job(job: Job) -> Outcome:
    """Make one card; a failure becomes part of the outcome, never an exception."""
    target = Path(job.target)
    name = target.name
    mark = output.digest(f"{__version__} {_checksum(Path(job.source))} {job.options}".encode())
    if _mark_of(target) == mark:
        return Outcome(name, job.source, "kept", 0, "", _facts(target))
    try:
        make(
            Path(job.source),
            target,
            dict(job.options),
            force=(target / output.MANIFEST).exists(),
            console=Console(-1),
            extra={DONE: mark.encode()},
        )
    except Trace2popError as error:
        text = f"{error}; {error.advice}"
        return Outcome(name, job.source, "failed", error.exit_code, text, {})
    except Exception as error:  # one broken picture must not stop the others
        text = f"a fault of the program ({type(error).__name__}: {error}); please report it"
        return Outcome(name, job.source, "failed", 70, " ".join(text.split()), {})
    return Outcome(name, job.source, "made", 0, "", _facts(target))


def batch(
    folder: Path,
    out: Path,
    options: Mapping[str, object],
    *,
    workers: int | None,
    scheduler: str | None,
    console: Console,
) -> int:
    """Make every card of ``folder`` and a summary; return how many failed.

    Raises:
        UsageError: where the folder holds nothing to make.
    """
    jobs = jobs_of(folder, out, options)
    if not jobs:
        raise UsageError(
            f"{folder} holds no picture and no card.toml", "name the folder your drawings are in"
        )
    out.mkdir(parents=True, exist_ok=True)
    outcomes: dict[str, Outcome] = {}
    started = time.monotonic()
    run = _on_cluster(jobs, scheduler) if scheduler else _on_this_machine(jobs, workers)
    for outcome in run:
        outcomes[outcome.name] = outcome
        spent = time.monotonic() - started
        left = spent / len(outcomes) * (len(jobs) - len(outcomes))
        console.stage(
            f"{len(outcomes)}/{len(jobs)}",
            f"{outcome.status}: {outcome.name} {outcome.message} (about {left:.0f} s left)",
        )
    ordered = [outcomes[Path(job.target).name] for job in jobs]
    (out / "summary.csv").write_text(summary_csv(ordered), "utf-8")
    (out / "index.html").write_text(summary_html(ordered), "utf-8")
    failed = sum(outcome.status == "failed" for outcome in ordered)
    console.result(
        [
            ("cards", f"{len(ordered) - failed} of {len(ordered)}"),
            ("next", f"open {out / 'index.html'} and look at what failed, if anything"),
        ]
    )
    return failed


def jobs_of(folder: Path, out: Path, options: Mapping[str, object]) -> list[Job]:
    """Return a job for every picture and every card.toml below ``folder``, in name order."""
    if not folder.is_dir():
        raise UsageError(f"{folder} is no folder", "name the folder your drawings are in")
    given = tuple(
        sorted((name, v if isinstance(v, bool) else str(v)) for name, v in options.items())
    )
    chosen = {path.parent for path in folder.rglob(SETTINGS_FILE)}
    sources: list[tuple[Path, str]] = []
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        hidden = any(part.startswith(".") for part in inside.parts)
        if hidden or not path.is_file() or path.resolve().is_relative_to(out.resolve()):
            continue
        if path.name == SETTINGS_FILE:
            sources.append((path, "-".join(inside.parts[:-1]) or folder.resolve().name))
        elif path.suffix.lower() in PICTURES and not chosen & {path.parent, *path.parents}:
            sources.append((path, "-".join([*inside.parts[:-1], path.name.replace(".", "-")])))
    return [Job(str(path), os.path.join(out, name), given) for path, name in sources]  # noqa: PTH118  # plain text for pickling


def _on_this_machine(jobs: Sequence[Job], workers: int | None) -> Iterator[Outcome]:
    """Run jobs over processes; a worker that dies costs its card another try, no more."""
    waiting = [(job, 1) for job in jobs]
    count = min(workers or os.cpu_count() or 1, len(jobs))
    while waiting:
        again: list[tuple[Job, int]] = []
        # Fresh processes every few cards keep memory bounded whatever the libraries hold on to.
        pool = ProcessPoolExecutor(count, get_context("spawn"), max_tasks_per_child=20)
        with pool:
            running: dict[Future[Outcome], tuple[Job, int]] = {}
            queue = iter(waiting)
            for job, attempt in queue:
                running[pool.submit(run_job, job)] = (job, attempt)
            while running:
                for future in wait(running, return_when=FIRST_COMPLETED).done:
                    job, attempt = running.pop(future)
                    try:
                        yield future.result()
                    except BrokenProcessPool:
                        if attempt < ATTEMPTS:
                            again.append((job, attempt + 1))
                        else:
                            yield _lost(job)
        waiting = again


def _on_cluster(jobs: Sequence[Job], scheduler: str) -> Iterator[Outcome]:
    """Run jobs on a Dask cluster; its scheduler gives a dead worker's card to another."""
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise UsageError(
            "--scheduler needs the package distributed", 'pip install "trace2pop[cluster]"'
        ) from None
    with Client(scheduler, timeout=20) as client:
        futures = client.map(run_job, jobs, retries=ATTEMPTS, pure=False)
        by_key = {future.key: job for future, job in zip(futures, jobs, strict=True)}
        for future in as_completed(futures):
            outcome = _lost(by_key[future.key]) if future.status == "error" else future.result()
            future.release()
            yield outcome


def _lost(job: Job) -> Outcome:
    text = "its worker process died; run the batch again, or make this card alone"
    return Outcome(Path(job.target).name, job.source, "failed", 71, text, {})


def _checksum(path: Path) -> str:
    try:
        return output.digest(path.read_bytes())
    except OSError:
        return ""


def _mark_of(target: Path) -> str | None:
    try:
        return (target / DONE).read_text()
    except OSError:
        return None


def _facts(target: Path) -> dict[str, str]:
    """Return the few numbers of a card that the summary shows."""
    plan = json.loads((target / "card.json").read_text("utf-8"))
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
