"""How many beams may join a set while a place sags all the same: what is left must hold it."""

from collections.abc import Mapping, Sequence

import numpy as np

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.influence import Fold, Influence, Ints

_GIVE = 1e-2
"""How far a node gives, mm/N: nodes close together then push hundredths of a newton, no more."""

_NODES = 7
"""Nodes of a stretch that are held here."""
_BESIDE = 2.5
"""Stretches nearer than this to one that is as long do nothing beside it: mm."""


def still_sagging(
    known: Influence,
    beams: Sequence[Fold],
    places: Sequence[int],
    u: Mapping[int, float],
    point: int,
    limit: float,
) -> tuple[list[int], float]:
    """Add whole stretches to ``beams``, in the order given, while ``point`` sags over ``limit``.

    Returns the stretches that would have held it, each beside all that were added before, and how
    far the point sags on what was added. One elimination, stretch by stretch; a stretch beside a
    longer one (``alike``) goes with it.
    """
    groups = alike(known, u, places)
    factor = _Held(known, point, known.rows(beams))
    held: list[int] = []
    for place, those in groups.items():
        nodes = known.rows([known.whole(place)])
        if not factor.join(nodes[:: len(nodes) // _NODES + 1], limit):
            held += those
    return held, abs(factor.sag)


def alike(known: Influence, u: Mapping[int, float], places: Sequence[int]) -> dict[int, list[int]]:
    """Return the stretches that stand for those beside them, each with those, itself included."""
    groups: dict[int, list[int]] = {}
    for place in places:
        v = known.nodes[place]
        one = next(
            (
                other
                for other in groups
                if abs(u[other] - u[place]) < _BESIDE
                and known.nodes[other][0] - _BESIDE < v[0]
                and v[-1] < known.nodes[other][-1] + _BESIDE
            ),
            place,
        )
        groups.setdefault(one, []).append(place)
    return groups


class _Held:
    """The nodes held so far, as the rows of a Cholesky factor, and how far the point sags.

    The factor keeps its accuracy where what is left is a millionth of what there was.
    """

    def __init__(self, known: Influence, point: int, rows: Ints) -> None:
        self.known, self.point = known, point
        self.rows = rows
        self.lower = np.linalg.cholesky(_firm(known.between[np.ix_(rows, rows)]))
        self.sides = self._solved(self._right(rows))
        self.sag = float(known.all_sunk[point] - self.sides[:, 0] @ self.sides[:, 1])

    def join(self, nodes: Ints, limit: float) -> bool:
        """Hold ``nodes``, too, if the point sags over ``limit`` all the same, and return that."""
        across = self._solved(self.known.between[np.ix_(self.rows, nodes)])
        own = _firm(self.known.between[np.ix_(nodes, nodes)]) - across.T @ across
        lower = np.linalg.cholesky(own)
        right = np.linalg.solve(lower, self._right(nodes) - across.T @ self.sides)
        sag = self.sag - float(right[:, 0] @ right[:, 1])
        if abs(sag) <= limit:
            return False
        self.sag, self.rows = sag, np.concatenate([self.rows, nodes])
        corner = np.zeros((len(self.lower), len(nodes)))
        self.lower = np.block([[self.lower, corner], [across.T, lower]])
        self.sides = np.concatenate([self.sides, right])
        return True

    def _right(self, nodes: Ints) -> FloatArray:
        """Return the sag of ``nodes`` (n,) and how they act on the point, as columns."""
        known = self.known
        return np.stack([known.sunk[nodes], known.everywhere[self.point, nodes]], axis=1)

    def _solved(self, right: FloatArray) -> FloatArray:
        from scipy.linalg import solve_triangular

        solved: FloatArray = solve_triangular(self.lower, right, lower=True, check_finite=False)
        return solved


def _firm(between: FloatArray) -> FloatArray:
    return between + np.eye(len(between)) * _GIVE
