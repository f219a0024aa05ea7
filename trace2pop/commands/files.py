"""The files of a card: every format's bytes by their names in its folder."""

from trace2pop.formats.guide_pdf import guide_pdf
from trace2pop.formats.page import page_html
from trace2pop.formats.pictures import picture_files
from trace2pop.formats.piece_files import piece_files
from trace2pop.formats.plan_json import card_json
from trace2pop.formats.preview import preview_gif, preview_png
from trace2pop.formats.sheet_pdf import sheets_pdf
from trace2pop.model.settings import Settings
from trace2pop.pipeline import Made


def card_files(made: Made, settings: Settings) -> dict[str, bytes]:
    """Return every file of a card but its settings."""
    sheets = made.sheets
    names = {part.name: f"parts/{part.name}.svg" for part in sheets.parts.parts}
    names |= {sheet.name: f"sheets/{sheet.name}.svg" for sheet in sheets.sheets}
    preview = preview_png(sheets)
    return {
        "card.json": card_json(sheets, made.stocks, made.findings, names),
        **piece_files(sheets, settings.files, settings.print),
        "mockup.pdf": sheets_pdf(made.mockup, sheets.parts, "White mock-up at true size"),
        "guide.pdf": guide_pdf(made.guide, preview),
        "page.html": page_html(made.guide),
        "preview.png": preview,
        "preview.gif": preview_gif(sheets),
        **picture_files(made.guide),
    }
