"""Holes and gaps too narrow to cut, and the maker's choice for each."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely

from trace2pop.geometry.grow import Gap
from trace2pop.geometry.middle import MiddleLine, middle_line
from trace2pop.model.card import PlacedMotif, ThinFeature, Treatment
from trace2pop.model.settings import FeatureChoice, FragileSettings
from trace2pop.stages.cuttable.found import check, clock, listed, meant, middle_of

_INSIDE = 1.0
"""mm: a stored place means a hole or gap only where it lies in it, or this near."""


@dataclass(frozen=True, eq=False)
class FoundGap:
    """A hole or gap with its middle line and what is done about it; ``number`` comes last."""

    gap: Gap
    middle: MiddleLine
    choice: Treatment
    at: tuple[float, float]
    number: int = 0

    @property
    def kind(self) -> str:
        """Hole or gap."""
        return "hole" if self.gap.is_hole else "gap"

    def feature(self, placed: PlacedMotif) -> ThinFeature:
        """Return it as the plan lists it."""
        # A hole is as wide as the largest disc in it; a gap's closed end says nothing.
        widest = float(self.middle.widths.max())
        width = widest if self.gap.is_hole else self.middle.width
        return listed(placed, self.number, self.kind, self.at, self.middle, self.choice, width)


def found_gaps(
    gaps: Sequence[Gap],
    placed: PlacedMotif,
    settings: FragileSettings,
    choices: Iterable[FeatureChoice],
) -> tuple[list[FoundGap], list[FeatureChoice]]:
    """Return holes and gaps with what is done about each, and the choices meant for none of them.

    Raises:
        FragileError: where a choice can't be for a hole or gap.
    """
    result = [_found(gap, settings) for gap in gaps]
    left = []
    for item in choices:
        index = meant([(gap.gap.thin.region, gap.at) for gap in result], placed, item, _INSIDE)
        if index is None:
            left.append(item)
            continue
        check(result[index].kind, result[index].at, item.do)
        result[index] = replace(result[index], choice=item.do)
    return result, left


def _found(gap: Gap, settings: FragileSettings) -> FoundGap:
    place = gap.thin.region.representative_point()
    middle = middle_line(gap.thin.region, gap.thin.joins)
    return FoundGap(gap, middle, settings.gaps, (float(place.x), float(place.y)))


def numbered_gaps(gaps: list[FoundGap], body: shapely.Polygon, after: int) -> list[FoundGap]:
    """Return holes and gaps numbered clockwise from the head after ``after``."""
    centre = middle_of(body)
    order = sorted(gaps, key=lambda gap: clock(gap.at, centre))
    return [replace(gap, number=number) for number, gap in enumerate(order, start=after + 1)]
