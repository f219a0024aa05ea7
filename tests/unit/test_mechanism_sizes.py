"""Windows, rises and cards: each answer is tried by the closing law's poses."""

from dataclasses import replace

import numpy as np
import pytest

from tests.examples import CARD, STOCK, lobed
from tests.outlines import motif_of
from trace2pop import data
from trace2pop.errors import FitError, UsageError
from trace2pop.mechanism.card import card_of
from trace2pop.mechanism.linkage import pose
from trace2pop.mechanism.sizes import (
    cards_for,
    highest_rise,
    rise_for,
    smallest_card,
    windows,
    with_rise,
    with_size,
)
from trace2pop.model.settings import (
    CardSettings,
    FragileSettings,
    MotifSettings,
    SupportSettings,
)
from trace2pop.stages.fit import fit


def test_sizes_of_the_default_card() -> None:
    """5 x 7 in, border 3, rise 20, paper 0.3, equal tapes: counted by hand."""
    card = card_of(CardSettings(), STOCK, 0.1)
    assert (card.half_width, card.height) == pytest.approx((124.0, 171.8))
    assert card.web == pytest.approx(20.3)
    assert card.window == pytest.approx((2 * (124 - 20.3 - 3), 165.8))
    across = card_of(CardSettings(spine="short"), STOCK, 0.1)
    assert (across.outer.width, across.outer.height) == pytest.approx((177.8, 127.0))
    assert (across.half_width, across.height) == pytest.approx((174.8, 121.0))


def test_window_points_just_close_and_points_past_it_do_not() -> None:
    for rise, window in windows(CardSettings(), STOCK, 0.1, (10.0, 25.0, 60.0)):
        assert window is not None
        card = with_rise(CARD, rise)
        corner = np.array([[window[0] / 2, card.height / 2 - window[1] / 2]])
        world = pose(card.web, (), 0.0).motif[1].at(corner)[0]
        assert world[2] == pytest.approx(card.half_width - card.margin)
        assert world[1] == pytest.approx(card.margin)


def test_no_window_is_none_or_an_error_with_its_number() -> None:
    assert windows(CardSettings(), STOCK, 0.1, (121.0,)) == ((121.0, None),)
    with pytest.raises(FitError, match=r"124\.0 mm from spine to fore edge"):
        card_of(CardSettings(rise=130.0), STOCK, 0.1)
    with pytest.raises(UsageError, match="leave nothing"):
        card_of(CardSettings(size=(50.0, 60.0), border=28.0), STOCK, 0.1)


def test_highest_rise_is_where_the_reach_is_used_up() -> None:
    rise = highest_rise(CARD, 80.0)
    assert with_rise(CARD, rise).reach == pytest.approx(80.0)
    assert rise_for(CARD, 80.0) == pytest.approx(np.floor(rise * 10) / 10)
    assert rise_for(CARD, 117.0) is None


def test_smallest_card_is_smallest_by_trying_all() -> None:
    random = np.random.default_rng(2)
    for reach, height in random.uniform([20, 30], [150, 250], (50, 2)):
        found = smallest_card(CARD, reach, height)
        fitting = [
            row
            for row in data.cards().values()
            if with_size(CARD, row.size).window[0] >= 2 * reach
            and with_size(CARD, row.size).window[1] >= height
        ]
        best = min(fitting, key=lambda row: row.size[0] * row.size[1], default=None)
        assert (found and found.size) == (best and best.size)


def test_cards_for_fixed_art_give_their_highest_rise() -> None:
    rows = cards_for(CARD, 60.0, 100.0)
    assert rows
    for row, rise in rows:
        card = with_rise(with_size(CARD, row.size), rise)
        assert card.reach >= 60.0 - 1e-9
        assert card.window[1] >= 100.0
        assert with_rise(card, rise + 0.11).reach < 60.0
    areas = [row.size[0] * row.size[1] for row, _ in rows]
    assert areas == sorted(areas)


def test_size_falls_as_the_rise_grows() -> None:
    supports, fragile = SupportSettings(), FragileSettings()
    scales = [
        fit(motif_of(lobed()), with_rise(CARD, rise), MotifSettings(), supports, fragile).scale
        for rise in (10.0, 20.0, 40.0, 80.0)
    ]
    assert scales == sorted(scales, reverse=True)
    assert scales[0] > 1.5 * scales[-1]
    with pytest.raises(FitError, match="no room for the beam"):
        fit(motif_of(lobed()), with_rise(CARD, 118.0), MotifSettings(), supports, fragile)
    wide = replace(CARD, margin=0.0)
    assert fit(motif_of(lobed()), wide, MotifSettings(), supports, fragile).scale > scales[1]
