"""The placing gauge beside a motif that crosses its crease more than once."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from tests import examples
from trace2pop.errors import SheetError
from trace2pop.geometry import beziers
from trace2pop.model.card import CutMotif
from trace2pop.stages.parts.gauge import gauge_part

WEB = examples.CARD.web
CUT = examples.plan().cut


def limb(points: list[tuple[float, float]], width: float) -> shapely.Geometry:
    return shapely.LineString(points).buffer(width / 2)


BODY = shapely.box(-30, 80, 40, 120)
ARM = limb([(30, 85), (30, 58), (8, 56)], 6.0)
TOES = [
    limb([(8, 56), (-1.0, 53)], 1.2),
    limb([(8, 57), (-1.5, 58)], 1.2),
    limb([(8, 56), (6, 46)], 1.4),
]


def motif(*pieces: shapely.Geometry) -> CutMotif:
    return replace(CUT, outline=beziers.from_polygon(shapely.union_all(pieces)), hand_parts=())


def laid(cut: CutMotif) -> shapely.Polygon:
    """Return the gauge on the base: x from the crease, y from the head."""
    part = gauge_part(cut, examples.STOCK, 1.0, 90.0)
    lines = {stroke.id: stroke.line for stroke in part.strokes}
    shape = shapely.Polygon(beziers.flatten(lines["outline"]))
    return affinity.translate(shape, max(WEB - 14.0, 1.0), -lines["lip"][0, 0, 1])


def folded(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a shape folded at u = 0, both halves outwards."""
    return shapely.transform(shape, lambda xy: np.abs(xy) * [1, 0] + xy * [0, 1] + [WEB, 0])


def halves(shape: shapely.Geometry) -> list[shapely.Geometry]:
    return [shape.intersection(shapely.box(*box)) for box in ((-99, 0, 0, 300), (0, 0, 99, 300))]


def test_toes_across_the_crease_neither_stop_the_motif_nor_shape_the_gauge() -> None:
    """Toes over 1.2 mm of the crease take no score: they lie flat, or fold with the rest."""
    gauge = laid(motif(BODY, ARM, *TOES))
    for toe in TOES:
        flat = affinity.translate(toe, WEB)
        assert gauge.distance(flat) > 0.95
        assert all(gauge.distance(folded(half)) > 0.95 for half in halves(toe) if not half.is_empty)
    body = shapely.union_all([folded(half) for half in halves(BODY)])
    assert gauge.distance(body) < 0.03
    assert gauge.intersection(body).area < 0.1
    assert gauge.intersection(affinity.translate(body, 0, -0.5)).area > 2.0
    # The motif's crease lies against the bar where its fold is scored.
    assert gauge.covers(shapely.LineString([(WEB - 0.1, 80.1), (WEB - 0.1, 85.9)]))
    assert gauge.boundary.distance(shapely.Point(WEB, 83)) < 0.03


def test_gauge_has_neither_slits_nor_fingers_a_hand_would_bend() -> None:
    gauge = laid(motif(BODY, ARM, *TOES))
    closed = gauge.buffer(0.95, join_style="mitre").buffer(-0.95, join_style="mitre")
    assert closed.difference(gauge.buffer(0.01)).area < 0.05
    opened = gauge.buffer(-1.4, join_style="mitre").buffer(1.42, join_style="mitre")
    assert gauge.difference(opened).area < 0.1


def test_limb_beside_the_crease_is_kept_clear_of() -> None:
    """An arm that comes near without crossing is no stop either: it bends."""
    arm = limb([(30, 85), (30, 58), (5, 56)], 6.0)
    gauge = laid(motif(BODY, arm))
    above = arm.intersection(shapely.box(0, 0, 12, 75))
    assert gauge.distance(affinity.translate(above, WEB)) > 0.95
    assert gauge.distance(folded(BODY.intersection(shapely.box(0, 0, 99, 300)))) < 0.03


def test_long_crease_stops_the_motif_where_a_short_one_comes_first() -> None:
    """A foot that crosses over 5 mm is scored, and would give way: the body stops the motif."""
    foot = limb([(30, 85), (30, 52), (-6, 52)], 5.0)
    gauge = laid(motif(BODY, foot))
    assert gauge.bounds[3] == pytest.approx(86, abs=0.05)
    assert gauge.distance(shapely.union_all([folded(half) for half in halves(foot)])) > 0.95


@pytest.mark.parametrize("above", [1e-9, 1e-3])
def test_head_edge_level_but_for_the_last_bits_stops_the_motif_at_its_crease(above: float) -> None:
    """Beside the crease the edge lies a hair nearer to the head: it stops there as well."""
    body = shapely.union(BODY, shapely.box(1.2, 80 - above, 40, 120))
    gauge = laid(motif(body))
    assert gauge.distance(shapely.Point(WEB, 80)) < 0.03
    nearer = [affinity.translate(folded(half), 0, -0.5) for half in halves(body)]
    assert gauge.intersection(shapely.union_all(nearer)).area > 2.0


def test_a_bar_narrower_than_the_cutter_leaves_whole_is_refused_with_both_widths() -> None:
    low = replace(CUT, placed=replace(CUT.placed, card=replace(examples.CARD, web=7.5)))
    assert gauge_part(low, examples.STOCK, 6.4, 90.0)
    with pytest.raises(SheetError, match=r"6\.5 mm wide.*10\.0 mm") as refused:
        gauge_part(low, examples.STOCK, 10.0, 90.0)
    assert "higher by 3.5 mm" in refused.value.advice
