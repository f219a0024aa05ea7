"""Closing with thickness: layers as slabs in the world's frame, both halves at once.

Built from the papers and the beams alone: the webs' lean is solved for from where the motif's
crease must lie, and touching is areas that overlap, not distances in the frame of a half.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pytest
import shapely
from scipy.optimize import brentq

from trace2pop.mechanism.closing import FlatBeam, FlatCard, Papers, closing

WEB, WIDE, HIGH = 20.3, 124.0, 170.0


@dataclass(frozen=True)
class Slab:
    """A layer's cut: which beam it belongs to (-1: none), what it is, its half and v range."""

    beam: int
    kind: str
    side: int
    span: tuple[float, float]
    cut: shapely.Geometry


def card(papers: Papers, beams: tuple[FlatBeam, ...]) -> FlatCard:
    base, motif = shapely.box(-WIDE, 0, WIDE, HIGH), shapely.box(-90, 10, 90, 160)
    return FlatCard(base, motif, beams, papers, 3.0)


def flat(u: float, v0: float, v1: float, flange: float) -> FlatBeam:
    return FlatBeam(f"beam at {u:.0f}, {v0:.0f}", u, v0, v1, WEB, flange, 45.0)


def slabs(given: FlatCard, opening_deg: float) -> list[Slab]:
    """Return every layer's cut across the crease, x to the right and z up, spine at (0, 0)."""
    half, papers = np.radians(opening_deg / 2), given.papers
    found = []
    for side in (-1, 1):
        out = np.array([side * np.sin(half), np.cos(half)])
        up = np.array([-side * np.cos(half), np.sin(half)])

        def at(a: float, b: float, out: np.ndarray = out, up: np.ndarray = up) -> np.ndarray:
            return a * out + b * up

        def crease(lean: float, at: object = at) -> float:
            over, above = WEB * np.cos(lean), WEB * np.sin(lean) - papers.base + papers.motif
            return float(at(over, above)[0])  # type: ignore[operator]  # the closure above

        lean = brentq(crease, half - 0.5, half + 0.5, xtol=1e-15)
        over, under = WEB * np.cos(lean), WEB * np.sin(lean) - papers.base

        def box(a0: float, a1: float, b0: float, b1: float) -> shapely.Geometry:
            corners = [at(a0, b0), at(a1, b0), at(a1, b1), at(a0, b1)]
            return shapely.convex_hull(shapely.MultiPoint(corners))

        everywhere = (0.0, HIGH)
        found.append(Slab(-1, "base", side, everywhere, box(0, WIDE, -papers.base, 0)))
        motif = box(over, over + 90, under, under + papers.motif)
        found.append(Slab(-1, "motif", side, (10.0, 160.0), motif))
        top = under - papers.adhesive
        for number, beam in enumerate(given.beams):
            if beam.u * side < 0:
                continue
            d = abs(beam.u)
            fold, foot = at(d + over, top), at(d, 0)
            along = (fold - foot) / np.hypot(*(fold - foot))
            thick = papers.beam * np.array([along[1], -along[0]]) * side
            inner = 0 * thick if d == 0 else thick
            web = shapely.convex_hull(
                shapely.MultiPoint([foot - inner, fold - inner, fold + thick, foot + thick])
            )
            found.append(Slab(number, "web", side, (beam.v0, beam.v1), web))
            for towards in (1,) if d == 0 else (-1, 1):
                ends = sorted((d + over, d + over + towards * beam.flange))
                flange = box(*ends, top - papers.beam, top)
                found.append(Slab(number, "flange", side, (beam.v0, beam.v1), flange))
    return found


def through(given: FlatCard, opening_deg: float) -> set[frozenset[str]]:
    """Return the kinds of layers of one half that lie through each other and aren't joined."""
    found = set()
    for one, other in combinations(slabs(given, opening_deg), 2):
        kinds = frozenset({one.kind, other.kind})
        joined = one.beam == other.beam and kinds != {"base", "motif"}
        # A web passes the base in its slit and ends at the motif, whose flange it carries.
        joined |= kinds in ({"web", "base"}, {"web", "motif"}, {"flange", "motif"}, {"flange"})
        apart = one.span[1] <= other.span[0] or other.span[1] <= one.span[0]
        alone = joined or apart or one.side != other.side
        if not alone and one.cut.intersection(other.cut).area > 1e-7:
            found.add(kinds)
    return found


def pressing(given: FlatCard) -> float:
    """Return the largest opening at which layers lie through each other, in degrees."""
    high = next(deg for deg in np.arange(180.0, 0.0, -0.5) if through(given, deg))
    low, high = float(high), float(high) + 0.5
    for _ in range(12):
        middle = (low + high) / 2
        low, high = (middle, high) if through(given, middle) else (low, middle)
    return low


def random_card(seed: int) -> FlatCard:
    """Return a card of random papers with beams far apart, or as near as they may be."""
    random = np.random.default_rng(seed)
    papers = Papers(
        *(float(t) for t in random.uniform((0.1, 0.1, 0.15, 0.0), (0.6, 0.6, 0.6, 0.3)))
    )
    beams = [flat(0.0, 60.0, 60.0 + random.uniform(20, 50), 5.0)]
    spread = float(random.choice([0.0, 12.0, 40.0]))
    for side in (-1, 1):
        place, before = 0.0, 5.0
        for _ in range(int(random.integers(1, 5))):
            flange = float(random.choice([5.0, 7.0, 9.0]))
            place += before + flange + 1.0 + spread * random.uniform(0.8, 1)
            before = flange
            head = random.uniform(20, 80)
            if place < 90:
                beams.append(flat(side * place, head, head + random.uniform(25, 60), flange))
    return card(papers, tuple(beams))


@pytest.mark.parametrize("seed", range(10))
def test_no_two_layers_lie_through_each_other_until_they_press(seed: int) -> None:
    """From flat open to where they press, and pressing begins where the closing check says."""
    given = random_card(seed)
    told = closing(given).contact_deg
    assert pressing(given) == pytest.approx(told, abs=0.02)
    assert told < 30
    for opening in np.linspace(180, told + 0.02, 40):
        assert not through(given, float(opening))


def test_every_kind_of_meeting_comes_up() -> None:
    """Some of the cards press by a flange on a web, some by a flange on the base."""
    kinds = set()
    for seed in range(10):
        given = random_card(seed)
        kinds |= through(given, closing(given).contact_deg - 0.05)
    assert {frozenset({"web", "flange"}), frozenset({"base", "flange"})} <= kinds


def test_layers_of_both_halves_keep_to_their_own_side() -> None:
    """At every opening, but for the doubled web on the crease, whose layers lie face to face."""
    for seed in range(6):
        given = random_card(seed)
        told = closing(given)
        assert not [fault for fault in told.faults if "bisecting" in fault.where]
        for opening in np.linspace(180, 1, 30):
            for slab in slabs(given, float(opening)):
                u = shapely.get_coordinates(slab.cut)[:, 0] * slab.side
                assert u.min() > -given.papers.beam - 1e-9


def test_a_flange_on_the_wrong_half_is_seen() -> None:
    """A side beam 3 mm from the crease with 5 mm flanges: one of them lies past the middle."""
    wrong = card(Papers(0.3, 0.3, 0.3, 0.1), (flat(0.0, 20, 50, 5), flat(3.0, 60, 90, 5)))
    found = [fault for fault in closing(wrong).faults if "bisecting" in fault.where]
    assert [fault.kind for fault in found] == ["crossing"]
    assert min(
        shapely.get_coordinates(slab.cut)[:, 0].min() for slab in slabs(wrong, 90) if slab.side > 0
    ) == pytest.approx(-2 * np.sin(np.radians(45)), abs=0.5)
