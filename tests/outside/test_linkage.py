"""The linkage against an independent solution of its loop equations.

Outside the project: scipy.optimize (MINPACK's hybrid Powell method) finds the joints from the
lengths of the links alone, and the Kutzbach-Gruebler count gives the mobility (Norton, Design of
Machinery, ch. 2, from memory).
"""

import numpy as np
import pytest
from scipy.optimize import root

from trace2pop.mechanism.linkage import height_above, pose, reach
from trace2pop.model.card import Beam, Slit

WEB = 20.3


def beam(u: float, number: int = 1) -> Beam:
    return Beam(number, f"beam-{number}", u, 40.0, 80.0, 5.0, 45.0, Slit(39.5, 80.5, 0.0))


BEAMS = (beam(0.0, 1), beam(-37.0, 2), beam(55.0, 3))


def joints(opening_deg: float, sway_deg: float, beams: tuple[Beam, ...]) -> np.ndarray:
    """Return motif crease, then each side beam's joint with the motif, as (x, z) by the poses."""
    at = pose(WEB, beams, opening_deg, sway_deg=sway_deg)
    crease = at.motif[1].at(np.zeros((1, 2)))[0]
    tops = [at.motif[0 if one.u < 0 else 1].at(np.array([[one.u, 0.0]]))[0] for one in beams[1:]]
    return np.array([crease, *tops])[:, [0, 2]]


def lengths_off(
    unknown: np.ndarray, opening_deg: float, sway_deg: float, beams: tuple[Beam, ...]
) -> np.ndarray:
    """Return what the loop equations leave over, given the joints: link lengths and the sway."""
    half = np.radians(opening_deg / 2)
    crease, *tops = unknown.reshape(-1, 2)
    equations = [np.hypot(*crease) - WEB, np.arctan2(crease[0], crease[1]) - np.radians(sway_deg)]
    for one, top in zip(beams[1:], tops, strict=True):
        foot = abs(one.u) * np.array([np.sign(one.u) * np.sin(half), np.cos(half)])
        equations += [np.hypot(*(top - foot)) - WEB, np.hypot(*(top - crease)) - abs(one.u)]
    return np.array(equations)


@pytest.mark.parametrize("sway_deg", [0.0, 8.0, -15.0])
def test_poses_solve_the_loop_equations(sway_deg: float) -> None:
    """Solved step by step from flat open, so that the solver stays on the card's own branch."""
    guess = joints(180.0, 0.0, BEAMS).ravel()
    for sway in np.linspace(0.0, sway_deg, 5):
        guess = root(lengths_off, guess, (180.0, sway, BEAMS), tol=1e-14).x
    lowest = 4.0 + 2 * abs(sway_deg)
    for opening in np.arange(180.0, lowest, -1.0):
        guess = root(lengths_off, guess, (opening, sway_deg, BEAMS), tol=1e-14).x
        assert np.abs(lengths_off(guess, opening, sway_deg, BEAMS)).max() < 1e-11
        assert np.abs(guess.reshape(-1, 2) - joints(opening, sway_deg, BEAMS)).max() < 1e-9


def test_published_values_of_the_closing_law() -> None:
    """Web 20, distance 70: 70.000 and 20.000 high flat, 84.142 and 14.142 at 90, 90 closed."""
    cases = [(180.0, 70.0, 20.0), (90.0, 84.142136, 14.142136), (0.0, 90.0, 0.0)]
    for opening, out, up in cases:
        assert reach(70.0, 20.0, opening) == pytest.approx(out, abs=1e-6)
        assert height_above(20.0, opening) == pytest.approx(up, abs=1e-6)


def test_swaying_never_reaches_further_than_closing() -> None:
    for opening in range(0, 181, 10):
        for sway in range(-90, 91, 10):
            assert reach(70.0, 20.0, opening, sway) <= 90.0 + 1e-12


def constraint_jacobian(opening_deg: float, *, centre_web: bool = True) -> np.ndarray:
    """Return the hinges' Jacobian in the planar rigid motions (dx, dz, dturn) of all bodies.

    Each hinge makes the velocities of the two bodies it joins equal at its point. The left base
    half is the ground.
    """
    half = np.radians(opening_deg / 2)
    right, left = (np.array([s * np.sin(half), np.cos(half)]) for s in (1, -1))
    up = np.array([0.0, WEB])
    spine, crease = np.zeros(2), up
    bodies = ["base-left", "base-right", "motif-left", "motif-right", "web-l", "web-r"]
    hinges = [
        ("base-left", "base-right", spine),
        ("motif-left", "motif-right", crease),
        ("base-left", "web-l", 37 * left),
        ("web-l", "motif-left", 37 * left + up),
        ("base-right", "web-r", 55 * right),
        ("web-r", "motif-right", 55 * right + up),
    ]
    if centre_web:
        bodies.append("web-c")
        hinges += [("base-left", "web-c", spine), ("web-c", "motif-left", crease)]
    rows = np.zeros((2 * len(hinges), 3 * len(bodies)))
    for index, (one, other, (x, z)) in enumerate(hinges):
        for name, sign in ((one, 1.0), (other, -1.0)):
            column = 3 * bodies.index(name)
            rows[2 * index, column : column + 3] = sign * np.array([1.0, 0.0, -z])
            rows[2 * index + 1, column : column + 3] = sign * np.array([0.0, 1.0, x])
    return rows[:, 3:]


@pytest.mark.parametrize("opening_deg", [20.0, 75.0, 140.0, 175.0])
def test_mobility_is_two_and_three_without_the_centre_web(opening_deg: float) -> None:
    """Seven links, eight hinges: 3 * (7 - 1) - 2 * 8 = 2, opening and sway."""
    jacobian = constraint_jacobian(opening_deg)
    assert jacobian.shape == (16, 18)
    assert jacobian.shape[1] - np.linalg.matrix_rank(jacobian) == 2
    loose = constraint_jacobian(opening_deg, centre_web=False)
    assert loose.shape[1] - np.linalg.matrix_rank(loose) == 3


def test_the_poses_move_along_both_freedoms() -> None:
    """Differences of the poses in opening and in sway keep every link's length to first order."""
    step = 1e-6
    for opening in (30.0, 90.0, 150.0):
        for change in ((step, 0.0), (0.0, step)):
            moved = joints(opening + change[0], change[1], BEAMS).ravel()
            off = lengths_off(moved, opening + change[0], change[1], BEAMS)
            assert np.abs(off).max() < 1e-11


def test_unequal_webs_break_the_parallelogram() -> None:
    """A side web 2 mm lower than the centre's: the motif half is no longer parallel to its base."""
    half = np.radians(45.0)
    foot, crease = 55 * np.array([np.sin(half), np.cos(half)]), np.array([0.0, WEB])

    def off(top: np.ndarray) -> list[float]:
        return [np.hypot(*(top - foot)) - (WEB - 2), np.hypot(*(top - crease)) - 55]

    top = root(off, foot + crease, tol=1e-14).x
    along = (top - crease) / 55
    assert abs(float(np.cross([*along, 0], [np.sin(half), np.cos(half), 0])[2])) > 0.01
