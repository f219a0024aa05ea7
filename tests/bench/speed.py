"""How long a card takes from a 12-megapixel photo, by stage, and how much memory.

    python tests/bench/speed.py [picture]

prints wall and processor time of each stage, peak memory, and beside them a reference workload in
the same run: the same picture decoded, blurred and encoded with OpenCV, the best of five.
"""

import resource
import sys
import tempfile
import time
from pathlib import Path

import cv2

from trace2pop.commands.check import check_written
from trace2pop.commands.describe import describe
from trace2pop.commands.files import card_files
from trace2pop.model.settings import PictureSettings, Settings
from trace2pop.pipeline import make_card
from trace2pop.settings import Project, write

SAMPLE = Path(__file__).parents[2] / "samples" / "dragonfly" / "photo.jpg"
ROUNDS = 5


def reference(picture: Path) -> float:
    """Return the seconds of one decode, blur and encode of the picture with OpenCV."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        image = cv2.imread(str(picture))
        cv2.imencode(".jpg", cv2.GaussianBlur(image, (0, 0), 3))
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    picture = Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLE
    settings = Settings(picture=PictureSettings(paper="a5"))
    rows: list[tuple[str, float, float]] = []
    clock = [time.perf_counter(), time.process_time()]

    def lap(name: str) -> None:
        now = time.perf_counter(), time.process_time()
        rows.append((name, now[0] - clock[0], now[1] - clock[1]))
        clock[:] = now

    lap("start")
    made = make_card(picture, settings, lambda value: lap(describe(value)[0]))
    lap("guide")
    files = card_files(made, settings)
    files["card.toml"] = write(Project(picture, settings), picture.name, "").encode()
    lap("files")
    with tempfile.TemporaryDirectory() as folder:
        for name, content in files.items():
            path = Path(folder) / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        check_written(Path(folder))
    lap("check")
    wall, busy = (sum(row[k] for row in rows) for k in (1, 2))
    base = reference(picture)
    for name, seconds, processor in rows[1:]:
        print(f"{name:<10}{seconds:7.2f} s wall {processor:7.2f} s processor {seconds / wall:6.0%}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{'all':<10}{wall:7.2f} s wall {busy:7.2f} s processor, peak {peak:.0f} MB")
    print(f"reference {base:7.2f} s (decode, blur, encode); ratio {wall / base:.1f}")


if __name__ == "__main__":
    main()
