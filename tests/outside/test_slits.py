"""Slits under blur, against wedges blurred and contoured by scipy and scikit-image.

The pictures are made from their formulas, sixteen samples a pixel; the blur is scipy's Gaussian
filter, the contour scikit-image's. The width that blur fills is the normal distribution's
interquartile range, 1.349 standard deviations (any table of the normal distribution).
"""

import numpy as np
import pytest
import shapely
from scipy.ndimage import gaussian_filter
from skimage.measure import find_contours

from trace2pop.geometry.slits import drawn_out

FINE = 4
SIZE = 120
END = np.array([60.3, 90.6])


def seen(width: np.ndarray, turn: float, blur: float, *, ink: bool = False) -> list[np.ndarray]:
    """Return the contours of a sheet of ink with a slit in it, as blur leaves them, in px.

    ``width`` tells the slit's width at 0, 1, 2 .. px from its end; it runs on to the sheet's head
    edge. With ``ink`` the colours are swapped.
    """
    y, x = (np.mgrid[: SIZE * FINE, : SIZE * FINE] + 0.5) / FINE
    along = (END[1] - y) * np.cos(turn) + (END[0] - x) * np.sin(turn)
    aside = (END[0] - x) * np.cos(turn) - (END[1] - y) * np.sin(turn)
    half = np.interp(along, np.arange(len(width)), width / 2, left=-1)
    paper = (np.abs(aside) < half) | (np.minimum(np.minimum(x, SIZE - x), SIZE - y) < 5) | (y < 15)
    cover = gaussian_filter((paper if ink else ~paper).astype(float), blur * FINE)
    cover = cover.reshape(SIZE, FINE, SIZE, FINE).mean(axis=(1, 3))
    return [ring[:-1, ::-1] + 0.5 for ring in find_contours(np.pad(cover, 1), 0.5)]


def off(rings: list[np.ndarray]) -> float:
    """Return how far the slit's end is from the outline, in px."""
    return min(shapely.LinearRing(ring - 1).distance(shapely.Point(END)) for ring in rings)


@pytest.mark.parametrize("angle", [7, 10, 15, 25])
@pytest.mark.parametrize("blur", [0.8, 1.3])
def test_a_wedge_ends_where_it_ended_before_the_blur(angle: float, blur: float) -> None:
    width = 2 * np.tan(np.radians(angle / 2)) * np.arange(100)
    before = seen(width, 0.1, blur)
    whole = float(np.hypot(blur, 12**-0.5))  # a pixel is a blur too
    after = drawn_out(before, whole)
    eaten = 1.349 * whole / (2 * np.tan(np.radians(angle / 2)))
    assert off(before) == pytest.approx(eaten, rel=0.25)
    assert off(after) < 0.25 * eaten
    assert all(shapely.Polygon(ring).is_valid for ring in after)


def test_its_sides_are_mended_too() -> None:
    blur, slope = 1.2, 0.2
    rings = drawn_out(seen(slope * np.arange(100), 0.0, blur), float(np.hypot(blur, 12**-0.5)))
    sheet = shapely.Polygon(rings[0] - 1)
    for back in (4.0, 8.0, 12.0, 16.0):
        y = END[1] - back
        across = shapely.LineString([(END[0] - 8, y), (END[0] + 8, y)])
        assert across.difference(sheet).length == pytest.approx(slope * back, abs=0.12)


@pytest.mark.parametrize("width", [2.2, 3.0, 4.0])
def test_a_blunt_slit_is_not_drawn_on(width: float) -> None:
    before = seen(np.full(100, width), 0.2, 1.2)
    for ring, same in zip(drawn_out(before, 1.25), before, strict=True):
        assert np.array_equal(ring, same)


def test_a_needle_of_ink_is_left() -> None:
    """How dark thin ink is isn't known well enough to tell how wide it was."""
    before = seen(0.2 * np.arange(100), 0.1, 1.2, ink=True)
    for ring, same in zip(drawn_out(before, 1.25), before, strict=True):
        assert np.array_equal(ring, same)


def test_a_slit_is_not_drawn_into_another_edge() -> None:
    """A window lies where the slit would end."""
    before = seen(0.12 * np.arange(100), 0.0, 1.2)
    window = shapely.Point(END[0] + 1, END[1] - 2).buffer(4).exterior
    hole = shapely.get_coordinates(window)[:-1] + 1
    after = drawn_out([*before, hole], 1.25)
    assert np.array_equal(after[0], before[0])
