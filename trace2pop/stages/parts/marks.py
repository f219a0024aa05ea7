"""Small cut marks that tell pieces apart and end up hidden: a cutter prints no notes.

Beam n carries n holes in each lower flange, its slit has n pinholes beside it, at the same places:
when the beam sits in its own slit the right way round, the holes lie over one another.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

from trace2pop import limits
from trace2pop.model.card import Beam

_NEAREST_FOLD = 1.9
_SPARE = 0.05
"""What paper left beside a hole is wider than the narrowest strip the cutter leaves whole."""


def sharing(beams: Sequence[Beam]) -> tuple[Beam, ...]:
    """Return the beams with equal ones named as one piece, in the order of the first of each."""
    named: dict[tuple[float, ...], str] = {}
    shared = []
    for beam in beams:
        kind = tuple(round(x, 3) for x in (beam.v1 - beam.v0, beam.flange, beam.taper_deg))
        part = named.setdefault(kind, f"beam-{len(named) + 1}")
        shared.append(replace(beam, part=part, shoulder=0.0))
    return tuple(shared)


def numbers(beams: Sequence[Beam]) -> dict[str, int]:
    """Return the number that marks each beam's piece, from 1, by the piece's name."""
    return {part: n for n, part in enumerate(dict.fromkeys(beam.part for beam in beams), start=1)}


def mark_places(beam: Beam, number: int, strip: float) -> list[tuple[float, float]]:
    """Return ``number`` holes as (distance from the lower fold, distance from the head end).

    ``strip`` is the narrowest strip that the cutter leaves whole.

    They start near the head end, so that a beam turned round shows; they run in rows along the fold
    as far as the tapered flange has room.
    """
    radius, paper = limits.MARK_HOLE.value / 2, strip + _SPARE
    pitch = max(limits.MARK_PITCH.value, 2 * radius + paper)
    angle = math.radians(beam.taper_deg)
    places: list[tuple[float, float]] = []
    off_slit = beam.slit.width / 2 + limits.MARK_PIN.value / 2 + paper
    row = min(max(_NEAREST_FOLD, off_slit), beam.flange / 2)
    while len(places) < number and row + radius + paper <= beam.flange:
        first = row / math.tan(angle) + (radius + paper) / math.sin(angle)
        room = beam.v1 - beam.v0 - 2 * first
        count = int(room / pitch + 1e-9) + 1 if room >= 0 else 0
        places += [(row, first + k * pitch) for k in range(min(count, number - len(places)))]
        row += pitch
    return places


def mark_side(beam: Beam) -> int:
    """Return on which side of its slit a beam's pinholes lie: away from the crease, else right."""
    return -1 if beam.u < 0 else 1
