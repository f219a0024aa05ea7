"""Islands: pieces that lie loose in a hole, joined by bridges or held by film."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.geometry.grow import banded, short_of_tip
from trace2pop.geometry.thin import find_thin
from trace2pop.limits import FILM_OVERLAP
from trace2pop.model.card import LooseIsland, PlacedMotif, ThinFeature, Treatment
from trace2pop.model.outline import FloatArray, Outline
from trace2pop.model.settings import FeatureChoice, FragileSettings
from trace2pop.stages.cuttable.film import film_behind
from trace2pop.stages.cuttable.found import check, clock, drawn_at, meant, middle_of, refused

_INSIDE = 1.0
"""mm: a stored place means an island only where it lies in it, or this near."""

_STURDY = 2.0
"""A bridge is this many times the narrowest strip wide: half of it could be cut as well."""

_LEAST = 1.2
"""On an island narrower than that it is as wide as the island, but no less than this."""


@dataclass(frozen=True, eq=False)
class Island:
    """A loose piece on the card and what is done about it; ``number`` comes last.

    ``way`` (2, 2) is the shortest way from the body to it, ``width`` the bridge's along it.
    ``single`` says that the choice is for it alone; ``why`` its class's choice wasn't possible.
    """

    outline: Outline
    shape: shapely.Polygon
    way: FloatArray
    width: float
    choice: Treatment
    number: int = 0
    single: bool = False
    why: str = ""

    @property
    def at(self) -> tuple[float, float]:
        """A place in it."""
        point = self.shape.representative_point()
        return float(point.x), float(point.y)

    @property
    def span(self) -> float:
        """How far it is from the body."""
        return float(np.hypot(*(self.way[1] - self.way[0])))

    def feature(self, placed: PlacedMotif) -> ThinFeature:
        """Return it as the plan lists it: its bridge's width, the bridge's length."""
        return ThinFeature(
            id=self.number,
            kind="island",
            at=self.at,
            drawn_at=drawn_at(placed, self.at),
            width=self.width,
            length=self.span,
            choice=self.choice,
        )


def found_islands(
    body: shapely.Polygon, placed: PlacedMotif, settings: FragileSettings, width: float
) -> tuple[list[Island], list[FeatureChoice]]:
    """Return the islands in the body's holes, and the choices meant for none of them.

    Raises:
        FragileError: where a choice can't be for an island.
    """
    outlines = [beziers.transform_outline(one, placed.to_card) for one in placed.motif.islands]
    result = [
        _island(outline, body, settings, width)
        for outline in outlines
        if not body.intersects(beziers.polygon(outline))
    ]
    left = []
    for item in settings.features:
        places = [(island.shape, island.at) for island in result]
        index = meant(places, placed, item, _INSIDE) if places else None
        if index is None:
            left.append(item)
            continue
        check("island", result[index].at, item.do)
        result[index] = replace(result[index], choice=item.do, single=True)
    return result, left


def _island(
    outline: Outline, body: shapely.Polygon, settings: FragileSettings, width: float
) -> Island:
    shape = beziers.polygon(outline)
    way = shapely.get_coordinates(shapely.shortest_line(body, shape))
    across = 2 * float(shape.area) / float(shape.length)
    bridge = min(_STURDY * width, max(_LEAST * width, across))
    return Island(outline, shape, way, bridge, settings.islands)


def joined(body: shapely.Polygon, islands: Iterable[Island]) -> shapely.Polygon:
    """Return the body with each of the islands on a bridge."""
    for island in islands:
        hole = next(
            hole
            for hole in map(shapely.Polygon, body.interiors)
            if hole.contains(island.shape.representative_point())
        )
        way = (island.way[1] - island.way[0]) / max(island.span, 1e-9)
        # On into both by a width, so that the bridge's whole end lies in them.
        line = np.vstack(
            [island.way[0] - island.width * way, island.way[1] + _depth(island, way) * way]
        )
        both = shapely.union_all([body, island.shape])
        path = short_of_tip(line, island.width)
        body = banded(both, [path], island.width, hole.union(body))
    return body


def _depth(island: Island, way: FloatArray) -> float:
    """Return how far a bridge goes on into the island: a width, or to its middle."""
    ray = shapely.linestrings(np.array([island.way[1], island.way[1] + 2 * island.width * way]))
    inside = float(shapely.intersection(ray, island.shape).length)
    return min(island.width, 0.5 * inside)


def numbered_islands(islands: Sequence[Island], body: shapely.Polygon, after: int) -> list[Island]:
    """Return islands numbered clockwise from the head after ``after``."""
    centre = middle_of(body)
    order = sorted(islands, key=lambda island: clock(island.at, centre))
    return [replace(island, number=number) for number, island in enumerate(order, after + 1)]


def set_in(
    islands: Sequence[Island], body: shapely.Polygon, width: float
) -> tuple[list[Island], tuple[LooseIsland, ...]]:
    """Return the islands, and those of them that become pieces of their own, held by film.

    Where that can't be and it was chosen for all of them, the island is dropped.

    Raises:
        FragileError: where it can't be and was chosen for that very island.
    """
    settled: list[Island] = []
    loose: list[LooseIsland] = []
    for island in islands:
        if island.choice != "hand":
            settled.append(island)
            continue
        film = film_behind(island.shape, body)
        why = _why_not(island, body, width)
        if not why and film is None:
            why = (
                "no strip of film fits across its hole on one side of the crease, with "
                f"{FILM_OVERLAP.value:.0f} mm of paper at both ends to glue it on"
            )
        if film is None or why:
            if island.single:
                u, v = island.at
                raise refused(f"island at {u:.0f}, {v:.0f} mm", "hand", why, "drop or join")
            settled.append(replace(island, choice="drop", why=why))
            continue
        settled.append(island)
        loose.append(LooseIsland(island.number, island.outline, *film))
    return settled, tuple(loose)


def _why_not(island: Island, body: shapely.Polygon, width: float) -> str:
    """Return why an island can't be a piece of its own; empty where it can."""
    left, _, right, _ = island.shape.bounds
    if left < 0 < right:
        return "it lies across the crease, where it would have to fold"
    if body.intersects(island.shape):
        return "its hole was closed, or the motif had to be thickened up to it"
    if find_thin(island.shape, width):
        return f"parts of it are narrower than the {width:.2f} mm that can be cut"
    return ""
