"""An SVG drawing as a picture, drawn in a process of its own.

The renderer is native code, and a damaged drawing may end its process outright; that must not end
the run.
"""

import copy
import io
import subprocess
import sys
from xml.etree import ElementTree

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from trace2pop.model.outline import FloatArray
from trace2pop.units import MM_PER_INCH

_PATIENCE_S = 120
_SECONDS = 20
_ROOM = 2_500_000_000
"""Processor seconds and bytes of address space lent; without either it is shown in black."""

_LEND = (
    "import resource\n"
    f"for kind, most in ((resource.RLIMIT_CPU, {_SECONDS}), (resource.RLIMIT_AS, {_ROOM})):\n"
    "    resource.setrlimit(kind, (most, resource.getrlimit(kind)[1]))\n"
)
_RENDER = (
    ("" if sys.platform == "win32" else _LEND)
    + "import sys, typst; sys.stdout.buffer.write(typst.compile(sys.stdin.buffer.read(), "
    "format='png', ppi=float(sys.argv[1]), ignore_system_fonts=True))"
)


def rendered(
    root: ElementTree.Element,
    to_mm: FloatArray,
    area: tuple[float, float, float, float],
    px_per_mm: float,
) -> NDArray[np.uint8] | None:
    """Return ``area`` (x, y, width, height in mm) as (rows, cols, 4) uint8 RGBA, None on failure.

    ``to_mm`` (3, 3) maps the root's user units.
    """
    text = _framed(root, to_mm, area).replace("\\", "\\\\").replace('"', '\\"')
    width, height = (f"{side:.9g}mm" for side in area[2:])
    source = (
        f"#set page(width: {width}, height: {height}, margin: 0mm, fill: none)\n"
        f'#image(bytes("{text}"), format: "svg", width: {width}, height: {height}, fit: "stretch")'
    )
    command = [sys.executable, "-P", "-c", _RENDER, f"{px_per_mm * MM_PER_INCH:.9g}"]
    try:
        done = subprocess.run(
            command, input=source.encode(), capture_output=True, timeout=_PATIENCE_S, check=True
        )
        return np.asarray(Image.open(io.BytesIO(done.stdout)).convert("RGBA"))
    except (subprocess.SubprocessError, OSError, ValueError):
        return None


def _framed(
    root: ElementTree.Element, to_mm: FloatArray, area: tuple[float, float, float, float]
) -> str:
    """Return the drawing as text, its canvas set to ``area``."""
    x, y, width, height = area
    corners = np.array([[x, y, 1], [x + width, y + height, 1]])
    (x0, y0, _), (x1, y1, _) = np.linalg.solve(to_mm, corners.T).T
    root = copy.deepcopy(root)
    for key in ("x", "y"):
        root.attrib.pop(key, None)
    root.set("width", f"{width:.9g}mm")
    root.set("height", f"{height:.9g}mm")
    root.set("viewBox", f"{x0:.9g} {y0:.9g} {x1 - x0:.9g} {y1 - y0:.9g}")
    root.set("preserveAspectRatio", "none")
    return ElementTree.tostring(root, encoding="unicode")
