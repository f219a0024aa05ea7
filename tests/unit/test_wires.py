"""Wires behind limbs that would droop: where they lie, what they carry, when they are offered."""

import numpy as np
import pytest
import shapely

from tests.unit.test_supports import MIDDLE, cut, ellipse, plan
from trace2pop.errors import SupportError
from trace2pop.geometry import beziers
from trace2pop.mechanism.predicates import Ground, faults, glued_runs
from trace2pop.model.card import STIFFENER, CutMotif
from trace2pop.model.settings import SupportSettings
from trace2pop.stages.supports.wires import DIAMETERS

WIRED = SupportSettings(stiffen="first")


def reed(length: float) -> CutMotif:
    """Return a leaf with an arm 6 mm wide, too slim for flanges."""
    return cut(ellipse(0, 0, 50, 30), shapely.box(40, MIDDLE - 3, 40 + length, MIDDLE + 3))


def test_a_long_arm_gets_a_wire_that_carries_it() -> None:
    motif = reed(85)
    with pytest.raises(SupportError, match="droops"):
        plan(motif)
    found = plan(motif, WIRED)
    (wire,) = found.cut.hand_parts
    assert (wire.kind, wire.choice, wire.length) == (STIFFENER, "hand", 0.0)
    assert wire.diameter in DIAMETERS
    assert wire.cut_length == pytest.approx(shapely.LineString(wire.overlap).length)
    assert found.sag.holds
    rules = {item.rule for item in found.findings}
    assert "stiffened" in rules


def test_it_lies_hidden_off_crease_and_flanges_and_reaches_the_end() -> None:
    motif = reed(85)
    found = plan(motif, WIRED)
    (wire,) = found.cut.hand_parts
    paper = beziers.polygon(motif.outline)
    rod = shapely.LineString(wire.overlap).buffer(wire.diameter / 2)
    assert rod.difference(paper).area < 1e-6
    assert np.ptp(np.sign(wire.overlap[:, 0])) == 0
    assert float(shapely.Point(125, MIDDLE).distance(rod)) < 5
    ground = Ground(motif.placed.card, paper, glued_runs(found.cut.hand_parts), 2.0, 300.0)
    assert not faults(ground, found.beams)


def test_the_cut_outline_stays_as_drawn() -> None:
    motif = reed(85)
    found = plan(motif, WIRED)
    assert found.cut.outline is motif.outline


def test_what_carries_itself_gets_none() -> None:
    found = plan(reed(50), WIRED)
    assert not found.cut.hand_parts


def test_both_halves_of_a_mirrored_motif_get_one() -> None:
    arms = [
        shapely.box(40, MIDDLE - 3, 125, MIDDLE + 3),
        shapely.box(-125, MIDDLE - 3, -40, MIDDLE + 3),
    ]
    motif = cut(ellipse(0, 0, 50, 30), *arms, symmetric=True)
    found = plan(motif, WIRED)
    one, other = found.cut.hand_parts
    assert np.allclose(one.overlap, other.overlap * [-1, 1])
    assert one.id != other.id


def test_the_closed_card_is_thicker_by_it() -> None:
    motif = reed(85)
    found = plan(motif, WIRED)
    assert any("hand-added part" in name for area in found.closed.areas for name in area.layers)
