"""Which of the creases that will do is the best one."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from trace2pop.limits import THIN_CROSSING
from trace2pop.stages.fit.crease import CentreBeam, Span, crossings, longest_fold
from trace2pop.stages.fit.size import Upright

_TRIED = 41
_NEARLY, _ENOUGH = 0.9, 0.3
"""A centre beam is long enough at this share of the longest there may be, or of the motif."""


def best_crease(
    upright: Upright,
    spans: Sequence[Span],
    scale: float,
    beam: CentreBeam,
    feelers: shapely.Geometry,
) -> float:
    """Return the crease to take of those in ``spans``.

    First those that cross no feeler (a stiff part added by hand can't fold) and the fewest thin
    bridges; of them, those with room for a long enough centre beam; of them the one nearest the
    middle, so that the motif lies in the middle of the open card and its halves carry alike.
    """
    if upright.axis is not None:
        return upright.axis
    creases = np.unique(np.concatenate([_places(span, upright.box.middle) for span in spans]))
    bad = [_bad_crossings(upright.solid, feelers, x, scale) for x in creases]
    creases = creases[np.array(bad) == min(bad)]
    drawn = beam.drawn(scale)
    band = upright.slit_band(scale, replace(beam, travel=beam.travel + beam.fold / 2))
    inner = upright.inner(scale, beam).intersection(band)
    room = scale * np.array([longest_fold(inner, float(x), drawn) for x in creases])
    enough = min(_NEARLY * room.max(), _ENOUGH * upright.box.height * scale)
    creases = creases[room >= enough]
    return float(creases[np.abs(creases - upright.box.middle).argmin()])


def _places(span: Span, middle: float) -> np.ndarray:
    low, high = span
    return np.append(np.linspace(low, high, _TRIED), min(max(middle, low), high))


def _bad_crossings(
    solid: shapely.Geometry, feelers: shapely.Geometry, x: float, scale: float
) -> int:
    thin = (crossings(solid, x) * scale < THIN_CROSSING.value).sum()
    return int(thin) + len(crossings(feelers, x))
