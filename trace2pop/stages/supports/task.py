"""From candidates to beams that are proved to hold."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trace2pop.errors import SupportError
from trace2pop.mechanism.plate import FloatingError
from trace2pop.mechanism.slits import slit_for
from trace2pop.model.card import Beam, Choice, Sag
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import SupportSettings
from trace2pop.model.stock import Stocks
from trace2pop.stages.supports import refusal
from trace2pop.stages.supports.candidates import Candidates, Sides
from trace2pop.stages.supports.choose import Row
from trace2pop.stages.supports.ends import Ends, free_ends
from trace2pop.stages.supports.fewest import Fewest, UnheldError
from trace2pop.stages.supports.influence import Influence
from trace2pop.stages.supports.places import Stretch
from trace2pop.stages.supports.proof import Sheet, mesh_size, prove
from trace2pop.stages.supports.shortest import Found, Shortest
from trace2pop.stages.supports.standing import Standing

FINE = 1700
"""Points of the net that proves."""
_TRIES = 6
_WORTH = 0.05
"""Fold line in mm that is not worth another look: less than a cutter's step."""
_SOFTER, _SOFTEST = 0.85, 0.7
"""What flanges may take off the search's sag, tried before a motif is refused."""
_TELLING = 0.3
"""A sag under this share of the limit tells nothing about the search's model."""

Proved = tuple[tuple[Beam, ...], Sag]
Solved = tuple[tuple[Beam, ...], Sag, Choice | None]


@dataclass(frozen=True, eq=False)
class Task:
    """All that is known when the choosing starts."""

    options: Candidates
    known: Influence
    plate: Sheet
    settings: SupportSettings
    stocks: Stocks
    mirrored: bool
    places: Sequence[Stretch]
    ends: Ends
    load: FloatArray

    def solve(self) -> Solved:
        """Return the fewest, then shortest beams, how the motif sags on them, how good they are.

        Raises:
            SupportError: where none hold, or not as many as asked for.
        """
        if self.settings.only_given:
            return *self.given(), None
        limit = self.settings.sag_limit
        sides = Sides(self.options, self.known)
        fewest = Fewest(self.options, sides, self.needs(), {})
        counted = self.settings.count is not None
        shortest = Shortest(Standing(self.options, sides, fewest.points, self.pinned()), counted)
        ratio = np.ones(len(self.known.points))
        best: tuple[Found, Proved] | None = None
        proved: Proved | None = None
        found: Found | None = None
        for _ in range(_TRIES):
            try:
                resumed = None if found is None else shortest.again(found.members, limit)
                found = shortest.run(resumed, limit) if resumed else shortest.after(fewest, limit)
            except UnheldError as error:
                if best is not None:
                    break
                if ratio.max() < _SOFTEST or proved is not None:
                    return self.left_free(error.members, self.refused(error))
                learnt = ratio * _SOFTER
            else:
                if best is not None and found.cost >= best[0].cost - _WORTH:
                    break
                proved = self.proved(found.members)
                if proved[1].holds:
                    best = (found, proved)
                learnt = self.learnt(found.members, proved[1], ratio)
            fewest.rescale(learnt / ratio)
            sides.rescale(learnt / ratio)
            ratio = learnt
        if best is None:
            assert proved is not None
            return self.left_free(found.members if found else (), refusal.unproved(proved[1]))
        return *best[1], self.choice(best[0])

    def choice(self, found: Found) -> Choice:
        """Return how good a choice is."""
        own = list(found.members)
        given = self.options
        length = float((given.counts[own] * (given.v1 - given.v0)[own]).sum())
        return Choice(length, length - max(found.cost - found.bound, 0.0), found.tried)

    def learnt(self, members: Sequence[int], sag: Sag, before: FloatArray) -> FloatArray:
        """Return the proof's sag over the search's (P,), where it is large enough to tell."""
        from scipy.spatial import cKDTree

        tree = cKDTree(sag.points)
        at = self.known.points
        sides = (1, -1) if self.mirrored else (1,)
        seen = [np.abs(sag.depth[tree.query(at * [side, 1])[1]]) for side in sides]
        real = self.load * np.max(seen, axis=0)
        model = np.abs(self.known.sag(self.options.chosen(members)))
        least = _TELLING * sag.limit
        told = (real > least) & (model > least)
        result: FloatArray = np.where(told, real / np.where(told, model, 1.0), before)
        return result

    def given(self) -> Proved:
        """Return the maker's own beams, if they hold.

        Raises:
            SupportError: where they don't, or the crease or a half has none.
        """
        try:
            beams, sag = self.proved(range(len(self.options.folds)))
        except FloatingError:
            raise refusal.floating() from None
        if not sag.holds:
            raise refusal.unproved(sag)
        return beams, sag

    def left_free(self, members: Sequence[int], otherwise: SupportError) -> Solved:
        """Return beams that leave ends free for which no beam has room beside the others.

        Raises:
            SupportError: ``otherwise``, where what is left bends too far by its own weight.
        """
        if not members or self.settings.count is not None:
            raise otherwise
        try:
            _, sag = self.proved(members)
        except FloatingError:
            raise otherwise from None
        ends = free_ends(sag.points, sag.triangles, sag.depth, sag.limit)
        beams, sag = replace(self, ends=ends).proved(members)
        if not sag.holds:
            raise otherwise
        return beams, sag, None

    def refused(self, error: UnheldError) -> SupportError:
        """Return why there is no plan: no such count of beams, or a place that sags."""
        count = self.settings.count
        if count is not None:
            free = replace(self, settings=replace(self.settings, count=None))
            beams, _, _ = free.solve()
            return refusal.count(count, len(beams))
        return refusal.sags(error.point, error.sag, self.settings, whatever=False)

    def proved(self, members: Sequence[int]) -> Proved:
        """Return a set as beams, and how the motif sags on them on the fine net."""
        beams = self.beams(members)
        size = mesh_size(self.plate.shape, FINE)
        return beams, prove(self.plate, beams, self.settings.sag_limit, size, self.ends)

    def pinned(self) -> frozenset[int]:
        """Return the stretches that are always taken."""
        return frozenset(k for k, place in enumerate(self.places) if place.pinned)

    def needs(self) -> list[Row]:
        """Return what every plan has: a beam on the crease, one a half, those given, the count."""
        options = self.options
        sides = [options.u == 0, options.u > 0, *([] if self.mirrored else [options.u < 0])]
        rows = [Row(np.flatnonzero(side), least=1) for side in sides]
        rows += [Row(np.flatnonzero(options.place == k), least=1) for k in sorted(self.pinned())]
        if self.settings.count is not None:
            every, count = np.arange(len(options.u)), self.settings.count
            rows.append(Row(every, least=count, most=count, weights=options.counts))
        return rows

    def beams(self, members: Sequence[int]) -> tuple[Beam, ...]:
        """Return the beams of a set, numbered: on the crease first, then from left to right."""
        options, settings = self.options, self.settings
        rows: list[tuple[float, float, float, float]] = []
        for index in members:
            v0, v1 = float(options.v0[index]), float(options.v1[index])
            if not self.places[options.place[index]].pinned:
                v0, v1 = _rounded(v0, v1)
            u, flange = float(options.u[index]), float(options.flange[index])
            sides = (u, -u) if options.counts[index] == 2 else (u,)
            rows += [(side, v0, v1, flange) for side in sides]
        rows.sort(key=lambda row: (row[0] != 0, row[0], row[1]))
        return tuple(
            Beam(
                id=number,
                part=f"beam-{number}",
                u=u,
                v0=v0,
                v1=v1,
                flange=flange,
                taper_deg=settings.taper,
                slit=slit_for(v0, v1, settings.slit_clearance, self.stocks["beam"]),
            )
            for number, (u, v0, v1, flange) in enumerate(rows, start=1)
        )


def _rounded(v0: float, v1: float) -> tuple[float, float]:
    """Return a fold line with ends on hundredths, never longer."""
    return float(np.ceil(v0 * 100 - 1e-6) / 100), float(np.floor(v1 * 100 + 1e-6) / 100)
