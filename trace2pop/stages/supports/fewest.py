"""The fewest beams that hold: choose, look where it sags, choose again.

Every place found to sag becomes a row: one of the beams that would hold that place must be in. The
longest fold line of each stretch stands for all of them, as longer ones hold more.
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

_ROUNDS = 25
"""Choices after which the beams are grown one by one instead."""
_PLACES = 4
_GAP = 0.02
"""Share of the cost left unproved: less than a beam of up to 40, so the count is exact."""
LIFTED = 1.4
"""How much further a place may sag with more beams: an overhang whose span got stiffer."""
_NEAR = 15.0
"""Sagging places nearer than this to a worse one are left to the next round."""

Ints = NDArray[np.int64]


class UnheldError(Exception):
    """No set of beams holds: at ``point`` the motif sags by ``sag`` on the best one tried.

    ``members`` is a set that leaves little sagging, empty where there is none.
    """

    def __init__(
        self, point: tuple[float, float], sag: float, members: tuple[int, ...] = ()
    ) -> None:
        super().__init__()
        self.members = members
        self.point = point
        self.sag = sag


@dataclass(frozen=True, eq=False)
class _Sagging:
    """A place that sagged by ``depth`` on ``members``, and by how much with an option's help.

    ``reach`` (options,) with the option added or put in the place of one beam, ``alone`` (options,)
    with it alone on its side.
    """

    place: int
    depth: float
    members: tuple[int, ...]
    reach: FloatArray
    alone: FloatArray


@dataclass(eq=False)
class Fewest:
    """The search for the fewest: what is known of bending, and what was found so far.

    ``needs`` are the rows every plan keeps, ``points`` the places that ever sagged. What was found
    serves the next search with another limit; a search that was ``endless`` is not tried again.
    """

    given: Candidates
    sides: Sides
    needs: Sequence[Row]
    points: dict[int, None]
    rounds: int = 0
    endless: bool = False
    _clashes: list[Row] = field(default_factory=list)
    _sagging: list[_Sagging] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.options: Ints = np.flatnonzero(self.given.longest)
        self.stretches = sorted({int(place) for place in self.given.place})
        column = {place: number for number, place in enumerate(self.stretches)}
        self._column = np.array([column[int(p)] for p in self.given.place[self.options]])

    def run(self, limit: float) -> tuple[int, ...]:
        """Return the members of the cheapest set of longest fold lines that holds ``limit``.

        Raises:
            UnheldError: where no choice holds a place.
        """
        members = None
        if not self.endless:
            members = self.search(limit, 1.0) or self.search(limit, LIFTED)
        if members is None:
            members = Growing(self.given, self.known, self.options, self.needs, limit).run()
            if not members or np.abs(self.known.sag(self.given.chosen(members))).max() > limit:
                raise self.hopeless(members)
            self.points |= dict.fromkeys(item.place for item in self._sagging)
        return members

    def search(self, limit: float, loose: float) -> tuple[int, ...] | None:
        """Return the same, None where none is found.

        A place asks for beams that hold it within ``loose`` times the limit. With more than 1, and
        beams alone on their side counted in, the search is longer and loses fewer sets that hold
        the place by two beams together.
        """
        sagging = [item for item in self._sagging if item.depth > limit]
        rows = [self.holders(item, limit, loose) for item in sagging]
        for _ in range(_ROUNDS):
            self.rounds += 1
            if None in rows:
                return None
            found = [row for row in rows if row is not None]
            members = self.chosen([*self.needs, *self._clashes, *found])
            if members is None:
                return None
            clashes = self.clashes(members)
            self._clashes += clashes
            if clashes:
                continue
            sag = self.known.sag(self.given.chosen(members))
            places = self.sagging(sag, limit)
            if not places:
                return members
            helped = self.helped(members, places, sag)
            self._sagging += helped
            rows += [self.holders(item, limit, loose) for item in helped]
        self.endless = loose > 1
        return None

    def chosen(self, rows: Sequence[Row]) -> tuple[int, ...] | None:
        """Return the cheapest longest fold lines that keep all rows."""
        number = np.full(len(self.given.costs), -1)
        number[self.options] = np.arange(len(self.options))
        own = []
        for row in rows:
            kept = number[row.members] >= 0
            weights = None if row.weights is None else row.weights[kept]
            own.append(replace(row, members=number[row.members[kept]], weights=weights))
        found = cheapest(self.given.costs[self.options], own, _GAP)
        return None if found is None else tuple(int(self.options[k]) for k in found)

    @property
    def known(self) -> Influence:
        """What is known of bending."""
        return self.sides.known

    def rescale(self, ratio: FloatArray) -> None:
        """Take the sag of each point as ``ratio`` (P,) times what it was taken for."""
        self._sagging = [
            replace(item, depth=item.depth * own, reach=item.reach * own, alone=item.alone * own)
            for item in self._sagging
            for own in [float(ratio[item.place])]
        ]

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

    def helped(
        self, members: tuple[int, ...], places: Sequence[int], sag: FloatArray
    ) -> list[_Sagging]:
        """Return how each of ``places`` sags with any option added, or put in one beam's place."""
        companies = [tuple(m for m in members if m != out) for out in (None, *members)]
        reach = np.min([self.added(own, places) for own in companies if own], axis=0)
        alone = self.by_itself(places)
        alone[np.isin(self.options, members)] = np.inf
        reach[np.isin(self.options, members)] = np.inf
        return [
            _Sagging(place, float(abs(sag[place])), members, reach[:, k], alone[:, k])
            for k, place in enumerate(places)
        ]

    def holders(self, found: _Sagging, limit: float, loose: float) -> Row | None:
        """Return the row that asks for one of the beams that would hold a sagging place.

        Those are the options that bring it within ``loose`` times the limit; where none does alone,
        those that help most. None where beams everywhere would not hold it.
        """
        reach = found.reach if loose == 1 else np.minimum(found.reach, found.alone)
        best = float(reach.min())
        if best > 0.98 * found.depth:
            if float(abs(self.everywhere()[found.place])) > limit * loose:
                return None
            return Row(np.setdiff1d(self.options, found.members), least=1)
        near = limit * loose if best <= limit * loose else best + 0.5 * (found.depth - best)
        return Row(self.options[reach <= near], least=1)

    def everywhere(self) -> FloatArray:
        """Return the sag (P,) with beams everywhere."""
        return self.known.sag([self.known.whole(place) for place in self.stretches])

    def by_itself(self, places: Sequence[int]) -> FloatArray:
        """Return the sag (options, places) with each option alone on its side.

        The other sides have beams everywhere, so no set without a second beam on the side does
        better.
        """
        reach = np.full((len(self.options), len(places)), np.inf)
        sides = np.sign(self.given.u[self.options]).astype(int)
        points = np.array(places)
        for side in sorted(set(sides.tolist())):
            own = [p for p in self.stretches if self.sides.side[p] == side]
            whole = self.sides.alone(side).with_whole([], range(len(own)), points)
            column = {place: k for k, place in enumerate(own)}
            mine = np.flatnonzero(sides == side)
            at = [column[int(self.given.place[option])] for option in self.options[mine]]
            reach[mine] = whole[at]
        return reach

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

    def hopeless(self, members: tuple[int, ...]) -> UnheldError:
        """Return where the motif sags most on the best set tried."""
        sets = sorted({item.members for item in self._sagging})
        if not sets:
            sets = [tuple(int(option) for option in self.options)]
        fields = [np.abs(self.known.sag(self.given.chosen(own))) for own in sets]
        least = min(fields, key=lambda own: float(own.max()))
        worst = int(np.argmax(least))
        u, v = self.known.points[worst]
        return UnheldError((float(u), float(v)), float(least[worst]), members)
