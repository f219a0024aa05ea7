"""Bezier chains against svgpathtools (a registry library) and closed forms."""

import numpy as np
import pytest

from trace2pop.geometry import beziers
from trace2pop.model.outline import Outline

KAPPA = 4 / 3 * (np.sqrt(2) - 1)
"""Handle length of the usual four-cubic circle (common knowledge, re-derived: B(1/2) on r = 1)."""


def circle(radius: float = 10.0, centre: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    quarter = np.array([[1, 0], [1, KAPPA], [KAPPA, 1], [0, 1]])
    turn = np.array([[0, 1], [-1, 0]])
    chain = [quarter]
    for _ in range(3):
        chain.append(chain[-1] @ turn)
    return radius * np.array(chain) + np.array(centre)


def random_chain(seed: int, count: int = 12) -> np.ndarray:
    rng = np.random.default_rng(seed)
    nodes = rng.uniform(-50, 50, (count, 2))
    handles = rng.normal(0, 15, (count, 2, 2))
    ends = np.roll(nodes, -1, axis=0)
    return np.stack([nodes, nodes + handles[:, 0], ends + handles[:, 1], ends], axis=1)


@pytest.mark.parametrize("tolerance", [0.1, 0.01, 0.001])
def test_flattened_points_stay_within_tolerance(tolerance: float) -> None:
    flat = beziers.flatten(circle(), tolerance)
    middles = (flat[1:] + flat[:-1]) / 2
    # The four-cubic circle itself is 2.7e-4 r off a true one.
    assert np.abs(np.hypot(*middles.T) - 10).max() <= tolerance + 0.0028
    assert len(flat) < 40 / np.sqrt(tolerance)


@pytest.mark.parametrize("seed", range(8))
def test_bounds_agree_with_svgpathtools(seed: int) -> None:
    chain = random_chain(seed)
    x0, x1, y0, y1 = beziers.to_path(chain).bbox()
    assert beziers.bounds(chain) == pytest.approx((x0, y0, x1, y1), abs=1e-7)


def test_straight_chain_is_written_as_lines() -> None:
    from svgpathtools import Line

    square = beziers.straight([(0, 0), (10, 0), (10, 10), (0, 10)], closed=True)
    assert all(isinstance(segment, Line) for segment in beziers.to_path(square))
    assert beziers.polygon(Outline(square)).area == pytest.approx(100)
    assert beziers.bounds(square) == (0, 0, 10, 10)


def test_polygon_keeps_holes_and_round_trips() -> None:
    ring = Outline(circle(10), (circle(4),))
    shape = beziers.polygon(ring)
    again = beziers.polygon(beziers.from_polygon(shape))
    assert shape.area == pytest.approx(np.pi * (100 - 16), rel=1e-3)
    assert again.equals_exact(shape, 1e-12)
