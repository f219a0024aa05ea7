"""Where the crease may lie: through enough solid paper for the beam that stands on it."""

from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.limits import BEAM_CLEARANCE, CENTRE_SPARE
from trace2pop.mechanism.beam import shortest_fold, spared
from trace2pop.mechanism.slits import slit_margin
from trace2pop.model.card import Card
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import SupportSettings

Span = tuple[float, float]

_EDGE = 1e-9


@dataclass(frozen=True)
class CentreBeam:
    """What the beam on the crease needs of the motif.

    A pair of flanges of width ``flange`` with ends tapered by ``slope`` (mm along the fold per mm
    across), a fold line of at least ``fold``, all of it at least ``inset`` inside the paper, its
    middle at most ``travel`` from the card's, so that its slit leaves the base whole at the ends.
    """

    flange: float
    inset: float
    fold: float
    slope: float
    travel: float

    def drawn(self, scale: float) -> "CentreBeam":
        """Return the same beam measured on the drawing that is made ``scale`` times larger."""
        return CentreBeam(
            self.flange / scale,
            self.inset / scale,
            self.fold / scale,
            self.slope,
            self.travel / scale,
        )

    @property
    def width(self) -> float:
        """The paper it needs across."""
        return 2 * (self.flange + self.inset)


def centre_beam(supports: SupportSettings, card: Card) -> CentreBeam:
    """Return the least a centre beam needs: its narrowest flange, its shortest fold line.

    A little more length than that is asked for, so that the beam's place isn't forced to a hair.
    """
    flange = min(supports.flanges)
    fold = shortest_fold(flange, supports.taper) + CENTRE_SPARE.value
    ends = slit_margin(card.height) + supports.slit_clearance / 2
    return CentreBeam(
        flange=flange,
        inset=supports.inset + BEAM_CLEARANCE.value,
        fold=fold,
        slope=float(1 / np.tan(np.radians(supports.taper))),
        travel=max(card.height / 2 - ends - fold / 2, 0.0),
    )


def drawn_in(solid: shapely.Geometry, inset: float) -> shapely.Geometry:
    """Return the paper that flanges may cover: ``solid`` without its edge."""
    return solid.buffer(-inset, quad_segs=16)


def longest_fold(inner: shapely.Geometry, x: float, beam: CentreBeam) -> float:
    """Return the longest fold line along ``x`` whose flange pair lies in ``inner``; 0 if none.

    Exact. Each piece of missing paper forbids an interval of the pair's middle, and all intervals
    grow alike with the fold's length: the longest fold is the shortest one that makes sense (its
    tapers meet) plus the widest gap that leaves free.
    """
    if inner.is_empty:
        return 0.0
    _, top, _, bottom = inner.bounds
    pad = beam.flange * (1 + beam.slope) + 1
    strip = shapely.box(x - beam.flange, top - pad, x + beam.flange, bottom + pad)
    missing = shapely.get_parts(strip.difference(inner))
    shortest = 2 * beam.flange * beam.slope
    blocked = spared(missing, x, beam.slope) + np.array([-shortest, shortest]) / 2
    gap = max(_gaps(blocked), default=-1.0)
    return shortest + gap if gap >= 0 else 0.0


def _gaps(blocked: FloatArray) -> list[float]:
    gaps, end = [], -np.inf
    for start, stop in sorted(blocked.tolist()):
        if np.isfinite(end):
            gaps.append(start - end)
        end = max(end, stop)
    return gaps


def places(inner: shapely.Geometry, beam: CentreBeam, low: float, high: float) -> shapely.Geometry:
    """Return where the middle of a centre beam may lie, for creases from ``low`` to ``high``.

    Exact but for places of no width: ``inner`` eroded by the flange pair (Minkowski), that is
    ``inner`` without what the pair sweeps when its middle runs along the edge.
    """
    if low > high or inner.is_empty:
        return shapely.Polygon()
    _, top, _, bottom = inner.bounds
    reach = beam.flange * 1.01 + _EDGE
    near = inner.intersection(shapely.box(low - reach, top - 1, high + reach, bottom + 1))
    if near.is_empty:
        return near
    free = near.difference(shapely.union_all(_swept(near, beam)))
    column = shapely.LineString([(low, top - 1), (low, bottom + 1)])
    window = column if low == high else shapely.box(low, top - 1, high, bottom + 1)
    return free.intersection(window)


def _swept(shape: shapely.Geometry, beam: CentreBeam) -> FloatArray:
    """Return what the flange pair sweeps along each edge of ``shape``, as convex polygons."""
    half, short = beam.fold / 2, beam.fold / 2 - beam.flange * beam.slope
    f = beam.flange
    pair = np.array([(0, -half), (f, -short), (f, short), (0, half), (-f, short), (-f, -short)])
    ends = []
    for polygon in shapely.get_parts(shape):
        if polygon.geom_type != "Polygon":
            continue
        for ring in (polygon.exterior, *polygon.interiors):
            points = np.asarray(ring.coords)[:, :2]
            ends.append(np.stack([points[:-1], points[1:]], axis=1))
    edges = np.concatenate(ends)
    corners = (edges[:, :, None, :] + pair[None, None]).reshape(len(edges), -1, 2)
    hulls: FloatArray = shapely.convex_hull(shapely.linestrings(corners))
    return hulls


def spans_of(free: shapely.Geometry) -> tuple[Span, ...]:
    """Return the spans of x that the pieces of ``free`` cover, merged and in order."""
    bounds = shapely.bounds(shapely.get_parts(free))
    result: list[Span] = []
    for start, end in sorted((float(row[0]), float(row[2])) for row in bounds if row[0] == row[0]):
        if result and start <= result[-1][1]:
            result[-1] = (result[-1][0], max(end, result[-1][1]))
        else:
            result.append((start, end))
    return tuple(result)


def crossings(solid: shapely.Geometry, x: float) -> FloatArray:
    """Return the lengths of the stretches of paper that a crease along ``x`` runs through."""
    if solid.is_empty:
        return np.zeros(0)
    _, top, _, bottom = solid.bounds
    line = shapely.LineString([(x, top - 1), (x, bottom + 1)])
    lengths = shapely.length(shapely.get_parts(solid.intersection(line)))
    kept: FloatArray = lengths[lengths > 0]
    return kept
