"""Which of the creases that will do is the best one."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from trace2pop.limits import CENTRE_SPARE, FLANGE_GAP, THIN_CROSSING
from trace2pop.model.outline import FloatArray
from trace2pop.stages.fit.crease import CentreBeam, Span, crossings, longest_fold, places
from trace2pop.stages.fit.size import Upright

_TRIED = 41
_NEARLY, _ENOUGH = 0.9, 0.3
"""A centre beam is long enough at this share of the longest there may be, or of the motif."""
_LITTLE = 0.005
"""Share of the paper that may hang on the crease without another crease being better."""
_PER_MM = 0.1
"""How far off the middle a millimetre more of paper on the crease is worth going."""
_ROUGH = 0.1
"""mm by which the outline is simplified to weigh its pieces."""
_HALF_SPARE = CENTRE_SPARE.value / 2


def best_crease(
    upright: Upright,
    spans: Sequence[Span],
    scale: float,
    beam: CentreBeam,
    feelers: shapely.Geometry,
) -> float:
    """Return the crease to take of those in ``spans``.

    First those that cross no feeler (a stiff part added by hand can't fold) and the fewest thin
    bridges; of them, those that cut off little more than the least paper without room for a beam of
    its own; of them, those with room for a long enough centre beam; of them the one nearest the
    middle, so that the motif lies in the middle of the open card and its halves carry alike. There
    a square millimetre cut off weighs like a millimetre off the middle, and so do ten millimetres
    of paper less on the crease: a fold that grazes an edge leaves slivers.
    """
    if upright.axis is not None:
        return upright.axis
    creases = np.unique(np.concatenate([_places(span, upright.box.middle) for span in spans]))
    bad = [_bad_crossings(upright.solid, feelers, x, scale) for x in creases]
    creases = creases[np.array(bad) == min(bad)]
    lost = cut_off(upright, creases, scale, beam)
    little = lost <= lost.min() + _LITTLE * upright.solid.area
    creases, lost = creases[little], lost[little]
    drawn = beam.drawn(scale)
    band = upright.slit_band(scale, replace(beam, travel=beam.travel + beam.fold / 2))
    inner = upright.inner(scale, beam).intersection(band)
    room = scale * np.array([longest_fold(inner, float(x), drawn) for x in creases])
    enough = min(_NEARLY * room.max(), _ENOUGH * upright.box.height * scale)
    paper = np.array([crossings(upright.solid, float(x)).sum() for x in creases])
    off = scale * (np.abs(creases - upright.box.middle) - _PER_MM * paper) + scale**2 * lost
    return float(creases[np.where(room >= enough, off, np.inf).argmin()])


def cut_off(upright: Upright, creases: FloatArray, scale: float, beam: CentreBeam) -> FloatArray:
    """Return how much paper (n,), in drawn mm2, each crease cuts off from any room for a beam.

    Paper on one side of a crease, in pieces on whose side no flange pair of the narrowest width has
    room, hangs on the crease alone.
    """
    side = replace(beam, fold=beam.fold - CENTRE_SPARE.value, travel=beam.travel + _HALF_SPARE)
    left, head, right, foot = upright.solid.bounds
    free = places(upright.inner(scale, side), side.drawn(scale), left, right)
    free = free.intersection(upright.slit_band(scale, side))
    paper = upright.solid.simplify(_ROUGH / scale).buffer(0)
    # Beside the beam on the crease, whose flange lies there, too.
    near = (2 * beam.flange + FLANGE_GAP.value) / scale
    lost = np.zeros(len(creases))
    for number, x in enumerate(map(float, creases)):
        for away, end in ((-near, left), (near, right)):
            inside = sorted((x, end))
            reach = sorted((x + away, end)) if (end - x - away) * away > 0 else None
            half = paper.intersection(shapely.box(inside[0], head, inside[1], foot))
            there = shapely.Polygon()
            if reach is not None:
                there = free.intersection(shapely.box(reach[0], head, reach[1], foot))
            pieces = shapely.get_parts(half)
            lost[number] += shapely.area(pieces)[~shapely.intersects(pieces, there)].sum()
    return lost


def _places(span: Span, middle: float) -> np.ndarray:
    low, high = span
    return np.append(np.linspace(low, high, _TRIED), min(max(middle, low), high))


def _bad_crossings(
    solid: shapely.Geometry, feelers: shapely.Geometry, x: float, scale: float
) -> int:
    thin = (crossings(solid, x) * scale < THIN_CROSSING.value).sum()
    return int(thin) + len(crossings(feelers, x))
