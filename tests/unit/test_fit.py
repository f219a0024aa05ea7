"""The largest size against brute force, the crease, and refusals as the maker reads them."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely

from tests.examples import CARD, lobed, motif
from tests.outlines import motif_of, random_outline
from trace2pop.errors import FitError, UsageError
from trace2pop.geometry import beziers
from trace2pop.limits import CENTRE_SPARE
from trace2pop.mechanism.beam import flange_pair, shortest_fold
from trace2pop.mechanism.linkage import pose
from trace2pop.mechanism.sizes import with_rise, with_size
from trace2pop.model.artwork import MirrorAxis, Motif
from trace2pop.model.card import Card, PlacedMotif
from trace2pop.model.outline import Outline
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings
from trace2pop.stages.fit import fit
from trace2pop.stages.fit.crease import centre_beam, longest_fold

SUPPORTS, FRAGILE, LARGEST = SupportSettings(), FragileSettings(), MotifSettings()
CARDS = (CARD, with_rise(CARD, 35.0), with_size(CARD, (105.0, 148.0)))


def closed_extent(placed: PlacedMotif) -> tuple[float, float, float]:
    """Return the motif's largest distance from the spine when closed, its least and largest v.

    By the poses, not by the closing law.
    """
    points = beziers.flatten(placed.outline.outer)
    left, right = pose(placed.card.web, (), 0.0).motif
    world = np.concatenate([left.at(points[points[:, 0] < 0]), right.at(points[points[:, 0] >= 0])])
    return float(world[:, 2].max()), float(world[:, 1].min()), float(world[:, 1].max())


def lobed_solid() -> shapely.Polygon:
    return shapely.Polygon(beziers.flatten(lobed().outer, 0.1))


def beam_fits(solid: shapely.Geometry, u: float, step: float, card: Card) -> bool:
    """Whether a shortest centre beam with its inset lies inside ``solid`` anywhere along ``u``.

    Its slit must leave the base's ends whole; ``solid`` lies centred along the crease.
    """
    flange = min(SUPPORTS.flanges)
    fold = shortest_fold(flange, SUPPORTS.taper) + CENTRE_SPARE.value
    needed = flange_pair(u, 0.0, fold, flange, SUPPORTS.taper).buffer(SUPPORTS.inset)
    _, top, _, bottom = solid.bounds
    ends = max(12.0, 0.1 * card.height) + SUPPORTS.slit_clearance / 2
    middle, half = (top + bottom) / 2, card.height / 2 - ends
    first, last = max(top, middle - half), min(bottom, middle + half)
    starts = np.arange(first, last - fold + 1e-9, step)
    shapely.prepare(solid)
    middles = shapely.points(np.full(len(starts), u), starts + fold / 2)
    starts = starts[shapely.contains(solid, middles)]
    copies = np.array([shapely.transform(needed, lambda p, s=s: np.add(p, (0, s))) for s in starts])
    return bool(len(copies) and shapely.contains(solid, copies).any())


@cache
def random_fit(seed: int) -> tuple[Motif, Card, PlacedMotif | None]:
    """Return a random motif, its card, and how it was placed, None where it was refused."""
    drawn, card = motif_of(random_outline(seed)), CARDS[seed % 3]
    try:
        return drawn, card, fit(drawn, card, LARGEST, SUPPORTS, FRAGILE)
    except FitError:
        return drawn, card, None


@pytest.mark.parametrize("first", range(0, 200, 20))
def test_no_larger_size_closes_and_holds_its_beam(first: int) -> None:
    """Brute force on 200 random outlines, over creases and beam places every 0.5 mm."""
    for seed in range(first, first + 20):
        drawn, card, placed = random_fit(seed)
        if placed is not None:
            reach, head, foot = closed_extent(placed)
            assert reach <= card.half_width - card.margin + 1e-6
            assert card.margin - 1e-6 <= head < foot <= card.height - card.margin + 1e-6
            solid = beziers.polygon(placed.outline)
            assert beam_fits(solid, 0.0, 0.25, card) or beam_fits(solid, 0.0, 0.01, card), seed
        scale = placed.scale if placed else 0.0
        assert not list(larger_by_brute_force(drawn, card, scale * 1.0001)), seed


def larger_by_brute_force(drawn: Motif, card: Card, scale: float) -> list[tuple[float, float]]:
    """Return (crease, scale) found on a grid that are larger than ``scale``."""
    solid = beziers.polygon(drawn.outline, 0.002)
    left, top, right, bottom = solid.bounds
    found = []
    for crease in np.linspace(left, right, 2 * int(right - left)):
        allowed = min(
            card.reach / max(crease - left, right - crease), card.window[1] / (bottom - top)
        )
        if allowed > scale:
            grown = shapely.transform(solid, lambda p, c=crease, k=allowed: (p - [c, 0]) * k)
            if beam_fits(grown, 0.0, 0.5, card):
                found.append((float(crease), float(allowed)))
    return found


def test_random_outlines_are_worth_testing() -> None:
    """Of the 200, many must have their crease pushed off the middle, or the test shows little."""
    fits = [random_fit(seed)[2] for seed in range(200)]
    findings = [finding.rule for placed in fits if placed for finding in placed.findings]
    pushed = findings.count("crease-off-middle")
    assert 2 <= sum(placed is None for placed in fits) <= 60
    assert pushed >= 10


def test_crease_lies_on_the_mirror_axis_and_its_tilt_is_taken_out() -> None:
    angle = np.radians(17.0)
    turn = np.array([[np.cos(angle), -np.sin(angle), 30.0], [np.sin(angle), np.cos(angle), -12.0]])
    outline = beziers.transform_outline(lobed(), turn)
    drawn = motif_of(outline, MirrorAxis((30.0, -12.0), 17.0, 1.0))
    placed = fit(drawn, CARD, LARGEST, SUPPORTS, FRAGILE)
    left, _, right, _ = beziers.bounds(placed.outline.outer)
    assert placed.symmetric
    assert placed.turn_deg == pytest.approx(-17.0)
    assert -left == pytest.approx(right, abs=1e-6)
    assert right == pytest.approx(CARD.reach, abs=1e-6)
    assert placed.limited_by == ("left", "right")


@pytest.mark.parametrize("x", [0.0, 7.0, -21.5])
def test_longest_fold_against_trying_every_length(x: float) -> None:
    box = shapely.box(-50, 0, 50, 100)
    beam = centre_beam(SUPPORTS, CARD)
    for shape in (box, box.difference(shapely.Point(6, 40).buffer(9)), lobed_solid()):
        _, top, _, bottom = shape.bounds
        longest = 0.0
        for v0 in np.arange(top, bottom, 1.0):
            for length in np.arange(shortest_fold(beam.flange, SUPPORTS.taper), bottom - v0 + 1, 1):
                pair = flange_pair(x, v0, v0 + length, beam.flange, SUPPORTS.taper)
                if length > longest and shape.covers(pair):
                    longest = float(length)
        assert longest - 1e-6 <= longest_fold(shape, x, beam) <= longest + 2


def test_height_may_be_what_stops_it() -> None:
    placed = fit(motif_of(lobed(60.0, 200.0)), CARD, LARGEST, SUPPORTS, FRAGILE)
    assert placed.limited_by == ("head", "foot")
    assert not placed.symmetric


def test_turning_freely_never_makes_it_smaller() -> None:
    for seed in range(6):
        drawn = motif_of(random_outline(seed))
        try:
            as_drawn = fit(drawn, CARD, LARGEST, SUPPORTS, FRAGILE).scale
        except FitError:
            as_drawn = 0.0
        best = fit(drawn, CARD, MotifSettings(turn="auto"), SUPPORTS, FRAGILE)
        assert best.scale >= as_drawn * (1 - 2e-4)
        reach, head, foot = closed_extent(best)
        assert reach <= CARD.half_width - CARD.margin + 1e-6
        assert head >= CARD.margin - 1e-6
        assert foot <= CARD.height - CARD.margin + 1e-6


def test_long_thin_motif_is_turned_onto_the_diagonal() -> None:
    """A bar of no width fits a window w x h best along its diagonal: sqrt(w^2 + h^2)."""
    bar = Outline(beziers.straight([(0, 0), (200, 0), (200, 0.5), (0, 0.5)], closed=True))
    supports = replace(SUPPORTS, flanges=(4.0,), inset=0.0)
    with pytest.raises(FitError):  # too thin for any beam: the turn is tested on a wider one
        fit(motif_of(bar), CARD, LARGEST, supports, FRAGILE)
    wide = Outline(beziers.straight([(0, 0), (200, 0), (200, 14), (0, 14)], closed=True))
    placed = fit(motif_of(wide), CARD, MotifSettings(turn="auto"), supports, FRAGILE)
    width, height = CARD.window
    turn = np.radians(abs(placed.turn_deg))
    across = 200 * np.cos(turn) + 14 * np.sin(turn)
    along = 200 * np.sin(turn) + 14 * np.cos(turn)
    assert placed.scale == pytest.approx(min(width / across, height / along), rel=1e-6)
    assert width / across == pytest.approx(height / along, rel=1e-3)


def feelered() -> Outline:
    """Return a 60 x 60 square with a feeler of 0.2 x 30 mm at its right side."""
    corners = [(0, 0), (60, 0), (60, 29.9), (90, 29.9), (90, 30.1), (60, 30.1), (60, 60), (0, 60)]
    return Outline(beziers.straight(corners, closed=True))


def test_feelers_count_unless_they_bend() -> None:
    drawn = motif_of(feelered())
    card = with_rise(CARD, 60.0)
    stiff = fit(drawn, card, LARGEST, SUPPORTS, FRAGILE)
    (note,) = stiff.findings
    assert note.rule == "feelers-set-the-size"
    assert numbers(note.advice)[0] == pytest.approx(50, abs=1)  # 90 against 60 mm counts
    bending = fit(drawn, card, LARGEST, SUPPORTS, replace(FRAGILE, bends=True))
    kept = fit(drawn, card, LARGEST, SUPPORTS, replace(FRAGILE, bends=True, spurs="keep"))
    assert stiff.scale * 90 == pytest.approx(card.window[0], rel=1e-6)
    assert bending.scale * 60 == pytest.approx(card.window[0], rel=1e-3)
    assert kept.scale == pytest.approx(stiff.scale)


def test_crease_avoids_a_feeler_where_it_can() -> None:
    """The feeler sticks out upwards, just where the middle of the body is."""
    corners = [(0, 0), (28.9, 0), (28.9, -25), (29.1, -25), (29.1, 0), (58, 0), (58, 40), (0, 40)]
    drawn = motif_of(Outline(beziers.straight(corners, closed=True)))
    card = with_size(with_rise(CARD, 10.0), (178.0, 100.0))
    placed = fit(drawn, card, LARGEST, SUPPORTS, FRAGILE)
    assert placed.limited_by == ("head", "foot")
    crease = -placed.to_card[0, 2] / placed.scale
    assert not 28.9 <= crease <= 29.1


def test_crease_runs_down_a_stem_rather_than_beside_it() -> None:
    """A bill, a body and a perch on a stem: the middle, 50, would fold 4 mm of the perch alone.

    That a fold through body, stem and perch is better: common practice, no published source.
    """
    parts = [
        shapely.box(0, 45, 50, 60),
        shapely.Polygon([(40, 40), (60, 0), (100, 0), (100, 100), (60, 100), (40, 60)]),
        shapely.box(57, 90, 60, 113),
        shapely.box(46, 112, 96, 120),
    ]
    corners = np.asarray(shapely.union_all(parts).exterior.coords)[:-1]
    drawn = motif_of(Outline(beziers.straight(corners, closed=True)))
    placed = fit(drawn, with_size(CARD, (200.0, 126.0 + 20)), LARGEST, SUPPORTS, FRAGILE)
    crease = -placed.to_card[0, 2] / placed.scale
    assert 57 <= crease <= 60


@pytest.mark.parametrize("radius", [2.0, 8.0, 20.0])
def test_rounded_corners_of_the_base_hide_the_motif_too(radius: float) -> None:
    """Checked by folding the motif onto the rounded base, drawn in by the margin."""
    plate = Outline(beziers.straight([(0, 0), (100, 0), (100, 82.3), (0, 82.3)], closed=True))
    placed = fit(motif_of(plate), CARD, LARGEST, SUPPORTS, FRAGILE, corner_radius=radius)
    sharp = fit(motif_of(plate), CARD, LARGEST, SUPPORTS, FRAGILE)
    base = shapely.box(-CARD.half_width, 0, CARD.half_width, CARD.height)
    base = base.buffer(-radius).buffer(radius, quad_segs=256).buffer(-CARD.margin, quad_segs=64)
    half = beziers.polygon(placed.outline).intersection(shapely.box(0, 0, 200, 200))
    folded = shapely.transform(half, lambda p: np.add(p, (CARD.web, 0)))
    assert folded.difference(base.buffer(1e-3)).area < 1e-6
    grown = shapely.affinity.scale(half, 1.001, 1.001, origin=(0, CARD.height / 2))
    grown = shapely.transform(grown, lambda p: np.add(p, (CARD.web, 0)))
    assert grown.difference(base).area > 0
    assert (placed.scale < sharp.scale) == (radius > CARD.margin)
    if radius > CARD.margin:
        with pytest.raises(FitError, match="rounded corners"):
            fit(
                motif_of(plate),
                CARD,
                MotifSettings(width=201.0),
                SUPPORTS,
                FRAGILE,
                corner_radius=radius,
            )


def test_size_that_fits_is_taken_as_asked() -> None:
    placed = fit(motif(), CARD, MotifSettings(width=150.0), SUPPORTS, FRAGILE)
    left, _, right, _ = beziers.bounds(placed.outline.outer)
    assert right - left == pytest.approx(150.0)
    assert placed.limited_by == ()


def test_one_size_at_a_time_and_a_scale_only_of_a_known_size() -> None:
    with pytest.raises(UsageError, match="--width and --height both"):
        fit(motif(), CARD, MotifSettings(width=90.0, height=60.0), SUPPORTS, FRAGILE)
    assert fit(motif(), CARD, MotifSettings(scale=1.7), SUPPORTS, FRAGILE).scale == 1.7
    with pytest.raises(UsageError, match="--drawn-width"):
        try:
            fit(motif_of(lobed()), CARD, MotifSettings(scale=1.0), SUPPORTS, FRAGILE)
        except UsageError as error:
            raise UsageError(error.advice, "") from error


def numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"\d+\.\d+|\d+", text)]


def test_each_way_out_of_a_refusal_is_true() -> None:
    """The numbers offered are tried: the smaller size, the lower rise and the larger card fit."""
    drawn = motif()
    with pytest.raises(FitError) as caught:
        fit(drawn, CARD, MotifSettings(width=208.0), SUPPORTS, FRAGILE)
    assert "3.3 mm at both fore edges" in str(caught.value)
    smaller, lower, larger = caught.value.advice.split("; or ")
    ok = replace(LARGEST, width=numbers(smaller)[0])
    fit(drawn, CARD, ok, SUPPORTS, FRAGILE)
    wanted = MotifSettings(width=208.0)
    fit(drawn, with_rise(CARD, numbers(lower)[0]), wanted, SUPPORTS, FRAGILE)
    width, height = numbers(larger)[-2:]
    fit(drawn, with_size(CARD, (width, height)), wanted, SUPPORTS, FRAGILE)


@pytest.mark.parametrize("tall", [61.3, 77.7, 103.1, 118.9, 131.7])
def test_the_most_there_may_be_is_never_told_rounded_up(tall: float) -> None:
    """Asked for to the digit, the size offered closes, and the card offered is large enough."""
    drawn, wanted = motif_of(lobed(97.3, tall)), MotifSettings(width=533.3)
    with pytest.raises(FitError) as caught:
        fit(drawn, CARD, wanted, SUPPORTS, FRAGILE)
    width, height = numbers(caught.value.advice)[:2]
    for size in (MotifSettings(width=width), MotifSettings(height=height)):
        fit(drawn, CARD, size, SUPPORTS, FRAGILE)
    across, along = numbers(caught.value.advice)[2:4]
    fit(drawn, with_size(CARD, (across, along)), wanted, SUPPORTS, FRAGILE)


def test_too_small_for_its_beam_says_from_which_size_on() -> None:
    drawn = motif_of(lobed(100.0, 66.0))
    with pytest.raises(FitError, match="no room for the beam") as caught:
        fit(drawn, CARD, MotifSettings(width=14.0), SUPPORTS, FRAGILE)
    least = numbers(caught.value.advice)[0]
    fit(drawn, CARD, MotifSettings(width=least), SUPPORTS, FRAGILE)
    with pytest.raises(FitError):
        fit(drawn, CARD, MotifSettings(width=least - 0.5), SUPPORTS, FRAGILE)


def test_too_tall_is_said_with_its_number() -> None:
    drawn = motif_of(lobed(60.0, 200.0))
    with pytest.raises(FitError, match=r"10\.0 mm each at head and foot") as caught:
        fit(drawn, CARD, MotifSettings(height=185.8), SUPPORTS, FRAGILE)
    assert "too tall" in caught.value.advice
    assert "--rise" not in caught.value.advice


def test_thin_axis_is_refused_with_the_flange_that_would_do() -> None:
    corners = [(0, 0), (40, 0), (46, 30), (54, 30), (60, 0), (100, 0), (100, 60), (60, 60)]
    corners += [(54, 32), (46, 32), (40, 60), (0, 60)]
    drawn = motif_of(
        Outline(beziers.straight(corners, closed=True)), MirrorAxis((50.0, 30.0), 0.0, 1.0)
    )
    with pytest.raises(FitError, match="on its mirror axis"):
        fit(drawn, CARD, LARGEST, SUPPORTS, FRAGILE)
    body = [(0, 10), (40, 10), (40, 28), (44.5, 28), (44.5, 0), (55.5, 0), (55.5, 28), (60, 28)]
    body += [(60, 10), (100, 10), (100, 50), (60, 50), (60, 32), (55.5, 32), (55.5, 60)]
    body += [(44.5, 60), (44.5, 32), (40, 32), (40, 50), (0, 50)]
    narrow = motif_of(
        Outline(beziers.straight(body, closed=True)), MirrorAxis((50.0, 30.0), 0.0, 1.0)
    )
    wide = replace(SUPPORTS, flanges=(20.0, 14.0))
    with pytest.raises(FitError) as caught:
        fit(narrow, CARD, LARGEST, wide, FRAGILE)
    flange = numbers(caught.value.advice)[0]
    fit(narrow, CARD, LARGEST, replace(SUPPORTS, flanges=(flange,)), FRAGILE)
    with pytest.raises(FitError, match="takes a flange of") as caught:
        fit(narrow, CARD, LARGEST, replace(SUPPORTS, inset=9.0), FRAGILE)
    flange, inset = numbers(caught.value.advice)[:2]
    fit(narrow, CARD, LARGEST, replace(SUPPORTS, flanges=(flange,), inset=inset), FRAGILE)
    with pytest.raises(FitError, match="there is none") as caught:
        fit(narrow, CARD, LARGEST, replace(SUPPORTS, inset=15.0), FRAGILE)
    flange, inset, times = numbers(caught.value.advice)[:3]
    fit(narrow, CARD, LARGEST, replace(SUPPORTS, flanges=(flange,), inset=inset), FRAGILE)
    assert times > 1
