"""Frames of every panel: what the pictures and the page draw."""

import numpy as np
import pytest

from tests.examples import CARD, beams
from trace2pop.mechanism.linkage import Frame, pose

CORNERS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])


@pytest.mark.parametrize("opening_deg", [0.0, 1.0, 60.0, 90.0, 180.0])
@pytest.mark.parametrize("sway_deg", [0.0, 5.0])
def test_frames_are_rigid(opening_deg: float, sway_deg: float) -> None:
    at = pose(CARD.web, beams(), opening_deg, sway_deg=sway_deg, spine=4.0)
    frames: list[Frame] = [*at.base, *at.motif, *at.outer, at.spine]
    for one in at.beams:
        frames += [one.web, *one.lower, *one.upper]
    for frame in frames:
        world = frame.at(CORNERS)
        axes = (world[1:] - world[0]) @ (world[1:] - world[0]).T
        assert np.allclose(axes, np.eye(2), atol=1e-12)
        assert np.allclose(frame.at(CORNERS, lift=2.0) - world, 2 * frame.normal)


@pytest.mark.parametrize("opening_deg", [0.0, 37.0, 180.0])
def test_webs_join_base_and_motif(opening_deg: float) -> None:
    at = pose(CARD.web, beams(), opening_deg)
    for one, place in zip(beams(), at.beams, strict=True):
        for half in (0, 1):
            if one.u != 0 and half != (one.u > 0):
                continue
            foot = at.base[half].at(np.array([[one.u, one.v0]]))
            top = at.motif[half].at(np.array([[one.u, one.v0]]))
            assert np.allclose(place.web.at(np.array([[0.0, one.v0]])), foot)
            assert np.allclose(place.web.at(np.array([[CARD.web, one.v0]])), top)


def test_open_card_lies_as_seen_from_the_front() -> None:
    at = pose(CARD.web, beams(), 180.0, spine=4.0)
    point = np.array([[-30.0, 12.0]])
    assert np.allclose(at.base[0].at(point), [[-30.0, 12.0, 0.0]])
    assert np.allclose(at.motif[0].at(point), [[-30.0, 12.0, CARD.web]])
    assert np.allclose(at.outer[0].at(point), [[-30.0, 12.0, 0.0]])
    assert np.allclose(at.base[1].normal, [0.0, 0.0, 1.0])


def test_closed_outer_halves_are_a_spine_apart_and_level() -> None:
    at = pose(CARD.web, (), 0.0, spine=4.0)
    fore = CARD.outer.width
    right = at.outer[1].at(np.array([[fore, 0.0]]))
    left = at.outer[0].at(np.array([[-4.0 - fore, 0.0]]))
    assert np.allclose(right, [[0.0, 0.0, fore]])
    assert np.allclose(left, [[-4.0, 0.0, fore]])
    edge = at.spine.at(np.array([[-4.0, 0.0]]))
    for opening in (0.0, 50.0, 180.0):
        turned = pose(CARD.web, (), opening, spine=4.0)
        assert np.allclose(turned.outer[0].at(np.array([[-4.0, 0.0]])), edge)
