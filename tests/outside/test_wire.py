"""A wire glued along a sheet against beam tables: a cantilever of paper and wire side by side."""

import numpy as np
import pytest
import shapely

from trace2pop.mechanism.mesh import net
from trace2pop.mechanism.plate import Plate
from trace2pop.mechanism.wire import added, bending_and_twist, weight

LENGTH, WIDTH = 80.0, 10.0
D, PAPER = 5.625, 2.1182e-6
"""Across the grain, 216 g/m2, 0.30 mm: N mm and N/mm2 (facts of the field, E = 2.5 GPa assumed)."""


def test_a_wire_by_the_handbook() -> None:
    """Pi d^4 / 64 and pi d^4 / 32; 7.85 g/cm3: 1 mm of steel wire weighs 6.17 g a metre."""
    bend, twist = bending_and_twist(1.0)
    assert bend == pytest.approx(200e3 * 0.0490874, rel=1e-4)
    assert twist == pytest.approx(77e3 * 0.0981748, rel=1e-4)
    assert weight(1.0) * 1000 / 9.80665 == pytest.approx(6.17e-3, rel=2e-3)
    assert weight(2.0) == pytest.approx(4 * weight(1.0))


@pytest.mark.parametrize("diameter", [0.5, 0.8, 1.2])
def test_a_strip_with_a_wire_droops_as_a_cantilever(diameter: float) -> None:
    """By q L^4 / (8 E I) of both together (standard beam table): never stiffer, near it if fine."""
    bend, _ = bending_and_twist(diameter)
    load = PAPER * WIDTH + weight(diameter)
    told = load * LENGTH**4 / (8 * (D * WIDTH + bend))
    off = []
    for size in (3.0, 1.0):
        sag = tip(size, diameter)
        off.append(sag / told - 1)
    assert all(each > -0.02 for each in off)
    assert off[1] < 0.25
    assert off[1] < off[0]


def test_across_the_wire_the_paper_bends_as_before() -> None:
    mesh = net(shapely.box(0, 0, 40, 40), [], 2.0)
    rigid, heavy = added(mesh, np.array([[5.0, 20.0], [35.0, 20.0]]), 1.0)
    assert np.abs(rigid[:, 1, 1]).max() < 1e-9 * np.abs(rigid[:, 0, 0]).max()
    whole = float((heavy * mesh.areas).sum())
    assert whole == pytest.approx(30 * weight(1.0), rel=1e-6)


def tip(size: float, diameter: float) -> float:
    """Return how far the end of the strip sinks, 10 mm of it clamped."""
    clamp = shapely.LineString([(0.0, -1.0), (0.0, WIDTH + 1)])
    plate = Plate(net(shapely.box(-10, 0, LENGTH, WIDTH), [clamp], size))
    rigid, heavy = added(plate.net, np.array([[-10.0, 5.3], [LENGTH, 5.3]]), diameter)
    bent = plate.bend(
        D * np.diag([1.0, 1.0, 0.5]) + rigid,
        PAPER + heavy,
        np.flatnonzero(plate.net.points[:, 0] < 1e-6),
    )
    return float(bent.depth[np.argmax(plate.net.points[:, 0])])
