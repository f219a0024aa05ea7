"""The flat pieces of a card, as the closing check takes them."""

from dataclasses import dataclass

import shapely


@dataclass(frozen=True)
class FlatBeam:
    """A beam as its flat piece and its slit say: fold line at ``u`` from ``v0`` to ``v1``."""

    name: str
    u: float
    v0: float
    v1: float
    web: float
    flange: float
    taper_deg: float


@dataclass(frozen=True)
class Papers:
    """Thicknesses in mm of the layers that move against each other."""

    base: float
    motif: float
    beam: float
    adhesive: float


@dataclass(frozen=True, eq=False)
class FlatCard:
    """The pieces of a card as polygons in card coordinates (u, v)."""

    base: shapely.Geometry
    motif: shapely.Geometry
    beams: tuple[FlatBeam, ...]
    papers: Papers
    margin: float
