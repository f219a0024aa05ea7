"""Thin features of shapes with known answers: count, length, width, join; and what is none."""

import numpy as np
import pytest
import shapely

from tests.thin_shapes import (
    BODY,
    Shape,
    Strip,
    jittered,
    on_body,
    shapes,
    straight,
    strip,
    turned,
    turned_point,
    wall_beyond,
)
from trace2pop.geometry.middle import middle_line
from trace2pop.geometry.thin import body_without_spurs, find_thin, without

SHAPES = shapes()
TURNS = ((0.0, 1.0), (17.3, 1.0), (71.9, 1.37), (203.7, 0.8))


def truth_of(shape: Shape, least: float, scale: float = 1.0) -> list[Strip]:
    """Return what of the shape's strips is narrower than ``least`` when it is scaled."""
    scaled = [
        Strip(
            known.length * scale,
            known.width * scale,
            (known.join[0] * scale, known.join[1] * scale),
            None if known.root is None else known.root * scale,
            None if known.tip is None else known.tip * scale,
        )
        for known in shape.strips
    ]
    thin = [part for part in (known.thin_part(least) for known in scaled) if part]
    if shape.kind != "wall":
        return thin
    beyond = [wall_beyond(part.width, least) for part in thin]
    return [
        Strip(part.length + 2 * more, part.width, (part.join[0] - more, part.join[1]))
        for part, more in zip(thin, beyond, strict=True)
    ]


@pytest.mark.parametrize(("degrees", "scale"), TURNS)
@pytest.mark.parametrize("least", [1.0, 1.5])
@pytest.mark.parametrize("name", SHAPES)
def test_every_feature_is_found_and_measured(
    name: str, least: float, degrees: float, scale: float
) -> None:
    """Length within 2 % or 0.3 mm, mean width within 5 %, join within 0.3 mm."""
    shape = SHAPES[name]
    found = find_thin(turned(shape.polygon, degrees, scale), least)
    truth = truth_of(shape, least, scale)
    assert [thin.kind for thin in found] == [shape.kind] * len(truth)
    for thin in found:
        line = middle_line(thin.region, thin.joins)
        ends = line.path[[0, -1]] if shape.kind in ("bridge", "wall") else line.path[:1]
        joins = [turned_point(known.join, degrees) for known in truth]
        off = [min(np.linalg.norm(ends - join, axis=1)) for join in joins]
        known = truth[int(np.argmin(off))]
        assert line.length == pytest.approx(known.length, abs=max(0.02 * known.length, 0.3))
        assert line.width == pytest.approx(known.width, rel=0.05)
        if shape.kind != "ring":
            assert min(off) <= 0.3
        if known.root is not None and known.tip is not None:
            assert line.root_width == pytest.approx(known.root, abs=0.08)
            assert line.tip_width == pytest.approx(known.tip, abs=0.08)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize(("by", "seed"), [(0.02, 1), (0.03, 2), (0.05, 3)])
def test_a_wavering_outline_changes_no_count(name: str, by: float, seed: int) -> None:
    shape = SHAPES[name]
    wavering = jittered(turned(shape.polygon, 17.3), by, seed)
    found = find_thin(wavering, 1.0)
    assert [thin.kind for thin in found] == [shape.kind] * len(truth_of(shape, 1.0))


@pytest.mark.parametrize("name", [name for name in SHAPES if SHAPES[name].kind == "spur"])
def test_what_is_not_thin_is_not_touched(name: str) -> None:
    """What is left is the body as it was before the strips were put on, to 0.01 mm."""
    shape = turned(SHAPES[name].polygon, 31.0)
    left = body_without_spurs(shape, 1.0)
    found = find_thin(shape, 1.0)
    gone = shapely.union_all([thin.region for thin in found])
    assert left.symmetric_difference(shape.difference(gone)).area < 1e-6
    kept = np.asarray(left.exterior.coords)
    assert shapely.distance(shapely.points(kept), shape.boundary).max() < 1e-9
    if name.startswith(("straight", "arc", "s-curve", "oblique")) and found:
        body = turned(BODY, 31.0)
        assert left.hausdorff_distance(body) < 0.01


def test_a_fork_has_its_branch() -> None:
    (thin,) = find_thin(SHAPES["fork 0.4"].polygon, 1.0)
    line = middle_line(thin.region, thin.joins)
    (branch,) = line.branches
    assert np.linalg.norm(branch[0] - (30, -10)) < 0.3
    assert np.linalg.norm(branch[-1] - (35, -16)) < 0.4


def test_a_club_stays_on_its_feeler() -> None:
    shape = SHAPES["club"].polygon
    (thin,) = find_thin(shape, 1.0)
    assert thin.region.contains(shapely.Point(30, -23))
    (left,) = without(shape, [thin])
    assert left.area == pytest.approx(BODY.area, abs=0.01)


def test_a_small_head_on_a_short_neck_is_no_club() -> None:
    head = shapely.Point(30, -6).buffer(2.4)
    shape = on_body(shapely.box(29.6, -4, 30.4, 1), head)
    assert [thin.kind for thin in find_thin(shape, 1.0)] == ["bridge"]


def test_widths_along_the_middle_are_exact() -> None:
    """A rectangle's, a ring's and a wedge's width: of the largest disc about each place."""
    (thin,) = find_thin(straight(0.7).polygon, 1.0)
    line = middle_line(thin.region, thin.joins)
    inner = slice(3, -6)
    assert line.widths[inner] == pytest.approx(0.7, abs=0.002)

    (thin,) = find_thin(SHAPES["ring 0.6"].polygon, 1.0)
    line = middle_line(thin.region, thin.joins)
    assert line.widths == pytest.approx(0.6, abs=0.01)

    half = np.arctan(0.9 / 2 / 25)
    wedge = on_body(strip(np.array([[30.0, 0.0], [30.0, -24.999]]), 0.9, 0.9 / 25 * 1e-3))
    (thin,) = find_thin(wedge.union(shapely.box(29.55, -0.001, 30.45, 1)), 1.0)
    line = middle_line(thin.region, thin.joins)
    from_tip = 25 + line.path[:, 1]
    assert line.widths[2:-3] == pytest.approx(2 * from_tip[2:-3] * np.sin(half), abs=0.01)


def test_all_thin_is_one_loose_feature() -> None:
    (thin,) = find_thin(strip(np.array([[0.0, 0.0], [40.0, 0.0]]), 0.6), 1.0)
    assert thin.kind == "loose"


def test_a_hole_in_the_body_stays_when_spurs_come_off() -> None:
    shape = straight(0.5).polygon.difference(shapely.box(10, 10, 20, 20))
    left = body_without_spurs(shape, 1.0)
    assert left.area == pytest.approx(1700, abs=0.01)
