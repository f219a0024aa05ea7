"""What is too thin to cut comes off and is listed, or is thickened, or stays as chosen."""

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely

from trace2pop.errors import FragileError, UsageError
from trace2pop.geometry.grow import Gap, surroundings, thickened
from trace2pop.geometry.middle import middle_line
from trace2pop.geometry.recover import flat, recovered
from trace2pop.geometry.thin import Thin, find_thin, without
from trace2pop.limits import GAP_SHARE, HOLE_THICKNESSES
from trace2pop.model.card import CutMotif, PlacedMotif, ThinFeature
from trace2pop.model.finding import Finding
from trace2pop.model.outline import Outline
from trace2pop.model.settings import FeatureChoice, FragileSettings
from trace2pop.model.stock import Cutter, Stock
from trace2pop.stages.cuttable import say
from trace2pop.stages.cuttable.creasing import unscored
from trace2pop.stages.cuttable.found import Found, chosen, numbered, on_card, unused
from trace2pop.stages.cuttable.gaps import FoundGap, found_gaps, numbered_gaps
from trace2pop.stages.cuttable.hand import hand_parts
from trace2pop.stages.cuttable.islands import found_islands, joined, numbered_islands, set_in
from trace2pop.stages.cuttable.rooted import rooted
from trace2pop.stages.cuttable.touching import bonded

_PASSES = 3
_WEAK = 2.0
"""Up to this many times the minimum, a place can be cut but is worth a warning."""

_FLATTEN = 0.005

_INSIDE = 0.01
"""mm that added paper stays inside the window."""


def minimum_width(settings: FragileSettings, stock: Stock, cutter: Cutter) -> float:
    """Return the narrowest strip in mm that may be cut: the maker's, else by cutter and paper."""
    if settings.min_width is not None:
        return settings.min_width
    return max(cutter.min_feature, stock.thickness)


def minimum_gap(settings: FragileSettings, stock: Stock, width: float) -> float:
    """Return the narrowest hole or gap in mm: the maker's, else by paper and narrowest strip."""
    if settings.min_gap is not None:
        return settings.min_gap
    return max(HOLE_THICKNESSES.value * stock.thickness, GAP_SHARE.value * width)


def cuttable(
    placed: PlacedMotif, settings: FragileSettings, stock: Stock, cutter: Cutter
) -> CutMotif:
    """Return the motif with nothing too narrow for its paper and cutter, and what to add by hand.

    Raises:
        FragileError: where all of the motif is too thin, or a choice would make a part fall off.
        UsageError: where a choice names a feature there isn't.
    """
    settings = by_place(placed, settings, stock, cutter)
    width = minimum_width(settings, stock, cutter)
    gap = minimum_gap(settings, stock, width)
    work = _Work(placed, settings, width)
    work.join_islands()
    if work.body.interiors:
        work.openings(gap, holes=True)
    for _ in range(_PASSES):
        work.strips()
        # What fills a gap may be a wall too thin itself.
        if not work.openings(gap, holes=False):
            break
    work.number_last()
    features = [item.feature(placed) for item in work.found]
    features += [item.feature(placed) for item in work.gaps]
    limits = [work.width] * len(work.found) + [gap] * len(work.gaps)
    islands, loose = set_in(work.islands, work.body, work.width)
    parts = hand_parts(work.found, work.body, placed, settings)
    told = [say.treated(item, limit) for item, limit in zip(features, limits, strict=True)]
    told += [say.rooted(item.feature(placed), work.width) for item in work.found if item.drawn]
    if settings.spurs == "hand":
        told += [say.bare(item.feature(placed)) for item in work.found if item.bare]
    findings = [
        *(finding for finding in told if finding is not None),
        *(
            say.island(one.feature(placed), one.shape.bounds, one.why)
            for one in islands
            if one.choice != "hand"
        ),
        *(say.held(island) for island in loose),
        *say.about_parts(parts, placed.card, settings),
        *work.weak(),
        *unscored(work.body),
        *work.unused(),
    ]
    return CutMotif(
        placed=placed,
        outline=recovered(work.source, work.body),
        hand_parts=parts,
        findings=tuple(findings),
        features=(*features, *(island.feature(placed) for island in islands)),
        min_width=work.width,
        min_gap=gap,
        islands=loose,
    )


def by_place(
    placed: PlacedMotif, settings: FragileSettings, stock: Stock, cutter: Cutter
) -> FragileSettings:
    """Return the settings with choices by number turned into choices by place.

    Numbers are those of the list that comes out without them. A choice by number takes the place of
    an earlier one for the same feature.

    Raises:
        UsageError: where there is no feature of that number.
    """
    numbers = {item.number: item for item in settings.features if item.number is not None}
    if not numbers:
        return settings
    places = [item for item in settings.features if item.number is None]
    plain = replace(settings, features=tuple(places))
    listed = {item.id: item for item in cuttable(placed, plain, stock, cutter).features}
    for number, item in numbers.items():
        if number not in listed:
            raise UsageError(
                f"there is no thin feature number {number}: there are {len(listed)} at this size",
                "see the list in guide.pdf or card.json for the numbers",
            )
        places = [other for other in places if _nearest(other, placed, listed) != number]
        x, y = listed[number].drawn_at
        places.append(FeatureChoice(item.do, x=round(x, 2), y=round(y, 2)))
    return replace(settings, features=tuple(places))


def _nearest(
    item: FeatureChoice, placed: PlacedMotif, listed: Mapping[int, ThinFeature]
) -> int | None:
    """Return the number of the feature whose join is nearest to a stored place."""
    if item.x is None or item.y is None:
        return None
    u, v = on_card(placed, (item.x, item.y))
    return min(listed, key=lambda number: math.dist(listed[number].at, (u, v)), default=None)


class _Work:
    """The motif's paper on its way: ``body`` shrinks and grows, what is found is listed."""

    def __init__(self, placed: PlacedMotif, settings: FragileSettings, width: float) -> None:
        self.placed, self.settings, self.width = placed, settings, width
        self.source = flat(placed.outline, _FLATTEN)
        self.body = _valid(self.source.polygon)
        self.islands, self.left = found_islands(self.body, placed, settings, width)
        self.found: list[Found] = []
        self.gaps: list[FoundGap] = []

    def join_islands(self) -> None:
        """Put the islands that shall be joined on bridges."""
        wanted = [island for island in self.islands if island.choice == "join"]
        if not wanted:
            return
        self.body = joined(self.body, wanted)
        # Their own curves are kept like the motif's.
        outline = self.placed.outline
        chains = [chain for one in wanted for chain in (one.outline.outer, *one.outline.holes)]
        self.source = flat(Outline(outline.outer, (*outline.holes, *chains)), _FLATTEN)

    def strips(self) -> None:
        """Find what is too thin and do with it what was chosen."""
        self.body = bonded(self.body, self._bounds())
        for _ in range(_PASSES):
            new = [item for item in find_thin(self.body, self.width) if not self._known(item)]
            if not new:
                return
            if any(item.kind == "loose" for item in new):
                raise self._all_thin()
            led = rooted(self.body, new, self.width, self.settings.glue_overlap)
            listed = numbered(led, self.body, self.settings, after=len(self.found))
            listed, self.left = chosen(listed, self.placed, self.left)
            self.found += listed
            self._take_off([item.thin for item in listed if item.choice in ("hand", "drop")])
            self.body = thickened(
                self.body,
                [item.middle for item in listed if item.choice == "thicken"],
                self.width,
                self._bounds(),
            )

    def _known(self, item: Thin) -> bool:
        """Whether a feature was found before and kept."""
        area = 0.5 * item.region.area
        return any(
            known.choice == "keep" and known.thin.region.intersection(item.region).area > area
            for known in self.found
        )

    def _take_off(self, features: list[Thin]) -> None:
        pieces = without(self.body, features)
        if not pieces:
            raise FragileError(
                "nothing is left of the motif when its ring is left away", "choose thicken for it"
            )
        for piece in pieces[1:]:
            if piece.area > self.width * self.width:
                left, head, right, foot = piece.bounds
                raise FragileError(
                    f"a part of {right - left:.0f} x {foot - head:.0f} mm would fall off at "
                    f"{piece.centroid.x:.0f}, {piece.centroid.y:.0f} mm",
                    "choose thicken for what joins it",
                )
        self.body = pieces[0]

    def _bounds(self) -> shapely.Polygon:
        """Return where paper may be added: inside the window, and where there was some before."""
        card = self.placed.card
        left, head, right, foot = self.body.bounds
        # Drawn in by more than what the curves of new edges may be off.
        return shapely.box(
            min(-card.reach, left) + _INSIDE,
            min(card.margin, head) + _INSIDE,
            max(card.reach, right) - _INSIDE,
            max(card.height - card.margin, foot) - _INSIDE,
        )

    def _all_thin(self) -> FragileError:
        middle = middle_line(self.body, np.empty((0, 2, 2)))
        return FragileError(
            f"the motif is {middle.width:.2f} mm wide on average, and nowhere the {self.width:.2f} "
            "mm that can be cut",
            "make it larger with a larger --card or a lower --rise, draw it bolder, or say what "
            "can be cut (--min-width)",
        )

    def openings(self, width: float, *, holes: bool) -> bool:
        """Find holes (or gaps) too narrow and close what isn't kept; tell whether any was closed.

        Holes come first: what is thin beside a hole that will be closed is not thin.
        """
        around = surroundings(self.body, width)
        known = [item.gap.thin.region for item in self.gaps]
        new = [
            gap
            for gap in around.gaps
            if (gap.is_hole or not holes)
            and not any(region.equals_exact(gap.thin.region, 1e-6) for region in known)
        ]
        found, self.left = found_gaps(new, self.placed, self.settings, self.left)
        self.gaps += found
        shut: list[Gap] = [item.gap for item in found if item.choice == "close"]
        if shut:
            self.body = around.closed(shut)
        return bool(shut)

    def number_last(self) -> None:
        """Give holes and gaps the numbers after all others', and then the islands."""
        self.gaps = numbered_gaps(self.gaps, self.body, len(self.found))
        after = len(self.found) + len(self.gaps)
        self.islands = numbered_islands(self.islands, self.body, after)

    def weak(self) -> list[Finding]:
        """Warn of what can be cut but is weak."""
        rows = []
        for item in find_thin(self.body, _WEAK * self.width):
            if item.kind == "loose" or self._known(item):
                continue
            middle = middle_line(item.region, item.joins)
            if middle.least < _WEAK * self.width:
                rows.append((item, middle))
        return say.weak(rows, self.width)

    def unused(self) -> list[Finding]:
        """Return notes on choices without a feature at this size."""
        return [unused(item) for item in self.left]


def _valid(shape: shapely.Polygon) -> shapely.Polygon:
    return shape if shape.is_valid else _largest(shape.buffer(0))


def _largest(shape: shapely.Geometry) -> shapely.Polygon:
    return max(shapely.get_parts(shape), key=lambda part: part.area)
