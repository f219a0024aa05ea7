"""Pieces laid on sheets of their stock, inside what the cutter reaches, grain kept."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import groupby

import numpy as np
import shapely
from shapely import affinity

from trace2pop import limits
from trace2pop.errors import SheetError
from trace2pop.geometry import beziers
from trace2pop.mechanism import sheet
from trace2pop.model.finding import Finding
from trace2pop.model.pieces import Part, Parts, Placement, Sheet, Sheets
from trace2pop.model.settings import CutterSettings
from trace2pop.model.stock import Cutter
from trace2pop.stages.sheets.guests import for_guests
from trace2pop.stages.sheets.kinds import Kind, Room, Spot, centred
from trace2pop.stages.sheets.layouts import laid_out
from trace2pop.stages.sheets.order import ordered

_NEST_TOLERANCE = 0.02
_CROSS_ROOM, _CROSS_CLEAR, _CROSS_STEP = 4.0, 5.0, 5.0
"""From the usable area's corner to the middle of a registration cross; from there to the bleed;
how far a cross slides at a time."""


def sheets(parts: Parts, cutter: Cutter, settings: CutterSettings) -> Sheets:
    """Return every piece on a sheet: by stock, printed pieces and mock-up apart.

    Raises:
        SheetError: where a piece is larger than what the cutter reaches.
    """
    by_name = {part.name: part for part in parts.parts}
    laid: list[Sheet] = []
    for _, group in groupby(sorted(parts.parts, key=_group), key=_group):
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
                f"cut the sheets down to {width:.1f} x {height:.1f} mm first, {cutter.the} "
                "takes no larger ones",
            )


def _group(part: Part) -> tuple[int, str]:
    return (2 if part.set == "mockup" else 0 if part.printed else 1), part.stock.name


def _lay(
    parts: Sequence[Part], cutter: Cutter, settings: CutterSettings, before: int
) -> Iterator[Sheet]:
    stock = parts[0].stock
    area, gap = sheet.usable(stock, cutter), settings.gap
    kinds = [_kind(part, cutter) for part in parts]
    band = _print_band(kinds, area) if parts[0].printed else 0.0
    if band:
        gap = max(gap, 2 * (limits.BLEED.value + limits.CROP_MARK.value))
    room = Room(area[0] - 2 * band, area[1] - 2 * band, gap)
    guests = settings.copies if parts[0].set == "card" else 1
    lay = partial(laid_out, room=room, layout=settings.layout)
    width, height = sheet.sheet_size(stock, cutter)
    for number, (spots, copies) in enumerate(for_guests(kinds, guests, lay), start=before + 1):
        if parts[0].printed:  # so that bleed keeps off rulers and crosses as well as it can
            spots = centred(spots, kinds, room)
        papers = [_lying(kinds[spot.kind], spot, cutter.inset + band) for spot in spots]
        yield Sheet(
            f"sheet-{number}",
            stock,
            width,
            height,
            tuple(
                _placement(parts[spot.kind], copy, spot, cutter.inset + band)
                for spot, copy in zip(spots, copies, strict=True)
            ),
            edge=cutter.inset,
            crosses=_crosses((width, height), cutter.inset, papers) if parts[0].printed else (),
        )


def _lying(kind: Kind, spot: Spot, corner: float) -> shapely.Polygon:
    """Return a piece's paper where it lies on the sheet."""
    paper = kind.papers[kind.turns.index(spot.turn_deg)]
    return affinity.translate(paper, corner + spot.x, corner + spot.y)


def _placement(part: Part, copy: int, spot: Spot, corner: float) -> Placement:
    x, y = round(corner + spot.x, 4), round(corner + spot.y, 4)
    return Placement(part.name, copy, x, y, spot.turn_deg)


def _kind(part: Part, cutter: Cutter) -> Kind:
    """Return the piece at the two turns that keep its grain.

    Raises:
        SheetError: where it doesn't fit so.
    """
    turns = sheet.turns(part.grain_deg, part.stock)
    if turns is None or not sheet.fits(part.size, part.grain_deg, part.stock, cutter):
        room = sheet.usable(part.stock, cutter)
        raise SheetError(
            f"the {part.title} is {part.size[0]:.1f} x {part.size[1]:.1f} mm; {part.stock.title} "
            f"on {cutter.the} has room for {room[0]:.1f} x {room[1]:.1f} mm",
            "choose a larger cutter (--cutter) or larger sheets, or a smaller card (--card)",
        )
    outline = next(stroke for stroke in part.strokes if stroke.id == "outline")
    papers = []
    for turn in turns:
        matrix = sheet.to_sheet(part, Placement(part.name, 1, 0.0, 0.0, turn))
        points = beziers.flatten(beziers.transform(outline.line, matrix), _NEST_TOLERANCE)
        papers.append(shapely.Polygon(points))
    size = sheet.turned_size(part.size, turns[0])
    return Kind(*size, part.quantity, turns, tuple(papers))


def _print_band(kinds: Sequence[Kind], area: tuple[float, float]) -> float:
    """Return the room round printed pieces for bleed, crop marks and crosses; 0 where it lacks."""
    band = limits.BLEED.value + limits.CROP_MARK.value + _CROSS_ROOM + 1
    roomy = all(
        kind.width + 2 * band <= area[0] and kind.height + 2 * band <= area[1] for kind in kinds
    )
    return band if roomy else 0.0


def _crosses(
    size: tuple[float, float], inset: float, papers: Sequence[shapely.Polygon]
) -> tuple[tuple[float, float], ...]:
    """Return four crosses near the corners of what the cutter reaches, clear of the bleed.

    Where a piece lies in a corner, the cross slides along the sheet's head or foot; where it finds
    no place there, it goes into the edge. The one at the foot's left corner lies further in, so
    that a sheet laid the wrong way shows.
    """
    bleed = shapely.union_all([paper.buffer(limits.BLEED.value + _CROSS_CLEAR) for paper in papers])
    off, middle = inset + _CROSS_ROOM, size[0] / 2
    found = []
    for right, down in ((False, False), (True, False), (True, True), (False, True)):
        first = off + 10.0 if down and not right else off
        slides = np.arange(first, middle - _CROSS_CLEAR, _CROSS_STEP)
        y = size[1] - off if down else off
        places = [(size[0] - float(x) if right else float(x), y) for x in slides]
        at = next((at for at in places if not bleed.intersects(shapely.Point(at))), None)
        if at is None:
            edge = (inset / 2, size[1] - inset / 2 if down else inset / 2)
            at = (size[0] - edge[0], edge[1]) if right else (edge[0] + first - off, edge[1])
        found.append(at)
    return tuple(found)
