"""Beziers kept through polygon operations: what was not touched comes back as it was."""

from itertools import pairwise

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray, Outline

_PLAIN = 0.01
"""mm a new edge may be off: a tenth of what a cutter can place."""


def split(segment: FloatArray, t0: float, t1: float) -> FloatArray:
    """Return the part of a cubic (4, 2) from ``t0`` to ``t1``, by de Casteljau's construction."""
    right = _right_of(segment, t0)
    return _left_of(right, (t1 - t0) / (1 - t0)) if t0 < 1 else right


def _left_of(p: FloatArray, t: float) -> FloatArray:
    ab, bc, cd = p[:-1] + t * (p[1:] - p[:-1])
    abc, bcd = ab + t * (bc - ab), bc + t * (cd - bc)
    return np.array([p[0], ab, abc, abc + t * (bcd - abc)])


def _right_of(p: FloatArray, t: float) -> FloatArray:
    return _left_of(p[::-1], 1 - t)[::-1]


def recovered(
    outline: Outline, shape: shapely.Polygon, tolerance: float = beziers.FLATTEN
) -> Outline:
    """Return ``shape`` as an outline that runs on ``outline``'s own Beziers wherever it can.

    ``shape`` must come from ``beziers.polygon(outline, tolerance)`` by operations that keep
    untouched vertices exactly, as shapely's do. New edges become straight segments.
    """
    places: dict[bytes, tuple[int, int]] = {}
    chains = (outline.outer, *outline.holes)
    flats = [beziers.flatten(chain, tolerance)[:-1] for chain in chains]
    for number, flat in enumerate(flats):
        for index, point in enumerate(flat):
            places[point.tobytes()] = (number, index)
    parameters = [_parameters(chain, tolerance) for chain in chains]
    rings = [
        _ring(np.asarray(ring.coords)[:-1, :2], places, chains, parameters)
        for ring in (shape.exterior, *shape.interiors)
    ]
    return Outline(rings[0], tuple(rings[1:]))


def _parameters(chain: Contour, tolerance: float) -> FloatArray:
    """Return segment number plus t of every flattened point, end point left out."""
    counts = [len(beziers.flatten(segment[None], tolerance)) - 1 for segment in chain]
    return np.concatenate([k + np.arange(n) / n for k, n in enumerate(counts)])


def _ring(
    points: FloatArray,
    places: dict[bytes, tuple[int, int]],
    chains: tuple[Contour, ...],
    parameters: list[FloatArray],
) -> Contour:
    known = [places.get(point.tobytes()) for point in points]
    steps = [_step(a, b, parameters) for a, b in pairwise([*known, known[0]])]
    if sum(step < 0 for step in steps) > sum(step > 0 for step in steps):
        return beziers.reverse(_ring(points[::-1], places, chains, parameters))
    start = next((i for i, step in enumerate(steps) if step <= 0), 0)
    order = [(start + 1 + i) % len(points) for i in range(len(points))]
    pieces: list[FloatArray] = []
    index = 0
    while index < len(order):
        kept = steps[order[index]] > 0
        run = [order[index]]
        while index < len(order) and (steps[order[index]] > 0) == kept:
            run.append((order[index] + 1) % len(points))
            index += 1
        pieces += _curve(run, known, chains, parameters) if kept else _new_edge(points[run])
    return np.array([piece for piece in pieces if np.ptp(piece, axis=0).max() > 0])


def _new_edge(points: FloatArray) -> list[FloatArray]:
    """Return a new edge as straight segments, no more of them than a cutter could show."""
    line = shapely.LineString(points).simplify(_PLAIN)
    return list(beziers.straight(np.asarray(line.coords), closed=False))


def _step(
    first: tuple[int, int] | None, second: tuple[int, int] | None, parameters: list[FloatArray]
) -> int:
    """Return 1 where two points follow each other on one chain, -1 backwards, 0 otherwise."""
    if first is None or second is None or first[0] != second[0]:
        return 0
    count = len(parameters[first[0]])
    ahead = (second[1] - first[1]) % count
    return 1 if ahead == 1 else -1 if ahead == count - 1 else 0


def _curve(
    run: list[int],
    known: list[tuple[int, int] | None],
    chains: tuple[Contour, ...],
    parameters: list[FloatArray],
) -> list[FloatArray]:
    """Return the Beziers under a run of following points."""
    first, last = known[run[0]], known[run[-1]]
    if len(run) < 2 or first is None or last is None:
        return []
    chain, place = chains[first[0]], parameters[first[0]]
    begin, end = float(place[first[1]]), float(place[last[1]])
    if end <= begin:
        end += len(chain)
    pieces = []
    while begin < end - 1e-12:
        number = int(begin + 1e-12)
        stop = min(end, number + 1)
        segment = chain[number % len(chain)]
        pieces.append(split(segment, begin - number, stop - number))
        begin = float(stop)
    return pieces
