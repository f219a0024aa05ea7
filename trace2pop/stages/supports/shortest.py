"""The least length of fold line that holds, among all sets of as many beams.

Branch and bound on one physical fact: a longer beam, or one beam more, hardly ever makes the motif
sag further. So what a beam needs at least is what it needs while all others are as long as can be.
The exception is an overhang, which a stiffer span behind it lifts less: the bounds allow a sag that
is larger by ``fewest.LIFTED``, which random cases don't go past (tests/outside/test_solver.py). The
crease, the right and the left half are first judged each by itself with the others held everywhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from trace2pop.stages.supports.fewest import LIFTED, Fewest, UnheldError
from trace2pop.stages.supports.influence import Influence
from trace2pop.stages.supports.standing import Standing

_EXCHANGES, _EXCHANGED = 12, 36
"""Exchanges tried, and beams looked at for one in all."""
_MOST_LOOKS = 400
"""Looks at single fold lines after which the search ends with the bound it has."""
MANY = 6
"""With more beams a quarter of that must do: each look takes longer, and finds less."""
_EQUAL = 1e-6
_FEW = 6
"""Sets of more beams are not tried with shorter fold lines where the longest don't hold."""
_SCARCE = 24
"""With more stretches than this another one stands in for a beam that is in the way."""

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


@dataclass(eq=False)
class Shortest:
    """The search for the least length.

    ``counted`` says that the number of beams must stay.
    """

    standing: Standing
    counted: bool = False
    looks: int = 0
    most: int = _MOST_LOOKS

    def __post_init__(self) -> None:
        self.given, self.points = self.standing.given, self.standing.points

    def again(self, members: Sequence[int], limit: float) -> tuple[int, ...] | None:
        """Return the stretches of a set found before with what they need now, None if they fail."""
        self.standing.limit, self.looks = limit, 0
        return self.on(tuple(int(self.given.place[index]) for index in members), np.inf)

    def start(self, fewest: Fewest, limit: float) -> tuple[int, ...]:
        """Return a set of the fewest beams that hold ``limit``.

        Where no set of longest fold lines does, one that nearly does may, cut down: an overhang is
        lifted by what sags behind it.

        Raises:
            UnheldError: where that doesn't hold, either.
        """
        try:
            return fewest.run(limit)
        except UnheldError as error:
            few = len(error.members) <= _FEW
            held = self.nearly(fewest, limit) if few else None
            if held is None and len(self.standing.options) <= _SCARCE:
                held = self.smallest(limit)
            if held is None:
                raise error from None
            return held

    def nearly(self, fewest: Fewest, limit: float) -> tuple[int, ...] | None:
        """Return a set that holds ``limit`` with shorter fold lines than the longest."""
        try:
            return self.again(fewest.run(limit * LIFTED), limit)
        except UnheldError:
            return None

    def smallest(self, limit: float) -> tuple[int, ...] | None:
        """Return a set that holds, of one or two beams on each side and as few as can be.

        All are gone through, with fold lines of every length: beams whose longest fold lines are in
        each other's way may stand one behind the other.
        """
        self.standing.limit, self.most = limit, _MOST_LOOKS
        sides = sorted(set(self.standing.side.values()))
        for split in () if self.counted else sorted(product((1, 2), repeat=len(sides)), key=sum):
            self.looks = 0
            counts = dict(zip(sides, split, strict=True))
            if all(counts[side] >= len(self.standing.fixed(side)) for side in sides):
                held, _, _ = self.cheaper(counts, ())
                if held:
                    return held
        return None

    def run(self, start: Sequence[int], limit: float) -> Found:
        """Return the cheapest set that holds ``limit``, of as many beams a half as ``start`` has.

        Where one beam less on a half would do, that is found, too.
        """
        self.standing.limit, self.looks = limit, 0
        self.most = _MOST_LOOKS if len(start) <= MANY else _MOST_LOOKS // 4
        stood = tuple(int(self.given.place[index]) for index in start)
        best = self.exchanged(self.on(stood, np.inf) or tuple(sorted(start)))
        counts = dict.fromkeys(sorted({self.standing.side[place] for place in stood}), 0)
        for place in stood:
            counts[self.standing.side[place]] += 1
        for side in () if self.counted else counts:
            less = counts | {side: counts[side] - 1}
            if less[side] >= max(1, len(self.standing.fixed(side))):
                fewer, _, _ = self.cheaper(less, best)
                if fewer != best:
                    return self.run(fewer, limit)
        best, bound, tried = self.cheaper(counts, best)
        for shared in self.shared(counts):
            best, least, more = self.cheaper(shared, best)
            bound, tried = min(bound, least), tried + more
        cost = self.given.cost(best)
        return Found(best, cost, min(cost, bound), tried)

    def shared(self, counts: dict[int, int]) -> list[dict[int, int]]:
        """Return the other ways to share as many beams among the sides."""
        sides, weight = list(counts), self.standing.weight
        total = sum(weight[side] * counts[side] for side in sides)
        ways = product(*(range(1, total // weight[side] + 1) for side in sides))
        every = [dict(zip(sides, way, strict=True)) for way in ways]
        return [
            way
            for way in every
            if way != counts
            and sum(weight[side] * way[side] for side in sides) == total
            and all(way[side] >= len(self.standing.fixed(side)) for side in sides)
        ]

    def cheaper(
        self, counts: dict[int, int], best: tuple[int, ...]
    ) -> tuple[tuple[int, ...], float, int]:
        """Return the cheapest set with ``counts`` beams on each side if cheaper than ``best``.

        And the least any such set can cost, and the number of sets of stretches looked into. An
        empty ``best`` is no set at all.
        """
        tried, bound = 0, self.standing.least(counts)
        below = self.given.cost(best) if best else np.inf
        for floor, places in self.standing.sets(counts, below):
            bound = max(bound, floor)
            if floor >= below - _EQUAL or self.looks > self.most:
                break
            tried += 1
            best = self.on(places, below) or best
            below = self.given.cost(best) if best else np.inf
        else:
            bound = np.inf if self.standing.enumerable(counts) else bound
        return best, bound, tried

    @property
    def known(self) -> Influence:
        """What is known of bending."""
        return self.standing.sides.known

    def exchanged(self, members: tuple[int, ...]) -> tuple[int, ...]:
        """Return a set no worse that no exchange of a single beam on its half makes cheaper."""
        best = members
        for _ in range(min(_EXCHANGES, _EXCHANGED // len(members))):
            companies = [
                (tuple(m for m in best if m != out), out)
                for out in best
                if int(self.given.place[out]) not in self.standing.pinned
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
        side = self.standing.side[int(self.given.place[out])]
        own = self.standing.free(
            [place for place in self.standing.options if self.standing.side[place] == side]
        )
        budget = float(self.given.costs[out]) - _EQUAL
        points = np.array(list(self.points), dtype=np.int64)
        span, limit = self.standing.span(own, budget), self.standing.limit
        reach = self.known.table(self.given.chosen(rest), own, points, span=span, limit=limit)
        found = []
        for place, table in zip(own, reach, strict=True):
            holding = self.standing.holding(place, table, self.standing.limit)
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
        if len(rest) == 1:
            return self.last(fixed, rest[0], below)
        able = self.all_able(fixed, rest, below)
        if able is None:
            return None
        best = self.ended((*fixed, *(int(own[0]) for own in able)))
        if best is not None:
            return best
        pick = int(np.argmin([len(own) for own in able]))
        left = tuple(place for k, place in enumerate(rest) if k != pick)
        spent = self.given.cost(fixed)
        others = sum(float(self.given.costs[own[0]]) for k, own in enumerate(able) if k != pick)
        for option in able[pick]:
            over = spent + self.given.costs[option] + others >= below - _EQUAL
            if over or self.looks > self.most:
                break
            found = self.deeper((*fixed, int(option)), left, below)
            if found is not None:
                best, below = found, self.given.cost(found)
        return best

    def last(self, fixed: tuple[int, ...], place: int, below: float) -> tuple[int, ...] | None:
        """Return ``fixed`` with the cheapest fold line on ``place`` that holds, if cheaper."""
        budget = below - self.given.cost(fixed) - _EQUAL
        while True:
            known = len(self.points)
            for option in self.able(fixed, (), place, budget, self.standing.limit):
                if self.given.costs[option] >= budget:
                    return None
                found = self.ended((*fixed, int(option)))
                if found is not None:
                    return found
                if len(self.points) > known:
                    break
            else:
                return None

    def all_able(
        self, fixed: tuple[int, ...], rest: tuple[int, ...], below: float
    ) -> list[Ints] | None:
        """Return, for each of ``rest``, the fold lines that hold with the others whole.

        None where that can't be cheaper than ``below``.
        """
        floors = [self.standing.cheapest[place] for place in rest]
        spent = self.given.cost(fixed)
        found = []
        for k, place in enumerate(rest):
            budget = below - spent - (sum(floors) - floors[k])
            whole = [other for other in rest if other != place]
            own = self.able(fixed, whole, place, budget, self.standing.limit * LIFTED)
            if not len(own):
                return None
            floors[k] = float(self.given.costs[own[0]])
            if spent + sum(floors) >= below - _EQUAL:
                return None
            found.append(own)
        return found

    def able(
        self,
        fixed: Sequence[int],
        whole: Sequence[int],
        place: int,
        budget: float,
        limit: float,
    ) -> Ints:
        """Return the fold lines on ``place`` that hold with others whole, cheapest first."""
        self.looks += 1
        company = self.given.chosen(fixed) + [self.known.whole(other) for other in whole]
        points = np.array(list(self.points), dtype=np.int64)
        span = self.standing.span([place], budget)
        reach = self.known.table(company, [place], points, span=span, limit=limit)
        return self.standing.holding(place, reach[0], limit)

    def ended(self, members: tuple[int, ...]) -> tuple[int, ...] | None:
        """Return a full set if it holds and keeps apart."""
        worse = self.failing(members)
        self.points |= worse
        return None if worse or not self.given.apart(members) else tuple(sorted(members))

    def failing(self, members: Sequence[int]) -> dict[int, None]:
        """Return the worst points that a set leaves sagging, empty where it holds."""
        sag = np.abs(self.known.sag(self.given.chosen(members)))
        over = np.flatnonzero(sag > self.standing.limit)
        return dict.fromkeys(int(k) for k in over[np.argsort(-sag[over], kind="stable")][:3])
