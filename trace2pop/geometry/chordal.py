"""The chordal axis of a strip: its triangulation walked from edge to edge, as a graph of points.

After Prasad, "Morphological analysis of shapes", 1997: in a constrained Delaunay triangulation,
triangles in a row lead along a strip, one without an outer edge is a fork, one with two is a tip.
"""

import heapq
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.geometry.edges import rings_of
from trace2pop.model.outline import FloatArray


class Axis:
    """The chordal axis of ``region``, whose sides are taken in steps of about ``spacing``.

    ``joins`` (k, 2, 2) are edges of the region that lead on to other regions; ``doors`` are the
    points in their middle. ``far`` is the distance along the axis of each point from the first
    door, or from a tip where there is none; -1 for points off the axis.
    """

    def __init__(self, region: shapely.Polygon, joins: FloatArray, spacing: float) -> None:
        triangles = _triangles(region, joins, spacing)
        _, first, ids = np.unique(
            triangles.reshape(-1, 2) @ (1, 1j), return_index=True, return_inverse=True
        )
        place = triangles.reshape(-1, 2)[first]
        ids = ids.reshape(-1, 3)
        ends = np.sort(ids[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        keys, edge, counts = np.unique(
            ends[:, 0] * len(place) + ends[:, 1], return_inverse=True, return_counts=True
        )
        edge = edge.reshape(-1, 3)
        middles = (place[keys // len(place)] + place[keys % len(place)]) / 2
        inner = counts == 2
        self.doors = [
            int(np.argmin(np.sum((middles - join.mean(axis=0)) ** 2, axis=1))) for join in joins
        ]
        inner[self.doors] = True
        self.points = np.vstack([middles, place, triangles.mean(axis=1)])
        self._ways = _graph(_links(inner[edge], edge, ids, len(keys), len(place)), self.points)
        start = self.doors[0] if self.doors else self._end()
        self.far, self._before = _distances(self._ways, start)

    def _end(self) -> int:
        """Return a point as far off as can be: the start where there is no door."""
        first = next(number for number, ways in enumerate(self._ways) if ways)
        return int(np.argmax(_distances(self._ways, first)[0]))

    def farthest(self) -> int:
        """Return the point farthest from the start."""
        return int(np.argmax(self.far))

    def way(self, end: int) -> list[int]:
        """Return the points from the start to ``end``."""
        return _way(self._before, end)

    def tips(self) -> list[int]:
        """Return the ends of the axis, farthest first."""
        ends = [n for n, ways in enumerate(self._ways) if len(ways) == 1 and self.far[n] > 0]
        return sorted(ends, key=lambda number: -self.far[number])

    def twig(self, tip: int, used: Sequence[bool]) -> list[int]:
        """Return the points to ``tip`` from the last one in ``used`` on the way there."""
        way = [tip]
        while not used[way[-1]] and self._before[way[-1]] >= 0:
            way.append(self._before[way[-1]])
        return way[::-1]

    def round_trip(self) -> list[int]:
        """Return the points of a way round a hole, back to where it started; empty if none."""
        degree = [len(ways) for ways in self._ways]
        loose = [number for number, count in enumerate(degree) if count == 1]
        while loose:
            number = loose.pop()
            degree[number] = 0
            for other, _ in self._ways[number]:
                degree[other] -= 1
                if degree[other] == 1:
                    loose.append(other)
        cut = next((number for number, count in enumerate(degree) if count == 2), None)
        if cut is None:
            return []
        first, last = (other for other, _ in self._ways[cut] if degree[other] > 0)
        _, before = _distances(self._ways, first, without=cut)
        return [cut, *_way(before, last), cut]


Ways = list[list[tuple[int, float]]]


def _triangles(region: shapely.Polygon, joins: FloatArray, spacing: float) -> FloatArray:
    """Return the triangles (n, 3, 2) of a region whose sides are subdivided, its joins not."""
    whole = {frozenset(map(tuple, join)) for join in joins.tolist()}
    rings = [_subdivided(ring, whole, spacing) for ring in rings_of(region)]
    mesh = shapely.constrained_delaunay_triangles(shapely.Polygon(rings[0], rings[1:]))
    result: FloatArray = shapely.get_coordinates(mesh).reshape(-1, 4, 2)[:, :3]
    return result


def _subdivided(
    ring: FloatArray, whole: set[frozenset[tuple[float, ...]]], spacing: float
) -> FloatArray:
    step = np.concatenate((ring[1:], ring[:1])) - ring
    counts = np.maximum(1, np.ceil(np.hypot(step[:, 0], step[:, 1]) / spacing)).astype(int)
    for k in np.flatnonzero(counts > 1) if whole else ():
        pair = frozenset((tuple(ring[k].tolist()), tuple(ring[(k + 1) % len(ring)].tolist())))
        if pair in whole:
            counts[k] = 1
    owner = np.repeat(np.arange(len(ring)), counts)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[owner]
    result: FloatArray = ring[owner] + share[:, None] * step[owner]
    return result


def _links(
    inner: NDArray[np.bool_],
    edge: NDArray[np.int64],
    ids: NDArray[np.int64],
    edges: int,
    corners: int,
) -> NDArray[np.int64]:
    """Return the links (n, 2) between points: edge to edge, edge to tip, or edge to fork.

    Points are numbered edges first, then corners, then triangles. ``inner`` (n, 3) says which
    edges of each triangle lead on.
    """
    ways = inner.sum(axis=1)
    through = edge[ways == 2][inner[ways == 2]].reshape(-1, 2)
    last = ways == 1
    opposite = ids[:, [2, 0, 1]]
    tips = np.stack([edge[last][inner[last]], edges + opposite[last][inner[last]]], axis=1)
    forks = np.flatnonzero(ways == 3)
    middles = np.repeat(edges + corners + forks, 3)
    return np.vstack([through, tips, np.stack([edge[forks].ravel(), middles], axis=1)])


def _graph(links: NDArray[np.int64], points: FloatArray) -> Ways:
    step = points[links[:, 0]] - points[links[:, 1]]
    lengths = np.hypot(step[:, 0], step[:, 1]).tolist()
    ways: Ways = [[] for _ in points]
    for (one, other), length in zip(links.tolist(), lengths, strict=True):
        ways[one].append((other, length))
        ways[other].append((one, length))
    return ways


def _distances(ways: Ways, start: int, without: int = -1) -> tuple[list[float], list[int]]:
    """Return shortest distances from ``start`` (-1 where there is no way) and the points before."""
    far, before = [-1.0] * len(ways), [-1] * len(ways)
    seen = [False] * len(ways)
    if without >= 0:
        seen[without] = True
    far[start] = 0.0
    heap = [(0.0, start)]
    while heap:
        here_far, here = heapq.heappop(heap)
        if seen[here]:
            continue
        seen[here] = True
        for there, length in ways[here]:
            if not seen[there] and (far[there] < 0 or here_far + length < far[there]):
                far[there], before[there] = here_far + length, here
                heapq.heappush(heap, (far[there], there))
    return far, before


def _way(before: Sequence[int], end: int) -> list[int]:
    way = [end]
    while before[way[-1]] >= 0:
        way.append(before[way[-1]])
    return way[::-1]
