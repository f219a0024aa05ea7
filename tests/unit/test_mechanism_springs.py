"""Folds as springs: sway and resting gap against energy differences and balance by hand."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.examples import CARD, STOCK, STOCKS, beams, cut_motif
from trace2pop.geometry import beziers
from trace2pop.limits import FOLD_LENGTH, FOLD_REST
from trace2pop.mechanism.linkage import pose
from trace2pop.mechanism.springs import fold_stiffness, resting_gap, sway_of, weight

MOTIF = beziers.polygon(cut_motif().outline)


def test_fold_stiffness_by_hand() -> None:
    """E = sqrt(5 * 2.5) GPa, t = 0.3 mm: E t^3 / 12 = 7.955 N mm, over 50 mm."""
    assert FOLD_LENGTH.value == 50.0
    assert fold_stiffness(STOCK) == pytest.approx(7.955 / 50, rel=1e-3)
    assert weight(10_000, STOCK) == pytest.approx(0.0216 * 0.980665, rel=1e-6)


def test_sway_holds_only_with_folds() -> None:
    """Second differences of the energy over the poses' own sway: without folds it tips over."""
    kappa = fold_stiffness(STOCK)
    load = weight(MOTIF.area, STOCK)
    length = sum(one.v1 - one.v0 for one in beams())

    def energy(sway_deg: float, stiffness: float) -> float:
        height = pose(CARD.web, beams(), 180.0, sway_deg=sway_deg).motif[1].origin[2]
        turn = np.radians(sway_deg)
        return float(load * height + 0.5 * 4 * stiffness * length * turn**2)

    def curvature(stiffness: float) -> float:
        step = np.degrees(1e-3)
        return (
            energy(step, stiffness) - 2 * energy(0.0, stiffness) + energy(-step, stiffness)
        ) / 1e-6

    found = sway_of(CARD, MOTIF, beams(), STOCKS)
    assert curvature(0.0) == pytest.approx(-found.tipping, rel=1e-4)
    assert curvature(0.0) < 0
    assert curvature(kappa) == pytest.approx(found.stiffness - found.tipping, rel=1e-4)
    assert found.ratio > 5
    assert found.hung == pytest.approx(CARD.web * found.tipping / found.stiffness)


def test_resting_gap_balances_folds_and_weight() -> None:
    """The moment at the angle found vanishes, folds counted one by one."""
    gap = resting_gap(CARD, MOTIF, beams(), STOCKS, spine=4.0, thickness=4.0)
    opening = 2 * np.arcsin(gap / 2 / CARD.outer.width)
    kappa, rest = fold_stiffness(STOCK), np.radians(FOLD_REST.value)
    inside = MOTIF.intersection(shapely.LineString([(0, 0), (0, 200)])).length
    slit = beams()[0].slit.v1 - beams()[0].slit.v0
    moment = 0.0
    for length in (CARD.height - slit, inside):
        moment += kappa * length * (rest - opening)
    moment += 2 * kappa * CARD.outer.height * (rest - opening / 2) / 2
    for one in beams():
        moment += 4 * kappa * (one.v1 - one.v0) * (rest - opening / 2) / 2
    half = MOTIF.intersection(shapely.box(0, 0, 200, 200))
    moment -= weight(CARD.outer.width * CARD.outer.height, STOCK) * CARD.outer.width / 2
    moment -= weight(CARD.half_width * CARD.height, STOCK) * CARD.half_width / 2
    moment -= weight(half.area, STOCK) * (half.centroid.x + CARD.web)
    assert abs(moment) < 1e-9


def test_stiffer_paper_springs_open_further_and_heavy_covers_close() -> None:
    def gap(**changes: float) -> float:
        stocks = {**STOCKS, "outer": replace(STOCK, **changes)}
        return resting_gap(CARD, MOTIF, beams(), stocks, spine=0.0, thickness=4.0)

    assert gap(e_along=8.0) > gap() > gap(grammage=400.0) >= 4.0
    assert gap(grammage=5000.0) == 4.0
