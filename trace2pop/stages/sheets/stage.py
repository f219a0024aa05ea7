"""Pieces laid on sheets of their stock, inside what the cutter reaches, grain kept."""

from collections.abc import Iterator
from itertools import groupby

from trace2pop.errors import SheetError
from trace2pop.mechanism import sheet
from trace2pop.model.pieces import Part, Parts, Placement, Sheet, Sheets
from trace2pop.model.settings import CutterSettings
from trace2pop.model.stock import Cutter
from trace2pop.stages.sheets.packing import Box, pack

Piece = tuple[Part, int]
"""A part and the number of its copy, from 1."""


def sheets(parts: Parts, cutter: Cutter, settings: CutterSettings) -> Sheets:
    """Return every piece on a sheet: by stock, printed pieces and mock-up apart.

    Raises:
        SheetError: where a piece is larger than what the cutter reaches.
    """
    pieces = [(part, copy) for part in parts.parts for copy in range(1, part.quantity + 1)]
    laid: list[Sheet] = []
    for (kind, _), group in groupby(sorted(pieces, key=_group), key=_group):
        laid += _lay(list(group), cutter, settings.gap, kind, len(laid))
    return Sheets(parts, cutter, tuple(laid))


def _group(piece: Piece) -> tuple[int, str]:
    part = piece[0]
    return (2 if part.set == "mockup" else 0 if part.printed else 1), part.stock.name


def _lay(
    pieces: list[Piece], cutter: Cutter, gap: float, kind: int, before: int
) -> Iterator[Sheet]:
    stock = pieces[0][0].stock
    boxes, angles = [], []
    for key, (part, _) in enumerate(pieces):
        turn = _turn(part, cutter)
        angles.append(turn)
        boxes.append(Box(key, *sheet.turned_size(part.size, turn)))
    spots = pack(boxes, sheet.usable(stock, cutter), gap)
    width, height = sheet.sheet_size(stock, cutter)
    for number, on_sheet in groupby(spots, key=lambda spot: spot.sheet):
        placements = tuple(
            Placement(
                pieces[spot.key][0].name,
                pieces[spot.key][1],
                round(cutter.inset + spot.x, 4),
                round(cutter.inset + spot.y, 4),
                angles[spot.key],
            )
            for spot in on_sheet
        )
        yield Sheet(f"sheet-{before + number + 1}", stock, width, height, placements)


def _turn(part: Part, cutter: Cutter) -> float:
    """Return the quarter turn that keeps the grain.

    Raises:
        SheetError: where the piece doesn't fit so.
    """
    allowed = sheet.turns(part.grain_deg, part.stock)
    if allowed is not None and sheet.fits(part.size, part.grain_deg, part.stock, cutter):
        return allowed[0]
    room = sheet.usable(part.stock, cutter)
    raise SheetError(
        f"{part.title} is {part.size[0]:.1f} x {part.size[1]:.1f} mm; {part.stock.title} on the "
        f"{cutter.title} has room for {room[0]:.1f} x {room[1]:.1f} mm",
        "choose a larger cutter or sheet, or a smaller card",
    )
