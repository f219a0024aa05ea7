"""The white mock-up laid on pages for a desktop printer, tiled where a piece is larger."""

import math
from functools import partial

from trace2pop.limits import TILE_OVERLAP
from trace2pop.mechanism import sheet
from trace2pop.model.pieces import Part, Pieces, Placement, Sheet
from trace2pop.stages.sheets.guests import for_guests
from trace2pop.stages.sheets.kinds import Kind, Room
from trace2pop.stages.sheets.layouts import laid_out

PAPERS = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
EDGE = 6.0
"""What a desktop printer leaves blank along the edges."""

_GAP = 4.0


def mockup_pages(parts: Pieces, paper: str) -> tuple[Sheet, ...]:
    """Return pages with the mock-up pieces and the beams, at true size.

    Pieces that fit a page in either direction lie whole; larger ones are tiled over several pages
    that overlap by a centimetre. Grain doesn't matter in a trial.
    """
    pieces = [part for part in parts.parts if part.set == "mockup" or part.role == "beam"]
    width, height = PAPERS[paper]
    room = (width - 2 * EDGE, height - 2 * EDGE)
    whole = [part for part in pieces if _turn(part, room) is not None]
    laid = _packed(whole, room, paper)
    for part in pieces:
        if part not in whole:
            laid += _tiles(part, room, paper)
    return tuple(laid)


def _turn(part: Part, room: tuple[float, float]) -> float | None:
    for turn in (0.0, 90.0):
        w, h = sheet.turned_size(part.size, turn)
        if w <= room[0] and h <= room[1]:
            return turn
    return None


def _packed(parts: list[Part], room: tuple[float, float], paper: str) -> list[Sheet]:
    if not parts:
        return []
    kinds = []
    for part in parts:
        turn = _turn(part, room) or 0.0
        kinds.append(Kind(*sheet.turned_size(part.size, turn), part.quantity, (turn,)))
    layouts = for_guests(kinds, 1, partial(laid_out, room=Room(*room, _GAP), layout="boxes"))
    return [
        _sheet(
            f"mock-up page {number}",
            parts[0],
            paper,
            tuple(
                Placement(parts[s.kind].name, copy, EDGE + s.x, EDGE + s.y, s.turn_deg)
                for s, copy in zip(spots, copies, strict=True)
            ),
        )
        for number, (spots, copies) in enumerate(layouts, start=1)
    ]


def _tiles(part: Part, room: tuple[float, float], paper: str) -> list[Sheet]:
    """Return the pages that one large piece takes, in rows."""
    turn = min((0.0, 90.0), key=lambda angle: math.prod(_counts(part, angle, room)))
    across, down = _counts(part, turn, room)
    laid = []
    for row in range(down):
        for column in range(across):
            x = EDGE - column * (room[0] - TILE_OVERLAP.value)
            y = EDGE - row * (room[1] - TILE_OVERLAP.value)
            place = (Placement(part.name, 1, round(x, 4), round(y, 4), turn),)
            tile = f"row {row + 1} of {down}, column {column + 1} of {across}"
            laid.append(_sheet(part.title, part, paper, place, tile))
    return laid


def _counts(part: Part, turn: float, room: tuple[float, float]) -> tuple[int, int]:
    width, height = sheet.turned_size(part.size, turn)
    across = math.ceil((width - TILE_OVERLAP.value) / (room[0] - TILE_OVERLAP.value))
    return max(1, across), max(
        1, math.ceil((height - TILE_OVERLAP.value) / (room[1] - TILE_OVERLAP.value))
    )


def _sheet(
    name: str, part: Part, paper: str, placements: tuple[Placement, ...], tile: str = ""
) -> Sheet:
    width, height = PAPERS[paper]
    return Sheet(name, part.stock, width, height, placements, tile=tile, edge=EDGE)
