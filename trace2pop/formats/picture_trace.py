"""trace.png: the outline over the drawing it was traced from."""

import cv2
import numpy as np

from trace2pop.formats.canvas import BLUE, INK, VERMILLION, Canvas
from trace2pop.geometry import beziers
from trace2pop.model.guide import Guide
from trace2pop.model.outline import FloatArray

_WIDE, _HEAD, _FOOT = 190.0, 12.0, 14.0
_PX_PER_MM = 6.0
"""The drawing's finest picture on the page: what a screen shows at full width."""


def trace_picture(guide: Guide) -> bytes:
    """Return the drawing, paled, with outline, crease and what was taken off; PNG."""
    say = guide.words
    cut = guide.sheets.parts.plan.cut
    motif, artwork = cut.placed.motif, cut.placed.motif.artwork
    rows, cols = artwork.rgb.shape[:2]
    whole = (0.0, 0.0, cols / artwork.px_per_mm, rows / artwork.px_per_mm)
    box = _around(beziers.bounds(motif.outline.outer), whole)
    scale = min((_WIDE - 12) / (box[2] - box[0]), 170.0 / (box[3] - box[1]))
    size = ((box[2] - box[0]) * scale + 12, (box[3] - box[1]) * scale + _HEAD + _FOOT)
    canvas = Canvas(size, scale=scale, origin=box[:2], corner=(6.0, _HEAD))
    canvas.image(_paled(artwork.rgb, artwork.px_per_mm, box, scale), box)
    canvas.contours((motif.outline.outer, *motif.outline.holes), stroke=VERMILLION, width=0.45)
    to_drawn = _back(cut.placed.to_card)
    _, top, _, foot = beziers.bounds(cut.outline.outer)
    crease = np.array([[0.0, top], [0.0, foot]]) @ to_drawn[:, :2].T + to_drawn[:, 2]
    canvas.line(crease, stroke=BLUE, width=0.4, dash="2.4 1.1")
    for part in cut.hand_parts:
        for run in (part.path, *part.branches):
            line = run @ to_drawn[:, :2].T + to_drawn[:, 2]
            canvas.line(line, stroke=INK, width=0.4, dash="0.8 0.7")
        tip = part.path[-1] @ to_drawn[:, :2].T + to_drawn[:, 2]
        x, y = canvas.at(float(tip[0]), float(tip[1]))
        canvas.words(str(part.id), (x, y - 1.2), anchor="middle", bold=True, plate=True)
    canvas.words(say["picture_trace"], (6.0, 8.0), size=4.4, bold=True)
    _legend(canvas, guide, size[1] - 5.0, taken=bool(cut.hand_parts))
    return canvas.png()


def _legend(canvas: Canvas, guide: Guide, y: float, *, taken: bool) -> None:
    say, x = guide.words, 6.0
    rows = [("picture_outline", VERMILLION, ""), ("picture_crease", BLUE, "2.4 1.1")]
    rows += [("picture_taken", INK, "0.8 0.7")] if taken else []
    for key, colour, dash in rows:
        start, end = ((edge - canvas.matrix[0, 2]) / canvas.scale for edge in (x, x + 10.0))
        level = (y - 1 - canvas.matrix[1, 2]) / canvas.scale
        canvas.line(np.array([[start, level], [end, level]]), stroke=colour, width=0.45, dash=dash)
        canvas.words(say[key], (x + 11.5, y))
        x += 14.5 + len(say[key]) * 3.2 * 0.47 + 4
    known = guide.sheets.parts.plan.cut.placed.motif.artwork.scale.source != "none"
    if known:
        canvas.scale_bar((canvas.size[0] - 16 - 10 * canvas.scale, y), 10.0, "10 mm")


def _around(
    inner: tuple[float, float, float, float], whole: tuple[float, float, float, float]
) -> tuple[float, float, float, float]:
    pad = 0.06 * max(inner[2] - inner[0], inner[3] - inner[1])
    return (
        max(whole[0], inner[0] - pad),
        max(whole[1], inner[1] - pad),
        min(whole[2], inner[2] + pad),
        min(whole[3], inner[3] + pad),
    )


def _paled(
    rgb: np.ndarray, px_per_mm: float, box: tuple[float, float, float, float], scale: float
) -> np.ndarray:
    """Return the drawing inside the box at the page's resolution, mixed with white."""
    x0, y0, x1, y1 = (round(edge * px_per_mm) for edge in box)
    part = rgb[y0:y1, x0:x1]
    shrink = min(1.0, _PX_PER_MM * scale / px_per_mm)
    small = cv2.resize(part, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.addWeighted(small, 0.55, np.full_like(small, 255), 0.45, 0), np.uint8)


def _back(matrix: FloatArray) -> FloatArray:
    linear = np.linalg.inv(matrix[:, :2])
    result: FloatArray = np.column_stack([linear, -linear @ matrix[:, 2]])
    return result
