"""guide.pdf: the assembly guide as pages, by typst; the same guide always gives the same bytes."""

import json
from importlib.resources import files
from typing import Any

from trace2pop.formats.drawing_svg import figure_svg
from trace2pop.formats.svg import sheet_svg
from trace2pop.model.guide import Figure, Guide

_TEXT_WIDTH = {"letter": 179.9, "a4": 174.0}
_PAPER = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
_TEMPLATE_HEAD = 24.0
_EDGE = 5.0
_TALLEST = 88.0
_GUTTER = 5.0


def guide_pdf(guide: Guide, preview: bytes) -> bytes:
    """Return the guide's pages; ``preview`` is the finished card as PNG."""
    import typst  # loads its fonts: only where pages are made

    inputs: dict[str, str] = {"preview": json.dumps(list(preview))}
    steps = []
    for number, step in enumerate(guide.steps):
        figures = [
            _figure(guide, figure, f"s{number}-{index}", step.figures, inputs)
            for index, figure in enumerate(step.figures)
        ]
        steps.append({"title": step.title, "text": step.text, "figures": figures})
    document = {
        "title": guide.title,
        "paper": guide.paper,
        "language": guide.language,
        "words": guide.words,
        "facts": guide.facts,
        "needs": guide.needs,
        "cautions": guide.cautions,
        "steps": steps,
        "hand_rows": guide.hand_rows,
        "trouble": guide.trouble,
        "template": _template(guide, inputs),
    }
    inputs["guide"] = json.dumps(document)
    source = files("trace2pop.formats").joinpath("templates/guide.typ").read_bytes()
    pdf: bytes = typst.compile(source, format="pdf", ignore_system_fonts=True, sys_inputs=inputs)
    return pdf


def _figure(
    guide: Guide, figure: Figure, key: str, beside: tuple[Figure, ...], inputs: dict[str, str]
) -> dict[str, Any]:
    """Return a figure's place on the page, its drawing added to ``inputs``."""
    room = _TEXT_WIDTH[guide.paper]
    columns = min(len(beside), 3 if len(beside) > 2 else 2)
    widest = (room - (columns - 1) * _GUTTER) / columns
    width = min(widest, _TALLEST * figure.size[0] / figure.size[1], figure.size[0])
    if figure.sheet is not None:
        sheet = next(item for item in guide.sheets.sheets if item.name == figure.sheet)
        inputs[key] = sheet_svg(sheet, guide.sheets.parts).decode()
    else:
        inputs[key] = figure_svg(figure, width).decode()
    return {"key": key, "width": round(width, 3), "caption": figure.caption}


def _template(guide: Guide, inputs: dict[str, str]) -> dict[str, Any] | None:
    """Return the template's page: the guide's paper if it fits, turned if need be, else larger."""
    figure = guide.template
    if figure is None:
        return None
    inputs["template"] = figure_svg(figure, figure.size[0]).decode()
    need = (figure.size[0] + 2 * _EDGE, figure.size[1] + 2 * _EDGE + _TEMPLATE_HEAD)
    paper = _PAPER[guide.paper]
    upright = need[0] <= paper[0] and need[1] <= paper[1]
    turned = need[0] <= paper[1] and need[1] <= paper[0]
    page = {} if upright or turned else {"width": need[0], "height": need[1]}
    return {
        "key": "template",
        "width": round(figure.size[0], 3),
        "flipped": turned and not upright,
        "page": page,
    }
