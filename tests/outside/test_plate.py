"""Bending against the handbook.

Plate coefficients: Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed. 1959,
articles from memory, coefficients checked here against their own series. Beams: standard tables.
"""

from collections.abc import Callable

import numpy as np
import pytest
import shapely

from tests.outlines import random_outline
from trace2pop.geometry import beziers
from trace2pop.mechanism.mesh import net
from trace2pop.mechanism.plate import Ints, Plate, rigidity, weight
from trace2pop.model.outline import FloatArray
from trace2pop.model.stock import Stock

WITHIN = 0.02
Hold = Callable[[Plate], Ints]


def isotropic(d: float, nu: float) -> FloatArray:
    return d * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])


def rim(plate: Plate) -> Ints:
    return np.unique(plate.edges[plate.boundary])


def clamped_rim(plate: Plate) -> Ints:
    return np.concatenate([rim(plate), plate.slopes[plate.boundary]])


def across(plate: Plate, u: float) -> Ints:
    return np.flatnonzero(np.isclose(plate.net.points[:, 0], u, atol=1e-6))


def clamped_end(plate: Plate, u: float) -> Ints:
    on = np.isclose(plate.net.points[plate.edges[plate.boundary], 0], u, atol=1e-6).all(axis=1)
    return np.concatenate([across(plate, u), plate.slopes[plate.boundary[on]]])


def bend(
    shape: shapely.Polygon,
    size: float,
    hold: Hold,
    bending: FloatArray,
    pressure: float,
    lines: tuple[float, ...] = (),
    hinge: float | None = None,
) -> tuple[Plate, FloatArray]:
    rules = [shapely.LineString([(u, -500), (u, 500)]) for u in lines]
    plate = Plate(net(shape, rules, size), hinge)
    count = len(plate.net.triangles)
    stiff = np.broadcast_to(bending, (count, 3, 3))
    return plate, plate.bend(stiff, np.full(count, pressure), hold(plate)).depth


def navier(d11: float, h: float, d22: float, a: float, b: float, q: float) -> float:
    """Middle of a simply supported orthotropic rectangle: Navier's double series (Art. 85)."""
    total = 0.0
    for m in range(1, 80, 2):
        for n in range(1, 80, 2):
            sign = (-1) ** ((m - 1) // 2 + (n - 1) // 2)
            x, y = (m / a) ** 2, (n / b) ** 2
            total += sign / (m * n * (d11 * x * x + 2 * h * x * y + d22 * y * y))
    return 16 * q / np.pi**6 * total


DISC = shapely.Point(0, 0).buffer(50, quad_segs=64)
SQUARE = shapely.box(-50, 0, 50, 100)


@pytest.mark.parametrize(
    ("shape", "hold", "coefficient"),
    [
        pytest.param(DISC, clamped_rim, 1 / 64 / 16, id="clamped disc, q a^4 / 64 D (Art. 16)"),
        pytest.param(DISC, rim, 5.3 / 1.3 / 64 / 16, id="supported disc, (5+nu)/(64(1+nu))"),
        pytest.param(SQUARE, rim, 0.00406, id="supported square (Art. 30, Table 8)"),
        pytest.param(SQUARE, clamped_rim, 0.00126, id="clamped square (Art. 44, Table 35)"),
    ],
)
def test_plates(shape: shapely.Polygon, hold: Hold, coefficient: float) -> None:
    """All are 100 mm across; nu = 0.3."""
    d, q = 6000.0, 2e-5
    _, depth = bend(shape, 2.3, hold, isotropic(d, 0.3), q)
    assert depth.max() == pytest.approx(coefficient * q * 100**4 / d, rel=WITHIN)


def test_orthotropic_square() -> None:
    stock = Stock("x", "x", 216, 0.3, 5.0, 2.5, 0.3, (300, 300), 90, "")
    d = rigidity(stock, 90)
    _, depth = bend(SQUARE, 2.3, rim, d, 2e-5)
    expected = navier(d[0, 0], d[0, 1] + 2 * d[2, 2], d[1, 1], 100, 100, 2e-5)
    assert depth.max() == pytest.approx(expected, rel=WITHIN)
    # Huber: the mixed term of a natural orthotropic plate is the geometric mean.
    assert d[0, 1] + 2 * d[2, 2] == pytest.approx(np.sqrt(d[0, 0] * d[1, 1]))


@pytest.mark.parametrize(("grain", "modulus"), [(0.0, 5000.0), (90.0, 2500.0)])
def test_cantilever_of_paper(grain: float, modulus: float) -> None:
    """It sags w L^4 / 8 E I, and the 4.707 mm worked out for 216 g/m2 of 0.30 mm across the grain.

    The strip is narrow, so it bends as a beam: with E, not with E / (1 - nu^2).
    """
    stock = Stock("x", "x", 216, 0.3, 5.0, 2.5, 0.3, (300, 300), 90, "")
    strip = shapely.box(0, 0, 100, 4)
    _, depth = bend(strip, 1.5, lambda p: clamped_end(p, 0), rigidity(stock, grain), weight(stock))
    expected = weight(stock) * 100**4 / (8 * modulus * 0.3**3 / 12)
    assert depth.max() == pytest.approx(expected, rel=WITHIN)
    if grain == 90:
        assert depth.max() == pytest.approx(4.707, rel=WITHIN)


def test_grain_askew_turns_with_the_plate() -> None:
    """A disc doesn't care which way its grain lies."""
    stock = Stock("x", "x", 216, 0.3, 5.0, 2.5, 0.3, (300, 300), 90, "")
    depths = [bend(DISC, 3.0, rim, rigidity(stock, grain), 2e-5)[1].max() for grain in (0, 30, 90)]
    assert depths == pytest.approx([depths[0]] * 3, rel=0.005)


def test_beam_overhanging_two_lines() -> None:
    """Tip: q a (3 a^3 + 6 a^2 L - L^3) / 24 EI; middle: 5 q L^4 / 384 EI - q a^2 L^2 / 16 EI."""
    d, q, a, span = 6000.0, 2e-5, 30.0, 40.0
    strip = shapely.box(0, 0, 100, 8)
    plate, depth = bend(
        strip,
        2.0,
        lambda p: np.concatenate([across(p, 30), across(p, 70)]),
        isotropic(d, 0.0),
        q,
        (30, 50, 70),
    )
    tip = q * a * (3 * a**3 + 6 * a * a * span - span**3) / (24 * d)
    middle = 5 * q * span**4 / (384 * d) - q * a * a * span * span / (16 * d)
    assert depth[across(plate, 0)].mean() == pytest.approx(tip, rel=WITHIN)
    assert depth[across(plate, 50)].mean() == pytest.approx(middle, rel=WITHIN)


def hermite_beam(
    places: FloatArray, supports: list[float], hinge: float, ei: float, q: float
) -> FloatArray:
    """Deflection at ``places`` of a beam per unit width, by cubic beam elements.

    Independent of the plate: Euler-Bernoulli, slopes cut at ``hinge``.
    """
    count = len(places)
    slope_right = {int(np.argmin(abs(places - hinge))): 2 * count}
    size = 2 * count + 1
    stiffness, force = np.zeros((size, size)), np.zeros(size)
    for i in range(count - 1):
        length = places[i + 1] - places[i]
        dofs = [2 * i, slope_right.get(i, 2 * i + 1), 2 * i + 2, 2 * i + 3]
        k = np.array(
            [
                [12, 6 * length, -12, 6 * length],
                [6 * length, 4 * length**2, -6 * length, 2 * length**2],
                [-12, -6 * length, 12, -6 * length],
                [6 * length, 2 * length**2, -6 * length, 4 * length**2],
            ]
        )
        stiffness[np.ix_(dofs, dofs)] += ei / length**3 * k
        force[dofs] += q * length / 12 * np.array([6, length, 6, -length])
    held = [2 * int(np.argmin(abs(places - u))) for u in supports]
    free = np.setdiff1d(np.arange(size), held)
    unknowns = np.zeros(size)
    unknowns[free] = np.linalg.solve(stiffness[np.ix_(free, free)], force[free])
    return unknowns[0 : 2 * count : 2]


def test_hinged_strip_agrees_with_a_beam_model() -> None:
    """The card's own case: a hinge with a support on it, one support on either side."""
    ei, q = 6000.0, 2e-5
    plate, depth = bend(
        shapely.box(-90, 0, 90, 8),
        2.0,
        lambda p: np.concatenate([across(p, u) for u in (-60.0, 0.0, 50.0)]),
        isotropic(ei, 0.0),
        q,
        (-60, 0, 50),
        hinge=0.0,
    )
    places = np.linspace(-90, 90, 181)
    beam = hermite_beam(places, [-60.0, 0.0, 50.0], 0.0, ei, q)
    expected = np.interp(plate.net.points[:, 0], places, beam)
    assert np.abs(depth - expected).max() < WITHIN * np.abs(beam).max()


def test_hinge_without_support_carries_shear() -> None:
    """Supports at -60, -20 and 30: the right part hangs on the hinge at 0."""
    ei, q = 6000.0, 2e-5
    plate, depth = bend(
        shapely.box(-90, 0, 60, 8),
        2.0,
        lambda p: np.concatenate([across(p, u) for u in (-60.0, -20.0, 30.0)]),
        isotropic(ei, 0.0),
        q,
        (-60, -20, 0, 30),
        hinge=0.0,
    )
    places = np.linspace(-90, 60, 151)
    beam = hermite_beam(places, [-60.0, -20.0, 30.0], 0.0, ei, q)
    expected = np.interp(plate.net.points[:, 0], places, beam)
    assert np.abs(depth - expected).max() < WITHIN * np.abs(beam).max()


@pytest.mark.parametrize("seed", range(12))
def test_the_crease_turns_freely_up_to_the_edge(seed: int) -> None:
    """The hinge is as long as the paper on it, and no triangle bridges it where it meets an edge.

    A sliver across its end welds the halves: six per cent less sag on a plain swimmer.
    """
    shift = np.random.default_rng(seed).uniform(-8, 8)
    drawn = beziers.polygon(random_outline(seed))
    paper = shapely.transform(drawn, lambda p: p - [drawn.centroid.x + shift, 0])
    plate = Plate(net(paper, [shapely.LineString([(0, -500), (0, 500)])], 2.0), hinge=0.0)
    ends = plate.net.points[plate.edges[plate.hinged[:, 0]]]
    crease = paper.simplify(2.0 / 40).intersection(shapely.LineString([(0, -500), (0, 500)]))
    assert np.abs(ends[:, 1] - ends[:, 0]).sum() == pytest.approx(crease.length, abs=1e-3)
    corners = plate.net.points[plate.net.triangles][:, :, 0]
    assert not ((corners.min(axis=1) < -1e-6) & (corners.max(axis=1) > 1e-6)).any()
    assert plate.areas.sum() == pytest.approx(paper.area, rel=2e-3)
