"""The figures of docs/mechanism.md are the ones the program draws."""

import re
import subprocess
import sys
from pathlib import Path

DOCS = Path(__file__).parents[2] / "docs"


def test_figures_are_all_there_and_drawn_by_the_program(tmp_path: Path) -> None:
    """Same shapes as a fresh drawing: the same strokes, coordinates within 0.05 mm."""
    code = (
        "import runpy, pathlib, sys; space = runpy.run_path(sys.argv[1]);"
        "folder = pathlib.Path(sys.argv[2]);"
        "[(folder / f'mechanism-{n}.svg').write_text(make().svg()) "
        "for n, make in space['FIGURES'].items()]"
    )
    command = [sys.executable, "-c", code, str(DOCS / "make_drawings.py"), str(tmp_path)]
    subprocess.run(command, check=True)
    named = set(
        re.findall(r"drawings/(mechanism-[a-z]+\.svg)", (DOCS / "mechanism.md").read_text())
    )
    assert {path.name for path in tmp_path.iterdir()} == named
    for path in tmp_path.iterdir():
        fresh, kept = path.read_text(), (DOCS / "drawings" / path.name).read_text()
        number = r"-?\d+(?:\.\d+)?"
        assert re.sub(number, "0", fresh) == re.sub(number, "0", kept), path.name
        for one, other in zip(re.findall(number, fresh), re.findall(number, kept), strict=True):
            assert abs(float(one) - float(other)) < 0.05, path.name
