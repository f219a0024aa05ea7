"""trace2pop mockup: the white mock-up of a card and a rise, before there is a motif."""

from collections.abc import Mapping
from pathlib import Path

from trace2pop import data, output
from trace2pop.console import Console
from trace2pop.formats.sheet_pdf import sheets_pdf
from trace2pop.formats.svg import part_svg
from trace2pop.model.settings import Settings
from trace2pop.pipeline import card_without_picture
from trace2pop.settings import with_options
from trace2pop.stages.parts import mockup as mockup_pieces
from trace2pop.stages.sheets import mockup_pages


def mockup(out: Path, options: Mapping[str, object], *, force: bool, console: Console) -> None:
    """Make a folder with the mock-up's pieces and its pages to print and cut by hand.

    Raises:
        Trace2popError: where a choice can't be, a piece has no room or the folder can't be written.
    """
    settings = with_options(Settings(), options)
    with output.opened(out.absolute(), force=force, rerun=False) as delivery:
        card, stocks = card_without_picture(settings)
        cutter = data.cutter_of(settings.cutter)
        pieces = mockup_pieces(card, stocks, cutter, settings.pieces, settings.supports)
        pages = mockup_pages(pieces, settings.guide.paper)
        files = {f"parts/{part.name}.svg": part_svg(part) for part in pieces.parts}
        files["mockup.pdf"] = sheets_pdf(pages, pieces, "White mock-up at true size")
        delivery.deliver(files)
    console.findings(pieces.findings)
    width, height = card.window
    console.result(
        [
            ("folder", str(out)),
            ("window", f"{width:.1f} x {height:.1f} mm is the largest motif there is"),
            ("next", "print mockup.pdf at 100 %, check its rulers, cut, and lay a motif on it"),
        ]
    )
