"""Sets of stretches that could hold, each with the least its fold lines can cost.

A half is judged by itself, with beams everywhere on the others, so what is told is a lower bound.
The sag allowed is larger by ``fewest.LIFTED``: see ``shortest``.
"""

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.candidates import Candidates, Sides
from trace2pop.stages.supports.fewest import LIFTED
from trace2pop.stages.supports.influence import Influence

_MOST_TOGETHER = 2
"""Sets of more beams on one half are not enumerated."""
_DECIDING = 12
"""Points that judge a half by itself; the beams chosen are judged by all."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, order=True)
class _Group:
    """Stretches that stand together on one half, and the least they can cost."""

    floor: float
    places: tuple[int, ...]


@dataclass(frozen=True)
class _Before:
    """The groups found for one side that cost less than ``below``, and what was known then."""

    known: tuple[Influence, float, tuple[int, ...]]
    below: float
    groups: list[_Group]


@dataclass(eq=False)
class Standing:
    """Which sets of stretches could hold ``limit``, and the least each can cost.

    ``points`` are those that decided so far, ``pinned`` the stretches that are always taken. A beam
    of a side counts ``weight`` times: twice where it stands for its mirror image, too.
    """

    given: Candidates
    sides: Sides
    points: dict[int, None]
    pinned: frozenset[int] = frozenset()
    limit: float = 0.0

    def __post_init__(self) -> None:
        self._found: dict[tuple[int, int], _Before] = {}
        place = self.given.place
        self.options: dict[int, Ints] = {}
        for number in sorted({int(p) for p in place}):
            own = np.flatnonzero(place == number)
            self.options[number] = own[np.argsort(self.given.costs[own], kind="stable")]
        self.side = self.sides.side
        self.weight = {
            self.side[number]: int(self.given.counts[own[0]])
            for number, own in self.options.items()
        }
        self.cheapest = {
            number: float(self.given.costs[own[0]]) for number, own in self.options.items()
        }

    def on(self, side: int) -> list[int]:
        """Return the stretches of one side that are not pinned."""
        return self.free([place for place in self.options if self.side[place] == side])

    def fixed(self, side: int) -> tuple[int, ...]:
        """Return the pinned stretches of one side."""
        return tuple(place for place in sorted(self.pinned) if self.side[place] == side)

    def free(self, places: Sequence[int]) -> list[int]:
        """Return the stretches that are not pinned."""
        return [place for place in places if place not in self.pinned]

    def enumerable(self, counts: dict[int, int]) -> bool:
        """Whether no side has more beams to choose than can be enumerated."""
        return all(
            count - len(self.fixed(side)) <= _MOST_TOGETHER for side, count in counts.items()
        )

    def least(self, counts: dict[int, int]) -> float:
        """Return the cost of the shortest fold lines there are, ``counts`` on each side."""
        total = 0.0
        for side, count in counts.items():
            fixed = self.fixed(side)
            shortest = min(cost for p, cost in self.cheapest.items() if self.side[p] == side)
            total += sum(self.cheapest[p] for p in fixed) + (count - len(fixed)) * shortest
        return total

    def sets(self, counts: dict[int, int], below: float) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Yield sets of stretches with ``counts`` on each side, least floor first.

        Sets that can't be cheaper than ``below`` are left out. Nothing is yielded where a side has
        more beams than can be enumerated.
        """
        if not self.enumerable(counts):
            return
        groups = []
        for side, count in counts.items():
            rest = self.least({other: k for other, k in counts.items() if other != side})
            groups.append(self.groups(side, count, below - rest))
        if not all(groups):
            return
        heap = [(sum(own[0].floor for own in groups), (0,) * len(groups))]
        seen = {heap[0][1]}
        while heap:
            floor, at = heapq.heappop(heap)
            together = zip(groups, at, strict=True)
            yield floor, tuple(place for own, k in together for place in own[k].places)
            for axis in range(len(groups)):
                then = tuple(k + (axis == n) for n, k in enumerate(at))
                if then[axis] < len(groups[axis]) and then not in seen:
                    seen.add(then)
                    total = sum(own[k].floor for own, k in zip(groups, then, strict=True))
                    heapq.heappush(heap, (total, then))

    def groups(self, side: int, count: int, below: float) -> list[_Group]:
        """Return the sets of ``count`` stretches that hold one side for less than ``below``.

        What was found for as much before serves again, as long as the same points decide.
        """
        known = self.sides.alone(side), self.limit, tuple(map(int, self.near(side)))
        before = self._found.get((side, count))
        if before is None or before.below < below or before.known != known:
            before = _Before(known, below, self.holding_groups(side, count, below))
            self._found[side, count] = before
        return [group for group in before.groups if group.floor < below]

    def holding_groups(self, side: int, count: int, below: float) -> list[_Group]:
        """Return the sets of ``count`` stretches that hold one side for less than ``below``."""
        pinned = self.fixed(side)
        spent = sum(self.cheapest[place] for place in pinned)
        own = self.on(side)
        count -= len(pinned)
        if count == 0:
            return [_Group(spent, pinned)]
        budget = below - spent - (count - 1) * min(self.cheapest[place] for place in own)
        if count == 1:
            floors = self.floors(side, (), own, budget)
            found: list[tuple[float, tuple[int, ...]]] = [
                (float(f), (p,)) for p, f in zip(own, floors, strict=True)
            ]
        else:
            found = self.pairs(side, own, budget)
        return sorted(
            _Group(spent + floor, (*pinned, *places))
            for floor, places in found
            if spent + floor < below
        )

    def pairs(
        self, side: int, own: Sequence[int], budget: float
    ) -> list[tuple[float, tuple[int, ...]]]:
        """Return the pairs of stretches that hold one side, each with the least it can cost."""
        local, every = self.sides.alone(side), self.sides.on(side)
        at = [every.index(place) for place in own]
        fixed = [local.whole(every.index(place)) for place in self.fixed(side)]
        sag = [local.with_whole([*fixed, local.whole(k)], at, self.near(side)) for k in at]
        able = np.array(sag).max(axis=-1, initial=0.0) <= self.limit * LIFTED
        able = (able | able.T) & ~np.eye(len(own), dtype=bool)
        floor = np.full(able.shape, np.inf)
        for i, place in enumerate(own):
            partners = np.flatnonzero(able[i])
            if len(partners):
                others = [own[int(j)] for j in partners]
                floor[i, partners] = self.floors(side, (place,), others, budget)
        both = floor + floor.T
        pairs = np.argwhere(np.triu(np.isfinite(both), 1))
        return [(float(both[i, j]), (own[i], own[j])) for i, j in pairs]

    def floors(
        self, side: int, company: tuple[int, ...], own: Sequence[int], budget: float
    ) -> FloatArray:
        """Return the least cost of a beam on each stretch of ``own``, infinite where over budget.

        With whole beams on ``company`` and, on the other sides, beams everywhere.
        """
        local, every = self.sides.alone(side), self.sides.on(side)
        folds = [local.whole(every.index(place)) for place in (*self.fixed(side), *company)]
        span = self.span(own, budget)
        places = [every.index(place) for place in own]
        limit = self.limit * LIFTED
        reach = local.table(folds, places, self.near(side), span=span, limit=limit)
        result = np.full(len(own), np.inf)
        for k, place in enumerate(own):
            if place not in company:
                holding = self.holding(place, reach[k], limit)
                result[k] = self.given.costs[holding[0]] if len(holding) else np.inf
        return result

    def span(self, places: Sequence[int], budget: float) -> int:
        """Return the most nodes a fold line on ``places`` has that costs ``budget`` at most."""
        own = np.concatenate([self.options[place] for place in places])
        within = own[self.given.costs[own] <= budget]
        _, first, last = (numbers[within] for numbers in self.given.at)
        return int((last - first).max(initial=0)) + 1

    def near(self, side: int) -> Ints:
        """Return the deciding points of one side, all of them for the crease."""
        points = np.array(list(self.points), dtype=np.int64)
        u = self.sides.known.points[points, 0]
        return points[u * side >= -1e-6][:_DECIDING] if side else points[:_DECIDING]

    def holding(self, place: int, reach: FloatArray, limit: float) -> Ints:
        """Return the fold lines on ``place`` that reach ``limit``, cheapest first."""
        options = self.options[place]
        _, first, last = (numbers[options] for numbers in self.given.at)
        result: Ints = options[reach[first, last] <= limit]
        return result
