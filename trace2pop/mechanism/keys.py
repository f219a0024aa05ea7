"""What keeps a beam from going into its slit the wrong way: shoulders on its lower flanges.

A beam is pushed up through its slit from below, upper flanges first. At the foot end the lower
flanges stand out beyond the web, right under the fold line. Pushed in upside down they would have
to pass the slit, and are longer than it; the right way up they come to rest under the base.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import shapely

from trace2pop import limits
from trace2pop.mechanism.beam import flange
from trace2pop.model.card import Beam, Card

_CLEAR = 1.0
"""What a shoulder keeps from other slits and flanges, in mm."""


def with_shoulders(beams: Sequence[Beam], card: Card) -> tuple[Beam, ...]:
    """Return the beams with a shoulder each, where it costs nothing.

    It stands out ``limits.SHOULDER`` further than the slit is longer than the beam. A beam keeps
    plain ends where the shoulder would meet another beam's slit or lower flange, or come nearer to
    the base's foot than the margin.
    """
    kept = list(beams)
    for index, beam in sorted(enumerate(beams), key=lambda item: (item[1].u, item[1].v0)):
        spare = beam.slit.v1 - beam.slit.v0 - (beam.v1 - beam.v0)
        tried = replace(beam, shoulder=spare + limits.SHOULDER.value)
        others = [other for number, other in enumerate(kept) if number != index]
        if beam.v1 + tried.shoulder <= card.height - card.margin and _free(tried, others):
            kept[index] = tried
    return tuple(kept)


def lower_flange(beam: Beam, side: int) -> shapely.Polygon:
    """Return a lower flange spread under the base, shoulder included, in card coordinates.

    ``side`` is +1 for the flange towards larger u, -1 for the other.
    """
    if beam.shoulder == 0:
        return flange(beam.u, beam.v0, beam.v1, beam.flange, beam.taper_deg, side)
    return shapely.Polygon([(beam.u + side * down, beam.v0 + v) for down, v in _corners(beam)])


def _corners(beam: Beam) -> list[tuple[float, float]]:
    """Return a shouldered lower flange's corners as (distance from the fold, from the head end)."""
    length, width = beam.v1 - beam.v0, beam.flange
    inset = width / math.tan(math.radians(beam.taper_deg))
    foot = length + beam.shoulder
    return [(0, 0), (width, inset), (width, length - inset), (width / 2, foot), (0, foot)]


def _free(beam: Beam, others: Sequence[Beam]) -> bool:
    own = [lower_flange(beam, side) for side in (-1, 1)]
    for other in others:
        slit = shapely.LineString([(other.u, other.slit.v0), (other.u, other.slit.v1)])
        theirs = [slit, *(lower_flange(other, side) for side in (-1, 1))]
        if any(mine.distance(thing) < _CLEAR for mine in own for thing in theirs):
            return False
    return True
