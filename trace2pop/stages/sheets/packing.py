"""Boxes packed on sheets of one size: several known orders are tried, the best kept."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

_STEPS_PER_MM = 100


@dataclass(frozen=True)
class Box:
    """A box to place, in mm; ``key`` and ``turn_deg`` come back with its place."""

    key: int
    width: float
    height: float
    turn_deg: float = 0.0


@dataclass(frozen=True)
class Spot:
    """Where a piece lies: sheet number, its box's corner from the usable area's, and its turn."""

    key: int
    sheet: int
    x: float
    y: float
    turn_deg: float = 0.0


def pack(boxes: Sequence[Box], area: tuple[float, float], gap: float) -> list[Spot]:
    """Return a place for each box, at least ``gap`` apart, on as few sheets as were found.

    Every box must fit the area by itself. Each box is taken with its gap to the right and below,
    the area a gap larger. The same boxes always give the same places.
    """
    import rectpack  # only where sheets are laid out

    algorithms = (rectpack.MaxRectsBssf, rectpack.MaxRectsBl, rectpack.MaxRectsBaf)
    orders = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)
    turn = {box.key: box.turn_deg for box in boxes}
    room = (_down(area[0] + gap), _down(area[1] + gap))
    best: list[Spot] = []
    for algorithm in algorithms:
        for order in orders:
            packer = rectpack.newPacker(
                rectpack.PackingMode.Offline,
                rectpack.PackingBin.BFF,
                pack_algo=algorithm,
                sort_algo=order,
                rotation=False,
            )
            for box in boxes:
                packer.add_rect(_up(box.width + gap), _up(box.height + gap), box.key)
            packer.add_bin(*room, count=len(boxes))
            packer.pack()
            spots = [
                Spot(key, sheet, x / _STEPS_PER_MM, y / _STEPS_PER_MM, turn[key])
                for sheet, x, y, _, _, key in packer.rect_list()
            ]
            if len(spots) == len(boxes) and (
                not best or _score(spots, boxes) < _score(best, boxes)
            ):
                best = spots
    return sorted(best, key=lambda spot: (spot.sheet, spot.y, spot.x, spot.key))


def _score(spots: Sequence[Spot], boxes: Sequence[Box]) -> tuple[int, float]:
    """Return what is better when smaller: sheets, then how full the last one is."""
    last = max(spot.sheet for spot in spots)
    size = {box.key: box.width * box.height for box in boxes}
    return last + 1, sum(size[spot.key] for spot in spots if spot.sheet == last)


def _up(mm: float) -> int:
    return math.ceil(mm * _STEPS_PER_MM - 1e-6)


def _down(mm: float) -> int:
    return math.floor(mm * _STEPS_PER_MM + 1e-6)
