"""How many beams may join a set while a place sags all the same: what is left must hold it."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.influence import Fold, Influence, Ints

_GIVE = 1e-2
"""How far a node gives, mm/N: nodes close together then push hundredths of a newton, no more."""

_NODES = 7
"""Nodes of a stretch that are held here."""
_BESIDE = 2.5
"""Stretches nearer than this to one that is as long do nothing beside it: mm."""
_AT_ONCE = 24
"""Stretches eliminated together."""

Bools = NDArray[np.bool_]


def still_sagging(
    known: Influence,
    beams: Sequence[Fold],
    places: Sequence[int],
    beside: Bools,
    point: int,
    limit: float,
) -> tuple[list[int], float]:
    """Add whole stretches to ``beams``, in the order given, while ``point`` sags over ``limit``.

    Returns the stretches that would have held it, each beside all that were added before, and how
    far the point sags on what was added. One elimination; a stretch ``beside`` a longer one goes
    with it (``alike``).
    """
    groups = alike(beside, places)
    heads = list(groups)
    factor = _Held(known, point, known.rows(beams))
    held: list[int] = []
    for first in range(0, len(heads), _AT_ONCE):
        some = heads[first : first + _AT_ONCE]
        joined = factor.join([_thinned(known.rows([known.whole(place)])) for place in some], limit)
        held += [
            place
            for head, more in zip(some, joined, strict=True)
            if not more
            for place in groups[head]
        ]
    return held, abs(factor.sag)


def beside(known: Influence, u: Mapping[int, float]) -> Bools:
    """Return (n, n), over all stretches: whether the first may stand for the second beside it."""
    own = np.array([u.get(place, np.inf) for place in range(len(known.nodes))])
    first = np.array([v[0] for v in known.nodes])
    last = np.array([v[-1] for v in known.nodes])
    with np.errstate(invalid="ignore"):
        near = np.abs(own[:, None] - own) < _BESIDE
    result: Bools = near & (first[:, None] - _BESIDE < first) & (last < last[:, None] + _BESIDE)
    return result


def alike(beside: Bools, places: Sequence[int]) -> dict[int, list[int]]:
    """Return the stretches that stand for those beside them, each with those, itself included."""
    groups: dict[int, list[int]] = {}
    for place in places:
        found = beside[list(groups), place]
        one = list(groups)[int(found.argmax())] if found.any() else place
        groups.setdefault(one, []).append(place)
    return groups


def _thinned(nodes: Ints) -> Ints:
    return nodes[:: len(nodes) // _NODES + 1]


class _Held:
    """The nodes held so far, as the rows of a Cholesky factor, and how far the point sags.

    The factor keeps its accuracy where what is left is a millionth of what there was.
    """

    def __init__(self, known: Influence, point: int, rows: Ints) -> None:
        self.known, self.point = known, point
        self.rows = rows
        self.lower = _factor(_firm(known.between[rows[:, None], rows]))
        self.sides = _solved(self.lower, self._right(rows))
        self.sag = float(known.all_sunk[point] - self.sides[:, 0] @ self.sides[:, 1])

    def join(self, groups: Sequence[Ints], limit: float) -> Bools:
        """Hold each group of nodes, too, one by one, if the point sags over ``limit`` all the same.

        Returns which were held.
        """
        nodes = np.concatenate(groups)
        across = _solved(self.lower, self.known.between[self.rows[:, None], nodes])
        own = _firm(self.known.between[nodes[:, None], nodes]) - across.T @ across
        right = self._right(nodes) - across.T @ self.sides
        joined = self._joined(own, right, np.array([len(group) for group in groups]), limit)
        if not joined.any():
            return joined
        on = np.repeat(joined, [len(group) for group in groups])
        lower = _factor(own[on][:, on])
        corner = np.zeros((len(self.lower), len(lower)))
        self.lower = np.block([[self.lower, corner], [across[:, on].T, lower]])
        self.sides = np.concatenate([self.sides, _solved(lower, right[on])])
        self.rows = np.concatenate([self.rows, nodes[on]])
        return joined

    def _joined(self, own: FloatArray, right: FloatArray, counts: Ints, limit: float) -> Bools:
        """Return which groups of ``counts`` nodes are held, and take the sag on them."""
        joined = np.zeros(len(counts), dtype=bool)
        left = np.arange(len(counts))
        while len(left):
            lower = _factor(own)
            sides = _solved(lower, right)
            stops = np.cumsum(counts[left])
            sag = self.sag - np.cumsum(sides[:, 0] * sides[:, 1])[stops - 1]
            holds = np.append(np.abs(sag) <= limit, True)
            run = int(holds.argmax())
            joined[left[:run]] = True
            if run:
                self.sag = float(sag[run - 1])
            if run == len(left):
                break
            # The one that would hold the point goes; the others stay, beside all held so far.
            start, after = stops[run] - counts[left[run]], stops[run]
            rest = lower[after:, start:]
            own, right, left = rest @ rest.T, rest @ sides[start:], left[run + 1 :]
        return joined

    def _right(self, nodes: Ints) -> FloatArray:
        """Return the sag of ``nodes`` (n,) and how they act on the point, as columns."""
        known = self.known
        return np.stack([known.sunk[nodes], known.everywhere[self.point, nodes]], axis=1)


def _firm(between: FloatArray) -> FloatArray:
    return between + np.eye(len(between)) * _GIVE


def _factor(matrix: FloatArray) -> FloatArray:
    lower: FloatArray = np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)
    return lower


def _solved(lower: FloatArray, right: FloatArray) -> FloatArray:
    from scipy.linalg.lapack import dtrtrs

    solved: FloatArray = dtrtrs(lower, right, lower=1)[0]
    return solved
