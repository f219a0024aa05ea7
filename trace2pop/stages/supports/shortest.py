"""The least length of fold line that holds, among all sets of as many beams.

Branch and bound on one physical fact: a longer beam, or one beam more, never makes the motif sag
further. So what a beam needs at least is what it needs while all others are as long as can be. The
crease, the right and the left half are first judged each by itself with the others held everywhere.
"""

import heapq
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.candidates import Candidates
from trace2pop.stages.supports.influence import Influence

_MOST_TOGETHER = 2
"""Sets of more beams on one half are not enumerated: only the stretches found are shortened."""
_EXCHANGES = 12
_EQUAL = 1e-6
_DECIDING = 12
"""Points that judge a half by itself; the beams chosen are judged by all."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Found:
    """Beams that hold in the search's model, and how good they are.

    ``bound`` is the least cost any set of as many beams could have, ``tried`` the number of sets
    of stretches looked into.
    """

    members: tuple[int, ...]
    cost: float
    bound: float
    tried: int


@dataclass(frozen=True, order=True)
class _Group:
    """Stretches that stand together on one half, and the least they can cost."""

    floor: float
    places: tuple[int, ...]


@dataclass(eq=False)
class Shortest:
    """The search for the least length.

    ``points`` are those that decided so far, ``pinned`` the stretches that are always taken.
    """

    given: Candidates
    known: Influence
    points: dict[int, None]
    pinned: frozenset[int]
    limit: float = 0.0
    _alone: dict[int, Influence] = field(default_factory=dict)

    def __post_init__(self) -> None:
        place = self.given.place
        self.options: dict[int, Ints] = {}
        for number in sorted({int(p) for p in place}):
            own = np.flatnonzero(place == number)
            self.options[number] = own[np.argsort(self.given.costs[own], kind="stable")]
        self.side = {
            number: int(np.sign(self.given.u[own[0]])) for number, own in self.options.items()
        }
        self.cheapest = {
            number: float(self.given.costs[own[0]]) for number, own in self.options.items()
        }

    def run(self, start: Sequence[int], limit: float) -> Found:
        """Return the cheapest set of as many beams a half as ``start`` has that holds ``limit``."""
        self.limit = limit
        stood = tuple(int(self.given.place[index]) for index in start)
        best = self.exchanged(self.on(stood, np.inf) or tuple(sorted(start)))
        tried, bound = 1, self.least(stood)
        for floor, places in self.sets(stood, self.given.cost(best)):
            bound = max(bound, floor)
            if floor >= self.given.cost(best) - _EQUAL:
                break
            tried += 1
            best = self.on(places, self.given.cost(best)) or best
        else:
            bound = np.inf if self.enumerable(stood) else bound
        cost = self.given.cost(best)
        return Found(best, cost, min(cost, bound), tried)

    def free(self, places: Sequence[int]) -> list[int]:
        """Return the stretches that are not pinned."""
        return [place for place in places if place not in self.pinned]

    def rescale(self, ratio: FloatArray) -> None:
        """Take the sag of each point as ``ratio`` (P,) times what it was taken for."""
        self.known = self.known.scaled(ratio)
        self._alone = {side: own.scaled(ratio) for side, own in self._alone.items()}

    def enumerable(self, places: Sequence[int]) -> bool:
        """Whether no half has more beams to choose than can be enumerated."""
        sides = [self.side[place] for place in self.free(places)]
        return max((sides.count(side) for side in sides), default=0) <= _MOST_TOGETHER

    def least(self, places: Sequence[int]) -> float:
        """Return the cost of the shortest fold lines there are, as many as ``places`` a half."""
        return sum(
            self.cheapest[place]
            if place in self.pinned
            else min(
                cost
                for other, cost in self.cheapest.items()
                if self.side[other] == self.side[place]
            )
            for place in places
        )

    def sets(self, stood: Sequence[int], below: float) -> Iterator[tuple[float, tuple[int, ...]]]:
        """Yield sets of stretches with as many on each half as ``stood``, least floor first.

        Sets that can't be cheaper than ``below`` are left out. Nothing is yielded where a half has
        more beams than can be enumerated.
        """
        if not self.enumerable(stood):
            return
        sides = sorted({self.side[place] for place in stood})
        groups = []
        for side in sides:
            own = [place for place in stood if self.side[place] == side]
            rest = self.least(stood) - self.least(own)
            groups.append(self.groups(side, len(own), below - rest))
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
        """Return the sets of ``count`` stretches that hold one side for less than ``below``."""
        pinned = tuple(place for place in sorted(self.pinned) if self.side[place] == side)
        spent = sum(self.cheapest[place] for place in pinned)
        own = self.free([place for place in self.options if self.side[place] == side])
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
            table = np.array([self.floors(side, (place,), own, budget) for place in own])
            both = table + table.T
            pairs = itertools.combinations(range(len(own)), 2)
            found = [(float(both[i, j]), (own[i], own[j])) for i, j in pairs]
        return sorted(
            _Group(spent + floor, (*pinned, *places))
            for floor, places in found
            if spent + floor < below
        )

    def floors(
        self, side: int, company: tuple[int, ...], own: Sequence[int], budget: float
    ) -> FloatArray:
        """Return the least cost of a beam on each stretch of ``own``, infinite where over budget.

        With whole beams on ``company`` and, on the other sides, beams everywhere.
        """
        local = self.alone(side, own)
        folds = [local.whole(own.index(place)) for place in company]
        span = self.span(own, budget)
        reach = local.table(folds, range(len(own)), self.near(side), span=span)
        result = np.full(len(own), np.inf)
        for k, place in enumerate(own):
            if place not in company:
                holding = self.holding(place, reach[k])
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
        u = self.known.points[points, 0]
        return points[u * side >= -1e-6][:_DECIDING] if side else points[:_DECIDING]

    def alone(self, side: int, own: Sequence[int]) -> Influence:
        """Return the influence on one side with pinned beams, and all there are on the others."""
        if side not in self._alone:
            others = [
                self.known.whole(p)
                for p in self.options
                if self.side[p] != side or p in self.pinned
            ]
            self._alone[side] = self.known.after(others, own)
        return self._alone[side]

    def exchanged(self, members: tuple[int, ...]) -> tuple[int, ...]:
        """Return a set no worse that no exchange of a single beam on its half makes cheaper."""
        best = members
        for _ in range(_EXCHANGES):
            companies = [
                (tuple(m for m in best if m != out), out)
                for out in best
                if int(self.given.place[out]) not in self.pinned
            ]
            trials = [
                tuple(sorted((*rest, option)))
                for rest, out in companies
                for option in self.instead(rest, out)
            ]
            trials.sort(key=lambda trial: (self.given.cost(trial), trial))
            better = next((trial for trial in trials if self.ended(trial) is not None), None)
            if better is None:
                return best
            places = tuple(int(self.given.place[m]) for m in better)
            best = self.on(places, self.given.cost(better)) or better
        return best

    def instead(self, rest: tuple[int, ...], out: int) -> list[int]:
        """Return the cheapest fold line of each stretch that could take the place of ``out``."""
        side = self.side[int(self.given.place[out])]
        own = self.free([place for place in self.options if self.side[place] == side])
        budget = float(self.given.costs[out]) - _EQUAL
        points = np.array(list(self.points), dtype=np.int64)
        span = self.span(own, budget)
        reach = self.known.table(self.given.chosen(rest), own, points, span=span)
        found = []
        for place, table in zip(own, reach, strict=True):
            holding = self.holding(place, table)
            if len(holding) and self.given.costs[holding[0]] < budget:
                found.append(int(holding[0]))
        return found

    def on(self, places: Sequence[int], below: float) -> tuple[int, ...] | None:
        """Return the cheapest fold lines on these stretches that hold, if cheaper than below."""
        return self.deeper((), tuple(places), below)

    def deeper(
        self, fixed: tuple[int, ...], rest: tuple[int, ...], below: float
    ) -> tuple[int, ...] | None:
        """Return ``fixed`` with the cheapest fold line on each of ``rest``, if cheaper."""
        while True:
            able = self.all_able(fixed, rest, below)
            if able is None:
                return None
            trial = (*fixed, *(int(own[0]) for own in able))
            worse = self.failing(trial)
            if not worse and self.given.apart(trial):
                return tuple(sorted(trial))
            if worse.keys() <= self.points.keys():
                break
            self.points |= worse
        pick = int(np.argmin([len(own) for own in able]))
        left = tuple(place for k, place in enumerate(rest) if k != pick)
        spent = self.given.cost(fixed)
        others = sum(float(self.given.costs[own[0]]) for k, own in enumerate(able) if k != pick)
        best: tuple[int, ...] | None = None
        for option in able[pick]:
            if spent + self.given.costs[option] + others >= below - _EQUAL:
                break
            members = (*fixed, int(option))
            found = self.deeper(members, left, below) if left else self.ended(members)
            if found is not None:
                best, below = found, self.given.cost(found)
        return best

    def all_able(
        self, fixed: tuple[int, ...], rest: tuple[int, ...], below: float
    ) -> list[Ints] | None:
        """Return, for each of ``rest``, the fold lines that hold with the others whole.

        None where that can't be cheaper than ``below``.
        """
        floors = [self.cheapest[place] for place in rest]
        spent = self.given.cost(fixed)
        found = []
        for k, place in enumerate(rest):
            budget = below - spent - (sum(floors) - floors[k])
            own = self.able(fixed, [p for p in rest if p != place], place, budget)
            if not len(own):
                return None
            floors[k] = float(self.given.costs[own[0]])
            if spent + sum(floors) >= below - _EQUAL:
                return None
            found.append(own)
        return found

    def able(self, fixed: Sequence[int], whole: Sequence[int], place: int, budget: float) -> Ints:
        """Return the fold lines on ``place`` that hold with others whole, cheapest first."""
        company = self.given.chosen(fixed) + [self.known.whole(other) for other in whole]
        points = np.array(list(self.points), dtype=np.int64)
        reach = self.known.table(company, [place], points, span=self.span([place], budget))
        return self.holding(place, reach[0])

    def holding(self, place: int, reach: FloatArray) -> Ints:
        """Return the fold lines on ``place`` that reach the limit, cheapest first."""
        options = self.options[place]
        _, first, last = (numbers[options] for numbers in self.given.at)
        result: Ints = options[reach[first, last] <= self.limit]
        return result

    def ended(self, members: tuple[int, ...]) -> tuple[int, ...] | None:
        """Return a full set if it holds and keeps apart."""
        worse = self.failing(members)
        self.points |= worse
        return None if worse or not self.given.apart(members) else tuple(sorted(members))

    def failing(self, members: Sequence[int]) -> dict[int, None]:
        """Return the worst points that a set leaves sagging, empty where it holds."""
        sag = np.abs(self.known.sag(self.given.chosen(members)))
        over = np.flatnonzero(sag > self.limit)
        return dict.fromkeys(int(k) for k in over[np.argsort(-sag[over], kind="stable")][:3])
