"""Sheets as PDF, one page each at true size, and as PNG previews."""

from collections.abc import Sequence

from trace2pop.formats import pages
from trace2pop.formats.rulers import check_rulers
from trace2pop.formats.svg import sheet_svg
from trace2pop.model.pieces import Pieces, Sheet

PREVIEW_DPI = 96.0


def sheets_pdf(sheets: Sequence[Sheet], parts: Pieces, title: str) -> bytes:
    """Return one page a sheet at true size, each with check rulers in its free edge."""
    return pages.pdf([_page(sheet, parts) for sheet in sheets], title)


def sheet_png(sheet: Sheet, parts: Pieces, dpi: float = PREVIEW_DPI) -> bytes:
    """Return a preview of a sheet."""
    page = pages.Page((sheet.width, sheet.height), (sheet_svg(sheet, parts),))
    return pages.png(page, dpi)


def _page(sheet: Sheet, parts: Pieces) -> pages.Page:
    size, edge = (sheet.width, sheet.height), sheet.edge
    window = (edge, edge, sheet.width - edge, sheet.height - edge) if sheet.tile else None
    return pages.Page(size, (sheet_svg(sheet, parts), check_rulers(size, edge)), window=window)
