"""Chains of cubic Beziers: flattening, bounds, transforms, the way to shapely and svgpathtools."""

from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from trace2pop.model.outline import Contour, FloatArray, Outline

if TYPE_CHECKING:
    from svgpathtools import Path

FLATTEN = 0.005
"""Default flattening tolerance in mm: a tenth of what a cutter can place."""

FINER = (1, 4, 16, 64)
"""How many times finer an outline is flattened, in turn, where its chords cross."""


def flatten(contour: Contour, tolerance: float = FLATTEN) -> FloatArray:
    """Return points (n, 2) on ``contour`` whose chords stay within ``tolerance`` of it.

    First and last point are the ends of the chain, so a closed contour's point comes twice.
    """
    owner, t = sampling(contour, tolerance)
    return np.vstack([evaluate(contour[owner], t), contour[-1:, 3]])


def sampling(contour: Contour, tolerance: float = FLATTEN) -> tuple[NDArray[np.int64], FloatArray]:
    """Return segment number and parameter of each point of ``flatten`` but the last, (n,) each.

    The count a segment follows from the bound ``|B''| / (8 n^2)`` on a chord's distance from its
    curve.
    """
    start, first, second, end = np.moveaxis(contour, 1, 0)
    bend = np.maximum(
        np.linalg.norm(start - 2 * first + second, axis=1),
        np.linalg.norm(first - 2 * second + end, axis=1),
    )
    counts = np.maximum(1, np.ceil(np.sqrt(0.75 * bend / tolerance)).astype(int))
    owner = np.repeat(np.arange(len(contour)), counts)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    return owner, step / counts[owner]


def evaluate(segments: Contour, t: FloatArray) -> FloatArray:
    """Return the points (n, 2) of ``segments`` (n, 4, 2) at parameters ``t`` (n,)."""
    t = t[:, None]
    s = 1 - t
    start, first, second, end = np.moveaxis(segments, 1, 0)
    result: FloatArray = s**3 * start + 3 * s * s * t * first + 3 * s * t * t * second + t**3 * end
    return result


def straight(points: ArrayLike, *, closed: bool) -> Contour:
    """Return straight segments through ``points`` (n, 2); ``closed`` adds the last one back."""
    corners = np.asarray(points, dtype=float)
    ends = np.concatenate([corners[1:], corners[:1]]) if closed else corners[1:]
    starts = corners if closed else corners[:-1]
    chain = np.empty((len(starts), 4, corners.shape[1]))
    chain[:, 0], chain[:, 3] = starts, ends
    chain[:, 1], chain[:, 2] = (2 * starts + ends) / 3, (starts + 2 * ends) / 3
    return chain


def is_straight(segment: FloatArray) -> bool:
    """Whether a segment (4, 2) is written as a line: handles at one and two thirds."""
    return bool(are_straight(segment[None])[0])


def are_straight(contour: Contour) -> NDArray[np.bool_]:
    """Return (n,) which segments of a chain are written as lines."""
    start, first, second, end = contour.transpose(1, 0, 2)
    slack = 1e-9 * (1 + np.abs(contour).max(axis=(1, 2)))
    off = np.abs([first - (2 * start + end) / 3, second - (start + 2 * end) / 3])
    result: NDArray[np.bool_] = off.max(axis=(0, 2)) <= slack
    return result


def bounds(contour: Contour) -> tuple[float, float, float, float]:
    """Return exact (min x, min y, max x, max y) of a chain, from the roots of its derivative."""
    box, ends = _box(contour), _box(contour[:, ::3])
    if box == ends:
        return box  # no handle is outside
    start, first, second, end = contour.transpose(1, 0, 2)
    a = end - 3 * second + 3 * first - start
    b = 2 * (second - 2 * first + start)
    c = first - start
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(b * b - 4 * a * c)
        # The stable form of the quadratic: one root by division by a, the other by q.
        q = -0.5 * (b + np.where(b < 0, -1.0, 1.0) * root)
        candidates = np.stack([q / a, c / q])
    candidates = np.where((candidates > 0) & (candidates < 1), candidates, 0.0)
    t, s = candidates, 1 - candidates
    values = s**3 * start + 3 * s * s * t * first + 3 * s * t * t * second + t**3 * end
    return _box(np.concatenate([values.reshape(-1, 2), start, end]))


def _box(points: FloatArray) -> tuple[float, float, float, float]:
    """Return (min x, min y, max x, max y) of points (..., 2)."""
    x, y = points[..., 0], points[..., 1]
    return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def transform(contour: Contour, matrix: FloatArray) -> Contour:
    """Return ``contour`` mapped by an affine ``matrix`` (2, 3)."""
    result: Contour = contour @ matrix[:, :2].T + matrix[:, 2]
    return result


def transform_outline(outline: Outline, matrix: FloatArray) -> Outline:
    """Return ``outline`` mapped by an affine ``matrix`` (2, 3)."""
    return Outline(
        transform(outline.outer, matrix), tuple(transform(hole, matrix) for hole in outline.holes)
    )


def reverse(contour: Contour) -> Contour:
    """Return the chain run the other way."""
    result: Contour = contour[::-1, ::-1]
    return result


def polygon(outline: Outline, tolerance: float = FLATTEN) -> shapely.Polygon:
    """Return ``outline`` flattened as a valid shapely polygon.

    Where curves run closer side by side than ``tolerance`` their chords may cross although they
    don't: then it is flattened finer. Of an outline that crosses itself the largest piece is left.
    """
    for finer in FINER:
        shape = shapely.Polygon(
            flatten(outline.outer, tolerance / finer),
            [flatten(hole, tolerance / finer) for hole in outline.holes],
        )
        if shape.is_valid:
            return shape
    return largest(shapely.make_valid(shape))


def largest(shape: shapely.Geometry) -> shapely.Polygon:
    """Return the largest polygon in ``shape``, an empty one where there is none."""
    parts = shapely.get_parts(shapely.get_parts(shape))
    areas = [part for part in parts if part.geom_type == "Polygon"]
    return max(areas, key=lambda part: float(part.area), default=shapely.Polygon())


def from_polygon(shape: shapely.Polygon) -> Outline:
    """Return a shapely polygon as an outline of straight segments."""
    rings = [
        straight(np.asarray(ring.coords)[:-1, :2], closed=True)
        for ring in (shape.exterior, *shape.interiors)
    ]
    return Outline(rings[0], tuple(rings[1:]))


def to_path(contour: Contour) -> "Path":
    """Return the chain as an svgpathtools ``Path`` of ``Line`` and ``CubicBezier`` segments."""
    from svgpathtools import CubicBezier, Line, Path  # 0.5 s to import: only where it is used

    chain = contour[..., 0] + 1j * contour[..., 1]
    return Path(
        *(
            Line(row[0], row[3]) if is_straight(segment) else CubicBezier(*row)
            for segment, row in zip(contour, chain, strict=True)
        )
    )
