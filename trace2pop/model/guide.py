"""The assembly guide: words and drawings of one card, before they become pages."""

from dataclasses import dataclass, field

from trace2pop.model.outline import Contour
from trace2pop.model.pieces import Sheets


@dataclass(frozen=True, eq=False)
class Mark:
    """One line or area of a drawing, in the drawing's own mm; ``style`` names how it is drawn."""

    line: Contour
    style: str
    closed: bool = False


@dataclass(frozen=True)
class Word:
    """Words in a drawing. ``size`` in mm, ``anchor`` as in SVG."""

    text: str
    at: tuple[float, float]
    size: float = 3.5
    anchor: str = "middle"


@dataclass(frozen=True, eq=False)
class Figure:
    """A drawing with its caption. ``true_size`` drawings are never scaled."""

    caption: str
    size: tuple[float, float]
    marks: tuple[Mark, ...]
    words: tuple[Word, ...] = ()
    true_size: bool = False
    sheet: str | None = None


@dataclass(frozen=True)
class Step:
    """One step: its title, what to do, and its drawings."""

    title: str
    text: tuple[str, ...]
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, eq=False)
class Guide:
    """All a guest needs to build the card."""

    sheets: Sheets
    title: str
    words: dict[str, str]
    facts: tuple[tuple[str, str], ...]
    needs: tuple[str, ...]
    cautions: tuple[str, ...]
    steps: tuple[Step, ...]
    hand_rows: tuple[tuple[str, ...], ...]
    template: Figure | None
    trouble: tuple[tuple[str, str], ...]
    paper: str = "letter"
    language: str = field(default="en")
