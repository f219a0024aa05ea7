"""Holes and gaps too narrow to cut, numbered, and the maker's choice for each."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely

from trace2pop.geometry.grow import Gap
from trace2pop.geometry.middle import MiddleLine, middle_line
from trace2pop.model.card import PlacedMotif, ThinFeature, Treatment
from trace2pop.model.settings import FeatureChoice, FragileSettings
from trace2pop.stages.cuttable.found import check, clock, listed, meant, middle_of


@dataclass(frozen=True, eq=False)
class FoundGap:
    """A hole or gap with its middle line, its number and what is done about it."""

    gap: Gap
    middle: MiddleLine
    number: int
    choice: Treatment
    at: tuple[float, float]

    @property
    def kind(self) -> str:
        """Hole or gap."""
        return "hole" if self.gap.thin.kind in ("loose", "ring") else "gap"

    def feature(self, placed: PlacedMotif) -> ThinFeature:
        """Return it as the plan lists it."""
        # A hole is as wide as the largest disc in it; a gap's closed end says nothing.
        widest = float(self.middle.widths.max())
        width = widest if self.kind == "hole" else self.middle.width
        return listed(placed, self.number, self.kind, self.at, self.middle, self.choice, width)


def numbered_gaps(
    gaps: Sequence[Gap], body: shapely.Polygon, settings: FragileSettings, after: int
) -> list[FoundGap]:
    """Return holes and gaps with their class's choice, clockwise from the head after ``after``."""
    centre = middle_of(body)
    places = [gap.thin.region.representative_point() for gap in gaps]
    rows = sorted(
        zip(gaps, places, strict=True), key=lambda row: clock((row[1].x, row[1].y), centre)
    )
    return [
        FoundGap(
            gap=gap,
            middle=middle_line(gap.thin.region, gap.thin.joins),
            number=number,
            choice=settings.gaps,
            at=(float(place.x), float(place.y)),
        )
        for number, (gap, place) in enumerate(rows, start=after + 1)
    ]


def chosen_gaps(
    found: Sequence[FoundGap], placed: PlacedMotif, choices: Iterable[FeatureChoice]
) -> tuple[list[FoundGap], list[FeatureChoice]]:
    """Return holes and gaps with the maker's single choices, and the choices that met none."""
    result, left = list(found), []
    for item in choices:
        regions = [(gap.number, gap.gap.thin.region, gap.at) for gap in result]
        index = meant(regions, placed, item)
        if index is None:
            left.append(item)
            continue
        check(result[index].kind, result[index].number, result[index].at, item.do)
        result[index] = replace(result[index], choice=item.do)
    return result, left
