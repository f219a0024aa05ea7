"""Beams chosen for a card, and what every plan must keep."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from tests import examples
from trace2pop.errors import SupportError
from trace2pop.geometry import beziers
from trace2pop.mechanism.predicates import Ground, faults, glued_runs, pair_of
from trace2pop.model.card import CardPlan, CutMotif, HandPart
from trace2pop.model.outline import Outline
from trace2pop.model.settings import ForbiddenRegion, GivenBeam, SupportSettings
from trace2pop.stages.supports import supports
from trace2pop.stages.supports.candidates import Candidates
from trace2pop.stages.supports.ends import Ends
from trace2pop.stages.supports.influence import Fold, Influence
from trace2pop.stages.supports.task import _rounded, loads

MIDDLE = examples.CARD.height / 2


def ellipse(u: float, v: float, a: float, b: float, turn: float = 0) -> shapely.Polygon:
    round_one = affinity.scale(shapely.Point(0, 0).buffer(1, quad_segs=16), a, b)
    return affinity.translate(affinity.rotate(round_one, turn), u, MIDDLE + v)


def cut(
    *parts: shapely.Polygon, symmetric: bool = False, hand: tuple[HandPart, ...] = ()
) -> CutMotif:
    shape = shapely.union_all(parts)
    assert isinstance(shape, shapely.Polygon)
    outline: Outline = beziers.from_polygon(shape)
    placed = replace(examples.placed(), outline=outline, symmetric=symmetric)
    return CutMotif(placed, outline, hand)


BODY = ellipse(0, 0, 11, 45)
WINGS = tuple(ellipse(s * 45, -5, 38, 24, s * -12) for s in (-1, 1))
SHAPES = {
    "winged": cut(BODY, *WINGS, symmetric=True),
    "lobed, with a feeler": examples.cut_motif(),
    "swimmer": cut(
        ellipse(-10, 0, 65, 26),
        shapely.Polygon([(45, MIDDLE), (92, MIDDLE - 30), (84, MIDDLE), (92, MIDDLE + 30)]),
    ),
    "with holes": cut(
        ellipse(0, 0, 60, 50).difference(
            shapely.union_all([ellipse(s * 30, -5, 12, 16) for s in (-1, 1)])
        ),
        symmetric=True,
    ),
    "thin waist": cut(
        ellipse(-50, 0, 35, 40),
        ellipse(50, 4, 35, 36),
        shapely.box(-40, MIDDLE - 11, 40, MIDDLE + 11),
    ),
    "long-necked": cut(
        ellipse(15, 25, 50, 26),
        shapely.Polygon(
            [(-20, MIDDLE + 20), (-45, MIDDLE - 45), (-32, MIDDLE - 48), (5, MIDDLE + 10)]
        ),
        ellipse(-40, -50, 15, 11),
    ),
}


def plan(motif: CutMotif, settings: SupportSettings | None = None) -> CardPlan:
    return supports(motif, settings or SupportSettings(), examples.STOCKS, 0.1)


def ground(motif: CutMotif) -> Ground:
    return Ground(
        examples.CARD,
        beziers.polygon(motif.outline),
        glued_runs(motif.hand_parts),
        SupportSettings().inset,
        2 * 140.0,
    )


@pytest.fixture(scope="module", params=SHAPES, ids=list(SHAPES))
def planned(request: pytest.FixtureRequest) -> CardPlan:
    return plan(SHAPES[request.param])


def test_every_plan_keeps_every_rule(planned: CardPlan) -> None:
    assert faults(ground(planned.cut), planned.beams) == ()
    sides = {int(np.sign(beam.u)) for beam in planned.beams}
    assert sides == {-1, 0, 1}
    assert planned.sag.max <= planned.sag.limit
    assert planned.sag.max == pytest.approx(np.abs(planned.sag.depth).max())
    assert planned.closed.reach <= planned.closed.limit


def test_beams_are_numbered_from_the_crease_then_left_to_right(planned: CardPlan) -> None:
    assert [beam.id for beam in planned.beams] == list(range(1, len(planned.beams) + 1))
    assert planned.beams[0].u == 0
    side = [beam.u for beam in planned.beams if beam.u != 0]
    assert side == sorted(side)
    assert [beam.part for beam in planned.beams] == [f"beam-{b.id}" for b in planned.beams]


def test_a_plan_tells_how_good_it_is(planned: CardPlan) -> None:
    assert planned.choice is not None
    length = sum(beam.v1 - beam.v0 for beam in planned.beams)
    assert planned.choice.length == pytest.approx(length, abs=0.05 * len(planned.beams))
    assert 0 <= planned.choice.gap < 1


def test_nothing_sags_where_a_web_holds(planned: CardPlan) -> None:
    points = shapely.points(planned.sag.points)
    for beam in planned.beams:
        line = shapely.LineString([(beam.u, beam.v0), (beam.u, beam.v1)])
        on = shapely.dwithin(line, points, 1e-6)
        assert on.sum() >= 5
        assert np.abs(planned.sag.depth[on]).max() < 1e-9


def test_symmetric_motif_gets_symmetric_beams() -> None:
    for name in ("winged", "with holes"):
        beams = plan(SHAPES[name]).beams
        rows = {(beam.u, beam.v0, beam.v1, beam.flange) for beam in beams}
        assert rows == {(-u, *rest) for u, *rest in rows}


def test_small_winged_motif_gets_three_beams() -> None:
    """One on the crease, one under each wing: common practice, no published source."""
    found = plan(SHAPES["winged"]).beams
    assert [np.sign(beam.u) for beam in found] == [0, -1, 1]


def test_swimmer_is_held_under_head_and_tail() -> None:
    """Common practice, no published source. The head is on the left, the tail fin on the right."""
    found = plan(SHAPES["swimmer"]).beams
    assert len(found) == 3
    assert found[1].u < -40
    assert found[2].u > 40


def test_two_runs_are_alike() -> None:
    one, other = plan(SHAPES["thin waist"]), plan(SHAPES["thin waist"])
    assert one.beams == other.beams
    assert one.sag.depth.tobytes() == other.sag.depth.tobytes()


def test_flanges_stay_off_glued_runs() -> None:
    free = plan(SHAPES["winged"])
    centre = free.beams[0]
    middle = (centre.v0 + centre.v1) / 2
    run = np.array([[0.5, middle - 8], [0.5, middle + 8]])
    feeler = replace(examples.feeler(), overlap=run)
    motif = replace(free.cut, hand_parts=(feeler,))
    found = plan(motif)
    assert faults(ground(motif), found.beams) == ()
    glued = glued_runs(motif.hand_parts)
    assert all(shapely.distance(pair_of(beam), glued) >= 1 for beam in found.beams)


def test_a_given_beam_stays_where_it_is_put() -> None:
    row = GivenBeam(u=50.0, v0=MIDDLE - 18, v1=MIDDLE + 12)
    found = plan(SHAPES["winged"], SupportSettings(beam=(row,)))
    assert (50.0, row.v0, row.v1, 9.0) in {(b.u, b.v0, b.v1, b.flange) for b in found.beams}
    assert {int(np.sign(beam.u)) for beam in found.beams} == {-1, 0, 1}
    assert faults(ground(SHAPES["winged"]), found.beams) == ()


def test_a_given_pair_keeps_the_card_symmetric() -> None:
    pair = tuple(GivenBeam(u=u, v0=MIDDLE - 18, v1=MIDDLE + 12) for u in (-50.0, 50.0))
    found = plan(SHAPES["winged"], SupportSettings(beam=pair)).beams
    rows = {(beam.u, beam.v0, beam.v1, beam.flange) for beam in found}
    assert rows == {(-u, *rest) for u, *rest in rows}


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (GivenBeam(u=78.0, v0=MIDDLE - 20, v1=MIDDLE + 10), "stick out"),
        (GivenBeam(u=45.0, v0=MIDDLE - 6, v1=MIDDLE + 2), "long; its flanges need"),
        (GivenBeam(u=4.5, v0=MIDDLE - 10, v1=MIDDLE + 10, flange=4.0), "0.5 mm from the crease"),
        (GivenBeam(u=3.0, v0=MIDDLE - 10, v1=MIDDLE + 10, flange=4.0), "1.0 mm over the crease"),
        (GivenBeam(u=115.0, v0=MIDDLE - 15, v1=MIDDLE + 15), "stick out"),
        (GivenBeam(u=-45.0, v0=MIDDLE - 15, v1=MIDDLE + 10), "too near beam 1: 0.0 mm across"),
    ],
)
def test_a_bad_given_beam_is_refused_with_its_number(row: GivenBeam, said: str) -> None:
    good = GivenBeam(u=-45.0, v0=MIDDLE - 15, v1=MIDDLE + 10)
    with pytest.raises(SupportError, match=said) as caught:
        plan(SHAPES["winged"], SupportSettings(beam=(good, row)))
    assert "beam 2" in str(caught.value)


def test_a_forbidden_region_takes_no_flange() -> None:
    free = plan(SHAPES["thin waist"]).beams[2]
    region = ForbiddenRegion(free.u - 6, free.u + 6, free.v0 + 5, free.v1 - 5)
    found = plan(SHAPES["thin waist"], SupportSettings(forbid=(region,)))
    box = shapely.box(region.u0, region.v0, region.u1, region.v1)
    assert all(shapely.intersection(pair_of(beam), box).area < 1e-9 for beam in found.beams)


def test_only_the_given_beams() -> None:
    rows = tuple(GivenBeam(u=u, v0=MIDDLE - 20, v1=MIDDLE + 12) for u in (-50.0, 50.0))
    rows += (GivenBeam(u=0.0, v0=MIDDLE - 25, v1=MIDDLE + 25),)
    found = plan(SHAPES["winged"], SupportSettings(beam=rows, only_given=True)).beams
    assert [beam.u for beam in found] == [0.0, -50.0, 50.0]
    with pytest.raises(SupportError, match="crease"):
        plan(SHAPES["winged"], SupportSettings(beam=rows[:2], only_given=True))
    with pytest.raises(SupportError, match="sags"):
        settings = SupportSettings(beam=rows, only_given=True, sag_limit=0.1)
        plan(SHAPES["winged"], settings)


def test_a_count_is_kept_or_refused() -> None:
    found = plan(SHAPES["winged"], SupportSettings(count=5)).beams
    assert len(found) == 5
    assert faults(ground(SHAPES["winged"]), found) == ()
    assert len(plan(SHAPES["swimmer"], SupportSettings(count=4)).beams) == 4


def reed() -> CutMotif:
    """Return a body with an arm of 6 mm, too slim for flanges, that stands out 45 mm."""
    return cut(ellipse(0, 0, 50, 30), shapely.box(40, MIDDLE - 3, 95, MIDDLE + 3))


def test_an_end_out_of_reach_is_left_free_and_told() -> None:
    found = plan(reed())
    assert found.sag.max <= found.sag.limit
    (end,) = found.sag.free
    assert end.at[0] == pytest.approx(95, abs=1)
    assert found.sag.limit < end.sag <= found.sag.limit * found.sag.handling_load
    (told,) = (finding for finding in found.findings if finding.rule == "free-end")
    assert told.where.startswith("95 mm right of the crease")
    assert f"{end.sag / 10:.2f} mm by its own weight" in told.advice
    depth = np.abs(found.sag.depth)
    assert end.sag == pytest.approx(depth.max())
    # No stiffer than a cantilever of the arm's length clamped at the body: wL^4 / 8EI, handbook.
    stock = examples.STOCKS["motif"]
    stiff = stock.e_across * 1e3 * stock.thickness**3 / 12
    load = stock.grammage * 9.80665e-9 * 10
    assert end.sag > load * (95 - 50) ** 4 / (8 * stiff)


def test_chosen_beams_taken_over_as_the_only_ones_leave_the_same_end_free() -> None:
    chosen = plan(reed())
    rows = tuple(GivenBeam(beam.u, beam.v0, beam.v1, beam.flange) for beam in chosen.beams)
    again = plan(reed(), SupportSettings(beam=rows, only_given=True))
    assert [(beam.u, beam.v0, beam.v1) for beam in again.beams] == [
        (row.u, row.v0, row.v1) for row in rows
    ]
    assert again.sag.free == chosen.sag.free
    assert {finding.rule for finding in again.findings} == {f.rule for f in chosen.findings}
    with pytest.raises(SupportError, match="on the beams you gave"):
        moved = (*rows[:-1], replace(rows[-1], u=20.0))
        plan(reed(), SupportSettings(beam=moved, only_given=True))


def test_what_cannot_carry_its_own_weight_is_refused_with_place_and_measure() -> None:
    with pytest.raises(
        SupportError, match=r"droops \d\.\d\d mm by its own weight at 95 mm right of the crease"
    ) as caught:
        plan(reed(), SupportSettings(handling_load=1.0, sag_limit=0.05))
    assert "--motif-stock" in caught.value.advice


def frame() -> CutMotif:
    """Return a ring 11 mm wide with a broad post on the crease: no room for flanges of 5 mm."""
    ring = ellipse(0, 0, 62, 46).difference(ellipse(0, 0, 51, 35))
    return cut(ring, shapely.box(-12, MIDDLE - 40, 12, MIDDLE + 40))


def test_narrow_flanges_stand_where_wider_ones_have_no_room() -> None:
    with pytest.raises(SupportError, match=r"needs paper 14\.0 mm wide"):
        plan(frame())
    found = plan(frame(), SupportSettings(flanges=(9.0, 7.0, 5.0, 3.0)))
    assert found.sag.max <= found.sag.limit
    assert {beam.flange for beam in found.beams if beam.u != 0} == {3.0}
    assert {beam.flange for beam in found.beams if beam.u == 0} != {3.0}
    assert faults(ground(frame()), found.beams) == ()


def test_a_part_that_hangs_on_the_crease_alone_is_told() -> None:
    """A tongue of 8 mm over the crease, joined to the right half above it."""
    tongue = shapely.box(-8, MIDDLE + 38, 20, MIDDLE + 46)
    body = ellipse(0, 0, 60, 30).union(shapely.box(10, MIDDLE, 20, MIDDLE + 46))
    found = plan(cut(body, tongue))
    (told,) = (finding for finding in found.findings if finding.rule == "crease-held")
    assert "left of the crease" in told.where
    assert "8 x 8 mm" in told.advice
    assert told.measured is not None
    assert 0 < told.measured < 1


def test_a_free_end_lightens_its_mirror_image_only_where_a_half_stands_for_both() -> None:
    at = np.array([[-70.0, 60.0], [70.0, 60.0], [0.0, 60.0]])
    none = np.zeros((3, 0))
    known = Influence((), np.zeros(0, int), none[:0], none, np.zeros(0), np.zeros(3), at)
    ends = Ends(at, np.array([0, -1, -1]))
    assert loads(known, ends, 10.0, mirrored=False).tolist() == [0.1, 1.0, 1.0]
    assert loads(known, ends, 10.0, mirrored=True).tolist() == [0.1, 0.1, 1.0]


def test_rounding_never_makes_a_beam_too_short() -> None:
    for start in (10.0, 10.004, 10.006, 10.0099):
        v0, v1 = _rounded(start, start + 19.0, 19.0)
        assert v1 - v0 >= 19.0 - 1e-9
        assert start <= v0 <= v1 <= start + 19.0


def test_no_room_on_the_crease_is_refused() -> None:
    waist = cut(
        ellipse(-50, 0, 35, 40),
        ellipse(50, 0, 35, 40),
        shapely.box(-40, MIDDLE - 4, 40, MIDDLE + 4),
    )
    with pytest.raises(SupportError, match="on the crease"):
        plan(waist)


def test_mirror_images_near_each_other_take_the_base_s_paper_together() -> None:
    """4 mm either side of the crease: three slits on what counts as one line, 0.6 of it at most."""
    one, long = np.ones(2), np.array([60.0, 60.0])
    numbers = np.arange(2)
    given = Candidates(
        folds=(Fold(0, 0, 1), Fold(1, 0, 1)),
        at=(numbers, 0 * numbers, 0 * numbers + 1),
        u=np.array([0.0, 4.0]),
        v0=np.array([20.0, 100.0]),
        v1=np.array([20.0, 100.0]) + long,
        flange=3.0 * one,
        counts=np.array([1.0, 2.0]),
        costs=long,
        longest=one > 0,
        share=183.0,
        clearance=1.0,
    )
    for share, fits in ((183.0, True), (182.9, False)):
        tight = replace(given, share=share)
        assert tight.apart([0, 1]) == fits
        for beside, other in ((0, 1), (1, 0)):
            assert tight.beside([beside], np.array([other])).tolist() == [fits]
    assert replace(given, share=122.0, u=np.array([0.0, 5.0])).apart([0, 1]) is False
    assert replace(given, share=122.0, counts=one).apart([0, 1])


def test_ways_out_are_only_those_there_are() -> None:
    """Flanges can't be narrower than 3 mm; without beams of one's own there is none to move."""
    bare = SupportSettings(flanges=(3.0,), inset=0.0, only_given=True)
    with pytest.raises(SupportError, match=r"card\.toml gives none") as caught:
        supports(SHAPES["winged"], bare, examples.STOCKS, 0.1)
    assert "--only-given" in caught.value.advice
    slim = cut(ellipse(0, 0, 2.5, 40))
    for inset, ways in ((0.0, "wider there"), (1.0, "a smaller inset (--inset)")):
        with pytest.raises(SupportError) as caught:
            supports(slim, replace(bare, inset=inset, only_given=False), examples.STOCKS, 0.1)
        assert caught.value.advice.endswith(ways)
        assert "--flanges" not in caught.value.advice
