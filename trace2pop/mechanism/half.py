"""One half of a card as strips of paper seen from the card's end, at any opening."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np
import shapely
from numpy.typing import ArrayLike

from trace2pop.mechanism.beam import flange
from trace2pop.mechanism.flat import FlatCard, Papers
from trace2pop.model.closing import ClosingFault
from trace2pop.model.outline import FloatArray

TOLERANCE = 1e-6
_ROUNDS = 40

OPENINGS = (*(float(deg) for deg in range(180, 2, -3)), 2.0, 1.0)
"""Openings at which layers are looked at for touching, on the way from open to closed."""


@dataclass(frozen=True)
class Strip:
    """A panel of one half seen from its end: from x0 to x1 along its own layer, v0 to v1."""

    name: str
    kind: str
    x0: float
    x1: float
    v0: float
    v1: float


class Half:
    """One half of the card in its own frame, as strips of paper seen from the card's end."""

    def __init__(self, card: FlatCard, papers: Papers, web: float, side: int) -> None:
        self.papers, self.web = papers, web
        self.name = "left" if side < 0 else "right"
        self.motif_x = max(0.0, side * card.motif.bounds[0 if side < 0 else 2])
        low, head, high, foot = card.base.bounds
        self.base = Strip("base", "base", 0.0, high if side > 0 else -low, head, foot)
        self.strips = list(strips_of(card, side))
        strips = [*self.strips, self.base]
        numbers = [
            (one, other)
            for one, other in combinations(range(len(strips)), 2)
            if must_not_touch(strips[one], strips[other])
        ]
        self.pairs = [(strips[one], strips[other]) for one, other in numbers]
        self._first, self._second = np.array(numbers, dtype=int).reshape(-1, 2).T

    def turn(self, opening_deg: float) -> float:
        """Return the webs' angle (rad) against the base; half the opening where papers are alike.

        Base and motif turn about their upper faces. The motif's crease stays on the bisecting
        plane, so a motif thinner or thicker than the base leans the webs a little.
        """
        half = np.radians(opening_deg) / 2
        if self.web == 0:
            return float(half)
        lift = (self.papers.motif - self.papers.base) / self.web
        return float(half - np.arcsin(np.clip(lift * np.cos(half), -1, 1)))

    def height(self, opening_deg: float) -> float:
        """Return how high the motif's underside lies above the base's upper face."""
        return float(self.web * np.sin(self.turn(opening_deg)) - self.papers.base)

    def reach(self, opening_deg: float) -> float:
        """Return how far from the spine the motif lies along the base; 0 where there is none."""
        if self.motif_x == 0:
            return 0.0
        return float(self.motif_x + self.web * np.cos(self.turn(opening_deg)))

    def slabs(self, opening_deg: float) -> FloatArray:
        """Return the corners (n, 4, 2) of all ``strips``, the base's last, in the half's frame."""
        papers, turn = self.papers, self.turn(opening_deg)
        over, under = float(self.web * np.cos(turn)), self.height(opening_deg)
        lean = np.array([over, under - papers.adhesive])
        along = lean / max(float(np.hypot(*lean)), 1e-12)
        across = np.array([along[1], -along[0]]) * papers.beam
        levels = {
            "base": (-papers.base, 0.0),
            "motif": (under, under + papers.motif),
            "flange": (under - papers.adhesive - papers.beam, under - papers.adhesive),
        }
        corners: list[ArrayLike] = []
        for strip in (*self.strips, self.base):
            if strip.kind == "web":
                foot = np.array([strip.x0, 0.0])
                # Of the beam on the crease, each half has one layer, to its own side of the fold.
                left = 0.0 * across if strip.x0 == 0 else -across
                ends = (left, lean + left, lean + across, across)
                corners.append([foot + end for end in ends])
                continue
            z0, z1 = levels[strip.kind]
            shift = 0.0 if strip.kind == "base" else over
            x0, x1 = strip.x0 + shift, strip.x1 + shift
            corners.append([(x0, z0), (x1, z0), (x1, z1), (x0, z1)])
        return np.array(corners)

    def distances(self, opening_deg: float) -> FloatArray:
        """Return the distance of each of ``pairs``; 0 where they touch."""
        if not self.pairs:
            return np.zeros(0)
        shapes = shapely.convex_hull(shapely.linestrings(self.slabs(opening_deg)))
        result: FloatArray = shapely.distance(shapes[self._first], shapes[self._second])
        return result

    def closest(self, opening_deg: float) -> tuple[float, tuple[str, str] | None]:
        """Return the least distance between layers that must not touch, and their names."""
        gaps = self.distances(opening_deg)
        if not len(gaps):
            return np.inf, None
        index = int(gaps.argmin())
        return float(gaps[index]), self.names(index)

    def names(self, index: int) -> tuple[str, str]:
        """Return the names of a pair."""
        first, second = self.pairs[index]
        return f"{first.name} ({self.name})", f"{second.name} ({self.name})"

    def contact(self) -> tuple[float, tuple[str, str] | None]:
        """Return the largest opening at which two thick layers touch that must not, and which."""
        touching = [deg for deg in OPENINGS if (self.distances(deg) <= 0).any()]
        if not touching:
            return 0.0, None
        low, high = touching[0], min(touching[0] + OPENINGS[0] - OPENINGS[1], 180.0)
        for _ in range(_ROUNDS):
            middle = (low + high) / 2
            hit = (self.distances(middle) <= 0).any()
            low, high = (middle, high) if hit else (low, middle)
        return low, self.names(int(self.distances(low).argmin()))

    def outside(self, limit: float) -> list[ClosingFault]:
        """Return the flanges that lie past ``limit`` when closed."""
        return [
            ClosingFault("flange-inside", strip.name, strip.x1 + self.web, limit)
            for strip in self.strips
            if strip.kind == "flange" and strip.x1 + self.web > limit + TOLERANCE
        ]

    def crossings(self) -> list[ClosingFault]:
        """Return the pairs that meet while the card still stands open, from when it first is so."""
        met: dict[int, float] = {}
        for deg in OPENINGS:
            for index in np.flatnonzero(self.distances(deg) <= 0):
                met.setdefault(int(index), deg)
        return [
            ClosingFault("crossing", " and ".join(self.names(index)), deg, 0.0)
            for index, deg in met.items()
        ]

    def over_the_middle(self) -> list[ClosingFault]:
        """Return how far this half's layers reach over the plane that halves the opening."""
        worst = 0.0
        for deg in OPENINGS if self.strips else ():
            half = np.radians(deg) / 2
            corners = self.slabs(deg)[:-1]
            side = corners[..., 0] * np.sin(half) - corners[..., 1] * np.cos(half)
            worst = max(worst, float(-side.min()))
        limit = self.papers.beam
        where = f"{self.name} half, bisecting plane"
        return [ClosingFault("crossing", where, worst, limit)] if worst > limit else []


def strips_of(card: FlatCard, side: int) -> list[Strip]:
    """Return the strips of one half: the motif, and each beam's web and upper flanges."""
    left, head, right, foot = card.motif.bounds
    near, far = max(0.0, left if side > 0 else -right), right if side > 0 else -left
    strips = [Strip("motif", "motif", near, far, head, foot)] if far > 0 else []
    for beam in card.beams:
        if beam.u * side < 0:
            continue
        place = abs(beam.u)
        strips.append(Strip(f"web of {beam.name}", "web", place, place, beam.v0, beam.v1))
        for towards in (1,) if beam.u == 0 else (-1, 1):
            panel = flange(place, beam.v0, beam.v1, beam.flange, beam.taper_deg, towards)
            x0, v0, x1, v1 = panel.bounds
            strips.append(Strip(f"flange of {beam.name}", "flange", x0, x1, v0, v1))
    return strips


def must_not_touch(first: Strip, second: Strip) -> bool:
    """Whether two strips overlap along the crease and aren't joined to each other."""
    if first.v1 <= second.v0 or second.v1 <= first.v0:
        return False
    kinds = {first.kind, second.kind}
    if kinds == {"web"}:
        return True
    if kinds == {"web", "flange"}:
        return first.name.split(" of ")[1] != second.name.split(" of ")[1]
    return kinds in ({"base", "motif"}, {"base", "flange"})
