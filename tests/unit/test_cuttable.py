"""The stage: what comes off, what grows, what stays, and what the maker is told."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from tests.examples import CARD, CUTTER, STOCK, lobed, placed
from tests.outlines import motif_of
from tests.thin_shapes import (
    BODY,
    arc,
    bent,
    bridge,
    clubbed,
    comb,
    forked,
    on_body,
    ring,
    shapes,
    slot,
    straight,
    strip,
    wall,
)
from trace2pop.errors import FragileError, UsageError
from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import sound
from trace2pop.geometry.recover import flat, recovered
from trace2pop.model.card import CutMotif, PlacedMotif
from trace2pop.model.outline import Outline
from trace2pop.model.settings import FeatureChoice, FragileSettings, MotifSettings, SupportSettings
from trace2pop.stages.cuttable import cuttable
from trace2pop.stages.cuttable.stage import minimum_gap, minimum_width
from trace2pop.stages.fit import fit

PLACED = placed()
DEFAULT = FragileSettings()


def on_card(outline: Outline | shapely.Polygon, across: float = 0.0) -> PlacedMotif:
    """Return a shape as placed motif, its middle at (across, 85) mm."""
    shape = outline if isinstance(outline, shapely.Polygon) else beziers.polygon(outline)
    left, head, right, foot = shape.bounds
    move = np.array([across - (left + right) / 2, 85 - (head + foot) / 2])
    drawn = beziers.from_polygon(shape) if isinstance(outline, shapely.Polygon) else outline
    to_card = np.column_stack([np.eye(2), move])
    motif = replace(PLACED.motif, outline=drawn)
    return replace(
        PLACED,
        motif=motif,
        scale=1.0,
        to_card=to_card,
        outline=beziers.transform_outline(drawn, to_card),
    )


def larger(motif: PlacedMotif, scale: float) -> PlacedMotif:
    """Return the same drawing placed ``scale`` times larger about (0, 85)."""
    to_card = motif.to_card * scale
    to_card[1, 2] += 85 * (1 - scale)
    outline = beziers.transform_outline(motif.motif.outline, to_card)
    return replace(motif, scale=motif.scale * scale, to_card=to_card, outline=outline)


def cut(motif: PlacedMotif, settings: FragileSettings = DEFAULT) -> CutMotif:
    return cuttable(motif, settings, STOCK, CUTTER)


def paper(result: CutMotif) -> shapely.Polygon:
    polygon = beziers.polygon(result.outline)
    assert sound(result.outline)
    return polygon


def rules(result: CutMotif) -> set[str]:
    return {finding.rule for finding in result.findings}


# --- what is not thin stays as it was


def test_a_strip_drawn_just_at_the_limit_stays_whole() -> None:
    """Of a strip exactly as wide as the minimum, opening leaves what the last digits say."""
    for turn in (0.0, 13.7, 77.3):
        line = shapely.LineString([(0, 0), (12, 2), (22, 3)])
        shape = shapely.Point(0, 0).buffer(8, 32).union(line.buffer(0.5))
        clubbed_one = shape.union(shapely.Point(22, 3).buffer(1))
        result = cut(on_card(affinity.rotate(clubbed_one, turn, origin=(0, 0))))
        assert not result.features
        assert paper(result).area == pytest.approx(clubbed_one.area, rel=1e-6)


def test_untouched_beziers_stay_as_they_are() -> None:
    """Spurs on a curved body: what is left is the body's own segments, split beside the cuts."""
    body = lobed()
    source = flat(body)
    ways = [(0, -60), (20, -50), (-20, -52), (60, 40), (-70, 30)]
    spurs = [
        shapely.LineString([(0.5 * x, 0.5 * y), (1.3 * x, 1.3 * y)]).buffer(0.3) for x, y in ways
    ]
    drawn = recovered(source, shapely.union_all([source.polygon, *spurs]))
    result = cut(on_card(drawn))
    assert len(result.hand_parts) == 5
    start = on_card(drawn)
    moved = beziers.transform(body.outer, start.to_card)
    new, old = (
        shapely.LinearRing(beziers.flatten(chain, 1e-4)) for chain in (result.outline.outer, moved)
    )
    assert new.hausdorff_distance(old) < 0.01
    known = {segment.tobytes() for segment in start.outline.outer}
    kept = sum(segment.tobytes() in known for segment in result.outline.outer)
    assert kept >= len(result.outline.outer) - 3 * len(ways)


def test_without_thin_features_the_outline_is_the_same() -> None:
    start = on_card(lobed())
    result = cut(start)
    assert np.array_equal(result.outline.outer, start.outline.outer)
    assert not result.hand_parts
    assert not result.features


def test_two_runs_give_the_same_numbers() -> None:
    first, second = (cut(on_card(comb().polygon)) for _ in range(2))
    assert np.array_equal(first.outline.outer, second.outline.outer)
    for one, other in zip(first.hand_parts, second.hand_parts, strict=True):
        assert np.array_equal(one.path, other.path)
        assert np.array_equal(one.overlap, other.overlap)


@pytest.mark.parametrize("name", [name for name, shape in shapes().items() if shape.kind == "spur"])
def test_a_second_pass_changes_nothing(name: str) -> None:
    first = cut(on_card(affinity.rotate(shapes()[name].polygon, 12.3)))
    second = cut(replace(first.placed, outline=first.outline))
    assert not second.features
    assert np.array_equal(first.outline.outer, second.outline.outer)


# --- the list


def test_a_straight_feeler_in_numbers() -> None:
    result = cut(on_card(straight(0.6).polygon, across=20.0))
    (part,) = result.hand_parts
    assert part.length == pytest.approx(25, abs=0.05)
    assert part.width == pytest.approx(0.6, abs=0.01)
    assert part.root_width == pytest.approx(0.6, abs=0.01)
    assert part.tip_width == pytest.approx(0.6, abs=0.01)
    assert part.diameter == 0.6
    assert part.cut_length == pytest.approx(35, abs=0.05)
    assert part.direction_deg == pytest.approx(-90, abs=0.5)
    assert part.form == "plain"
    assert part.uncertainty == 0
    (feature,) = result.features
    assert (feature.id, feature.kind, feature.choice) == (1, "spur", "hand")
    assert paper(result).area == pytest.approx(BODY.area, abs=0.01)


def test_forms() -> None:
    (fork,) = cut(on_card(forked(0.5).polygon)).hand_parts
    (club,) = cut(on_card(clubbed(0.6, 3.6).polygon)).hand_parts
    assert fork.form == "forked"
    assert len(fork.branches) == 1
    assert club.form == "clubbed"
    assert club.width == pytest.approx(0.6, rel=0.05)


def test_numbers_run_clockwise_from_the_head() -> None:
    middle = np.array([30.0, 15.0])
    angles = np.radians([20, 80, 130, 200, 260, 340])
    ways = np.column_stack([np.sin(angles), -np.cos(angles)])
    spurs = [strip(np.array([middle, middle + 45 * way]), 0.5) for way in ways]
    parts = cut(on_card(on_body(*spurs))).hand_parts
    assert [part.id for part in parts] == [1, 2, 3, 4, 5, 6]
    turns = [
        np.degrees(np.arctan2(part.path[-1, 0], -(part.path[-1, 1] - 85))) % 360 for part in parts
    ]
    assert turns == sorted(turns)


def test_a_fringe_is_grouped_and_a_pair_of_feelers_is_not() -> None:
    parts = cut(on_card(comb().polygon)).hand_parts
    assert len(parts) == 20
    assert len({part.fringe for part in parts}) == 1
    assert parts[0].fringe == 1
    assert {part.fringe for part in cut(on_card(shapes()["pair"].polygon)).hand_parts} == {None}


# --- glue


def test_glue_overlap_lies_inside_off_the_crease_and_apart() -> None:
    result = cut(on_card(comb().polygon))
    body = paper(result)
    for part in result.hand_parts:
        line = shapely.LineString(part.overlap)
        assert line.length == pytest.approx(10, abs=0.01)
        assert body.buffer(0.03).covers(line)
        u = part.overlap[:, 0]
        assert u.min() >= 0 or u.max() <= 0
        assert np.allclose(part.overlap[0], part.join)


def test_a_feeler_on_the_axis_goes_to_one_half() -> None:
    (part,) = cut(on_card(straight(0.5).polygon)).hand_parts
    assert part.join[0] == pytest.approx(0, abs=0.01)
    u = part.overlap[1:, 0]
    assert abs(u[-1]) > 1 + part.diameter / 2
    along = np.linspace(0, 1, 50)[:, None]
    points = part.overlap[0] + along * (part.overlap[1] - part.overlap[0])
    assert np.all(points[:, 0] >= -1e-9) or np.all(points[:, 0] <= 1e-9)


def test_too_little_room_for_glue_is_said() -> None:
    stem = shapely.box(29, -4, 31, 1)
    spur = strip(np.array([[30.0, -3.5], [30.0, -20.0]]), 0.5)
    low = affinity.scale(BODY, 1, 0.1, origin=(30, 0))
    result = cut(on_card(shapely.union_all([low, stem, spur]), across=15.0))
    (part,) = result.hand_parts
    glued = np.linalg.norm(part.overlap[1] - part.overlap[0])
    assert glued < 9
    assert part.cut_length == pytest.approx(part.length + glued)
    assert "short-overlap" in rules(result)


# --- closing


def test_a_part_that_would_show_is_named_with_what_to_cut_off() -> None:
    reach = PLACED.card.reach
    far = on_body(strip(np.array([[59.0, 15.0], [100.0, 15.0]]), 0.6))
    start = on_card(far, across=reach - 40)
    tip = start.outline.outer[..., 0].max()
    result = cut(start)
    (found,) = (f for f in result.findings if f.rule == "hand-part-shows")
    assert found.measured == pytest.approx(tip - reach, abs=0.1)
    assert f"by {tip - reach:.1f} mm" in found.advice
    assert "hand-part-shows" not in rules(cut(start, FragileSettings(bends=True)))
    assert "hand-part-shows" not in rules(cut(on_card(far)))


# --- treatments


def test_parts_thicker_than_drawn_stay_inside_when_closed() -> None:
    """A feeler along the window's edge that tapers: its wire is thicker than what was drawn."""
    path = np.array([[50, 15], [67, 15], [69, 13], [70, -12]], float)
    drawn = beziers.from_polygon(on_body(strip(path, 0.7, 0.2)))
    settings = FragileSettings(min_width=1.0)
    start = fit(motif_of(Outline(drawn.outer)), CARD, MotifSettings(), SupportSettings(), settings)
    parts = cuttable(start, settings, STOCK, CUTTER).hand_parts
    assert len(parts) == 1
    line = shapely.LineString(parts[0].path)
    left, _, right, _ = line.buffer(parts[0].diameter / 2, cap_style="flat").bounds
    outline = beziers.bounds(start.outline.outer)
    assert right > outline[2] + 0.05
    assert max(right, -left) <= CARD.reach + 0.01
    assert max(right, -left) > CARD.reach - 0.2


def test_drop_takes_off_and_lists_nothing() -> None:
    result = cut(on_card(straight(0.6).polygon), FragileSettings(spurs="drop"))
    assert not result.hand_parts
    assert paper(result).area == pytest.approx(BODY.area, abs=0.01)
    assert "spur-dropped" in rules(result)


def test_keep_keeps_and_warns() -> None:
    start = on_card(straight(0.6).polygon)
    result = cut(start, FragileSettings(spurs="keep"))
    assert np.array_equal(result.outline.outer, start.outline.outer)
    assert "spur-kept" in rules(result)


@pytest.mark.parametrize(
    ("shape", "settings"),
    [
        (straight(0.6).polygon, FragileSettings(spurs="thicken")),
        (forked(0.5).polygon, FragileSettings(spurs="thicken")),
        (shapes()["s-curve 0.4"].polygon, FragileSettings(spurs="thicken")),
        (shapes()["needle 0.9"].polygon, FragileSettings(spurs="thicken")),
        (bridge(0.5).polygon, DEFAULT),
        (wall(0.5).polygon, DEFAULT),
        (ring(0.6).polygon, DEFAULT),
    ],
)
def test_thicken_grows_along_the_middle_line(
    shape: shapely.Polygon, settings: FragileSettings
) -> None:
    start = on_card(affinity.rotate(shape, 7.0))
    result = cut(start, settings)
    before, after = beziers.polygon(start.outline), paper(result)
    assert after.buffer(0.01).covers(before)
    assert before.buffer(0.75).covers(after)
    again = cut(replace(start, outline=result.outline), settings)
    assert not again.features
    assert {feature.choice for feature in result.features} == {"thicken"}


def test_thickened_edges_are_few_smooth_curves() -> None:
    """A bow 12 mm in radius grown from 0.6 to 1 mm: two arcs, their rounded roots, a round tip."""
    start = on_card(bent(0.6, 12, 120).polygon)
    result = cut(start, FragileSettings(spurs="thicken"))
    chain = result.outline.outer
    assert len(chain) < 30 < len(start.outline.outer)
    # Off its middle line the new edge lies half the width everywhere, but for tip and root.
    path = arc(12, 120, (30, 0)) + (start.to_card[:, 2])
    edge = shapely.get_coordinates(shapely.LinearRing(beziers.flatten(chain, 1e-4)))
    middle = shapely.LineString(path)
    off = shapely.distance(middle, shapely.points(edge))
    at = shapely.line_locate_point(middle, shapely.points(edge))
    beside = (off < 2) & (at > 3) & (at < middle.length - 2)
    assert beside.sum() > 40
    assert np.abs(off[beside] - 0.505).max() < 0.02
    into = chain[:, 3] - chain[:, 2]
    out = np.roll(chain[:, 1] - chain[:, 0], -1, axis=0)
    cross, along = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)
    turns = np.abs(np.degrees(np.arctan2(cross, along)))
    # The body's four corners; at the tip the drawn one's two corners, and where they stand out.
    assert (turns > 8).sum() <= 8


def test_thickened_feelers_stay_inside_the_window() -> None:
    """One that runs along the window's edge: its curves must not bow out by a hair."""
    reach = PLACED.card.reach
    path = arc(40, 70, (30, 0))
    start = on_card(on_body(strip(path, 0.6)), across=0.0)
    right = start.outline.outer[..., 0].max()
    moved = np.column_stack([np.eye(2), [reach - right, 0.0]])
    edge = replace(start, outline=beziers.transform_outline(start.outline, moved))
    result = cut(edge, FragileSettings(spurs="thicken"))
    assert beziers.bounds(result.outline.outer)[2] <= reach + 1e-6


def test_a_thickened_feeler_is_told_at_its_new_width() -> None:
    result = cut(on_card(straight(0.95).polygon), FragileSettings(spurs="thicken"))
    (weak,) = (finding for finding in result.findings if finding.rule == "weak")
    assert weak.measured == pytest.approx(1.01, abs=0.02)


def test_holes_and_gaps_are_closed_or_kept() -> None:
    shape = slot(0.4).polygon.difference(shapely.box(40, 10, 40.4, 18))
    shape = shape.difference(shapely.Point(50, 15).buffer(0.2))
    start = on_card(shape)
    shut = cut(start)
    assert paper(shut).area == pytest.approx(BODY.area, abs=0.01)
    assert sorted(feature.kind for feature in shut.features) == ["gap", "hole", "hole"]
    kept = cut(start, FragileSettings(gaps="keep"))
    assert np.array_equal(kept.outline.outer, start.outline.outer)
    assert len(kept.outline.holes) == 2
    wide = cut(on_card(slot(0.7).polygon))
    assert not wide.features


def test_a_filled_gap_that_is_a_thin_wall_is_made_wider() -> None:
    """Filling the mouth of a pocket leaves a wall there, as thin as the mouth was deep."""
    mouth = shapely.box(29.8, -1, 30.2, 0.6)
    body = BODY.difference(shapely.Point(30, 5.5).buffer(5)).difference(mouth)
    result = cut(on_card(body))
    assert {feature.kind for feature in result.features} == {"gap", "wall"}
    again = cuttable(replace(result.placed, outline=result.outline), DEFAULT, STOCK, CUTTER)
    assert not again.features


def test_pointed_notches_stay() -> None:
    notch = BODY.difference(shapely.Polygon([(28, -1), (30, 14), (32, -1)]))
    assert not cut(on_card(notch)).features


# --- choices for single features


def test_choices_by_number() -> None:
    spurs = [straight(0.6, x=x).polygon for x in (10.0, 45.0)]
    start = on_card(shapely.union_all(spurs))
    settings = FragileSettings(features=(FeatureChoice("keep", number=2),))
    result = cut(start, settings)
    assert [feature.choice for feature in result.features] == ["hand", "keep"]
    assert [part.id for part in result.hand_parts] == [1]


def test_a_choice_finds_its_feature_again_at_another_size() -> None:
    spurs = [straight(0.45, 12.0, x).polygon for x in (10.0, 22.0, 45.0)]
    start = on_card(shapely.union_all(spurs))
    first = cut(start)
    meant = min(first.features, key=lambda feature: abs(feature.at[0] - first.features[1].at[0]))
    x, y = meant.drawn_at
    settings = FragileSettings(features=(FeatureChoice("thicken", x=x, y=y),))
    for scale in (0.6, 1.0, 1.7):
        result = cut(larger(start, scale), settings)
        (grown,) = (feature for feature in result.features if feature.choice == "thicken")
        assert grown.drawn_at == pytest.approx(meant.drawn_at, abs=3)
        assert "choice-unused" not in rules(result)


def test_a_choice_without_its_feature_is_kept_and_said() -> None:
    start = on_card(straight(0.6).polygon)
    settings = FragileSettings(
        spurs="drop", min_width=0.5, features=(FeatureChoice("keep", x=10.0, y=10.0),)
    )
    assert "choice-unused" in rules(cut(start, settings))


@pytest.mark.parametrize(
    ("shape", "do", "told"),
    [
        (bridge(0.5).polygon, "hand", "would fall off"),
        (bridge(0.5).polygon, "drop", "would fall off"),
        (wall(0.5).polygon, "hand", "both ends"),
        (ring(0.6).polygon, "hand", "loop"),
        (straight(0.6).polygon, "close", "only holes and gaps"),
        (slot(0.4).polygon, "hand", "what is thin"),
    ],
)
def test_impossible_choices_are_refused(shape: shapely.Polygon, do: str, told: str) -> None:
    settings = FragileSettings(features=(FeatureChoice(do, number=1),))  # type: ignore[arg-type]
    with pytest.raises(FragileError, match=told) as refused:
        cut(on_card(shape), settings)
    assert refused.value.advice
    assert refused.value.exit_code == 6


def test_a_number_there_is_not_is_refused() -> None:
    settings = FragileSettings(features=(FeatureChoice("keep", number=7),))
    with pytest.raises(UsageError, match="number 7"):
        cut(on_card(straight(0.6).polygon), settings)
    with pytest.raises(UsageError, match="neither"):
        cut(on_card(straight(0.6).polygon), FragileSettings(features=(FeatureChoice("keep"),)))


def test_a_wall_may_be_dropped() -> None:
    settings = FragileSettings(walls="drop")
    result = cut(on_card(wall(0.5).polygon), settings)
    assert not result.outline.holes
    assert "wall-dropped" in rules(result)


def test_a_motif_all_thin_is_refused_with_its_width() -> None:
    with pytest.raises(FragileError, match=r"0\.60 mm wide"):
        cut(on_card(strip(np.array([[0.0, 0.0], [40.0, 0.0]]), 0.6)))


# --- weak places, limits


def test_weak_places_are_named() -> None:
    start = on_card(straight(1.5).polygon)
    (found,) = (f for f in cut(start).findings if f.rule == "weak")
    assert found.measured == pytest.approx(1.5, abs=0.05)
    assert not cut(on_card(straight(2.3).polygon)).findings


def test_limits_come_from_stock_and_cutter() -> None:
    assert minimum_width(DEFAULT, STOCK, CUTTER) == CUTTER.min_feature
    assert minimum_width(FragileSettings(min_width=0.4), STOCK, CUTTER) == 0.4
    thick = replace(STOCK, thickness=1.4)
    assert minimum_width(DEFAULT, thick, CUTTER) == 1.4
    assert minimum_gap(DEFAULT, STOCK, 1.0) == pytest.approx(0.6)
    assert minimum_gap(DEFAULT, thick, 1.0) == pytest.approx(2.1)
    assert minimum_gap(FragileSettings(min_gap=0.2), STOCK, 1.0) == 0.2


@pytest.mark.parametrize("choice", ["thicken", "keep"])
@pytest.mark.parametrize("apart_by", [0.0, 1e-13, 1e-4])
def test_a_hole_that_only_touches_the_edge_has_a_wall_there(choice: str, apart_by: float) -> None:
    """A triangle cut out whose tip meets the edge in a point: no wall at all until one is put.

    The last bits of a coordinate, or a tenth of a micrometre, make no difference.
    """
    hole = [(30.0, apart_by), (36.0, 12.0), (24.0, 12.0)]
    shape = shapely.Polygon([(0, 0), (60, 0), (60, 40), (0, 40)], [hole])
    drawn = Outline(
        beziers.straight([(0, 0), (60, 0), (60, 40), (0, 40)], closed=True),
        (beziers.straight(hole, closed=True),),
    )
    assert shape.is_valid and shape.exterior.distance(shape.interiors[0]) <= apart_by
    result = cut(on_card(drawn), FragileSettings(walls=choice))  # type: ignore[arg-type]  # a word
    got = paper(result)
    assert len(got.interiors) == 1
    apart = got.exterior.distance(got.interiors[0])
    assert [feature.kind for feature in result.features] == ["wall"]
    assert result.features[0].width < 0.2
    assert apart > (0.9 * result.min_width if choice == "thicken" else 0.03)
    assert f"wall-{'thickened' if choice == 'thicken' else 'kept'}" in rules(result)


NEEDLE = [(30.0, 0.0), (31.5, 8.0), (28.5, 8.0)]
ROUND = shapely.Point(30, 6).buffer(6, quad_segs=32).exterior.coords[:-1]
CORNER = [(30.0, 0.0), (36.0, 6.0), (30.0, 12.0), (24.0, 6.0)]


@pytest.mark.parametrize("off", [0.01, 0.1, 0.35, 0.48])
@pytest.mark.parametrize("hole", [NEEDLE, ROUND, CORNER], ids=["needle", "round", "corner"])
def test_a_wall_is_thickened_all_along_however_short_it_is(
    hole: list[tuple[float, float]], off: float
) -> None:
    """The measure is the distance of the two edges: nowhere is there less paper between them."""
    moved = [(u, v + off) for u, v in hole]
    shape = shapely.Polygon([(0, 0), (60, 0), (60, 40), (0, 40)], [moved])
    assert shape.exterior.distance(shape.interiors[0]) == pytest.approx(off, abs=0.01)
    result = cut(on_card(shape))
    got = paper(result)
    assert [feature.kind for feature in result.features] == ["wall"]
    assert got.exterior.distance(got.interiors[0]) > 0.97 * result.min_width
