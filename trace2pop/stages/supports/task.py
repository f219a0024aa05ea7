"""All that is known when beams are chosen, and the proof of what is."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from trace2pop.mechanism.plate import FloatingError
from trace2pop.mechanism.slits import slit_for
from trace2pop.model.card import Beam, Choice, Sag
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import SupportSettings
from trace2pop.model.stock import Stocks
from trace2pop.stages.supports import refusal
from trace2pop.stages.supports.candidates import Candidates
from trace2pop.stages.supports.choose import Row
from trace2pop.stages.supports.ends import Ends
from trace2pop.stages.supports.influence import Influence
from trace2pop.stages.supports.places import Stretch
from trace2pop.stages.supports.proof import Sheet, mesh_size, prove
from trace2pop.stages.supports.shortest import Found

FINE = 1700
"""Points of the net that proves."""
_TELLING = 0.3
"""A sag under this share of the limit counts as this: it tells little about the model."""

Proved = tuple[tuple[Beam, ...], Sag]
Solved = tuple[tuple[Beam, ...], Sag, Choice | None]


@dataclass(frozen=True, eq=False)
class Task:
    """All that is known when the choosing starts.

    ``load`` (P,) is the share of the handling load that each point of ``known`` counts; ``freed``
    how often ends were left free.
    """

    options: Candidates
    known: Influence
    plate: Sheet
    settings: SupportSettings
    stocks: Stocks
    mirrored: bool
    places: Sequence[Stretch]
    ends: Ends
    load: FloatArray
    freed: int = 0

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
        seen = [np.abs(sag.depth[tree.query(at * [side, 1])[1]]) for side in _sides(self.mirrored)]
        real = self.load * np.max(seen, axis=0)
        model = np.abs(self.known.sag(self.options.chosen(members)))
        least = _TELLING * sag.limit
        told = model > least
        result: FloatArray = np.where(
            told, np.maximum(real, least) / np.where(told, model, 1.0), before
        )
        return result

    def given(self) -> Proved:
        """Return the maker's own beams, if they hold.

        Raises:
            SupportError: where they don't, or the crease or a half has none.
        """
        beams, sag = self.proved(range(len(self.options.folds)))
        if not sag.holds:
            raise refusal.unproved(sag, self.settings)
        return beams, sag

    def without(self, ends: Ends, ratio: FloatArray) -> "Task":
        """Return the task with ``ends`` left free: there the motif's own weight counts alone.

        With the model's sag ``ratio`` (P,) times what it was.
        """
        load = loads(self.known, ends, self.settings.handling_load, mirrored=self.mirrored)
        known = self.known.scaled(ratio * load / self.load)
        return replace(self, ends=ends, known=known, load=load, freed=self.freed + 1)

    def proved(self, members: Sequence[int]) -> Proved:
        """Return a set as beams, and how the motif sags on them on the fine net.

        Raises:
            SupportError: where a part isn't held at all.
        """
        beams = self.beams(members)
        size = mesh_size(self.plate.shape, FINE)
        try:
            return beams, prove(self.plate, beams, self.settings.sag_limit, size, self.ends)
        except FloatingError:
            raise refusal.floating(self.settings) from None

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
                v0, v1 = _rounded(v0, v1, self.places[options.place[index]].least)
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


def _rounded(v0: float, v1: float, least: float) -> tuple[float, float]:
    """Return a fold line with ends on hundredths, never longer, nor shorter than ``least``."""
    low, high = float(np.ceil(v0 * 100 - 1e-6) / 100), float(np.floor(v1 * 100 + 1e-6) / 100)
    return (low, high) if high - low >= least else (v0, v1)


def loads(known: Influence, ends: Ends, handling_load: float, *, mirrored: bool) -> FloatArray:
    """Return the share (P,) of the handling load that counts: on free ends their own weight.

    Where a half stands for both, the ends of both are free.
    """
    free = np.max([ends.at(known.points * [side, 1]) for side in _sides(mirrored)], axis=0) >= 0
    result: FloatArray = np.where(free, 1 / handling_load, 1.0)
    return result


def _sides(mirrored: bool) -> tuple[int, ...]:
    """Return what the u of a point is multiplied by to get all it stands for."""
    return (1, -1) if mirrored else (1,)
