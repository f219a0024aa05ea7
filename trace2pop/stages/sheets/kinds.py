"""Equal pieces to lay, and how some of them lie on one sheet."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely


@dataclass(frozen=True, eq=False)
class Kind:
    """Equal pieces: their box at a turn that keeps the grain, in mm, and how many there are.

    ``turns`` are both turns that keep the grain, ``papers`` the paper at each, its corner at 0 0;
    the box is the same at both.
    """

    width: float
    height: float
    count: int
    turns: tuple[float, ...] = (0.0,)
    papers: tuple[shapely.Polygon, ...] = ()


@dataclass(frozen=True)
class Spot:
    """Where a piece lies: its kind's number, its box's corner from the room's, its turn."""

    kind: int
    x: float
    y: float
    turn_deg: float = 0.0


Layout = tuple[Spot, ...]
"""The pieces of one sheet."""

Order = tuple[tuple[int, int], ...]
"""In which order kinds are laid on a sheet, and how many of each at most."""


@dataclass(frozen=True)
class Room:
    """What a sheet has room for: width, height, and the clear space between pieces, in mm."""

    width: float
    height: float
    gap: float


def counts(layout: Layout, kinds: Sequence[Kind]) -> tuple[int, ...]:
    """Return how many pieces of each kind lie on a sheet."""
    found = Counter(spot.kind for spot in layout)
    return tuple(found[number] for number in range(len(kinds)))


def centred(layout: Layout, kinds: Sequence[Kind], room: Room) -> Layout:
    """Return the pieces of one sheet moved together to the middle of the room."""
    layout = in_corner(layout)
    across = room.width - max(spot.x + kinds[spot.kind].width for spot in layout)
    down = room.height - max(spot.y + kinds[spot.kind].height for spot in layout)
    return _moved(layout, across / 2, down / 2)


def in_corner(layout: Layout) -> Layout:
    """Return the pieces of one sheet moved together to the room's corner."""
    return _moved(layout, -min(spot.x for spot in layout), -min(spot.y for spot in layout))


def _moved(layout: Layout, across: float, down: float) -> Layout:
    return tuple(replace(spot, x=spot.x + across, y=spot.y + down) for spot in layout)
