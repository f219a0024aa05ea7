"""Things drawn in the motif's holes: loose there, for they touch nothing."""

from collections.abc import Sequence

import shapely

from trace2pop.geometry import beziers
from trace2pop.model.outline import Outline
from trace2pop.stages.trace.things import Thing


def within(taken: Sequence[Thing], things: Sequence[Thing]) -> list[Thing]:
    """Return the things not taken that lie in the box of one that is: they may be islands."""
    return [
        thing
        for thing in things
        if not thing.cut_off
        and not any(thing is other for other in taken)
        and any(_inside(thing.box, other.box) for other in taken)
    ]


def _inside(box: tuple[int, int, int, int], other: tuple[int, int, int, int]) -> bool:
    x, y, width, height = box
    left, top, wide, high = other
    return left <= x and top <= y and x + width <= left + wide and y + height <= top + high


def lies_in_hole(piece: shapely.Polygon, motif: shapely.Polygon) -> bool:
    """Whether a piece lies in one of the motif's holes."""
    inside = [shapely.Polygon(ring).contains(piece) for ring in motif.interiors]
    return any(inside)


def in_holes(outline: Outline, others: Sequence[Outline]) -> tuple[Outline, ...]:
    """Return those of the other outlines that lie in a hole of ``outline``, largest first."""
    holes = [shapely.Polygon(beziers.flatten(hole)) for hole in outline.holes]
    found = [
        (shape.area, other)
        for other in others
        for shape in [beziers.polygon(other)]
        if any(hole.contains(shape) for hole in holes)
    ]
    return tuple(other for _, other in sorted(found, key=lambda row: -row[0]))
