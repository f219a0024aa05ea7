"""Reads card.json back, as its public description has it, and the choices of card.toml."""

import json
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from trace2pop.checks.node import Node, PlanError
from trace2pop.checks.reading import content
from trace2pop.checks.report import Judge
from trace2pop.model.outline import FloatArray
from trace2pop.units import parse_length

SCHEMA = "trace2pop-card-1"

# What a choice means where card.toml doesn't name it.
_DEFAULTS = {
    ("supports", "inset"): 2.0,
    ("supports", "slit_clearance"): 1.0,
    ("cutter", "gap"): 0.5,
    ("cutter", "copies"): 1.0,
}

_NARROWEST = 0.5


@dataclass(frozen=True)
class PlanPart:
    """A row of ``parts``."""

    name: str
    file: str
    quantity: int
    stock: str
    origin: tuple[float, float] | None
    face_up: str


@dataclass(frozen=True)
class PlanPlacement:
    """A row of a sheet's ``placements``."""

    part: str
    copy: int
    x: float
    y: float
    rotation_deg: float


@dataclass(frozen=True)
class PlanSheet:
    """A row of ``sheets``."""

    file: str
    stock: str
    size: tuple[float, float]
    placements: tuple[PlanPlacement, ...]


@dataclass(frozen=True)
class PlanBeam:
    """A row of ``supports``."""

    part: str
    u: float
    v0: float
    v1: float
    flange: float
    taper_deg: float
    slit: tuple[float, float]
    slit_width: float


@dataclass(frozen=True, eq=False)
class PlanHand:
    """A row of ``hand_parts`` that is added by hand: its middle lines and its thickness.

    ``behind`` (n, 2) is where a wire that stiffens the motif lies, None for other parts.
    """

    id: int
    join: tuple[float, float]
    lines: tuple[FloatArray, ...]
    diameter: float
    length: float
    cut_length: float
    behind: FloatArray | None = None


@dataclass(frozen=True, eq=False)
class Plan:
    """card.json and card.toml, as far as pieces are judged by them."""

    root: Node
    parts: tuple[PlanPart, ...]
    sheets: tuple[PlanSheet, ...]
    beams: tuple[PlanBeam, ...]
    hand: tuple[PlanHand, ...]
    choices: Mapping[tuple[str, str], object] = field(default_factory=dict)

    def number(self, *way: str) -> float:
        """Return a number of card.json."""
        node = self.root
        for key in way:
            node = node[key]
        return node.number()

    def choice(self, section: str, key: str) -> float:
        """Return a number or length of card.toml, or what it means where it isn't named."""
        value = self.choices.get((section, key), _DEFAULTS[section, key])
        return parse_length(value) if isinstance(value, str) else float(str(value))

    @property
    def cutter(self) -> tuple[tuple[float, float], float]:
        """The cutter's area and the band it doesn't reach."""
        return self.root["cutter"]["area"].pair(), self.root["cutter"]["inset"].number()

    def least_width(self, piece: str) -> float:
        """Return the narrowest strip a piece may have: what the cutter leaves whole, or any cutter.

        For the motif and its islands it is the maker's, where there is one.
        """
        value = self.choices.get(("fragile", "min_width"))
        if isinstance(value, str) and (piece == "motif" or piece.startswith("island-")):
            return parse_length(value)
        cutter = self.root["cutter"].value
        known = cutter.get("min_feature") if isinstance(cutter, dict) else None
        return float(known) if isinstance(known, int | float) else _NARROWEST

    @property
    def keeps_thin(self) -> bool:
        """Whether the maker asked to keep something that is too thin."""
        kinds = [self.choices.get(("fragile", key)) for key in ("spurs", "bridges", "walls")]
        rows = self.choices.get(("fragile", "features"))
        single = [
            row.get("do")
            for row in (rows if isinstance(rows, list) else [])
            if isinstance(row, dict)
        ]
        return "keep" in (*kinds, *single)


def read_plan(folder: Path, judge: Judge) -> Plan | None:
    """Return the folder's plan, None where card.json can't be used; faults are recorded."""
    file = folder / "card.json"
    try:
        document = json.loads(content(file).decode("utf-8"), parse_constant=_no_constant)
    except (OSError, ValueError, RecursionError) as error:
        judge.holds("files", "card.json", False, f"it can't be read ({error})")
        return None
    judge.holds("files", "card.json", True, "")
    root = Node(document)
    try:
        plan = Plan(root, *_rows(root), choices=_choices(folder, judge))
        _expected(plan)
    except PlanError as error:
        judge.holds("plan", "card.json", False, str(error))
        return None
    judge.holds("plan", "card.json", True, "")
    return plan


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _rows(
    root: Node,
) -> tuple[tuple[PlanPart, ...], tuple[PlanSheet, ...], tuple[PlanBeam, ...], tuple[PlanHand, ...]]:
    if root["schema"].text() != SCHEMA:
        raise PlanError(f"schema is {root['schema'].text()!r}, this program reads {SCHEMA!r}")
    hand = [row for row in root["hand_parts"].rows() if row["choice"].text() == "hand"]
    return (
        tuple(map(_part, root["parts"].rows())),
        tuple(map(_sheet, root["sheets"].rows())),
        tuple(map(_beam, root["supports"].rows())),
        tuple(map(_hand, hand)),
    )


def _expected(plan: Plan) -> None:
    """Read every number that is used later, so that a missing one is told at once."""
    for way in (
        *(("card", key) for key in ("half_width", "height", "rise", "web", "margin", "border")),
        *(("card", "outer", key) for key in ("width", "height")),
        *(("window", key) for key in ("width", "height")),
        *(("motif", key) for key in MEASURED),
        *(("closed", key) for key in ("reach", "limit", "thickness")),
        *(("stock", role, "thickness") for role in ("motif", "base", "beam")),
        ("sag", "max"),
        ("sag", "limit"),
    ):
        plan.number(*way)
    _ = plan.cutter


MEASURED = (
    "width",
    "height",
    "reach_left",
    "reach_right",
    "reach_left_with_hand",
    "reach_right_with_hand",
)
"""The keys of ``motif`` that are measured on its piece."""


def _part(row: Node) -> PlanPart:
    origin = row["origin"].maybe()
    return PlanPart(
        name=row["name"].text(),
        file=row["file"].text(),
        quantity=round(row["quantity"].number()),
        stock=row["stock"].text(),
        origin=None if origin is None else origin.pair(),
        face_up=row["face_up"].text(),
    )


def _sheet(row: Node) -> PlanSheet:
    return PlanSheet(
        file=row["file"].text(),
        stock=row["stock"].text(),
        size=(row["width"].number(), row["height"].number()),
        placements=tuple(map(_placement, row["placements"].rows())),
    )


def _placement(row: Node) -> PlanPlacement:
    number: Callable[[str], float] = lambda key: row[key].number()  # noqa: E731  # four in a row
    return PlanPlacement(
        row["part"].text(), round(number("copy")), number("x"), number("y"), number("rotation_deg")
    )


def _beam(row: Node) -> PlanBeam:
    return PlanBeam(
        part=row["part"].text(),
        u=row["u"].number(),
        v0=row["v0"].number(),
        v1=row["v1"].number(),
        flange=row["flange"].number(),
        taper_deg=row["taper_deg"].number(),
        slit=(row["slit"]["v0"].number(), row["slit"]["v1"].number()),
        slit_width=row["slit"]["width"].number(),
    )


def _hand(row: Node) -> PlanHand:
    paths = [row["path"]]
    branches = row.value.get("branches") if isinstance(row.value, dict) else None
    if branches is not None:
        paths += row["branches"].rows()
    lines = tuple(np.array([point.pair() for point in path.rows()]) for path in paths)
    stiff = row["kind"].text() == "stiffener"
    return PlanHand(
        id=round(row["id"].number()),
        join=row["join"].pair(),
        lines=lines,
        diameter=row["diameter"].number(),
        length=row["length"].number(),
        cut_length=row["cut_length"].number(),
        behind=np.array([point.pair() for point in row["glued"].rows()]) if stiff else None,
    )


def _choices(folder: Path, judge: Judge) -> dict[tuple[str, str], object]:
    """Return the choices written in card.toml by section and key."""
    try:
        document = tomllib.loads(content(folder / "card.toml").decode("utf-8"))
    except (OSError, ValueError) as error:
        judge.holds("files", "card.toml", False, f"it can't be read ({error})")
        return {}
    judge.holds("files", "card.toml", True, "")
    return {
        (section, key): value
        for section, values in document.items()
        if isinstance(values, dict)
        for key, value in values.items()
    }
