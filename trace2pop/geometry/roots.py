"""Straight cuts across the roots of features, from inner corner to inner corner where there are."""

import numpy as np
import shapely

from trace2pop.geometry.edges import Edges, rings_of
from trace2pop.geometry.residue import Contact
from trace2pop.model.outline import FloatArray

_REACH = 2.0
"""An inner corner is looked for within this many root widths along the outline: it lies there
where a feature leaves its body at 27 degrees or more."""

_SLANT = 2.4
"""A cut is at most this many times as long as the contact it replaces."""

_TURN_DEG = 25.0


class OutlineCuts:
    """Finds cuts that end on a shape's outline."""

    def __init__(self, shape: shapely.Polygon) -> None:
        self._shape = shape
        self._edges = Edges(rings_of(shape))
        # Walking a ring forwards, paper lies to the left of it where this is 1.
        self._sense = [
            1 if shapely.is_ccw(shapely.LinearRing(ring)) == (number == 0) else -1
            for number, ring in enumerate(self._edges.rings)
        ]
        shapely.prepare(shape)

    def across(self, contact: Contact) -> FloatArray:
        """Return the line (n, 2) along which to cut off a feature that touches a core there.

        It is straight. Each end goes on along the outline to the inner corner at the feature's
        root where there is one nearby, so that no stump is left; where no straight line can be,
        the contact itself serves.
        """
        ends = contact.line[[0, -1]]
        root = float(np.linalg.norm(ends[1] - ends[0]))
        corners = [
            self._corner(end, beside - end, _REACH * root)
            for end, beside in zip(ends, contact.beside, strict=True)
        ]
        for first, second in (corners, (corners[0], ends[1]), (ends[0], corners[1]), ends):
            chord = np.array([first, second])
            if 0 < np.linalg.norm(second - first) <= _SLANT * root and self._inside(chord):
                return chord
        return contact.line

    def _inside(self, chord: FloatArray) -> bool:
        drawn_in = chord + 1e-6 * (chord[::-1] - chord)
        return bool(self._shape.covers(shapely.LineString(drawn_in)))

    def _corner(self, end: FloatArray, into: FloatArray, reach: float) -> FloatArray:
        """Return the inner corner that follows ``end`` on the outline, away from the feature.

        ``into`` leads along the outline into the feature. A rounded corner counts where its curve
        ends. Without one, ``end`` is returned.
        """
        (number,), (place,), _ = self._edges.locate(end[None])
        ring = self._edges.rings[number]
        index = int(place) % len(ring)
        edge = ring[(index + 1) % len(ring)] - ring[index]
        step = -1 if float(edge @ into) > 0 else 1
        first = index if step < 0 else index + 1
        count = min(len(ring), 400)
        walk = ring[(first + step * np.arange(count)) % len(ring)]
        way = np.diff(np.vstack([end, walk]), axis=0)
        length = np.linalg.norm(way, axis=1)
        near = np.cumsum(length) <= reach
        if not near.any():
            return end
        last = int(np.argmin(near)) if not near.all() else count - 1
        way = way[(length > 1e-9)[: len(way)]][: last + 1]
        walk = walk[length > 1e-9][: len(way) - 1]
        if len(way) < 2:
            return end
        cross = way[:-1, 0] * way[1:, 1] - way[:-1, 1] * way[1:, 0]
        turns = np.degrees(np.arctan2(cross, np.sum(way[:-1] * way[1:], axis=1)))
        inwards = -turns * step * self._sense[number]
        total = np.cumsum(inwards)
        most = float(total.max())
        if most < _TURN_DEG:
            return end
        corner: FloatArray = walk[int(np.argmax(total >= 0.95 * most))]
        return corner
