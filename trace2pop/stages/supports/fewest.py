"""The fewest beams that hold: choose, look where it sags, choose again.

Every place found to sag becomes a row. The beams chosen are joined by as many others as leave the
place sagging all the same, apart or not: of the rest, one must be in. As more beams hardly ever
hold less, no set that holds is lost, and when the cheapest set that keeps all rows holds, it has
the fewest beams. The longest fold line of each stretch stands for all of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.candidates import Candidates, Sides
from trace2pop.stages.supports.choose import Row, cheapest
from trace2pop.stages.supports.growing import Growing
from trace2pop.stages.supports.influence import Influence
from trace2pop.stages.supports.joined import beside, still_sagging

_ROUNDS, _WORTHWHILE = 30, 13
"""Choices after which the beams grown one by one are taken. With more places there are fewer, and
where not even ``_WORTHWHILE`` are, none."""
_PLENTY = 6000
"""Rounds times stretches that are worth waiting for: some seconds."""
_SOON = 110
"""Rows up to which the least length is proved along with the fewest beams."""
_LOOKS = 10
"""Choices of the least length looked at, once the fewest beams that hold are known."""
_PLACES = 6
_GAP = 0.02
"""Share of the cost left unproved: less than a beam of up to 40, so the count is exact."""
LIFTED = 1.4
"""How much further a place may sag with more beams: an overhang whose span got stiffer."""
_NEAR = 15.0
"""Sagging places nearer than this to a worse one are left to the next round."""
_FAINT = 0.02
"""A beam that takes less than this share of the limit off a place's sag is no help to it."""
_SURE = 1.15
"""How far over the limit a place must sag with others added to be sure to sag without them, too."""
_MOST = 0.25
"""Beams that help less than the best one by up to this share of the limit help as well."""
_SWINGING = 20.0
"""From this many times the limit on the part may swing, and a beam help only beside others."""

Ints = NDArray[np.int64]


class UnheldError(Exception):
    """No set of beams holds.

    ``members`` is a set that leaves little sagging, empty where none keeps the rows of every plan.
    """

    def __init__(self, members: tuple[int, ...]) -> None:
        super().__init__()
        self.members = members


@dataclass(frozen=True, eq=False)
class _Sagging:
    """A place that sags by ``depth`` on all longest fold lines but ``others``."""

    place: int
    depth: float
    others: Ints


@dataclass(eq=False)
class Fewest:
    """The search for the fewest: what is known of bending, and what was found so far.

    ``needs`` are the rows every plan keeps, ``points`` the places that ever sagged. What was found
    serves the next search with another limit; ``first`` is a set that stands, whatever it holds.
    """

    given: Candidates
    sides: Sides
    needs: Sequence[Row]
    points: dict[int, None]
    first: tuple[int, ...] = ()
    _clashes: list[Row] = field(default_factory=list)
    _sagging: list[_Sagging] = field(default_factory=list)
    _everywhere: FloatArray | None = None

    def __post_init__(self) -> None:
        self.options: Ints = np.flatnonzero(self.given.longest)
        self.stretches = sorted({int(place) for place in self.given.place})
        column = {place: number for number, place in enumerate(self.stretches)}
        at = dict(zip(map(int, self.given.place), map(float, self.given.u), strict=True))
        self._beside = beside(self.known, at)
        self._column = np.array([column[int(p)] for p in self.given.place[self.options]])

    def run(self, limit: float) -> tuple[int, ...]:
        """Return the members of the cheapest set of longest fold lines that holds ``limit``.

        Raises:
            UnheldError: where no choice holds all places.
        """
        grown: tuple[int, ...] | None = None
        rounds = min(_ROUNDS, _PLENTY // len(self.stretches))
        worthwhile = rounds >= _WORTHWHILE
        for number in range(rounds if worthwhile else _ROUNDS):
            # Whole numbers of beams are proved in a quarter of the time: lengths come last, then.
            soon = len(self._sagging) + len(self._clashes) < _SOON
            members = self.chosen(limit, self.given.costs if soon else self.given.counts)
            if members is None:
                break
            if worthwhile and number == rounds // 2:
                grown = self.grown(limit)
            if grown and self.count(members) >= self.count(grown) and self.holds(grown, limit):
                return grown
            if self.meet(members):
                continue
            self.first = self.first or members
            sag = self.known.sag(self.given.chosen(members))
            places = self.sagging(sag, limit)
            if not places:
                return members if soon else self.shorter(members, limit)
            if not worthwhile:
                break
            self.learn(members, places, limit, sag)
        grown = self.grown(limit) if grown is None else grown
        if members is not None and self.holds(grown, limit):
            return grown
        raise UnheldError(grown)

    def shorter(self, held: tuple[int, ...], limit: float) -> tuple[int, ...]:
        """Return the cheapest set of as many beams as ``held`` that holds, if it is soon found."""
        for _ in range(_LOOKS):
            members = self.chosen(limit, self.given.costs)
            if members is None or self.count(members) > self.count(held):
                break
            if self.meet(members):
                continue
            sag = self.known.sag(self.given.chosen(members))
            places = self.sagging(sag, limit)
            if not places:
                return members
            self.learn(members, places, limit, sag)
        return held

    def meet(self, members: tuple[int, ...]) -> bool:
        """Whether beams of a set meet; it is kept from then on that they don't."""
        clashes = self.clashes(members)
        self._clashes += clashes
        return bool(clashes)

    def learn(
        self, members: tuple[int, ...], places: Sequence[int], limit: float, sag: FloatArray
    ) -> None:
        """Keep from now on what ``places`` need that sag on a set by ``sag`` (P,)."""
        reach = self.added(members, places)
        self._sagging += [
            self.unheld(members, place, limit, float(abs(sag[place])), reach[:, k])
            for k, place in enumerate(places)
        ]

    def grown(self, limit: float) -> tuple[int, ...]:
        """Return a set grown beam by beam; see ``Growing``."""
        growing = Growing(self.given, self.known, self.options, self.needs, limit)
        return growing.run() or growing.run(self.first)

    def holds(self, members: tuple[int, ...], limit: float) -> bool:
        """Whether no place sags over the limit on a set."""
        if not members:
            return False
        return float(np.abs(self.known.sag(self.given.chosen(members))).max()) <= limit

    def count(self, members: Sequence[int]) -> float:
        """Return the number of beams of a set."""
        return float(self.given.counts[list(members)].sum())

    def chosen(self, limit: float, costs: FloatArray) -> tuple[int, ...] | None:
        """Return the longest fold lines that keep all rows at the least of ``costs`` (n,)."""
        found = [Row(item.others, least=1) for item in self._sagging if item.depth > limit]
        number = np.full(len(self.given.costs), -1)
        number[self.options] = np.arange(len(self.options))
        own = []
        for row in [*self.needs, *self._clashes, *found]:
            kept = number[row.members] >= 0
            weights = None if row.weights is None else row.weights[kept]
            own.append(replace(row, members=number[row.members[kept]], weights=weights))
        best = cheapest(costs[self.options], own, _GAP)
        return None if best is None else tuple(int(self.options[k]) for k in best)

    @property
    def known(self) -> Influence:
        """What is known of bending."""
        return self.sides.known

    def rescale(self, ratio: FloatArray) -> None:
        """Take the sag of each point as ``ratio`` (P,) times what it was taken for."""
        self._sagging = [
            replace(item, depth=item.depth * float(ratio[item.place])) for item in self._sagging
        ]
        if self._everywhere is not None:
            self._everywhere = self._everywhere * ratio

    def sagging(self, sag: FloatArray, limit: float) -> list[int]:
        """Return the points that sag over the limit, worst first, none near another."""
        over = np.flatnonzero(np.abs(sag) > limit)
        kept: list[int] = []
        for index in over[np.argsort(-np.abs(sag[over]), kind="stable")]:
            away = self.known.points[kept] - self.known.points[index]
            if not kept or np.hypot(away[:, 0], away[:, 1]).min() > _NEAR:
                kept.append(int(index))
            if len(kept) == _PLACES:
                break
        self.points |= dict.fromkeys(kept)
        return kept

    def unheld(
        self, members: tuple[int, ...], place: int, limit: float, depth: float, reach: FloatArray
    ) -> _Sagging:
        """Return what must be added to a set for ``place`` to hold: one of the least few.

        The place sags by ``depth``, by ``reach`` (options,) with an option added. All others are
        added, weakest first, as long as it still sags.
        """
        chosen = np.isin(self.options, members)
        sure = _SURE * limit
        alone = reach <= sure
        helps = (reach < depth - _FAINT * limit) | (depth > _SWINGING * limit)
        if depth <= sure and (helps & ~chosen).any():
            return _Sagging(place, depth, self.options[helps & ~chosen])
        near = np.flatnonzero(~chosen & ~alone & helps)
        if not len(near):
            return _Sagging(place, depth, self.options[alone if alone.any() else ~chosen])
        order = near[np.argsort(-reach[near], kind="stable")]
        places = list(dict.fromkeys(int(self.given.place[o]) for o in self.options[order]))
        left, depth = still_sagging(
            self.known, self.given.chosen(members), places, self._beside, place, sure
        )
        kept = (np.isin(self.given.place[self.options], left) | alone) & ~chosen
        if kept.any():
            return _Sagging(place, depth, self.options[kept])
        # Nothing seems to hold it: then beams everywhere decide, and if they do, what helps most.
        every = float(abs(self.everywhere[place]))
        if every > limit:
            return _Sagging(place, every, self.options[:0])
        best = float(reach[near].min())
        return _Sagging(place, depth, self.options[near[reach[near] <= best + _MOST * limit]])

    @property
    def everywhere(self) -> FloatArray:
        """The sag (P,) with beams on every stretch."""
        if self._everywhere is None:
            self._everywhere = self.known.sag([self.known.whole(p) for p in self.stretches])
        return self._everywhere

    def added(self, company: Sequence[int], places: Sequence[int]) -> FloatArray:
        """Return the sag (options, places) with each option's whole stretch added."""
        folds = self.given.chosen(company)
        whole = self.known.with_whole(folds, self.stretches, np.array(places))
        result: FloatArray = whole[self._column]
        return result

    def clashes(self, members: Sequence[int]) -> list[Row]:
        """Return the rows that keep the beams of the set from meeting."""
        given, found = self.given, []
        for number, one in enumerate(members):
            for other in members[number + 1 :]:
                at = given.meeting(one, other)
                if at is not None:
                    found.append(Row(given.over(*at), most=1))
        for u in given.crowded(members):
            slits = given.slits(u)
            line = np.flatnonzero(slits)
            found.append(Row(line, most=given.share, weights=slits[line]))
        return found
