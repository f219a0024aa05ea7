"""Every wrong way to put a beam into a slit, and whether it is blocked, shows or does no harm."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import shapely

from trace2pop.checks.base import Base
from trace2pop.checks.beams import BuiltBeam
from trace2pop.checks.report import BLOCKED, HARMLESS, SHOWS, Judge
from trace2pop.model.outline import FloatArray

_SEEN = 1.0
"""How far a hole lies off its pinhole, or a slit is too long, before the maker sees it, in mm."""

_INSIDE = 0.5
"""Share of the inset asked for that a wrong beam's upper flange must keep to do no harm."""

_TOUCH = 1e-3
_ON_CREASE = 0.05

Way = Literal["upside down", "head to foot", "the right way up"]


@dataclass(frozen=True)
class Insertion:
    """A beam in a slit, some way round, and its outcome: blocked, shows, harmless or "unseen"."""

    beam: str
    slit: str
    way: Way
    outcome: str


@dataclass(frozen=True, eq=False)
class Standing:
    """What the beams of a card stand between: its base, and the motif's paper on it.

    ``inset`` is how far upper flanges were asked to lie inside the motif's edge.
    """

    base: Base
    beams: tuple[BuiltBeam, ...]
    motif: shapely.Geometry
    inset: float

    @cached_property
    def hidden(self) -> shapely.Geometry:
        """Where a wrong beam's upper flanges may lie."""
        return self.motif.buffer(-_INSIDE * self.inset)

    @cached_property
    def strips(self) -> shapely.Geometry:
        """The base's hinge strips."""
        return shapely.union_all([strip.on_card(strip.outline) for strip in self.base.hinges])

    def pins(self, slit: BuiltBeam) -> FloatArray:
        """Return the pinholes over a beam's lower flanges, as ``_marks`` does its holes."""
        holes = [
            shapely.Polygon(line.points)
            for piece in self.base.pieces
            for line in map(piece.line_on_card, piece.holes)
        ]
        under = [hole for hole in holes if any(panel.contains(hole) for panel in slit.lower)]
        return _marks(under, slit)

    def harmless(self, beam: BuiltBeam, slit: BuiltBeam, way: Way) -> bool:
        """Whether a beam may stand in a slit that isn't its own, wherever the slit lets it lie.

        Its upper flanges stay under the motif, its lower ones on the base, clear of other slits;
        none crosses the crease or meets the flanges of a third beam.
        """
        upper, lower = (_moved(panels, beam, slit, way) for panels in (beam.upper, beam.lower))
        if way == "upside down":
            upper, lower = lower, upper
        # Where its own beam may lie, another may as well.
        own = _moved(slit.upper, slit, slit, "the right way up")
        hidden = shapely.union_all([self.hidden, *own]).buffer(_TOUCH)
        others = [one for one in self.beams if one not in (beam, slit)]
        slits = [
            shapely.LineString([(one.plan.u, one.plan.slit[0]), (one.plan.u, one.plan.slit[1])])
            for one in self.beams
            if one is not slit
        ]
        return (
            all(hidden.covers(panel) for panel in upper)
            and all(self.base.paper.covers(panel) for panel in lower)
            and not any(panel.intersects(line) for panel in lower for line in slits)
            and not any(_meet(panel, self.strips) for panel in lower)
            and not any(_meet(a, b) for one in others for a in upper for b in one.upper)
            and not any(_meet(a, b) for one in others for a in lower for b in one.lower)
            and (abs(slit.plan.u) < _ON_CREASE or not any(map(_crosses, (*upper, *lower))))
        )


def check_insertions(standing: Standing, judge: Judge) -> None:
    """Judge every wrong insertion: those that pass the slit must show, or do no harm."""
    for item in insertions(standing):
        where = f"{item.beam} in the slit of {item.slit}, {item.way}"
        text = (
            "it goes in and does harm, and neither its holes nor its length show that it is wrong"
        )
        judge.holds("insertion", where, item.outcome != "unseen", text, item.outcome)


def insertions(standing: Standing) -> Iterator[Insertion]:
    """Yield every beam in every slit, right ones left out.

    A beam whose shoulder or length is longer than the slit is blocked. One that goes in shows where
    the holes of its lower flanges don't lie over the slit's pinholes, or where the slit is plainly
    too long for it.
    """
    ways: tuple[Way, ...] = ("upside down", "head to foot", "the right way up")
    pins = {slit.plan.part: standing.pins(slit) for slit in standing.beams}
    for beam in standing.beams:
        marks = _marks(beam.marks, beam)
        for slit in standing.beams:
            for way in ways:
                if slit.plan.part == beam.plan.part and way == "the right way up":
                    continue
                outcome = _outcome(beam, slit, way, marks, pins[slit.plan.part])
                if outcome == "unseen" and standing.harmless(beam, slit, way):
                    outcome = HARMLESS
                yield Insertion(beam.plan.part, slit.plan.part, way, outcome)


def _outcome(
    beam: BuiltBeam, slit: BuiltBeam, way: Way, marks: FloatArray, pins: FloatArray
) -> str:
    room = slit.plan.slit[1] - slit.plan.slit[0]
    if (_longest(beam) if way == "upside down" else beam.length) > room:
        return BLOCKED
    if way == "upside down":
        marks = marks[:0]
    elif way == "head to foot" and len(marks):
        marks = np.column_stack([marks[:, 0], beam.length - marks[:, [2, 1]]])
    seen = room - beam.length > 2 * _SEEN or not _same(marks, pins)
    return SHOWS if seen else "unseen"


def _longest(beam: BuiltBeam) -> float:
    """Return what has to pass the slit when the beam goes in upside down."""
    sides: list[float] = [panel.bounds[3] - panel.bounds[1] for panel in beam.lower]
    return max([beam.length, *sides])


def _marks(holes: Sequence[shapely.Polygon], beam: BuiltBeam) -> FloatArray:
    """Return holes (n, 3): distance from the fold, and where each begins and ends from the head.

    Those of both flanges once.
    """
    places = set()
    for hole in holes:
        u0, v0, u1, v1 = hole.bounds
        down = abs((u0 + u1) / 2 - beam.plan.u)
        places.add((round(down, 2), round(v0 - beam.plan.v0, 2), round(v1 - beam.plan.v0, 2)))
    return np.array(sorted(places), dtype=float).reshape(-1, 3)


def _same(first: FloatArray, second: FloatArray) -> bool:
    if len(first) != len(second):
        return False
    if not len(first):
        return True
    gaps = np.abs(first[:, None] - second[None]).max(axis=2)
    return bool(gaps.min(axis=0).max() < _SEEN and gaps.min(axis=1).max() < _SEEN)


def _moved(
    panels: Sequence[shapely.Polygon], beam: BuiltBeam, slit: BuiltBeam, way: Way
) -> list[shapely.Polygon]:
    """Return a beam's panels as they stand in another slit, each over all its play there."""
    head, foot = slit.plan.slit[0], slit.plan.slit[1] - beam.length
    turned = way == "head to foot"

    def placed(start: float) -> list[shapely.Polygon]:
        def moved(points: FloatArray) -> FloatArray:
            across, along = points[:, 0] - beam.plan.u, points[:, 1] - beam.plan.v0
            if turned:
                across, along = -across, beam.length - along
            return np.column_stack([slit.plan.u + across, start + along])

        return [shapely.transform(panel, moved) for panel in panels]

    ends = zip(placed(head), placed(max(head, foot)), strict=True)
    return [shapely.union(one, other).convex_hull for one, other in ends]


def _meet(one: shapely.Geometry, other: shapely.Geometry) -> bool:
    return bool(one.intersection(other).area > _TOUCH)


def _crosses(panel: shapely.Polygon) -> bool:
    return bool(panel.bounds[0] < -_TOUCH and panel.bounds[2] > _TOUCH)
