"""Middle lines of thin strips, with their widths and, where they fork, their branches."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray

_POINTS = 41
_PX_PER_WIDTH = 8.0
_MAX_PX = 2500


@dataclass(frozen=True, eq=False)
class MiddleLine:
    """A strip's middle line.

    ``path`` (n, 2) runs from the root to the tip, ``branches`` from where they leave it. ``length``
    is that of the path; ``width`` the mean, ``root_width`` and ``tip_width`` at its ends.
    """

    path: FloatArray
    branches: tuple[FloatArray, ...]
    length: float
    width: float
    root_width: float
    tip_width: float


def middle_line(
    piece: shapely.Polygon,
    root: shapely.LineString | None,
    far: shapely.LineString | None = None,
    *,
    start: FloatArray | None = None,
) -> MiddleLine:
    """Return the middle line of a strip joined along ``root`` and, if a bridge, along ``far``.

    A plain strip's middle line is the mean of its two sides, walked at equal shares of their
    length. Where that leaves the strip it forks, loops or swells, and its skeleton serves.
    """
    if root is not None:
        sides = _sides(piece, root, far)
        if sides is not None:
            path = (sides[0] + sides[1]) / 2
            across = np.linalg.norm(sides[0] - sides[1], axis=1)
            if _stays_in(path, piece, float(np.median(across))):
                return _measured(path, (), piece.area, across)
        start = np.asarray(root.interpolate(0.5, normalized=True).coords[0])
    return _skeleton(piece, start)


def _sides(
    piece: shapely.Polygon, root: shapely.LineString, far: shapely.LineString | None
) -> tuple[FloatArray, FloatArray] | None:
    """Return both sides (n, 2) of a strip from its root outwards, or None where it has holes."""
    if piece.interiors:
        return None
    ring = np.asarray(piece.exterior.coords)[:-1]
    first = _around(ring, root)
    if far is None:
        walk = shapely.LineString(first)
        c0 = float(np.linalg.norm(first[0] - first[-1]))
        lateral, area = walk.length, piece.area
        # Length and mean width of the rectangle with this area and lateral boundary.
        disc = max((lateral / 2) ** 2 - 2 * area, 0.0)
        length0 = (lateral / 2 + np.sqrt(disc)) / 2
        tip = float(np.clip(2 * area / max(length0, 1e-9) - c0, 0, area / max(length0, 1e-9)))
        run = (lateral - tip) / 2
        share = np.linspace(0, run, _POINTS)
        left = shapely.get_coordinates(shapely.line_interpolate_point(walk, share))
        right = shapely.get_coordinates(shapely.line_interpolate_point(walk, lateral - share))
        return left, right
    other = _around(ring, far)
    joint = _index_of(first, other[-1]), _index_of(first, other[0])
    low, high = sorted(joint)
    if low < 1 or high > len(first) - 2:
        return None
    share = np.linspace(0, 1, _POINTS)
    left = _walked(first[: low + 1], share)
    right = _walked(first[high:][::-1], share)
    return left, right


def _walked(line: FloatArray, share: FloatArray) -> FloatArray:
    points = shapely.line_interpolate_point(shapely.LineString(line), share, normalized=True)
    result: FloatArray = shapely.get_coordinates(points)
    return result


def _around(ring: FloatArray, contact: shapely.LineString) -> FloatArray:
    """Return the ring's points from one end of ``contact`` the long way round to the other."""
    ends = np.array([contact.coords[0], contact.coords[-1]])
    middle = np.asarray(contact.interpolate(0.5, normalized=True).coords[0])
    i, j = _index_of(ring, ends[0]), _index_of(ring, ends[1])
    forward = np.roll(ring, -i, axis=0)[: (j - i) % len(ring) + 1]
    backward = np.roll(ring[::-1], -(len(ring) - 1 - i), axis=0)[: (i - j) % len(ring) + 1]
    lines = [line for line in (forward, backward) if len(line) > 1]
    return max(lines, key=lambda line: shapely.LineString(line).distance(shapely.Point(middle)))


def _index_of(points: FloatArray, point: FloatArray) -> int:
    return int(np.argmin(np.sum((points - point) ** 2, axis=1)))


def _stays_in(path: FloatArray, piece: shapely.Polygon, width: float) -> bool:
    """Whether a middle line keeps to the middle: never much nearer one side than half the width."""
    inner = path[2:-2]
    depth = shapely.distance(shapely.points(inner), piece.boundary)
    inside = shapely.contains_xy(piece, inner)
    return bool(inside.all() and np.median(depth) > 0.3 * width)


def _measured(
    path: FloatArray, branches: tuple[FloatArray, ...], area: float, across: FloatArray
) -> MiddleLine:
    length = _length(path) + sum(_length(branch) for branch in branches)
    width = area / max(length, 1e-9)
    tail = max(1, len(across) // 10)
    return MiddleLine(
        path=path,
        branches=branches,
        length=_length(path),
        width=width,
        root_width=float(np.median(across[1 : 1 + tail])),
        tip_width=float(np.median(across[-1 - tail : -1])),
    )


def _length(path: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())


def _skeleton(piece: shapely.Polygon, start: FloatArray | None) -> MiddleLine:
    """Return the longest path of a strip's skeleton from ``start``, and what branches off it."""
    from scipy.sparse.csgraph import dijkstra

    points, links, scale = _skeleton_graph(piece)
    if start is None:
        far = dijkstra(links, indices=0)
        first = int(np.argmax(np.where(np.isfinite(far), far, -1)))
    else:
        first = _index_of(points, start)
    far, before = dijkstra(links, indices=first, return_predecessors=True)
    far = np.where(np.isfinite(far), far, -1)
    main = _back(before, int(np.argmax(far)))[::-1]
    used = set(main)
    least = 2.5 * 2 * float(np.median(shapely.distance(shapely.points(points), piece.boundary)))
    branches: list[FloatArray] = []
    degree = np.diff(links.indptr)
    for leaf in sorted(np.flatnonzero(degree == 1), key=lambda node: -far[node]):
        way = _back(before, int(leaf))
        fresh = [node for node in way if node not in used]
        if not fresh:
            continue
        joined = [*fresh, way[len(fresh)]] if len(way) > len(fresh) else fresh
        line = _smoothed(points[joined[::-1]], scale)
        if _length(line) > least:
            branches.append(line)
            used.update(fresh)
    path = _smoothed(points[main], scale)
    across = 2 * shapely.distance(shapely.points(path), piece.boundary)
    tip = np.array([path[-1] + (path[-1] - path[-2]) / scale])
    if start is not None:
        path = np.vstack([start, path[1:]])
    return _measured(np.vstack([path, tip]), tuple(branches), piece.area, across)


def _back(before: NDArray[np.int32], node: int) -> list[int]:
    way = [node]
    while before[way[-1]] >= 0:
        way.append(int(before[way[-1]]))
    return way


def _skeleton_graph(piece: shapely.Polygon) -> tuple[FloatArray, Any, float]:
    """Return a strip's skeleton: points (n, 2), a sparse matrix of distances, px per unit."""
    import cv2
    from scipy.sparse import coo_matrix
    from skimage.morphology import skeletonize

    x0, y0, x1, y1 = piece.bounds
    mean = piece.area / (piece.boundary.length / 2)
    scale = min(_PX_PER_WIDTH / mean, _MAX_PX / max(x1 - x0, y1 - y0))
    size = (int((y1 - y0) * scale) + 5, int((x1 - x0) * scale) + 5)
    mask = np.zeros(size, np.uint8)
    rings = [
        np.rint((np.asarray(ring.coords) - [x0, y0]) * scale + 2).astype(np.int32)
        for ring in (piece.exterior, *piece.interiors)
    ]
    cv2.fillPoly(mask, rings, 1)
    rows, cols = np.nonzero(skeletonize(mask > 0))
    number = -np.ones(size, int)
    number[rows, cols] = np.arange(len(rows))
    starts, ends, weights = [], [], []
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        other = number[np.clip(rows + dy, 0, size[0] - 1), np.clip(cols + dx, 0, size[1] - 1)]
        here = np.flatnonzero(other >= 0)
        starts.append(here)
        ends.append(other[here])
        weights.append(np.full(len(here), np.hypot(dy, dx) / scale))
    i, j, w = (np.concatenate(rows_) for rows_ in (starts, ends, weights))
    count = len(rows)
    links = coo_matrix((np.tile(w, 2), (np.append(i, j), np.append(j, i))), (count, count)).tocsr()
    points = np.column_stack([cols - 2, rows - 2]) / scale + [x0, y0]
    return points, links, scale


def _smoothed(path: FloatArray, scale: float) -> FloatArray:
    """Return a pixel path with its staircase averaged out, its ends kept."""
    if len(path) < 5:
        return path
    reach = int(min(_PX_PER_WIDTH, (len(path) - 1) // 2))
    padded = np.pad(path, ((reach, reach), (0, 0)), mode="reflect", reflect_type="odd")
    kernel = np.hanning(2 * reach + 3)[1:-1]
    kernel /= kernel.sum()
    smooth = np.column_stack([np.convolve(padded[:, k], kernel, "valid") for k in (0, 1)])
    smooth[0], smooth[-1] = path[0], path[-1]
    stride = max(1, len(smooth) // 60)
    return np.vstack([smooth[:-1:stride], smooth[-1:]])
