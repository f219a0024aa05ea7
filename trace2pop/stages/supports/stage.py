"""The fewest beams that hold the motif, proved by its bending."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity

from trace2pop.geometry import beziers
from trace2pop.limits import SLIT_LINE_SHARE
from trace2pop.mechanism.closed import closed_stack
from trace2pop.mechanism.slits import slit_for
from trace2pop.model.card import Beam, CardPlan, CutMotif, Sag
from trace2pop.model.settings import SupportSettings
from trace2pop.model.stock import Stocks
from trace2pop.stages.supports import refusal
from trace2pop.stages.supports.candidates import Candidates, candidates
from trace2pop.stages.supports.choose import Row
from trace2pop.stages.supports.fewest import Fewest, UnheldError
from trace2pop.stages.supports.influence import Influence, influence
from trace2pop.stages.supports.places import Room, Stretch, lines, room, stretches
from trace2pop.stages.supports.proof import Sheet, mesh_size, prove, sheet
from trace2pop.stages.supports.shortest import Shortest

SPACING = 2.0
"""Distance of candidate lines."""
_STEP = 5.0
"""Distance at which a fold line may begin or end along its stretch."""
_COARSE = 320
_FINE = 1700
_TRIES = 6
_GUESS = 0.95
"""The proof's sag over the search's, before it is known."""
_STEP_UP = 1.01
_CLOSE = 0.95
"""A sag above this share of the limit leaves nothing worth another search."""


def supports(cut: CutMotif, settings: SupportSettings, stocks: Stocks, adhesive: float) -> CardPlan:
    """Return the card plan: the fewest, then shortest beams that hold the motif.

    Raises:
        SupportError: where no beam has room on the crease or on a half, or a place sags too far
            whatever stands under it.
    """
    card = cut.placed.card
    shape = shapely.Polygon(beziers.polygon(cut.outline))
    given = room(cut, settings, stocks["beam"])
    mirrored = cut.placed.symmetric
    if mirrored:
        given = replace(
            given, paper=given.paper.intersection(affinity.scale(given.paper, -1, 1, origin=(0, 0)))
        )
    places = _places(given, mirrored=mirrored)
    refusal.check_room(shape, given, places, settings)
    plate = sheet(shape, stocks, settings.handling_load, _unreachable(shape, places))
    part = _right_half(shape) if mirrored else shape
    known = influence(part, places, plate, size=mesh_size(shape, _COARSE), step=_STEP)
    share = SLIT_LINE_SHARE.value * card.height - settings.slit_clearance
    middle = (given.head + given.foot) / 2
    options = candidates(places, known, middle, share, mirrored=mirrored)
    task = _Task(options, known, plate, settings, stocks, mirrored)
    beams, sag = task.solve()
    closed = closed_stack(card, shape, beams, stocks, adhesive, cut.hand_parts)
    return CardPlan(cut, beams, sag, closed)


def _places(given: Room, *, mirrored: bool) -> list[Stretch]:
    sides = lines(given, SPACING)
    at = [0.0, *(float(u) for u in sides if u > 0 or not mirrored)]
    return [stretch for u in at for stretch in stretches(given, u)]


def _right_half(shape: shapely.Polygon) -> shapely.Polygon:
    """Return both halves laid on the right one, as one polygon."""
    both = shapely.union(shape, affinity.scale(shape, -1, 1, origin=(0, 0)))
    _, top, right, bottom = both.bounds
    half = both.intersection(shapely.box(0, top - 1, right + 1, bottom + 1))
    return max(shapely.get_parts(half), key=lambda piece: piece.area)


def half_pieces(shape: shapely.Polygon) -> list[shapely.Polygon]:
    """Return what the crease divides the motif into."""
    left, top, right, bottom = shape.bounds
    pieces = []
    for low, high in ((left - 1, 0.0), (0.0, right + 1)):
        half = shape.intersection(shapely.box(low, top - 1, high, bottom + 1))
        pieces += [piece for piece in shapely.get_parts(half) if piece.area > 1e-6]
    return pieces


def _unreachable(shape: shapely.Polygon, places: Sequence[Stretch]) -> shapely.Geometry:
    """Return the pieces beside the crease that have no place for a beam of their own."""
    folds = shapely.union_all(
        [shapely.LineString([(s.u, s.v0), (s.u, s.v1)]) for s in places if s.u != 0]
        + [shapely.LineString([(-s.u, s.v0), (-s.u, s.v1)]) for s in places if s.u != 0]
    )
    return shapely.union_all([piece for piece in half_pieces(shape) if not piece.intersects(folds)])


@dataclass(frozen=True, eq=False)
class _Task:
    options: Candidates
    known: Influence
    plate: Sheet
    settings: SupportSettings
    stocks: Stocks
    mirrored: bool

    def solve(self) -> tuple[tuple[Beam, ...], Sag]:
        """Search in the quick model, prove on the fine net, scale the model by it and repeat."""
        limit = self.settings.sag_limit
        size = mesh_size(self.plate.shape, _FINE)
        points: dict[int, None] = {}
        fewest = Fewest(self.options, self.known, self.needs(), points)
        shortest = Shortest(self.options, self.known, points)
        best: tuple[float, tuple[Beam, ...], Sag] | None = None
        # Between ``safe``, which gave a plan that holds, and ``rash``, which gave none.
        ratio, safe, rash = _GUESS, np.inf, 0.0
        for _ in range(_TRIES):
            try:
                start = fewest.run(limit / ratio)
            except UnheldError as error:
                if best is not None:
                    break
                raise refusal.sags(error, ratio, self.settings) from None
            found = shortest.run(start, limit / ratio)
            beams = self.beams(found.members)
            sag = prove(self.plate, beams, limit, size)
            modelled = float(np.abs(self.known.sag(self.options.chosen(found.members))).max())
            measured = sag.max / modelled
            if sag.max <= limit:
                if best is None or found.cost < best[0]:
                    best = (found.cost, beams, sag)
                safe = ratio
                if sag.max > _CLOSE * limit:
                    break
                ratio = max(measured, rash * _STEP_UP)
            else:
                rash = max(rash, ratio)
                ratio = max(measured, ratio) * _STEP_UP
            if not rash < ratio < safe / _STEP_UP:
                break
        if best is None:
            raise refusal.unproved(sag)
        return best[1], best[2]

    def needs(self) -> list[Row]:
        """Return what every plan has: a beam on the crease, one on each half."""
        u = self.options.u
        sides = [u == 0, u > 0] if self.mirrored else [u == 0, u > 0, u < 0]
        return [Row(np.flatnonzero(side), least=1) for side in sides]

    def beams(self, members: Sequence[int]) -> tuple[Beam, ...]:
        """Return the beams of a set, numbered: on the crease first, then from left to right."""
        options = self.options
        rows: list[tuple[float, float, float, float]] = []
        for index in members:
            v0, v1 = _rounded(float(options.v0[index]), float(options.v1[index]))
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
                taper_deg=self.settings.taper,
                slit=slit_for(v0, v1, self.settings.slit_clearance, self.stocks["beam"]),
            )
            for number, (u, v0, v1, flange) in enumerate(rows, start=1)
        )


def _rounded(v0: float, v1: float) -> tuple[float, float]:
    """Return a fold line with ends on hundredths, never longer."""
    return float(np.ceil(v0 * 100 - 1e-6) / 100), float(np.floor(v1 * 100 + 1e-6) / 100)
