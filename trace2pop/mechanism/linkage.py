"""How the card moves: where every panel is at an opening angle.

World axes are those of the open card seen from the front, as in CSS: x to the right, y down along
the crease, z towards the viewer. The spine lies on the y axis and the plane x = 0 halves the card,
so that the base's right half points along (sin(A/2), 0, cos(A/2)): to the right when the card is
flat open (A = 180 degrees), towards the viewer when it is closed (A = 0).

Base, webs and motif of each half are parallelograms: every motif point is its base point plus one
vector of the web's length. Upright, that vector lies on the bisecting plane; ``sway`` turns it
sideways, which is the linkage's second freedom.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from trace2pop.model.card import Beam
from trace2pop.model.outline import FloatArray

_ALONG = np.array([0.0, 1.0, 0.0])


@dataclass(frozen=True, eq=False)
class Frame:
    """Where a flat panel lies: a panel point (a, b) is at ``origin + a * x_axis + b * y_axis``.

    All three are (3,), the axes of unit length and at right angles.
    """

    origin: FloatArray
    x_axis: FloatArray
    y_axis: FloatArray

    @cached_property
    def normal(self) -> FloatArray:
        """Unit normal (3,), out of the face seen when the card lies open (webs: to the left)."""
        a, b, c = map(float, self.x_axis)
        d, e, f = map(float, self.y_axis)
        return np.array([b * f - c * e, c * d - a * f, a * e - b * d])

    def at(self, points: FloatArray, lift: float = 0.0) -> FloatArray:
        """Return the world points (n, 3) of panel ``points`` (n, 2), ``lift`` mm off the panel."""
        lifted: FloatArray = (
            self.origin
            + points[:, :1] * self.x_axis
            + points[:, 1:] * self.y_axis
            + lift * self.normal
        )
        return lifted


@dataclass(frozen=True, eq=False)
class BeamPose:
    """Where a beam's panels lie.

    ``web`` takes (height above the lower fold, v). The flange frames take card coordinates (u, v);
    ``lower`` and ``upper`` hold the frames of the left and the right flange. They are the same
    frame but on the crease, where each flange lies on its own half.
    """

    web: Frame
    lower: tuple[Frame, Frame]
    upper: tuple[Frame, Frame]


@dataclass(frozen=True, eq=False)
class Pose:
    """The card at an opening angle. Base and motif frames take card coordinates (u, v).

    ``base``, ``motif`` and ``outer`` hold the left and the right half. The outer card's right half
    lies under the base's, the base's crease on its right score; ``spine`` is its spine panel
    (u from -S to 0), and its left half begins at u = -S. ``beams`` are in the order given.
    """

    opening_deg: float
    sway_deg: float
    base: tuple[Frame, Frame]
    motif: tuple[Frame, Frame]
    outer: tuple[Frame, Frame]
    spine: Frame
    beams: tuple[BeamPose, ...]


def pose(
    web: float,
    beams: Sequence[Beam],
    opening_deg: float,
    *,
    sway_deg: float = 0.0,
    spine: float = 0.0,
) -> Pose:
    """Return where every panel is, as sheets without thickness.

    ``web`` is the web's height between fold lines, ``opening_deg`` from 0 (closed) to 180 (flat
    open), ``sway_deg`` the lean of the webs from the bisecting plane towards the right half,
    ``spine`` the width of the outer card's spine panel.
    """
    half = np.radians(opening_deg) / 2
    across = {side: np.array([np.sin(half), 0.0, side * np.cos(half)]) for side in (-1, 1)}
    lean = np.radians(sway_deg)
    up = np.array([np.sin(lean), 0.0, np.cos(lean)])
    base = {side: Frame(np.zeros(3), across[side], _ALONG) for side in across}
    motif = {side: Frame(web * up, across[side], _ALONG) for side in across}
    score = np.array([-spine, 0.0, 0.0])
    outer_left = Frame(score + spine * across[-1], across[-1], _ALONG)
    return Pose(
        opening_deg=opening_deg,
        sway_deg=sway_deg,
        base=(base[-1], base[1]),
        motif=(motif[-1], motif[1]),
        outer=(outer_left, base[1]),
        spine=Frame(np.zeros(3), np.array([1.0, 0.0, 0.0]), _ALONG),
        beams=tuple(_beam(beam, up, base, motif) for beam in beams),
    )


def _beam(beam: Beam, up: FloatArray, base: dict[int, Frame], motif: dict[int, Frame]) -> BeamPose:
    sides = (-1, 1) if beam.u == 0 else (int(np.sign(beam.u)),) * 2
    foot = base[sides[1]].at(np.array([[beam.u, 0.0]]))[0]
    return BeamPose(
        web=Frame(foot, up, _ALONG),
        lower=(base[sides[0]], base[sides[1]]),
        upper=(motif[sides[0]], motif[sides[1]]),
    )


def reach(distance: float, web: float, opening_deg: float, sway_deg: float = 0.0) -> float:
    """Return how far from the spine a motif point lies, measured along the base half under it.

    ``distance`` is the point's own distance from the motif's crease. ``sway_deg`` counts towards
    the half in question. Never more than ``distance + web``, which it is when closed.
    """
    turn = np.radians(opening_deg / 2 - sway_deg)
    return float(distance + web * np.cos(turn))


def height_above(web: float, opening_deg: float, sway_deg: float = 0.0) -> float:
    """Return how high the motif's half lies above its base half, fold line to fold line."""
    return float(web * np.sin(np.radians(opening_deg / 2 - sway_deg)))
