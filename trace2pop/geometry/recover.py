"""Beziers kept through polygon operations: what was not touched comes back as it was."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import sound
from trace2pop.geometry.edge_curves import edge_curves, ring_curves
from trace2pop.geometry.edges import Edges, rings_of
from trace2pop.model.outline import Contour, FloatArray, Outline

_ON = 1e-6
"""mm from a flattened edge within which a point counts as lying on it."""

_END = 1e-7
"""Parts of a segment shorter than this share of it are dropped."""

_PLAIN = 0.004
"""mm a new edge of many points may be off when it is written with fewer."""


@dataclass(frozen=True, eq=False)
class Flat:
    """An outline flattened: ``rings`` (n, 2), and of each point its segment's number plus t."""

    outline: Outline
    rings: tuple[FloatArray, ...]
    places: tuple[FloatArray, ...]

    @property
    def polygon(self) -> shapely.Polygon:
        """The flattened shape; its largest piece where it crosses itself."""
        shape = shapely.Polygon(self.rings[0], self.rings[1:])
        return shape if shape.is_valid else beziers.largest(shapely.make_valid(shape))


def flat(outline: Outline, tolerance: float = beziers.FLATTEN) -> Flat:
    """Return ``outline`` flattened within ``tolerance``, finer where chords would cross."""
    for finer in beziers.FINER:
        found = flat_chains(outline, tolerance / finer)
        if shapely.Polygon(found.rings[0], found.rings[1:]).is_valid:
            break
    return found


def flat_chains(outline: Outline, tolerance: float = beziers.FLATTEN) -> Flat:
    """Return an outline flattened within ``tolerance`` whose chains may cross each other."""
    rings, places = [], []
    for chain in (outline.outer, *outline.holes):
        owner, t = beziers.sampling(chain, tolerance)
        rings.append(beziers.evaluate(chain[owner], t))
        places.append(owner + t)
    return Flat(outline, tuple(rings), tuple(places))


def split(segment: FloatArray, t0: float, t1: float) -> FloatArray:
    """Return the part of a cubic (4, 2) from ``t0`` to ``t1``, by de Casteljau's construction."""
    if t0 <= 0 and t1 >= 1:
        return segment
    right = _left(segment[::-1], 1 - t0)[::-1] if t0 > 0 else segment
    return _left(right, (t1 - t0) / (1 - t0)) if t1 < 1 else right


def _left(p: FloatArray, t: float) -> FloatArray:
    first = p[:-1] + t * (p[1:] - p[:-1])
    second = first[:-1] + t * (first[1:] - first[:-1])
    return np.array([p[0], first[0], second[0], second[0] + t * (second[1] - second[0])])


def recovered(source: Flat, shape: shapely.Polygon) -> Outline:
    """Return ``shape`` as an outline that runs on the source's own Beziers wherever it can.

    ``shape`` comes from ``source.polygon`` by polygon operations. Runs of its edges that lie on
    the source's edges become the source's segments, split where the run ends between two; all
    others become straight segments, and a single new edge between two kept runs a smooth one
    where it continues both.
    """
    edges = Edges(source.rings)
    rings = [_Ring(source, edges, ring) for ring in rings_of(shape)]
    pieces = [ring.pieces() for ring in rings]
    outline = _outline(pieces, curved=True)
    if any(piece.ndim == 2 and len(piece) > 2 for ring in pieces for piece in ring):
        # Where two new edges all but meet, curves might cross that the points don't.
        return outline if sound(outline) else _outline(pieces, curved=False)
    return outline


def _outline(pieces: list[list[Contour | FloatArray]], *, curved: bool) -> Outline:
    chains = [_joined(ring, curved=curved) for ring in pieces]
    return Outline(chains[0], tuple(chains[1:]))


class _Ring:
    """One ring of the new shape, its points found on the old rings."""

    def __init__(self, source: Flat, edges: Edges, points: FloatArray) -> None:
        self.source, self.points = source, points
        self.ring, self.place, distance = edges.locate(points)
        on = distance <= _ON
        self.steps = self._steps(on)
        backwards = np.sum(self.steps < 0) > np.sum(self.steps > 0)
        if backwards:
            self.points = points[::-1]
            self.ring, self.place = self.ring[::-1], self.place[::-1]
            self.steps = self._steps(on[::-1])

    def _steps(self, on: NDArray[np.bool_]) -> FloatArray:
        """Return how far each edge runs along an old ring, 0 where it runs on none."""
        after = np.roll(self.place, -1)
        counts = np.array([len(ring) for ring in self.source.rings])[self.ring]
        ahead = (after - self.place + counts / 2) % counts - counts / 2
        low = np.where(ahead >= 0, self.place, after)
        one_edge = np.abs(ahead) <= 1 - (low - np.floor(low + 1e-9)) + 1e-9
        same = (self.ring == np.roll(self.ring, -1)) & on & np.roll(on, -1)
        return np.where(same & one_edge, ahead, 0.0)

    def pieces(self) -> list[Contour | FloatArray]:
        """Return the ring in pieces: kept runs as chains, and new edges (n, 2) between them."""
        count = len(self.points)
        kept = self.steps > 0
        if kept.all() and len(set(self.ring)) == 1:
            return [self._whole()]
        start = int(np.flatnonzero(~kept)[0]) if not kept.all() else 0
        order = (start + np.arange(count)) % count
        groups = np.split(order, np.flatnonzero(np.diff(kept[order].astype(int))) + 1)
        pieces: list[Contour | FloatArray] = []
        for group in groups:
            if kept[group[0]]:
                pieces.append(self._kept(group))
            else:
                pieces.append(self.points[np.append(group, (group[-1] + 1) % count)])
        return pieces

    def _whole(self) -> Contour:
        return self._chain(int(self.ring[0]))

    def _chain(self, number: int) -> Contour:
        outline = self.source.outline
        return outline.holes[number - 1] if number else outline.outer

    def _kept(self, group: NDArray[np.int64]) -> Contour:
        """Return the old segments under a run of edges."""
        number = int(self.ring[group[0]])
        chain = self._chain(number)
        begin = self._parameter(number, float(self.place[group[0]]))
        end = self._parameter(number, float(self.place[(group[-1] + 1) % len(self.points)]))
        if end <= begin:
            end += len(chain)
        parts = []
        for index in range(int(begin), int(np.ceil(end))):
            t0, t1 = max(begin - index, 0.0), min(end - index, 1.0)
            if t1 - t0 > _END:
                parts.append(split(chain[index % len(chain)], _tidy(t0), _tidy(t1)))
        return np.array(parts).reshape(-1, 4, 2)

    def _parameter(self, number: int, place: float) -> float:
        """Return segment number plus t of a place on a flattened ring."""
        places = self.source.places[number]
        index = int(place)
        low = float(places[index])
        high = float(np.floor(low) + 1)
        if index + 1 < len(places) and places[index + 1] < high:
            high = float(places[index + 1])
        return low + (place - index) * (high - low)


def _tidy(t: float) -> float:
    return 0.0 if t < _END else 1.0 if t > 1 - _END else t


def _joined(pieces: list[Contour | FloatArray], *, curved: bool) -> Contour:
    """Return kept chains (n, 4, 2) and new lines (n, 2) as one closed chain.

    Lines of many points become curves, or the fewest straight pieces. New lines take the exact
    ends of their neighbours.
    """
    if len(pieces) == 1 and pieces[0].ndim == 3:
        return pieces[0]
    if len(pieces) == 1 and curved and len(pieces[0]) > 3:
        return ring_curves(pieces[0][:-1], _PLAIN)
    chains = []
    for k, piece in enumerate(pieces):
        if piece.ndim == 3:
            chains.append(piece)
            continue
        line = piece.copy()
        before, after = pieces[k - 1], pieces[(k + 1) % len(pieces)]
        if before.ndim == 3 and len(before):
            line[0] = before[-1, 3]
        if after.ndim == 3 and len(after):
            line[-1] = after[0, 0]
        if len(line) > 2 and not curved:
            line = np.asarray(shapely.LineString(line).simplify(_PLAIN).coords)
            keep = np.append(True, np.linalg.norm(np.diff(line, axis=0), axis=1) > _ON)
            keep[-1] = True
            chains.append(beziers.straight(line[keep], closed=False))
        elif len(line) > 2:
            into = _way(before[-1][::-1], -1.0) if before.ndim == 3 and len(before) else None
            out = _way(after[0], 1.0) if after.ndim == 3 and len(after) else None
            chains.append(edge_curves(line, _PLAIN, into, out))
        else:
            chains.append(beziers.straight(line, closed=False))
    result: Contour = np.concatenate([chain for chain in chains if len(chain)])
    gaps = result[:, 3] - np.roll(result[:, 0], -1, axis=0)
    if np.abs(gaps).max() > 0:
        result = result.copy()
        result[:, 3] = np.roll(result[:, 0], -1, axis=0)
    return result


def _way(segment: FloatArray, sense: float) -> FloatArray | None:
    """Return the unit direction in which a segment (4, 2) sets out, times ``sense``."""
    for point in segment[1:]:
        step = point - segment[0]
        size = float(np.hypot(*step))
        if size > _ON:
            result: FloatArray = sense * step / size
            return result
    return None
