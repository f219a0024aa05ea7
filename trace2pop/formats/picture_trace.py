"""trace.png: the outline over the drawing it was traced from."""

from collections.abc import Sequence

import cv2
import numpy as np

from trace2pop.formats.canvas import BLUE, INK, VERMILLION, Box, Canvas
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Artwork, Candidate, MirrorAxis, Motif
from trace2pop.model.guide import Guide
from trace2pop.model.outline import FloatArray

_WIDE, _HIGH, _HEAD, _FOOT, _LINE = 190.0, 170.0, 12.0, 14.0, 5.0
_PX_PER_MM = 6.0
"""The drawing's finest picture on the page: what a screen shows at full width."""

_RING = 4.0
"""Radius on the page of the ring round a doubtful place."""

Look = tuple[str, str]
"""A line's colour and dashes."""

_OUTLINE: Look = (VERMILLION, "")
_FOLD: Look = (BLUE, "2.4 1.1")
_ASIDE: Look = (INK, "0.8 0.7")


def trace_picture(guide: Guide) -> bytes:
    """Return the drawing, paled, with outline, crease and what was taken off; PNG."""
    say = guide.words
    cut = guide.sheets.parts.plan.cut
    motif = cut.placed.motif
    rows = [(say["picture_outline"], _OUTLINE), (say["picture_crease"], _FOLD)]
    rows += [(say["picture_taken"], _ASIDE)] if cut.hand_parts else []
    canvas = _drawn(motif, _around(beziers.bounds(motif.outline.outer), _whole(motif)), len(rows))
    to_drawn = _back(cut.placed.to_card)
    _, top, _, foot = beziers.bounds(cut.outline.outer)
    crease = np.array([[0.0, top], [0.0, foot]]) @ to_drawn[:, :2].T + to_drawn[:, 2]
    canvas.line(crease, stroke=_FOLD[0], width=0.4, dash=_FOLD[1])
    for part in cut.hand_parts:
        for run in (part.path, *part.branches):
            line = run @ to_drawn[:, :2].T + to_drawn[:, 2]
            canvas.line(line, stroke=_ASIDE[0], width=0.4, dash=_ASIDE[1])
        tip = part.path[-1] @ to_drawn[:, :2].T + to_drawn[:, 2]
        _numbered(canvas, part.id, tip)
    canvas.words(say["picture_trace"], (6.0, 8.0), size=4.4, bold=True)
    _legend(canvas, rows, motif, length=10.0)
    return canvas.png()


def traced_picture(motif: Motif, things: Sequence[Candidate]) -> bytes:
    """Return the whole picture, paled, with outline, numbered things and doubtful places; PNG."""
    rows = [("outline", _OUTLINE)]
    rows += [("mirror axis", _FOLD)] if motif.axis is not None else []
    rows += [("other things: choose with --take", _ASIDE)] if len(things) > 1 else []
    canvas = _drawn(motif, _whole(motif), len(rows))
    if motif.axis is not None:
        canvas.line(_ends(motif.axis, motif), stroke=_FOLD[0], width=0.4, dash=_FOLD[1])
    if len(things) > 1:
        for thing in things:
            if not thing.taken:
                canvas.line(thing.outline, stroke=_ASIDE[0], width=0.4, dash=_ASIDE[1])
        for thing in things:
            _numbered(canvas, thing.number, thing.outline[thing.outline[:, 1].argmin()])
    title = f"{motif.kind}, sure to {motif.confidence:.0%}"
    if motif.doubts:
        title += "; look where it is ringed"
    canvas.words(title, (6.0, 8.0), size=4.4, bold=True)
    _legend(canvas, rows, motif, length=50.0)
    return canvas.png()


def _drawn(motif: Motif, box: Box, lines: int) -> Canvas:
    """Return a canvas with what a box of the artwork shows, the outline, and rings at doubts.

    At its foot it has room for a legend of so many ``lines``.
    """
    scale = min((_WIDE - 12) / (box[2] - box[0]), _HIGH / (box[3] - box[1]))
    size = (
        max((box[2] - box[0]) * scale + 12, 110.0),
        (box[3] - box[1]) * scale + _HEAD + _FOOT + (lines - 1) * _LINE,
    )
    canvas = Canvas(size, scale=scale, origin=box[:2], corner=(6.0, _HEAD))
    canvas.image(_paled(motif.artwork, box, scale), box)
    canvas.contours((motif.outline.outer, *motif.outline.holes), stroke=VERMILLION, width=0.45)
    turn = np.linspace(0, 2 * np.pi, 49)
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * _RING / scale
    for doubt in motif.doubts:
        place = np.array([doubt.x, doubt.y])
        canvas.line(place + ring, stroke="#ffffff", width=1.2)
        canvas.line(place + ring, stroke=INK, width=0.6)
        x, y = canvas.at(*place)
        canvas.words("?", (x + _RING, y - 0.6 * _RING), size=5.0, bold=True, plate=True)
    return canvas


def _numbered(canvas: Canvas, number: int | str, place: FloatArray) -> None:
    x, y = canvas.at(float(place[0]), float(place[1]))
    canvas.words(str(number), (x, y - 1.2), anchor="middle", bold=True, plate=True)


def _ends(axis: MirrorAxis, motif: Motif) -> FloatArray:
    """Return where a mirror axis leaves the motif's surroundings, (2, 2)."""
    turn = np.radians(axis.tilt_deg)
    along = np.array([-np.sin(turn), np.cos(turn)])
    x0, y0, x1, y1 = beziers.bounds(motif.outline.outer)
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]) - axis.point
    reach = corners @ along
    return axis.point + np.outer([1.05 * reach.min(), 1.05 * reach.max()], along)


def _legend(canvas: Canvas, rows: Sequence[tuple[str, Look]], motif: Motif, length: float) -> None:
    """Write what each line means, and a bar of ``length`` drawn mm where the scale is known."""
    x = 6.0
    for number, (words, (colour, dash)) in enumerate(rows):
        y = canvas.size[1] - 5.0 - (len(rows) - 1 - number) * _LINE
        start, end = ((edge - canvas.matrix[0, 2]) / canvas.scale for edge in (x, x + 10.0))
        level = (y - 1 - canvas.matrix[1, 2]) / canvas.scale
        canvas.line(np.array([[start, level], [end, level]]), stroke=colour, width=0.45, dash=dash)
        canvas.words(words, (x + 11.5, y))
    if motif.artwork.scale.source != "none":
        bar = length if length * canvas.scale <= canvas.size[0] / 2 - 16 else 10.0
        first = canvas.size[1] - 5.0 - (len(rows) - 1) * _LINE
        place = (canvas.size[0] - 16 - bar * canvas.scale, first)
        canvas.scale_bar(place, bar, f"{bar:.0f} mm")


def _whole(motif: Motif) -> Box:
    rows, cols = motif.artwork.rgb.shape[:2]
    return 0.0, 0.0, cols / motif.artwork.px_per_mm, rows / motif.artwork.px_per_mm


def _around(inner: Box, whole: Box) -> Box:
    pad = 0.06 * max(inner[2] - inner[0], inner[3] - inner[1])
    return (
        max(whole[0], inner[0] - pad),
        max(whole[1], inner[1] - pad),
        min(whole[2], inner[2] + pad),
        min(whole[3], inner[3] + pad),
    )


def _paled(artwork: Artwork, box: Box, scale: float) -> np.ndarray:
    """Return the drawing inside the box at the page's resolution, mixed with white.

    What is transparent is white: the colour kept there is nobody's.
    """
    rgb, alpha, px_per_mm = artwork.rgb, artwork.alpha, artwork.px_per_mm
    x0, y0, x1, y1 = (round(edge * px_per_mm) for edge in box)
    part = rgb[y0:y1, x0:x1]
    if alpha is not None:
        cover = alpha[y0:y1, x0:x1, None].astype(np.float32) / 255
        part = (part * cover + 255 * (1 - cover)).astype(np.uint8)
    shrink = min(1.0, _PX_PER_MM * scale / px_per_mm)
    small = cv2.resize(part, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.addWeighted(small, 0.55, np.full_like(small, 255), 0.45, 0), np.uint8)


def _back(matrix: FloatArray) -> FloatArray:
    linear = np.linalg.inv(matrix[:, :2])
    result: FloatArray = np.column_stack([linear, -linear @ matrix[:, 2]])
    return result
