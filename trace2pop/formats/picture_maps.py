"""The sag map of the open motif and the thickness map of the closed card."""

import numpy as np
import shapely

from trace2pop.formats.canvas import BLUE, INK, SOFT, Canvas
from trace2pop.formats.maps import ramp, sag_shares
from trace2pop.geometry import beziers
from trace2pop.model.guide import Guide

_HEAD, _EDGE, _BAR = 12.0, 6.0, 34.0
_ROOM = (150.0, 130.0)
_FINE = 0.02
"""mm of the picture that an edge may be off: an eighth of a pixel."""


def sag_map(guide: Guide) -> bytes:
    """Return how far each place of the motif bends under the handling load; PNG."""
    say, plan = guide.words, guide.sheets.parts.plan
    sag, box = plan.sag, beziers.bounds(plan.cut.outline.outer)
    canvas, high = _canvas(box)
    k = 3.0 * canvas.scale
    lines = (plan.cut.outline.outer, *plan.cut.outline.holes)
    canvas.image(ramp(sag_shares(sag, box, k)), box, clip=lines)
    canvas.contours(lines, width=0.35)
    for beam in plan.beams:
        canvas.line(np.array([[beam.u, beam.v0], [beam.u, beam.v1]]), stroke=BLUE, width=0.9)
    decimal = say["decimal"]
    _peak(canvas, sag.at, f"{sag.max:.2f} mm".replace(".", decimal))
    title = say["picture_sag"].format(load=f"{sag.handling_load:g}")
    canvas.words(title, (_EDGE, 8.0), size=4.4, bold=True)
    _scale(canvas, high, sag.limit, say["picture_limit"], decimal, 2)
    _foot(canvas, say["picture_beams"])
    return canvas.png()


def thickness_map(guide: Guide) -> bytes:
    """Return how thick the closed card is at each place, pressed; PNG."""
    say, plan = guide.words, guide.sheets.parts.plan
    closed, card = plan.closed, plan.cut.placed.card
    box = (0.0, -card.border, card.outer.width, card.outer.height - card.border)
    canvas, high = _canvas(box)
    for area in closed.areas:
        red, green, blue = (int(c) for c in ramp(np.array(area.thickness / closed.thickness)))
        colour = f"#{red:02x}{green:02x}{blue:02x}"
        shape = shapely.Polygon(area.outer, area.holes).simplify(_FINE / canvas.scale)
        canvas.polygon(shape, colour, colour, 0.05)
    canvas.polygon(shapely.box(*box), "none", INK, 0.35)
    decimal = say["decimal"]
    _peak(canvas, closed.at, f"{closed.thickness:.1f} mm".replace(".", decimal))
    canvas.words(say["picture_thickness"], (_EDGE, 8.0), size=4.4, bold=True)
    _scale(canvas, high, closed.thickness, say["picture_thickest"], decimal, 1)
    _foot(canvas, say["picture_spine"])
    return canvas.png()


def _canvas(box: tuple[float, float, float, float]) -> tuple[Canvas, float]:
    """Return a page for a drawing of that box, and the drawing's height on it."""
    width, height = box[2] - box[0], box[3] - box[1]
    scale = min(_ROOM[0] / width, _ROOM[1] / height)
    size = (max(width * scale, 84.0) + 2 * _EDGE + _BAR, height * scale + _HEAD + 14)
    return Canvas(size, scale=scale, origin=box[:2], corner=(_EDGE, _HEAD)), height * scale


def _peak(canvas: Canvas, at: tuple[float, float], words: str) -> None:
    x, y = canvas.at(*at)
    canvas.dot((x, y))
    left = x > canvas.size[0] * 0.55
    place = (x - 2.2 if left else x + 2.2, y + 1.1)
    canvas.words(words, place, bold=True, anchor="end" if left else "start", plate=True)


def _scale(
    canvas: Canvas, high: float, most: float, named: str, decimal: str, decimals: int
) -> None:
    """Draw the bar of colours with its numbers, ``named`` at its head."""
    x, bar = canvas.size[0] - _BAR + 2, min(high, 70.0)
    shares = np.linspace(0, 1, 41)
    canvas.colour_bar((x, _HEAD + 6), (5.0, bar - 6), ramp(shares))
    canvas.words(named, (x, _HEAD + 3.5), colour=SOFT)
    for share in (0.0, 0.5, 1.0):
        y = _HEAD + bar - (bar - 6) * share
        canvas.words(f"{most * share:.{decimals}f} mm".replace(".", decimal), (x + 6.5, y + 1.0))


def _foot(canvas: Canvas, words: str) -> None:
    y = canvas.size[1] - 5.0
    canvas.scale_bar((_EDGE, y), 20.0, "20 mm")
    canvas.words(words, (_EDGE + 20 * canvas.scale + 16, y + 0.2), colour=SOFT)
