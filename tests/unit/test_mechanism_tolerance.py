"""What hands do: the Monte Carlo against exact first-order chances, and against its own margin.

Outside the project: scipy.stats' multivariate normal distribution.
"""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.stats import multivariate_normal

from tests.examples import CARD, feeler
from trace2pop.mechanism.chances import any_positive, both
from trace2pop.mechanism.tolerance import ERRORS, tolerance_finding, tolerance_of
from trace2pop.model.card import Card
from trace2pop.model.settings import HandsSettings

HANDS = HandsSettings()


def plate(card: Card, *, along: float = 0.5) -> shapely.Geometry:
    """Return a rectangle that fills the card's window across, and ``along`` of it lengthwise."""
    half = along * card.window[1] / 2
    return shapely.box(-card.reach, card.height / 2 - half, card.reach, card.height / 2 + half)


@pytest.mark.parametrize("margin", [0.3, 0.6, 0.9])
def test_chance_of_a_short_motif_is_the_exact_one(margin: float) -> None:
    """A motif of almost no length can't turn: both fore edges are jointly normal, by hand.

    Right edge: beam + fold*sqrt2 + crease + cut - base - own cut; left the same with crease and
    base the other way.
    """
    card = replace(CARD, margin=margin)
    found = tolerance_of(card, plate(card, along=1e-6), HANDS)
    beam, fold, cut = 0.25, 0.15, 0.1
    common = beam**2 + 2 * fold**2 + cut**2
    variance = common + 2 * fold**2 + cut**2
    cov = [[variance, common - 2 * fold**2], [common - 2 * fold**2, variance]]
    exact = 1 - multivariate_normal.cdf([margin, margin], cov=cov)
    spread = np.sqrt(exact * (1 - exact) / found.samples)
    assert abs(found.chance - exact) < 4 * spread
    assert found.linear == pytest.approx(exact, rel=1e-4)
    assert dict(found.shares)["beams placed sideways"] == pytest.approx(beam**2 / variance)


def test_long_motif_suffers_most_from_being_askew() -> None:
    card = replace(CARD, margin=0.8)
    long, short = (tolerance_of(card, plate(card, along=share), HANDS) for share in (0.98, 0.001))
    assert long.dominant == "motif askew"
    assert short.dominant == "beams placed sideways"
    assert long.chance > 2 * short.chance
    assert long.linear == pytest.approx(long.chance, rel=0.1)


def test_the_margin_named_makes_it_one_in_a_hundred() -> None:
    card = replace(CARD, margin=0.5)
    found = tolerance_of(card, plate(card, along=0.8), HANDS)
    better = replace(CARD, margin=found.margin)
    again = tolerance_of(better, plate(better, along=0.8), HANDS)
    assert again.chance == pytest.approx(0.01, abs=0.002)
    assert again.clearance == pytest.approx(found.margin, abs=1e-6)


def test_finding_only_where_it_is_worse_than_one_in_twenty() -> None:
    tight, wide = replace(CARD, margin=0.2), CARD
    assert tolerance_finding(tolerance_of(wide, plate(wide), HANDS)) == ()
    (finding,) = tolerance_finding(tolerance_of(tight, plate(tight), HANDS))
    assert finding.rule == "shows-when-closed"
    assert "--margin" in finding.advice


def test_stiff_parts_count_and_scale_matters_where_size_hangs_on_it() -> None:
    small = plate(CARD, along=0.3).buffer(-12)
    part = replace(feeler(), path=np.array([[8.0, 60.0], [8.0, 1.0]]))
    without = tolerance_of(CARD, small, HANDS)
    with_part = tolerance_of(CARD, small, HANDS, [part])
    assert with_part.clearance == pytest.approx(1.0 - part.diameter / 2, abs=0.02)
    assert with_part.chance > without.chance
    scaled = tolerance_of(CARD, plate(CARD), HANDS, scale_sigma=0.02)
    assert scaled.dominant == "scale of the drawing"
    assert len(scaled.shares) == len(ERRORS)


def test_joint_chances_are_those_of_the_normal_distribution() -> None:
    random = np.random.default_rng(3)
    for _ in range(20):
        change = random.normal(size=(2, 3))
        values = random.normal(-1, 1.5, size=2)
        exact = 1 - multivariate_normal.cdf(-values, cov=change @ change.T)
        assert any_positive(values, change) == pytest.approx(exact, abs=1e-6)
    for first, second in ((0.0, 0.0), (0.0, -1.0), (-2.0, 1.0), (1.0, 1.0)):
        for correlation in (-0.999, -0.4, 0.0, 0.7, 0.9999):
            exact = multivariate_normal.cdf(
                [first, second], cov=[[1, correlation], [correlation, 1]]
            )
            assert both(first, second, correlation) == pytest.approx(exact, abs=1e-6)


def test_joint_chance_of_many_is_bounded_from_above_and_closely() -> None:
    random = np.random.default_rng(4)
    for _ in range(5):
        change = random.normal(size=(6, 4))
        values = random.normal(-4, 1.0, size=6)
        drawn = values + random.standard_normal((200_000, 4)) @ change.T
        share = float((drawn > 0).any(axis=1).mean())
        assert share - 0.004 <= any_positive(values, change) <= 1.3 * share + 0.004


def test_same_seed_same_numbers() -> None:
    assert tolerance_of(CARD, plate(CARD), HANDS) == tolerance_of(CARD, plate(CARD), HANDS)
