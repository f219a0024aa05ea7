"""Every wrong way to put a beam into a slit, and whether it is blocked or shows."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.checks.base import Base
from trace2pop.checks.beams import BuiltBeam
from trace2pop.checks.report import BLOCKED, SHOWS, Judge
from trace2pop.model.outline import FloatArray

_EQUAL = 0.05
_SEEN = 1.0
"""How far a hole lies off its pinhole, or a slit is too long, before the maker sees it, in mm."""


@dataclass(frozen=True)
class Insertion:
    """A beam in a slit, some way round, and what becomes of it: "blocked", "shows" or "unseen"."""

    beam: str
    slit: str
    way: str
    outcome: str


def check_insertions(base: Base, beams: Sequence[BuiltBeam], judge: Judge) -> None:
    """Judge every wrong insertion: those that pass the slit must show by their holes or by play."""
    for item in insertions(base, beams):
        where = f"{item.beam} in the slit of {item.slit}, {item.way}"
        text = "it goes in, and neither its holes nor its length show that it is wrong"
        judge.holds("insertion", where, item.outcome != "unseen", text, item.outcome)


def insertions(base: Base, beams: Sequence[BuiltBeam]) -> Iterator[Insertion]:
    """Yield every beam in every slit, right ones left out.

    Equal pieces may change places. A beam whose shoulder or length is longer than the slit is
    blocked. One that goes in shows where the holes of its lower flanges don't lie over the slit's
    pinholes, or where the slit is plainly too long for it.
    """
    pins = {beam.plan.part: _pins(base, beam) for beam in beams}
    for beam in beams:
        marks = _from_fold([mark.centroid for mark in beam.marks], beam)
        for slit in beams:
            room = slit.plan.slit[1] - slit.plan.slit[0]
            own = beam.plan.part == slit.plan.part or _alike(beam, slit)
            turned = marks * [1, -1] + [0, beam.length] if len(marks) else marks
            ways = [("upside down", _longest(beam), np.empty((0, 2)))]
            ways += [("head to foot", beam.length, turned)]
            ways += [] if own else [("the right way up", beam.length, marks)]
            for way, length, holes in ways:
                same = own and way == "head to foot" and _same(marks, turned)
                if not same:
                    outcome = _outcome(length, room, holes, pins[slit.plan.part])
                    yield Insertion(beam.plan.part, slit.plan.part, way, outcome)


def _alike(first: BuiltBeam, second: BuiltBeam) -> bool:
    """Whether two beams are equal, so that they may change places."""
    if abs(first.length - second.length) > _EQUAL or abs(first.flange - second.flange) > _EQUAL:
        return False
    marks = [_from_fold([mark.centroid for mark in beam.marks], beam) for beam in (first, second)]
    return _same(marks[0], marks[1])


def _outcome(length: float, room: float, holes: FloatArray, pins: FloatArray) -> str:
    if length > room:
        return BLOCKED
    seen = room - length > 2 * _SEEN or not _same(holes, pins)
    return SHOWS if seen else "unseen"


def _longest(beam: BuiltBeam) -> float:
    """Return what has to pass the slit when the beam goes in upside down."""
    sides: list[float] = [panel.bounds[3] - panel.bounds[1] for panel in beam.lower]
    return max([beam.length, *sides])


def _pins(base: Base, beam: BuiltBeam) -> FloatArray:
    """Return the pinholes over the lower flanges: (distance from the slit, from the head end)."""
    holes = [
        shapely.Polygon(line.points)
        for piece in base.pieces
        for line in map(piece.line_on_card, piece.holes)
    ]
    under = [hole for hole in holes if any(panel.contains(hole) for panel in beam.lower)]
    return _from_fold([hole.centroid for hole in under], beam)


def _from_fold(points: Sequence[shapely.Point], beam: BuiltBeam) -> FloatArray:
    """Return points as (distance from the fold, from the head end), those of both flanges once."""
    places = {(round(abs(p.x - beam.plan.u), 2), round(p.y - beam.plan.v0, 2)) for p in points}
    return np.array(sorted(places), dtype=float).reshape(-1, 2)


def _same(first: FloatArray, second: FloatArray) -> bool:
    if len(first) != len(second):
        return False
    if not len(first):
        return True
    gaps = np.linalg.norm(first[:, None] - second[None], axis=2)
    return bool(gaps.min(axis=0).max() < _SEEN and gaps.min(axis=1).max() < _SEEN)
