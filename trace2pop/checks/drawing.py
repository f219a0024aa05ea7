"""Reads a written SVG back: its size, its pieces, their lines as points in mm."""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree

import numpy as np
import shapely

from trace2pop.checks.reading import content
from trace2pop.checks.report import Judge
from trace2pop.model.outline import FloatArray

FLAT = 0.002
"""Largest distance of the points' chords from the written curve, in mm."""

CLOSES = 0.001
"""Ends nearer than this are one point: files carry four decimals."""

_FARTHEST = 1e5
"""No place on a sheet is as far out, in mm."""

_NAMESPACE = "{http://www.w3.org/2000/svg}"
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_LENGTH = re.compile(rf"({_NUMBER})\s*([a-z%]*)")
# Possessive and atomic: a torn path must fail at once, not after trying every split of its digits.
_DATA = re.compile(rf"(?>[MmLlHhVvCcSsQqTtAaZz]|{_NUMBER}|[\s,])*+")
_PAIR = rf"\s*+(?>{_NUMBER})[\s,]\s*+(?>{_NUMBER})\s*+"
_PLAIN = re.compile(rf"\s*+(M{_PAIR}(?>L{_PAIR}|C{_PAIR}{_PAIR}{_PAIR})++)(Z?)\s*+")
"""One contour of absolute lines and cubics: what nearly all paths are, read without a library."""
_STEP = re.compile(r"([MLC])([^MLC]*)")
_SHAPES = ("rect", "circle", "ellipse", "line", "polyline", "polygon", "image", "use")

Op = Literal["cut", "score"]


@dataclass(frozen=True, eq=False)
class Line:
    """One path as the tool runs it: ``points`` (n, 2), first and last equal where ``closed``.

    ``kind`` tells slits and dashes from plain lines; ``fold`` the sense written beside a fold;
    ``shut`` whether the path says that it closes.
    A pencilled fold has ``op`` None: nothing runs it.
    """

    name: str
    op: Op | None
    kind: Literal["", "slit", "dash"]
    fold: str | None
    points: FloatArray
    shut: bool

    @property
    def closed(self) -> bool:
        """Whether the line ends where it starts, and says so."""
        return self.shut and self.gap <= CLOSES and len(self.points) > 3

    @property
    def gap(self) -> float:
        """Distance between its ends."""
        return float(np.hypot(*(self.points[0] - self.points[-1])))

    @property
    def bounds(self) -> FloatArray:
        """Its box: (min x, min y, max x, max y)."""
        return np.concatenate([self.points.min(axis=0), self.points.max(axis=0)])

    @property
    def shape(self) -> shapely.LineString:
        """The line for shapely."""
        return shapely.LineString(self.points)

    def moved(self, matrix: FloatArray) -> "Line":
        """Return the line mapped by an affine matrix (2, 3)."""
        points = self.points @ matrix[:, :2].T + matrix[:, 2]
        return replace(self, points=points)


@dataclass(frozen=True, eq=False)
class Drawing:
    """A file's size in mm and its lines by group: the outermost group's id, "" outside of any."""

    file: str
    size: tuple[float, float]
    groups: dict[str, tuple[Line, ...]]


def read_drawing(folder: Path, file: str, judge: Judge) -> Drawing | None:
    """Return the drawing in ``file``, None where it can't be read; every fault is recorded."""
    try:
        root = ElementTree.fromstring(content(folder / file))
    except (OSError, ElementTree.ParseError, ValueError) as error:
        judge.holds("files", file, False, f"it can't be read ({error})")
        return None
    judge.holds("files", file, True, "")
    size = _size(root, file, judge)
    groups: dict[str, list[Line]] = {}
    faults: list[str] = []
    lost: list[str] = []
    for group, element, moved in _elements(root):
        name = element.get("id") or "a path without a name"
        tag = element.tag.removeprefix(_NAMESPACE)
        words = (element.get("class") or "").split()
        tool = "cut" in words or "score" in words
        if tag in _SHAPES and (tool or not words):
            faults.append(f"{name} is no path but a {tag}")
        if tag != "path" or not (tool or element.get("data-fold")):
            continue
        if moved:
            faults.append(f"{name} is moved or scaled by a transform")
        line, fault = _line(element, name, words)
        if line is not None:
            groups.setdefault(group, []).append(line)
        elif fault == "coordinates":
            lost.append(name)
        else:
            faults.append(f"{name} holds more than one contour")
    judge.holds("paths", file, not faults, "; ".join(faults[:3]))
    judge.holds(
        "coordinates", file, not lost, f"{', '.join(lost[:3])} has a point that is no place"
    )
    return Drawing(file, size, {key: tuple(lines) for key, lines in groups.items()})


def _elements(root: ElementTree.Element) -> Iterator[tuple[str, ElementTree.Element, bool]]:
    """Yield every element with its outermost group's id, and whether a transform acts on it."""
    stack = [(child, "", False) for child in reversed(root)]
    while stack:
        element, group, moved = stack.pop()
        moved = moved or element.get("transform") is not None
        yield group, element, moved
        if element.tag == f"{_NAMESPACE}g":
            group = group or element.get("id", "")
        stack += [(child, group, moved) for child in reversed(element)]


def _size(root: ElementTree.Element, file: str, judge: Judge) -> tuple[float, float]:
    """Return width and height in mm as written, and judge units and viewBox."""
    sides = []
    for name in ("width", "height"):
        match = _LENGTH.fullmatch((root.get(name) or "").strip())
        good = match is not None and match[2] == "mm" and float(match[1]) > 0
        text = f"its {name} is written as {root.get(name)!r}, not in mm, so programs guess its size"
        judge.holds("units", file, good, text)
        sides.append(float(match[1]) if match else math.nan)
    try:
        box = [float(value) for value in re.split(r"[\s,]+", (root.get("viewBox") or "").strip())]
    except ValueError:
        box = []
    good = len(box) == 4 and np.allclose(box, [0, 0, *sides], rtol=0, atol=CLOSES)
    text = f"its viewBox is {root.get('viewBox')!r}, not 0 0 and its size, so it opens shifted or "
    judge.holds("viewbox", file, bool(good), text + "scaled")
    return sides[0], sides[1]


def _line(
    element: ElementTree.Element, name: str, words: list[str]
) -> tuple[Line | None, Literal["", "coordinates", "contours"]]:
    data = element.get("d") or ""
    if not _DATA.fullmatch(data) or not data.strip():
        return None, "coordinates"
    if any(abs(float(value)) > _FARTHEST for value in re.findall(_NUMBER, data)):
        return None, "coordinates"
    try:
        points = _points(data)
    except (ValueError, IndexError):  # numbers are missing, or a command is
        return None, "coordinates"
    if points is None:
        return None, "contours"
    if not np.isfinite(points).all():  # an arc that can't be drawn
        return None, "coordinates"
    op: Op | None = "cut" if "cut" in words else "score" if "score" in words else None
    marked = element.get("data-op")
    kind: Literal["", "slit", "dash"] = (
        "slit" if marked == "slit" else "dash" if marked == "dash" else ""
    )
    shut = data.rstrip()[-1:] in ("Z", "z")
    return Line(name, op, kind, element.get("data-fold"), points, shut), ""


def _points(data: str) -> FloatArray | None:
    """Return the path's points (n, 2), None where it isn't one run."""
    plain = _PLAIN.fullmatch(data)
    return _of_any(data) if plain is None else _of_plain(plain[1], shut=bool(plain[2]))


def _of_plain(steps: str, *, shut: bool) -> FloatArray:
    """Return the points of a path of one M, then L and C, by the Bernstein polynomials."""
    here = np.zeros(2)
    rows = []
    for word, numbers in _STEP.findall(steps):
        ends = np.array(numbers.replace(",", " ").split(), dtype=float).reshape(-1, 2)
        if word == "M":
            start = here = ends[0]
            continue
        rows.append([here, *ends] if word == "C" else [here, here, ends[0], ends[0]])
        here = ends[-1]
    if shut and (here != start).any():
        rows.append([here, here, start, start])
    a, b, c, d = np.moveaxis(np.array(rows, dtype=float), 1, 0)
    bend = np.maximum(np.hypot(*(a - 2 * b + c).T), np.hypot(*(b - 2 * c + d).T))
    straight = ((a == b) & (c == d)).all(axis=1)
    counts = np.where(straight, 1, np.maximum(1, np.ceil(np.sqrt(0.75 * bend / FLAT)))).astype(int)
    own = np.repeat(np.arange(len(counts)), counts)
    t = ((np.arange(len(own)) - (np.cumsum(counts) - counts)[own]) / counts[own])[:, None]
    s = 1 - t
    points = s**3 * a[own] + 3 * s * s * t * b[own] + 3 * s * t * t * c[own] + t**3 * d[own]
    return np.vstack([points, d[-1:]])


def _of_any(data: str) -> FloatArray | None:
    """Return the same for a path of any commands."""
    from svgpathtools import CubicBezier, parse_path  # 0.5 s to import
    from svgpathtools import Line as Straight

    path = parse_path(data)
    if len(path) == 0 or len(path.continuous_subpaths()) != 1 or len(re.findall("[Mm]", data)) != 1:
        return None
    runs = []
    for segment in path:
        if isinstance(segment, Straight):
            count = 1
        elif isinstance(segment, CubicBezier):
            a, b, c, d = segment.bpoints()
            bend = max(abs(a - 2 * b + c), abs(b - 2 * c + d))
            count = max(1, math.ceil(math.sqrt(0.75 * bend / FLAT)))
        else:
            count = max(8, math.ceil(segment.length() / 0.2))
        runs.append(np.asarray(segment.points(np.arange(count) / count)))
    flat = np.append(np.concatenate(runs), path[-1].end)
    return np.column_stack([flat.real, flat.imag])
