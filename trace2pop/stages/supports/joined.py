"""How many beams may join a set while a place sags all the same: what is left must hold it."""

from collections.abc import Mapping, Sequence

import numpy as np

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.influence import Fold, Influence

_GIVE = 1e-2
"""How far a node gives, mm/N: nodes close together then push hundredths of a newton, no more."""

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
    rows = known.rows(beams)
    groups = alike(known, u, places)
    places = list(groups)
    spans = [known.rows([known.whole(place)]) for place in places]
    own = np.concatenate([rows, *spans])
    ends = [0, *map(int, np.cumsum([len(rows), *(len(span) for span in spans)]))]
    between = known.between[np.ix_(own, own)] + np.eye(len(own)) * _GIVE
    right = np.stack([known.sunk[own], known.everywhere[point, own]], axis=1)
    sag = float(known.all_sunk[point])
    sag -= _held(between, right, slice(0, ends[1]))
    held: list[int] = []
    for number, place in enumerate(places):
        span = slice(ends[number + 1], ends[number + 2])
        if abs(sag - _taken(between, right, span)) <= limit:
            held += groups[place]
        else:
            sag -= _held(between, right, span)
    return held, abs(sag)


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


def _taken(between: FloatArray, right: FloatArray, own: slice) -> float:
    """Return what holding the nodes ``own`` takes off the sag."""
    return float(np.linalg.solve(between[own, own], right[own, 0]) @ right[own, 1])


def _held(between: FloatArray, right: FloatArray, own: slice) -> float:
    """Hold the nodes ``own``: those behind them are left as they are then. Return the same.

    By Cholesky, which keeps what is left positive definite: it is a millionth of what was there.
    """
    from scipy.linalg import solve_triangular

    rest = slice(own.stop, None)
    lower = np.linalg.cholesky(between[own, own])
    sides = np.column_stack([between[own, rest], right[own]])
    across = solve_triangular(lower, sides, lower=True, check_finite=False)
    behind, ahead = across[:, :-2], across[:, -2:]
    between[rest, rest] -= behind.T @ behind
    right[rest] -= behind.T @ ahead
    return float(ahead[:, 0] @ ahead[:, 1])
