"""SVG's paths, basic shapes, lengths and transforms as chains of cubic Beziers and matrices.

Definitions: SVG 2 (W3C), sections 8 (coordinates), 9 (paths), 10 (basic shapes); CSS Values 3,
section 5.2 (absolute lengths).
"""

import math
import re
import warnings
from xml.etree import ElementTree

import numpy as np

from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.stages.capture.svg_tree import local
from trace2pop.units import MM_PER_INCH, PT_PER_INCH

PX_PER_INCH = 96.0

_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_LENGTH = re.compile(rf"\s*({_NUMBER})\s*(mm|cm|in|pt|pc|px|q|%|em|ex|rem)?\s*", re.IGNORECASE)
_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "q": 0.25,
    "in": MM_PER_INCH,
    "pt": MM_PER_INCH / PT_PER_INCH,
    "pc": MM_PER_INCH / PT_PER_INCH * 12,
}
_TRANSFORM = re.compile(r"(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^)]*)\)")
_EIGHTH = math.pi / 4
_FONT_PX = 16.0

Chains = list[tuple[Contour, bool]]
"""Chains (n, 4, 2) in user units, each with whether it is closed."""


def length_mm(text: str | None) -> float | None:
    """Return a length with an absolute unit in mm; None for px, %, no unit or no length."""
    match = _LENGTH.fullmatch(text or "")
    if not match or (match[2] or "").lower() not in _MM:
        return None
    return float(match[1]) * _MM[match[2].lower()]


def length(text: str | None, default: float, whole: float) -> float:
    """Return a length in user units (px); ``whole`` is what 100 % are of."""
    match = _LENGTH.fullmatch(text or "")
    if not match:
        return default
    value, unit = float(match[1]), (match[2] or "px").lower()
    if unit in _MM:
        return value * _MM[unit] / MM_PER_INCH * PX_PER_INCH
    factor = {"%": whole / 100, "em": _FONT_PX, "rem": _FONT_PX, "ex": _FONT_PX / 2}
    return value * factor.get(unit, 1.0)


def numbers(text: str | None) -> list[float]:
    """Return the numbers in an attribute."""
    return [float(match) for match in re.findall(_NUMBER, text or "")]


def transform(text: str | None) -> FloatArray:
    """Return the matrix (3, 3) of a transform attribute."""
    result = np.eye(3)
    for kind, arguments in _TRANSFORM.findall(text or ""):
        result = result @ _matrix(kind, numbers(arguments))
    return result


def _matrix(kind: str, values: list[float]) -> FloatArray:
    if not values:
        return np.eye(3)
    if kind == "matrix" and len(values) == 6:
        a, b, c, d, e, f = values
        return np.array([[a, c, e], [b, d, f], [0, 0, 1.0]])
    if kind == "translate":
        return np.array([[1, 0, values[0]], [0, 1, values[1] if values[1:] else 0.0], [0, 0, 1]])
    if kind == "scale":
        return np.diag([values[0], values[1] if values[1:] else values[0], 1.0])
    turn = math.radians(values[0])
    if kind == "rotate":
        cos, sin = math.cos(turn), math.sin(turn)
        spin = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]])
        if len(values) < 3:
            return spin
        there = _matrix("translate", values[1:3])
        back = _matrix("translate", [-values[1], -values[2]])
        result: FloatArray = there @ spin @ back
        return result
    slant = np.eye(3)
    if kind == "skewX":
        slant[0, 1] = math.tan(turn)
    elif kind == "skewY":
        slant[1, 0] = math.tan(turn)
    return slant


def chains(element: ElementTree.Element, viewport: tuple[float, float]) -> Chains:
    """Return the chains of a path or basic shape; ``viewport`` is what percentages are of.

    Raises:
        ValueError: where path data can't be read.
    """
    width, height = viewport
    diagonal = math.hypot(width, height) / math.sqrt(2)
    wholes = dict.fromkeys(("x", "width", "cx", "rx", "x1", "x2"), width)
    wholes |= dict.fromkeys(("y", "height", "cy", "ry", "y1", "y2"), height)

    def at(key: str, default: float = 0.0) -> float:
        return length(element.get(key), default, wholes.get(key, diagonal))

    kind = local(element)
    if kind == "path":
        return _path(element.get("d", ""))
    if kind == "rect":
        return _rectangle(at("x"), at("y"), at("width"), at("height"), at("rx", -1), at("ry", -1))
    if kind == "circle":
        return _ellipse(at("cx"), at("cy"), at("r"), at("r"))
    if kind == "ellipse":
        across, down = at("rx", -1), at("ry", -1)
        across, down = (down if across < 0 else across), (across if down < 0 else down)
        return _ellipse(at("cx"), at("cy"), across, down)
    if kind == "line":
        return _line([(at("x1"), at("y1")), (at("x2"), at("y2"))], closed=False)
    values = numbers(element.get("points"))
    points = list(zip(values[0::2], values[1::2], strict=False))
    return _line(points, closed=kind == "polygon")


def _line(points: list[tuple[float, float]], *, closed: bool) -> Chains:
    if len(points) < 2:
        return []
    return [(beziers.straight(points, closed=closed), closed)]


def _rectangle(x: float, y: float, width: float, height: float, rx: float, ry: float) -> Chains:
    if width <= 0 or height <= 0:
        return []
    rx, ry = (ry if rx < 0 else rx), (rx if ry < 0 else ry)
    rx, ry = min(max(rx, 0), width / 2), min(max(ry, 0), height / 2)
    right, foot = x + width, y + height
    if rx == 0 or ry == 0:
        return _line([(x, y), (right, y), (right, foot), (x, foot)], closed=True)
    parts = []
    middles = [(right - rx, y + ry), (right - rx, foot - ry), (x + rx, foot - ry), (x + rx, y + ry)]
    for number, middle in enumerate(middles):
        start = (number - 1) * math.pi / 2
        parts.append(_arc(complex(*middle), rx, ry, 0.0, start, math.pi / 2))
    joined = []
    for number, part in enumerate(parts):
        after = parts[(number + 1) % 4]
        joined += [part, beziers.straight([part[-1, 3], after[0, 0]], closed=False)]
    return [(_without_points(np.concatenate(joined)), True)]


def _ellipse(x: float, y: float, rx: float, ry: float) -> Chains:
    if rx <= 0 or ry <= 0:
        return []
    chain = _arc(complex(x, y), rx, ry, 0.0, 0.0, 2 * math.pi)
    chain[-1, 3] = chain[0, 0]
    return [(chain, True)]


def _arc(middle: complex, rx: float, ry: float, turn: float, start: float, sweep: float) -> Contour:
    """Return cubics for an arc of an ellipse: one an eighth turn, off by 4 millionths of it."""
    count = max(1, math.ceil(abs(sweep) / _EIGHTH - 1e-9))
    step = sweep / count
    handle = 4 / 3 * math.tan(step / 4)
    at = start + step * np.arange(count + 1)
    point = np.stack([np.cos(at), np.sin(at)], axis=1)
    along = np.stack([-np.sin(at), np.cos(at)], axis=1) * handle
    unit = np.stack([point[:-1], point[:-1] + along[:-1], point[1:] - along[1:], point[1:]], axis=1)
    spin = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    result: Contour = unit * (rx, ry) @ spin.T + (middle.real, middle.imag)
    return result


def _path(data: str) -> Chains:
    from svgpathtools import parse_path  # 0.5 s to import: only where it is used

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # arcs without a radius are lines, as they should be
            subpaths = parse_path(data).continuous_subpaths()
    except (IndexError, TypeError, AssertionError, ZeroDivisionError) as error:
        raise ValueError(str(error)) from None
    found: Chains = []
    for subpath in subpaths:
        chain = _without_points(np.concatenate([_cubics(segment) for segment in subpath]))
        if len(chain) and np.isfinite(chain).all():
            found.append((chain, bool(abs(subpath[0].start - subpath[-1].end) < 1e-9)))
    return found


def _cubics(segment: object) -> Contour:
    """Return one svgpathtools segment as cubics."""
    from svgpathtools import Arc, CubicBezier, QuadraticBezier

    start, end = complex(segment.start), complex(segment.end)  # type: ignore[attr-defined]  # untyped library
    if isinstance(segment, Arc):
        if start == end:
            return np.empty((0, 4, 2))
        radius = segment.radius
        chain = _arc(
            segment.center,
            radius.real,
            radius.imag,
            math.radians(segment.rotation),
            math.radians(segment.theta),
            math.radians(segment.delta),
        )
        chain[0, 0], chain[-1, 3] = (start.real, start.imag), (end.real, end.imag)
        return chain
    if isinstance(segment, CubicBezier):
        places = [start, segment.control1, segment.control2, end]
    elif isinstance(segment, QuadraticBezier):
        middle = segment.control
        places = [start, start + 2 / 3 * (middle - start), end + 2 / 3 * (middle - end), end]
    else:
        places = [start, (2 * start + end) / 3, (start + 2 * end) / 3, end]
    return np.array([[(place.real, place.imag) for place in places]])


def _without_points(chain: Contour) -> Contour:
    """Return the chain without segments that are a single point."""
    result: Contour = chain[np.ptp(chain, axis=1).max(axis=1) > 0]
    return result
