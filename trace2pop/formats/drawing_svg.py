"""The guide's drawings as SVG: line types by Yoshizawa and Randlett, a legend beside them."""

from html import escape

from trace2pop.formats.svg import number, path_data
from trace2pop.model.guide import Figure

# Okabe and Ito, "Color Universal Design", 2008; never the only sign: dashes and widths differ too.
_STYLES = {
    "cut": 'stroke="#000000" stroke-width="{w}"',
    "faint": 'stroke="#999999" stroke-width="{w}"',
    "slit": 'stroke="#D55E00" stroke-width="{w3}"',
    "score": 'stroke="#0072B2" stroke-width="{w}"',
    "valley": 'stroke="#0072B2" stroke-width="{w}" stroke-dasharray="{d3} {d2}"',
    "mountain": 'stroke="#D55E00" stroke-width="{w}" stroke-dasharray="{d4} {d1} {d05} {d1}"',
    "glue": 'stroke="#009E73" stroke-width="{w}" fill="url(#hatch)"',
    "hand": 'stroke="#D55E00" stroke-width="{w2}"',
    "overlap": 'stroke="#000000" stroke-width="{w3}"',
    "base": 'stroke="#000000" stroke-width="{w3}"',
    "motif": 'stroke="#D55E00" stroke-width="{w3}"',
    "beam": 'stroke="#0072B2" stroke-width="{w2}"',
    "flange": 'stroke="#0072B2" stroke-width="{w4}" stroke-opacity=".45"',
}


def figure_svg(figure: Figure, shown_width: float) -> bytes:
    """Return a drawing as SVG; lines come out equally strong at ``shown_width`` mm on the page."""
    k = figure.size[0] / shown_width
    sizes = {"w": 0.3, "w2": 0.5, "w3": 0.8, "w4": 1.4, "d05": 0.5, "d1": 0.9, "d2": 1.4}
    sizes |= {"d3": 2.6, "d4": 3.6}
    scaled = {key: number(value * k) for key, value in sizes.items()}
    width, height = (number(side) for side in figure.size)
    hatch = number(2.2 * k)
    lines = [
        f'<path d="{path_data(mark.line, closed=mark.closed)}" fill="none" '
        f"{_STYLES[mark.style].format(**scaled)}/>".replace(
            'fill="none" stroke="#009E73"', 'stroke="#009E73"'
        )
        for mark in figure.marks
    ]
    words = [
        f'<text x="{number(word.at[0])}" y="{number(word.at[1])}" font-size="{number(word.size)}" '
        f'text-anchor="{word.anchor}" font-family="Libertinus Serif">{escape(word.text)}</text>'
        for word in figure.words
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}"><defs><pattern id="hatch" width="{hatch}" '
        f'height="{hatch}" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<line x1="0" y1="0" x2="0" y2="{hatch}" stroke="#009E73" '
        f'stroke-width="{number(0.6 * k)}"/></pattern></defs>' + "".join(lines + words) + "</svg>"
    ).encode()
