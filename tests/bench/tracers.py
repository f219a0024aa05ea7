"""Other tracers on the same pictures: the potrace program, its Python port, and vtracer.

They take a black-and-white picture, so each gets the same mask: the page in linear light, where an
edge's pixels are half covered at half light, divided by its estimated background, thresholded by
Otsu's rule, cleaned of specks. Their curves come back as chains in px.
"""

import re
import subprocess
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from shutil import which

import cv2
import numpy as np
import render
from svgpathtools import CubicBezier, Line, parse_path
from svgpathtools import Path as Curve

from trace2pop.geometry import beziers

Array = np.ndarray
Chains = list[Array]
Tracer = Callable[[Array], tuple[Chains, float]]


def mask_of(rgb: Array, px_per_mm: float) -> Array:
    """Return the drawn region (rows, cols) bool, as the best plain method finds it."""
    grey = 255 * render.linear(cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)).astype(np.float32) + 1
    small = cv2.resize(grey, None, fx=0.125, fy=0.125, interpolation=cv2.INTER_AREA)
    size = 2 * round(40 * px_per_mm / 8 / 2) + 1
    paper = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8))
    paper = cv2.GaussianBlur(paper, (0, 0), size / 4)
    paper = cv2.resize(paper, grey.shape[::-1], interpolation=cv2.INTER_CUBIC)
    even = np.clip(grey / paper * 200, 0, 255).astype(np.uint8)
    _, mask = cv2.threshold(even, 0, 1, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
    largest = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return np.asarray(labels == largest)


def potrace_program(mask: Array) -> tuple[Chains, float]:
    """Return potrace 1.16's curves in px and its time in s."""
    with tempfile.TemporaryDirectory() as home:
        source, target = Path(home) / "in.pbm", Path(home) / "out.svg"
        rows, cols = mask.shape
        source.write_bytes(b"P4\n%d %d\n" % (cols, rows) + np.packbits(mask, axis=1).tobytes())
        start = time.perf_counter()
        subprocess.run(["potrace", "-s", "-u", "100", "-o", target, source], check=True)
        spent = time.perf_counter() - start
        text = target.read_text()
    found = re.search(r"translate\(([-\d.]+),([-\d.]+)\) scale\(([-\d.]+),([-\d.]+)\)", text)
    assert found is not None
    x, y, sx, sy = (float(value) for value in found.groups())
    chains = [c for d in re.findall(r'<path d="([^"]+)"', text) for c in _chains(d)]
    return [chain * (sx, sy) + (x, y) for chain in chains], spent


def cubics(curve: object) -> np.ndarray:
    """Return a potracer curve as cubics (n, 4, 2), corners as two straight ones."""
    rows = []
    here = np.array([curve.start_point.x, curve.start_point.y])  # type: ignore[attr-defined]  # untyped library
    for segment in curve.segments:  # type: ignore[attr-defined]  # untyped library
        end = np.array([segment.end_point.x, segment.end_point.y])
        if segment.is_corner:
            corner = np.array([segment.c.x, segment.c.y])
            rows += [*beziers.straight([here, corner, end], closed=False)]
        else:
            handles = [(segment.c1.x, segment.c1.y), (segment.c2.x, segment.c2.y)]
            rows.append(np.array([here, *handles, end]))
        here = end
    return np.array(rows)


def potrace_port(mask: Array) -> tuple[Chains, float]:
    """Return potracer's curves in px and its time in s."""
    import potrace

    start = time.process_time()
    curves = potrace.Bitmap(mask == 0).trace()
    spent = time.process_time() - start
    return [cubics(curve) for curve in curves], spent


def vtracer(mask: Array) -> tuple[Chains, float]:
    """Return vtracer's curves in px and its time in s."""
    import vtracer as program

    grey = np.where(mask, 0, 255).astype(np.uint8)
    content = cv2.imencode(".png", cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR))[1].tobytes()
    start = time.process_time()
    text = program.convert_raw_image_to_svg(content, img_format="png", colormode="binary")
    spent = time.process_time() - start
    chains = []
    for data, move in re.findall(r'<path d="([^"]+)"[^>]*?translate\(([^)]*)\)', text):
        shift = np.array([float(v) for v in move.split(",")] if move else [0.0, 0.0])
        chains += [chain + shift for chain in _chains(data)]
    return chains, spent


def _chains(data: str) -> Chains:
    found = []
    for part in parse_path(data).continuous_subpaths():
        rows = [_cubic(segment) for segment in Curve(*part) if segment.start != segment.end]
        if rows:
            found.append(np.array(rows))
    return found


def _cubic(segment: object) -> Array:
    if isinstance(segment, Line):
        ends = [(segment.start.real, segment.start.imag), (segment.end.real, segment.end.imag)]
        return beziers.straight(ends, closed=False)[0]
    assert isinstance(segment, CubicBezier)
    points = (segment.start, segment.control1, segment.control2, segment.end)
    return np.array([(p.real, p.imag) for p in points])


def available() -> dict[str, Tracer]:
    """Return the tracers that are here by name."""
    found: dict[str, Tracer] = {}
    if which("potrace"):
        found["potrace"] = potrace_program
    for name, tracer in (("potrace", potrace_port), ("vtracer", vtracer)):
        try:
            __import__(name)
        except ImportError:
            continue
        found["potracer" if tracer is potrace_port else name] = tracer
    return found
