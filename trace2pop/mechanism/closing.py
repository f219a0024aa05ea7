"""Whether a card closes: its flat pieces, put together and folded from 180 degrees to 0.

Fed with pieces as they were read back from files. Each half is looked at in its own frame: x along
the base from the spine, z off it. In that frame every motif panel only shifts (docs/mechanism.md),
thickness or not; what a half holds never crosses the bisecting plane, which is checked too.
"""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.geometry.beziers import FLATTEN
from trace2pop.limits import CONTACT_ANGLE
from trace2pop.mechanism.flat import FlatBeam, FlatCard, Papers
from trace2pop.mechanism.half import TOLERANCE, Half
from trace2pop.model.closing import AtAngle, Closing, ClosingFault

__all__ = ["FlatBeam", "FlatCard", "Papers", "closing"]

_SHOWN_EVERY_DEG = 5

_CHORDS = FLATTEN
"""mm: a motif's edge is known no better than by the chords that stand for its curves."""


def closing(card: FlatCard) -> Closing:
    """Close the card and return what was measured on the way, with all that is wrong.

    Reach and distances are those of sheets without thickness, as the closing law has them. The
    thick layers show where pressing begins.
    """
    web = max((beam.web for beam in card.beams), default=0.0)
    thick = [Half(card, card.papers, web, side) for side in (-1, 1)]
    sheets = [Half(card, Papers(0.0, 0.0, 0.0, 0.0), web, side) for side in (-1, 1)]
    limit = min(-card.base.bounds[0], card.base.bounds[2]) - card.margin
    steps = [_step(sheets, float(deg)) for deg in range(180, -1, -_SHOWN_EVERY_DEG)]
    contact, pair = max((half.contact() for half in thick), key=lambda found: found[0])
    faults = [*_web_faults(card, web, limit), *_reach_faults(card, steps, limit)]
    if not faults:
        faults += _corner_faults(card, web)
    for half in sheets:
        faults += half.outside(limit)
        faults += half.crossings()
    faults += [fault for half in thick for fault in half.over_the_middle()]
    if contact > CONTACT_ANGLE.value and pair:
        where = " and ".join(pair)
        faults.append(ClosingFault("contact", where, contact, CONTACT_ANGLE.value))
    return Closing(limit, tuple(steps), contact, pair, tuple(faults))


def _web_faults(card: FlatCard, web: float, limit: float) -> list[ClosingFault]:
    faults = []
    for beam in card.beams:
        if abs(beam.web - web) > 0.05:
            faults.append(ClosingFault("web-height", beam.name, beam.web, web))
        if abs(beam.u) + beam.web > limit + TOLERANCE:
            faults.append(ClosingFault("web-inside", beam.name, abs(beam.u) + beam.web, limit))
    return faults


def _reach_faults(card: FlatCard, steps: Sequence[AtAngle], limit: float) -> list[ClosingFault]:
    faults = []
    closed = steps[-1]
    for name, reach in (("left", closed.reach_left), ("right", closed.reach_right)):
        if reach > limit + _CHORDS:
            faults.append(ClosingFault("reach", f"{name} half", reach, limit))
    _, head, _, foot = card.motif.bounds
    _, top, _, bottom = card.base.bounds
    for name, inside in (("head", head - top), ("foot", bottom - foot)):
        if inside < card.margin - _CHORDS:
            faults.append(ClosingFault("along", name, inside, card.margin))
    return faults


def _corner_faults(card: FlatCard, web: float) -> list[ClosingFault]:
    """Return where the closed motif shows past a base that is no plain rectangle."""
    paper = shapely.union_all([shapely.Polygon(part.exterior) for part in _polygons(card.base)])
    inside = paper.buffer(-card.margin, join_style="mitre").buffer(_CHORDS)
    left, head, right, foot = card.motif.bounds
    faults = []
    for name, side, far in (("left", -1, -left), ("right", 1, right)):
        half = shapely.box(min(0, side * far), head, max(0, side * far), foot)
        folded = shapely.transform(
            card.motif.intersection(half), lambda p, s=side: np.add(p, (s * web, 0))
        )
        past = folded.difference(inside)
        if past.area > TOLERANCE:
            worst = max(shapely.distance(shapely.points(shapely.get_coordinates(past)), inside))
            faults.append(ClosingFault("reach", f"{name} half, corner", float(worst), 0.0))
    return faults


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon"]


def _step(halves: Sequence[Half], opening_deg: float) -> AtAngle:
    gaps = [half.closest(opening_deg) for half in halves]
    closest, pair = min(gaps, key=lambda gap: gap[0])
    return AtAngle(
        opening_deg=opening_deg,
        reach_left=halves[0].reach(opening_deg),
        reach_right=halves[1].reach(opening_deg),
        height=halves[1].height(opening_deg),
        closest=closest if pair else None,
        pair=pair,
    )
