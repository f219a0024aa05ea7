"""Worker processes of this machine, each with one card at a time.

Which card a process was at is known when it dies or never ends, so that no other card pays for it.
"""

import os
import sys
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context, parent_process
from multiprocessing.connection import Connection, wait
from multiprocessing.context import BaseContext
from multiprocessing.process import BaseProcess

from trace2pop.commands.job import Job, lost, run_job
from trace2pop.commands.summary import Outcome

ATTEMPTS = 2
"""How often a card is tried whose process died."""

PATIENCE_S = 1800.0
"""A card that takes longer than this is given up."""

_CARDS_A_PROCESS = 20
_ROOM = 1.2e9
"""Bytes a process may come to use; see docs/speed.md."""

_LOOK_S = 5.0
_CLEARING_S = 5.0


@dataclass(eq=False)
class _Worker:
    process: BaseProcess
    pipe: Connection
    left: int = _CARDS_A_PROCESS
    job: Job | None = None
    attempt: int = 0
    since: float = 0.0


def run_here(
    jobs: Sequence[Job], workers: int | None, work: Callable[[Job], Outcome] = run_job
) -> Iterator[Outcome]:
    """Yield the outcome of each job as it comes; ``workers`` at once, as many as fit if None."""
    count = min(workers or room_for(), len(jobs))
    crew = _Crew(work)
    try:
        yield from crew.run(jobs, count)
    finally:
        crew.dismiss()


def room_for() -> int:
    """Return how many cards may be made at once: as many as there are cores and memory for."""
    cores = len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count() or 1
    with suppress(ValueError, OSError, AttributeError):
        memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
        return max(1, min(cores, int(memory / _ROOM)))
    return cores


class _Crew:
    def __init__(self, work: Callable[[Job], Outcome]) -> None:
        self._work = work
        self._context = _context()
        self._crew: list[_Worker] = []

    def run(self, jobs: Sequence[Job], count: int) -> Iterator[Outcome]:
        waiting = deque((job, 1) for job in jobs)
        while waiting or any(worker.job for worker in self._crew):
            while waiting and sum(worker.job is not None for worker in self._crew) < count:
                job, attempt = waiting.popleft()
                self._give(job, attempt)
            for worker in self._heard():
                outcome = self._answer(worker)
                if isinstance(outcome, Outcome):
                    yield outcome
                else:
                    waiting.appendleft(outcome)

    def _give(self, job: Job, attempt: int) -> None:
        worker = next((one for one in self._crew if one.job is None), None) or self._hire()
        worker.job, worker.attempt, worker.since = job, attempt, time.monotonic()
        with suppress(OSError):  # it died while idle: its end is heard like any other
            worker.pipe.send(job)

    def _hire(self) -> _Worker:
        ours, theirs = self._context.Pipe()
        process = self._context.Process(target=_worker, args=(theirs, self._work), daemon=True)  # type: ignore[attr-defined]  # missing in typeshed's base
        process.start()
        theirs.close()
        worker = _Worker(process, ours)
        self._crew.append(worker)
        return worker

    def _heard(self) -> list[_Worker]:
        """Return the workers that answered, died or are over their time."""
        busy = [worker for worker in self._crew if worker.job]
        ready = set(wait([worker.pipe for worker in busy], _LOOK_S))
        late = time.monotonic() - PATIENCE_S
        return [worker for worker in busy if worker.pipe in ready or worker.since < late]

    def _answer(self, worker: _Worker) -> Outcome | tuple[Job, int]:
        """Return what a worker made of its job, or the job with the number of its next try."""
        job, attempt = worker.job, worker.attempt
        assert job is not None
        worker.job = None
        late = not worker.pipe.poll()
        try:
            if late:
                raise EOFError
            outcome: Outcome = worker.pipe.recv()
        except (EOFError, OSError):
            self._let_go(worker)
            if late:
                return lost(job, f"it took longer than {PATIENCE_S / 60:.0f} minutes")
            if attempt < ATTEMPTS:
                return job, attempt + 1
            return lost(job, "its worker process died")
        worker.left -= 1
        if not worker.left:  # fresh ones bound the memory, whatever libraries hold on to
            self._let_go(worker)
        return outcome

    def _let_go(self, *workers: _Worker) -> None:
        """End workers: asked to clear up first, killed where they can't hear."""
        for worker in workers:
            self._crew.remove(worker)
            worker.process.terminate()
            worker.pipe.close()
        for worker in workers:
            worker.process.join(_CLEARING_S)
            worker.process.kill()
            worker.process.join()

    def dismiss(self) -> None:
        """End all workers, whatever they are at."""
        self._let_go(*self._crew)


def _context() -> BaseContext:
    """Return the way processes start: from one that has the libraries loaded, where there is."""
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "RAYON_NUM_THREADS"):
        os.environ.setdefault(name, "1")  # a core each, not all cores for all
    if sys.platform != "linux":
        return get_context("spawn")
    context = get_context("forkserver")
    context.set_forkserver_preload(["trace2pop.commands.job"])
    return context


def _worker(pipe: Connection, work: Callable[[Job], Outcome]) -> None:
    """Answer jobs until the pipe closes or the parent says stop; an interrupt is the parent's."""
    import signal

    import cv2

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, stop)
    cv2.setNumThreads(1)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    with suppress(EOFError, OSError, KeyboardInterrupt):
        while True:
            pipe.send(work(pipe.recv()))


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
