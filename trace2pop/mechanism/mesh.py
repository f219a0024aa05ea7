"""Triangles on a sheet's outline, with edges along given lines: what bending is solved on."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray

_GRID = 1e-4
"""Points closer than this are one point."""
_CLEAR = 0.55
"""Inner points keep this share of the mesh size away from lines, so that lines stay edges."""
_ROUNDS = 12


@dataclass(frozen=True, eq=False)
class Net:
    """A triangulated sheet: ``points`` (n, 2), ``triangles`` (m, 3) of indices into them."""

    points: FloatArray
    triangles: NDArray[np.int64]

    @property
    def areas(self) -> FloatArray:
        """Areas (m,) of the triangles."""
        a, b, c = np.moveaxis(self.points[self.triangles], 1, 0)
        result: FloatArray = 0.5 * np.abs(
            (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        )
        return result

    @property
    def middles(self) -> FloatArray:
        """Centroids (m, 2) of the triangles."""
        result: FloatArray = self.points[self.triangles].mean(axis=1)
        return result


def net(shape: shapely.Geometry, lines: Sequence[shapely.Geometry], size: float) -> Net:
    """Return triangles of about ``size`` mm that fill ``shape``, with edges along ``lines``.

    The outline is followed to a fortieth of ``size``; parts of ``lines`` off the sheet are dropped.
    Where the triangulation of the points misses an edge, the edge is halved until it is there.
    """
    from scipy.spatial import Delaunay  # 0.1 s to import: only where it is used

    outline = shapely.set_precision(shape.simplify(size / 40).buffer(0), _GRID)
    wanted = [outline.boundary, *(line.intersection(outline) for line in lines)]
    linework = shapely.union_all(wanted, grid_size=_GRID)
    points, edges = _divided(linework, size)
    points = np.vstack([points, _inside(outline, linework, size)])
    triangles = Delaunay(points).simplices
    for _ in range(_ROUNDS):
        missing = _missing(edges, triangles, len(points))
        if not missing.any():
            break
        points, edges = _halved(points, edges, missing)
        triangles = Delaunay(points).simplices
    return _kept(Net(points, triangles.astype(np.int64)), outline)


def _divided(linework: shapely.Geometry, size: float) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return points (n, 2) along ``linework`` at most ``size`` apart, and edges (k, 2)."""
    pieces = shapely.get_parts(shapely.segmentize(linework, size))
    coords, owner = shapely.get_coordinates(pieces, return_index=True)
    points, index = np.unique(np.round(coords / _GRID) * _GRID, axis=0, return_inverse=True)
    follows = owner[1:] == owner[:-1]
    edges = np.stack([index[:-1][follows], index[1:][follows]], axis=1)
    edges = np.unique(np.sort(edges[edges[:, 0] != edges[:, 1]], axis=1), axis=0)
    return points, edges


def _inside(outline: shapely.Geometry, linework: shapely.Geometry, size: float) -> FloatArray:
    """Return a triangular lattice inside ``outline``, clear of ``linework``, mirrored at u = 0."""
    left, top, right, bottom = outline.bounds
    step, rise = size, size * np.sqrt(3) / 2
    far = max(-left, right)
    across = np.arange(step / 2, far + step, step)
    across = np.concatenate([-across[::-1], across])
    rows = top + np.arange(rise / 2, bottom - top, rise)
    u, v = np.meshgrid(across, rows)
    # Odd rows stand half a step over, towards the crease on both sides.
    u[1::2] -= np.sign(u[1::2]) * step / 2
    points = np.unique(np.round(np.stack([u.ravel(), v.ravel()], axis=1), 9) + 0.0, axis=0)
    places = shapely.points(points)
    shapely.prepare(outline)
    inside = shapely.contains(outline, places)
    shapely.prepare(linework)
    clear = ~shapely.dwithin(linework, places, _CLEAR * size)
    result: FloatArray = points[inside & clear]
    return result


def _keys(pairs: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    low, high = pairs.min(axis=1).astype(np.int64), pairs.max(axis=1).astype(np.int64)
    keys: NDArray[np.int64] = low * count + high
    return keys


def _missing(
    edges: NDArray[np.int64], triangles: NDArray[np.int64], count: int
) -> NDArray[np.bool_]:
    sides = np.concatenate([triangles[:, [0, 1]], triangles[:, [1, 2]], triangles[:, [2, 0]]])
    return ~np.isin(_keys(edges, count), _keys(sides, count))


def _halved(
    points: FloatArray, edges: NDArray[np.int64], missing: NDArray[np.bool_]
) -> tuple[FloatArray, NDArray[np.int64]]:
    split = edges[missing]
    new = len(points) + np.arange(len(split))
    points = np.vstack([points, points[split].mean(axis=1)])
    halves = [np.stack([split[:, 0], new], axis=1), np.stack([new, split[:, 1]], axis=1)]
    return points, np.concatenate([edges[~missing], *halves])


def _kept(found: Net, outline: shapely.Geometry) -> Net:
    """Return the triangles inside ``outline``, and only the points they use.

    Slivers that rounding leaves along the edge are dropped: one across the end of a line that is to
    be a hinge would weld it.
    """
    shapely.prepare(outline)
    inside = shapely.contains_xy(outline, *found.middles.T)
    corners = found.points[found.triangles]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    kept = found.triangles[inside & (found.areas > _GRID * longest)]
    used, index = np.unique(kept, return_inverse=True)
    return Net(found.points[used], index.reshape(kept.shape))
