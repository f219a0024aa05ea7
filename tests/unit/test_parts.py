"""The flat pieces, checked by putting them together again."""

import math
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from tests import examples
from trace2pop import limits
from trace2pop.errors import SheetError, SupportError
from trace2pop.geometry import beziers, chains
from trace2pop.mechanism.keys import with_shoulders
from trace2pop.mechanism.mail import inside
from trace2pop.mechanism.marks import Mark, has_room, mark_side, marks_of, numbered
from trace2pop.model.card import Beam, CardPlan, Slit
from trace2pop.model.outline import Outline
from trace2pop.model.pieces import Part, Parts, Stroke
from trace2pop.model.settings import PieceSettings
from trace2pop.model.stock import NamedSize
from trace2pop.stages.parts import mockup, parts
from trace2pop.stages.parts.beam import beam_part
from trace2pop.stages.parts.gauge import gauge_part
from trace2pop.stages.parts.scores import with_scores

PLAN = examples.plan()
CARD = examples.CARD


def made(plan: CardPlan = PLAN, **choices: object) -> Parts:
    return parts(plan, examples.STOCKS, examples.CUTTER, PieceSettings(**choices))  # type: ignore[arg-type]  # keywords by name


def named(pieces: Parts) -> dict[str, Part]:
    return {part.name: part for part in pieces.parts}


PIECES = named(made())


def stroke(part: Part, name: str) -> Stroke:
    return next(stroke for stroke in part.strokes if stroke.id == name)


def exact_area(part: Part) -> float:
    """Return the area inside the outline, integrated on its curves by svgpathtools."""
    return abs(beziers.to_path(stroke(part, "outline").line).area())


def outline(part: Part) -> shapely.Polygon:
    return shapely.Polygon(beziers.flatten(stroke(part, "outline").line))


def on_card(part: Part, name: str) -> np.ndarray:
    assert part.origin is not None
    return stroke(part, name).line + np.array(part.origin)


def test_pieces_have_the_public_names() -> None:
    assert list(PIECES) == [
        "motif",
        "base",
        "beam-1",
        "beam-2",
        "beam-3",
        "outer",
        "gauge",
        "mockup-base",
        "mockup-layer",
    ]


@pytest.mark.parametrize("name", PIECES)
def test_a_piece_starts_at_its_corner_and_fills_its_size(name: str) -> None:
    part = PIECES[name]
    boxes = np.array([beziers.bounds(item.line) for item in part.strokes])
    assert boxes[:, :2].min(axis=0) == pytest.approx((0, 0), abs=1e-9)
    assert boxes[:, 2:].max(axis=0) == pytest.approx(part.size, abs=1e-9)
    assert len({item.id for item in part.strokes}) == len(part.strokes)


@pytest.mark.parametrize("name", PIECES)
def test_strokes_lie_on_the_piece_and_come_in_cutting_order(name: str) -> None:
    part = PIECES[name]
    paper = outline(part)
    assert paper.is_valid
    ranks = []
    for item in part.strokes:
        if item.op in ("cut", "score") and item.id != "outline":
            assert paper.buffer(1e-6).covers(shapely.LineString(beziers.flatten(item.line)))
        ranks.append({"score": 0, "note": 3}.get(item.op, 1 if item.inner else 2))
    assert ranks == sorted(ranks)
    assert sum(item.op == "cut" and not item.inner for item in part.strokes) == 1


def test_base_has_its_slits_where_the_plan_has_its_beams() -> None:
    base = PIECES["base"]
    for beam in PLAN.beams:
        left, top, right, bottom = beziers.bounds(on_card(base, f"slit-{beam.id}"))
        assert (left + right) / 2 == pytest.approx(beam.u)
        assert right - left == pytest.approx(beam.slit.width)
        assert (top, bottom) == pytest.approx((beam.slit.v0, beam.slit.v1))


def test_a_slit_without_width_is_an_open_cut() -> None:
    beams = tuple(replace(b, slit=replace(b.slit, width=0.0)) for b in PLAN.beams)
    base = named(made(replace(PLAN, beams=beams)))["base"]
    slit = stroke(base, "slit-2")
    assert slit.slit and not slit.closed and slit.inner
    assert beziers.bounds(on_card(base, "slit-2"))[0::2] == pytest.approx((-50, -50))


def test_base_is_scored_outside_the_centre_slit_only() -> None:
    base = PIECES["base"]
    slit, edge = PLAN.beams[0].slit, limits.SCORE_EDGE.value
    runs = [on_card(base, name)[0, [0, 3]] for name in ("crease-1", "crease-2")]
    assert np.concatenate(runs)[:, 0] == pytest.approx(0)
    wanted = [edge, slit.v0, slit.v1, CARD.height - edge]
    assert np.concatenate(runs)[:, 1] == pytest.approx(wanted)
    assert {item.fold for item in base.strokes if item.op == "score"} == {"valley"}


def test_one_corner_of_the_base_marks_the_head() -> None:
    base = outline(PIECES["base"])
    corners = [(0.1, 0.1), (247.9, 0.1), (247.9, 171.7), (0.1, 171.7)]
    assert [base.covers(shapely.Point(at)) for at in corners] == [False, True, True, True]


@pytest.mark.parametrize("radius", [0.0, 3.0, 8.0])
def test_rounded_corners_take_off_what_a_circle_leaves(radius: float) -> None:
    """A rounded corner of radius r takes off (1 - pi/4) r^2; a straight clip c takes off c^2/2."""
    pieces = named(made(corner_radius=radius))
    off = (1 - math.pi / 4) * radius**2
    slack = 0.01 + 4 * 0.0003 * math.pi / 4 * radius**2  # a cubic quarter circle is 0.03 % off
    outer = 2 * CARD.outer.width * CARD.outer.height - 4 * off
    assert exact_area(pieces["outer"]) == pytest.approx(outer, abs=slack)
    clip = max(radius, limits.HEAD_MARK.value)
    base = 2 * CARD.half_width * CARD.height - 3 * off - clip**2 / 2
    assert exact_area(pieces["base"]) == pytest.approx(base, abs=slack)


@pytest.mark.parametrize("beam", PLAN.beams, ids=lambda beam: beam.part)
def test_a_beam_is_two_octagons(beam: Beam) -> None:
    part = beam_part(beam, 1, CARD, examples.STOCK, 1.0, 0.0)
    length, flange = beam.v1 - beam.v0, beam.flange
    inset = flange / math.tan(math.radians(beam.taper_deg))
    web = length * CARD.web
    flanges = 2 * flange * (length - inset)
    assert outline(part).area == pytest.approx(2 * (web + flanges))
    assert part.size == pytest.approx((2 * length, CARD.web + 2 * flange))
    assert (part.face_up, part.fold_face, part.origin) == ("outer", "outer", None)


def sections(part: Part) -> tuple[float, float]:
    """Return the longest section along the slit of half a beam, above its lower fold and below."""
    half = outline(part).intersection(shapely.box(-50, -50, middle_of(part), 500))
    fold = stroke(part, "fold-lower-left").line[0, 0, 1]
    above, below = (
        half.intersection(shapely.box(-50, y0, 500, y1)).bounds
        for y0, y1 in ((-50, fold - 0.01), (fold + 0.01, 500))
    )
    return above[2] - above[0], below[2] - below[0]


def middle_of(part: Part) -> float:
    return float(stroke(part, "fold-middle").line[0, 0, 0])


def test_a_keyed_beam_goes_into_its_slit_one_way_up_only() -> None:
    for beam in PLAN.beams:
        upright, upside_down = sections(PIECES[beam.part])
        slit = beam.slit.v1 - beam.slit.v0
        assert upright < slit < upside_down


def test_shoulders_keep_clear_of_neighbours_and_edges() -> None:
    first = PLAN.beams[0]
    below = replace(first, id=4, part="beam-4", v0=first.v1 + 3, v1=first.v1 + 33)
    below = replace(below, slit=Slit(below.v0 - 0.5, below.v1 + 0.5, 0.6))
    beams = with_shoulders((*PLAN.beams, below), CARD)
    assert [beam.shoulder for beam in beams] == pytest.approx([0.0, 2.5, 2.5, 2.5])
    low = replace(below, v1=CARD.height - 4, slit=Slit(below.v0 - 0.5, CARD.height - 3.5, 0.6))
    assert with_shoulders((low,), CARD)[0].shoulder == 0.0


def test_a_beams_folds_have_their_senses_seen_from_the_outer_face() -> None:
    """Drawn and derived in docs/mechanism.md: middle fold mountain, flange folds valley."""
    part, beam = PIECES["beam-2"], PLAN.beams[1]
    senses = {item.id: item.fold for item in part.strokes if item.op == "score"}
    assert senses.pop("fold-middle") == "mountain"
    assert set(senses.values()) == {"valley"} and len(senses) == 4
    upper, lower = (
        beziers.bounds(stroke(part, f"fold-{name}-left").line) for name in ("upper", "lower")
    )
    assert lower[1] - upper[1] == pytest.approx(CARD.web)
    assert upper[1] == pytest.approx(beam.flange)


def test_a_beam_shorter_than_its_flange_ends_is_refused() -> None:
    short = replace(PLAN.beams[1], v1=PLAN.beams[1].v0 + 15)
    with pytest.raises(SupportError, match=r"15\.0 mm long"):
        made(replace(PLAN, beams=(PLAN.beams[0], short)))


def test_holes_of_a_beam_lie_over_those_of_its_slit_and_nowhere_else() -> None:
    """Beam n has n holes in each lower flange, and they meet the base's only in its own slit.

    The lower flange, spread under the base, puts a hole ``down`` from its fold at u +- down.
    """
    base = PIECES["base"]
    for beam in PLAN.beams:
        part = PIECES[beam.part]
        holes = [item for item in part.strokes if item.id.startswith("mark-left")]
        low = beam.flange + CARD.web
        found = set()
        for hole in holes:
            left, top, right, bottom = beziers.bounds(hole.line)
            down, along = (top + bottom) / 2 - low, middle_of(part) - (left + right) / 2
            found.add((round(beam.u + mark_side(beam) * down, 6), round(beam.v0 + along, 6)))
        pins = {
            tuple(np.round(on_card(base, item.id)[:, 0].mean(axis=0), 6))
            for item in base.strokes
            if item.id.startswith(f"slit-{beam.id}-mark")
        }
        assert len(holes) == beam.id == len(pins)
        assert found == {(float(u), float(v)) for u, v in pins}


def short(length: float, flange: float, part: str = "beam-1", u: float = 30.0) -> Beam:
    """Return a beam with a shoulder as ``with_shoulders`` gives it one."""
    slit = Slit(39.5, 40.5 + length, 0.0)
    return Beam(1, part, u, 40.0, 40.0 + length, flange, 45.0, slit, shoulder=2.5)


@pytest.mark.parametrize(
    ("length", "flange", "highest"),
    [(11.0, 3.0, 6), (13.0, 3.0, 10), (15.0, 5.0, 15), (60.0, 5.0, 17), (60.0, 9.0, 17)],
)
@pytest.mark.parametrize("strip", [1.0, 0.6])
def test_marks_leave_paper_round_them(
    length: float, flange: float, highest: int, strip: float
) -> None:
    """Paper of the cutter's least width stays between marks, edges and the slit.

    The flange is drawn here from its corners; a slot counts five, a hole one.
    """
    beam = short(length, flange)
    # Past the fold lies the web, past the head's fold line the other half's.
    panel = shapely.union_all(
        [
            shapely.box(-9, -9, 0, length),
            shapely.Polygon(
                [(0, 0), (flange, flange), (flange, length - flange), (flange / 2, length + 2.5),
                 (0, length + 2.5)]
            ),
        ]
    )  # fmt: skip
    found = [number for number in range(1, 18) if has_room(beam, number, strip)]
    assert max(found) == highest if strip == 1.0 else max(found) >= highest
    for number in found:
        marks = marks_of(beam, number, strip)
        assert sum(mark.counts for mark in marks) == number
        holes = [drawn(mark) for mark in marks]
        assert all(panel.boundary.distance(hole) >= strip for hole in holes)
        assert all(a.distance(b) >= strip for i, a in enumerate(holes) for b in holes[:i])
        pins = [drawn(mark.pinhole) for mark in marks]
        assert all(pin.bounds[0] >= strip for pin in pins)
        assert all(hole.contains(pin) for hole, pin in zip(holes, pins, strict=True))


def drawn(mark: Mark) -> shapely.Polygon:
    """Return a mark at (distance from the fold, distance from the head end)."""
    reach = (mark.length - mark.width) / 2
    middle = [(mark.down, mark.along - reach), (mark.down, mark.along + reach + 1e-9)]
    return shapely.LineString(middle).buffer(mark.width / 2)


@pytest.mark.parametrize("number", [1, 5, 7])
def test_marks_are_cut_as_they_are_meant(number: int) -> None:
    """Slots and holes of a beam's piece, their areas by the formula of a stadium."""
    beam = replace(short(40.0, 6.0), part="beam-1")
    part = beam_part(beam, number, CARD, examples.STOCK, 1.0, 0.0)
    marks = marks_of(beam, number, 1.0)
    for index, mark in enumerate(marks, start=1):
        line = stroke(part, f"mark-left-{index}").line
        hole = shapely.Polygon(beziers.flatten(line, 0.001))
        wanted = math.pi * mark.width**2 / 4 + (mark.length - mark.width) * mark.width
        assert hole.area == pytest.approx(wanted, rel=2e-3)
        assert hole.centroid.x == pytest.approx(middle_of(part) - mark.along, abs=1e-6)
        assert beziers.bounds(line)[2] - beziers.bounds(line)[0] == pytest.approx(mark.length)
    assert len(marks) == sum(divmod(number, 5))


def test_numbers_change_hands_where_a_short_beam_has_no_room_for_its_own() -> None:
    """Seventeen beams, the last two too short for 16 and 17: they take numbers they can carry."""
    long = [short(40.0 + n, 5.0, f"beam-{n}", u=6.0 * n) for n in range(1, 16)]
    tiny = [short(11.0 + n, 3.0, f"beam-{15 + n}", u=-6.0 * n) for n in (1, 2)]
    plan = replace(PLAN, beams=tuple(replace(b, shoulder=0.0) for b in (*long, *tiny)))
    got = numbered(plan, 1.0, keyed=False)
    assert [beam.part for beam in got.beams] == [f"beam-{n}" for n in range(1, 18)]
    for number, beam in enumerate(got.beams, start=1):
        assert has_room(beam, number, 1.0)
    assert {beam.u for beam in got.beams} == {beam.u for beam in plan.beams}
    assert numbered(got, 1.0, keyed=False) is got


def test_equal_beams_take_one_number_where_each_its_own_has_no_room() -> None:
    equal = [short(11.0, 3.0, f"beam-{n}", u=12.0 * n) for n in range(1, 9)]
    plan = replace(PLAN, beams=tuple(replace(beam, shoulder=0.0) for beam in equal))
    got = numbered(plan, 1.0, keyed=True)
    assert {beam.part for beam in got.beams} == {"beam-1"}


def test_equal_beams_share_a_piece_where_they_are_not_keyed() -> None:
    pieces = made(keyed=False)
    found = named(pieces)
    assert [name for name in found if name.startswith("beam")] == ["beam-1", "beam-2"]
    assert [found[name].quantity for name in ("beam-1", "beam-2")] == [1, 2]
    assert [beam.part for beam in pieces.plan.beams] == ["beam-1", "beam-2", "beam-2"]
    pins = Counter(item.id[:6] for item in found["base"].strokes if "-mark-" in item.id)
    assert pins == {"slit-1": 1, "slit-2": 2, "slit-3": 2}


def test_marks_are_hidden_by_motif_and_flange() -> None:
    motif = beziers.polygon(PLAN.cut.outline)
    base = PIECES["base"]
    for item in base.strokes:
        if "-mark-" in item.id:
            hole = shapely.Polygon(beziers.flatten(on_card(base, item.id)))
            assert motif.covers(hole)


def test_motif_is_the_exact_outline_with_its_crease_short_of_the_edge() -> None:
    part = PIECES["motif"]
    assert on_card(part, "outline") == pytest.approx(PLAN.cut.outline.outer)
    top, bottom = 25.9, 145.9
    ends = on_card(part, "crease-1")[0, [0, 3]]
    edge = limits.SCORE_EDGE.value
    assert ends.ravel() == pytest.approx([0, top + edge, 0, bottom - edge], abs=0.02)
    assert part.printed and not made_plain()["motif"].printed


def made_plain() -> dict[str, Part]:
    return named(parts(PLAN, examples.STOCKS, examples.CUTTER, printed=False))


def test_crease_keeps_off_holes() -> None:
    hole = beziers.straight([(-5, 80), (5, 80), (5, 92), (-5, 92)], closed=True)
    cut = replace(PLAN.cut, outline=Outline(PLAN.cut.outline.outer, (hole,)))
    part = named(made(replace(PLAN, cut=cut)))["motif"]
    spans = sorted(on_card(part, f"crease-{n}")[0, [0, 3], 1].tolist() for n in (1, 2))
    assert spans[0][1] == pytest.approx(79) and spans[1][0] == pytest.approx(93)
    assert stroke(part, "hole-1").inner


def heart() -> Outline:
    """Return a motif whose head dips at the crease: the lobes rise 25 mm above its crease."""
    points = [(0, 60), (20, 35), (60, 40), (70, 80), (0, 140), (-70, 80), (-60, 40), (-20, 35)]
    return Outline(examples.smooth_closed(np.array(points, dtype=float)))


def leaning() -> Outline:
    """Return a motif whose left half rises 20 mm higher beside the crease than its right one."""
    points = [(0, 60), (30, 75), (70, 90), (60, 130), (0, 140), (-60, 120), (-50, 60), (-15, 40)]
    return Outline(examples.smooth_closed(np.array(points, dtype=float)))


@pytest.mark.parametrize(
    "shape", [PLAN.cut.outline, heart(), leaning()], ids=["peak", "dip", "leaning"]
)
def test_gauge_stops_the_motif_at_its_place(shape: Outline) -> None:
    """Put together: lip on the head edge, motif folded w from the base's crease, gauge beside it.

    In place they touch and don't overlap; moved towards the head they would, on either layer.
    """
    cut = replace(PLAN.cut, outline=shape)
    part = gauge_part(cut, examples.STOCK, 1.0, 90.0)
    lip = stroke(part, "lip").line[0, 0, 1]
    web = CARD.web
    gauge = affinity.translate(outline(part), max(web - 14.0, 1.0), -lip)
    paper = beziers.polygon(shape)
    layers = [affinity.translate(affinity.scale(paper, x, origin=(0, 0)), web) for x in (1, -1)]
    beyond = shapely.box(web, -500, 500, 500)
    motif = shapely.union_all([layer.intersection(beyond) for layer in layers])
    assert gauge.intersection(motif).buffer(-0.03).is_empty
    assert gauge.distance(motif) < 0.05
    assert gauge.intersection(affinity.translate(motif, 0, -0.3)).area > 0.1
    # The bar runs on beside the crease, as far as the crease begins and a little further.
    top = min(
        layer.intersection(shapely.box(web, -500, web + 1e-6, 500)).bounds[1] for layer in layers
    )
    assert gauge.covers(shapely.Point(web - 1, top + 3))


def test_gauge_has_a_lip_that_folds_down() -> None:
    assert stroke(PIECES["gauge"], "lip").fold == "mountain"


@pytest.mark.parametrize("spine", [0.0, 4.5])
def test_outer_card_shows_its_border_on_every_open_side(spine: float) -> None:
    """Its right score lies on the base's crease; a spine moves the left half out by its width."""
    closed = replace(PLAN.closed, spine=spine)
    part = named(made(replace(PLAN, closed=closed)))["outer"]
    assert part.size == pytest.approx((2 * CARD.outer.width + spine, CARD.outer.height))
    assert part.origin == pytest.approx((-CARD.outer.width - spine, -CARD.border))
    folds = sorted(on_card(part, s.id)[0, 0, 0] for s in part.strokes if s.op == "score")
    assert folds == pytest.approx([0.0] if spine == 0 else [-spine, 0.0])
    assert part.face_up == "inner"


def test_spine_can_be_asked_for_and_refused() -> None:
    closed = replace(PLAN.closed, spine=4.5, thickness=4.5)
    plan = replace(PLAN, closed=closed)
    folded = named(made(plan, spine_form="fold"))["outer"]
    assert folded.size[0] == pytest.approx(2 * CARD.outer.width)
    thin = replace(PLAN, closed=replace(PLAN.closed, spine=0.0, thickness=2.4))
    spined = named(made(thin, spine_form="spine"))["outer"]
    assert spined.size[0] == pytest.approx(2 * CARD.outer.width + 2.5)


@pytest.mark.parametrize(("ruling", "step"), [("5mm", 5.0), ("quarter-inch", 6.35)])
def test_trial_layer_is_the_window_ruled_and_labelled(ruling: str, step: float) -> None:
    layer = named(made(ruling=ruling))["mockup-layer"]
    assert layer.size == pytest.approx(CARD.window)
    lines = [on_card(layer, s.id)[0, 0, 0] for s in layer.strokes if s.id.startswith("d-")]
    assert np.abs(lines).max() <= CARD.reach
    assert np.abs(lines) / step == pytest.approx(np.round(np.abs(lines) / step))
    texts = {label.text for label in layer.labels}
    assert {f"{2 * step:.4g}", f"{2 * step + CARD.web:.4g}"} <= texts


def test_mockup_base_has_the_same_slits_as_the_base() -> None:
    base, mockup = PIECES["base"], PIECES["mockup-base"]
    cuts = [s for s in base.strokes if s.op == "cut"]
    assert [s.id for s in cuts] == [s.id for s in mockup.strokes if s.op == "cut"]
    for item in cuts:
        assert stroke(mockup, item.id).line == pytest.approx(item.line)


SMALL = replace(examples.CUTTER, area=(210.0, 240.0))


def test_a_piece_that_fits_only_across_the_grain_is_laid_so_and_said() -> None:
    pieces = parts(PLAN, examples.STOCKS, replace(examples.CUTTER, area=(210.0, 297.0)))
    assert named(pieces)["base"].grain_deg == 0
    assert {f.rule for f in pieces.findings} == {"grain-across"}
    assert {f.where for f in pieces.findings} == {"base card", "outer card"}


def test_a_base_larger_than_the_cutter_is_made_of_halves_that_make_the_whole() -> None:
    pieces = parts(PLAN, examples.STOCKS, SMALL)
    found = named(pieces)
    assert "base" not in found
    halves = [found["base-left"], found["base-right"]]
    shapes = [affinity.translate(outline(part), *part.origin) for part in halves if part.origin]
    whole = affinity.translate(outline(PIECES["base"]), -CARD.half_width, 0)
    slot = PLAN.beams[0].slit
    joined = shapely.union_all(shapes).buffer(0)
    assert shapes[0].intersection(shapes[1]).area < 1e-6
    notch = slot.width * (slot.v1 - slot.v0)
    assert joined.area == pytest.approx(whole.area - notch)
    slits = {s.id for part in halves for s in part.strokes if s.slit}
    assert slits == {"slit-2", "slit-3"}
    rules = {f.rule: f for f in pieces.findings if f.where == "base card"}
    assert rules["piece-in-two"].measured == pytest.approx(248.0)


def test_hinge_strips_stay_off_the_centre_slit_and_the_side_beams() -> None:
    found = named(parts(PLAN, examples.STOCKS, SMALL))
    strips = [
        affinity.translate(outline(part), *part.origin)
        for name, part in found.items()
        if name.startswith("base-hinge") and part.origin
    ]
    assert len(strips) == 2
    for beam in PLAN.beams:
        flange = shapely.box(beam.u - beam.flange, beam.slit.v0, beam.u + beam.flange, beam.slit.v1)
        assert all(strip.distance(flange) > 0.5 for strip in strips)


@pytest.mark.parametrize(("u", "v0"), [(-12.0, 20.0), (17.0, 120.0), (-12.0, 100.0), (20.0, 12.5)])
def test_hinge_strips_make_room_for_a_beam_near_the_crease(u: float, v0: float) -> None:
    near = replace(PLAN.beams[1], u=u, v0=v0, v1=v0 + 36, slit=Slit(v0 - 0.5, v0 + 36.5, 0.6))
    plan = replace(PLAN, beams=(PLAN.beams[0], near, PLAN.beams[2]))
    pieces = parts(plan, examples.STOCKS, SMALL)
    strips = [
        affinity.translate(outline(part), *part.origin)
        for part in pieces.parts
        if part.name.startswith("base-hinge") and part.origin
    ]
    for beam in pieces.plan.beams:
        # Either end may come to lie at the head where a beam has no marks.
        head = min(beam.v0 - beam.shoulder, beam.slit.v0)
        foot = max(beam.v1 + beam.shoulder, beam.slit.v1)
        flange = shapely.box(beam.u - beam.flange, head, beam.u + beam.flange, foot)
        assert all(strip.distance(flange) > 0.5 for strip in strips)
    assert sum(strip.bounds[3] - strip.bounds[1] for strip in strips) > 0.25 * CARD.height


def test_outer_card_in_halves_gets_its_spine_from_the_strip() -> None:
    plan = replace(PLAN, closed=replace(PLAN.closed, spine=4.5))
    found = named(parts(plan, examples.STOCKS, SMALL))
    strip = found["outer-hinge"]
    folds = sorted(on_card(strip, s.id)[0, 0, 0] for s in strip.strokes if s.op == "score")
    assert folds == pytest.approx([-4.5, 0.0])
    assert found["outer-left"].size == pytest.approx((CARD.outer.width, CARD.outer.height))


def test_a_motif_too_large_for_the_cutter_is_refused_with_numbers() -> None:
    with pytest.raises(SheetError, match=r"motif is 180\.0 x 120\.0 mm.*138\.0 x 138\.0 mm"):
        parts(PLAN, examples.STOCKS, replace(examples.CUTTER, area=(150.0, 150.0)))


def test_a_base_whose_beams_leave_no_room_for_a_hinge_is_refused() -> None:
    near = tuple(
        replace(PLAN.beams[1], id=n, part=f"beam-{n}", u=u, v0=v0, v1=v0 + 60,
                slit=Slit(v0 - 0.5, v0 + 60.5, 0.6))
        for n, u, v0 in ((2, -12.0, 14.0), (3, 12.0, 95.0))
    )  # fmt: skip
    plan = replace(PLAN, beams=(PLAN.beams[0], *near))
    with pytest.raises(SheetError, match="hinge strip"):
        parts(plan, examples.STOCKS, SMALL)


def test_a_dashed_fold_ends_with_dashes_and_leaves_ties_of_their_length() -> None:
    part = named(made(keyed=False, scores="dashed", dash=2.0, tie=1.2, dash_edge=2.0))["beam-1"]
    dashes = [s for s in part.strokes if s.id.startswith("fold-upper-left")]
    assert all(s.dash and s.op == "score" for s in dashes)
    ends = np.array([s.line[0, [0, 3], 0] for s in dashes])
    assert ends[0, 0] == pytest.approx(2.0) and ends[-1, 1] == pytest.approx(38.0)
    assert ends[1:, 0] - ends[:-1, 1] == pytest.approx(1.2)
    assert np.diff(ends, axis=1) == pytest.approx(2.0, rel=0.15)


def test_a_dashed_mountain_alternates_long_and_short_dashes() -> None:
    """Yoshizawa and Randlett's dash and dot, cut: ties between all, a long one at either end."""
    part = named(made(scores="dashed", dash=2.0, tie=1.2, dash_edge=2.0))["beam-1"]
    ends = np.array([s.line[0, [0, 3], 1] for s in part.strokes if s.id.startswith("fold-middle")])
    lengths = np.diff(ends, axis=1)[:, 0]
    assert len(ends) % 2 == 1
    assert lengths[::2] == pytest.approx(2.0, rel=0.3)
    assert lengths[1::2] == pytest.approx(0.6)
    assert ends[1:, 0] - ends[:-1, 1] == pytest.approx(1.2)
    fold = stroke(PIECES["beam-1"], "fold-middle").line[0, [0, 3], 1]
    assert (ends[0, 0] - fold[0], fold[1] - ends[-1, 1]) == pytest.approx((1.0, 1.0))


def test_pencil_folds_are_notes_that_keep_their_sense() -> None:
    part = named(made(scores="pencil"))["beam-1"]
    assert not [s for s in part.strokes if s.op == "score"]
    assert stroke(part, "fold-middle").op == "note"
    assert stroke(part, "fold-middle").fold == "mountain"


def test_chains_begin_anywhere_and_stay_the_same_line() -> None:
    contour = PLAN.cut.outline.outer
    for start in (0.0, 5.0, 7.25):
        turned = chains.restarted(contour, start)
        assert turned[0, 0] == pytest.approx(turned[-1, 3])
        area = shapely.Polygon(beziers.flatten(turned)).symmetric_difference(
            shapely.Polygon(beziers.flatten(contour))
        )
        assert area.area < 0.5
        assert turned[:-1, 3] == pytest.approx(turned[1:, 0])


@pytest.mark.parametrize("scale", [0.5, 1.0, 1.6])
def test_a_mockup_needs_no_motif(scale: float) -> None:
    card = replace(CARD, half_width=124.0 * scale, height=171.8 * scale)
    trial = mockup(card, examples.STOCKS, replace(examples.CUTTER, area=(304.8, 609.6)))
    assert [part.name for part in trial.parts if part.name.startswith("beam")] == [
        "beam-1",
        "beam-2",
        "beam-3",
    ]
    assert {part.set for part in trial.parts} == {"mockup"}
    inner = trial.beams[2].u - trial.beams[2].flange
    assert inner > trial.beams[0].flange
    assert trial.beams[2].u + trial.beams[2].flange < card.reach


@pytest.mark.parametrize("flange", [6.0, 9.0])
def test_adhesive_lies_inside_its_flange_and_leaves_the_marks_open(flange: float) -> None:
    """Off the fold by 1 mm, inside the edge by 0.5 mm, clear of the holes, nowhere a sliver."""
    beams = tuple(replace(beam, flange=flange) for beam in PLAN.beams)
    found = named(made(replace(PLAN, beams=beams), adhesive_shapes=True))
    for beam in beams:
        length = beam.v1 - beam.v0
        inset = flange / math.tan(math.radians(beam.taper_deg))
        panel = shapely.Polygon([(0, 0), (flange, inset), (flange, length - inset), (0, length)])
        for name in ("upper", "lower"):
            part = found[f"adhesive-{beam.id}-{name}"]
            assert part.quantity == 2 and part.stock.name == "adhesive-sheet"
            tape = outline(part)
            assert tape.buffer(-0.7).buffer(0.7).area > 0.97 * tape.area
            assert 0.3 * panel.area < tape.area < (1 - 1 / flange) * panel.area
            inner = panel.buffer(-0.499).intersection(shapely.box(1, 0, 99, 999))
            slides = [
                affinity.translate(tape, inner.bounds[0] + dx, dy)
                for dx in np.arange(0, flange, 0.25)
                for dy in np.arange(0, length, 0.1)
            ]
            assert any(inner.buffer(0.06).covers(placed) for placed in slides)


def test_flanges_too_small_for_adhesive_shapes_are_left_to_the_hand() -> None:
    """Of 3 mm of flange 1.5 mm are left to stick on: enough above, none beside the holes below."""
    narrow = tuple(replace(beam, flange=3.0) for beam in PLAN.beams[:1]) + PLAN.beams[1:]
    parts = made(replace(PLAN, beams=narrow), adhesive_shapes=True)
    kept = {part.name for part in parts.parts if part.name.startswith("adhesive-")}
    assert kept == {f"adhesive-{n}-{end}" for n in (2, 3) for end in ("upper", "lower")}
    (told,) = (item for item in parts.findings if item.rule == "no-adhesive-shape")
    assert told.where == "I-beam 1" and told.measured == 3.0
    assert told.limit is not None
    assert f"--flanges {told.limit:.1f}mm" in told.advice
    wide = (replace(narrow[0], flange=told.limit), *narrow[1:])
    again = made(replace(PLAN, beams=wide), adhesive_shapes=True)
    assert {f"adhesive-1-{end}" for end in ("upper", "lower")} <= set(named(again))
    assert "no-adhesive-shape" not in {item.rule for item in again.findings}


def fits_in(thickness: float, envelope: NamedSize) -> bool:
    """Whether the rule for bought envelopes lets the card into this one."""
    short, long = inside(127.0, 177.8, thickness)
    return short <= envelope.size[0] and long <= envelope.size[1]


def test_writing_panel_and_envelope_take_the_closed_card() -> None:
    found = named(made(liner=True, envelope="make"))
    liner, envelope = found["liner"], found["envelope"]
    assert liner.size == pytest.approx((127 - 12, 177.8 - 12))
    folds = {s.id: s.line[0, [0, 3]] for s in envelope.strokes if s.op == "score"}
    width = folds["fold-right"][0, 0] - folds["fold-left"][0, 0]
    height = folds["fold-back"][0, 1] - folds["fold-closing"][0, 1]
    # Laid round the card it is a flat tube: two faces as long as two faces and two edges of it.
    spare = np.array([width - 177.8, height - 127]) - PLAN.closed.thickness
    assert spare == pytest.approx(3.0)
    bought = NamedSize("own", "", (height, width), "")
    assert fits_in(PLAN.closed.thickness, bought)
    # Folded up, the back covers the front but for what the closing flap overlaps.
    back = envelope.size[1] - folds["fold-back"][0, 1]
    flap = folds["fold-closing"][0, 1]
    assert height + 5 < back + flap < height + 15


@pytest.mark.parametrize("spine", [0.0, 4.5])
@pytest.mark.parametrize("size", [(40.0, 30.0), (25.0, 60.0), (12.0, 100.0)])
def test_a_window_shows_the_bases_back_only(size: tuple[float, float], spine: float) -> None:
    """Closed: the front, turned over the base's left half, spine for spine."""
    plan = replace(PLAN, closed=replace(PLAN.closed, spine=spine))
    found = made(plan, cover_window=size)
    outer, base = named(found)["outer"], named(found)["base"]
    hole = shapely.Polygon(beziers.flatten(on_card(outer, "window")))
    box = np.array(hole.bounds)
    assert (box[2:] - box[:2]) == pytest.approx(size)
    behind = affinity.translate(hole, spine, 0)
    assert affinity.translate(outline(base), *base.origin).buffer(-8 + 1e-6).covers(behind)
    for beam in found.plan.beams:
        # Lower flanges, drawn here as boxes: no smaller than they are.
        foot = max(beam.slit.v1, beam.v1 + beam.shoulder)
        works = shapely.box(beam.u - beam.flange, beam.slit.v0, beam.u + beam.flange, foot)
        assert behind.distance(works) > 1.0


def test_a_window_without_a_place_is_refused_with_the_largest_that_has_one() -> None:
    with pytest.raises(SheetError, match=r"largest of that shape is \d+\.\d x \d+\.\d mm") as error:
        made(cover_window=(110.0, 150.0))
    numbers = re.search(r"is ([\d.]+) x ([\d.]+) mm$", str(error.value))
    assert numbers
    width, height = (float(number) for number in numbers.groups())
    made(cover_window=(width - 0.1, height - 0.1))
    with pytest.raises(SheetError):
        made(cover_window=(width + 1.0, height + 1.4))


def test_an_outline_that_touches_itself_is_no_crash() -> None:
    """Two lobes that meet in one point of the outline, drawn as one contour."""
    points = [(0, 60), (40, 40), (80, 90), (0, 140), (-80, 90), (-40, 40), (0, 60), (0, 120)]
    shape = Outline(beziers.straight(points, closed=True))
    cut = replace(PLAN.cut, outline=shape)
    pieces = named(made(replace(PLAN, cut=cut)))
    assert outline(pieces["gauge"]).is_valid
    assert pieces["motif"].size == pytest.approx((160, 100))


def test_short_folds_are_dashed_too() -> None:
    """However much paper stays at the ends: a run without a dash wouldn't fold true."""
    for edge in (2.0, 4.0):
        part = named(made(keyed=False, scores="dashed", dash=2.5, tie=1.5, dash_edge=edge))[
            "beam-1"
        ]
        scored = named(made(keyed=False))["beam-1"]
        runs = {stroke.id for stroke in scored.strokes if stroke.op == "score"}
        assert runs == {stroke.id.rsplit(".", 1)[0] for stroke in part.strokes if stroke.dash}
    line = beziers.straight([(0.0, 0.0), (4.0, 0.0)], closed=False)
    short = Stroke("fold", "score", line, closed=False, fold="valley")
    base = named(made(keyed=False))["base"]
    settings = PieceSettings(scores="dashed", dash_edge=4.0)
    (dash,) = with_scores(replace(base, strokes=(short,)), settings).strokes
    assert dash.dash and 0.5 <= dash.line[0, 0, 0] < dash.line[-1, 3, 0] <= 3.5
