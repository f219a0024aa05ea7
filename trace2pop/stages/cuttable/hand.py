"""Parts added by hand: their list, in the order of their numbers."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.geometry.middle import MiddleLine
from trace2pop.mechanism.materials import nearest_diameter
from trace2pop.model.card import HandPart, PlacedMotif
from trace2pop.model.settings import FragileSettings
from trace2pop.stages.cuttable.found import Found
from trace2pop.stages.cuttable.overlap import GlueRoom, direction
from trace2pop.stages.cuttable.tips import followed

_FRINGE = 5
"""This many spurs in a row are a fringe."""

_ROW, _ROW_MM = 0.5, 3.0
"""In a row: joins nearer than this share of their length, or this many mm."""

_ROW_TURN_DEG = 45.0
_CLUB = 1.6
"""A part is clubbed where it swells to this many times its usual width."""


def hand_parts(
    found: Sequence[Found], body: shapely.Polygon, placed: PlacedMotif, settings: FragileSettings
) -> tuple[HandPart, ...]:
    """Return the features to be added by hand, with room for their glued ends on ``body``."""
    room = GlueRoom(body)
    # Pairs on either side of the crease follow each other, so that both find the same room.
    order = sorted(
        (item for item in found if item.choice == "hand"),
        key=lambda item: (round(abs(item.at[0])), item.number),
    )
    parts = [_part(item, room, placed, settings) for item in order]
    return tuple(_with_fringes(sorted(parts, key=lambda part: part.id)))


def _part(item: Found, room: GlueRoom, placed: PlacedMotif, settings: FragileSettings) -> HandPart:
    thick = nearest_diameter(item.drawn or item.middle.width)
    middle, unsure = followed(item.middle, placed, thick=None if settings.bends else thick)
    outward = direction(middle.path)
    diameter = nearest_diameter(item.drawn or middle.width)
    join = middle.path[0]
    overlap = room.overlap(join, -outward, settings.glue_overlap, diameter)
    glued = float(np.linalg.norm(overlap[1] - overlap[0]))
    return HandPart(
        id=item.number,
        kind="spur",
        length=middle.length,
        root_width=middle.root_width,
        tip_width=middle.tip_width,
        width=middle.width,
        cut_length=middle.length + glued,
        diameter=diameter,
        join=(float(join[0]), float(join[1])),
        direction_deg=float(np.degrees(np.arctan2(outward[1], outward[0]))),
        path=middle.path,
        overlap=overlap,
        shape=beziers.from_polygon(item.thin.region),
        choice="hand",
        branches=middle.branches,
        form=_form(middle),
        uncertainty=unsure,
    )


def _form(middle: MiddleLine) -> Literal["plain", "forked", "clubbed"]:
    if middle.branches:
        return "forked"
    return "clubbed" if middle.widths.max() > _CLUB * np.median(middle.widths) else "plain"


def _with_fringes(parts: list[HandPart]) -> list[HandPart]:
    """Return the parts with those that stand many in a row made fringes, numbered.

    Rows run on past the head, where numbers begin again.
    """
    if not parts:
        return []
    breaks = [n for n in range(len(parts)) if not _in_row(parts[n - 1], parts[n])]
    result, fringe = list(parts), 0
    starts = breaks or [0]
    for start, end in zip(starts, [*starts[1:], starts[0] + len(parts)], strict=True):
        if end - start >= _FRINGE:
            fringe += 1
            for number in range(start, end):
                member = number % len(parts)
                result[member] = replace(result[member], fringe=fringe)
    return result


def _in_row(first: HandPart, second: HandPart) -> bool:
    apart = float(np.hypot(*(np.subtract(first.join, second.join))))
    turn = abs((second.direction_deg - first.direction_deg + 180) % 360 - 180)
    reach = max(_ROW * min(first.length, second.length), _ROW_MM)
    return apart <= reach and turn <= _ROW_TURN_DEG
