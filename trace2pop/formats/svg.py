"""Pieces and sheets as SVG 1.1: true size in mm, plain paths, one group a piece, one a layer.

docs/formats.md describes the conventions.
"""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from itertools import groupby

import numpy as np

from trace2pop.geometry import beziers
from trace2pop.mechanism.sheet import in_order, to_sheet
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.model.pieces import Label, Part, Pieces, Sheet, Stroke

DECIMALS = 4
CUT_WIDTH, SLIT_WIDTH, NOTE_WIDTH = 0.25, 0.45, 0.12
CROSS = 6.0
"""Size of a registration cross in mm."""

# Okabe and Ito, "Color Universal Design", 2008: colours told apart by all types of colour vision.
BLACK, BLUE, VERMILLION, GREEN = "#000000", "#0072B2", "#D55E00", "#009E73"

LETTER_WIDTH = 0.56
"""Mean advance of a sans-serif letter, in text sizes."""

_LEGEND_BAND = 3.0
_FOOTER_ROOM = 15.0

VALLEY = "3 1.5"
MOUNTAIN = "4 1 0.6 1"
DOTS = "0.5 1"
_IDENTITY = np.array([[1.0, 0, 0], [0, 1, 0]])


def part_svg(part: Part) -> bytes:
    """Return one piece alone, its corner at 0 0."""
    return document(part.size, part.title, _piece(part, part.name, part.strokes, _IDENTITY, 0.0))


def sheet_svg(sheet: Sheet, parts: Pieces, *, legend: bool = True) -> bytes:
    """Return a sheet with its pieces and their strokes in cutting order, and a legend."""
    by_name = {part.name: part for part in parts.parts}
    body: list[str] = []
    for index, item in enumerate(sheet.placements):
        part = by_name[item.part]
        strokes = in_order(part, [step for step in sheet.steps if step.placement == index])
        group = f"{part.name}-{item.copy}"
        body += _piece(part, group, strokes, to_sheet(part, item), item.rotation_deg)
    body += _crosses(sheet)
    if legend:
        body += _legend(sheet)
    return document((sheet.width, sheet.height), f"{sheet.name}: {sheet.stock.title}", body)


def legend_svg(sheet: Sheet) -> bytes:
    """Return a sheet's legend alone."""
    return document((sheet.width, sheet.height), sheet.name, _legend(sheet))


def number(value: float) -> str:
    """Return ``value`` with as many decimals as needed, at most ``DECIMALS``."""
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def path_data(line: Contour, *, closed: bool) -> str:
    """Return the ``d`` of a chain: M, then L and C in absolute coordinates, Z where closed."""
    steps = ["M" + "".join(places(line[0, :1]))]
    straight = beziers.are_straight(line).tolist()
    drawn = straight[:-1] if closed and straight[-1] else straight  # Z draws the last one
    ends = iter(places(line[: len(drawn), 3]))
    bends = iter(places(line[: len(drawn), 1:3][~np.array(drawn, dtype=bool)].reshape(-1, 2)))
    for is_line in drawn:
        end = next(ends)
        steps.append(f"L{end}" if is_line else f"C{next(bends)} {next(bends)} {end}")
    return " ".join([*steps, "Z"] if closed else steps)


def places(points: FloatArray) -> list[str]:
    """Return each of ``points`` (n, 2) as it is written: x,y."""
    return [f"{number(x)},{number(y)}" for x, y in points.tolist()]


def document(size: tuple[float, float], title: str, body: Iterable[str]) -> bytes:
    """Return a whole SVG file of ``size`` mm."""
    width, height = number(size[0]), number(size[1])
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'version="1.1" width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">',
        f"<title>{escape(title)}</title>",
        *body,
        "</svg>",
    ]
    return ("\n".join(lines) + "\n").encode()


def _piece(
    part: Part, group: str, strokes: Iterable[Stroke], matrix: FloatArray, turn_deg: float
) -> list[str]:
    """Return the group of a piece: a layer an operation, in the order the strokes come in."""
    name = escape(group)
    lines = [f'<g id="{name}">', f"<title>{escape(part.title)}</title>"]
    for layer, run in groupby(strokes, key=_layer):
        lines.append(f'<g id="{name}.{layer}"{_STYLES[layer]}>')
        lines += [f"<title>{layer}</title>", *(_stroke(one, group, matrix) for one in run), "</g>"]
    if part.labels:
        lines += [f'<g id="{name}.labels">', "<title>labels</title>"]
        lines += [*(_label(label, matrix, turn_deg) for label in part.labels), "</g>"]
    return [*lines, "</g>"]


def _layer(stroke: Stroke) -> str:
    return "inner" if stroke.op == "cut" and stroke.inner else stroke.op


_STYLES: Mapping[str, str] = {
    "cut": f' fill="none" stroke="{BLACK}" stroke-width="{CUT_WIDTH}"',
    "inner": f' fill="none" stroke="{BLACK}" stroke-width="{CUT_WIDTH}"',
    "score": f' fill="none" stroke="{BLUE}" stroke-width="{CUT_WIDTH}"',
    "note": f' fill="none" stroke="{GREEN}" stroke-width="{NOTE_WIDTH}"',
    "art": "",
}


def _stroke(stroke: Stroke, group: str, matrix: FloatArray) -> str:
    extra = ""
    if stroke.slit:
        extra += f' data-op="slit" stroke="{VERMILLION}" stroke-width="{SLIT_WIDTH}"'
    if stroke.dash:
        extra += ' data-op="dash"'
    if stroke.fold:
        extra += f' data-fold="{stroke.fold}"'
        if not stroke.dash:  # a dashed cut shows its dashes itself
            extra += f' stroke-dasharray="{VALLEY if stroke.fold == "valley" else MOUNTAIN}"'
    elif stroke.op == "note" and not stroke.id.startswith("grain"):
        extra += f' stroke-dasharray="{DOTS}"'  # in black and white no line to cut along
    data = path_data(beziers.transform(stroke.line, matrix), closed=stroke.closed)
    return f'<path id="{escape(group)}.{escape(stroke.id)}" class="{stroke.op}"{extra} d="{data}"/>'


def _label(label: Label, matrix: FloatArray, turn_deg: float) -> str:
    x, y = matrix @ np.array([*label.at, 1.0])
    turn = (label.turn_deg + turn_deg) % 360
    rotate = f' transform="rotate({number(turn)} {number(x)} {number(y)})"' if turn else ""
    return text(label.text, float(x), float(y), label.size, label.anchor, GREEN, rotate)


def text(
    words: str, x: float, y: float, size: float, anchor: str, colour: str = GREEN, extra: str = ""
) -> str:
    """Return words as a note; they are escaped, ``extra`` is not."""
    return (
        f'<text class="note" x="{number(x)}" y="{number(y)}" font-size="{number(size)}" '
        f'font-family="sans-serif" text-anchor="{anchor}" fill="{colour}" stroke="none"{extra}>'
        f"{escape(words)}</text>"
    )


def cross(x: float, y: float) -> str:
    """Return the path data of a plain registration cross."""
    half = CROSS / 2
    return (
        f"M{number(x - half)},{number(y)} H{number(x + half)} "
        f"M{number(x)},{number(y - half)} V{number(y + half)}"
    )


def _footer(sheet: Sheet) -> str:
    """Return what the sheet says of itself: its name and, where there is room, its stock."""
    name = f"{sheet.name}, {sheet.tile}" if sheet.tile else sheet.name
    return f"{name}: {sheet.stock.title}" if sheet.width > 250 else name


def _crosses(sheet: Sheet) -> list[str]:
    if not sheet.crosses:
        return []
    data = " ".join(cross(x, y) for x, y in sheet.crosses)
    return [
        f'<g id="registration" fill="none" stroke="{GREEN}" stroke-width="0.12">',
        "<title>Registration crosses, as printed</title>",
        f'<path class="note" d="{data}"/>',
        "</g>",
    ]


def _legend(sheet: Sheet) -> list[str]:
    """Return the line types named in the foot edge of the sheet, where no piece lies.

    An edge too narrow for words that can be read leaves the legend out.
    """
    edge = sheet.edge
    if edge < _LEGEND_BAND:
        return []
    size = min(2.6, edge * 0.45)
    y = sheet.height - edge / 2
    samples: Sequence[tuple[str, str, float, str]] = (
        ("cut", BLACK, CUT_WIDTH, ""),
        ("slit", VERMILLION, SLIT_WIDTH, ""),
        ("valley fold", BLUE, CUT_WIDTH, VALLEY),
        ("mountain fold", BLUE, CUT_WIDTH, MOUNTAIN),
        ("note, not cut", GREEN, NOTE_WIDTH, DOTS),
    )
    lines = ['<g id="legend" fill="none">', "<title>Legend</title>"]
    x = edge + 6
    for words, colour, width, dashes in samples:
        look = f'stroke="{colour}" stroke-width="{width}"'
        look += f' stroke-dasharray="{dashes}"' if dashes else ""
        data = f"M{number(x)},{number(y)} L{number(x + 12)},{number(y)}"
        lines.append(f'<path class="note" {look} d="{data}"/>')
        lines.append(text(words, x + 13, y + size * 0.35, size, "start"))
        x += 16 + len(words) * size * LETTER_WIDTH
    words = _footer(sheet)
    end = sheet.width - edge - 6
    if end - x > _FOOTER_ROOM:
        fitting = min(size, (end - x) / (LETTER_WIDTH * len(words)))
        lines.append(text(words, end, y + size * 0.35, fitting, "end"))
    lines.append("</g>")
    return lines
