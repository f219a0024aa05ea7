"""guide.pdf: the assembly guide as pages, by typst; the same guide always gives the same bytes."""

import base64
import json
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Any

import cv2

from trace2pop.formats.camera import Image
from trace2pop.formats.figures import figure_svg
from trace2pop.model.guide import Figure, Guide, Step

PAGES = {"letter": (215.9, 279.4), "a4": (210.0, 297.0)}
MARGIN = 18.0
TEMPLATE_MARGIN = 8.0
_GUTTER = 5.0
TEMPLATE_HEAD = 30.0
_QUALITY = 90


@dataclass
class _Pictures:
    """The drawings on their way to typst, which takes text from outside as inputs only."""

    inputs: dict[str, str] = field(default_factory=dict)

    def add(self, figure: Figure) -> dict[str, Any]:
        """Keep a drawing and return how the page refers to it."""
        key = f"figure-{len(self.inputs)}"
        self.inputs[key] = figure_svg(figure).decode()
        width, height = figure.size
        return {
            "key": key,
            "width": round(width, 4),
            "height": round(height, 4),
            "caption": figure.caption,
            "alt": figure.alt,
        }


def guide_pdf(guide: Guide, picture: Image) -> bytes:
    """Return the guide's pages; ``picture`` is the finished card, (rows, cols, 3) RGB."""
    import typst  # loads its fonts: only where pages are made

    drawn, width = _Pictures(), PAGES[guide.paper][0] - 2 * MARGIN
    document = {
        "title": guide.title,
        "paper": guide.paper,
        "language": guide.language,
        "words": guide.words,
        "facts": guide.facts,
        "needs": guide.needs,
        "cautions": guide.cautions,
        "legend": drawn.add(guide.legend),
        "pieces": drawn.add(guide.pieces),
        "steps": [_step(step, width, drawn) for step in guide.steps],
        "templates": [_template(guide, figure, drawn) for figure in guide.templates],
        "trouble": guide.trouble,
        "trade": {
            "text": guide.trade.text,
            "table": guide.trade.table,
            "picture": drawn.add(guide.trade.picture) | {"cell": guide.trade.picture.size[0]},
        },
    }
    source = files("trace2pop.formats").joinpath("templates/guide.typ").read_bytes()
    inputs = {**drawn.inputs, "guide": json.dumps(document), "picture": _photo(picture)}
    pdf: bytes = typst.compile(source, format="pdf", ignore_system_fonts=True, sys_inputs=inputs)
    return pdf


def _photo(picture: Image) -> str:
    """Return a picture as JPEG in an SVG of its shape: typst's inputs are text."""
    height, width = picture.shape[:2]
    how = [cv2.IMWRITE_JPEG_QUALITY, _QUALITY]
    done, encoded = cv2.imencode(".jpg", picture[..., ::-1], how)
    assert done
    data = base64.b64encode(encoded.tobytes()).decode("ascii")
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'width="{width}" height="{height}" viewBox="0 0 {width} {height}">'
        f'<image width="{width}" height="{height}" xlink:href="data:image/jpeg;base64,{data}"/>'
        "</svg>"
    )


def _step(step: Step, width: float, drawn: _Pictures) -> dict[str, Any]:
    return {
        "title": step.title,
        "take": step.take,
        "text": step.text,
        "rows": [_row(row, step.rows[:n], width, drawn) for n, row in enumerate(step.rows)],
        "care": step.care,
        "table": step.table,
        "note": step.note,
        "found": step.found,
    }


def _row(
    row: tuple[Figure, ...], before: tuple[tuple[Figure, ...], ...], width: float, drawn: _Pictures
) -> list[dict[str, Any]]:
    """Return a row of drawings, each with the width of its column.

    Columns are equal where the drawings allow it, and as many as in the row before where that was
    longer; else each gets its own width and a share of what is left.
    """
    count = max([len(row), *(len(other) for other in before[-1:])])
    equal = (width - (count - 1) * _GUTTER) / count
    widths = [figure.size[0] for figure in row]
    if max(widths) > equal:
        left = (width - (len(row) - 1) * _GUTTER - sum(widths)) / len(row)
        return [drawn.add(f) | {"cell": round(f.size[0] + left, 4)} for f in row]
    return [drawn.add(figure) | {"cell": round(equal, 4)} for figure in row]


def _template(guide: Guide, figure: Figure, drawn: _Pictures) -> dict[str, Any]:
    """Return a true-size page: the guide's paper, upright or turned, or larger if it must be."""
    width, height = PAGES[guide.paper]
    need = (
        figure.size[0] + 2 * TEMPLATE_MARGIN,
        figure.size[1] + 2 * TEMPLATE_MARGIN + TEMPLATE_HEAD,
    )
    if need[0] > width or need[1] > height:
        width, height = height, width
    return {
        **drawn.add(figure),
        "page_width": max(width, need[0]),
        "page_height": max(height, need[1]),
    }
