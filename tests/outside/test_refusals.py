"""Plans and refusals against means that share nothing with the planner.

Where beams have room: a raster (tests/beam_room.py). How far a motif sags: bicubic rectangles on a
square grid (tests/sag_check.py), themselves held against the handbook first.
"""

import re

import numpy as np
import pytest
import shapely

from tests import beam_room, examples
from tests.bench.refusals import look
from tests.outside.test_plate import hermite_beam
from tests.sag_check import Line, Sheet, hexagon, rigidity
from tests.unit.test_supports import MIDDLE, SHAPES, cut, ellipse, plan, reed
from trace2pop.errors import SupportError
from trace2pop.geometry import beziers
from trace2pop.mechanism.predicates import glued_runs
from trace2pop.model.card import CutMotif
from trace2pop.model.settings import GivenBeam, SupportSettings

NONE = shapely.Polygon()
USUAL = SupportSettings().flanges
BARE = np.zeros((3, 3))


def isotropic(d: float, nu: float) -> np.ndarray:
    return d * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])


def room(motif: CutMotif, *, generous: bool) -> beam_room.Room:
    card = examples.CARD
    ground = beam_room.Ground(
        beziers.polygon(motif.outline),
        card.half_width,
        card.height,
        card.web,
        taken=glued_runs(motif.hand_parts),
    )
    return beam_room.room(ground, generous=generous)


def test_the_other_element_against_the_handbook() -> None:
    """A beam overhanging two lines (standard tables), and a hinge that carries shear only."""
    d, q, a, span = 6000.0, 2e-5, 30.0, 40.0
    lines = [Line(u, 0, 8, NONE) for u in (30, 70)]
    sheet = Sheet(shapely.box(0, 0, 100, 8), hinged=False)
    places, sag = sheet.sag(isotropic(d, 0), BARE, q, lines)
    tip = q * a * (3 * a**3 + 6 * a * a * span - span**3) / (24 * d)
    assert sag[np.argmin(places[:, 0])] == pytest.approx(tip, rel=0.01)
    lines = [Line(u, 0, 8, NONE) for u in (-60, -20, 30)]
    places, sag = Sheet(shapely.box(-90, 0, 60, 8)).sag(isotropic(d, 0), BARE, q, lines)
    at = np.linspace(-90, 60, 151)
    beam = hermite_beam(at, [-60.0, -20.0, 30.0], 0.0, d, q)
    assert np.abs(sag - np.interp(places[:, 0], at, beam)).max() < 0.01 * np.abs(beam).max()


@pytest.mark.parametrize("name", SHAPES)
def test_plans_are_confirmed(name: str) -> None:
    """Every beam has room on the raster, and the other element sags no further than the proof."""
    motif = SHAPES[name]
    found = plan(motif)
    generous, strict = (room(motif, generous=kind) for kind in (True, False))
    assert all(strict.on(side) for side in (-1, 0, 1))
    lines = []
    for beam in found.beams:
        column = int(np.argmin(np.abs(generous.u - beam.u)))
        rows = (generous.v > beam.v0 + 0.2) & (generous.v < beam.v1 - 0.2)
        assert generous.lines()[rows, column].all()
        pair = hexagon(beam.u, beam.v0, beam.v1, beam.flange)
        lines.append(Line(beam.u, beam.v0, beam.v1, pair))
    stiff = rigidity(0.3, 5000, 2500, 0.3)
    pressure = 216e-9 * 9.80665 * 10
    _, sag = Sheet(beziers.polygon(motif.outline)).sag(stiff, stiff, pressure, lines)
    assert 0.98 * np.abs(sag).max() <= found.sag.max <= 1.08 * np.abs(sag).max()


def test_flanges_stiffen_as_the_other_element_says() -> None:
    """A strip whose ends stand out 30 mm past their lines, 9 of them on flanges."""
    motif = cut(shapely.box(-80, MIDDLE - 16, 80, MIDDLE + 16))
    own = tuple(GivenBeam(u, MIDDLE - 13, MIDDLE + 13, 9.0) for u in (-50.0, 0.0, 50.0))
    found = plan(motif, SupportSettings(beam=own, only_given=True, sag_limit=20.0))
    stiff, paper = rigidity(0.3, 5000, 2500, 0.3), beziers.polygon(motif.outline)
    pairs = [hexagon(beam.u, beam.v0, beam.v1, 9.0) for beam in own]
    lines = [Line(b.u, b.v0, b.v1, pair) for b, pair in zip(own, pairs, strict=True)]
    pressure = 216e-9 * 9.80665 * 10
    _, sag = Sheet(paper).sag(stiff, stiff, pressure, lines)
    _, bare = Sheet(paper).sag(stiff, BARE, pressure, lines)
    assert found.sag.max == pytest.approx(np.abs(sag).max(), rel=0.03)
    assert np.abs(bare).max() > 1.15 * np.abs(sag).max()


def waist(width: float, at: float = 0.0) -> CutMotif:
    """Return two lobes joined by a strip of that width, its middle ``at`` mm from the crease."""
    lobes = [ellipse(at + side * 55, 0, 35, 40) for side in (-1, 1)]
    half = width / 2
    return cut(*lobes, shapely.box(at - 45, MIDDLE - half, at + 45, MIDDLE + half))


@pytest.mark.parametrize(("width", "fits"), [(18.0, False), (18.6, False), (19.4, True)])
def test_room_on_the_crease_begins_where_the_raster_says(width: float, fits: bool) -> None:
    """A strip along u takes the shortest beam, 15 mm, and the inset at both ends: 19.02 mm."""
    motif = waist(width)
    if fits:
        plan(motif)
        assert room(motif, generous=False).on(0)
    else:
        with pytest.raises(SupportError, match="no beam has room on the crease"):
            plan(motif)
        assert not room(motif, generous=True).on(0)


def test_no_room_on_a_half_is_confirmed() -> None:
    """Slim limbs on one side: no beam of any width, anywhere."""
    limbs = [shapely.box(-70, MIDDLE + k - 5, 0, MIDDLE + k + 5) for k in (-30, 0, 30)]
    motif = cut(ellipse(35, 0, 44, 45), *limbs)
    with pytest.raises(SupportError, match="no beam has room on the left half"):
        plan(motif)
    found = room(motif, generous=True)
    assert [found.on(side) for side in (-1, 0, 1)] == [False, True, True]
    assert look(motif, widths=USUAL).reason == "no room on the left half"


@pytest.mark.parametrize(("half", "fits"), [(17.0, False), (19.5, True), (24.0, True)])
def test_beams_that_meet_are_seen_by_both(half: float, fits: bool) -> None:
    """Three flange pairs of 5 mm, 1 mm apart, and the inset: 5 + 1 + 10 + 2 = 18 mm a half."""
    motif = cut(shapely.box(-half, MIDDLE - 12.5, half, MIDDLE + 12.5))
    found = room(motif, generous=True)
    assert found.together(alike=False) == fits
    if fits:
        plan(motif)
    else:
        with pytest.raises(SupportError, match="beside one another"):
            plan(motif)


def test_bending_by_its_own_weight_is_confirmed() -> None:
    """An arm too slim for flanges: refused long, planned short, and so says the other element."""
    short, long = reed(), cut(ellipse(0, 0, 50, 30), shapely.box(40, MIDDLE - 3, 125, MIDDLE + 3))
    assert not look(short, widths=USUAL).reason
    plan(short)
    own = re.match(r"bends ([\d.]+) mm by its own weight at 125", look(long, widths=USUAL).reason)
    assert own
    with pytest.raises(SupportError) as refusal:
        plan(long)
    told = re.search(r"droops ([\d.]+) mm by its own weight at 125 mm right", str(refusal.value))
    assert told
    assert float(told[1]) == pytest.approx(float(own[1]), rel=0.1)
