"""How many sheets no layout can do without."""

import math
from collections.abc import Iterator, Sequence

from trace2pop.stages.sheets.apart import apart, most_of, paper_area
from trace2pop.stages.sheets.kinds import Kind, Room

_SLACK = 1e-6


def least_sheets(kinds: Sequence[Kind], room: Room, most: Sequence[float] | None = None) -> int:
    """Return a number of sheets that no layout with these pieces, turns and gap can beat.

    Either paper and gaps fill so many sheets; or no sheet holds more than so many of one kind; or
    so many pieces go two and two on no sheet, and what goes with none of those needs sheets of its
    own besides. ``most`` says how many of each kind a sheet holds, where more is known of it.
    """
    never = {
        (one, other)
        for one in range(len(kinds))
        for other in range(one, len(kinds))
        if (one != other or kinds[one].count > 1) and apart(kinds[one], kinds[other], room)
    }
    if most is None:
        most = [most_of(kind, room) if kind.count > 1 else 1 for kind in kinds]
    return _least(tuple(range(len(kinds))), kinds, room, never, most)


def _least(
    some: tuple[int, ...],
    kinds: Sequence[Kind],
    room: Room,
    never: set[tuple[int, int]],
    most: Sequence[float],
) -> int:
    sheet = (room.width + room.gap) * (room.height + room.gap)
    filled = sum(paper_area(kinds[number], room) * kinds[number].count for number in some)
    best = math.ceil(filled / sheet - _SLACK)
    best = max([best, *(math.ceil(kinds[n].count / most[n] - _SLACK) for n in some)])
    alone = [n for n in some if kinds[n].count == 1 or (n, n) in never]
    for group in _groups(alone, never):
        rest = tuple(
            other
            for other in some
            if other not in group and all(_pair(other, one) in never for one in group)
        )
        beside = _least(rest, kinds, room, never, most) if rest else 0
        best = max(best, sum(kinds[number].count for number in group) + beside)
    return best


def _groups(
    alone: Sequence[int], never: set[tuple[int, int]], group: tuple[int, ...] = ()
) -> Iterator[tuple[int, ...]]:
    """Yield the sets of kinds of which no two pieces go on one sheet, those that hold ``group``."""
    for index, number in enumerate(alone):
        if all(_pair(number, one) in never for one in group):
            yield (*group, number)
            yield from _groups(alone[index + 1 :], never, (*group, number))


def _pair(one: int, other: int) -> tuple[int, int]:
    return (one, other) if one <= other else (other, one)
