"""The check page: how far printer and cutter disagree, measured once, then made up for."""

from dataclasses import replace

from trace2pop.formats import pages
from trace2pop.formats.rulers import check_rulers, print_marks
from trace2pop.formats.svg import BLACK, document, number, text
from trace2pop.model.pieces import Sheet
from trace2pop.model.settings import PrintSettings
from trace2pop.units import MM_PER_INCH

_SQUARE = 8.0
_LINES = (
    "Check page. Print it at 100 %, without fitting to the page.",
    "1. Measure the two rulers. If they are not 100 mm and 4 in (101.6 mm),",
    "    give what they measure: --ruler-across and --ruler-down.",
    "2. Put the page on the cutter like any sheet and cut check.svg on it.",
    "    Each square should have its cross in the middle.",
    "3. If the squares lie to the right of the crosses, give that distance as",
    "    --print-right; if they lie below, as --print-down. To the left or above: with a minus.",
)


def corrected(page: pages.Page, printer: PrintSettings) -> pages.Page:
    """Return the page stretched and moved so that it comes out of the printer at true size."""
    stretch = (100 / printer.ruler_across, 4 * MM_PER_INCH / printer.ruler_down)
    return replace(page, stretch=stretch, shift=(printer.right, printer.down))


def check_files(sheet: Sheet, printer: PrintSettings) -> dict[str, bytes]:
    """Return check.pdf to print and check.svg to cut, in the frame of a printed sheet.

    Both carry the correction that is in force: a printer that is set right shows no more error.
    """
    size = (sheet.width, sheet.height)
    left, top = 3 * sheet.edge, sheet.height / 3
    words = [text(line, left, top + 7 * n, 4.0, "start", BLACK) for n, line in enumerate(_LINES)]
    layers = (
        document(size, "check page", words),
        print_marks(size, sheet.crosses, ()),
        check_rulers(size, sheet.edge),
    )
    page = corrected(pages.Page(size, layers), printer)
    return {
        "check.pdf": pages.pdf([page], "Check page for printer and cutter"),
        "check.svg": _squares(sheet),
    }


def _squares(sheet: Sheet) -> bytes:
    half = _SQUARE / 2
    lines = []
    for n, (x, y) in enumerate(sheet.crosses, start=1):
        box = [number(value) for value in (x - half, y - half, x + half, y + half)]
        data = f"M{box[0]},{box[1]} L{box[2]},{box[1]} L{box[2]},{box[3]} L{box[0]},{box[3]} Z"
        style = f'fill="none" stroke="{BLACK}" stroke-width="0.25"'
        lines.append(f'<path id="square-{n}" class="cut" {style} d="{data}"/>')
    return document((sheet.width, sheet.height), "Squares round the check page's crosses", lines)
