"""What a printed page carries so that its size can be checked: rulers, crosses, crop marks."""

from collections.abc import Iterable

from trace2pop import limits
from trace2pop.formats.svg import BLACK, cross, document, number, text
from trace2pop.units import MM_PER_INCH

Box = tuple[float, float, float, float]

_BAND = 4.0


def check_rulers(size: tuple[float, float], edge: float) -> bytes:
    """Return an SVG layer with a 100 mm ruler along the head and a 4 in ruler down the left edge.

    ``edge`` is the free band along the page's edges; the rulers lie in its inner part. In a band
    narrower than a ruler they reach over its inner side.
    """
    edge = max(edge, _BAND)
    across = [(n * 10.0, 2.4 if n % 5 == 0 else 1.5) for n in range(11)]
    down = [(n * MM_PER_INCH / 8, 2.4 if n % 8 == 0 else 1.5) for n in range(33)]
    line, start = edge - 0.8, edge + 6
    data = f"M{number(start)},{number(line)} h100 "
    data += " ".join(f"M{number(start + at)},{number(line)} v{-tick}" for at, tick in across)
    data += f" M{number(line)},{number(start)} v{number(4 * MM_PER_INCH)} "
    data += " ".join(f"M{number(line)},{number(start + at)} h{-tick}" for at, tick in down)
    below = start + 4 * MM_PER_INCH + 1.5
    turn = f' transform="rotate(90 {number(line - 1.6)} {number(below)})"'
    return document(
        size,
        "check rulers",
        [
            f'<path class="note" fill="none" stroke="{BLACK}" stroke-width="0.15" d="{data}"/>',
            text("100 mm: measure it", start + 101.5, line, 2.0, "start", BLACK),
            text("4 in: measure it", line - 1.6, below, 2.0, "start", BLACK, turn),
        ],
    )


def print_marks(
    size: tuple[float, float], crosses: Iterable[tuple[float, float]], boxes: Iterable[Box]
) -> bytes:
    """Return an SVG layer with plain registration crosses, and crop marks round each box."""
    data = [cross(x, y) for x, y in crosses]
    for box in boxes:
        data += _crop_marks(box)
    style = f'fill="none" stroke="{BLACK}" stroke-width="0.15"'
    return document(size, "print marks", [f'<path class="note" {style} d="{" ".join(data)}"/>'])


def _crop_marks(box: Box) -> list[str]:
    x0, y0, x1, y1 = box
    off, mark = limits.BLEED.value, limits.CROP_MARK.value
    marks = []
    for y in (y0, y1):
        marks += [
            f"M{number(x0 - off)},{number(y)} h{-mark}",
            f"M{number(x1 + off)},{number(y)} h{mark}",
        ]
    for x in (x0, x1):
        marks += [
            f"M{number(x)},{number(y0 - off)} v{-mark}",
            f"M{number(x)},{number(y1 + off)} v{mark}",
        ]
    return marks
