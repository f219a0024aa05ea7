"""Peak memory and processor time of ``trace2pop make`` from 1 to 200 megapixels.

    python tests/bench/memory.py [megapixels ...]

makes a card of the same motif drawn larger and larger, as JPEG, as PNG, and as PNG with opacity,
each in a process of its own, and prints a table. The system measures: peak resident memory of the
run or of a process it started, whichever is more, and processor time of all of them. Growth is the
memory and the time above those of the smallest picture, for each megapixel more.
"""

import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

Image.MAX_IMAGE_PIXELS = None
SAMPLE = Path(__file__).parents[2] / "samples" / "wader" / "cutout.png"
COMMAND = Path(sys.executable).with_name("trace2pop")
SIZES = (1, 2, 5, 10, 20, 50, 100, 200)
MOST_MB, MOST_PIXELS = 1500, 200


@dataclass(frozen=True)
class Used:
    """What a run took: peak memory, processor time."""

    mb: float
    seconds: float


def drawn(megapixels: float, kind: str, path: Path) -> None:
    """Write the motif at that size: on grainy paper, or cut out."""
    with Image.open(SAMPLE) as whole:
        factor = (megapixels * 1e6 / (whole.width * whole.height)) ** 0.5
        size = (round(whole.width * factor), round(whole.height * factor))
        large = whole.convert("RGBA").resize(size, Image.Resampling.BICUBIC)
    if kind == "RGBA.png":
        large.save(path, compress_level=1)
        return
    grain = np.random.default_rng(1).normal(246, 2, (256, 256)).clip(0, 255).astype(np.uint8)
    tile = Image.fromarray(grain).convert("RGB")
    paper = Image.new("RGB", size)
    for x in range(0, size[0], 256):
        for y in range(0, size[1], 256):
            paper.paste(tile, (x, y))
    paper.paste(large, mask=large.getchannel("A"))
    paper.save(path, **({"quality": 85} if kind == "jpg" else {"compress_level": 1}))


def used(picture: Path) -> Used:
    with tempfile.TemporaryDirectory() as folder:
        process = subprocess.Popen(
            [COMMAND, "make", picture, "--out", Path(folder) / "card", "--drawn-width", "150mm"],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
        )
        assert process.stderr is not None
        told = process.stderr.read()
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode == 0, told.decode()
        process.stderr.close()
    return Used(usage.ru_maxrss / 1024, usage.ru_utime + usage.ru_stime)


def main() -> None:
    sizes = [float(word) for word in sys.argv[1:]] or list(SIZES)
    kinds = ("jpg", "png", "RGBA.png")
    print(f"{'':>8}" + "".join(f"{kind:>28}" for kind in kinds))
    first: dict[str, Used] = {}
    for megapixels in sizes:
        row = f"{megapixels:5.0f} MP"
        for kind in kinds:
            with tempfile.TemporaryDirectory() as folder:
                picture = Path(folder) / f"wader.{kind}"
                # A process of its own, or its memory would count as the run's own at the start.
                part = [sys.executable, __file__, "draw", str(megapixels), kind, str(picture)]
                subprocess.run(part, check=True)
                now = used(picture)
            start = first.setdefault(kind, now)
            more = megapixels - sizes[0]
            growth = f" (+{(now.mb - start.mb) / more:4.1f} MB/MP)" if more else ""
            row += f"{now.mb:7.0f} MB {now.seconds:5.1f} s{growth:>14}"
            limit = MOST_MB if megapixels <= MOST_PIXELS else float("inf")
            assert now.mb < limit, f"{kind}: {now.mb:.0f} MB at {megapixels} MP"
        print(row, flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["draw"]:
        drawn(float(sys.argv[2]), sys.argv[3], Path(sys.argv[4]))
    else:
        main()
