"""The assembly guide: words and drawings of one card, before they become pages."""

from dataclasses import dataclass
from typing import Literal

from trace2pop.model.outline import Contour
from trace2pop.model.pieces import Sheets

Anchor = Literal["start", "middle", "end"]
Tone = Literal["ink", "light", "soft"]
Ink = Literal[
    "paper",
    "back",
    "base",
    "base-back",
    "motif",
    "motif-back",
    "beam",
    "cover",
    "gauge",
    "shade",
    "cut",
    "thin",
    "hidden",
    "valley",
    "mountain",
    "slit",
    "glue",
    "glue-edge",
    "hole",
    "pinhole",
    "hand",
    "hand-core",
    "overlap",
    "end-base",
    "end-beam",
    "end-motif",
    "end-cover",
    "end-glue",
    "end-liner",
    "arrow",
    "arrow-head",
    "ball",
    "box",
    "tag",
    "ruler",
    "mat",
    "axis",
    "curve",
    "ring",
    "stack-1",
    "stack-2",
    "stack-3",
    "stack-4",
    "stack-5",
]
"""How a mark is drawn; ``formats.figures`` says what each looks like."""


@dataclass(frozen=True, eq=False)
class Mark:
    """One line or area of a drawing, in mm on the page. Several ``lines`` are one area with holes.

    ``width`` in mm overrules the stroke of ``ink`` where a line's own thickness matters.
    """

    lines: tuple[Contour, ...]
    ink: Ink
    closed: bool
    width: float | None = None


@dataclass(frozen=True)
class Word:
    """Words in a drawing: ``at`` is the baseline's anchor, ``size`` the type's in mm."""

    text: str
    at: tuple[float, float]
    size: float = 3.0
    anchor: Anchor = "middle"
    tone: Tone = "ink"
    bold: bool = False


@dataclass(frozen=True, eq=False)
class Figure:
    """A drawing of ``size`` mm as it comes onto the page; ``caption`` stands under it.

    ``alt`` says in words what it shows. A ``true_size`` figure must not be scaled.
    """

    alt: str
    size: tuple[float, float]
    marks: tuple[Mark, ...]
    words: tuple[Word, ...] = ()
    caption: str = ""
    true_size: bool = False


@dataclass(frozen=True, eq=False)
class Step:
    """One step: what to take, what to do, and its drawings in rows.

    ``care`` is a caution that belongs to this step, empty where there is none. ``found`` says what
    is out of the ordinary with this very card. ``table`` has its column heads as first row.
    """

    title: str
    take: str
    text: tuple[str, ...]
    rows: tuple[tuple[Figure, ...], ...] = ()
    care: str = ""
    table: tuple[tuple[str, ...], ...] = ()
    note: str = ""
    found: tuple[str, ...] = ()


@dataclass(frozen=True)
class Traded:
    """The largest motif at one rise, parts added by hand included, and the beams it needs.

    ``beams`` is None where they weren't planned; ``size`` is None where none closes and holds.
    """

    rise: float
    size: tuple[float, float] | None
    beams: int | None = None


@dataclass(frozen=True, eq=False)
class Trade:
    """Rise against size: what it says, its table with heads first, its picture."""

    text: tuple[str, ...]
    table: tuple[tuple[str, ...], ...]
    picture: Figure


@dataclass(frozen=True, eq=False)
class Guide:
    """All a guest needs to build the card.

    ``words`` are the headings and set phrases by name; ``needs`` are (what, how much). Each
    template is a page of its own at true size. ``reach`` is how far from the spine the closed
    card's motif and stiff parts come.
    """

    sheets: Sheets
    title: str
    paper: Literal["letter", "a4"]
    language: str
    words: dict[str, str]
    facts: tuple[tuple[str, str], ...]
    needs: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    legend: Figure
    pieces: Figure
    steps: tuple[Step, ...]
    templates: tuple[Figure, ...]
    trouble: tuple[tuple[str, str], ...]
    trade: Trade
    reach: float
