"""Choices about the making: papers, pieces, files, printer, cutter, guide."""

from dataclasses import dataclass, field
from typing import Literal

from trace2pop.model.settings.choice import Choice, choice


@dataclass(frozen=True)
class OwnPaper:
    """A paper of the maker's: a listed one as they have it, or one of their own under a new name.

    What isn't said is as in the list: of the paper of that ``name``, or of the one it is ``like``.
    """

    name: str = field(
        metadata={"choice": Choice("text", "a listed paper as you have it, or a name of yours", "")}
    )
    like: str | None = choice(
        None, "word", "", "for a name of yours: the listed paper most like it", listed="stocks"
    )
    title: str | None = choice(None, "text", "", "what it is called on sheets and in the guide")
    grammage: float | None = choice(None, "number", "", "g/m2", low=60, high=600)
    thickness: float | None = choice(None, "length", "", "of one sheet", low=0.05, high=1.5)
    sheet: tuple[float, float] | None = choice(
        None, "size", "", "its sheets, width x height as they go onto the cutter", low=50, high=2000
    )
    grain: Literal["width", "height"] | None = choice(
        None, "word", "", "side of the sheet its grain runs along", words=("width", "height")
    )
    e_along: float | None = choice(
        None, "number", "", "Young's modulus along the grain, GPa", low=0.5, high=15
    )
    e_across: float | None = choice(
        None, "number", "", "Young's modulus across the grain, GPa", low=0.2, high=15
    )


@dataclass(frozen=True)
class StockSettings:
    """Which paper each kind of piece is cut from, and the adhesive."""

    motif: str = choice(
        "cover-216", "word", "motif-stock", "paper of the motif", listed="stocks", own="paper"
    )
    base: str = choice(
        "cover-216", "word", "base-stock", "paper of the base", listed="stocks", own="paper"
    )
    beam: str = choice(
        "cover-216", "word", "beam-stock", "paper of the beams", listed="stocks", own="paper"
    )
    outer: str = choice(
        "cover-216", "word", "outer-stock", "paper of the outer card", listed="stocks", own="paper"
    )
    mockup: str = choice(
        "cover-216", "word", "mockup-stock", "paper of the mock-up", listed="stocks", own="paper"
    )
    gauge: str = choice(
        "cover-216", "word", "gauge-stock", "paper of the gauge", listed="stocks", own="paper"
    )
    adhesive: float = choice(
        0.1, "length", "adhesive", "thickness of the double-sided tape", low=0, high=1
    )
    paper: tuple[OwnPaper, ...] = choice(
        (), "rows", "", "your own papers; what isn't said is as in the list"
    )


@dataclass(frozen=True)
class PieceSettings:
    """How the flat pieces are made."""

    corner_radius: float = choice(
        0.0, "length", "corner-radius", "rounding of base and outer card", low=0, high=30
    )
    spine_form: Literal["auto", "fold", "spine"] = choice(
        "auto",
        "word",
        "spine-form",
        "outer card with one fold or with a spine of two; auto goes by the closed thickness",
        words=("auto", "fold", "spine"),
    )
    keyed: bool = choice(
        True,
        "flag",
        "keyed",
        "beams marked for their slits, with shoulders that go in one way up; off: equal beams are "
        "one piece",
    )
    adhesive_shapes: bool = choice(
        False, "flag", "adhesive-shapes", "cut the adhesive of the flanges from double-sided sheet"
    )
    cover_window: tuple[float, float] | None = choice(
        None,
        "size",
        "cover-window",
        "a window in the front of the outer card, width x height, where no beam shows",
        low=5,
        high=400,
    )
    liner: bool = choice(False, "flag", "liner", "a panel to write on, for the back of the card")
    envelope: Literal["standard", "make"] = choice(
        "standard",
        "word",
        "envelope",
        "the nearest standard envelope, or one cut to size",
        words=("standard", "make"),
    )
    scores: Literal["tool", "dashed", "pencil"] = choice(
        "tool",
        "word",
        "scores",
        "how folds are marked: scoring tool, dashed cut with the blade, or pencil for hand folding",
        words=("tool", "dashed", "pencil"),
    )
    dash: float = choice(2.5, "length", "dash", "cut of a dashed fold", low=0.5, high=20)
    tie: float = choice(1.5, "length", "tie", "paper between the dashes", low=0.3, high=5)
    dash_edge: float = choice(
        2.0, "length", "dash-edge", "paper left whole at the ends of a dashed fold", low=1, high=4
    )
    ruling: Literal["5mm", "quarter-inch"] = choice(
        "5mm", "word", "ruling", "ruling of the white mock-up", words=("5mm", "quarter-inch")
    )


@dataclass(frozen=True)
class FileSettings:
    """Which files the pieces and sheets are written to, beside SVG."""

    formats: str = choice(
        "svg",
        "text",
        "formats",
        "files of pieces and sheets: svg always, and any of the others, with commas between",
        words=("svg", "dxf", "pdf", "png"),
    )
    dxf_version: Literal["R2000", "R12"] = choice(
        "R2000", "word", "dxf-version", "version of DXF files", words=("R2000", "R12")
    )
    dxf_curves: Literal["polylines", "splines"] = choice(
        "polylines", "word", "dxf-curves", "curves in DXF files", words=("polylines", "splines")
    )


@dataclass(frozen=True)
class PrintSettings:
    """How far the printer is off: what the check page measures, and where the cut comes to lie."""

    ruler_across: float = choice(
        100.0, "length", "ruler-across", "what the printed 100 mm ruler measures", low=90, high=110
    )
    ruler_down: float = choice(
        101.6, "length", "ruler-down", "what the printed 4 in ruler measures", low=91, high=112
    )
    right: float = choice(
        0.0, "length", "print-right", "move the print to the right", low=-20, high=20
    )
    down: float = choice(0.0, "length", "print-down", "move the print down", low=-20, high=20)


@dataclass(frozen=True)
class CutterSettings:
    """The cutter, and how pieces are laid on its sheets."""

    name: str = choice(
        "mat-12x12", "word", "cutter", "cutter the sheets are laid out for", listed="cutters"
    )
    area: tuple[float, float] | None = choice(
        None, "size", "cutter-area", "your cutter's own area, width x height", low=60, high=3000
    )
    inset: float | None = choice(
        None, "length", "cutter-inset", "what it can't reach along each edge", low=0, high=50
    )
    min_feature: float | None = choice(
        None, "length", "cutter-strip", "narrowest strip it leaves whole", low=0.2, high=10
    )
    gap: float = choice(3.0, "length", "piece-gap", "clear space between pieces", low=0.5, high=30)
    copies: int = choice(1, "count", "copies", "how many cards to cut", low=1, high=500)
    layout: Literal["auto", "boxes", "tight"] = choice(
        "auto",
        "word",
        "layout",
        "by boxes, by true shapes, or by shapes only where that saves a sheet",
        words=("auto", "boxes", "tight"),
    )
    speed: float = choice(
        30.0, "number", "cut-speed", "cutting speed for the time estimate, mm/s", low=1, high=2000
    )


@dataclass(frozen=True)
class GuideSettings:
    """How the guide is printed."""

    title: str = choice(
        "", "text", "title", "what the card is called; empty to name it after the picture"
    )
    trade: bool = choice(
        False, "flag", "trade", "plan other rises too, for the guide's table; takes longer"
    )
    paper: Literal["letter", "a4"] = choice(
        "letter", "word", "guide-paper", "paper of the guide", words=("letter", "a4")
    )
    language: str = choice(
        "en", "word", "language", "language of the guide and the page", words=("en", "de")
    )
