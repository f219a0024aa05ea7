"""Paper and cutters as the tables describe them."""

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Stock:
    """One kind of paper.

    ``grammage`` g/m2; ``thickness`` mm; ``e_along`` and ``e_across`` Young's moduli in GPa along
    and across the grain; ``sheet`` width and height in mm, grain along ``grain_deg`` on the sheet
    (0 = along x, 90 = along y).
    """

    name: str
    title: str
    grammage: float
    thickness: float
    e_along: float
    e_across: float
    poisson: float
    sheet: tuple[float, float]
    grain_deg: float
    source: str


@dataclass(frozen=True)
class Cutter:
    """What a cutter can reach and cut, in mm.

    ``area`` width and height; ``inset`` is kept clear along every edge of the sheet;
    ``min_feature`` the narrowest strip it leaves whole.
    """

    name: str
    title: str
    area: tuple[float, float]
    inset: float
    min_feature: float
    scores: bool
    source: str

    @property
    def the(self) -> str:
        """Its title within a sentence."""
        return self.title if self.title.startswith("your ") else f"the {self.title}"


@dataclass(frozen=True)
class NamedSize:
    """A card's or an envelope's size in mm, the shorter side first, under its trade name."""

    name: str
    title: str
    size: tuple[float, float]
    source: str


Role = Literal["motif", "base", "beam", "outer", "mockup", "gauge"]

Stocks = dict[Role, Stock]
"""Which paper each kind of piece is cut from."""
