"""What every beam must keep, alone and with the others. Used in planning and by the tests."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop import limits
from trace2pop.mechanism.beam import flange_pair, shortest_fold
from trace2pop.mechanism.slits import slit_margin
from trace2pop.model.card import Beam, Card, HandPart

_EXACT = 1e-6
"""mm by which a length may fall short by rounding."""


@dataclass(frozen=True)
class Fault:
    """A beam that breaks a rule: which beam (its part's name), which rule, what was measured.

    ``text`` says it to the maker; ``measured`` and ``limit`` are in mm.
    """

    part: str
    rule: str
    measured: float
    limit: float
    text: str


@dataclass(frozen=True, eq=False)
class Ground:
    """What beams stand on and under: card, the motif's paper, its glued runs, what is asked for.

    ``glued`` are the runs where hand-added parts are glued, with half their width. ``reach`` is the
    longest flat piece that can be cut.
    """

    card: Card
    paper: shapely.Geometry
    glued: shapely.Geometry
    inset: float
    reach: float


def glued_runs(parts: Iterable[HandPart]) -> shapely.Geometry:
    """Return the runs where parts added by hand are glued to the motif's back, full width."""
    return shapely.union_all(
        [
            shapely.LineString(part.overlap).buffer(max(part.width, part.diameter) / 2)
            for part in parts
            if part.choice == "hand" and len(part.overlap) > 1
        ]
    )


def faults(ground: Ground, beams: Sequence[Beam]) -> tuple[Fault, ...]:
    """Return every rule that a beam breaks; empty where the beams can stand."""
    found: list[Fault] = []
    for beam in beams:
        found += _hidden(ground, beam)
        found += _on_base(ground.card, beam)
        found += _foldable(ground, beam)
    for number, beam in enumerate(beams):
        for other in beams[number + 1 :]:
            found += _apart(beam, other)
    found += _line_shares(ground.card, beams)
    return tuple(found)


def pair_of(beam: Beam) -> shapely.Polygon:
    """Return what a beam covers on motif or base, laid in card coordinates."""
    return flange_pair(beam.u, beam.v0, beam.v1, beam.flange, beam.taper_deg)


def _hidden(ground: Ground, beam: Beam) -> Iterator[Fault]:
    """Judge that upper flanges lie under the motif, inset, off glued runs, on their own half."""
    pair = pair_of(beam)
    out = shapely.difference(pair, ground.paper)
    if out.area > _EXACT:
        corners = shapely.points(shapely.get_coordinates(out))
        depth = -float(shapely.distance(corners, ground.paper).max())
        text = f"its flanges would stick out of the motif by {-depth:.1f} mm"
    else:
        depth = float(shapely.distance(pair, ground.paper.boundary))
        text = f"its flanges come within {depth:.1f} mm of the motif's edge"
    text += f"; {ground.inset:.1f} mm is asked for"
    yield from _least(beam, "hidden", depth, ground.inset, text)
    if not ground.glued.is_empty:
        gap = float(shapely.distance(pair, ground.glued))
        text = f"its flanges come within {gap:.1f} mm of a glued hand-added part"
        yield from _least(beam, "glued", gap, limits.GLUE_RUN_GAP.value, text)
    if beam.u != 0:
        gap = abs(beam.u) - beam.flange
        how = f"end {gap:.1f} mm from" if gap > 0 else f"reach {-gap:.1f} mm over"
        text = f"its flanges {how} the crease; {limits.FLANGE_GAP.value:.1f} mm is left free there"
        yield from _least(beam, "own half", gap, limits.FLANGE_GAP.value, text)


def _on_base(card: Card, beam: Beam) -> Iterator[Fault]:
    """Judge that flanges, slit and, closed, web stay on the half, and what paper is left."""
    side = abs(beam.u)
    room = card.half_width - side - card.web
    text = f"closed, its web would reach {-room:.1f} mm past the base's fore edge"
    yield from _least(beam, "web inside", room, 0.0, text)
    room = card.half_width - side - beam.flange
    yield from _least(beam, "on base", room, 0.0, "its lower flange would leave the base")
    room = card.half_width - side
    text = f"its slit would lie {room:.1f} mm from the base's fore edge"
    yield from _least(beam, "slit side", room, limits.SLIT_SIDE.value, text)
    ends = min(beam.slit.v0, card.height - beam.slit.v1)
    text = f"its slit would leave {ends:.1f} mm of paper at the base's head or foot"
    yield from _least(beam, "slit ends", ends, slit_margin(card.height), text)


def _foldable(ground: Ground, beam: Beam) -> Iterator[Fault]:
    """Judge the flat piece: an edge between its tapers, within cutter and slit."""
    length = beam.v1 - beam.v0
    least = shortest_fold(beam.flange, beam.taper_deg)
    text = f"it is {length:.1f} mm long; its flanges need {least:.1f} mm"
    yield from _least(beam, "length", length, least, text)
    spare = ground.reach - 2 * length
    text = f"its flat piece is {2 * length:.1f} mm long; {ground.reach:.1f} mm can be cut"
    yield from _least(beam, "reach", spare, 0.0, text)
    inside = min(beam.v0 - beam.slit.v0, beam.slit.v1 - beam.v1)
    yield from _least(beam, "slit length", inside, 0.0, "it is longer than its slit")


def _apart(beam: Beam, other: Beam) -> Iterator[Fault]:
    """Judge that flanges don't overlap where their v ranges do, and slits keep apart."""
    across = abs(beam.u - other.u) - beam.flange - other.flange
    along = max(beam.v0, other.v0) - min(beam.v1, other.v1)
    if across < limits.FLANGE_GAP.value - _EXACT and along < limits.SLIT_APART.value - _EXACT:
        text = (
            f"it stands too near {other.part}: {max(across, 0):.1f} mm across and "
            f"{max(along, 0):.1f} mm along; {limits.FLANGE_GAP.value:.1f} mm across or "
            f"{limits.SLIT_APART.value:.1f} mm along is needed"
        )
        yield Fault(beam.part, "apart", across, limits.FLANGE_GAP.value, text)


def _line_shares(card: Card, beams: Sequence[Beam]) -> Iterator[Fault]:
    """Judge that slits on one line, or on lines too near to tell apart, keep their share."""
    most = limits.SLIT_LINE_SHARE.value * card.height
    for beam in beams:
        near = [other for other in beams if abs(other.u - beam.u) < limits.SLIT_APART.value]
        total = float(np.sum([other.slit.v1 - other.slit.v0 for other in near]))
        text = f"slits on its line take {total:.1f} mm of the base; {most:.1f} mm is the most"
        yield from _least(beam, "line share", most - total, 0.0, text)


def _least(beam: Beam, rule: str, measured: float, limit: float, text: str) -> Iterator[Fault]:
    if measured < limit - _EXACT:
        yield Fault(beam.part, rule, measured, limit, text)
