"""How long a card takes that is made again after one beam was moved.

    python -m tests.bench.rerun [picture]

prints processor and wall time of the first run and of the best of five re-runs, each a process of
its own as a maker starts it, and beside them the reference workload of ``speed.py``.
"""

import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.bench.speed import ROUNDS, SAMPLE, reference

COMMAND = Path(sys.executable).with_name("trace2pop")
INSTALLED = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
"""An installed program is compiled; where that is forbidden, compiling would be timed too."""


def timed(arguments: list[str]) -> tuple[float, float]:
    """Return wall and processor seconds of one run of the command."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([COMMAND, *arguments, "-q"], check=True, env=INSTALLED)
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    busy = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, busy


def given(text: str) -> str:
    """Return the settings with the chosen beams taken over, and room for one to be moved."""
    start = text.index("# [[supports.beam]]\n")
    end = text.index("\n\n", start)
    beams = "\n".join(line.removeprefix("# ") for line in text[start:end].splitlines())
    text = text[:start] + beams + text[end:]
    text = text.replace("only_given = false", "only_given = true")
    return text.replace('sag_limit = "1mm"', 'sag_limit = "3mm"')


def moved(text: str, by: float) -> str:
    """Return the settings with the last beam beside the crease moved."""
    places = re.finditer(r'^u = "(-?[\d.]+)mm"$', text, re.MULTILINE)
    place = [found for found in places if float(found[1]) != 0][-1]
    return f'{text[: place.start()]}u = "{float(place[1]) + by:.10g}mm"{text[place.end() :]}'


def main() -> None:
    picture = Path(sys.argv[1]) if len(sys.argv) > 1 else SAMPLE
    with tempfile.TemporaryDirectory() as place:
        card = Path(place) / "card"
        first = timed(["make", str(picture), "--paper", "a5", "--out", str(card)])
        settings = card / "card.toml"
        settings.write_text(given(settings.read_text("utf-8")), "utf-8")
        timed(["make", str(settings)])
        runs = []
        for number in range(ROUNDS):
            text = moved(settings.read_text("utf-8"), -0.5 if number % 2 else 0.5)
            settings.write_text(text, "utf-8")
            runs.append(timed(["make", str(settings)]))
    whole, busy_once = reference(picture)
    again = min(wall for wall, _ in runs), min(busy for _, busy in runs)
    for name, (wall, busy) in (("first", first), ("again", again)):
        share = f"{busy / busy_once:5.1f} references"
        print(f"{name:<10}{wall:7.2f} s wall {busy:7.2f} s processor, {share}")
    print(f"reference {whole:7.2f} s wall {busy_once:7.2f} s processor")


if __name__ == "__main__":
    main()
