"""The fewest beams that hold the motif, proved by its bending."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity

from trace2pop.geometry import beziers
from trace2pop.mechanism.closed import closed_stack
from trace2pop.mechanism.plate import FloatingError
from trace2pop.model.card import STIFFENER, CardPlan, CutMotif, FreeEnd
from trace2pop.model.settings import SupportSettings
from trace2pop.model.stock import Stocks
from trace2pop.stages.supports import refusal
from trace2pop.stages.supports.candidates import candidates
from trace2pop.stages.supports.ends import NO_ENDS, Ends
from trace2pop.stages.supports.given import pinned, symmetric
from trace2pop.stages.supports.influence import influence
from trace2pop.stages.supports.notes import on_crease_held, on_sag, on_wires
from trace2pop.stages.supports.places import Room, Stretch, lines, room, stretches
from trace2pop.stages.supports.proof import Sheet, mesh_size, out_of_reach, sheet
from trace2pop.stages.supports.search import solve
from trace2pop.stages.supports.task import FINE, Task, loads
from trace2pop.stages.supports.wires import Heavy, stiffened

SPACING = 2.0
"""Distance of candidate lines."""
LINES = 80
"""Lines on a half after which they stand further apart: on cards of twice the usual sizes."""
_STEP = 5.0
"""Distance at which a fold line may begin or end along its stretch."""
_COARSE = 320


def supports(cut: CutMotif, settings: SupportSettings, stocks: Stocks, adhesive: float) -> CardPlan:
    """Return the card plan: the fewest, then shortest beams that hold the motif.

    A place takes the widest flange there is room for; where beams are in one another's way because
    of that, narrower ones are tried.

    Raises:
        SupportError: where no beam has room on the crease or on a half, a beam the maker gave
            can't stand, or a place sags too far whatever stands under it.
    """
    if settings.stiffen == "first":
        cut = stiffened(cut, lambda tried: _heavy_ends(tried, settings, stocks))
    while True:
        try:
            return _planned(cut, settings, stocks, adhesive)
        except refusal.CrowdedError:
            narrower = tuple(width for width in settings.flanges if width < max(settings.flanges))
            if not narrower:
                raise
        settings = replace(settings, flanges=narrower)


@dataclass(frozen=True, eq=False)
class _Ready:
    """What beams are chosen from: the motif as a plate, and where they may stand.

    ``stiff`` are the pieces beside the crease that no beam can reach.
    """

    shape: shapely.Polygon
    given: Room
    own: list[Stretch]
    mirrored: bool
    places: list[Stretch]
    stiff: shapely.Geometry
    plate: Sheet


def _ready(cut: CutMotif, settings: SupportSettings, stocks: Stocks) -> _Ready:
    shape = shapely.Polygon(beziers.polygon(cut.outline))
    given = room(shape, cut, settings, stocks["beam"])
    own = pinned(given, settings, stocks["beam"])
    mirrored = cut.placed.symmetric and symmetric(own)
    if mirrored:
        given = replace(given, paper=given.paper.intersection(_mirrored(given.paper)))
    places = _places(given, own, settings, mirrored=mirrored)
    refusal.check_room(given, places, settings, mirrored=mirrored)
    stiff = _unreachable(shape, places)
    wires = [(part.overlap, part.diameter) for part in cut.hand_parts if part.kind == STIFFENER]
    plate = sheet(shape, stocks, settings, stiff, tuple(wires))
    return _Ready(shape, given, own, mirrored, places, stiff, plate)


def _planned(cut: CutMotif, settings: SupportSettings, stocks: Stocks, adhesive: float) -> CardPlan:
    card = cut.placed.card
    ready = _ready(cut, settings, stocks)
    shape, given, mirrored = ready.shape, ready.given, ready.mirrored
    places, stiff, plate = ready.places, ready.stiff, ready.plate
    ends = NO_ENDS
    if not settings.only_given:
        ends = _ends(places, plate, settings, mirrored=mirrored)
    part = _right_half(shape) if mirrored else shape
    known = influence(part, places, plate, size=mesh_size(part, _COARSE), step=_STEP)
    options = candidates(places, known, given, mirrored=mirrored)
    load = loads(known, ends, settings.handling_load, mirrored=mirrored)
    known = known.scaled(load)
    task = Task(options, known, plate, settings, stocks, mirrored, places, ends, load)
    try:
        beams, sag, choice = solve(task)
    except refusal.SagError:
        if not settings.only_given:
            raise
        # What no beam could hold needn't be held by those given.
        every = _places(given, ready.own, replace(settings, only_given=False), mirrored=mirrored)
        task = replace(task, ends=_ends(every, plate, settings, mirrored=mirrored))
        beams, sag, choice = solve(task)
    closed = closed_stack(card, shape, beams, stocks, adhesive, cut.hand_parts)
    told = (*on_sag(sag), *on_crease_held(stiff, sag), *on_wires(cut.hand_parts, sag))
    return CardPlan(cut, beams, sag, closed, choice, findings=told)


def _places(
    given: Room, own: Sequence[Stretch], settings: SupportSettings, *, mirrored: bool
) -> list[Stretch]:
    """Return the given places, then all others; of a mirrored pair the right one only."""
    kept = [place for place in own if place.u >= 0 or not mirrored]
    if settings.only_given:
        return kept
    spacing = max(SPACING, given.ground.card.reach / LINES)
    at = [0.0, *(float(u) for u in lines(given, spacing) if u > 0 or not mirrored)]
    return [*kept, *(stretch for u in at for stretch in stretches(given, u))]


def _ends(
    places: Sequence[Stretch], plate: Sheet, settings: SupportSettings, *, mirrored: bool
) -> Ends:
    """Return the ends that no beam has room to hold.

    Raises:
        SupportError: where one would not even carry its own weight.
    """
    limit = settings.sag_limit
    ends, sags = _everywhere(places, plate, limit, settings, mirrored=mirrored)
    if sags and sags[0].sag > limit * settings.handling_load:
        raise refusal.beyond(sags[0].at, sags[0].sag, settings, whatever=True)
    return ends


def _everywhere(
    places: Sequence[Stretch],
    plate: Sheet,
    limit: float,
    settings: SupportSettings,
    *,
    mirrored: bool,
) -> tuple[Ends, tuple[FreeEnd, ...]]:
    """Return the ends that sag past the limit with beams wherever there is room, worst first."""
    everywhere = [
        replace(place, u=side * place.u)
        for place in places
        for side in ((1, -1) if mirrored and place.u != 0 else (1,))
    ]
    try:
        size = mesh_size(plate.shape, FINE)
        return out_of_reach(plate, everywhere, limit, size, mirrored=mirrored)
    except FloatingError:
        raise refusal.floating(settings) from None


def _heavy_ends(cut: CutMotif, settings: SupportSettings, stocks: Stocks) -> Heavy:
    """Return the ends that bend past the limit by their own weight wherever beams stand."""
    ready = _ready(cut, settings, stocks)
    limit = settings.sag_limit * settings.handling_load
    ends, sags = _everywhere(ready.places, ready.plate, limit, settings, mirrored=ready.mirrored)
    worst = np.array([end.at for end in sags if end.sag > limit]).reshape(-1, 2)
    points = [
        np.vstack([place, ends.points[ends.number == number]])
        for place, number in zip(worst, ends.at(worst), strict=True)
        if not ready.mirrored or place[0] > 0
    ]
    return Heavy(ready.shape, ready.places, tuple(points), mirrored=ready.mirrored)


def _mirrored(shape: shapely.Geometry) -> shapely.Geometry:
    return affinity.scale(shape, -1, 1, origin=(0, 0))


def _right_half(shape: shapely.Polygon) -> shapely.Polygon:
    """Return both halves laid on the right one, as one polygon."""
    both = shapely.union(shape, _mirrored(shape))
    _, top, right, bottom = both.bounds
    half = both.intersection(shapely.box(0, top - 1, right + 1, bottom + 1))
    return max(shapely.get_parts(half), key=lambda piece: piece.area)


def _unreachable(shape: shapely.Polygon, places: Sequence[Stretch]) -> shapely.Geometry:
    """Return the pieces beside the crease that have no place for a beam of their own."""
    folds = shapely.multilinestrings(
        [
            [(side * place.u, place.v0), (side * place.u, place.v1)]
            for place in places
            for side in (-1, 1)
            if place.u != 0
        ]
    )
    left, top, right, bottom = shape.bounds
    halves = [shapely.box(left - 1, top - 1, 0, bottom + 1)]
    halves.append(shapely.box(0, top - 1, right + 1, bottom + 1))
    pieces = [piece for half in halves for piece in shapely.get_parts(shape.intersection(half))]
    return shapely.union_all(
        [piece for piece in pieces if piece.area > 1e-6 and not piece.intersects(folds)]
    )
