"""Fuzzing of what reads the maker's files: pictures, SVG drawings, settings.

    pip install atheris
    python tests/hostile/fuzz.py svg SEEDS -max_total_time=3600

SEEDS is a folder of good files to start from; libFuzzer's options follow. A reader may return or
refuse with a ``Trace2popError``; anything else stops the run, and the input is left in a file to
become a test in ``test_crashes.py``. Atheris instruments the Python code only: what libraries do in
native code is exercised, not steered.
"""

import contextlib
import io
import sys
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import atheris

with atheris.instrument_imports(include=["trace2pop", "PIL", "svgpathtools", "tomllib"]):
    from trace2pop import limits
    from trace2pop import settings as settings_file
    from trace2pop.errors import Trace2popError
    from trace2pop.stages.capture import drawing
    from trace2pop.stages.capture.reading import read_picture

SMALL = 2e6
"""Pixels of the largest picture decoded here: large ones only make a case slower."""


def picture(data: bytes) -> None:
    read_picture("case", io.BytesIO(data), 1)


def svg(data: bytes) -> None:
    drawing.read_drawing("case.svg", data, None)


def settings(data: bytes) -> None:
    FILE.write_bytes(data)
    settings_file.read(FILE)


READERS = {"picture": picture, "svg": svg, "settings": settings}


def main() -> None:
    reader = READERS[sys.argv.pop(1)]
    limits.MAX_PIXELS = replace(limits.MAX_PIXELS, value=SMALL)
    drawing.rendered = lambda *_: None  # a process a case; the silhouette is drawn in its place

    def one(data: bytes) -> None:
        with contextlib.suppress(Trace2popError):
            reader(data)

    atheris.Setup(sys.argv, one)
    atheris.Fuzz()


if __name__ == "__main__":
    with TemporaryDirectory() as folder:
        FILE = Path(folder) / "card.toml"
        main()
