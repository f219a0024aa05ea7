"""Small cut marks that tell pieces apart and end up hidden: a cutter prints no notes.

Beam n carries n holes in each lower flange, slit n has n pinholes beside it, at the same places:
when the beam sits in its own slit the right way round, the holes lie over one another.
"""

import math

from trace2pop import limits
from trace2pop.model.card import Beam

_NEAREST_FOLD = 2.5
_LEAST_PAPER = 1.2
"""Paper left between a hole and the flange's edge: no less than cutters leave whole."""


def mark_places(beam: Beam) -> list[tuple[float, float]]:
    """Return the holes of a beam as (distance from its lower fold, distance from its head end).

    They start near the head end, so that a beam turned round shows; they run in rows along the fold
    as far as the tapered flange has room.
    """
    pitch, radius, paper = limits.MARK_PITCH.value, limits.MARK_HOLE.value / 2, _LEAST_PAPER
    angle = math.radians(beam.taper_deg)
    places: list[tuple[float, float]] = []
    row = min(_NEAREST_FOLD, beam.flange / 2)
    while len(places) < beam.id and row + radius + paper <= beam.flange:
        first = row / math.tan(angle) + (radius + paper) / math.sin(angle)
        room = beam.v1 - beam.v0 - 2 * first
        count = int(room / pitch + 1e-9) + 1 if room >= 0 else 0
        places += [(row, first + k * pitch) for k in range(min(count, beam.id - len(places)))]
        row += pitch
    return places


def mark_side(beam: Beam) -> int:
    """Return on which side of its slit a beam's pinholes lie: away from the crease, else right."""
    return -1 if beam.u < 0 else 1
