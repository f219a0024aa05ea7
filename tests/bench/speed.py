"""How long a card takes from a 12-megapixel photo, by stage, and how much memory.

    python tests/bench/speed.py [picture]

prints wall and processor time of each stage, peak memory, and beside them a reference workload in
the same run: the same picture decoded, blurred and encoded with OpenCV, the best of five. Where
several sizes are tried, a stage's time is that of all of them, and the number says how many.
"""

import resource
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TypeVar

import cv2

from trace2pop.cache import Cache
from trace2pop.commands.check import check_written
from trace2pop.commands.files import card_files
from trace2pop.model.settings import PictureSettings, Settings
from trace2pop.pipeline import make_card
from trace2pop.settings import Project, write

SAMPLE = Path(__file__).parents[2] / "samples" / "dragonfly" / "photo.jpg"
ROUNDS = 5
T = TypeVar("T")


class Clock:
    """Wall and processor time of what was done, by name, and how often it was."""

    def __init__(self) -> None:
        self.rows: dict[str, tuple[float, float, int]] = {}
        self.start = self.now()

    @staticmethod
    def now() -> tuple[float, float]:
        """Return wall and processor time."""
        return time.perf_counter(), time.process_time()

    def timed(self, name: str, work: Callable[[], T]) -> T:
        """Do some work and count its time."""
        start = self.now()
        try:
            return work()
        finally:
            self.add(name, start)

    def add(self, name: str, start: tuple[float, float]) -> None:
        """Count the time since ``start``."""
        wall, busy, times = self.rows.get(name, (0.0, 0.0, 0))
        now = self.now()
        self.rows[name] = (wall + now[0] - start[0], busy + now[1] - start[1], times + 1)

    def all(self) -> tuple[float, float]:
        """Return the time since this began."""
        now = self.now()
        return now[0] - self.start[0], now[1] - self.start[1]


class ClockedCache(Cache):
    """Keeps nothing, and says what each stage took: they are run by way of the cache."""

    def __init__(self, clock: Clock) -> None:
        super().__init__()
        self.clock = clock

    def stage(self, name: str, kind: type[T], given: Sequence[object], make: Callable[[], T]) -> T:
        """Return the value of a stage, its time counted."""
        return super().stage(name, kind, given, lambda: self.clock.timed(name, make))


def reference(picture: Path) -> tuple[float, float]:
    """Return the least wall and processor seconds of a decode, blur and encode with OpenCV."""
    clock = Clock()
    for number in range(ROUNDS):
        start = clock.now()
        image = cv2.imread(str(picture))
        assert image is not None
        cv2.imencode(".jpg", cv2.GaussianBlur(image, (0, 0), 3))
        clock.add(f"{number}", start)
    walls, processors, _ = zip(*clock.rows.values(), strict=True)
    return min(walls), min(processors)


def main() -> None:
    picture = Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLE
    settings = Settings(picture=PictureSettings(paper="a5"))
    clock = Clock()
    made = make_card(picture, settings, cache=ClockedCache(clock))
    stages = [sum(row[k] for row in clock.rows.values()) for k in (0, 1)]
    whole = clock.all()
    clock.rows["the rest"] = whole[0] - stages[0], whole[1] - stages[1], 1
    files = clock.timed("files", lambda: card_files(made, settings))
    files["card.toml"] = write(Project(picture, settings), picture.name, "").encode()
    with tempfile.TemporaryDirectory() as folder:
        for name, content in files.items():
            path = Path(folder) / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        clock.timed("check", lambda: check_written(Path(folder)))
    wall, busy = clock.all()
    base, base_busy = reference(picture)
    for name, (seconds, processor, times) in clock.rows.items():
        often = f"{times} times" if times > 1 else ""
        row = f"{name:<10}{seconds:7.2f} s wall {processor:7.2f} s processor"
        print(f"{row} {processor / busy:6.0%} {often}".rstrip())
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{'all':<10}{wall:7.2f} s wall {busy:7.2f} s processor, peak {peak:.0f} MB")
    print(f"reference {base:7.2f} s wall {base_busy:7.2f} s processor (decode, blur, encode)")
    print(f"ratio     {wall / base:7.1f}   wall {busy / base_busy:7.1f}   processor")


if __name__ == "__main__":
    main()
