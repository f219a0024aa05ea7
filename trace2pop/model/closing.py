"""The proof that a card closes, and what hands do to it."""

from dataclasses import dataclass
from typing import Literal

from trace2pop.model.stock import NamedSize

Fault = Literal[
    "reach", "along", "web-height", "web-inside", "flange-inside", "crossing", "contact"
]


@dataclass(frozen=True)
class AtAngle:
    """The card at one opening angle, 0 closed to 180 flat open.

    ``reach_left`` and ``reach_right`` are how far from the spine each half of the motif lies,
    measured along the base; ``height`` how high its underside is above the base. ``closest`` is the
    least distance between two sheets that must not touch, and ``pair`` names them; None where there
    is only one.
    """

    opening_deg: float
    reach_left: float
    reach_right: float
    height: float
    closest: float | None
    pair: tuple[str, str] | None


@dataclass(frozen=True)
class ClosingFault:
    """Something that keeps the card from closing: what, which pieces, by how much.

    ``measured`` and ``limit`` are mm; degrees of opening for "crossing" of two sheets and
    "contact".
    """

    kind: Fault
    where: str
    measured: float
    limit: float


@dataclass(frozen=True)
class Closing:
    """How the card closes, from its flat pieces.

    ``limit`` is what reach may be. ``contact_deg`` is the opening at which the first two layers
    that must not touch do so, their thickness counted; from there on they are pressed together.
    """

    limit: float
    steps: tuple[AtAngle, ...]
    contact_deg: float
    contact: tuple[str, str] | None
    faults: tuple[ClosingFault, ...]


@dataclass(frozen=True)
class Sway:
    """What holds the open layer upright.

    ``stiffness`` is the restoring moment of the beams' folds and ``tipping`` that of the motif's
    weight, both in N mm per radian of lean; ``ratio`` is the one over the other, well over 1 for a
    layer that stands by itself. ``hung`` is how far in mm the layer shifts sideways when the open
    card stands on its fore edge, so that the motif's weight pulls along the base.
    """

    stiffness: float
    tipping: float
    ratio: float
    hung: float


@dataclass(frozen=True)
class Tolerance:
    """What hands do to the closed card.

    ``chance`` that something shows past an edge, of ``samples`` drawn with ``seed``; ``linear`` the
    same to first order, from above. ``dominant`` is the error that matters most at the edge most at
    risk, and ``shares`` each error's part of the variance there. ``clearance`` is the least
    distance from an edge without errors; ``margin`` what it must be for 1 in 100, in mm.
    """

    chance: float
    linear: float
    dominant: str
    shares: tuple[tuple[str, float], ...]
    clearance: float
    margin: float
    samples: int
    seed: int


@dataclass(frozen=True)
class Verdict:
    """What one postal service says: ``reasons`` against taking it, ``remarks`` where it costs."""

    operator: str
    service: str
    taken: bool
    reasons: tuple[str, ...]
    remarks: tuple[str, ...]
    source: str
    year: int


@dataclass(frozen=True)
class Mail:
    """The card in its envelope: the nearest listed one or None, sizes in mm, mass in g.

    ``made`` says that the envelope is one of the card's own pieces.
    """

    envelope: NamedSize | None
    size: tuple[float, float]
    thickness: float
    mass: float
    verdicts: tuple[Verdict, ...]
    made: bool = False


@dataclass(frozen=True)
class Proof:
    """What a plan is proved by, beyond its bending."""

    closing: Closing
    sway: Sway
    tolerance: Tolerance
    mail: Mail
