"""Motifs that lie on their side, edges that crumble, shapes left out of a vector drawing."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from tests.examples import CARD
from trace2pop.geometry import beziers
from trace2pop.geometry.mirror import mirror_axis
from trace2pop.model.artwork import Artwork, MirrorAxis, Motif, Scale
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings, TraceSettings
from trace2pop.stages.fit import fit
from trace2pop.stages.trace import trace

MOTH = shapely.union_all(
    [
        shapely.Polygon([(0, -20), (40, -35), (30, 5), (0, 10)]),
        shapely.Polygon([(0, -20), (-40, -35), (-30, 5), (0, 10)]),
        shapely.box(-5, -25, 5, 30),
    ]
)


def _drawn(*shapes: shapely.Polygon, even: bool = False) -> Motif:
    outlines = tuple(beziers.from_polygon(shape) for shape in shapes)
    blank = np.full((400, 400, 3), 255, np.uint8)
    scale = Scale("vector", 0.25, 0.0)
    artwork = Artwork("moth.svg", blank, None, 4.0, scale, np.eye(3), (400, 400), None, outlines)
    return trace(artwork, TraceSettings(even=even))


def _sideways(tilt: float) -> shapely.Polygon:
    return affinity.translate(affinity.rotate(MOTH, tilt, origin=(0, 0)), 50, 50)


@pytest.mark.parametrize("tilt", [60.0, 88.0, 93.0, 130.0])
def test_an_axis_that_lies_is_found_true(tilt: float) -> None:
    _, found, score = mirror_axis(_sideways(tilt), near=90.0)
    assert found == pytest.approx(tilt, abs=0.1)
    assert score > 0.995


@pytest.mark.parametrize(("turn", "ends_at"), [(90.0, 92.0), (-90.0, -88.0), (-80.0, -88.0)])
def test_a_motif_on_its_side_folds_on_its_axis_once_turned(turn: float, ends_at: float) -> None:
    motif = _drawn(_sideways(88.0))
    lying = fit(motif, CARD, MotifSettings(), SupportSettings(), FragileSettings())
    turned = fit(motif, CARD, MotifSettings(turn=turn), SupportSettings(), FragileSettings())
    assert not lying.symmetric
    assert lying.turn_deg == 0
    assert "--turn 90 or --turn -90" in lying.findings[0].advice
    assert turned.symmetric
    assert turned.turn_deg == pytest.approx(ends_at, abs=0.1)
    left, _, right, _ = beziers.bounds(turned.outline.outer)
    assert left == pytest.approx(-right, abs=0.1)
    assert "axis-across" not in {finding.rule for finding in turned.findings}


def test_a_turn_that_is_no_attempt_to_stand_it_up_is_taken_as_it_is() -> None:
    motif = _drawn(_sideways(88.0))
    turned = fit(motif, CARD, MotifSettings(turn=40), SupportSettings(), FragileSettings())
    assert turned.turn_deg == 40
    assert not turned.symmetric


def test_a_motif_on_its_side_can_be_made_even() -> None:
    uneven = _sideways(88.0).union(shapely.box(60, 14, 64, 17))
    motif = _drawn(uneven, even=True)
    assert motif.axis is not None
    assert motif.axis.lies
    assert mirror_axis(beziers.polygon(motif.outline), near=90.0)[2] > 0.999


def test_shapes_of_a_drawing_that_touch_nothing_are_told_of() -> None:
    (finding,) = _drawn(_sideways(0.0), shapely.box(90, 90, 96, 98)).findings
    assert finding.rule == "other-things"
    assert finding.where == "near 93 mm from the left, 94 mm from the top"
    assert _drawn(_sideways(0.0)).findings == ()


def test_a_crumbling_edge_is_told_of_and_the_advice_smooths_it() -> None:
    """Seen at 12 px/mm: a disc of 60 mm with a crumb every quarter of a millimetre."""
    turns = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    far = 30 + np.random.default_rng(5).uniform(0, 0.9, 720)
    disc = shapely.Polygon(np.column_stack([far * np.cos(turns), far * np.sin(turns)]))
    outline = shapely.transform(disc, lambda points: 12 * (points + 35))
    rgb = _painted(outline, 840)
    artwork = Artwork("disc.png", rgb, None, 12.0, Scale("dpi", 1 / 12, 0.0), np.eye(3), (840, 840))
    rough = trace(artwork, TraceSettings())
    smooth = trace(artwork, replace(TraceSettings(), tolerance=0.3))
    assert "ragged-edge" in {finding.rule for finding in rough.findings}
    assert "ragged-edge" not in {finding.rule for finding in smooth.findings}
    assert len(smooth.outline.outer) < 0.5 * len(rough.outline.outer)


def _painted(shape: shapely.Polygon, size: int) -> np.ndarray:
    import cv2

    page = np.full((4 * size, 4 * size), 250, np.uint8)
    points = np.round(np.asarray(shape.exterior.coords) * 4).astype(np.int32)
    cv2.fillPoly(page, [points], 30)
    small = cv2.resize(page, (size, size), interpolation=cv2.INTER_AREA)
    return np.repeat(small[..., None], 3, axis=2)


def test_axis_at_half_a_right_angle_stands_whichever_side_of_it_is_measured() -> None:
    assert not MirrorAxis((0.0, 0.0), 45.01, 0.95).lies
    assert not MirrorAxis((0.0, 0.0), -45.01, 0.95).lies
    assert MirrorAxis((0.0, 0.0), 60.0, 0.95).lies
