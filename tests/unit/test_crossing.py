"""Curves that cross: told of by closed forms, and never left in a traced outline."""

import numpy as np
import pytest
import shapely

from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import crossings, uncrossed
from trace2pop.model.outline import Outline
from trace2pop.stages.trace.outlining import outline_of

KAPPA = 4 / 3 * (np.sqrt(2) - 1)

TIGHT = (
    (0.22, 4.09), (0.49, 2.48), (-0.06, 1.67), (-0.13, 1.03), (-0.10, 0.63), (-0.09, 0.54),
    (-0.07, 0.47), (-0.07, 0.46), (-0.06, 0.38), (-0.05, 0.30), (-0.03, 0.22), (0.00, 0.14),
    (0.01, 0.13), (0.03, 0.06), (0.03, -0.02), (0.01, -0.04), (-0.07, -0.05), (-0.15, -0.10),
    (-0.22, -0.18), (-0.23, -0.19), (-0.27, -0.26), (-0.29, -0.34), (-0.31, -0.42), (-0.31, -0.44),
    (-0.32, -0.50), (-0.34, -0.58), (-0.55, -1.51), (-0.63, -0.26), (-0.63, -0.24), (-0.63, -0.18),
    (-0.64, -0.10), (-0.64, -0.02), (-0.64, 0.06), (-0.64, 0.14), (-0.64, 0.22), (-0.66, 3.37),
)  # fmt: skip
"""Contour points (mm) of a gap between two petals, from a scan: a corner's tip lay past samples
that were still fitted, so that a curve turned back there and crossed its neighbour within 2 um."""


def circle(radius: float, centre: tuple[float, float] = (0.0, 0.0)) -> np.ndarray:
    chain = [np.array([[1, 0], [1, KAPPA], [KAPPA, 1], [0, 1]])]
    for _ in range(3):
        chain.append(chain[-1] @ np.array([[0, 1], [-1, 0]]))
    return radius * np.array(chain) + np.array(centre)


def sharp(angle: float) -> Outline:
    """Return a drop whose two sides leave the origin ``angle`` apart, both bending inwards."""
    up = np.array([[0, 0], [10, 10 * np.tan(angle / 2)], [20, -5], [30, 0]])
    return Outline(np.array([up, (up * (1, -1))[::-1]]))


def test_a_circle_does_not_cross_itself() -> None:
    assert uncrossed(Outline(circle(10), (circle(4),)))
    assert len(crossings(Outline(circle(10), (circle(4),)))) == 0


@pytest.mark.parametrize("radius", [3.0, 5.0])
def test_circles_cross_where_geometry_says(radius: float) -> None:
    """Two circles' common points from their radical line (Euclid; re-derived here)."""
    apart = 11.0
    x = (100 - radius**2 + apart**2) / (2 * apart)
    expected = np.array([[x, -np.sqrt(100 - x * x)], [x, np.sqrt(100 - x * x)]])
    outline = Outline(circle(10), (circle(radius, (apart, 0)),))
    found = crossings(outline)
    assert not uncrossed(outline)
    # The four-cubic circle itself is 2.7e-4 r off a true one.
    assert found[np.argsort(found[:, 1])] == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("angle", [1e-2, 1e-4, 1e-6])
def test_a_crossing_nearer_to_a_node_than_any_chord_is_seen(angle: float) -> None:
    """The upper side starts above the axis, as far as ``angle`` says, and at once bends below it.

    y = 3 s^2 t (10 tan) - 15 s t^2 is zero at t = 2 tan / (1 + 2 tan): there, at x = 30 t, both
    sides meet, so flatly that chords place it to a few hundredths of a millimetre.
    """
    slope = np.tan(angle / 2)
    x = 30 * 2 * slope / (1 + 2 * slope)
    outline = sharp(angle)
    assert not uncrossed(outline)
    near = crossings(outline)
    near = near[np.hypot(*near.T) < 5]
    assert near == pytest.approx(np.array([[x, 0.0]]), abs=0.02)


def test_curves_closer_than_the_flattening_still_make_a_valid_polygon() -> None:
    """A ring 10 um wide at one side: coarse chords of its two circles cross, the circles don't."""
    turn = np.array([[np.cos(0.4), np.sin(0.4)], [-np.sin(0.4), np.cos(0.4)]])
    outline = Outline(circle(10), (circle(9.5) @ turn + np.array([0.49, 0.0]),))
    coarse = shapely.Polygon(
        beziers.flatten(outline.outer, 0.05), [beziers.flatten(outline.holes[0], 0.05)]
    )
    assert not coarse.is_valid
    assert uncrossed(outline)
    shape = beziers.polygon(outline, 0.05)
    assert shape.is_valid
    assert shape.area == pytest.approx(np.pi * (100 - 9.5**2), rel=0.01)


def test_an_outline_that_crosses_itself_still_makes_a_valid_polygon() -> None:
    bow = beziers.straight([(0, 0), (10, 10), (10, 0), (0, 6)], closed=True)
    shape = beziers.polygon(Outline(bow))
    assert shape.is_valid
    assert shape.geom_type == "Polygon"
    assert 0 < shape.area < 50


@pytest.mark.parametrize("tolerance", [0.02, 0.03, 0.05])
def test_a_traced_gap_is_never_crossed_by_its_own_curves(tolerance: float) -> None:
    outline = outline_of(shapely.Polygon(TIGHT), 12.4, tolerance)
    assert uncrossed(outline)
    for finer in (0.005, 0.002, 0.001, 0.0005, 0.0001, 0.00002):
        assert shapely.Polygon(beziers.flatten(outline.outer, finer)).is_valid
    off = shapely.hausdorff_distance(
        beziers.polygon(outline).exterior, shapely.Polygon(TIGHT).exterior
    )
    assert off < 0.2
