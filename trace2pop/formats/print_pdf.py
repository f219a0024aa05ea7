"""The artwork pages for motifs cut from printed paper, in the same frame as their cut sheets."""

import base64
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop import limits
from trace2pop.formats import pages
from trace2pop.formats.print_check import check_files, corrected
from trace2pop.formats.rulers import Box, check_rulers, print_marks
from trace2pop.formats.svg import document, number
from trace2pop.geometry import beziers
from trace2pop.mechanism.sheet import to_sheet
from trace2pop.model.artwork import Artwork
from trace2pop.model.card import CutMotif
from trace2pop.model.outline import FloatArray, Outline
from trace2pop.model.pieces import Part, Placement, Sheet, Sheets
from trace2pop.model.settings import PrintSettings
from trace2pop.units import MM_PER_INCH

DPI = 300.0
_QUALITY = 92
_FROM_INSIDE = 0.25
"""Bleed takes its colour from this far inside the cut, clear of the drawing's soft edge."""

Picture = NDArray[np.uint8]
Point = tuple[float, float]


def print_files(sheets: Sheets, printer: PrintSettings) -> dict[str, bytes]:
    """Return the PDF of each sheet that is printed before it is cut, and the check page's files.

    They are keyed by their names in print/. ``printer`` says how far the printer is off.
    """
    cut = sheets.parts.plan.cut
    by_name = {part.name: part for part in sheets.parts.parts if part.printed}
    printed = [s for s in sheets.sheets if any(item.part in by_name for item in s.placements)]
    if not printed:
        return {}
    art = _Art(cut)
    pages_ = {f"{s.name}.pdf": _page(s, by_name, art, printer) for s in printed}
    return {**pages_, **check_files(printed[0], printer)}


class _Art:
    """The pictures of printed pieces as they lie on their sheets, each made once."""

    def __init__(self, cut: CutMotif) -> None:
        self._cut = cut
        self._own = {island.name: island.outline for island in cut.islands}
        self._pictures: dict[str, Picture] = {}
        self._turned: dict[tuple[str, float], bytes] = {}

    def size(self, part: str) -> tuple[float, float]:
        """Return how large a piece's unturned picture is, in mm."""
        rows, cols = self._picture(part).shape[:2]
        return cols * MM_PER_INCH / DPI, rows * MM_PER_INCH / DPI

    def turned(self, part: str, turn_deg: float) -> bytes:
        """Return a piece's picture, turned clockwise; JPEG."""
        key = (part, turn_deg)
        if key not in self._turned:
            self._turned[key] = _jpeg(np.rot90(self._picture(part), -round(turn_deg / 90)))
        return self._turned[key]

    def _picture(self, part: str) -> Picture:
        if part not in self._pictures:
            self._pictures[part] = artwork_picture(self._cut, of=self._own.get(part))
        return self._pictures[part]


def artwork_picture(cut: CutMotif, dpi: float = DPI, of: Outline | None = None) -> Picture:
    """Return the artwork at final size (rows, cols, 3), RGB, with bleed, white beyond it.

    It covers the cut outline's box and the bleed around it; colours outside the outline are those
    just inside the nearest edge. It is that of the motif with its islands or, with ``of``, of that
    island alone.
    """
    bleed, per_mm = limits.BLEED.value, dpi / MM_PER_INCH
    paper = (cut.outline, *(island.outline for island in cut.islands)) if of is None else (of,)
    left, top, right, bottom = beziers.bounds(paper[0].outer)
    corner = np.array([left - bleed, top - bleed])
    cols = pages.pixels(right - left + 2 * bleed, dpi)
    rows = pages.pixels(bottom - top + 2 * bleed, dpi)
    picture = _warped(cut, corner, per_mm, (cols, rows))
    inside = _mask(paper, corner, per_mm, (cols, rows))
    return _with_bleed(picture, inside, per_mm)


def _warped(cut: CutMotif, corner: FloatArray, per_mm: float, size: tuple[int, int]) -> Picture:
    """Return the artwork on white, resampled onto the page's pixels."""
    placed = cut.placed
    artwork = placed.motif.artwork
    source = _on_white(artwork)
    source_per_mm = artwork.px_per_mm / placed.scale
    shrink = min(1.0, per_mm / source_per_mm)
    if shrink < 0.75:  # a finer picture is averaged first, so that nothing aliases
        smaller = cv2.resize(source, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
        source = np.asarray(smaller, np.uint8)
    across = source.shape[1] / artwork.rgb.shape[1]
    down = source.shape[0] / artwork.rgb.shape[0]
    linear = np.linalg.inv(placed.to_card[:, :2])
    offset = linear @ (corner + 0.5 / per_mm - placed.to_card[:, 2])
    to_px = np.diag([artwork.px_per_mm * across, artwork.px_per_mm * down])
    matrix = np.column_stack([to_px @ linear / per_mm, to_px @ offset - 0.5])
    warped = cv2.warpAffine(
        source,
        matrix,
        size,
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(warped, np.uint8)


def _on_white(artwork: Artwork) -> Picture:
    if artwork.alpha is None:
        return artwork.rgb
    alpha = artwork.alpha[..., None].astype(np.float32) / 255
    return np.asarray(np.rint(artwork.rgb * alpha + 255 * (1 - alpha)), np.uint8)


def _mask(
    paper: Sequence[Outline], corner: FloatArray, per_mm: float, size: tuple[int, int]
) -> Picture:
    """Return 255 inside the outlines, holes left out; each lies outside or in a hole of another."""
    mask = np.zeros((size[1], size[0]), np.uint8)
    shift = 4
    contours = [
        row for one in paper for row in ((one.outer, 255), *((hole, 0) for hole in one.holes))
    ]
    for contour, value in contours:
        points = (beziers.flatten(contour) - corner) * per_mm - 0.5
        cv2.fillPoly(mask, [np.rint(points * 2**shift).astype(np.int32)], value, shift=shift)
    return mask


def _with_bleed(picture: Picture, inside: Picture, per_mm: float) -> Picture:
    """Return ``picture`` with colours carried outwards over the edge as far as the bleed."""
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    core = depth > _FROM_INSIDE * per_mm
    if not core.any():
        core = inside > 0
    outside = np.where(core, 0, 255).astype(np.uint8)
    distance, labels = cv2.distanceTransformWithLabels(
        outside, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    colours = np.zeros((int(labels.max()) + 1, 3), np.uint8)
    colours[labels[core]] = picture[core]
    # The drawing's soft edge holds some of the paper's colour, so it is replaced too.
    result = np.where(core[..., None], picture, colours[labels])
    reach = (limits.BLEED.value + _FROM_INSIDE) * per_mm
    result[distance > reach] = 255
    return np.asarray(result, np.uint8)


def _jpeg(picture: Picture) -> bytes:
    flags = [cv2.IMWRITE_JPEG_QUALITY, _QUALITY]
    done, encoded = cv2.imencode(".jpg", np.ascontiguousarray(picture[..., ::-1]), flags)
    assert done
    return encoded.tobytes()


def _page(
    sheet: Sheet,
    parts: dict[str, Part],
    art_of: _Art,
    printer: PrintSettings,
) -> bytes:
    """Return the page of a sheet."""
    size, bleed = (sheet.width, sheet.height), limits.BLEED.value
    boxes, images = [], []
    for item in sheet.placements:
        part = parts[item.part]
        boxes.append(_box(part, item, (0.0, 0.0), part.size))
        wide, high = art_of.size(item.part)
        far = (wide - bleed, high - bleed)
        jpeg = art_of.turned(item.part, item.rotation_deg)
        images.append(_image(jpeg, _box(part, item, (-bleed, -bleed), far)))
    art = document(size, "artwork", images)
    layers = (art, print_marks(size, sheet.crosses, boxes), check_rulers(size, sheet.edge))
    page = corrected(pages.Page(size, layers), printer)
    return pages.pdf([page], f"{sheet.name}: print this, then cut it")


def _image(jpeg: bytes, box: Box) -> str:
    x0, y0, x1, y1 = box
    data = base64.b64encode(jpeg).decode("ascii")
    return (
        f'<image class="art" x="{number(x0)}" y="{number(y0)}" width="{number(x1 - x0)}" '
        f'height="{number(y1 - y0)}" preserveAspectRatio="none" '
        f'xlink:href="data:image/jpeg;base64,{data}"/>'
    )


def _box(part: Part, item: Placement, near: Point, far: Point) -> Box:
    """Return where a box of the piece's frame lies on the sheet."""
    matrix = to_sheet(part, item)
    low, high = np.sort(np.array([near, far]) @ matrix[:, :2].T + matrix[:, 2], axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
