"""Every fold line to choose from, and where two of them meet."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trace2pop.limits import FLANGE_GAP, SLIT_APART, SLIT_LINE_SHARE
from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.influence import Fold, Influence
from trace2pop.stages.supports.places import Room, Stretch

BEAM = 1000.0
"""What a beam costs in mm of fold line: more than all lengths together, so fewest come first."""
_CALM = 1e-3
"""What a fold line's distance from the middle costs: it decides between equal lengths only."""
_EASY, _NARROW = 5.0, 50.0
"""Flanges under this width are hard to glue: each costs as much as that much more fold line."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Candidates:
    """Every fold line to choose from. Arrays (n,) but ``folds``; ``at`` holds their numbers.

    ``counts`` is 2 for a beam that stands for itself and its mirror image. ``longest`` marks
    the fold lines that no other on their stretch contains. ``share`` is the most that slits on
    one line of the base may sum to, each longer by ``clearance`` than its fold line.
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
    clearance: float

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

    def slits(self, u: float) -> FloatArray:
        """Return the slit lengths (n,) of what stands on the line at ``u``, 0 for the others.

        Lines nearer to it than slits may be count as the same, mirror images' lines as well.
        """
        return self._on_line(self.u, self.counts, u) * (self.v1 - self.v0 + self.clearance)

    @staticmethod
    def _on_line(u: FloatArray, counts: FloatArray, line: FloatArray | float) -> FloatArray:
        """Return how many of each beam and its mirror image stand on a line, or too near to it."""
        near = SLIT_APART.value - 1e-9
        own, mirrored = np.abs(u - line) < near, np.abs(u + line) < near
        result: FloatArray = own + (mirrored & (counts > 1)).astype(float)
        return result

    def crowded(self, members: Sequence[int]) -> list[float]:
        """Return the lines on which the slits of a set sum to more than their share."""
        own = list(members)
        return [
            u
            for u in sorted({float(self.u[index]) for index in own})
            if float(self.slits(u)[own].sum()) > self.share + 1e-9
        ]

    def beside(self, members: Sequence[int], options: Ints) -> NDArray[np.bool_]:
        """Whether each of ``options`` (n,) keeps apart from a set that keeps apart itself."""
        own = np.array(members, dtype=np.int64)
        flange = self.flange + FLANGE_GAP.value / 2
        across = np.minimum.outer((self.u + flange)[options], (self.u + flange)[own])
        across -= np.maximum.outer((self.u - flange)[options], (self.u - flange)[own])
        along = np.minimum.outer(self.v1[options], self.v1[own])
        along -= np.maximum.outer(self.v0[options], self.v0[own])
        meets = (across > 1e-9) & (along > 1e-9 - SLIT_APART.value)
        slits = self.v1 - self.v0 + self.clearance
        u, counts = self.u[options], self.counts[options]
        line = self._on_line(self.u[own], self.counts[own], u[:, None]) @ slits[own]
        line += self._on_line(u, counts, u) * slits[options]
        near = self._on_line(u[:, None], counts[:, None], self.u[own])
        lines = np.array([self.slits(self.u[member])[own].sum() for member in own])
        crowd = (near > 0) & (lines + near * slits[options][:, None] > self.share + 1e-9)
        crowded = (line > self.share + 1e-9) | crowd.any(axis=1)
        result: NDArray[np.bool_] = ~(meets.any(axis=1) | crowded | np.isin(options, own))
        return result

    def apart(self, members: Sequence[int]) -> bool:
        """Whether no two of a set meet and no line is crowded."""
        return not self.crowded(members) and all(
            self.meeting(one, other) is None
            for number, one in enumerate(members)
            for other in members[number + 1 :]
        )


class Sides:
    """What is known of bending, whole and side by side: -1 left, 0 on the crease, 1 right.

    ``side`` tells it of each stretch that has a candidate.
    """

    def __init__(self, given: Candidates, known: Influence) -> None:
        self.known = known
        self.side = {
            int(place): int(np.sign(u)) for place, u in zip(given.place, given.u, strict=True)
        }
        self._alone: dict[int, Influence] = {}

    def on(self, side: int) -> list[int]:
        """Return the stretches of one side."""
        return [place for place in sorted(self.side) if self.side[place] == side]

    def alone(self, side: int) -> Influence:
        """Return the influence of one side's stretches, with beams everywhere on the others."""
        if side not in self._alone:
            others = [self.known.whole(p) for p in sorted(self.side) if self.side[p] != side]
            self._alone[side] = self.known.after(others, self.on(side))
        return self._alone[side]

    def rescale(self, ratio: FloatArray) -> None:
        """Take the sag of each point as ``ratio`` (P,) times what it was taken for."""
        self.known = self.known.scaled(ratio)
        self._alone = {side: own.scaled(ratio) for side, own in self._alone.items()}


def candidates(
    places: Sequence[Stretch], known: Influence, given: Room, *, mirrored: bool
) -> Candidates:
    """Return every fold line between two nodes of a stretch, long and short enough.

    A fold line that a wider flange could take is left to it.
    """
    folds: list[Fold] = []
    for number, (place, nodes) in enumerate(zip(places, known.nodes, strict=True)):
        wider = [other for other in places if other.u == place.u and other.flange > place.flange]
        for first in range(len(nodes)):
            for last in range(first + 1, len(nodes)):
                v0, v1 = nodes[first], nodes[last]
                fits = place.least - 1e-9 <= v1 - v0 <= place.most + 1e-9
                if place.pinned:
                    fits, wider = (first, last) == (0, len(nodes) - 1), []
                if fits and not any(w.v0 <= v0 + 1e-9 and v1 <= w.v1 + 1e-9 for w in wider):
                    folds.append(Fold(number, first, last))
    own, first_node, last_node = np.array(
        [(fold.place, fold.first, fold.last) for fold in folds], dtype=np.int64
    ).T
    u = np.array([place.u for place in places])[own]
    flange = np.array([place.flange for place in places])[own]
    v0 = np.array([known.nodes[fold.place][fold.first] for fold in folds])
    v1 = np.array([known.nodes[fold.place][fold.last] for fold in folds])
    middle = (given.head + given.foot) / 2
    share = SLIT_LINE_SHARE.value * given.ground.card.height
    counts = np.where((u > 0) & mirrored, 2.0, 1.0)
    costs = counts * (BEAM + (v1 - v0) + _CALM * np.abs((v0 + v1) / 2 - middle))
    costs += counts * _NARROW * (flange < _EASY)
    at = (own, first_node, last_node)
    return Candidates(
        tuple(folds), at, u, v0, v1, flange, counts, costs, _longest(folds), share, given.clearance
    )


def _longest(folds: Sequence[Fold]) -> NDArray[np.bool_]:
    spans = set(folds)
    return np.array(
        [
            Fold(f.place, f.first - 1, f.last) not in spans
            and Fold(f.place, f.first, f.last + 1) not in spans
            for f in folds
        ]
    )
