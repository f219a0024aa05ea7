"""How far a trace is from the truth."""

from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.model.outline import Outline

Array = np.ndarray


@dataclass(frozen=True)
class Agreement:
    """Distances in mm over the outline both ways, and the overlap (intersection over union)."""

    mean: float
    p99: float
    worst: float
    iou: float


def agreement(found: shapely.Geometry, true: shapely.Geometry) -> Agreement:
    """Compare all rings. ``mean`` averages both directed means, ``worst`` is Hausdorff's."""
    ways = [_distances(found, true), _distances(true, found)]
    both = np.concatenate(ways)
    overlap = iou(found, true)
    return Agreement(
        float(np.mean([way.mean() for way in ways])),
        float(np.percentile(both, 99)),
        float(both.max()),
        float(overlap),
    )


def iou(found: shapely.Geometry, true: shapely.Geometry) -> float:
    """Return the overlap of two regions: intersection over union."""
    one, other = (shapely.make_valid(shape).buffer(0) for shape in (found, true))
    both = one.intersection(other).area
    return float(both / (one.area + other.area - both))


def _distances(one: shapely.Geometry, other: shapely.Geometry) -> Array:
    line = other.boundary
    shapely.prepare(line)
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(one.boundary, 0.1)))
    return np.asarray(shapely.distance(points, line))


def shape_of(chains: list[Array]) -> shapely.Geometry:
    """Return the largest piece of paper that chains in mm enclose by the even-odd rule."""
    total: shapely.Geometry = shapely.Polygon()
    for chain in sorted(chains, key=lambda c: -shapely.Polygon(beziers.flatten(c)).area):
        ring = shapely.make_valid(shapely.Polygon(beziers.flatten(chain)))
        total = total.symmetric_difference(ring)
    return max(shapely.get_parts(total), key=lambda part: part.area)


def segments(outline: Outline) -> int:
    return len(outline.outer) + sum(len(hole) for hole in outline.holes)


def spurs(
    true: shapely.Polygon, found: shapely.Geometry, width: float = 3.0
) -> tuple[float, float]:
    """Return the length in mm of the thin parts of ``true`` and how much of it is in ``found``.

    Thin parts are what an opening by ``width`` takes off, at least 1 mm wide themselves; length is
    half their outline's. A part is there as far as its middle, shrunk by a quarter, is covered.
    """
    thick = true.buffer(-0.5, quad_segs=8).buffer(0.5, quad_segs=8)
    core = true.buffer(-width / 2, quad_segs=8).buffer(width / 2 + 0.05, quad_segs=8)
    total = there = 0.0
    for part in shapely.get_parts(thick.difference(core)):
        middle = part.buffer(-0.25)
        length = middle.length / 2
        if length < width:
            continue
        total += length
        there += length * middle.intersection(found).area / middle.area
    return total, there
