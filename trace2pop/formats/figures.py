"""The guide's drawings as SVG at the size they have on the page.

Fold lines follow the line types of Yoshizawa and Randlett: dashes for a valley, dash and dot for a
mountain. Colours are of Okabe and Ito, "Color Universal Design", 2008, and never the only sign.
"""

from collections.abc import Mapping

from trace2pop.formats.svg import BLUE, VERMILLION, number, path_data
from trace2pop.formats.svg import text as words_at
from trace2pop.model.guide import Figure, Ink, Mark, Word

INK, SOFT = "#1f2628", "#5d676a"
FONT = "Libertinus Serif"

_VALLEY, _MOUNTAIN = "2.4 1.1", "3.2 0.9 0.4 0.9"
_ROUND = 'stroke-linejoin="round" stroke-linecap="round"'

_STACK = "#8a8f90"

_LOOKS: Mapping[Ink, tuple[str, float, str]] = {
    "paper": ("#fffefb", 0.3, INK),
    "back": ("#cbc1ae", 0.3, INK),
    "base": ("#eef3f3", 0.3, INK),
    "base-back": ("#d3dbdc", 0.3, INK),
    "motif": ("#fbe7c6", 0.3, INK),
    "motif-back": ("#f3ead9", 0.3, INK),
    "beam": ("#e3eefb", 0.3, INK),
    "cover": ("#dfe6da", 0.3, INK),
    "gauge": ("#f6d9cf", 0.3, INK),
    "shade": ("#c8d3d5", 0.0, "none"),
    "cut": ("none", 0.3, INK),
    "thin": ("none", 0.15, SOFT),
    "hidden": ("none", 0.2, SOFT),
    "valley": ("none", 0.35, BLUE),
    "mountain": ("none", 0.35, BLUE),
    "slit": ("none", 0.6, "#a84300"),
    "glue": ("none", 0.22, VERMILLION),
    "glue-edge": ("#fdeee2", 0.25, VERMILLION),
    "hole": ("#ffffff", 0.25, INK),
    "pinhole": (INK, 0.0, "none"),
    "hand": ("none", 1.1, "#a84300"),
    "hand-core": ("none", 0.5, "#ffffff"),
    "overlap": ("none", 0.7, INK),
    "end-base": ("none", 0.9, INK),
    "end-beam": ("none", 0.55, BLUE),
    "end-motif": ("none", 0.9, "#b46a00"),
    "end-cover": ("none", 0.9, "#5f7a52"),
    "end-glue": (VERMILLION, 0.2, "#7a2d00"),
    "end-liner": ("#ffffff", 0.25, INK),
    "arrow": ("none", 0.8, BLUE),
    "arrow-head": (BLUE, 0.0, "none"),
    "ball": (INK, 0.0, "none"),
    "box": (INK, 0.0, "none"),
    "tag": ("#ffffff", 0.35, INK),
    "ruler": ("none", 0.2, INK),
    "mat": ("#cfdcd3", 0.3, INK),
    "axis": ("none", 0.25, INK),
    "curve": ("none", 0.7, BLUE),
    "ring": ("none", 0.5, VERMILLION),
    "stack-1": ("#ffffff", 0.1, _STACK),
    "stack-2": ("#fbe3cf", 0.1, _STACK),
    "stack-3": ("#f3b98a", 0.1, _STACK),
    "stack-4": ("#dd7f3f", 0.1, _STACK),
    "stack-5": ("#a84a12", 0.1, _STACK),
}
"""Fill, stroke width in mm and stroke."""

_DASHES: Mapping[Ink, str] = {
    "valley": _VALLEY,
    "mountain": _MOUNTAIN,
    "hidden": "0.9 0.8",
}
_TONES = {"ink": INK, "light": "#ffffff", "soft": SOFT}


def figure_svg(figure: Figure) -> bytes:
    """Return a drawing as SVG, its width and height in mm."""
    width, height = (number(side) for side in figure.size)
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">',
        *(_mark(mark) for mark in figure.marks),
        *(_word(word) for word in figure.words),
        "</svg>",
    ]
    return "\n".join(lines).encode()


def _mark(mark: Mark) -> str:
    fill, width, stroke = _LOOKS[mark.ink]
    wide = width if mark.width is None else mark.width
    data = " ".join(path_data(line, closed=mark.closed) for line in mark.lines)
    dashes = _DASHES.get(mark.ink)
    dash = f' stroke-dasharray="{dashes}"' if dashes else f" {_ROUND}"
    thin = ' style="stroke-linecap:butt"' if mark.ink in ("glue", "ruler") else ""
    return (
        f'<path class="{mark.ink}" d="{data}" fill="{fill}" fill-rule="evenodd" '
        f'stroke="{stroke}" stroke-width="{number(wide)}"{dash}{thin}/>'
    )


def _word(word: Word) -> str:
    look = f' font-weight="{"bold" if word.bold else "normal"}" style="font-family:{FONT}"'
    return words_at(
        word.text, *word.at, word.size, word.anchor, colour=_TONES[word.tone], extra=look
    )
