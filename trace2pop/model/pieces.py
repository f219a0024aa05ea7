"""Flat pieces, and how they lie on sheets."""

from dataclasses import dataclass
from typing import Literal

from trace2pop.model.card import Beam, Card, CardPlan
from trace2pop.model.finding import Finding
from trace2pop.model.outline import Contour
from trace2pop.model.stock import Cutter, Role, Stock

Operation = Literal["cut", "score", "note", "art"]
Fold = Literal["mountain", "valley"]
Face = Literal["front", "back", "outer", "inner"]


@dataclass(frozen=True, eq=False)
class Stroke:
    """One line of a piece, in the piece's own mm (x right, y down, all of it at x, y >= 0).

    ``inner`` marks cuts that must be made before the piece's own outline. ``fold`` is the sense
    seen from the face that lies up. ``slit`` marks the cut of a slit: open where it is a plain cut,
    closed where it is a slot. ``dash`` marks one dash of a fold that the blade cuts in dashes.
    ``id`` is stable and unique in its piece.
    """

    id: str
    op: Operation
    line: Contour
    closed: bool
    inner: bool = False
    fold: Fold | None = None
    slit: bool = False
    dash: bool = False


@dataclass(frozen=True)
class Label:
    """Words on a piece: a note for the reader, never cut. ``anchor`` as in SVG."""

    text: str
    at: tuple[float, float]
    size: float = 3.0
    anchor: Literal["start", "middle", "end"] = "middle"
    turn_deg: float = 0.0


@dataclass(frozen=True, eq=False)
class Part:
    """One flat piece.

    ``origin`` is where the piece's (0, 0) lies on the open card, None for a piece that doesn't lie
    flat on it. ``face_up`` names the face that lies up on the sheet, ``fold_face`` the face whose
    fold senses the scores give. ``grain_deg`` is the grain's direction on the piece (0 = along x).
    ``printed`` says that it is cut from a sheet with the artwork printed on it; ``set`` names the
    pieces that are cut together, apart from all others ("card" or "mockup").
    """

    name: str
    title: str
    role: Role
    stock: Stock
    size: tuple[float, float]
    strokes: tuple[Stroke, ...]
    labels: tuple[Label, ...] = ()
    quantity: int = 1
    origin: tuple[float, float] | None = None
    face_up: Face = "front"
    fold_face: Face = "front"
    grain_deg: float = 90.0
    printed: bool = False
    set: Literal["card", "mockup"] = "card"


@dataclass(frozen=True, eq=False)
class Parts:
    """All flat pieces of a card, in the order of making."""

    plan: CardPlan
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, eq=False)
class Mockup:
    """The white mock-up of a card for which there may be no motif yet: its own beams and pieces."""

    card: Card
    beams: tuple[Beam, ...]
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...] = ()


Pieces = Parts | Mockup


@dataclass(frozen=True)
class Placement:
    """Where a copy of a piece lies on a sheet: the corner of its turned box, and its turn."""

    part: str
    copy: int
    x: float
    y: float
    rotation_deg: float


@dataclass(frozen=True)
class Step:
    """One stroke as the tool runs it: of which placement (by its index), and how.

    ``start`` is where a closed stroke begins: whole part the segment, fraction the share of it; 0
    for an open stroke. ``backward`` says that an open stroke is run from its end.
    """

    placement: int
    stroke: str
    start: float = 0.0
    backward: bool = False


@dataclass(frozen=True)
class Work:
    """What a sheet takes: mm cut, scored and travelled between, tool lifts, and seconds."""

    cut: float
    score: float
    travel: float
    lifts: int
    seconds: float


@dataclass(frozen=True)
class Sheet:
    """One sheet of stock with its placements, in cutting order.

    ``steps`` is every stroke that a tool runs, in order: piece by piece, in each its scores, its
    inner cuts, its outline. ``work`` is what that takes.

    ``edge`` is the band along its edges in which no piece lies.
    ``crosses`` are the middles of registration crosses, on sheets that are printed before they are
    cut. ``tile`` names the part of a larger page that this one is ("1 of 2"), empty otherwise.
    """

    name: str
    stock: Stock
    width: float
    height: float
    placements: tuple[Placement, ...]
    crosses: tuple[tuple[float, float], ...] = ()
    tile: str = ""
    edge: float = 6.0
    steps: tuple[Step, ...] = ()
    work: Work | None = None


@dataclass(frozen=True, eq=False)
class Sheets:
    """All sheets of a card."""

    parts: Parts
    cutter: Cutter
    sheets: tuple[Sheet, ...]
    findings: tuple[Finding, ...] = ()
