"""A closed shape within a pen line that is open: which of the two is meant, and what to say."""

import re

import numpy as np
import pytest
import render

from trace2pop.errors import TraceError
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Artwork, Scale
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace import trace

PX_PER_MM = 8.0


@pytest.fixture(scope="module")
def duck() -> Artwork:
    """Return a body of 92 x 44 mm drawn in a 1 mm line with a gap of 3.4 mm; a whole wing in it."""
    cap = 2 * np.degrees(np.arcsin(3.4 / 2 / 22))  # the gap, on the right end's half circle
    x, y = 22 * np.cos(np.radians(cap / 2)), 22 * np.sin(np.radians(cap / 2))
    body = (
        f"M{96 + x} {70 + y} A22 22 0 0 1 96 92 L48 92 A22 22 0 0 1 48 48 L96 48 "
        f"A22 22 0 0 1 {96 + x} {70 - y}"
    )
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="148mm" height="210mm" '
        'viewBox="0 0 148 210"><g fill="none" stroke="#223" stroke-width="1">'
        f'<path d="{body}"/><ellipse cx="74" cy="70" rx="24" ry="11"/></g></svg>'
    )
    rgb = np.ascontiguousarray(render.page_svg(svg, PX_PER_MM)[: 140 * 8, :, :3])
    size = rgb.shape[1], rgb.shape[0]
    return Artwork("duck.png", rgb, None, PX_PER_MM, Scale("none", 1.0, 0.0), np.eye(3), size)


def test_the_open_line_is_doubted_and_what_is_advised_closes_it(duck: Artwork) -> None:
    with pytest.raises(TraceError) as refused:
        trace(duck, TraceSettings())
    text = str(refused.value)
    gap = re.search(r"open for about ([\d.]+) mm.*--gap ([\d.]+)mm", text)
    assert gap is not None, text
    assert abs(float(gap[1]) - 3.4) < 0.7
    motif = trace(duck, TraceSettings(gap=float(gap[2])))
    left, _, right, _ = beziers.polygon(motif.outline).bounds
    assert motif.confidence > 0.9
    assert abs(right - left - 93) < 0.5


def test_the_wing_alone_is_taken_where_the_maker_says_so(duck: Artwork) -> None:
    motif = trace(duck, TraceSettings(take="1"))
    left, _, right, _ = beziers.polygon(motif.outline).bounds
    assert motif.confidence > 0.9
    assert abs(right - left - 49) < 0.5
