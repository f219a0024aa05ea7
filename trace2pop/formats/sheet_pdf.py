"""Sheets as PDF, one page each at true size, and as PNG previews."""

from collections.abc import Sequence

from trace2pop.formats import pages
from trace2pop.formats.rulers import check_rulers, print_marks
from trace2pop.formats.svg import legend_svg, sheet_svg
from trace2pop.limits import TILE_OVERLAP
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
    rulers = check_rulers(size, edge)
    if not sheet.tile:
        return pages.Page(size, (sheet_svg(sheet, parts), rulers))
    window = (edge, edge, sheet.width - edge, sheet.height - edge)
    layers = (sheet_svg(sheet, parts, legend=False), legend_svg(sheet), _joints(sheet), rulers)
    return pages.Page(size, layers, window=window)


def _joints(sheet: Sheet) -> bytes:
    """Return crosses in the middle of the overlaps: those of two neighbours lie on each other."""
    off = sheet.edge + TILE_OVERLAP.value / 2
    across = (sheet.width / 4, sheet.width * 3 / 4)
    down = (sheet.height / 4, sheet.height * 3 / 4)
    places = [(x, y) for x in across for y in (off, sheet.height - off)]
    places += [(x, y) for y in down for x in (off, sheet.width - off)]
    return print_marks((sheet.width, sheet.height), places, ())
