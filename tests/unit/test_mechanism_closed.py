"""The closed card: layers counted by hand, and by laying every panel down by its pose."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.examples import CARD, STOCKS, beams, cut_motif, feeler
from trace2pop.geometry import beziers
from trace2pop.mechanism.beam import flange
from trace2pop.mechanism.closed import closed_stack, spine_width, strands
from trace2pop.mechanism.linkage import pose
from trace2pop.model.card import HandPart

PAPER, TAPE = 0.3, 0.1
MOTIF = beziers.polygon(cut_motif().outline)


def test_thickest_place_counted_by_hand() -> None:
    """Each half: cover, tape, base, doubled web, upper flange, tape, motif. Both beams meet."""
    closed = closed_stack(CARD, MOTIF, beams(), STOCKS, TAPE)
    half = PAPER + TAPE + PAPER + 2 * PAPER + PAPER + TAPE + PAPER
    assert closed.thickness == pytest.approx(2 * half)
    assert closed.layers[:3] == ("outer card", "tape", "base")
    swapped = [name.replace("beam-3", "beam-2") for name in closed.layers]
    assert swapped == swapped[::-1]
    assert len(closed.layers) == 16
    assert closed.reach == pytest.approx(90.0 + CARD.web, abs=0.01)


def thickness_at(x: float, v: float) -> float:
    """Return the stack at a place of the closed card from the poses alone: panel by panel."""
    closed, place = pose(CARD.web, beams(), 0.0), shapely.Point(x, v)

    def over(shape: shapely.Geometry, frame: object) -> bool:
        corners = shapely.get_coordinates(shape)
        world = frame.at(corners)  # type: ignore[attr-defined]  # a Frame
        return bool(shapely.Polygon(world[:, [2, 1]]).contains(place))

    total = 0.0
    for index, side in enumerate((-1, 1)):
        cover = shapely.box(0, -CARD.border, side * CARD.outer.width, CARD.height + CARD.border)
        base = shapely.box(0, 0, side * CARD.half_width, CARD.height)
        total += PAPER * over(cover, closed.base[index]) + PAPER * over(base, closed.base[index])
        glued = shapely.box(side * 5, 0, side * CARD.half_width, CARD.height)
        total += TAPE * over(glued, closed.base[index])
        half = MOTIF.intersection(shapely.box(0, 0, side * 200, 200))
        total += PAPER * over(half, closed.motif[index])
    for one, frames in zip(beams(), closed.beams, strict=True):
        total += 2 * PAPER * over(shapely.box(0, one.v0, CARD.web, one.v1), frames.web)
        for index, side in enumerate((-1, 1)):
            panel = flange(one.u, one.v0, one.v1, one.flange, one.taper_deg, side)
            _, top, _, bottom = panel.bounds
            near = shapely.box(one.u - 1, top, one.u + 1, bottom)
            for frame in (frames.lower[index], frames.upper[index]):
                total += PAPER * over(panel, frame) + TAPE * over(panel.difference(near), frame)
    return total


def test_map_agrees_with_panels_laid_down_one_by_one() -> None:
    closed = closed_stack(CARD, MOTIF, beams(), STOCKS, TAPE)
    random = np.random.default_rng(5)
    shapes = [shapely.Polygon(area.outer, area.holes) for area in closed.areas]
    compared = 0
    for x, v in random.uniform([0, 0], [124, 171.8], (300, 2)):
        place = shapely.Point(x, v)
        if min(shape.boundary.distance(place) for shape in shapes) < 0.1:
            continue
        here = [
            area for area, shape in zip(closed.areas, shapes, strict=True) if shape.contains(place)
        ]
        assert len(here) == 1
        assert here[0].thickness == pytest.approx(thickness_at(x, v)), (x, v)
        compared += 1
    assert compared > 250


def test_staggered_beams_save_what_is_said() -> None:
    """Beams of the two halves that nowhere meet: the thickness is the one promised."""
    mirrored = closed_stack(CARD, MOTIF, beams(), STOCKS, TAPE)
    left, centre, right = beams()[1], beams()[0], beams()[2]
    apart = (centre, replace(left, v0=40.0, v1=62.0), replace(right, v0=90.0, v1=112.0))
    staggered = closed_stack(CARD, MOTIF, apart, STOCKS, TAPE)
    assert mirrored.staggered is not None
    assert staggered.thickness == pytest.approx(mirrored.staggered)
    assert mirrored.thickness - staggered.thickness == pytest.approx(3 * PAPER + TAPE)


def test_shingled_webs_add_up() -> None:
    """Two beams of one half closer than the web's height lie on each other."""
    centre, left, _ = beams()
    near = (centre, replace(left, u=-40.0), replace(left, id=4, part="beam-4", u=-58.0))
    closed = closed_stack(CARD, MOTIF, near, STOCKS, TAPE)
    both = [area for area in closed.areas if {"web of beam-2", "web of beam-4"} <= set(area.layers)]
    assert both
    for area in both:
        order = [name for name in area.layers if name.startswith("web")]
        assert order.index("web of beam-4") < order.index("web of beam-2")  # outermost by the base
        assert area.outer[:, 0].min() >= 58.0 - 1e-6
        assert area.outer[:, 0].max() <= 40.0 + CARD.web + 1e-6


def test_wire_on_the_back_counts() -> None:
    part = replace(feeler(), diameter=3.0)
    bare = closed_stack(CARD, MOTIF, beams(), STOCKS, TAPE)
    wired = closed_stack(CARD, MOTIF, beams(), STOCKS, TAPE, [part])
    assert wired.thickness > bare.thickness
    assert "hand-added part 1" in wired.layers


def forked(*leave: tuple[float, int]) -> HandPart:
    """Return the feeler with branches 12 mm long that leave it so far out, to the right or left."""
    one = feeler()
    x, y = one.join
    ways = [((x, y - out), (x + 6.0 * side, y - out - 10.39)) for out, side in leave]
    return replace(one, diameter=2.0, branches=tuple(np.array(way) for way in ways))


@pytest.mark.parametrize("leave", [[(12, 1)], [(12, 1), (12, -1)], [(12, 1), (14, 1), (13, -1)]])
def test_a_fork_is_one_rod_thick(leave: list[tuple[float, int]]) -> None:
    """Round rods glued side by side lie one diameter apart and are no thicker than one."""
    part = forked(*leave)
    bare = closed_stack(CARD, MOTIF, [], STOCKS, TAPE)
    closed = closed_stack(CARD, MOTIF, [], STOCKS, TAPE, [part])
    assert closed.layers.count("hand-added part 1") <= 1
    assert closed.thickness <= bare.thickness + part.diameter + 1e-9
    # The rods' own areas: 10 mm glued and 25 free, of each branch 5 glued and 12 free. Only where a
    # branch leaves do the drawn lines share paper.
    whole = 2.0 * (35 + len(leave) * 17)
    area = float(strands(part).area)
    assert whole - len(leave) * 2.0**2 * 1.5 - 4.0 < area < whole + 2.0**2 * (1 + len(leave))


def test_parts_of_both_halves_lie_on_each_other() -> None:
    """Mirrored forks, one on each half: two rods at most."""
    right = forked((12, 1), (12, -1))
    mirror = np.array([-1.0, 1.0])
    left = replace(
        right,
        id=2,
        path=right.path * mirror,
        overlap=right.overlap * mirror,
        branches=tuple(line * mirror for line in right.branches),
    )
    bare = closed_stack(CARD, MOTIF, [], STOCKS, TAPE)
    closed = closed_stack(CARD, MOTIF, [], STOCKS, TAPE, [left, right])
    assert closed.thickness == pytest.approx(bare.thickness + 2 * 2.0)


def test_glued_end_counts() -> None:
    part = replace(feeler(), diameter=2.0)
    closed = closed_stack(CARD, MOTIF, [], STOCKS, TAPE, [part])
    x, v = part.overlap[-1] + np.array([CARD.web, -1.0])
    (here,) = [
        area
        for area in closed.areas
        if shapely.Polygon(area.outer, area.holes).contains(shapely.Point(x, v))
    ]
    assert "hand-added part 1" in here.layers and "motif" in here.layers


def test_spine_is_as_wide_as_the_covers_are_apart() -> None:
    """Two covers 0.3 thick round a stack of 4.0: their middles are 3.7 apart; scored at 4.0."""
    assert spine_width(4.0, 0.3) == 4.0
    assert spine_width(3.8, 0.3) == 3.5
    assert spine_width(2.9, 0.3) == 0.0
