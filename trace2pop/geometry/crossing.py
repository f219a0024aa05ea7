"""Whether curves cross themselves or each other: told of the curves, not of coarse chords."""

from collections.abc import Sequence

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray, Outline

FINE = 2e-4
"""Flattening in mm at which crossings are looked for: finer than anything is flattened later."""


def uncrossed(outline: Outline) -> bool:
    """Whether an outline's curves bound one region without crossing themselves or each other."""
    chains = (outline.outer, *outline.holes)
    return _valid(chains, FINE) and not any(len(_flipped(chain)) for chain in chains)


def sound(outline: Outline) -> bool:
    """Whether an outline that comes of polygon operations is valid as flattened for them.

    New edges meet old ones only as truly as that.
    """
    return _valid((outline.outer, *outline.holes), beziers.FLATTEN)


def _valid(chains: Sequence[Contour], tolerance: float) -> bool:
    rings = [beziers.flatten(chain, tolerance) for chain in chains]
    return bool(shapely.Polygon(rings[0], rings[1:]).is_valid)


def crossings(outline: Outline) -> FloatArray:
    """Return the places (n, 2) where an outline's curves cross themselves or each other.

    Curves that run along each other or merely touch have none, though they aren't ``uncrossed``.
    """
    chains = (outline.outer, *outline.holes)
    steps = []
    for chain in chains:
        points = beziers.flatten(chain, FINE)
        steps.append(np.stack([points[:-1], points[1:]], axis=1))
    lines = shapely.linestrings(np.concatenate(steps))
    one, other = shapely.STRtree(lines).query(lines, predicate="crosses")
    first = one < other
    met = shapely.intersection(lines[one[first]], lines[other[first]])
    places = shapely.get_coordinates(shapely.centroid(met))
    return np.vstack([places, *(_flipped(chain) for chain in chains)])


def _flipped(chain: Contour) -> FloatArray:
    """Return the nodes (n, 2) next to which two curves cross nearer than the first chord reaches.

    There the curves leave the node the other way round than their chords do.
    """
    counts = np.bincount(beziers.sampling(chain, FINE)[0], minlength=len(chain))
    out = _ways(chain)
    back = np.roll(_ways(beziers.reverse(chain))[::-1], 1, axis=0)
    out_chord = beziers.evaluate(chain, 1 / counts) - chain[:, 0]
    back_chord = np.roll(beziers.evaluate(chain, 1 - 1 / counts) - chain[:, 3], 1, axis=0)
    turn, turn_chord = _cross(out, back), _cross(out_chord, back_chord)
    sharp = ((out * back).sum(axis=1) > 0) & ((out_chord * back_chord).sum(axis=1) > 0)
    nodes: FloatArray = chain[sharp & (turn * turn_chord < 0), 0]
    return nodes


def _ways(chain: Contour) -> FloatArray:
    """Return in which direction (k, 2) each segment sets out: to its first point off its start."""
    ways = chain[:, 1] - chain[:, 0]
    for point in (2, 3):
        still = np.abs(ways).max(axis=1) < 1e-9
        ways[still] = (chain[:, point] - chain[:, 0])[still]
    return ways


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    result: FloatArray = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    return result
