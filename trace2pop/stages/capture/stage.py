"""Picture file to artwork."""

from pathlib import Path

import numpy as np

from trace2pop.model.artwork import Artwork, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import PictureSettings
from trace2pop.stages.capture.decoding import Picture
from trace2pop.stages.capture.drawing import read_drawing
from trace2pop.stages.capture.frame import find_frame, rectified_field
from trace2pop.stages.capture.page import find_page, rectified
from trace2pop.stages.capture.reading import content_of, read_picture
from trace2pop.stages.capture.svg_tree import is_svg

NOMINAL = 200.0
"""Longer side of a picture without a scale, in nominal mm."""

DPI_UNCERTAINTY = 0.003
"""Relative, one sigma: what a flat-bed scanner's drive is good to; common practice, no source."""


def capture(path: Path, settings: PictureSettings) -> Artwork:
    """Return the artwork of a picture file.

    Raises:
        PictureError: where the file is missing, damaged, too large or of a kind that can't be read.
    """
    content = content_of(path)
    if is_svg(content):
        return read_drawing(path.name, content, settings.dpi)
    picture = read_picture(path.name, content, settings.page_number)
    if picture.alpha is None and settings.dpi is None:
        frame = find_frame(picture)
        if frame is not None:
            return rectified_field(path.name, picture, frame)
        page = find_page(picture.rgb, settings.paper)
        if page is not None:
            return rectified(path.name, picture, page)
    return _flat(path.name, picture, settings)


def _flat(name: str, picture: Picture, settings: PictureSettings) -> Artwork:
    """Return a scan or an unrectified picture as it lies."""
    rows, cols = picture.rgb.shape[:2]
    findings: list[Finding] = []
    if settings.dpi is not None:
        scale = Scale("dpi", 25.4 / settings.dpi, DPI_UNCERTAINTY)
        px_per_mm = settings.dpi / 25.4 / picture.reduction
    else:
        scale = Scale("none", None, None)
        px_per_mm = max(rows, cols) / NOMINAL
        if settings.paper is not None:
            findings.append(_no_page(settings.paper))
    if picture.dpi_tag is not None and settings.dpi is None:
        findings.append(_tag_seen(picture.dpi_tag))
    return Artwork(
        name=name,
        rgb=picture.rgb,
        alpha=picture.alpha,
        px_per_mm=px_per_mm,
        scale=scale,
        to_source=to_source(np.eye(3), picture.reduction),
        source_size_px=picture.size,
        findings=tuple(findings),
    )


def to_source(matrix: FloatArray, reduction: float) -> FloatArray:
    """Return ``matrix`` (to px of the decoded array) extended to px of the source picture."""
    result: FloatArray = np.diag([reduction, reduction, 1.0]) @ matrix
    return result


def _no_page(paper: str) -> Finding:
    return Finding(
        "page-not-found",
        "warning",
        "the picture",
        None,
        None,
        f"the edges of the {paper} sheet were not found, so the drawn size isn't known; photograph "
        "the whole sheet on a darker table, or say --dpi or --drawn-width",
    )


def _tag_seen(dpi: float) -> Finding:
    return Finding(
        "resolution-tag",
        "note",
        "the picture",
        dpi,
        None,
        f"the file claims {dpi:.0f} dots per inch, which is not relied on; if that is the scan's "
        f"true resolution, say --dpi {dpi:.0f}",
    )
