"""The edges of a polygon's rings, searchable: where points lie on them, and cuts across."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray

_SAME = 1e-9
"""mm below which two places of a ring are one."""


def rings_of(shape: shapely.Polygon) -> list[FloatArray]:
    """Return the outer ring and the holes, (n, 2) each, the first point not repeated."""
    return [
        np.asarray(ring.coords, dtype=float)[:-1, :2] for ring in (shape.exterior, *shape.interiors)
    ]


class Edges:
    """The edges of closed ``rings``. A place on a ring is the edge's number plus a fraction."""

    def __init__(self, rings: Sequence[FloatArray]) -> None:
        self.rings = rings
        self._first = np.cumsum([0, *(len(ring) for ring in rings)])
        self._starts = np.concatenate(rings)
        self._steps = np.concatenate(
            [part for ring in rings for part in (np.diff(ring, axis=0), ring[:1] - ring[-1:])]
        )
        ends = self._starts + self._steps
        self._tree = shapely.STRtree(shapely.linestrings(np.stack([self._starts, ends], axis=1)))

    def locate(self, points: FloatArray) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
        """Return (ring number, place on the ring, distance) of the nearest edges, (n,) each."""
        if not len(points):
            return np.empty(0, np.int64), np.empty(0), np.empty(0)
        query, edge = self._tree.query_nearest(shapely.points(points), all_matches=False)
        edge = edge[np.argsort(query)]
        start, step = self._starts[edge], self._steps[edge]
        square = np.maximum(np.sum(step * step, axis=1), 1e-300)
        fraction = np.clip(np.sum((points - start) * step, axis=1) / square, 0, 1)
        distance = np.linalg.norm(start + fraction[:, None] * step - points, axis=1)
        ring = np.searchsorted(self._first, edge, side="right") - 1
        place = edge - self._first[ring] + fraction
        place = np.where(np.abs(place - np.rint(place)) < _SAME, np.rint(place), place)
        return ring, place % np.diff(self._first)[ring], distance


def divided(shape: shapely.Polygon, cuts: Sequence[FloatArray]) -> list[shapely.Polygon]:
    """Return the pieces into which ``cuts`` divide ``shape``.

    Each cut is a line (n, 2) that runs inside ``shape`` from edge to edge; cuts don't cross each
    other. Points that were there before are kept exactly.
    """
    if not cuts:
        return [shape]
    edges = Edges(rings_of(shape))
    ends = np.array([point for cut in cuts for point in (cut[0], cut[-1])])
    on_ring, place, _ = edges.locate(ends)
    lines = [shapely.LineString(cut) for cut in cuts]
    whole = []
    for number, ring in enumerate(edges.rings):
        own = on_ring == number
        if own.any():
            lines += _runs(ring, place[own], ends[own])
        elif number == 0:
            lines.append(shapely.LinearRing(ring))
        else:
            whole.append(ring)
    faces = [_with_holes(face, whole) for face in shapely.get_parts(shapely.polygonize(lines))]
    if len(edges.rings) == 1:
        return faces
    # A hole that a cut reaches comes out as a face of its own.
    shapely.prepare(shape)
    return [face for face in faces if shapely.contains_xy(shape, *_inner_point(face))]


def _inner_point(face: shapely.Polygon) -> tuple[float, float]:
    point = face.representative_point()
    return float(point.x), float(point.y)


def _runs(ring: FloatArray, place: FloatArray, ends: FloatArray) -> list[shapely.LineString]:
    """Return a ring in pieces from cut end to cut end, as lines."""
    order = np.argsort(place)
    place, ends = place[order], ends[order]
    runs = []
    for k in range(len(place)):
        after = (k + 1) % len(place)
        first = int(np.floor(place[k] + _SAME)) + 1
        last = int(np.ceil(place[after] - _SAME)) - 1
        if after <= k:
            last += len(ring)
        inner = ring[np.arange(first, last + 1) % len(ring)]
        run = np.vstack([ends[k], inner, ends[after]])
        if len(inner) or not np.array_equal(ends[k], ends[after]):
            runs.append(shapely.LineString(run))
    return runs


def _with_holes(face: shapely.Polygon, holes: Sequence[FloatArray]) -> shapely.Polygon:
    inside = [hole for hole in holes if shapely.contains_xy(face, *hole[0])]
    return shapely.Polygon(face.exterior, [*face.interiors, *inside]) if inside else face
