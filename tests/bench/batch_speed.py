"""How much faster a batch is on two cores than on one.

    python tests/bench/batch_speed.py [rounds] [pictures]

makes the samples' cut-outs, scans and ink drawings by the command line, held to one core and to two
in turn, and prints wall time, processor time, and what share of the machine other programs used
meanwhile. With more than a twentieth the times judge the others, not the batch, and it says so. The
machine's own ratio is measured beside it: the same work, sharing nothing, as two processes on one
core and on two. On a quiet machine two rounds of nine pictures take about four minutes; Linux only.
"""

import contextlib
import ctypes
import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "samples"
FILES = ("cutout.png", "scan.jpg", "ink.jpg")
AIM, QUIET = 1.7, 0.05

SUBREAPER = 36
"""For prctl(2): processes whose parent ended become this one's own, and their use is counted."""

PLAIN = "import hashlib\ndata = bytes(1 << 20)\nfor _ in range(3000): hashlib.sha1(data)"
"""Work that needs a core and next to no memory."""


@dataclass(frozen=True)
class Taken:
    """Wall and processor seconds of a run, and the share of the machine that others used."""

    wall: float
    processor: float
    others: float


def taken(commands: list[list[str]], cores: set[int]) -> Taken:
    """Run commands at once, held to ``cores``, and return what they took."""
    before, busy, start = own(), machine(), time.perf_counter()
    os.sched_setaffinity(0, cores)
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    running = [subprocess.Popen(command, **quiet) for command in commands]
    os.sched_setaffinity(0, CORES)
    assert [process.wait() for process in running] == [0] * len(running)
    wall = time.perf_counter() - start
    with contextlib.suppress(ChildProcessError):  # what they started ends now, and counts too
        while True:
            os.wait()
    used = own() - before
    others = machine() - busy - used
    return Taken(wall, used, max(others, 0.0) / (wall * (os.cpu_count() or 1)))


def own() -> float:
    """Return the processor seconds of all that this process started and that ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def machine() -> float:
    """Return the processor seconds of all programs since the machine started; see proc(5)."""
    first = Path("/proc/stat").read_text().splitlines()[0].split()[1:]
    user, nice, system, _, _, irq, soft = map(int, first[:7])
    return (user + nice + system + irq + soft) / os.sysconf("SC_CLK_TCK")


def batch(drawings: Path, cores: set[int]) -> Taken:
    with tempfile.TemporaryDirectory() as out:
        command = [sys.executable, "-m", "trace2pop", "batch", str(drawings), "--dpi", "300"]
        return taken([[*command, "--out", f"{out}/cards"]], cores)


def main() -> int:
    ctypes.CDLL(None).prctl(SUBREAPER, 1)
    asked = [int(text) for text in sys.argv[1:]]
    rounds, count = (*asked, *(2, 9)[len(asked) :])
    one, two = {min(CORES)}, set(sorted(CORES)[:2])
    pictures = [SAMPLES / name / file for file in FILES for name in ("dragonfly", "lily", "wader")]
    runs: dict[int, list[Taken]] = {1: [], 2: []}
    with tempfile.TemporaryDirectory() as folder:
        for picture in pictures[:count]:
            shutil.copy(picture, Path(folder) / f"{picture.parent.name}-{picture.name}")
        for number in range(rounds):
            order = [one, two] if number % 2 == 0 else [two, one]
            for cores in order:
                run = batch(Path(folder), cores)
                runs[len(cores)].append(run)
                print(
                    f"{len(cores)} core(s): {run.wall:6.1f} s wall, {run.processor:6.1f} s "
                    f"processor, others used {run.others:.0%} of the machine",
                    flush=True,
                )
    plain = [[sys.executable, "-c", PLAIN]] * 2
    most = taken(plain, one).wall / taken(plain, two).wall
    ratio = sum(run.wall for run in runs[1]) / sum(run.wall for run in runs[2])
    print(f"two cores over one: {ratio:.2f} (aim {AIM}); work that shares nothing: {most:.2f}")
    if max(run.others for both in runs.values() for run in both) > QUIET:
        print("other programs ran meanwhile: this judges nothing; run it on a quiet machine")
        return 2
    return int(ratio < AIM)


CORES = os.sched_getaffinity(0)

if __name__ == "__main__":
    sys.exit(main())
