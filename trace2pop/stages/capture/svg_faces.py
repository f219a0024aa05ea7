"""Filled areas of chains under SVG's fill rules."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray

_CHUNK = 4_000_000


def filled_area(
    chains: Sequence[Contour], *, even_odd: bool, tolerance: float = beziers.FLATTEN
) -> shapely.Geometry:
    """Return the area that chains fill, open ones closed by a line (SVG 2, section 13.4.2).

    The chains' lines divide the plane; each face is kept or not by its winding number.
    """
    rings = [beziers.flatten(chain, tolerance) for chain in chains]
    rings = [ring for ring in rings if len(ring) > 2]
    if not rings:
        return shapely.Polygon()
    closed = [np.vstack([ring, ring[:1]]) for ring in rings]
    lines = [shapely.LineString(ring) for ring in map(_without_repeats, closed) if len(ring) > 3]
    if not lines:
        return shapely.Polygon()
    faces = shapely.get_parts(shapely.polygonize([shapely.unary_union(lines)]))
    if not len(faces):
        return shapely.Polygon()
    inner = shapely.get_coordinates(shapely.point_on_surface(faces))
    winding = np.zeros(len(faces), np.int64)
    for ring in closed:
        winding += winding_numbers(inner, ring)
    kept = winding % 2 == 1 if even_odd else winding != 0
    return shapely.union_all(faces[kept])


def winding_numbers(points: FloatArray, ring: FloatArray) -> NDArray[np.int64]:
    """Return how often a closed ``ring`` (m, 2), first point repeated, goes round each point.

    Counted by its crossings of a ray to the right (Sunday, 2001).
    """
    start, end = ring[:-1], ring[1:]
    result = np.zeros(len(points), np.int64)
    step = max(1, _CHUNK // max(1, len(start)))
    for first in range(0, len(points), step):
        x, y = points[first : first + step, :1], points[first : first + step, 1:]
        side = (end[:, 0] - start[:, 0]) * (y - start[:, 1]) - (x - start[:, 0]) * (
            end[:, 1] - start[:, 1]
        )
        up = (start[:, 1] <= y) & (end[:, 1] > y) & (side > 0)
        down = (start[:, 1] > y) & (end[:, 1] <= y) & (side < 0)
        result[first : first + step] = up.sum(axis=1) - down.sum(axis=1)
    return result


def _without_repeats(ring: FloatArray) -> FloatArray:
    keep = np.append(True, np.any(np.diff(ring, axis=0) != 0, axis=1))
    result: FloatArray = ring[keep]
    return result
