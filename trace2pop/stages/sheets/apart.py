"""Whether two pieces can lie on one sheet, and how many equal ones: by how one may lie to another.

Where the second may be moved to, relative to the first, is a rectangle. The places at which the two
overlap are the sum of the first and the turned-about second (Minkowski). Where those fill the
rectangle, no sheet holds both.
"""

import math

import numpy as np
import shapely
from shapely import affinity

from trace2pop.model.outline import FloatArray
from trace2pop.stages.sheets.kinds import Kind, Room

_INSIDE = 0.3
"""Pieces are simplified inwards by up to twice this, in mm: what overlaps then, overlaps."""

_LEAST = 1e-6


def most_of(kind: Kind, room: Room) -> float:
    """Return a number of pieces of one kind that no sheet holds more of; infinity where none is.

    Of pieces that all lie at least so far from each other across, or along, the sheet, its room for
    moving them takes only so many.
    """
    if 2 * min(kind.width, kind.height) + room.gap <= min(room.width, room.height):
        return math.inf  # so small that there are many places
    if not kind.papers:
        return math.inf
    free = [
        part
        for paper in kind.papers
        for part in free_moves(kind.papers[0], paper, kind, kind, room)
    ]
    if not free:
        return 1
    bounds = np.array([part.bounds for part in free])
    most = math.inf
    for axis, side in ((0, room.width - kind.width), (1, room.height - kind.height)):
        low, high = bounds[:, axis], bounds[:, axis + 2]
        nearest = float(np.maximum(np.maximum(low, -high), 0.0).min())
        if nearest > _LEAST:
            most = min(most, math.floor(side / nearest + _LEAST) + 1)
    return most


def apart(one: Kind, other: Kind, room: Room) -> bool:
    """Whether no sheet holds a piece of each kind, however they are laid.

    Both turns are half a turn apart, and the sheet is the same turned so: one turn of the first
    with both of the second are all there is.
    """
    across = one.width + other.width + room.gap - room.width
    down = one.height + other.height + room.gap - room.height
    if min(across, down) <= 0:
        return False  # their boxes have room beside each other
    boxes = sum((kind.width + room.gap) * (kind.height + room.gap) for kind in (one, other))
    bare = boxes - paper_area(one, room) - paper_area(other, room)
    if across * down > bare + _LEAST or not (one.papers and other.papers):
        return across * down > bare + _LEAST  # the boxes share more than what they lack of paper
    first = one.papers[0]
    return not any(free_moves(first, paper, one, other, room) for paper in other.papers)


def paper_area(kind: Kind, room: Room) -> float:
    """Return the paper of a piece with half the gap round it, which it has to itself.

    That may lie up to half a gap beyond the room.
    """
    paper = kind.papers[0] if kind.papers else shapely.box(0.0, 0.0, kind.width, kind.height)
    return float(paper.buffer(room.gap / 2).area)


def _within(paper: shapely.Polygon, gap: float) -> shapely.Polygon:
    """Return a polygon of fewer corners inside the paper with half the gap round it."""
    inner = paper.buffer(gap / 2 - _INSIDE).simplify(_INSIDE)
    return max(shapely.get_parts(inner), key=lambda part: part.area)


def free_moves(
    first: shapely.Polygon, second: shapely.Polygon, one: Kind, other: Kind, room: Room
) -> list[shapely.Geometry]:
    """Return the moves of the second paper, on the sheet, at which it lies off the first."""
    places = shapely.box(
        one.width - room.width,
        one.height - room.height,
        room.width - other.width,
        room.height - other.height,
    )
    first, second = _within(first, room.gap), _within(second, room.gap)
    found = []
    for part in shapely.get_parts(places.difference(_meeting(first, second))):
        if part.is_empty:
            continue
        # Where the edges don't meet, one lies in the other, or both apart.
        spot = part.representative_point()
        moved = affinity.translate(second, spot.x, spot.y)
        if first.intersection(moved).area <= _LEAST:
            found.append(part)
    return found


def _meeting(first: shapely.Polygon, second: shapely.Polygon) -> shapely.Geometry:
    """Return the moves of the second at which its edge meets the first's."""
    one, other = _edges(first), -_edges(second)
    a, b = np.repeat(one, len(other), axis=0), np.tile(other, (len(one), 1, 1))
    corners = [a[:, 0] + b[:, 0], a[:, 1] + b[:, 0], a[:, 1] + b[:, 1], a[:, 0] + b[:, 1]]
    swept = shapely.polygons(np.stack(corners, axis=1))
    return shapely.union_all(shapely.buffer(swept[shapely.area(swept) > _LEAST], 0))


def _edges(shape: shapely.Polygon) -> FloatArray:
    ring = np.asarray(shape.exterior.coords)
    return np.stack([ring[:-1], ring[1:]], axis=1)
