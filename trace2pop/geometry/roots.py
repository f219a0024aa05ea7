"""Straight cuts across the roots of features, from inner corner to inner corner where there are."""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.geometry.edges import Edges, rings_of
from trace2pop.geometry.residue import Contact
from trace2pop.model.outline import FloatArray

_REACH = 2.0
"""An inner corner is looked for within this many root widths along the outline: it lies there
where a feature leaves its body at 27 degrees or more."""

_BOTH = 0.6
"""In root widths: both ends go on by more than this only where a wide spur tapers."""

_SLANT = 2.4
"""A cut is at most this many times as long as the contact it replaces."""

_TURN_DEG = 25.0
_STILL_DEG = 4.0
_STRAIGHT = 0.15
"""An inner corner turns by the first, and by less than the second over this share of the reach."""

_SAME = 1e-9


class OutlineCuts:
    """Finds the lines along which features are cut off a shape, one for each of ``contacts``."""

    def __init__(self, shape: shapely.Polygon, contacts: Sequence[Contact]) -> None:
        self._shape, self._contacts = shape, contacts
        self._edges = Edges(rings_of(shape))
        # Walking a ring forwards, paper lies to the left of it where this is 1.
        self._sense = [
            1 if shapely.is_ccw(shapely.LinearRing(ring)) == (number == 0) else -1
            for number, ring in enumerate(self._edges.rings)
        ]
        self._ends = np.array([contact.line[[0, -1]] for contact in contacts]).reshape(-1, 2)
        self._on, self._place, _ = self._edges.locate(self._ends)
        shapely.prepare(shape)

    def cuts(self) -> list[FloatArray]:
        """Return the lines (n, 2).

        They are straight. Each end goes on along the outline to the inner corner at the feature's
        root where there is one nearby, so that no stump is left; where no straight line can be,
        the contact itself serves.
        """
        lines = []
        for number in range(len(self._contacts)):
            line = self._across(number)
            # The next search stops where this cut ends now, so that cuts never cross.
            own = slice(2 * number, 2 * number + 2)
            self._ends[own] = line[[0, -1]]
            self._on[own], self._place[own], _ = self._edges.locate(line[[0, -1]])
            lines.append(line)
        return lines

    def _across(self, number: int) -> FloatArray:
        contact = self._contacts[number]
        ends = contact.line[[0, -1]]
        root = float(np.linalg.norm(ends[1] - ends[0]))
        corners = [self._corner(2 * number + k, contact.beside[k], _REACH * root) for k in (0, 1)]
        moved = [float(np.linalg.norm(new - old)) for new, old in zip(corners, ends, strict=True)]
        if min(moved) > _BOTH * root:
            corners = [*ends]
        for first, second in (corners, (corners[0], ends[1]), (ends[0], corners[1]), ends):
            chord = np.array([first, second])
            if _SAME < np.linalg.norm(second - first) <= _SLANT * root and self._inside(chord):
                return chord
        return contact.line

    def _inside(self, chord: FloatArray) -> bool:
        drawn_in = chord + 1e-6 * (chord[::-1] - chord)
        return bool(shapely.contains_properly(self._shape, shapely.LineString(drawn_in)))

    def _corner(self, number: int, beside: FloatArray, reach: float) -> FloatArray:
        """Return the inner corner that follows a cut's end on the outline, away from the feature.

        ``beside`` is the next point into the feature. A rounded corner counts where its curve
        ends. The next feature's end stops the search. Without a corner, the end is returned.
        """
        end: FloatArray = self._ends[number]
        step, walk = self._walk(number, beside - end, reach)
        way = np.diff(np.vstack([end, walk]), axis=0)
        if len(way) < 2:
            return end
        cross = way[:-1, 0] * way[1:, 1] - way[:-1, 1] * way[1:, 0]
        turns = np.degrees(np.arctan2(cross, np.sum(way[:-1] * way[1:], axis=1)))
        inwards = np.cumsum(-turns * step * self._sense[self._on[number]])
        gone = np.cumsum(np.linalg.norm(way, axis=1))[:-1]
        for k in np.flatnonzero(inwards >= _TURN_DEG):
            soon = gone <= gone[k] + _STRAIGHT * reach
            if inwards[soon].max() - inwards[k] < _STILL_DEG:
                corner: FloatArray = walk[k]
                return corner
        return end

    def _walk(self, number: int, into: FloatArray, reach: float) -> tuple[int, FloatArray]:
        """Return the sense, and the outline's points from an end on, away from ``into``.

        The last point lies just beyond ``reach``, or is the next feature's end.
        """
        ring_number, place, end = self._on[number], float(self._place[number]), self._ends[number]
        ring = self._edges.rings[ring_number]
        count = len(ring)
        edge = ring[(int(place) + 1) % count] - ring[int(place) % count]
        step = -1 if float(edge @ into) > 0 else 1
        same = self._on == ring_number
        ahead = (step * (self._place[same] - place)) % count
        ahead[ahead <= _SAME] = count
        stop = float(ahead.min())
        points, gone, here = [], 0.0, end
        index = int(np.floor(place + _SAME)) + 1 if step > 0 else int(np.ceil(place - _SAME)) - 1
        while gone < reach and step * (index - place) < stop - _SAME:
            point = ring[index % count]
            gone += float(np.hypot(*(point - here)))
            points.append(point)
            here, index = point, index + step
        if gone < reach and stop < count:
            points.append(self._ends[same][int(np.argmin(ahead))])
        return step, np.array(points).reshape(-1, 2)
