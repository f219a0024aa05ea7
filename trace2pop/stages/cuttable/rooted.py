"""Feelers that are thin only farther out come off back to where their end can be glued."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.geometry.middle import MiddleLine, middle_line
from trace2pop.geometry.thin import REGION_AREA, Thin, find_thin, without
from trace2pop.mechanism.materials import nearest_diameter
from trace2pop.stages.cuttable.overlap import GlueRoom, direction

_WIDER = (1.5, 2.0, 2.5, 3.0)
"""Times the narrowest strip up to which a stalk may be wide to come off with its thin end."""

_KNOB_WIDER = 2.0
"""The same for a stalk with a knob: where it is thin beside the knob alone."""

_SLIGHT, _GOOD = 0.2, 0.5
"""mm of paper beside a glued end: with less than the first, a stalk hardly wider elsewhere comes
off whole; what is led back has the second."""

_CORNER = 0.95
"""A stalk cut off where it grows too wide is as wide there as was asked; at its own root less."""

_ALL = 0.95
"""Share of a feature that lies in another for it to be a part of that."""

_SLIM = 0.75
"""Nothing a stalk takes along is wider than twice this many times what it is cut off by."""


@dataclass(frozen=True, eq=False)
class Rooted:
    """Thin features; which of them reach farther back than they are thin, and which can't be glued.

    ``whole`` and ``bare`` go by places in ``features``; ``whole`` holds how wide the thin stretch
    is, in mm, which tells the material: the stalk's root is drawn wider. ``middles`` are the
    features' middle lines.
    """

    features: tuple[Thin, ...]
    middles: tuple[MiddleLine, ...]
    whole: Mapping[int, float]
    bare: frozenset[int]


def rooted(
    shape: shapely.Polygon, features: Sequence[Thin], width: float, overlap: float
) -> Rooted:
    """Return the thin features of ``shape`` with spurs led back to where they can be glued.

    A stalk that tapers, or wavers about the narrowest ``width``, is thin only from somewhere along
    it on. What is left of it there is no wider than the part that shall be glued behind it. So it
    comes off where it meets a body that has room for its glued end: for ``overlap`` mm, or fewer,
    but no fewer than ``limits.GLUE_LEAST``. A neck that carries a knob at a stalk's end is taken
    for what it would be if all of the stalk were thin.
    """
    kept, led = list(features), dict[Thin, float]()
    middles = {item: middle_line(item.region, item.joins) for item in kept}
    knobs = [item for item in kept if _carries_knob(shape, item, width)]
    room = _room(shape, kept)
    tight = [one for one in kept if not _can_be_glued(one, middles[one], room, overlap, _SLIGHT)]
    short = [one for one in tight if not _can_be_glued(one, middles[one], room, overlap)]
    for times in _WIDER:
        if not (short or knobs or tight):
            break
        for longer in find_thin(shape, times * width):
            inside = [item for item in kept if _within(item.region, longer.region)]
            wanted = [*short, *knobs]
            if _root(longer) < _CORNER * times * width:
                wanted += tight
            if not any(item in wanted for item in inside):
                continue
            if not _is_stalk(longer, inside, knobs, width, times):
                continue
            rest = [item for item in kept if item not in inside]
            drawn = max(middles[item].width for item in inside)
            middles[longer] = middle_line(longer.region, longer.joins)
            room = _room(shape, [*rest, longer])
            if _can_be_glued(longer, middles[longer], room, overlap, _GOOD, drawn):
                kept, led = [*rest, longer], {**led, longer: drawn}
                short = [item for item in short if item not in inside]
                knobs = [item for item in knobs if item not in inside]
        tight = []  # a stalk much broader elsewhere carries what is glued on it
    room = _room(shape, kept) if short else None
    bare = [item for item in short if not _can_be_glued(item, middles[item], room, overlap)]
    return Rooted(
        tuple(kept),
        tuple(middles[item] for item in kept),
        {number: led[item] for number, item in enumerate(kept) if item in led},
        frozenset(number for number, item in enumerate(kept) if item in bare),
    )


def _room(shape: shapely.Polygon, features: Sequence[Thin]) -> GlueRoom | None:
    """Return the back of what is left when all spurs are off; None where nothing is."""
    left = without(shape, [item for item in features if item.kind == "spur"])
    return GlueRoom(left[0]) if left else None


def _can_be_glued(
    item: Thin,
    middle: MiddleLine,
    room: GlueRoom | None,
    overlap: float,
    paper: float = 0.1,
    drawn: float = 0.0,
) -> bool:
    """Whether a feature is no spur, or one whose end has room with so much paper beside it.

    ``drawn`` is the width that tells its material where it is not its own.
    """
    if item.kind != "spur" or room is None:
        return True
    diameter = nearest_diameter(drawn or middle.width)
    return room.has(middle.path[0], -direction(middle.path), overlap, diameter, paper)


def _root(item: Thin) -> float:
    return float(np.hypot(*(item.joins[0, 1] - item.joins[0, 0]))) if len(item.joins) else np.inf


def _within(region: shapely.Polygon, other: shapely.Polygon) -> bool:
    return bool(region.intersection(other).area > _ALL * region.area)


def _carries_knob(shape: shapely.Polygon, item: Thin, width: float) -> bool:
    """Whether a bridge's farther end is no larger than a feeler's knob."""
    if item.kind != "bridge" or item.regions != 2:
        return False
    return float(without(shape, [item])[-1].area) < REGION_AREA * width * width


def _is_stalk(
    longer: Thin, inside: Sequence[Thin], knobs: Sequence[Thin], width: float, times: float
) -> bool:
    """Whether a longer spur is one with spurs and necks of knobs, and takes along strips only."""
    on_knob = any(item in knobs for item in inside)
    if longer.kind != "spur" or (on_knob and times > _KNOB_WIDER):
        return False
    if any(item.kind != "spur" and item not in knobs for item in inside):
        return False
    more = longer.region.difference(shapely.union_all([item.region for item in inside]))
    broad = more.buffer(-_SLIM * times * width).buffer(_SLIM * times * width)
    return bool(broad.area <= (REGION_AREA * width * width if on_knob else 0.0))
