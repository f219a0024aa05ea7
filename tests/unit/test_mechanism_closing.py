"""The closing check: a good card passes, and each way of being bad is found and named."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.examples import CARD, beams, cut_motif
from trace2pop.geometry import beziers
from trace2pop.mechanism.closing import FlatBeam, FlatCard, Papers, closing
from trace2pop.mechanism.linkage import height_above, reach

FLAT = tuple(
    FlatBeam(one.part, one.u, one.v0, one.v1, CARD.web, one.flange, one.taper_deg)
    for one in beams()
)
GOOD = FlatCard(
    base=shapely.box(-CARD.half_width, 0, CARD.half_width, CARD.height),
    motif=beziers.polygon(cut_motif().outline),
    beams=FLAT,
    papers=Papers(0.3, 0.3, 0.3, 0.1),
    margin=CARD.margin,
)


def kinds(card: FlatCard) -> set[str]:
    return {fault.kind for fault in closing(card).faults}


def test_good_card_closes() -> None:
    found = closing(GOOD)
    assert found.faults == ()
    assert found.limit == pytest.approx(121.0)
    assert [step.opening_deg for step in found.steps] == list(range(180, -1, -5))
    for step in found.steps:
        assert step.reach_right == pytest.approx(reach(90.0, CARD.web, step.opening_deg), abs=0.01)
        assert step.height == pytest.approx(height_above(CARD.web, step.opening_deg), abs=1e-9)
    reaches = [step.reach_right for step in found.steps]
    assert reaches == sorted(reaches)


def test_layers_begin_to_press_where_their_thickness_says() -> None:
    """Under the motif hang tape and flange: w * sin(A/2) - base = tape + flange at contact."""
    found = closing(GOOD)
    expected = 2 * np.degrees(np.arcsin((0.3 + 0.1 + 0.3) / CARD.web))
    assert found.contact_deg == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize(
    ("kind", "bad"),
    [
        ("reach", replace(GOOD, motif=shapely.transform(GOOD.motif, lambda p: p * 1.13))),
        ("along", replace(GOOD, motif=shapely.transform(GOOD.motif, lambda p: np.add(p, (0, 25))))),
        ("web-height", replace(GOOD, beams=(*FLAT[:2], replace(FLAT[2], web=19.0)))),
        ("web-inside", replace(GOOD, beams=(*FLAT[:2], replace(FLAT[2], u=102.0)))),
        ("flange-inside", replace(GOOD, beams=(*FLAT[:2], replace(FLAT[2], u=94.0)))),
        ("contact", replace(GOOD, beams=(*FLAT, FlatBeam("b", -60.0, 60, 90, 20.3, 5, 45)))),
        ("crossing", replace(GOOD, beams=(*FLAT, FlatBeam("b", -50.5, 60, 90, 20.3, 5, 45)))),
    ],
)
def test_each_fault_is_found(kind: str, bad: FlatCard) -> None:
    assert kind in kinds(bad)


@pytest.mark.parametrize(("past", "found"), [(0.004, set()), (0.02, {"along", "reach"})])
def test_an_edge_is_judged_as_well_as_its_chords_tell(past: float, found: set[str]) -> None:
    wide, high = (side / 2 + past for side in CARD.window)
    middle = CARD.height / 2
    fills = shapely.box(-wide, middle - high, wide, middle + high)
    assert kinds(replace(GOOD, motif=fills)) == found


def test_rounded_corners_of_the_base_are_seen() -> None:
    """A motif that fills its window shows at corners rounded by more than the margin allows."""
    wide, high = CARD.window
    fills = shapely.box(-wide / 2, CARD.margin, wide / 2, CARD.margin + high)
    square = replace(GOOD, motif=fills)
    assert closing(square).faults == ()
    rounded = replace(square, base=GOOD.base.buffer(-10).buffer(10, quad_segs=64))
    (left, right) = closing(rounded).faults
    assert left.where == "left half, corner"
    assert right.measured == pytest.approx((np.sqrt(2) - 1) * 7.0, abs=0.02)


def test_motif_of_other_paper_leans_the_webs_and_still_closes() -> None:
    """Thin tissue on a thick base: the crease must stay on the bisecting plane at every angle."""
    found = closing(replace(GOOD, papers=Papers(0.6, 0.1, 0.3, 0.1)))
    assert found.faults == ()


def test_beam_pieces_at_other_heights_do_not_meet() -> None:
    """The same place twice along the crease, but not at the same v: nothing to collide."""
    above = FlatBeam("b", -60.0, 10, 40, CARD.web, 5, 45)
    assert "contact" not in kinds(replace(GOOD, beams=(*FLAT, above)))
