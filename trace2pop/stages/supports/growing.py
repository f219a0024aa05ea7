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
        if not members:
            return np.inf
        sag = np.abs(self.known.sag(self.given.chosen(members)))
        return float(np.maximum(sag - self.limit, 0).sum())

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
        left = self.left(members, free)
        best = int(np.argmin(left))
        if not asked and left[best] >= self.over(members) - 1e-9:
            return None
        return (*members, free[best])

    def left(self, members: Sequence[int], options: Sequence[int]) -> FloatArray:
        """Return by how much all points sag too far with each of ``options`` (n,) added."""
        places = [int(self.given.place[option]) for option in options]
        unlike = sorted(set(places))
        every = np.arange(len(self.known.points))
        sag = self.known.with_whole(self.given.chosen(members), unlike, every)
        over = np.maximum(sag - self.limit, 0).sum(axis=1)
        at = {place: k for k, place in enumerate(unlike)}
        result: FloatArray = over[[at[place] for place in places]]
        return result

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
            left = self.left(rest, free)
            for k in map(int, np.flatnonzero(left <= 0)):
                if self.kept((*rest, free[k])):
                    yield (*rest, free[k])
