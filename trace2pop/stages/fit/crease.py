"""Where the crease may lie: through enough solid paper for the beam that stands on it."""

from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.model.outline import FloatArray

EDGE = 5.0
"""Shortest straight edge of a flange between its tapers, mm."""

_COLUMNS = 7


@dataclass(frozen=True)
class CentreBeam:
    """What the beam on the crease needs: flange width, inset from the outline, length."""

    flange: float
    inset: float
    length: float


def centre_beam(flanges: tuple[float, ...], inset: float, taper_deg: float) -> CentreBeam:
    """Return the least a centre beam needs, from its narrowest flange."""
    flange = min(flanges)
    return CentreBeam(flange, inset, 2 * flange / np.tan(np.radians(taper_deg)) + EDGE)


def solid_run(shape: shapely.Geometry, x: float, beam: CentreBeam) -> float:
    """Return the longest stretch along ``x`` in which the beam's flange pair lies inside.

    ``shape`` is the motif at final size, already drawn in by the inset. The flanges' full width is
    tested on both sides, which errs on the safe side at their tapered ends.
    """
    columns = x + np.linspace(-beam.flange, beam.flange, _COLUMNS)
    _, y0, _, y1 = shape.bounds
    free = [_intervals(shape, column, y0, y1) for column in columns]
    common = free[0]
    for other in free[1:]:
        common = _overlaps(common, other)
    return float(max((end - start for start, end in common), default=0.0))


def _intervals(shape: shapely.Geometry, x: float, y0: float, y1: float) -> FloatArray:
    line = shapely.LineString([(x, y0 - 1), (x, y1 + 1)])
    pieces = shapely.get_parts(shape.intersection(line))
    spans = [(piece.bounds[1], piece.bounds[3]) for piece in pieces if piece.length > 0]
    return np.array(sorted(spans)).reshape(-1, 2)


def _overlaps(first: FloatArray, second: FloatArray) -> FloatArray:
    starts = np.maximum(first[:, None, 0], second[None, :, 0])
    ends = np.minimum(first[:, None, 1], second[None, :, 1])
    kept = ends > starts
    return np.stack([starts[kept], ends[kept]], axis=1)
