"""Feelers thin only in places: each comes off so that its end can be glued, or stays paper."""

import numpy as np
import pytest
import shapely

from tests.thin_shapes import BODY, on_body, strip
from tests.unit.test_cuttable import DEFAULT, cut, on_card, paper, rules
from trace2pop.errors import FragileError
from trace2pop.limits import GLUE_LEAST
from trace2pop.model.card import HandPart
from trace2pop.model.settings import FeatureChoice, FragileSettings


def stalk(x: float, root: float, tip: float, knob: float = 0.0) -> shapely.Geometry:
    """Return a stalk 18 mm long that narrows from ``root`` to ``tip``, with a knob at its end."""
    base = shapely.box(x - root / 2, -0.01, x + root / 2, 1)
    line = strip(np.array([[x, 0.0], [x, -18.0]]), root, tip)
    return shapely.union_all([base, line, shapely.Point(x, -18).buffer(knob / 2)])


def glued(part: HandPart) -> float:
    return float(np.hypot(*(part.overlap[1] - part.overlap[0])))


@pytest.mark.parametrize(("root", "tip"), [(1.2, 0.8), (1.2, 0.95), (1.4, 0.6)])
def test_stalk_too_slim_to_glue_on_comes_off_whole(root: float, tip: float) -> None:
    """Thin from half way on, what carries it is as thin: nothing could be glued behind that."""
    motif = on_card(on_body(stalk(20, root, tip)), across=15.0)
    result = cut(motif)
    (part,) = result.hand_parts
    assert part.length == pytest.approx(18, abs=0.3)
    assert glued(part) == pytest.approx(10, abs=0.01)
    assert part.width == pytest.approx((root + tip) / 2, rel=0.05)
    assert paper(result).area == pytest.approx(BODY.area, abs=0.5)
    assert "comes-off-whole" in rules(result) and "short-overlap" not in rules(result)
    kept = cut(motif, FragileSettings(features=(FeatureChoice("thicken", number=1),)))
    assert kept.hand_parts == () and "comes-off-whole" not in rules(kept)
    assert paper(kept).area > BODY.area + 18.0


def test_stalk_that_grows_sturdy_keeps_its_root() -> None:
    """Three mm wide at its root, it has room for glue where it becomes thin."""
    result = cut(on_card(on_body(stalk(20, 3.0, 0.4)), across=15.0))
    (part,) = result.hand_parts
    assert part.length == pytest.approx(18 * 0.6 / 2.6, abs=0.3)
    assert "comes-off-whole" not in rules(result)


def test_bill_that_tapers_keeps_its_root_where_glue_is_short() -> None:
    """Where a tip 0.9 mm wide is glued on a bill that grows to 1.9, 6 mm of glue will do."""
    result = cut(on_card(on_body(stalk(20, 1.9, 0.55)), across=15.0))
    (part,) = result.hand_parts
    assert part.length == pytest.approx(18 * 0.45 / 1.35, abs=0.3)
    assert GLUE_LEAST.value < glued(part) <= 10


def test_pair_of_knobbed_feelers_is_treated_alike() -> None:
    """One is thin along half of its stalk, the other beside its knob alone."""
    pair = on_body(stalk(15, 1.3, 0.8, knob=2.8), stalk(45, 1.3, 0.9, knob=2.8))
    result = cut(on_card(pair, across=0.5))
    assert [part.form for part in result.hand_parts] == ["clubbed", "clubbed"]
    for part in result.hand_parts:
        assert part.length == pytest.approx(19.4, abs=0.3)
        assert glued(part) == pytest.approx(10, abs=0.01)


def test_head_on_a_narrow_neck_stays_on() -> None:
    """A broad end is a part of the motif: its neck is thickened."""
    head = shapely.Point(20, -18).buffer(4.0)
    result = cut(on_card(on_body(stalk(20, 1.3, 0.8), head), across=15.0))
    assert result.hand_parts == ()
    assert [item.kind for item in result.features] == ["bridge"]


def whisker_on_a_ring() -> shapely.Geometry:
    """Return a whisker 0.9 mm wide on a ring-shaped handle hardly wider."""
    ring = shapely.Point(30, -6).buffer(8, 32).difference(shapely.Point(30, -6).buffer(6.9, 32))
    return on_body(ring, shapely.box(29.55, -28, 30.45, -13.5))


def test_what_cannot_be_glued_anywhere_stays_paper() -> None:
    result = cut(on_card(whisker_on_a_ring(), across=15.0))
    assert result.hand_parts == ()
    (feature,) = result.features
    assert feature.kind == "spur" and feature.choice == "thicken"
    assert "no-room-for-glue" in rules(result)
    whisker = shapely.box(-99, 0, 99, 85 - (30 + 28) / 2 + 13)
    widths = paper(result).intersection(whisker).area / 13
    assert widths == pytest.approx(1.0, abs=0.05)
    with pytest.raises(FragileError, match=f"{GLUE_LEAST.value:.0f} mm of glue"):
        cut(
            on_card(whisker_on_a_ring(), across=15.0),
            FragileSettings(features=(FeatureChoice("hand", number=1),)),
        )


def test_glue_is_nothing_or_enough() -> None:
    """Whatever the taper, a part has the least glue there is, or is none."""
    for tip in np.linspace(0.3, 0.97, 6):
        for root in (1.02, 1.1, 1.25, 1.6, 2.2):
            result = cut(on_card(on_body(stalk(20, root, float(tip))), across=15.0), DEFAULT)
            for part in result.hand_parts:
                assert glued(part) >= GLUE_LEAST.value - 1e-9


def test_toe_over_the_crease_is_said_to_stay_flat() -> None:
    """A toe 1.4 mm wide from the right ends 1.5 mm beyond the crease, 30 mm above the body."""
    leg = shapely.LineString([(50, 1), (50, -30), (28.5, -30)]).buffer(0.7, cap_style="flat")
    motif = on_card(on_body(leg))
    result = cut(motif)
    (note,) = [item for item in result.findings if item.rule == "unscored-crossing"]
    assert note.measured == pytest.approx(1.4, abs=0.01)
    assert "1.5 mm over the crease" in note.advice
    assert "unscored-crossing" not in rules(cut(on_card(BODY)))
