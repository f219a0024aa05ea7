"""Drawings of the sheets: what lies where, which way the grain runs, the print on the mat."""

from collections import Counter
from collections.abc import Iterable

import numpy as np
import shapely

from trace2pop.mechanism.sheet import to_sheet
from trace2pop.model.guide import Figure
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Part, Placement, Sheet
from trace2pop.stages.guide.card import WIDE, TheCard
from trace2pop.stages.guide.flat import FACES, draw_piece, piece_title
from trace2pop.stages.guide.sketch import Sketch, fitting, text_width


def sheet_figures(card: TheCard) -> list[Figure]:
    """Return the sheets of the card, not the mock-up's, small, their pieces named.

    A printed one is drawn as it lies on the mat.
    """
    kinds = kinds_of_sheets(card)
    columns = 3 if len(kinds) > 2 else 2
    room = (WIDE - 5.0 * (columns - 1)) / columns - 2.0
    return [
        _on_the_mat(card, kind, room) if kind[0].crosses else _sheet(card, kind, room)
        for kind in kinds
    ]


def kinds_of_sheets(card: TheCard) -> list[tuple[Sheet, ...]]:
    """Return the card's sheets, not the mock-up's; those with the same pieces together."""
    kinds: dict[tuple[object, ...], list[Sheet]] = {}
    for sheet in card.sheets.sheets:
        if any(item.part in card.pieces for item in sheet.placements):
            pieces = tuple(sorted(item.part for item in sheet.placements))
            key = (sheet.stock.name, sheet.width, sheet.height, pieces)
            kinds.setdefault(key, []).append(sheet)
    return [tuple(kind) for kind in kinds.values()]


def sheet_name(card: TheCard, kind: tuple[Sheet, ...]) -> str:
    """Return the name of a kind of sheet: its first one's, and how many more there are."""
    if len(kind) == 1:
        return kind[0].name
    return card.say("cut.more", name=kind[0].name, count=str(len(kind) - 1))


def files_table(card: TheCard) -> tuple[tuple[str, ...], ...]:
    """Return for each kind of sheet what is printed on it and which file cuts it, heads first."""
    say = card.say
    rows = [say.several("cut.columns")]
    for kind in kinds_of_sheets(card):
        cut = ", ".join(f"sheets/{sheet.name}.svg" for sheet in kind)
        printed = any(card.pieces[item.part].printed for item in kind[0].placements)
        art = ", ".join(f"print/{sheet.name}.pdf" for sheet in kind) if printed else ""
        pieces = sheet_pieces(card, kind[0])
        rows.append((sheet_name(card, kind), art or say("cut.no_print"), cut, pieces))
    return tuple(rows)


def _sheet(card: TheCard, kind: tuple[Sheet, ...], room: float) -> Figure:
    sheet = kind[0]
    scale = fitting((sheet.width, sheet.height), (room - 6.0, 62.0))
    sketch = Sketch(scale)
    sketch.area([(0, 0), (sheet.width, 0), (sheet.width, sheet.height), (0, sheet.height)], "paper")
    boxes: list[tuple[str, FloatArray]] = []
    for item in sheet.placements:
        part = card.pieces[item.part]
        matrix = to_sheet(part, item)
        sketch.frame(matrix)
        draw_piece(sketch, part, FACES.get(part.role, "paper"))
        boxes.append((item.part, _box(part, item) * scale))
    sketch.frame()
    taken = shapely.union_all([shapely.box(*box.ravel()) for _, box in boxes])
    edges = shapely.box(0, 0, sheet.width * scale, sheet.height * scale).exterior
    taken = shapely.union(taken, edges)
    for name, box in boxes:
        number = card.numbers.get(name)
        if number is not None:
            x0, y0, x1, y1 = (float(side) for side in box.ravel())
            spot = sketch.clear_spot((x0, y0, x1, y1), taken)
            near = (min(max(spot[0], x0 + 1), x1 - 1), min(max(spot[1], y0 + 1), y1 - 1))
            sketch.badge(str(number), spot, near)
            taken = shapely.union(taken, shapely.Point(spot).buffer(2.4))
            taken = shapely.union(taken, shapely.LineString([spot, near]))
    _grain(sketch, card, sheet, taken)
    say = card.say
    return sketch.figure(
        say("cut.sheet_alt", name=sheet.name),
        say("cut.sheet", name=sheet_name(card, kind), pieces=sheet_pieces(card, sheet)),
    )


def sheet_pieces(card: TheCard, sheet: Sheet) -> str:
    """Return a sheet's pieces in words, beams by their numbers."""
    say = card.say
    count = Counter(item.part for item in sheet.placements)
    beams = [name for name in count if name in card.numbers]
    names = titles(card, [name for name in count.elements() if name not in beams])
    if beams:
        key = "mount.beams" if len(beams) == 1 else "mount.beams_many"
        numbers = sorted(card.numbers[name] for name in beams)
        words = say(key, list=say.listed([str(number) for number in numbers]))
        many = sum(count[name] for name in beams)
        names.append(_times(card, words, many if many > len(beams) else 1))
    return say.listed(names)


def titles(card: TheCard, names: Iterable[str]) -> list[str]:
    """Return pieces in words, each kind once: with how many there are, where there are more."""
    count = Counter(piece_title(card, card.pieces[name]) for name in names)
    return [_times(card, title, many) for title, many in count.items()]


def _times(card: TheCard, title: str, count: int) -> str:
    return title if count == 1 else f"{title} ({card.say('piece.times', count=str(count))})"


def _grain(sketch: Sketch, card: TheCard, sheet: Sheet, taken: shapely.Geometry) -> None:
    """Draw the paper's grain where all pieces of a sheet agree on it, and there is room."""
    turns = {
        (card.pieces[item.part].grain_deg + item.rotation_deg) % 180 for item in sheet.placements
    }
    if len(turns) != 1:
        return
    angle, half = np.radians(turns.pop()), 6.0
    way = np.array([np.cos(angle), np.sin(angle)]) * half
    text = card.say("cut.grain")
    word = text_width(text, 2.8)
    k = sketch.scale
    for y in np.arange(sheet.height * k - 9.0, 9.0, -3.0):
        for x in np.arange(sheet.width * k - 8.0 - word, 8.0, -3.0):
            spot = np.array([x, y])
            need = shapely.box(x - 7, y - 7, x + 8 + word, y + 7)
            if taken.distance(need) > 0.5:
                for sign in (1, -1):
                    sketch.arrow(np.array([spot, spot + sign * way]) / k, ink="thin")
                off = (1.5 + abs(float(way[0])), 1.0)
                sketch.word(text, spot / k, off=off, anchor="start", size=2.8)
                return


def _on_the_mat(card: TheCard, kind: tuple[Sheet, ...], room: float) -> Figure:
    """Return a printed sheet as it lies on the cutter's mat, corner and crosses marked."""
    sheet = kind[0]
    wide, high = card.sheets.cutter.area
    margin = 16.0
    scale = fitting((max(wide, sheet.width) + 2 * margin, high + 2 * margin), (room - 3.0, 58.0))
    sketch, say = Sketch(scale), card.say
    mat = np.array([[-1, -1], [wide + margin, -1], [wide + margin, high + margin], [-1, high + 16]])
    sketch.area(mat * [1, 1], "mat")
    w, h = sheet.width, sheet.height
    sketch.area([(0, 0), (w, 0), (w, h), (0, h)], "paper")
    for item in sheet.placements:
        part = card.pieces[item.part]
        sketch.frame(to_sheet(part, item))
        draw_piece(sketch, part, FACES.get(part.role, "paper"))
    sketch.frame()
    arm = 2.0 / scale
    for x, y in sheet.crosses:
        sketch.line([(x - arm, y), (x + arm, y)], "axis")
        sketch.line([(x, y - arm), (x, y + arm)], "axis")
    sketch.dot((0, 0), 1.3, "pinhole")
    sketch.pointer(say("cut.corner"), (0, 0), (5.0, -3.5))
    if sheet.crosses:
        x, y = max(sheet.crosses)
        sketch.pointer(say("cut.cross"), (x, y), (-6.0, (high + margin - y) * scale + 3.0))
    boxes = [_box(card.pieces[item.part], item) * scale for item in sheet.placements]
    taken = shapely.union_all([shapely.box(*box.ravel()) for box in boxes])
    _grain(sketch, card, sheet, taken)
    pieces = sheet_pieces(card, sheet)
    return sketch.figure(
        say("cut.mat_alt"), say("cut.mat", name=sheet_name(card, kind), pieces=pieces)
    )


def _box(part: Part, item: Placement) -> FloatArray:
    """Return the corners (2, 2) of a piece's box where it lies on its sheet."""
    matrix = to_sheet(part, item)
    corners = np.array([[0, 0], part.size]) @ matrix[:, :2].T + matrix[:, 2]
    return np.array([corners.min(axis=0), corners.max(axis=0)])
