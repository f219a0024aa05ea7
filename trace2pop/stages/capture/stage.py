"""Picture file to artwork."""

from pathlib import Path

import numpy as np

from trace2pop.model.artwork import Artwork, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.settings import PictureSettings
from trace2pop.stages.capture.decoding import MAX_PX_PER_MM, Picture, shrunk
from trace2pop.stages.capture.drawing import read_drawing
from trace2pop.stages.capture.frame import find_frame, rectified_field
from trace2pop.stages.capture.page import find_page, rectified
from trace2pop.stages.capture.reading import head_of, opened_file, read_picture
from trace2pop.stages.capture.svg_tree import MAX_BYTES, is_svg
from trace2pop.units import MM_PER_INCH

_BY_DEFAULT = (72, 96)
NOMINAL = 200.0
"""Longer side of a picture without a scale, in nominal mm."""

DPI_UNCERTAINTY = 0.003
"""Relative, one sigma: what a flat-bed scanner's drive is good to; common practice, no source."""


def capture(path: Path, settings: PictureSettings) -> Artwork:
    """Return the artwork of a picture file.

    Raises:
        PictureError: where the file is missing, damaged, too large or of a kind that can't be read.
    """
    with opened_file(path) as file:
        if is_svg(head_of(file)):
            return read_drawing(path.name, file.read(MAX_BYTES + 1), settings.dpi)
        picture = read_picture(path.name, file, settings.page_number)
    if picture.alpha is not None or settings.dpi is not None:
        return _flat(path.name, picture, settings, None)
    frame = find_frame(picture)
    if frame is not None:
        return rectified_field(path.name, picture, frame)
    page, other = find_page(picture.rgb, settings.paper)
    if page is not None:
        return rectified(path.name, picture, page)
    return _flat(path.name, picture, settings, other)


def _flat(name: str, picture: Picture, settings: PictureSettings, other: float | None) -> Artwork:
    """Return a scan or an unrectified picture as it lies.

    ``other`` is the shape of a sheet seen that isn't the one asked for.
    """
    findings: list[Finding] = []
    if settings.dpi is not None:
        scale = Scale("dpi", MM_PER_INCH / settings.dpi, DPI_UNCERTAINTY)
        finer = settings.dpi / MM_PER_INCH / picture.reduction / MAX_PX_PER_MM
        if finer > 1:
            picture = shrunk(picture, 1 / finer)
        px_per_mm = settings.dpi / MM_PER_INCH / picture.reduction
    else:
        scale = Scale("none", None, None)
        px_per_mm = max(picture.rgb.shape[:2]) / NOMINAL
        if settings.paper is not None:
            findings.append(_no_page(settings.paper, other))
        elif picture.dpi_tag is None and settings.drawn_width is None:
            findings.append(_no_size())
        if picture.dpi_tag is not None:
            findings.append(_tag_seen(picture.dpi_tag))
    return Artwork(
        name=name,
        rgb=picture.rgb,
        alpha=picture.alpha,
        px_per_mm=px_per_mm,
        scale=scale,
        to_source=np.diag([picture.reduction, picture.reduction, 1.0]),
        source_size_px=picture.size,
        findings=tuple(findings),
    )


def _no_page(paper: str, other: float | None) -> Finding:
    told = f"the edges of the {paper} sheet were not found"
    if other is not None:
        told = f"the sheet seen has sides 1 : {other:.2f}, which is not {paper}"
    return Finding(
        "page-not-found",
        "warning",
        "the picture",
        other,
        None,
        f"{told}, so the drawn size isn't known; photograph the whole sheet, flat on a darker "
        "table, or say --dpi or --drawn-width",
    )


def _no_size() -> Finding:
    return Finding(
        "drawn-size-unknown",
        "note",
        "the picture",
        None,
        None,
        "the drawn size isn't known, so sizes follow from the card alone; say --dpi, --paper or "
        "--drawn-width if it matters",
    )


def _tag_seen(dpi: float) -> Finding:
    told = f"the file claims {dpi:.0f} dots per inch, which is not relied on"
    if round(dpi) in _BY_DEFAULT:
        told += ": cameras and programs write that without knowing; say --drawn-width or --paper"
        told += " if the drawn size matters"
    else:
        told += f"; if that is the scan's true resolution, say --dpi {dpi:.0f}"
    return Finding("resolution-tag", "note", "the picture", dpi, None, told)
