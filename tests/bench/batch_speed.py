"""How much faster a batch is on two cores than on one.

    python tests/bench/batch_speed.py [rounds]

makes the samples' cut-outs, scans and ink drawings with one worker and with two, in turn, and
prints wall time, processor time, and the load of the machine at the start of each run. With other
programs running, wall times say little; ``ideal`` is then the better figure: the processor time of
one worker over that of the busier of two, as each would need on a core of its own.
"""

import os
import resource
import shutil
import sys
import tempfile
import time
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

from trace2pop.commands.batch import jobs_of
from trace2pop.commands.crew import run_here
from trace2pop.commands.job import Job, run_job
from trace2pop.commands.summary import Outcome

SAMPLES = Path(__file__).parents[2] / "samples"
FILES = ("cutout.png", "scan.jpg", "ink.jpg")


def timed(job: Job) -> Outcome:
    """Make a card, and tell in the outcome which process it was and its processor time."""
    before = used()
    outcome = run_job(job)
    return replace(outcome, source=str(os.getpid()), seconds=used() - before)


def used() -> float:
    both = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return sum(one.ru_utime + one.ru_stime for one in both)


def run(drawings: Path, workers: int) -> tuple[float, list[float]]:
    """Return wall time and the processor time of each worker."""
    with tempfile.TemporaryDirectory() as out:
        start = time.perf_counter()
        busy: dict[str, float] = defaultdict(float)
        for outcome in run_here(jobs_of(drawings, Path(out), {"dpi": "300"}), workers, timed):
            assert outcome.status == "made", outcome.message
            busy[outcome.source] += outcome.seconds
        return time.perf_counter() - start, sorted(busy.values())


def main() -> None:
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    with tempfile.TemporaryDirectory() as folder:
        drawings = Path(folder)
        for sample in sorted(path for path in SAMPLES.iterdir() if path.is_dir()):
            for name in FILES:
                if (sample / name).exists():
                    shutil.copy(sample / name, drawings / f"{sample.name}-{name}")
        for _ in range(rounds):
            found = {}
            for workers in (1, 2):
                load = os.getloadavg()[0]
                found[workers] = run(drawings, workers)
                wall, busy = found[workers]
                told = ", ".join(f"{one:.1f}" for one in busy)
                print(
                    f"{workers} worker(s): {wall:6.1f} s wall, processor {told} s, load {load:.1f}"
                )
            wall = found[1][0] / found[2][0]
            ideal = sum(found[1][1]) / max(found[2][1])
            print(f"two over one: {wall:.2f} by wall time, {ideal:.2f} ideal")


if __name__ == "__main__":
    main()
