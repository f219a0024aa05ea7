"""Fit: never sticking out, never smaller than need be, against a brute-force search."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests import examples
from trace2pop.errors import FitError
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Motif
from trace2pop.model.outline import Outline
from trace2pop.model.settings import FragileSettings, MotifSettings, SupportSettings
from trace2pop.stages.fit import fit

CARD = examples.CARD


def fitted(motif: Motif, **asked: float):
    return fit(motif, CARD, MotifSettings(**asked), SupportSettings(), FragileSettings())


def random_motif(seed: int) -> Motif:
    """Return an invented lopsided blob, drawn at some size, some place."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    radius = 1 + 0.35 * rng.normal(size=24).cumsum() / 6 * np.sin(angle / 2)
    size = rng.uniform(15, 60, 2)
    points = np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1) * size
    return replace(
        examples.motif(),
        outline=Outline(examples.smooth_closed(points + np.array([80, 90]))),
        axis=None,
    )


def sticks_out(outline: Outline) -> float:
    """Return by how much an outline leaves the window, from its flattened points."""
    points = beziers.flatten(outline.outer, 1e-4)
    across = np.abs(points[:, 0]).max() - (CARD.half_width - CARD.web - CARD.margin)
    head = CARD.margin - points[:, 1].min()
    foot = points[:, 1].max() - (CARD.height - CARD.margin)
    return float(max(across, head, foot))


@pytest.mark.parametrize("seed", range(200))
def test_largest_size_never_sticks_out_and_is_never_small(seed: int) -> None:
    """Brute force: every crease at a fine spacing, each with the largest scale its box allows."""
    motif = random_motif(seed)
    try:
        placed = fitted(motif)
    except FitError:
        pytest.fail("a blob this fat always has room for a beam")
    assert sticks_out(placed.outline) <= 1e-3
    points = beziers.flatten(motif.outline.outer, 1e-4)
    low, high = points.min(axis=0), points.max(axis=0)
    creases = np.linspace(low[0], high[0], 2001)[1:-1]
    best = np.minimum(CARD.reach / (creases - low[0]), CARD.reach / (high[0] - creases))
    bound = min(best.max(), CARD.window[1] / (high[1] - low[1]))
    assert placed.scale >= bound * (1 - 1e-3)


def test_the_crease_is_on_the_mirror_axis() -> None:
    placed = fitted(examples.motif())
    assert placed.symmetric
    shape = beziers.polygon(placed.outline)
    mirrored = shapely.affinity.scale(shape, -1, 1, origin=(0, 0))
    assert shape.symmetric_difference(mirrored).area < 1e-3 * shape.area


def test_tilt_of_the_drawing_is_taken_out() -> None:
    drawn = examples.motif()
    assert drawn.axis is not None
    angle = np.radians(7)
    turn = np.array([[np.cos(angle), -np.sin(angle), 3], [np.sin(angle), np.cos(angle), 5]])
    point = turn[:, :2] @ drawn.axis.point + turn[:, 2]
    tilted = replace(
        drawn,
        outline=beziers.transform_outline(drawn.outline, turn),
        axis=replace(drawn.axis, point=(point[0], point[1]), tilt_deg=7.0),
    )
    assert beziers.bounds(fitted(tilted).outline.outer) == pytest.approx(
        beziers.bounds(fitted(drawn).outline.outer), abs=1e-6
    )


def test_a_size_too_large_names_sides_and_ways_out() -> None:
    with pytest.raises(FitError) as caught:
        fitted(examples.motif(), width=230.0)
    assert "left by 14.3 mm" in str(caught.value)
    assert "right by 14.3 mm" in str(caught.value)
    assert "201.4 mm wide" in caught.value.advice
    assert "rise" in caught.value.advice
    assert "card of at least" in caught.value.advice


@pytest.mark.parametrize("asked", [{"width": 150.0}, {"height": 90.0}, {"scale": 1.5}])
def test_a_size_asked_for_is_given(asked: dict[str, float]) -> None:
    placed = fitted(examples.motif(), **asked)
    left, head, right, foot = beziers.bounds(placed.outline.outer)
    got = {"width": right - left, "height": foot - head, "scale": placed.scale}
    for name, value in asked.items():
        assert got[name] == pytest.approx(value)
    assert placed.limited_by == ()


def test_no_room_on_the_crease_is_refused() -> None:
    thin = Outline(beziers.straight([(0, 0), (120, 0), (120, 8), (0, 8)], closed=True))
    with pytest.raises(FitError, match="no crease has room"):
        fitted(replace(examples.motif(), outline=thin, axis=None))
