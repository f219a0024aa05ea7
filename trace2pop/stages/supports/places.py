"""Where beams may stand: every line parallel to the crease, every stretch with room for flanges."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop import limits
from trace2pop.mechanism.beam import shortest_fold, spared
from trace2pop.mechanism.predicates import Ground, glued_runs
from trace2pop.mechanism.slits import slit_margin
from trace2pop.model.card import CutMotif
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import SupportSettings
from trace2pop.model.stock import Stock


@dataclass(frozen=True)
class Stretch:
    """A place for a beam: its line, its flange width, and how far its fold line may reach.

    ``least`` and ``most`` bound the fold line's length. A ``pinned`` one takes its whole length.
    """

    u: float
    flange: float
    v0: float
    v1: float
    least: float
    most: float
    pinned: bool = False

    def covers(self, other: "Stretch") -> bool:
        """Whether a fold line on ``other`` could always stand here instead."""
        return self.v0 <= other.v0 + 1e-9 and other.v1 <= self.v1 + 1e-9


@dataclass(frozen=True, eq=False)
class Room:
    """What bounds the beams: the paper flanges may cover, and the base's limits.

    ``paper`` is the motif drawn in by the inset, without the runs where hand-added parts are glued
    and without what the maker forbids; ``ground`` the same as the predicates want it. ``head`` and
    ``foot`` bound the fold lines, ``far`` the distance from the crease.
    """

    ground: Ground
    paper: shapely.Geometry
    head: float
    foot: float
    far: float
    longest: float
    widths: tuple[float, ...]
    taper_deg: float
    clearance: float


def room(
    shape: shapely.Polygon, cut: CutMotif, settings: SupportSettings, beam_stock: Stock
) -> Room:
    """Return the room there is for beams under a motif of outline ``shape``."""
    card = cut.placed.card
    glued = glued_runs(cut.hand_parts)
    reach = _reach(beam_stock)
    forbidden = [
        shapely.box(min(r.u0, r.u1), min(r.v0, r.v1), max(r.u0, r.u1), max(r.v0, r.v1))
        for r in settings.forbid
    ]
    taken = [glued.buffer(limits.GLUE_RUN_GAP.value + limits.BEAM_CLEARANCE.value), *forbidden]
    inner = shape.buffer(-settings.inset - limits.BEAM_CLEARANCE.value, quad_segs=16)
    ends = slit_margin(card.height) + settings.slit_clearance / 2
    share = limits.SLIT_LINE_SHARE.value * card.height - settings.slit_clearance
    return Room(
        ground=Ground(card, shape, glued, settings.inset, reach),
        paper=inner.difference(shapely.union_all(taken)),
        head=ends,
        foot=card.height - ends,
        far=min(card.half_width - card.web, card.half_width - limits.SLIT_SIDE.value),
        longest=min(reach / 2, share),
        widths=tuple(sorted(set(settings.flanges), reverse=True)),
        taper_deg=settings.taper,
        clearance=settings.slit_clearance,
    )


def _reach(stock: Stock) -> float:
    """Return the longest flat piece: its folds run with the grain of the sheet."""
    along = stock.sheet[1] if stock.grain_deg == 90 else stock.sheet[0]
    return min(along - 2 * limits.SHEET_EDGE.value, 2 * limits.BEAM_LONGEST.value)


def stretches(given: Room, u: float) -> Iterator[Stretch]:
    """Yield the stretches on the line at ``u``, wider flanges first.

    A narrower flange is offered only where it reaches beyond every wider one's stretch.
    """
    wider: list[Stretch] = []
    for width in given.widths:
        near, far = width + limits.FLANGE_GAP.value, given.ground.card.half_width - width
        if u != 0 and not near <= abs(u) <= min(given.far, far):
            continue
        least = shortest_fold(width, given.taper_deg)
        found = [
            Stretch(u, width, v0, v1, least, given.longest)
            for v0, v1 in folds(given, u, width)
            if v1 - v0 >= least
        ]
        yield from (
            stretch for stretch in found if not any(other.covers(stretch) for other in wider)
        )
        wider += found


def folds(given: Room, u: float, width: float) -> list[tuple[float, float]]:
    """Return the longest fold lines (v0, v1) along ``u`` whose flange pair lies on the paper.

    Exact. A pair reaches both sides of its strip, so each piece of missing paper lies wholly before
    or behind it, and the longest pairs run from one piece to the next.
    """
    slope = float(1 / np.tan(np.radians(given.taper_deg)))
    low, high = given.head - 1.0, given.foot + 1.0
    strip = shapely.box(u - width, low - width * slope, u + width, high + width * slope)
    pieces = shapely.get_parts(strip.difference(given.paper))
    pieces = pieces[shapely.area(pieces) > 1e-9]
    spans = [(given.head - 1e3, given.head), (given.foot, given.foot + 1e3)]
    return list(_between(np.vstack([spans, spared(pieces, u, slope)])))


def _between(spans: FloatArray) -> Iterator[tuple[float, float]]:
    ends = spans[np.argsort(spans.sum(axis=1), kind="stable")]
    starts = np.maximum.accumulate(ends[:, 1])
    stops = np.minimum.accumulate(ends[::-1, 0])[::-1]
    for v0, v1 in zip(starts[:-1], stops[1:], strict=True):
        if v1 > v0:
            yield float(v0), float(v1)


def lines(given: Room, spacing: float) -> FloatArray:
    """Return the u of all candidate lines but the crease, ``spacing`` apart, mirrored."""
    left, _, right, _ = given.paper.bounds if not given.paper.is_empty else (0, 0, 0, 0)
    reach = min(given.far, max(-left, right))
    side = np.arange(spacing, reach + spacing / 2, spacing)
    return np.concatenate([-side[::-1], side])
