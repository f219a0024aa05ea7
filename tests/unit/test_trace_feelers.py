"""Feelers paler than the body they grow from, and limbs that come off it."""

import cv2
import numpy as np
import pytest
import render
import shapely

from trace2pop.geometry import beziers
from trace2pop.limits import CONFIDENCE
from trace2pop.model.artwork import Artwork, Motif, Scale
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace import trace

PX_PER_MM = 300 / 25.4
FEELER = np.array([[35.0, 40.0], [15.0, 8.0]])


def _traced(colour: str, width: float) -> Motif:
    """Return what is traced of a dark disc of 26 mm with one feeler, as a JPEG scan shows it."""
    (x0, y0), (x1, y1) = FEELER
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="148mm" height="210mm" '
        f'viewBox="0 0 148 210"><path d="M{x0} {y0}L{x1} {y1}" stroke="{colour}" '
        f'stroke-width="{width}"/><circle cx="38" cy="45" r="13" fill="#16161c"/></svg>'
    )
    page = render.page_svg(svg, 2 * PX_PER_MM)[: round(140 * PX_PER_MM), : round(120 * PX_PER_MM)]
    light = render.linear(np.ascontiguousarray(page[..., :3])).astype(np.float32)
    small = cv2.resize(light, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    small = 0.93 * small + 0.004 * np.random.default_rng(3).standard_normal(small.shape)
    kept = cv2.imencode(".jpg", render.encoded(small)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])[1]
    rgb = np.ascontiguousarray(cv2.imdecode(kept, cv2.IMREAD_COLOR)[..., ::-1])
    size = rgb.shape[1], rgb.shape[0]
    scale = Scale("dpi", 1 / PX_PER_MM, 0.0)
    artwork = Artwork("scan.jpg", rgb, None, PX_PER_MM, scale, np.eye(3), size)
    return trace(artwork, TraceSettings(trust=True))


@pytest.mark.parametrize(
    ("colour", "width"), [("#e8c030", 0.5), ("#c8c8c8", 0.6), ("#e0e0e0", 0.8)]
)
def test_a_pale_feeler_stays_on_its_dark_body(colour: str, width: float) -> None:
    motif = _traced(colour, width)
    true = shapely.union(
        shapely.Point(38, 45).buffer(13, 64),
        shapely.LineString(FEELER).buffer(width / 2, cap_style="flat"),
    )
    found = beziers.polygon(motif.outline)
    assert motif.confidence > 0.9
    assert found.hausdorff_distance(true) < 0.35


def test_a_feeler_too_pale_to_stay_on_is_told_of() -> None:
    motif = _traced("#e0e0e0", 0.5)
    assert beziers.polygon(motif.outline).bounds[1] > 20  # it came off
    assert motif.confidence < CONFIDENCE.value
    assert "lost-limb" in {finding.rule for finding in motif.findings}
