"""How many sheets no layout can do without."""

import math
from collections.abc import Sequence

import shapely

from trace2pop.stages.sheets.kinds import Kind, Room

_SLACK = 1e-6


def least_sheets(kinds: Sequence[Kind], room: Room) -> int:
    """Return a number of sheets that no layout with these pieces, turns and gap can beat.

    Either paper and gaps fill so many sheets; or so many pieces go two and two on no sheet, and the
    paper of what goes with none of those comes on top.
    """
    sheet = (room.width + room.gap) * (room.height + room.gap)
    areas = [_paper(kind, room) * kind.count for kind in kinds]
    ranked = sorted(range(len(kinds)), key=lambda n: -kinds[n].width * kinds[n].height)
    alone: list[int] = []
    for number in ranked:
        if all(_apart(kinds[number], kinds[other], room) for other in (*alone, number)):
            alone.append(number)
    rest = [n for n in ranked if n not in alone
            and all(_apart(kinds[n], kinds[other], room) for other in alone)]  # fmt: skip
    apart = sum(kinds[number].count for number in alone)
    return max(
        math.ceil(sum(areas) / sheet - _SLACK),
        apart + math.ceil(sum(areas[number] for number in rest) / sheet - _SLACK),
    )


def _paper(kind: Kind, room: Room) -> float:
    """Return the paper of a piece with half the gap round it, which it has to itself.

    That may lie up to half a gap beyond the room.
    """
    paper = kind.papers[0] if kind.papers else shapely.box(0.0, 0.0, kind.width, kind.height)
    return float(paper.buffer(room.gap / 2).area)


def _apart(a: Kind, b: Kind, room: Room) -> bool:
    """Whether two pieces can't lie on one sheet.

    Where their boxes overlap by more than what both boxes lack of paper, papers overlap too.
    """
    across = a.width + b.width + room.gap - room.width
    down = a.height + b.height + room.gap - room.height
    if min(across, down) <= 0:
        return False
    lacking = sum(
        (kind.width + room.gap) * (kind.height + room.gap) - _paper(kind, room) for kind in (a, b)
    )
    return across * down > lacking + _SLACK
