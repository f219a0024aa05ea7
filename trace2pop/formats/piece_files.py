"""The files of pieces and sheets, by their names in the card's folder."""

from collections.abc import Mapping

from trace2pop.errors import UsageError
from trace2pop.formats.dxf import part_dxf, sheet_dxf
from trace2pop.formats.print_pdf import print_files
from trace2pop.formats.sheet_pdf import sheet_png, sheets_pdf
from trace2pop.formats.svg import part_svg, sheet_svg
from trace2pop.model.pieces import Sheets
from trace2pop.model.settings import FileSettings, PrintSettings

FORMATS = ("svg", "dxf", "pdf", "png")


def piece_files(
    sheets: Sheets,
    settings: FileSettings,
    printer: PrintSettings | None = None,
    *,
    printed: Mapping[str, bytes] | None = None,
) -> dict[str, bytes]:
    """Return parts/, sheets/ and print/ of a card's folder; SVG is always among them.

    ``printed`` are the files of print/ where they are there already.

    Raises:
        UsageError: where ``settings.formats`` names something else.
    """
    wanted = chosen_formats(settings.formats)
    parts = sheets.parts
    files = {f"parts/{part.name}.svg": part_svg(part) for part in parts.parts}
    files |= {f"sheets/{sheet.name}.svg": sheet_svg(sheet, parts) for sheet in sheets.sheets}
    if printed is None:
        printed = print_files(sheets, printer or PrintSettings())
    files |= {f"print/{name}": page for name, page in printed.items()}
    if "dxf" in wanted:
        version, curves = settings.dxf_version, settings.dxf_curves
        for part in parts.parts:
            files[f"parts/{part.name}.dxf"] = part_dxf(part, version, curves)
        for sheet in sheets.sheets:
            files[f"sheets/{sheet.name}.dxf"] = sheet_dxf(sheet, parts, version, curves)
    if "pdf" in wanted:
        files["sheets/sheets.pdf"] = sheets_pdf(sheets.sheets, parts, "Sheets at true size")
    if "png" in wanted:
        for sheet in sheets.sheets:
            files[f"sheets/{sheet.name}.png"] = sheet_png(sheet, parts)
    return files


def chosen_formats(text: str) -> tuple[str, ...]:
    """Return the formats named in ``text``, in the order of ``FORMATS``.

    Raises:
        UsageError: where a name is none of them.
    """
    named = [word.strip().lower() for word in text.split(",") if word.strip()]
    for word in named:
        if word not in FORMATS:
            raise UsageError(
                f"formats: {word!r} is no kind of file this program writes",
                f"choose from {', '.join(FORMATS)}, with commas between them",
            )
    return tuple(word for word in FORMATS if word in named)
