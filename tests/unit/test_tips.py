"""Needles followed in the picture beyond their outline, as far as the closed card allows."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
import render

from tests.examples import CARD, CUTTER, STOCK
from trace2pop.model.artwork import Artwork, Scale
from trace2pop.model.card import HandPart
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings, TraceSettings
from trace2pop.stages.cuttable import cuttable
from trace2pop.stages.fit import fit
from trace2pop.stages.trace import trace

PX_PER_MM = 8.0


@pytest.fixture(scope="module")
def spined() -> Artwork:
    """Return a fish of 100 x 40 mm with a needle of 16 mm below it, 3 mm wide at its root."""
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="148mm" height="210mm" '
        'viewBox="0 0 148 210"><ellipse cx="74" cy="50" rx="50" ry="20" fill="#124"/>'
        '<path d="M70 68 L73 68 L77 86 Z" fill="#124"/></svg>'
    )
    page = render.page_svg(svg, 4 * PX_PER_MM)[: 110 * 32, :, :3]
    small = cv2.resize(
        np.ascontiguousarray(page), None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA
    )
    rgb = cv2.GaussianBlur(small, (0, 0), 1.0)
    size = rgb.shape[1], rgb.shape[0]
    return Artwork("fish.png", rgb, None, PX_PER_MM, Scale("none", 1.0, 0.0), np.eye(3), size)


def _needle(spined: Artwork, fragile: FragileSettings) -> HandPart:
    card = replace(CARD, height=100.0, half_width=180.0)
    motif = trace(spined, TraceSettings())
    placed = fit(motif, card, MotifSettings(), SupportSettings(), fragile)
    assert "foot" in placed.limited_by
    (part,) = cuttable(placed, fragile, STOCK, CUTTER).hand_parts
    return part


def test_a_needle_that_sets_the_size_stays_inside_when_closed(spined: Artwork) -> None:
    """Its end, cut square, keeps the margin; what may have been drawn farther is told."""
    part = _needle(spined, FragileSettings())
    along = part.path[-1] - part.path[-2]
    along /= np.linalg.norm(along)
    end = part.path[-1][1] + part.diameter / 2 * abs(along[0])
    assert end <= 100 - CARD.margin + 1e-6
    assert end == pytest.approx(100 - CARD.margin, abs=0.3)
    assert part.uncertainty > 0.2


def test_one_that_bends_is_as_long_as_it_was_drawn(spined: Artwork) -> None:
    part = _needle(spined, FragileSettings(bends=True))
    assert part.path[-1][1] > 100 - CARD.margin
