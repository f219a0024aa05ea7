"""The I-beam's panels in card coordinates: flange pairs, and the least a beam needs."""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.limits import BEAM_EDGE
from trace2pop.model.outline import FloatArray


def flange(
    u: float, v0: float, v1: float, width: float, taper_deg: float, side: int
) -> shapely.Polygon:
    """Return one flange in card coordinates: a trapezoid on the fold line at ``u``, v0 .. v1.

    ``side`` is +1 for the flange towards larger u, -1 for the other. ``taper_deg`` is the slope of
    its ends against the fold. Where the beam is too short for the taper the trapezoid ends in a
    point.
    """
    slope = 1 / np.tan(np.radians(taper_deg))
    reach = min(width, (v1 - v0) / 2 / slope) if slope > 0 else width
    cut = reach * slope
    edge = u + side * reach
    return shapely.Polygon([(u, v0), (edge, v0 + cut), (edge, v1 - cut), (u, v1)])


def flange_pair(u: float, v0: float, v1: float, width: float, taper_deg: float) -> shapely.Polygon:
    """Return both flanges of a pair as one polygon: what a beam covers on motif or base."""
    slope = 1 / np.tan(np.radians(taper_deg))
    reach = min(width, (v1 - v0) / 2 / slope) if slope > 0 else width
    cut = reach * slope
    right, left = u + reach, u - reach
    corners = [(u, v0), (right, v0 + cut), (right, v1 - cut), (u, v1)]
    return shapely.Polygon([*corners, (left, v1 - cut), (left, v0 + cut)])


def shortest_fold(width: float, taper_deg: float) -> float:
    """Return the shortest fold line of a beam with flanges of ``width``.

    The tapers of both ends, and a straight edge of ``limits.BEAM_EDGE`` between them.
    """
    return float(2 * width / np.tan(np.radians(taper_deg)) + BEAM_EDGE.value)


def spared(pieces: Sequence[shapely.Polygon], u: float, slope: float) -> FloatArray:
    """Return (n, 2) the v where a flange pair on the fold at ``u`` must end before each piece.

    And where one may start behind it. ``slope`` is what a pair's end recedes per mm from the fold:
    a point at distance a from it and at height v is spared by a pair that ends before v + a * slope
    or starts after v - a * slope.
    """
    rings, owner = shapely.get_rings(pieces, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    away, v = points[:, 0] - u, points[:, 1]
    lean = np.abs(away) * slope
    # Of an edge only its ends tell, and where it crosses the fold.
    over = np.flatnonzero((ring[1:] == ring[:-1]) & (away[1:] * away[:-1] < 0))
    crossing = v[over] + (v[over + 1] - v[over]) * away[over] / (away[over] - away[over + 1])
    of = owner[np.concatenate([ring, ring[over]])]
    result = np.tile([np.inf, -np.inf], (len(pieces), 1))
    np.minimum.at(result[:, 0], of, np.concatenate([v + lean, crossing]))
    np.maximum.at(result[:, 1], of, np.concatenate([v - lean, crossing]))
    return result


def polygon_points(shape: shapely.Polygon) -> FloatArray:
    """Return a polygon's outer corners (n, 2), the first not repeated."""
    return np.asarray(shape.exterior.coords, dtype=float)[:-1, :2]
