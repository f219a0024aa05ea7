"""The search for beams: choose, prove, learn from the proof, choose again."""

from dataclasses import dataclass, replace

import numpy as np

from trace2pop.errors import SupportError
from trace2pop.model.card import Beam, Choice, Sag
from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports import refusal
from trace2pop.stages.supports.candidates import Sides
from trace2pop.stages.supports.ends import free_ends
from trace2pop.stages.supports.fewest import Fewest, UnheldError
from trace2pop.stages.supports.proof import judged
from trace2pop.stages.supports.shortest import MANY, Found, Shortest
from trace2pop.stages.supports.standing import Standing
from trace2pop.stages.supports.task import Proved, Task

_TRIES = 6
_FREED = 2
"""How often ends are left free before what was found is taken as it is."""
_WORTH = 0.05
"""Fold line in mm that is not worth another look: less than a cutter's step."""

Solved = tuple[tuple[Beam, ...], Sag, Choice | None]


def solve(task: Task) -> Solved:
    """Return the fewest, then shortest beams, how the motif sags on them, how good they are.

    Raises:
        SupportError: where none hold, or not as many as asked for.
    """
    if task.settings.only_given:
        return *task.given(), None
    return Search(task).run()


@dataclass(eq=False)
class Search:
    """The rounds of a task.

    ``ratio`` (P,) is what was learnt: the proof's sag over the model's; ``floor`` (P,) the least it
    may be again, where a choice was disproved. ``best`` is the cheapest choice proved, ``nearest``
    the proof with the least sag, and what was learnt from it.
    """

    task: Task
    best: tuple[Found, Proved] | None = None
    nearest: tuple[Proved, FloatArray] | None = None
    found: Found | None = None
    grown: tuple[int, ...] = ()
    rounds: int = 0
    unheld: int = 0

    def __post_init__(self) -> None:
        task = self.task
        self.limit = task.settings.sag_limit
        self.ratio = np.ones(len(task.known.points))
        self.floor = np.zeros(len(task.known.points))
        self.sides = Sides(task.options, task.known)
        self.fewest = Fewest(task.options, self.sides, task.needs(), {})
        standing = Standing(task.options, self.sides, self.fewest.points, task.pinned())
        self.counted = task.settings.count is not None
        self.shortest = Shortest(standing, self.counted)
        self.proofs: dict[tuple[int, ...], Proved] = {}

    def run(self) -> Solved:
        """Return the best choice, or what is left where none holds.

        Raises:
            SupportError: where no beams fit beside one another, not as many as asked for hold, or
                an end bends too far by its own weight.
        """
        while self.rounds < _TRIES:
            self.rounds += 1
            chosen = self.chosen()
            if chosen is None or chosen in self.proofs:
                break
            enough = self.best is not None or len(chosen) > MANY
            holds = self.learn(chosen)
            if enough and self.best is not None:
                break
            if self.unheld and not holds and chosen != self.grown:
                break
        if self.best is not None:
            return *self.best[1], self.task.choice(self.best[0])
        assert self.nearest is not None
        (beams, sag), ratio = self.nearest
        return (beams, sag, None) if sag.holds else self.left_free(beams, sag, ratio)

    def chosen(self) -> tuple[int, ...] | None:
        """Return the set to prove next; None where it would be no better than the best so far."""
        again = None
        if self.found is not None:
            again = self.shortest.again(self.found.members, self.limit)
        if self.best is not None and again is None:
            return None
        try:
            self.found = self.shortest.run(again or self.started(), self.limit)
        except UnheldError as error:
            self.unheld += 1
            if self.counted or not error.members:
                raise self.refused() from None
            self.grown = error.members
            return error.members if self.unheld == 1 else None
        if self.best is not None and self.found.cost >= self.best[0].cost - _WORTH:
            return None
        return self.found.members

    def started(self) -> tuple[int, ...]:
        """Return a set to start from; where none was found before, also among shorter fold lines.

        Raises:
            UnheldError: where none holds.
        """
        if not self.unheld:
            try:
                return self.fewest.run(self.limit)
            except UnheldError as error:
                if error.members or self.counted:
                    raise
            # Longest fold lines are in one another's way; shorter ones may not be.
            return self.shortest.start(self.fewest, self.limit)
        try:
            return self.shortest.start(self.fewest, self.limit)
        except UnheldError:
            if self.proofs[self.grown][1].holds:
                return self.grown
            raise

    def learn(self, members: tuple[int, ...]) -> bool:
        """Prove a set, and take the model's sag from now on for what it was there.

        Returns whether it holds.
        """
        proved = self.proofs[members] = self.task.proved(members)
        sag = proved[1]
        learnt = self.task.learnt(members, sag, self.ratio)
        chosen = self.found is not None and self.found.members == members
        if chosen and self.found is not None and sag.holds:
            self.best = (self.found, proved)
        if chosen and not sag.holds:
            self.floor = np.maximum(self.floor, np.where(learnt > self.ratio, learnt, 0.0))
        if self.nearest is None or sag.max < self.nearest[0][1].max:
            self.nearest = (proved, learnt)
        learnt = learnt if sag.holds else np.maximum(learnt, self.floor)
        self.fewest.rescale(learnt / self.ratio)
        self.sides.rescale(learnt / self.ratio)
        self.ratio = learnt
        return sag.holds

    def left_free(self, beams: tuple[Beam, ...], sag: Sag, ratio: FloatArray) -> Solved:
        """Return beams that leave free the ends for which none has room beside the nearest ones.

        Raises:
            SupportError: where one bends too far by its own weight.
        """
        if self.counted:
            raise self.refused()
        more = free_ends(sag.points, sag.triangles, sag.depth, sag.limit)
        ends = self.task.ends.joined(more)
        sag = judged(sag, ends)
        if not sag.holds:
            worst = sag.free[0]
            raise refusal.beyond(worst.at, worst.sag, self.task.settings, whatever=False)
        if self.task.freed == _FREED:
            return beams, sag, None
        try:
            return solve(self.task.without(ends, ratio))
        except SupportError:
            return beams, sag, None

    def refused(self) -> SupportError:
        """Return why there is no plan: beams that don't fit, or not as many as asked for."""
        count = self.task.settings.count
        if count is None:
            standing = self.shortest.smallest(np.inf)
            sag = None if standing is None else self.task.proved(standing)[1]
            return refusal.crowded(self.task.settings, sag)
        free = replace(self.task, settings=replace(self.task.settings, count=None))
        beams, _, _ = solve(free)
        return refusal.count(count, len(beams))
