"""Choices about the drawing: how it is read, traced, sized, what becomes of thin features."""

from dataclasses import dataclass, field
from typing import Literal

from trace2pop.model.card import Treatment
from trace2pop.model.settings.choice import Choice, choice


@dataclass(frozen=True)
class PictureSettings:
    """How the picture is read."""

    dpi: float | None = choice(
        None, "number", "dpi", "resolution of a flat scan, dots per inch", low=20, high=4800
    )
    drawn_width: float | None = choice(
        None, "length", "drawn-width", "width of the drawn motif on its paper", low=2, high=2000
    )
    paper: str | None = choice(
        None,
        "word",
        "paper",
        "sheet of paper in the photo, found by its edges",
        words=("a4", "letter", "a3", "a5", "a6", "12x12in"),
    )
    page_number: int = choice(
        1, "count", "page-number", "page of a file with several", low=1, high=10000
    )


@dataclass(frozen=True)
class TraceSettings:
    """How the motif is found and its outline drawn."""

    kind: str = choice(
        "auto",
        "word",
        "kind",
        "what the picture shows",
        words=("auto", "solid", "line", "colour", "alpha", "printed"),
    )
    take: str = choice("", "text", "take", "which numbered things on the page are the motif")
    trust: bool = choice(False, "flag", "trust", "go on although the trace is doubtful")
    gap: float = choice(
        2.0, "length", "gap", "longest gap in a pen line that is closed", low=0, high=5
    )
    tolerance: float = choice(
        0.03, "length", "tolerance", "largest deviation the curve fit aims at", low=0.005, high=0.5
    )
    offset: float = choice(
        0.0, "length", "offset", "margin left round the drawn edge", low=0, high=10
    )
    even: bool = choice(False, "flag", "even", "make a nearly symmetric motif truly symmetric")


@dataclass(frozen=True)
class MotifSettings:
    """The motif's size and place on the card."""

    width: float | None = choice(
        None, "length", "width", "ask for this finished width", low=5, high=1000
    )
    height: float | None = choice(
        None, "length", "height", "ask for this finished height", low=5, high=1000
    )
    scale: float | None = choice(
        None, "number", "scale", "ask for this multiple of the drawn size", low=0.01, high=100
    )
    turn: float | str = choice(
        0.0,
        "angle",
        "turn",
        "turn the motif clockwise, degrees; auto: as it can be largest",
        low=-360,
        high=360,
        words=("auto",),
    )
    paper: Literal["printed", "plain"] = choice(
        "printed",
        "word",
        "motif-paper",
        "cut from the printed artwork, or from plain stock",
        words=("printed", "plain"),
    )


@dataclass(frozen=True)
class FeatureChoice:
    """What to do about one thin feature: by its number, or by its place in the picture.

    ``x``, ``y`` are pixels of the upright picture, ``ThinFeature.drawn_at``.
    """

    do: Treatment = field(
        metadata={
            "choice": Choice(
                "word", "what to do", "", words=("hand", "thicken", "keep", "drop", "close", "join")
            )
        }
    )
    number: int | None = choice(
        None, "count", "", "its number in the list of this size", low=1, high=9999
    )
    x: float | None = choice(None, "number", "", "place across, px", low=-1e6, high=1e6)
    y: float | None = choice(None, "number", "", "place down, px", low=-1e6, high=1e6)


@dataclass(frozen=True)
class FragileSettings:
    """What is too thin, and what is done about it."""

    min_width: float | None = choice(
        None,
        "length",
        "min-width",
        "narrowest strip to cut; from stock and cutter if absent",
        low=0.1,
        high=10,
    )
    spurs: Treatment = choice(
        "hand",
        "word",
        "spurs",
        "feelers, legs and stems too thin to cut",
        words=("hand", "thicken", "keep", "drop"),
    )
    bridges: Treatment = choice(
        "thicken",
        "word",
        "bridges",
        "thin necks that join two regions",
        words=("thicken", "keep"),
    )
    walls: Literal["thicken", "keep", "drop"] = choice(
        "thicken",
        "word",
        "walls",
        "thin walls round a hole, and thin rings",
        words=("thicken", "keep", "drop"),
    )
    gaps: Literal["close", "keep"] = choice(
        "close",
        "word",
        "gaps",
        "holes and gaps too narrow to cut",
        words=("close", "keep"),
    )
    islands: Literal["drop", "join", "hand"] = choice(
        "drop",
        "word",
        "islands",
        "pieces loose in a hole: left away, joined by a bridge, or cut alone and held by film",
        words=("drop", "join", "hand"),
    )
    min_gap: float | None = choice(
        None,
        "length",
        "min-gap",
        "narrowest hole or gap to cut; from stock and cutter if absent",
        low=0.05,
        high=10,
    )
    glue_overlap: float = choice(
        10.0, "length", "glue-overlap", "glued length of a part added by hand", low=2, high=50
    )
    bends: bool = choice(
        False, "flag", "bends", "parts added by hand bend and may stick out when closed"
    )
    features: tuple[FeatureChoice, ...] = choice(
        (), "rows", "feature", "what to do about single features, by number or place"
    )
