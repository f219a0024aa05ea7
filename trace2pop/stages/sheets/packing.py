"""A sheet filled with pieces by their boxes."""

import math
from collections.abc import Iterator, Sequence

from trace2pop.stages.sheets.kinds import Kind, Layout, Order, Room, Spot

_STEPS_PER_MM = 100
_SLACK = 2e-4


def by_boxes(kinds: Sequence[Kind], order: Order, room: Room) -> Iterator[Layout]:
    """Yield sheets filled in that order by several rules, each with as many pieces as it finds.

    Each box is taken with its gap to the right and below, the room a gap larger. The same order
    always gives the same sheets.
    """
    import rectpack  # only where sheets are laid out

    area = (_down(room.width + room.gap), _down(room.height + room.gap))
    for algorithm in (rectpack.MaxRectsBssf, rectpack.MaxRectsBl, rectpack.MaxRectsBaf):
        sheet = algorithm(*area, rot=False)
        for number, most in order:
            kind = kinds[number]
            box = _up(kind.width + room.gap), _up(kind.height + room.gap)
            for _ in range(most):
                if sheet.add_rect(*box, number) is None:
                    break  # nor would another one of its kind fit
        yield tuple(
            Spot(rect.rid, rect.x / _STEPS_PER_MM, rect.y / _STEPS_PER_MM, kinds[rect.rid].turns[0])
            for rect in sheet
        )


def _up(mm: float) -> int:
    return math.ceil(mm * _STEPS_PER_MM - _SLACK)


def _down(mm: float) -> int:
    return math.floor(mm * _STEPS_PER_MM + _SLACK)
