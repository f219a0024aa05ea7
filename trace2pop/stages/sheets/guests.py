"""Whose card each piece belongs to: sheets that can be handed out."""

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from trace2pop.stages.sheets.kinds import Kind, Layout

Numbered = tuple[Layout, tuple[int, ...]]
"""A sheet, and the number of the copy, from 1, at each of its spots."""


def for_guests(
    kinds: Sequence[Kind], guests: int, lay: Callable[[Sequence[Kind]], list[Layout]]
) -> list[Numbered]:
    """Return sheets for ``guests`` cards; ``kinds`` count the pieces of one.

    One layout a guest, the same for all, wins where it takes no more sheets than one for all.
    """
    own = lay(kinds)
    if guests > 1:
        together = lay([replace(kind, count=kind.count * guests) for kind in kinds])
        if len(together) < len(own) * guests:
            return _by_guest(kinds, guests, together)
    return [sheet for guest in range(guests) for sheet in _of_guest(kinds, guest, own)]


def _of_guest(kinds: Sequence[Kind], guest: int, own: Sequence[Layout]) -> list[Numbered]:
    used: Counter[int] = Counter()
    sheets = []
    for layout in own:
        numbers = []
        for spot in layout:
            used[spot.kind] += 1
            numbers.append(guest * kinds[spot.kind].count + used[spot.kind])
        sheets.append((layout, tuple(numbers)))
    return sheets


def _by_guest(kinds: Sequence[Kind], guests: int, layouts: Sequence[Layout]) -> list[Numbered]:
    """Return the sheets numbered so that each guest's pieces lie on few of them.

    Sheet by sheet, largest piece first, a place goes to a guest who has most on that sheet already,
    else to the next guest in turn.
    """
    left = [list(range(1, kind.count * guests + 1)) for kind in kinds]
    sheets = []
    for layout in layouts:
        here: Counter[int] = Counter()
        numbers = [0] * len(layout)
        ranked = sorted(range(len(layout)), key=lambda n: -_area(kinds[layout[n].kind]))
        for place in ranked:
            number = layout[place].kind
            each = kinds[number].count

            def wanted(copy: int, each: int = each, here: Counter[int] = here) -> tuple[int, int]:
                return here[(copy - 1) // each], -copy

            copy = max(left[number], key=wanted)
            left[number].remove(copy)
            here[(copy - 1) // each] += 1
            numbers[place] = copy
        sheets.append((layout, tuple(numbers)))
    return sheets


def _area(kind: Kind) -> float:
    return kind.width * kind.height
