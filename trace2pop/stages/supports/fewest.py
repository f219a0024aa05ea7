"""The fewest beams that hold: choose, look where it sags, choose again.

Every place found to sag becomes a row: one of the beams that would hold that place must be in. The
longest fold line of each stretch stands for all of them, as longer ones hold more.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.candidates import Candidates
from trace2pop.stages.supports.choose import Row, cheapest
from trace2pop.stages.supports.influence import Influence

_ROUNDS = 200
_PLACES = 4
_NEAR = 15.0
"""Sagging places nearer than this to a worse one are left to the next round."""

Ints = NDArray[np.int64]


class UnheldError(Exception):
    """No set of beams holds: at ``point`` the motif sags by ``sag`` on the best one tried."""

    def __init__(self, point: tuple[float, float], sag: float) -> None:
        super().__init__()
        self.point = point
        self.sag = sag


@dataclass(frozen=True, eq=False)
class _Sagging:
    """A place that sagged by ``depth`` on ``members``, and by ``reach`` (options,) with help."""

    place: int
    depth: float
    members: tuple[int, ...]
    reach: FloatArray


@dataclass(eq=False)
class Fewest:
    """The search for the fewest: what is known of bending, and what was found so far.

    ``needs`` are the rows every plan keeps, ``points`` the places that ever sagged. What was found
    serves the next search with another limit.
    """

    given: Candidates
    known: Influence
    needs: Sequence[Row]
    points: dict[int, None]
    rounds: int = 0
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
        short = Row(np.flatnonzero(~self.given.longest), most=0)
        rows = [self.holders(item, limit) for item in self._sagging if item.depth > limit]
        for _ in range(_ROUNDS):
            self.rounds += 1
            members = cheapest(self.given.costs, [*self.needs, short, *self._clashes, *rows])
            if members is None:
                break
            clashes = self.clashes(members)
            self._clashes += clashes
            if clashes:
                continue
            sag = self.known.sag(self.given.chosen(members))
            places = self.sagging(sag, limit)
            if not places:
                return members
            found = self.helped(members, places, sag)
            self._sagging += found
            rows += [self.holders(item, limit) for item in found]
        raise self.hopeless()

    def rescale(self, ratio: FloatArray) -> None:
        """Take the sag of each point as ``ratio`` (P,) times what it was taken for."""
        self.known = self.known.scaled(ratio)
        self._sagging = [
            replace(item, depth=item.depth * own, reach=item.reach * own)
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
        reach[np.isin(self.options, members)] = np.inf
        return [
            _Sagging(place, float(abs(sag[place])), members, reach[:, k])
            for k, place in enumerate(places)
        ]

    def holders(self, found: _Sagging, limit: float) -> Row:
        """Return the row that asks for one of the beams that would hold a sagging place.

        Those are the options that bring it within the limit; where none does alone, those that help
        most.
        """
        holding = found.reach <= limit
        if not holding.any():
            best = float(found.reach.min())
            if best > 0.98 * found.depth:
                raise self.hopeless()
            holding = found.reach <= best + 0.5 * (found.depth - best)
        return Row(self.options[holding], least=1)

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

    def hopeless(self) -> UnheldError:
        """Return where the motif sags most on the best set tried."""
        sets = sorted({item.members for item in self._sagging})
        fields = [np.abs(self.known.sag(self.given.chosen(own))) for own in sets]
        least = min(fields, key=lambda own: float(own.max()))
        worst = int(np.argmax(least))
        u, v = self.known.points[worst]
        return UnheldError((float(u), float(v)), float(least[worst]))
