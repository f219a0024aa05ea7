"""Every fold line to choose from, and where two of them meet."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trace2pop.limits import FLANGE_GAP, SLIT_APART
from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.influence import Fold, Influence
from trace2pop.stages.supports.places import Stretch

BEAM = 1000.0
"""What a beam costs in mm of fold line: more than all lengths together, so fewest come first."""
_CALM = 1e-3
"""What a fold line's distance from the middle costs: it decides between equal lengths only."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Candidates:
    """Every fold line to choose from. Arrays (n,) but ``folds``; ``at`` holds their numbers.

    ``counts`` is 2 for a beam that stands for itself and its mirror image. ``longest`` marks
    the fold lines that no other on their stretch contains. ``share`` is the most that fold lines on
    one line of the base may sum to.
    """

    folds: tuple[Fold, ...]
    at: tuple[Ints, Ints, Ints]
    u: FloatArray
    v0: FloatArray
    v1: FloatArray
    flange: FloatArray
    counts: FloatArray
    costs: FloatArray
    longest: NDArray[np.bool_]
    share: float

    @property
    def place(self) -> Ints:
        """The stretch (n,) each stands on."""
        return self.at[0]

    def cost(self, members: Sequence[int]) -> float:
        """Return the cost of a set."""
        return float(self.costs[list(members)].sum())

    def chosen(self, members: Sequence[int]) -> list[Fold]:
        """Return the fold lines of a set."""
        return [self.folds[index] for index in members]

    def meeting(self, one: int, other: int) -> tuple[float, float] | None:
        """Return a place (u, v) that two beams both cover, gaps included; None if they don't."""
        gap, apart = FLANGE_GAP.value, SLIT_APART.value
        u, flange = self.u[[one, other]], self.flange[[one, other]] + gap / 2
        left, right = float((u - flange).max()), float((u + flange).min())
        low = float(self.v0[[one, other]].max())
        high = float(self.v1[[one, other]].min())
        if left >= right - 1e-9 or low - high >= apart - 1e-9:
            return None
        return (left + right) / 2, (low + high) / 2

    def over(self, u: float, v: float) -> Ints:
        """Return the candidates that cover a place, half of the gap to the next one included."""
        aside = np.abs(self.u - u) < self.flange + FLANGE_GAP.value / 2
        pad = SLIT_APART.value / 2
        return np.flatnonzero(aside & (self.v0 - pad < v) & (v < self.v1 + pad))

    def crowded(self, members: Sequence[int]) -> list[float]:
        """Return the lines whose fold lines sum to more than their share."""
        lines: dict[float, list[float]] = {}
        for index in members:
            lines.setdefault(float(self.u[index]), []).append(
                float(self.v1[index] - self.v0[index])
            )
        return [u for u, own in lines.items() if len(own) > 1 and sum(own) > self.share + 1e-9]

    def apart(self, members: Sequence[int]) -> bool:
        """Whether no two of a set meet and no line is crowded."""
        return not self.crowded(members) and all(
            self.meeting(one, other) is None
            for number, one in enumerate(members)
            for other in members[number + 1 :]
        )


def candidates(
    places: Sequence[Stretch], known: Influence, middle: float, share: float, *, mirrored: bool
) -> Candidates:
    """Return every fold line between two nodes of a stretch, long and short enough.

    A fold line that a wider flange could take is left to it. ``middle`` is the v beams are calmest
    about; ``share`` the most that fold lines on one line may sum to.
    """
    folds: list[Fold] = []
    for number, (place, nodes) in enumerate(zip(places, known.nodes, strict=True)):
        wider = [other for other in places if other.u == place.u and other.flange > place.flange]
        for first in range(len(nodes)):
            for last in range(first + 1, len(nodes)):
                v0, v1 = nodes[first], nodes[last]
                fits = place.least - 1e-9 <= v1 - v0 <= place.most + 1e-9
                if fits and not any(w.v0 <= v0 + 1e-9 and v1 <= w.v1 + 1e-9 for w in wider):
                    folds.append(Fold(number, first, last))
    own, first_node, last_node = np.array(
        [(fold.place, fold.first, fold.last) for fold in folds], dtype=np.int64
    ).T
    u = np.array([place.u for place in places])[own]
    flange = np.array([place.flange for place in places])[own]
    v0 = np.array([known.nodes[fold.place][fold.first] for fold in folds])
    v1 = np.array([known.nodes[fold.place][fold.last] for fold in folds])
    counts = np.where((u > 0) & mirrored, 2.0, 1.0)
    costs = counts * (BEAM + (v1 - v0) + _CALM * np.abs((v0 + v1) / 2 - middle))
    at = (own, first_node, last_node)
    return Candidates(tuple(folds), at, u, v0, v1, flange, counts, costs, _longest(folds), share)


def _longest(folds: Sequence[Fold]) -> NDArray[np.bool_]:
    spans = set(folds)
    return np.array(
        [
            Fold(f.place, f.first - 1, f.last) not in spans
            and Fold(f.place, f.first, f.last + 1) not in spans
            for f in folds
        ]
    )
