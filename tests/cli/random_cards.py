"""Random motifs as SVG drawings, and random choices as a maker could write them."""

import math
from dataclasses import dataclass

from hypothesis import strategies as st

from trace2pop.choices import choices, words
from trace2pop.model.settings import Choice

KEPT = {"page-number", "dpi", "paper", "take", "kind", "trust", "copies", "cut-speed"}
"""Choices that say nothing about a drawing's card, or only make it slower."""

USUAL: dict[str, tuple[float, float]] = {
    "card": (80, 260),
    "rise": (5, 60),
    "margin": (0, 12),
    "border": (0, 10),
    "width": (30, 240),
    "height": (30, 240),
    "scale": (0.4, 3),
    "drawn-width": (20, 300),
    "min-width": (0.3, 3),
    "min-gap": (0.2, 3),
    "inset": (0, 6),
    "handling-load": (1, 40),
    "sag-limit": (0.2, 5),
    "flanges": (4, 14),
    "supports": (3, 8),
    "offset": (0, 4),
    "tolerance": (0.01, 0.2),
    "corner-radius": (0, 15),
    "piece-gap": (0.5, 10),
}
"""Where a choice is mostly made; ``anywhere`` takes one in four from all over its range."""


@dataclass(frozen=True)
class Drawn:
    """A motif as the text of an SVG file, and options by their names."""

    svg: str
    options: dict[str, str | bool]


def _number(choice: Choice, anywhere: bool) -> st.SearchStrategy[float]:
    whole = (choice.low or 0.0, choice.high or 0.0)
    usual = USUAL.get(choice.option, whole)
    near = st.floats(*usual).map(lambda value: round(value, 2))
    if not anywhere:
        return near
    far = st.floats(*whole).map(lambda value: round(min(max(value, whole[0]), whole[1]), 3))
    return st.one_of(near, near, near, far)


def _written(choice: Choice, anywhere: bool) -> st.SearchStrategy[str | bool]:
    known = words(choice)
    if choice.form == "flag":
        return st.booleans()
    if choice.form in ("word", "text"):
        return st.sampled_from(known) if known else st.just("")
    number = _number(choice, anywhere)
    if choice.form in ("angle", "number"):
        plain = number.map(str)
        return st.one_of(plain, st.sampled_from(known)) if known else plain
    if choice.form == "count":
        return number.map(lambda value: str(round(value)))
    length = number.map(lambda value: f"{value}mm")
    if choice.form == "size":
        return st.tuples(number, number).map(lambda size: f"{size[0]}x{size[1]}mm")
    if choice.form == "lengths":
        return st.lists(length, min_size=1, max_size=3).map(", ".join)
    return length


@st.composite
def options(draw: st.DrawFn, anywhere: bool) -> dict[str, str | bool]:
    """Return up to eight options of the command line; the card's own come up more often."""
    rows = [choice for _, _, choice in choices() if choice.form != "rows"]
    rows = [choice for choice in rows if choice.option not in KEPT]
    main = [choice for choice in rows if choice.option in ("card", "rise", "spine", "motif-stock")]
    chosen = [choice for choice in main if draw(st.booleans())]
    chosen += draw(st.lists(st.sampled_from(rows), max_size=4, unique_by=lambda c: c.option))
    return {choice.option: draw(_written(choice, anywhere)) for choice in chosen}


@st.composite
def blob(draw: st.DrawFn, middle: tuple[float, float], size: float) -> str:
    """Return a closed outline of smooth lobes round ``middle``, perhaps with a deep notch."""
    count = draw(st.integers(5, 18))
    reach = st.floats(0.35, 1.0)
    even = draw(st.booleans())
    radii = [draw(reach) for _ in range(count)]
    if even:
        radii = [radii[min(k, count - k)] for k in range(count)]
    stretch = draw(st.floats(0.4, 1.6))
    points = [
        (
            middle[0] + size * radius * math.sin(2 * math.pi * k / count) * stretch,
            middle[1] - size * radius * math.cos(2 * math.pi * k / count),
        )
        for k, radius in enumerate(radii)
    ]
    return _smooth(points) if draw(st.booleans()) else _straight(points)


def _straight(points: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points) + "z"


def _smooth(points: list[tuple[float, float]]) -> str:
    """Return a closed Catmull-Rom curve as cubic Beziers."""
    parts = [f"M{points[0][0]:.3f} {points[0][1]:.3f}"]
    for k, point in enumerate(points):
        before, after = points[k - 1], points[(k + 1) % len(points)]
        later = points[(k + 2) % len(points)]
        first = [p + (a - b) / 6 for p, a, b in zip(point, after, before, strict=True)]
        second = [a - (c - p) / 6 for a, c, p in zip(after, later, point, strict=True)]
        parts.append("C" + " ".join(f"{value:.3f}" for value in (*first, *second, *after)))
    return "".join(parts) + "z"


@st.composite
def drawn(draw: st.DrawFn, *, anywhere: bool = True) -> Drawn:
    """Return a motif: a body, and perhaps lobes beside it, holes, feelers, a ring, a speck."""
    size = draw(st.floats(25, 70))
    body = draw(blob((100, 100), size))
    extra = []
    for _ in range(draw(st.integers(0, 3))):
        place = (100 + draw(st.floats(-60, 60)), 100 + draw(st.floats(-60, 60)))
        extra.append(draw(blob(place, draw(st.floats(1, 30)))))
    holes = [
        draw(blob((100 + draw(st.floats(-20, 20)), 100 + draw(st.floats(-20, 20))), radius))
        for radius in draw(st.lists(st.floats(0.3, 12), max_size=3))
    ]
    feelers = [
        f'<path d="M100 100Q{100 + x:.2f} {60 + y:.2f} {100 + 2 * x:.2f} {100 + 2 * y:.2f}" '
        f'fill="none" stroke="#333" stroke-width="{width:.2f}"/>'
        for x, y, width in draw(
            st.lists(
                st.tuples(st.floats(-45, 45), st.floats(-45, 45), st.floats(0.4, 3)), max_size=3
            )
        )
    ]
    text = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        'viewBox="0 0 200 200">'
        f'<path fill="#474" fill-rule="evenodd" d="{body}{"".join(holes)}"/>'
        + "".join(f'<path fill="#696" d="{path}"/>' for path in extra)
        + "".join(feelers)
        + "</svg>"
    )
    return Drawn(text, draw(options(anywhere)))
