"""A round steel wire glued along the back of a sheet: what it adds to stiffness and weight.

Steel: E = 200 GPa, G = 77 GPa, 7850 kg/m3 (common handbook values, from memory). Drawn and
annealed wire differ in strength, not in stiffness; copper has little more than half of it,
aluminium a third.
"""

import numpy as np
import shapely

from trace2pop.mechanism.mesh import Net
from trace2pop.mechanism.plate import GRAVITY, Ints
from trace2pop.model.outline import FloatArray

_E, _G = 200e3, 77e3
"""N/mm2."""
_DENSITY = 7.85e-6
"""kg/mm3."""
_BAND = np.linspace(-2.5, 2.5, 7)
"""mm beside the wire over which its stiffness is spread: triangles are as large as that."""
_STEP = 0.25
"""mm along the wire at which it is read."""


def bending_and_twist(diameter: float) -> tuple[float, float]:
    """Return a round wire's E I and G J in N mm2: pi d^4 / 64 and pi d^4 / 32 times the moduli."""
    inertia = float(np.pi) * diameter**4 / 64
    return _E * inertia, 2 * _G * inertia


def added(net: Net, line: FloatArray, diameter: float) -> tuple[FloatArray, FloatArray]:
    """Return what a wire along ``line`` (n, 2) adds to each triangle's rigidity and pressure.

    Rigidity (m, 3, 3) in N mm over curvatures (uu, vv, twice uv), pressure (m,) in N/mm2. The wire
    bends and twists with the paper; in a triangle of area A its length s counts as E I s / A.
    Left out is that paper and wire lie one on the other, which makes both stiffer. On a coarse net
    the wire comes out softer than it is, never stiffer (tests/outside/test_wire.py).
    """
    whole = shapely.LineString(line)
    count = max(int(np.ceil(whole.length / _STEP)), 1)
    ends = shapely.get_coordinates(
        shapely.line_interpolate_point(whole, np.linspace(0, whole.length, count + 1))
    )
    steps = np.diff(ends, axis=0)
    length = np.linalg.norm(steps, axis=1)
    c, s = steps.T / np.maximum(length, 1e-12)
    step, element = _beside(net, (ends[1:] + ends[:-1]) / 2, np.stack([-s, c], axis=1))
    share = length[step] / np.bincount(step, minlength=count)[step] / net.areas[element]
    along = np.stack([c * c, s * s, c * s], axis=1)[step]
    across = np.stack([-c * s, c * s, (c * c - s * s) / 2], axis=1)[step]
    bend, twist = bending_and_twist(diameter)
    block = bend * along[:, :, None] * along[:, None, :]
    block += twist * across[:, :, None] * across[:, None, :]
    rigidity = np.zeros((len(net.triangles), 3, 3))
    np.add.at(rigidity, element, block * share[:, None, None])
    pressure = np.zeros(len(net.triangles))
    np.add.at(pressure, element, weight(diameter) * share)
    return rigidity, pressure


def weight(diameter: float) -> float:
    """Return the weight of a wire in N per mm of its length."""
    return grams(diameter, 1.0) * 1e-3 * GRAVITY


def grams(diameter: float, length: float) -> float:
    """Return the mass of a wire in g."""
    return float(1e3 * _DENSITY * np.pi * diameter**2 / 4 * length)


def _beside(net: Net, middles: FloatArray, aside: FloatArray) -> tuple[Ints, Ints]:
    """Return pairs of a step's number and a triangle beside it, one for each place of the band."""
    faces = shapely.polygons(net.points[net.triangles])
    spread = np.concatenate([middles + x * aside for x in _BAND])
    at, element = shapely.STRtree(faces).query(shapely.points(spread), predicate="intersects")
    at, first = np.unique(at, return_index=True)
    return at % len(middles), element[first]
