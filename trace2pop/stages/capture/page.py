"""The sheet of paper in a photo: found by its edges, its lens bending measured, laid flat."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.model.artwork import Artwork, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray
from trace2pop.stages.capture.candidates import candidate_quads
from trace2pop.stages.capture.decoding import MAX_PX_PER_MM, Picture
from trace2pop.stages.capture.edges import Sheet, refined
from trace2pop.stages.capture.lens import laid_flat

PAPERS = {
    "a3": (297.0, 420.0),
    "a4": (210.0, 297.0),
    "a5": (148.0, 210.0),
    "a6": (105.0, 148.0),
    "letter": (215.9, 279.4),
    "12x12in": (304.8, 304.8),
}
"""Width and height in mm: ISO 216 for the A sizes, 8.5 x 11 in and 12 x 12 in."""

PAGE_UNCERTAINTY = 0.007
"""Relative, one sigma: ISO 216 allows 1.5 to 2 mm on a side."""

NOMINAL_PAGE = 200.0
INSET = 1.5
"""mm cut off along the paper's edge, where its thickness and curl show."""

_SHAPES = {"an A-series sheet": 2**0.5, "letter": 11 / 8.5, "12x12in": 1.0}
_SHAPE_TOLERANCE = 0.025
_NAMED_TOLERANCE = 0.05
"""Wider where the paper is given: a cropped picture's middle isn't the lens's."""

_HARDLY = 0.05
"""% at the corner: a few hundredths of a mm on A4."""

_SURE_SHARE = 0.85
_BENT_MM = 0.25
"""rms; above it the sheet wasn't flat."""


@dataclass(frozen=True, eq=False)
class Page:
    """A sheet with its ``size`` (width, height) in mm, nominal where ``named`` is None."""

    sheet: Sheet
    size: tuple[float, float]
    named: str | None


def find_page(rgb: NDArray[np.uint8], paper: str | None) -> tuple[Page | None, float | None]:
    """Return the sheet of paper in a photo, None where none is clearly seen.

    ``paper`` names its size; without it the size follows from the shape where only one known
    sheet has that shape. The second value is the longer over the shorter side of a sheet that was
    seen but isn't ``paper``.
    """
    green = np.ascontiguousarray(rgb[..., 1])  # copied once, not by every look at it
    sheets = [refined(green, quad) for quad in candidate_quads(rgb)]
    # Of well-seen ones the largest: a frame drawn on the sheet has edges as sharp as the sheet's.
    order = sorted(
        (sheet for sheet in sheets if sheet is not None),
        key=lambda sheet: (-min(sheet.share, _SURE_SHARE), -sheet.area),
    )
    other = None
    for sheet in order:
        ratio = aspect(sheet.corners, (rgb.shape[1], rgb.shape[0]))
        shape = max(ratio, 1 / ratio)
        known = _size(shape, paper)
        if known is not None:
            short, long = known[0]
            return Page(sheet, (long, short) if ratio > 1 else (short, long), known[1]), None
        other = other or shape
    return None, other


def _size(shape: float, paper: str | None) -> tuple[tuple[float, float], str | None] | None:
    """Return shorter and longer side in mm of a sheet by its shape, and its name if that is sure.

    None where it isn't the given ``paper``, or no known one.
    """
    if paper is not None:
        short, long = PAPERS[paper]
        fits = abs(shape / (long / short) - 1) < _NAMED_TOLERANCE
        return ((short, long), paper) if fits else None
    for name, known in _SHAPES.items():
        if abs(shape / known - 1) < _SHAPE_TOLERANCE:
            if name in PAPERS:
                return PAPERS[name], name
            return (NOMINAL_PAGE / known, NOMINAL_PAGE), None
    return None


def aspect(corners: FloatArray, size_px: tuple[int, int]) -> float:
    """Return width over height of the rectangle seen as ``corners``.

    A rectangle's image fixes focal length and side ratio once the principal point is known, here
    the picture's middle: with the quad's homography columns h1, h2 and the image of the absolute
    conic W of square pixels centred there, h1' W h2 = 0 gives the focal length and
    ratio^2 = h1' W h1 / h2' W h2 the shape.
    """
    centre = np.array(size_px) / 2
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    scale = float(max(size_px))
    h = cv2.getPerspectiveTransform(unit, ((corners - centre) / scale).astype(np.float32))
    h1, h2 = h[:, 0].astype(float), h[:, 1].astype(float)
    depth = h1[2] * h2[2]
    flat = h1[0] * h2[0] + h1[1] * h2[1]
    # Sides that stay parallel say nothing of the focal length; a usual one serves then.
    focal2 = -flat / depth if abs(depth) > 1e-3 and -flat / depth > 0.1 else 1.1**2
    conic = np.diag([1.0, 1.0, min(focal2, 16.0)])
    return float(np.sqrt((h1 @ conic @ h1) / (h2 @ conic @ h2)))


def rectified(name: str, picture: Picture, page: Page) -> Artwork:
    """Return the sheet laid flat at about the photo's own resolution."""
    width, height = page.size
    corners, lens = page.sheet.corners, page.sheet.lens
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    density = max(sides[0] / width, sides[2] / width, sides[1] / height, sides[3] / height)
    px_per_mm = float(min(MAX_PX_PER_MM, np.ceil(density * 10) / 10))
    cols, rows = (round((side - 2 * INSET) * px_per_mm) for side in page.size)
    sheet = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    plane = cv2.getPerspectiveTransform(sheet, corners.astype(np.float32)).astype(float)
    to_sheet = np.array([[1 / px_per_mm, 0, INSET], [0, 1 / px_per_mm, INSET], [0, 0, 1]])
    matrix = plane @ to_sheet
    rgb = laid_flat(picture.rgb, matrix, lens, (rows, cols))
    known = page.named is not None
    mean_density = float(np.sqrt(np.prod(sides.reshape(2, 2).mean(axis=0)) / (width * height)))
    mm_per_px = 1 / (mean_density * picture.reduction) if known else None
    scale = Scale("page", mm_per_px, PAGE_UNCERTAINTY) if known else Scale("none", None, None)
    return Artwork(
        name=name,
        rgb=rgb,
        alpha=None,
        px_per_mm=px_per_mm,
        scale=scale,
        to_source=np.diag([picture.reduction, picture.reduction, 1.0]) @ matrix,
        source_size_px=picture.size,
        page=(sheet - INSET).astype(float),
        findings=_findings(page, 1 / density),
    )


def _findings(page: Page, mm_per_px: float) -> tuple[Finding, ...]:
    lens, error = 100 * page.sheet.lens.k1, 100 * page.sheet.lens_error
    bend = "the lens hardly bends"
    if abs(lens) > max(2 * error, _HARDLY):
        bend = f"the lens's bending of {lens:+.2f} % (give or take {error:.2f}) was taken out"
    if page.named is None:
        told = (
            f"a sheet with the sides of the A series was found and laid flat, {bend}; say --paper "
            "a4, a5 or whichever it is if the drawn size matters"
        )
        found = Finding("page-shape", "note", "the picture", None, None, told)
    else:
        told = (
            f"the {page.named} sheet was found and laid flat, {bend}; paper itself is good to "
            "about 1 %"
        )
        found = Finding("page-found", "note", "the picture", page.sheet.lens.k1, None, told)
    off = page.sheet.off_px * mm_per_px
    if off <= _BENT_MM:
        return (found,)
    told = "the sheet's edges aren't straight: flatten it, under glass if need be, or trim its edge"
    return (found, Finding("page-bent", "warning", "the picture", off, _BENT_MM, told))
