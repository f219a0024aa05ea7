"""Middle lines of thin strips, with their widths and, where they fork, their branches.

A strip's constrained Delaunay triangulation is walked from edge to edge (the chordal axis: Prasad,
"Morphological analysis of shapes", 1997): triangles in a row give the line, a triangle without
outer edge is a fork.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.geometry.edges import rings_of
from trace2pop.model.outline import FloatArray

_SPACING = 0.6
"""Spacing of points along a strip's sides, in mean widths."""

_TAIL = 0.8
"""In widths before a tip the line is led on straight, for there it wanders to a corner."""

_SMOOTH = 4
"""Points to either side over which a line is smoothed: one mean width."""

_BRANCH, _TWIG = 1.3, 1.5
"""A branch reaches at least this many widths of the fork, and of the strip, beyond the fork."""


@dataclass(frozen=True, eq=False)
class MiddleLine:
    """A strip's middle line.

    ``path`` (n, 2) runs from the root to the tip, evenly spaced, ``widths`` (n,) along it;
    ``branches`` from where they leave it, ``twigs`` of all. ``length`` is that of the path.
    ``width`` is the mean without clubs, ``root_width``, ``tip_width`` at its ends, ``least`` the
    narrowest.
    """

    path: FloatArray
    widths: FloatArray
    branches: tuple[FloatArray, ...]
    length: float
    width: float
    root_width: float
    tip_width: float
    least: float
    least_at: tuple[float, float]


def middle_line(region: shapely.Polygon, joins: FloatArray) -> MiddleLine:
    """Return the middle line of ``region``, which is joined to more along ``joins`` (k, 2, 2).

    It starts at the middle of the first join; it ends at the second, or at the farthest tip where
    there is no second.
    """
    mean = max(2 * region.area / region.length, 1e-6)
    tree = _Tree(region, joins, mean)
    end = tree.portals[1] if len(joins) > 1 else tree.farthest()
    main = tree.way(end)
    sides = _sides(region, joins)
    path = _run(tree.points[main], mean, sides, region, open_end=len(joins) < 2)
    branches = tuple(
        _run(tree.points[way], mean, sides, region, open_end=True, keep_start=True)
        for way in tree.branches(main, sides, joined=len(joins) > 1)
    )
    return _measured(path, branches, region, sides, open_end=len(joins) < 2)


def _sides(region: shapely.Polygon, joins: FloatArray) -> shapely.Geometry:
    """Return the region's boundary without its joins."""
    if not len(joins):
        return region.boundary
    ends = {(*a, *b) for join in joins.tolist() for a, b in (join, join[::-1])}
    lines = []
    for ring in rings_of(region):
        pairs = np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)
        keep = [tuple(pair) not in ends for pair in pairs.reshape(-1, 4).tolist()]
        lines.append(pairs[keep])
    return shapely.multilinestrings(shapely.linestrings(np.concatenate(lines)))


class _Tree:
    """The graph of a strip's triangles: points, links, distances from the first join."""

    def __init__(self, region: shapely.Polygon, joins: FloatArray, mean: float) -> None:
        from scipy.sparse import coo_matrix  # scipy costs 0.2 s to import: only where it is used
        from scipy.sparse.csgraph import dijkstra

        self.mean = mean
        triangles = _triangles(region, joins, _SPACING * mean)
        corners, ids = np.unique(triangles.reshape(-1, 2) @ (1, 1j), return_inverse=True)
        ids = ids.reshape(-1, 3)
        pairs = np.sort(ids[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        edges, edge, counts = np.unique(pairs, axis=0, return_inverse=True, return_counts=True)
        edge = edge.reshape(-1, 3)
        place = np.stack([corners.real, corners.imag], axis=1)
        middles = place[edges].mean(axis=1)
        open_edge = counts == 2
        self.portals = [
            int(np.argmin(np.sum((middles - join.mean(axis=0)) ** 2, axis=1))) for join in joins
        ]
        open_edge[self.portals] = True
        links = self._links(open_edge[edge], edge, ids, len(edges), len(corners))
        self.points = np.vstack([middles, place, triangles.mean(axis=1)])
        lengths = np.linalg.norm(self.points[links[:, 0]] - self.points[links[:, 1]], axis=1)
        size = len(self.points)
        graph = coo_matrix(
            (np.tile(np.maximum(lengths, 1e-9), 2), (links.ravel("F"), links[:, ::-1].ravel("F"))),
            (size, size),
        ).tocsr()
        self._graph = graph
        start = self.portals[0] if self.portals else int(self._loose_end(graph))
        self.far, self._before = dijkstra(graph, indices=start, return_predecessors=True)
        self.far = np.where(np.isfinite(self.far), self.far, -1.0)
        self._degree = np.diff(graph.indptr)

    @staticmethod
    def _links(
        is_open: NDArray[np.bool_],
        edge: NDArray[np.int64],
        ids: NDArray[np.int64],
        edges: int,
        corners: int,
    ) -> NDArray[np.int64]:
        """Return the links (n, 2): edge to edge, edge to a strip's last corner, or to a fork."""
        ways = is_open.sum(axis=1)
        through = edge[ways == 2][is_open[ways == 2]].reshape(-1, 2)
        last = ways == 1
        opposite = ids[:, [2, 0, 1]]
        tips = np.stack([edge[last][is_open[last]], edges + opposite[last][is_open[last]]], axis=1)
        forks = np.flatnonzero(ways == 3)
        middle = np.repeat(edges + corners + forks, 3)
        return np.vstack([through, tips, np.stack([edge[forks].ravel(), middle], axis=1)])

    @staticmethod
    def _loose_end(graph: Any) -> int:
        """Return a point as far off as can be: the start where there is no join."""
        from scipy.sparse.csgraph import dijkstra

        first = int(np.flatnonzero(np.diff(graph.indptr))[0])
        far = dijkstra(graph, indices=first)
        return int(np.argmax(np.where(np.isfinite(far), far, -1.0)))

    def farthest(self) -> int:
        """Return the tip farthest from the start."""
        return int(np.argmax(self.far))

    def way(self, end: int) -> NDArray[np.int64]:
        """Return the points from the start to ``end``."""
        way = [end]
        while self._before[way[-1]] >= 0:
            way.append(int(self._before[way[-1]]))
        return np.array(way[::-1])

    def branches(
        self, main: NDArray[np.int64], sides: shapely.Geometry, *, joined: bool
    ) -> list[NDArray[np.int64]]:
        """Return the ways that leave the main one and each other, longest first."""
        used = np.zeros(len(self.points), bool)
        used[main] = True
        found = []
        leaves = np.flatnonzero((self._degree == 1) & (self.far > 0) & ~used)
        for leaf in leaves[np.argsort(-self.far[leaves], kind="stable")]:
            way = self.way(int(leaf))
            fresh = ~used[way]
            begin = int(np.argmax(fresh)) - 1
            if begin < 0 or not fresh.any():
                continue
            branch = way[begin:]
            reach = self.far[leaf] - self.far[branch[0]]
            fork = 2 * float(shapely.distance(shapely.Point(self.points[branch[0]]), sides))
            if reach > max(_BRANCH * fork, _TWIG * self.mean):
                used[branch] = True
                found.append(branch)
        return found


def _triangles(region: shapely.Polygon, joins: FloatArray, spacing: float) -> FloatArray:
    """Return the triangles (n, 3, 2) of a region whose sides are subdivided, its joins not."""
    chords = {tuple(sorted(map(tuple, join.tolist()))) for join in joins}
    rings = [_subdivided(ring, chords, spacing) for ring in rings_of(region)]
    dense = shapely.Polygon(rings[0], rings[1:])
    mesh = shapely.constrained_delaunay_triangles(dense)
    corners = shapely.get_coordinates(mesh).reshape(-1, 4, 2)[:, :3]
    result: FloatArray = corners
    return result


def _subdivided(ring: FloatArray, chords: set[Any], spacing: float) -> FloatArray:
    after = np.roll(ring, -1, axis=0)
    counts = np.maximum(1, np.ceil(np.linalg.norm(after - ring, axis=1) / spacing)).astype(int)
    if chords:
        for k in np.flatnonzero(counts > 1):
            pair = tuple(sorted((tuple(ring[k].tolist()), tuple(after[k].tolist()))))
            if pair in chords:
                counts[k] = 1
    owner = np.repeat(np.arange(len(ring)), counts)
    step = (np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[owner]
    result: FloatArray = ring[owner] + step[:, None] * (after - ring)[owner]
    return result


def _along(path: FloatArray) -> FloatArray:
    steps = np.linalg.norm(np.diff(path, axis=0), axis=1)
    result: FloatArray = np.concatenate([[0.0], np.cumsum(steps)])
    return result


def _even(path: FloatArray, spacing: float) -> FloatArray:
    """Return points evenly spaced along ``path``, its ends kept."""
    along = _along(path)
    at = np.linspace(0, along[-1], max(3, round(along[-1] / spacing) + 1))
    return np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)])


def _run(
    path: FloatArray,
    mean: float,
    sides: shapely.Geometry,
    region: shapely.Polygon,
    *,
    open_end: bool,
    keep_start: bool = False,
) -> FloatArray:
    """Return a way through the triangles as an even, smooth line that ends on the tip's edge."""
    start, end = path[0], path[-1]
    path = _even(path, 0.25 * mean)
    across = 2 * shapely.distance(shapely.points(path), sides)
    along = _along(path)
    wide = np.minimum(across, 2 * mean)
    inner = along >= (0 if keep_start else 0.7 * wide[len(wide) // 4])
    if open_end:
        near = along >= along[-1] - 1.5 * mean
        inner &= along <= along[-1] - _TAIL * float(wide[near].max())
    else:
        inner &= along <= along[-1] - 0.7 * mean
    if inner.sum() < 4:
        return np.vstack([start, end])
    body = _smooth(path[inner])
    if open_end:
        end = _led_on(body, end, mean, region)
    return _even(np.vstack([start, body, end]), 0.25 * mean)


def _smooth(path: FloatArray) -> FloatArray:
    """Return an even path with the steps from triangle to triangle averaged out, its ends kept."""
    reach = min(_SMOOTH, (len(path) - 1) // 2)
    padded = np.pad(path, ((reach, reach), (0, 0)), mode="reflect", reflect_type="odd")
    weight = np.hanning(2 * reach + 3)[1:-1]
    weight /= weight.sum()
    return np.column_stack([np.convolve(padded[:, k], weight, "valid") for k in (0, 1)])


def _led_on(path: FloatArray, end: FloatArray, mean: float, region: shapely.Polygon) -> FloatArray:
    """Return where the line, led on straight from its last points, leaves the region."""
    back = max(2, min(len(path) - 1, 6))
    way = path[-1] - path[-1 - back]
    way = way / max(float(np.linalg.norm(way)), 1e-12)
    reach = 4 * mean + float(np.linalg.norm(end - path[-1]))
    ray = shapely.LineString([path[-1], path[-1] + reach * way])
    inside = shapely.get_parts(region.intersection(ray))
    first = [part for part in inside if part.distance(shapely.Point(path[-1])) < 1e-6]
    if not first or first[0].length == 0:
        return end
    coords = shapely.get_coordinates(first[0])
    exit_: FloatArray = coords[np.argmax(np.sum((coords - path[-1]) ** 2, axis=1))]
    # A line that leaves through a side, not the tip, falls far short of it.
    short = float(np.linalg.norm(end - path[-1])) - float(np.linalg.norm(exit_ - path[-1]))
    return end if short > 0.75 * mean else exit_


def _measured(
    path: FloatArray,
    branches: tuple[FloatArray, ...],
    region: shapely.Polygon,
    sides: shapely.Geometry,
    *,
    open_end: bool,
) -> MiddleLine:
    along = _along(path)
    length = float(along[-1])
    widths = 2 * shapely.distance(shapely.points(path), sides)
    total = length + sum(float(_along(branch)[-1]) for branch in branches)
    mean = region.area / max(total, 1e-9)
    typical = float(np.median(widths))
    clubbed = float(widths.max()) > 2 * typical and mean > 1.1 * typical
    # Beyond the middle of the last disc inside, what counts is nearness to the tip, not width.
    beyond = length - along <= widths / 2 + 0.02 * mean if open_end else along > length
    tip = int(np.argmax(beyond)) if beyond.any() else len(along) - 1
    place = int(np.argmin(widths[: tip + 1]))
    return MiddleLine(
        path=path,
        widths=widths,
        branches=branches,
        length=length,
        width=typical if clubbed else mean,
        root_width=float(np.interp(min(0.75 * mean, length / 4), along, widths)),
        tip_width=max(float(widths[tip]), _towards_tip(along, widths, mean)),
        least=float(widths[place]),
        least_at=(float(path[place, 0]), float(path[place, 1])),
    )


def _towards_tip(along: FloatArray, widths: FloatArray, mean: float) -> float:
    """Return the width at the tip as the taper before it has it, whatever shape the tip itself."""
    length = along[-1]
    last = (along >= length - 4 * mean) & (along <= length - mean)
    if last.sum() < 3:
        return 0.0
    slope, start = np.polyfit(along[last], widths[last], 1)
    return float(np.clip(start + slope * length, 0, widths[last].max()))
