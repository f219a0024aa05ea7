"""What the maker chooses: one frozen section a stage, lengths in mm.

Each field carries what the settings file, the command line and the documentation need to know of it
(see ``choice``), so that a choice is described in one place only.
"""

from dataclasses import dataclass, field
from typing import Any, Literal, TypeVar

from trace2pop.model.card import Treatment

T = TypeVar("T")

Form = Literal[
    "length", "size", "angle", "number", "count", "word", "text", "flag", "lengths", "rows"
]


@dataclass(frozen=True)
class Choice:
    """How a choice is written: its form, meaning, range and, for words, what may be said.

    ``low`` and ``high`` are inclusive, in the form's own unit (mm, degrees, plain). ``option`` is
    the long option's name; ``listed`` names the table of ``trace2pop list`` that holds the words.
    """

    form: Form
    text: str
    option: str
    low: float | None = None
    high: float | None = None
    words: tuple[str, ...] = ()
    listed: str | None = None


def choice(
    default: T,
    form: Form,
    option: str,
    text: str,
    *,
    low: float | None = None,
    high: float | None = None,
    words: tuple[str, ...] = (),
    listed: str | None = None,
) -> T:
    """Return a dataclass field that carries a ``Choice``."""
    described = Choice(form, text, option, low, high, words, listed)
    return field(default=default, metadata={"choice": described})


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
        words=("a4", "letter", "a5", "12x12in"),
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
class CardSettings:
    """The card's size and how high the motif floats."""

    size: tuple[float, float] = choice(
        (127.0, 177.8),
        "size",
        "card",
        "finished outer card, closed, width x height",
        low=40,
        high=600,
    )
    spine: Literal["long", "short"] = choice(
        "long", "word", "spine", "which side of the card folds", words=("long", "short")
    )
    rise: float = choice(20.0, "length", "rise", "clear height from base to motif", low=5, high=150)
    margin: float = choice(
        3.0, "length", "margin", "what stays inside the base when closed", low=0, high=30
    )
    border: float = choice(
        3.0, "length", "border", "outer card showing round the base", low=0, high=30
    )


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
                "word", "what to do", "", words=("hand", "thicken", "keep", "drop", "close")
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
        (), "rows", "", "what to do about single features, by number or place"
    )


def _needed(text: str, low: float, high: float) -> Any:
    """Return a dataclass field of a row that must be given: a length."""
    return field(metadata={"choice": Choice("length", text, "", low=low, high=high)})


@dataclass(frozen=True)
class GivenBeam:
    """A beam the maker places: ``u`` from the crease, fold line ``v0`` .. ``v1`` from the head."""

    u: float = _needed("distance from the crease, right positive", -600, 600)
    v0: float = _needed("start of its fold line, from the base's head edge", 0, 600)
    v1: float = _needed("end of its fold line", 0, 600)
    flange: float | None = choice(
        None, "length", "", "flange width; the widest that fits if absent", low=4, high=25
    )


@dataclass(frozen=True)
class ForbiddenRegion:
    """A part of the card that takes no flange."""

    u0: float = _needed("left side, from the crease, right positive", -600, 600)
    u1: float = _needed("right side", -600, 600)
    v0: float = _needed("upper side, from the base's head edge", -600, 600)
    v1: float = _needed("lower side", -600, 1200)


@dataclass(frozen=True)
class SupportSettings:
    """Where beams may stand and how well they must hold."""

    inset: float = choice(
        2.0, "length", "inset", "how far flanges stay inside the motif's edge", low=0, high=20
    )
    handling_load: float = choice(
        10.0, "number", "handling-load", "load as a multiple of the motif's weight", low=1, high=100
    )
    sag_limit: float = choice(
        1.0, "length", "sag-limit", "largest sag under that load", low=0.05, high=20
    )
    flanges: tuple[float, ...] = choice(
        (9.0, 7.0, 5.0), "lengths", "flanges", "flange widths to choose from", low=4, high=25
    )
    taper: float = choice(45.0, "angle", "taper", "slope of the flange ends", low=30, high=80)
    slit_clearance: float = choice(
        1.0, "length", "slit-clearance", "how much longer a slit is than its beam", low=0, high=5
    )
    count: int | None = choice(
        None, "count", "supports", "how many beams; the fewest that hold if absent", low=3, high=60
    )
    only_given: bool = choice(
        False, "flag", "only-given", "no beams but those given in [[supports.beam]]"
    )
    beam: tuple[GivenBeam, ...] = choice(
        (), "rows", "", "beams that stay where they are put; the others are chosen round them"
    )
    forbid: tuple[ForbiddenRegion, ...] = choice((), "rows", "", "regions that take no beam")


@dataclass(frozen=True)
class StockSettings:
    """Which paper each kind of piece is cut from, and the adhesive."""

    motif: str = choice("cover-216", "word", "motif-stock", "paper of the motif", listed="stocks")
    base: str = choice("cover-216", "word", "base-stock", "paper of the base", listed="stocks")
    beam: str = choice("cover-216", "word", "beam-stock", "paper of the beams", listed="stocks")
    outer: str = choice(
        "cover-216", "word", "outer-stock", "paper of the outer card", listed="stocks"
    )
    mockup: str = choice(
        "cover-216", "word", "mockup-stock", "paper of the mock-up", listed="stocks"
    )
    gauge: str = choice("cover-216", "word", "gauge-stock", "paper of the gauge", listed="stocks")
    adhesive: float = choice(
        0.1, "length", "adhesive", "thickness of the double-sided tape", low=0, high=1
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
    tie: float = choice(1.5, "length", "tie", "paper between the dashes", low=0.3, high=20)
    dash_edge: float = choice(
        2.0, "length", "dash-edge", "paper left whole at the ends of a dashed fold", low=1, high=20
    )
    ruling: Literal["5mm", "quarter-inch"] = choice(
        "5mm", "word", "ruling", "ruling of the white mock-up", words=("5mm", "quarter-inch")
    )


@dataclass(frozen=True)
class FileSettings:
    """Which files the pieces and sheets are written to, beside SVG."""

    formats: str = choice(
        "svg", "text", "formats", "files of pieces and sheets: svg, and any of dxf, pdf, png"
    )
    dxf_version: Literal["R2000", "R12"] = choice(
        "R2000", "word", "dxf-version", "version of DXF files", words=("R2000", "R12")
    )
    dxf_curves: Literal["polylines", "splines"] = choice(
        "polylines", "word", "dxf-curves", "curves in DXF files", words=("polylines", "splines")
    )


@dataclass(frozen=True)
class HandsSettings:
    """How exactly hands work: nineteen times in twenty an error is smaller than this."""

    place: float = choice(
        0.5, "length", "hand-place", "beams and motif put down beside their place", low=0, high=5
    )
    askew: float = choice(
        1.0, "angle", "hand-askew", "motif put down askew, degrees", low=0, high=10
    )
    fold: float = choice(0.3, "length", "hand-fold", "folds beside their line", low=0, high=3)
    cut: float = choice(0.2, "length", "hand-cut", "cuts beside their line", low=0, high=3)


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
    gap: float = choice(3.0, "length", "piece-gap", "clear space between pieces", low=0.5, high=30)
    copies: int = choice(1, "count", "copies", "how many cards to cut", low=1, high=500)
    layout: Literal["boxes", "tight"] = choice(
        "boxes",
        "word",
        "layout",
        "pieces laid by their boxes, or closer by their true shapes",
        words=("boxes", "tight"),
    )
    speed: float = choice(
        30.0, "number", "cut-speed", "cutting speed for the time estimate, mm/s", low=1, high=2000
    )


@dataclass(frozen=True)
class GuideSettings:
    """How the guide is printed."""

    paper: Literal["letter", "a4"] = choice(
        "letter", "word", "guide-paper", "paper of the guide", words=("letter", "a4")
    )
    language: str = choice(
        "en", "word", "language", "language of the guide and the page", words=("en", "de")
    )


@dataclass(frozen=True)
class Settings:
    """Every choice of a card. Field names are the settings file's sections."""

    picture: PictureSettings = field(default_factory=PictureSettings)
    trace: TraceSettings = field(default_factory=TraceSettings)
    card: CardSettings = field(default_factory=CardSettings)
    motif: MotifSettings = field(default_factory=MotifSettings)
    fragile: FragileSettings = field(default_factory=FragileSettings)
    supports: SupportSettings = field(default_factory=SupportSettings)
    stock: StockSettings = field(default_factory=StockSettings)
    pieces: PieceSettings = field(default_factory=PieceSettings)
    files: FileSettings = field(default_factory=FileSettings)
    hands: HandsSettings = field(default_factory=HandsSettings)
    print: PrintSettings = field(default_factory=PrintSettings)
    cutter: CutterSettings = field(default_factory=CutterSettings)
    guide: GuideSettings = field(default_factory=GuideSettings)
