"""Ends of the motif that no beam has room to hold: they stand out free, whatever is chosen."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.card import FreeEnd
from trace2pop.model.outline import FloatArray

_ROOT = 0.5
"""A free end begins where it sags this share of the limit: nearer the beams, it is held by them."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Ends:
    """Free ends: the number (n,) of the one that each of ``points`` (n, 2) belongs to, or -1."""

    points: FloatArray
    number: Ints

    @cached_property
    def count(self) -> int:
        """How many there are."""
        return int(self.number.max(initial=-1)) + 1

    def at(self, places: FloatArray) -> Ints:
        """Return the number (k,) of the free end at each of ``places`` (k, 2), -1 for none."""
        from scipy.spatial import cKDTree

        if not self.count:
            return np.full(len(places), -1)
        found: Ints = self.number[cKDTree(self.points).query(places)[1]]
        return found

    def joined(self, others: "Ends") -> "Ends":
        """Return these ends and ``others`` on the points of those; where they meet, as one."""
        own = self.at(others.points)
        number = np.where(
            own >= 0, own, np.where(others.number >= 0, others.number + self.count, -1)
        )
        for end in range(others.count):
            met = own[(others.number == end) & (own >= 0)]
            if len(met):
                number[number == end + self.count] = met[0]
        return Ends(others.points, number)

    def sags(self, points: FloatArray, depth: FloatArray) -> tuple[FreeEnd, ...]:
        """Return each end's largest sag of ``depth`` (n,) at ``points`` (n, 2), worst first."""
        own, sag = self.at(points), np.abs(depth)
        found = []
        for number in range(self.count):
            on = np.flatnonzero(own == number)
            if len(on):
                worst = on[int(np.argmax(sag[on]))]
                u, v = points[worst]
                found.append(FreeEnd((float(u), float(v)), float(sag[worst])))
        return tuple(sorted(found, key=lambda end: -end.sag))


NO_ENDS = Ends(np.zeros((0, 2)), np.zeros(0, dtype=np.int64))


def free_ends(points: FloatArray, triangles: Ints, depth: FloatArray, limit: float) -> Ends:
    """Return the ends that sag past ``limit`` with beams everywhere: ``depth`` (n,) on a net."""
    import scipy.sparse as sp
    from scipy.sparse.csgraph import connected_components

    sag = np.abs(depth)
    far = sag > _ROOT * limit
    edges = _edges(triangles)
    edges = edges[far[edges].all(axis=1)]
    near = sp.coo_array((np.ones(len(edges)), edges.T), shape=(len(points), len(points)))
    _, labels = connected_components(near, directed=False)
    kept = [int(k) for k in np.unique(labels[far]) if sag[labels == k].max() > limit]
    number = np.full(len(points), -1)
    for k, label in enumerate(kept):
        number[labels == label] = k
    return Ends(points, number)


def _edges(triangles: Sequence[Sequence[int]] | Ints) -> Ints:
    rows = np.asarray(triangles)
    pairs: Ints = np.concatenate([rows[:, [0, 1]], rows[:, [1, 2]], rows[:, [2, 0]]])
    return pairs
