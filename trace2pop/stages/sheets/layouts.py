"""Pieces laid on as few sheets as can be found, by boxes and by true shapes."""

from collections.abc import Sequence
from functools import partial
from typing import Literal

from trace2pop.stages.sheets.bound import least_sheets
from trace2pop.stages.sheets.kinds import Kind, Layout, Room
from trace2pop.stages.sheets.nesting import ByShapes
from trace2pop.stages.sheets.packing import by_boxes
from trace2pop.stages.sheets.patterns import Patterns

_ROUNDS, _LEADING = 12, 6
_SHAPE_ROUNDS, _SHAPES_LEADING = 3, 2


def laid_out(
    kinds: Sequence[Kind], room: Room, layout: Literal["auto", "boxes", "tight"]
) -> list[Layout]:
    """Return one layout a sheet. Every piece must fit the room by itself.

    "boxes" lays pieces by their boxes; "tight" also by their true shapes; "auto" does so only where
    that saves a sheet.
    """
    least = least_sheets(kinds, room)
    patterns = Patterns(kinds, least)
    patterns.gather(partial(by_boxes, kinds, room=room), _ROUNDS, _LEADING)
    boxed = patterns.fewest()
    if layout == "boxes" or (layout == "auto" and len(boxed) <= least):
        return boxed
    patterns.gather(ByShapes(kinds, room), _SHAPE_ROUNDS, _SHAPES_LEADING)
    tight = patterns.fewest()
    return tight if layout == "tight" or len(tight) < len(boxed) else boxed
