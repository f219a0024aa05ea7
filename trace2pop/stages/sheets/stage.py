"""Pieces laid on sheets of their stock, inside what the cutter reaches, grain kept."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

import shapely

from trace2pop import limits
from trace2pop.errors import SheetError
from trace2pop.geometry import beziers
from trace2pop.mechanism import sheet
from trace2pop.model.finding import Finding
from trace2pop.model.pieces import Part, Parts, Placement, Sheet, Sheets
from trace2pop.model.settings import CutterSettings
from trace2pop.model.stock import Cutter
from trace2pop.stages.sheets.nesting import Shape, nest
from trace2pop.stages.sheets.order import ordered
from trace2pop.stages.sheets.packing import Box, Spot, pack

Piece = tuple[Part, int]
"""A part and the number of its copy, from 1."""

_NEST_TOLERANCE = 0.02
_CROSS_ROOM = 4.0
"""From the corner of the usable area to the middle of a registration cross."""


def sheets(parts: Parts, cutter: Cutter, settings: CutterSettings) -> Sheets:
    """Return every piece on a sheet: by stock, printed pieces and mock-up apart.

    Raises:
        SheetError: where a piece is larger than what the cutter reaches.
    """
    pieces = [
        (part, copy)
        for part in parts.parts
        for copy in range(1, part.quantity * (settings.copies if part.set == "card" else 1) + 1)
    ]
    by_name = {part.name: part for part in parts.parts}
    laid: list[Sheet] = []
    for _, group in groupby(sorted(pieces, key=_group), key=_group):
        laid += _lay(list(group), cutter, settings, len(laid))
    whole = tuple(_in_order(laid, by_name, settings.speed))
    return Sheets(parts, cutter, whole, tuple(_trimmed(whole, cutter)))


def _in_order(laid: Sequence[Sheet], parts: dict[str, Part], speed: float) -> Iterator[Sheet]:
    """Yield the sheets in cutting order; sheets laid out alike are worked out once."""
    known: dict[tuple[Placement, ...], Sheet] = {}
    for one in laid:
        alike = tuple(replace(place, copy=0) for place in one.placements)
        if alike not in known:
            known[alike] = ordered(replace(one, placements=alike), parts, speed)
        model = known[alike]
        copies = {replace(place, copy=0): place for place in one.placements}
        yield replace(
            one,
            placements=tuple(copies[place] for place in model.placements),
            steps=model.steps,
            work=model.work,
        )


def _trimmed(laid: Sequence[Sheet], cutter: Cutter) -> Iterator[Finding]:
    """Yield what stock has to be cut down before it goes onto the cutter."""
    for stock in dict.fromkeys(one.stock for one in laid):
        width, height = sheet.sheet_size(stock, cutter)
        if (width, height) != stock.sheet:
            yield Finding(
                "sheet-trimmed",
                "note",
                stock.title,
                max(stock.sheet),
                max(cutter.area),
                f"cut the sheets down to {width:.1f} x {height:.1f} mm first, the {cutter.title} "
                "takes no larger ones",
            )


def _group(piece: Piece) -> tuple[int, str]:
    part = piece[0]
    return (2 if part.set == "mockup" else 0 if part.printed else 1), part.stock.name


def _lay(
    pieces: list[Piece], cutter: Cutter, settings: CutterSettings, before: int
) -> Iterator[Sheet]:
    part = pieces[0][0]
    area, gap = sheet.usable(part.stock, cutter), settings.gap
    boxes = [_box(key, part, cutter) for key, (part, _) in enumerate(pieces)]
    band = _print_band(boxes, area) if part.printed else 0.0
    if band:
        gap = max(gap, 2 * (limits.BLEED.value + limits.CROP_MARK.value))
    room = (area[0] - 2 * band, area[1] - 2 * band)
    pieces, spots = _laid_out(pieces, boxes, room, gap, settings)
    width, height = sheet.sheet_size(part.stock, cutter)
    for number, on_sheet in groupby(spots, key=lambda spot: spot.sheet):
        yield Sheet(
            f"sheet-{before + number + 1}",
            part.stock,
            width,
            height,
            tuple(_placement(pieces[spot.key], spot, cutter.inset + band) for spot in on_sheet),
            edge=cutter.inset,
            crosses=_crosses(width, height, cutter.inset, band) if part.printed else (),
        )


def _laid_out(
    pieces: list[Piece],
    boxes: Sequence[Box],
    room: tuple[float, float],
    gap: float,
    settings: CutterSettings,
) -> tuple[list[Piece], list[Spot]]:
    """Return the spots, and the pieces with their copies numbered as they came to lie.

    One layout a guest, the same for all, wins where it takes no more sheets.
    """

    def lay(chosen: Sequence[Box]) -> list[Spot]:
        if settings.layout == "tight":
            return nest([_shape(box, pieces[box.key][0]) for box in chosen], room, gap)
        return pack(chosen, room, gap)

    guests: dict[int, list[Box]] = {}
    for (part, copy), box in zip(pieces, boxes, strict=True):
        guests.setdefault(_guest(part, copy), []).append(box)
    alike = _repeated(lay(guests[0]), guests)
    if len(guests) == 1:
        return pieces, alike
    together = lay(boxes)
    if alike[-1].sheet <= together[-1].sheet:
        return pieces, alike
    return _by_guest(pieces, together), together


def _repeated(first: Sequence[Spot], guests: dict[int, list[Box]]) -> list[Spot]:
    """Return the layout of the first guest's pieces repeated for every guest."""
    layout = {spot.key: spot for spot in first}
    sheets_each = max(spot.sheet for spot in first) + 1
    spots = [
        replace(layout[model.key], key=box.key, sheet=layout[model.key].sheet + guest * sheets_each)
        for guest, own in guests.items()
        for model, box in zip(guests[0], own, strict=True)
    ]
    return sorted(spots, key=lambda spot: (spot.sheet, spot.y, spot.x, spot.key))


def _by_guest(pieces: list[Piece], spots: Sequence[Spot]) -> list[Piece]:
    """Return the pieces with equal ones numbered anew, so that each guest's lie on few sheets.

    Sheet by sheet, largest piece first, a place goes to a guest who has most on that sheet already,
    else to the next guest in turn.
    """
    left: dict[str, list[int]] = {}
    for part, copy in pieces:
        left.setdefault(part.name, []).append(copy)
    numbered = list(pieces)
    for _, on_sheet in groupby(spots, key=lambda spot: spot.sheet):
        here: Counter[int] = Counter()
        for spot in sorted(on_sheet, key=lambda spot: -_area(pieces[spot.key][0])):
            part = pieces[spot.key][0]
            copies = left[part.name]
            copy = max(copies, key=lambda number: (here[_guest(part, number)], -number))
            copies.remove(copy)
            here[_guest(part, copy)] += 1
            numbered[spot.key] = (part, copy)
    return numbered


def _guest(part: Part, copy: int) -> int:
    """Return whose card a copy belongs to."""
    return (copy - 1) // part.quantity


def _area(part: Part) -> float:
    return part.size[0] * part.size[1]


def _placement(piece: Piece, spot: Spot, corner: float) -> Placement:
    x, y = round(corner + spot.x, 4), round(corner + spot.y, 4)
    return Placement(piece[0].name, piece[1], x, y, spot.turn_deg)


def _shape(box: Box, part: Part) -> Shape:
    """Return a piece's paper at the two turns that keep its grain."""
    outline = next(stroke for stroke in part.strokes if stroke.id == "outline")
    turns = (box.turn_deg, box.turn_deg + 180)
    papers = []
    for turn in turns:
        matrix = sheet.to_sheet(part, Placement(part.name, 1, 0.0, 0.0, turn))
        points = beziers.flatten(beziers.transform(outline.line, matrix), _NEST_TOLERANCE)
        papers.append(shapely.Polygon(points))
    return Shape(box.key, turns, tuple(papers))


def _print_band(boxes: Sequence[Box], area: tuple[float, float]) -> float:
    """Return the room round printed pieces for bleed, crop marks and crosses; 0 where it lacks."""
    band = limits.BLEED.value + limits.CROP_MARK.value + _CROSS_ROOM + 1
    roomy = all(
        box.width + 2 * band <= area[0] and box.height + 2 * band <= area[1] for box in boxes
    )
    return band if roomy else 0.0


def _crosses(
    width: float, height: float, inset: float, band: float
) -> tuple[tuple[float, float], ...]:
    """Return four crosses near the corners: in the band, or in the edge where there is none.

    The one at the foot's left corner lies further in, so that a sheet laid the wrong way shows.
    """
    off = inset + _CROSS_ROOM if band else inset / 2
    in_further = off + 10.0
    return (
        (off, off),
        (width - off, off),
        (width - off, height - off),
        (in_further, height - off),
    )


def _box(key: int, part: Part, cutter: Cutter) -> Box:
    """Return the piece's box at the quarter turn that keeps its grain.

    Raises:
        SheetError: where the piece doesn't fit so.
    """
    allowed = sheet.turns(part.grain_deg, part.stock)
    if allowed is not None and sheet.fits(part.size, part.grain_deg, part.stock, cutter):
        return Box(key, *sheet.turned_size(part.size, allowed[0]), allowed[0])
    room = sheet.usable(part.stock, cutter)
    raise SheetError(
        f"the {part.title} is {part.size[0]:.1f} x {part.size[1]:.1f} mm; {part.stock.title} on "
        f"the {cutter.title} has room for {room[0]:.1f} x {room[1]:.1f} mm",
        "choose a larger cutter (--cutter) or larger sheets, or a smaller card (--card)",
    )
