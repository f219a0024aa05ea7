"""The card, and the motif as it grows into a plan.

Card coordinates: ``u`` is the signed distance from the crease, right positive; ``v`` runs down from
the base's head edge; the card lies open and is seen from the front. Contours in card coordinates
hold (u, v).
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from trace2pop.model.artwork import Motif
from trace2pop.model.closing import Proof
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray, Outline

Edge = Literal["head", "foot", "left", "right"]
Stop = Edge | Literal["sag"]
"""What stops a motif from being larger: an edge of the window, or that no beams would hold it."""
Treatment = Literal["hand", "thicken", "keep", "drop", "close", "join"]


@dataclass(frozen=True)
class OuterCard:
    """The closed outer card: ``width`` from spine to fore edge, ``height`` along the spine.

    ``spine`` says which side of the named size folds.
    """

    width: float
    height: float
    spine: Literal["long", "short"]


@dataclass(frozen=True)
class Card:
    """The card's fixed sizes.

    ``half_width`` and ``height`` are the base's; ``rise`` is the clear height under the motif;
    ``web`` the beam's height between fold lines; ``margin`` what stays hidden inside the base's
    edge when closed; ``border`` what the outer card shows round the base.
    """

    half_width: float
    height: float
    rise: float
    web: float
    margin: float
    border: float
    outer: OuterCard

    @property
    def reach(self) -> float:
        """Largest |u| a motif may have."""
        return self.half_width - self.web - self.margin

    @property
    def window(self) -> tuple[float, float]:
        """Width and height of the largest motif there is for this card and rise."""
        return 2 * self.reach, self.height - 2 * self.margin


@dataclass(frozen=True, eq=False)
class PlacedMotif:
    """The motif at final size on the card.

    ``to_card`` (2, 3) maps drawn mm to (u, v); ``scale`` is final over drawn size, ``turn_deg`` the
    turn clockwise. ``limited_by`` names the edges that stopped it growing; empty where the maker
    chose the size.
    """

    motif: Motif
    card: Card
    scale: float
    turn_deg: float
    to_card: FloatArray
    outline: Outline
    symmetric: bool
    limited_by: tuple[Stop, ...]
    findings: tuple[Finding, ...] = ()


STIFFENER = "stiffener"
"""The kind of a wire glued along the motif's back: all of it is ``overlap``, nothing in sight."""


@dataclass(frozen=True, eq=False)
class HandPart:
    """A feature too thin to cut, to be added by hand, or a wire that stiffens a limb from behind.

    ``length`` is visible, along the middle line; ``cut_length`` adds the glue overlap.
    ``join`` is where it meets the body, ``direction_deg`` its outward direction there (0 = +u,
    positive towards +v). ``path`` (n, 2) is the middle line from the join outwards, ``branches``
    further middle lines of a forked feature, ``overlap`` (n, 2) the glued run inside the body from
    the join inwards, ``shape`` the drawn outline it had. ``form`` says how it is drawn; parts of
    one fringe share a ``fringe`` number. ``uncertainty`` is how much longer than ``length`` it may
    have been drawn, where its tip fades below what the picture resolves.
    """

    id: int
    kind: str
    length: float
    root_width: float
    tip_width: float
    width: float
    cut_length: float
    diameter: float
    join: tuple[float, float]
    direction_deg: float
    path: FloatArray
    overlap: FloatArray
    shape: Outline
    choice: Treatment
    branches: tuple[FloatArray, ...] = ()
    form: Literal["plain", "forked", "clubbed"] = "plain"
    fringe: int | None = None
    uncertainty: float = 0.0


@dataclass(frozen=True)
class ThinFeature:
    """Something too narrow to cut, and what was done about it.

    ``kind`` is spur, bridge, wall, ring, hole, gap or island (a loose piece in a hole). Numbers
    ``id`` run clockwise from the head, spurs first, then bridges, walls and rings, then holes and
    gaps, then islands. ``at`` is in card coordinates,
    ``drawn_at`` in pixels of the upright source picture: it stays where the motif is made larger.
    ``width`` is the narrowest place's, ``length`` along the middle line.
    """

    id: int
    kind: Literal["spur", "bridge", "wall", "ring", "hole", "gap", "island"]
    at: tuple[float, float]
    drawn_at: tuple[float, float]
    width: float
    length: float
    choice: Treatment


@dataclass(frozen=True, eq=False)
class LooseIsland:
    """An island made as a piece of its own, and the strip of clear film that holds it from behind.

    ``id`` is its feature's number. ``outline`` is in card coordinates, where it goes. ``film``
    (2, 2) is the strip's middle line from end to end, ``film_width`` its width.
    """

    id: int
    outline: Outline
    film: FloatArray
    film_width: float

    @property
    def name(self) -> str:
        """The name of its piece."""
        return f"island-{self.id}"

    @property
    def film_length(self) -> float:
        """How long the strip is."""
        return float(np.hypot(*(self.film[1] - self.film[0])))


@dataclass(frozen=True, eq=False)
class CutMotif:
    """The motif with nothing too thin left, and what was taken off.

    ``features`` is all that was too narrow; ``islands`` are those made as pieces of their own.
    ``min_width`` and ``min_gap`` are what they were judged by, in mm.
    """

    placed: PlacedMotif
    outline: Outline
    hand_parts: tuple[HandPart, ...]
    findings: tuple[Finding, ...] = ()
    features: tuple[ThinFeature, ...] = ()
    min_width: float = 0.0
    min_gap: float = 0.0
    islands: tuple[LooseIsland, ...] = ()


@dataclass(frozen=True)
class Slit:
    """A beam's slit in the base: ends along v, and its width (0 for a plain cut)."""

    v0: float
    v1: float
    width: float


@dataclass(frozen=True)
class Beam:
    """One I-beam. Fold lines run from ``v0`` to ``v1`` at ``u``; ``flange`` is fold to edge.

    The beam on the crease has u = 0 and one flange of each pair on either half. ``shoulder`` is how
    far the lower flanges stand out beyond the fold line at the foot end.
    """

    id: int
    part: str
    u: float
    v0: float
    v1: float
    flange: float
    taper_deg: float
    slit: Slit
    shoulder: float = 0.0


@dataclass(frozen=True)
class FreeEnd:
    """A part of the motif that no beam has room to hold, and how far it sags at most, ``at`` where.

    ``sag`` is under the handling load.
    """

    at: tuple[float, float]
    sag: float


@dataclass(frozen=True, eq=False)
class Sag:
    """How far the motif bends under the handling load.

    ``max`` is the most ``at`` any place that beams can hold; ``free`` are the ends they can't.
    ``points`` (n, 2) card coordinates, ``triangles`` (m, 3), ``depth`` (n,) mm, downwards positive.
    """

    max: float
    limit: float
    at: tuple[float, float]
    handling_load: float
    points: FloatArray
    triangles: NDArray[np.int64]
    depth: FloatArray
    free: tuple[FreeEnd, ...] = ()

    @property
    def holds(self) -> bool:
        """Whether what beams can hold is held, and free ends carry at least their own weight."""
        own = max((end.sag / self.handling_load for end in self.free), default=0.0)
        return self.max <= self.limit and own <= self.limit


@dataclass(frozen=True, eq=False)
class StackArea:
    """A place of the closed card where the same layers lie: a polygon with its stack's thickness.

    ``outer`` (n, 2) and ``holes`` are rings on the closed card: (distance from spine, v), not
    closed by a repeated point.
    """

    outer: FloatArray
    holes: tuple[FloatArray, ...]
    thickness: float
    layers: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Closed:
    """The card closed: the motif's ``reach`` from the spine, web included, against its ``limit``.

    ``thickness`` in mm of the stack pressed flat at its thickest place, adhesive included;
    ``layers`` named there from front to back, ``at`` that place on the closed card (distance from
    spine, v). ``spine`` is the width of the outer card's spine panel, 0 where one fold will do.
    ``areas`` is the whole map of thicknesses. ``staggered`` is what the thickness would be if no
    beam of one half met one of the other. ``gap`` is how far the unpressed card stands open at its
    fore edge, by the stated assumption on folds (docs/mechanism.md).
    """

    reach: float
    limit: float
    thickness: float
    layers: tuple[str, ...]
    at: tuple[float, float]
    spine: float = 0.0
    areas: tuple[StackArea, ...] = ()
    staggered: float | None = None
    gap: float | None = None


@dataclass(frozen=True)
class Choice:
    """How good the choice of beams is: their fold lines' ``length``, summed over all beams.

    No set of as many beams that holds was found to need less than ``least``; ``tried`` is the
    number of sets of stretches whose fold lines were looked into.
    """

    length: float
    least: float
    tried: int

    @property
    def gap(self) -> float:
        """How much shorter the fold lines could still be, as a share of their length."""
        return 1 - self.least / self.length


@dataclass(frozen=True, eq=False)
class CardPlan:
    """The card planned: beams that hold, a motif that closes.

    ``choice`` is None where the maker gave all beams; ``proof`` comes with
    ``mechanism.proof.proved``.
    """

    cut: CutMotif
    beams: tuple[Beam, ...]
    sag: Sag
    closed: Closed
    choice: Choice | None = None
    findings: tuple[Finding, ...] = ()
    proof: Proof | None = None
