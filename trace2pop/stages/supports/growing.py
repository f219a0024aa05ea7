"""A set of beams that holds, grown beam by beam: for motifs of so many limbs that no search ends.

Not always the fewest. Each beam is the one that takes most off what sags too far; in the end beams
are taken out, or two changed for one, as long as all still holds.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.candidates import Candidates
from trace2pop.stages.supports.choose import Row
from trace2pop.stages.supports.influence import Influence

_MOST = 40
"""Beams after which a motif is given up."""
_NEAR = 60.0
"""Beams further apart than this are not changed for one between them."""

_AT_ONCE = 12
"""Options looked at together."""
_TELLING = 8
"""Points that decide first whether an option is looked at any further."""

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Growing:
    """``options`` (n,) to choose from, whole stretches; ``needs`` are the rows every plan keeps."""

    given: Candidates
    known: Influence
    options: Ints
    needs: Sequence[Row]
    limit: float

    def run(self, members: tuple[int, ...] = ()) -> tuple[int, ...]:
        """Return a set that holds, or leaves little sagging; empty where none keeps the rows.

        It grows from ``members``.
        """
        while self.over(members) > 0 or not self.kept(members):
            better = self.added(members)
            if better is None or len(better) > _MOST:
                return members if self.kept(members) else ()
            members = better
        return self.pruned(members)

    def over(self, members: Sequence[int]) -> float:
        """Return by how much all points together sag too far."""
        return float(np.maximum(self.sag(members) - self.limit, 0).sum()) if members else np.inf

    def sag(self, members: Sequence[int]) -> FloatArray:
        """Return the sag (P,) of every point on a set."""
        known = self.known
        result: FloatArray = np.abs(
            known.sag(self.given.chosen(members)) if members else known.all_sunk
        )
        return result

    def kept(self, members: Sequence[int]) -> bool:
        """Whether the set keeps the rows of every plan."""
        return not any(self.wanting(row, members) for row in self.needs)

    def wanting(self, row: Row, members: Sequence[int]) -> bool:
        """Whether a set has fewer beams of a row than it asks for."""
        return int(np.isin(row.members, members).sum()) < row.least

    def free(self, members: Sequence[int]) -> list[int]:
        """Return the options that keep apart from a set."""
        return [int(option) for option in self.options[self.given.beside(members, self.options)]]

    def added(self, members: tuple[int, ...]) -> tuple[int, ...] | None:
        """Return the set with the option that helps most; those that a row asks for come first."""
        free = self.free(members)
        asked = [row for row in self.needs if self.wanting(row, members)]
        if asked:
            free = [option for option in free if option in asked[0].members]
        if not free:
            return None
        best, left = self.best(members, free)
        if not asked and left >= self.over(members) - 1e-9:
            return None
        return (*members, best)

    def best(self, members: Sequence[int], options: Sequence[int]) -> tuple[int, float]:
        """Return the option that leaves least sagging, and how much.

        What it leaves of the points that sag now is the least it leaves of all: most options are
        worse than the best already there.
        """
        now = np.flatnonzero(self.sag(members) > self.limit)
        least = self.left(members, options, now)
        order = np.argsort(least, kind="stable")
        found = np.full(len(options), np.inf)
        for first in range(0, len(order), _AT_ONCE):
            some = order[first : first + _AT_ONCE]
            if least[some[0]] > found.min():
                break
            found[some] = self.left(members, [options[int(k)] for k in some])
        best = int(np.argmin(found))
        return options[best], float(found[best])

    def left(
        self, members: Sequence[int], options: Sequence[int], points: Ints | None = None
    ) -> FloatArray:
        """Return by how much ``points`` sag too far with each of ``options`` (n,) added."""
        places = [int(self.given.place[option]) for option in options]
        unlike = sorted(set(places))
        points = np.arange(len(self.known.points)) if points is None else points
        sag = self.known.with_whole(self.given.chosen(members), unlike, points)
        over = np.maximum(sag - self.limit, 0).sum(axis=1)
        at = {place: k for k, place in enumerate(unlike)}
        result: FloatArray = over[[at[place] for place in places]]
        return result

    def enough(self, members: Sequence[int], options: Sequence[int]) -> list[int]:
        """Return the options with which all holds."""
        worst = np.argsort(-self.sag(members), kind="stable")[:_TELLING]
        for points in (worst, None):
            left = self.left(members, options, points) if options else np.empty(0)
            options = [options[int(k)] for k in np.flatnonzero(left <= 0)]
        return list(options)

    def pruned(self, members: tuple[int, ...]) -> tuple[int, ...]:
        """Return a set no larger: beams that nothing needs taken out, pairs changed for one."""
        better: tuple[int, ...] | None = members
        while better is not None:
            members = better
            better = next(self.smaller(members), None)
        return tuple(sorted(members))

    def smaller(self, members: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """Yield sets of a beam less that hold."""
        for out in sorted(members, key=lambda member: -self.given.costs[member]):
            rest = tuple(member for member in members if member != out)
            if self.kept(rest) and self.over(rest) == 0:
                yield rest
        for one, other in combinations(members, 2):
            if abs(self.given.u[one] - self.given.u[other]) > _NEAR:
                continue
            rest = tuple(member for member in members if member not in (one, other))
            free = self.free(rest) if rest else []
            if not free:
                continue
            for option in self.enough(rest, free):
                if self.kept((*rest, option)):
                    yield (*rest, option)
