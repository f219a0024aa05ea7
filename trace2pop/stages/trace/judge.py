"""How sure a trace is, from what can be measured along its outline and round it."""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely

from trace2pop.model.artwork import DoubtPlace
from trace2pop.model.finding import Finding
from trace2pop.stages.trace.around import OpenLine, open_line_round
from trace2pop.stages.trace.cut_off import TELLS, Cut, cut_of
from trace2pop.stages.trace.faint import faint_region
from trace2pop.stages.trace.ink import Mask
from trace2pop.stages.trace.light import Plane
from trace2pop.stages.trace.locate import Page, Region, on_page
from trace2pop.stages.trace.things import Thing

_WEAK = 9.0
"""Colour difference across the outline that can hardly be told from grain."""

_WEAK_SHARE = 0.05
_AGREE = 0.97
_FAINT_SHARE = 0.03
_NEAR_SHARE = 0.06
"""Things nearer to the motif than this share of its size may belong to it."""

_NEAR_MM = 2.5
_SCATTERED = 0.08
_LIMB_MM = 4.0
_OPEN = 0.10
_GAP_CLOSED_MM = 4.5
"""A gap up to this is closed by the widest --gap there is, measured as it may be a little wider."""
_WIDE_OPEN = 0.3
"""Share of its area a motif would gain by closing wider gaps in its line."""


@dataclass(frozen=True)
class Doubt:
    """One reason for doubt: what the confidence is multiplied by, the finding and its place."""

    factor: float
    finding: Finding
    place: DoubtPlace | None


@dataclass(frozen=True)
class Verdict:
    """Confidence 0..1, the doubts that lowered it (worst first), and other findings."""

    confidence: float
    findings: tuple[Finding, ...]
    places: tuple[DoubtPlace, ...]


def judge(
    region: Region,
    page: Page,
    taken: list[Thing],
    px_per_mm: float,
    lost: list[shapely.Polygon],
    *,
    named: bool,
) -> Verdict:
    """Return how sure the outline of a region is, and what is doubtful and where.

    ``lost`` are pieces in drawn mm that came off the motif when its edge was drawn. ``named`` tells
    that the maker said which things are the motif, so the others aren't.
    """
    tried = [
        _pale_edge(region, px_per_mm),
        _unsure(region, px_per_mm),
        _open_line(region, px_per_mm),
        _cut_off(cut_of(taken, page.px_per_mm)),
        _came_off(lost),
    ]
    around = None if named else open_line_round(page, taken)
    if around is not None:
        tried.append(_inside_a_line(around))
    else:
        tried.append(_faint(region, px_per_mm))
        tried += [] if named else [_scattered(region, page, taken), _larger(page, taken)]
    doubts = sorted((doubt for doubt in tried if doubt), key=lambda doubt: doubt.factor)
    notes = [_gap_note(region.gap_mm)] if region.gap_mm > 0 else []
    return Verdict(
        float(np.prod([doubt.factor for doubt in doubts])),
        (*(doubt.finding for doubt in doubts), *notes),
        tuple(doubt.place for doubt in doubts if doubt.place),
    )


def _doubt(
    factor: float,
    rule: str,
    place: tuple[float, float] | str,
    measured: float | None,
    limit: float | None,
    advice: str,
) -> Doubt:
    if isinstance(place, str):
        return Doubt(factor, Finding(rule, "doubt", place, measured, limit, advice), None)
    where = f"near {place[0]:.0f} mm from the left, {place[1]:.0f} mm from the top"
    found = Finding(rule, "doubt", where, measured, limit, advice)
    return Doubt(factor, found, DoubtPlace(rule, *place))


def _middle(mask: Mask, region: Region, px_per_mm: float) -> tuple[float, float]:
    """Return the place in mm of the largest blob of a mask in the region's window."""
    _, labels, stats, centres = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    number = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    x, y = centres[number]
    ys, xs = np.nonzero(labels == number)
    nearest = int(np.argmin((xs - x) ** 2 + (ys - y) ** 2))
    return (
        float(xs[nearest] + region.left + 0.5) / px_per_mm,
        float(ys[nearest] + region.top + 0.5) / px_per_mm,
    )


def _pale_edge(region: Region, px_per_mm: float) -> Doubt | None:
    weak = weak_edge(region.difference, region.whole, px_per_mm)
    edge = edge_of(region.whole)
    share = float(weak.sum() / max(edge.sum(), 1))
    if share <= _WEAK_SHARE:
        return None
    size = 2 * round(px_per_mm) + 1
    blobs = cv2.dilate(weak.astype(np.uint8), np.ones((size, size), np.uint8)) > 0
    return _doubt(
        float(np.clip(1 - (share - _WEAK_SHARE) / _WEAK_SHARE, 0, 1)),
        "pale-edge",
        _middle(blobs & weak, region, px_per_mm) if weak.any() else "the outline",
        100 * share,
        100 * _WEAK_SHARE,
        f"along {share:.0%} of its length the edge hardly differs from the paper; look there in "
        "trace.png, and if it is wrong lay the art on darker paper and take it again",
    )


def _unsure(region: Region, px_per_mm: float) -> Doubt | None:
    agreement = float(region.strict.sum() / max(region.whole.sum(), 1))
    if agreement >= _AGREE:
        return None
    return _doubt(
        float(np.clip((agreement - 0.8) / (_AGREE - 0.8), 0, 1)),
        "unsure-region",
        _middle(region.whole & ~region.strict, region, px_per_mm),
        100 * agreement,
        100 * _AGREE,
        f"two ways of finding the motif agree on {agreement:.0%} of it only; a pale part there may "
        "be too much or, elsewhere, missing",
    )


def _faint(region: Region, px_per_mm: float) -> Doubt | None:
    faint = faint_region(region.reflectance, region.whole, px_per_mm)
    share = float(faint.sum() / max(region.whole.sum(), 1))
    if share <= _FAINT_SHARE:
        return None
    return _doubt(
        float(np.clip(0.75 - 3 * (share - _FAINT_SHARE), 0.2, 0.75)),
        "faint-region",
        _middle(faint, region, px_per_mm),
        100 * share,
        100 * _FAINT_SHARE,
        f"next to the motif a region as large as {share:.0%} of it differs from the paper, but too "
        "little to be sure of; if it belongs to the motif, lay the art on darker paper",
    )


def _open_line(region: Region, px_per_mm: float) -> Doubt | None:
    bare = float(region.whole.sum() / max(region.drawn.sum(), 1))
    if region.kind != "line":
        bare = 2.0  # art may be all ink
        if region.open_share <= _WIDE_OPEN:
            return None
    if region.open_share <= _OPEN and bare > 1.3:
        return None
    return _doubt(
        0.3 if bare <= 1.3 or region.open_share > _WIDE_OPEN else 0.7,
        "open-line",
        "the pen line",
        100 * region.open_share,
        100 * _OPEN,
        "it does not close: close its gaps with a pen, or allow wider ones with --gap; "
        "if it isn't a line drawing, say --kind solid or --kind colour",
    )


def _inside_a_line(around: OpenLine) -> Doubt:
    gap, number = around.gap_mm, around.number
    wide = "" if gap is None else f" for about {gap:.1f} mm"
    closed = "close it with a pen"
    if gap is not None and gap < _GAP_CLOSED_MM:
        closed += f", or say --gap {np.ceil(2 * gap + 0.5) / 2:.1f}mm"
    return _doubt(
        0.3,
        "open-line",
        "the pen line",
        gap,
        None,
        f"the motif lies within a pen line, number {number} in trace.png, that is open{wide}: if "
        f"that line is the motif, {closed}; if what lies in it is, say --take 1",
    )


def _cut_off(cut: Cut | None) -> Doubt | None:
    if cut is None or cut.share <= TELLS:
        return None
    return _doubt(
        0.4,
        "cut-by-edge",
        cut.place,
        100 * cut.share,
        100 * TELLS,
        "the motif touches the edge of the picture; take it with some paper all round",
    )


def _scattered(region: Region, page: Page, taken: list[Thing]) -> Doubt | None:
    """Doubt a motif with other things close round it: pale art comes apart like that."""
    mask = on_page(region.whole, region.left, region.top, page)
    size = max(max(thing.box[2:]) for thing in taken)
    reach = max(_NEAR_SHARE * size, _NEAR_MM * page.px_per_mm)
    away = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, 3)
    near = [
        thing
        for thing in page.things
        if not thing.cut_off
        and thing not in taken
        and away[thing.mask].min() < reach
        and away[thing.mask].mean() > 0.5
    ]
    share = sum(thing.area for thing in near) / max(int(mask.sum()), 1)
    if share <= _SCATTERED:
        return None
    several = len(near) > 1
    numbers = [1 + page.things.index(thing) for thing in (*taken, *near)][:6]
    x, y, width, height = near[0].box
    return _doubt(
        0.45,
        "pieces-apart",
        ((x + width / 2) / page.px_per_mm, (y + height / 2) / page.px_per_mm),
        100 * share,
        100 * _SCATTERED,
        f"{len(near)} other thing{'s lie' if several else ' lies'} close by; if they belong "
        "together and what is between them "
        "is paler than the paper shows, lay the art on darker paper, or join them with a margin: "
        f"--take {','.join(map(str, sorted(numbers)))} --offset 2mm; if not, say --take "
        f"{numbers[0]}",
    )


def _came_off(lost: list[shapely.Polygon]) -> Doubt | None:
    """Doubt a motif that lost a limb where it joins the body; scraps along an edge are shorter."""
    longest = max(lost, key=lambda piece: piece.length, default=None)
    if longest is None or longest.length / 2 <= _LIMB_MM:
        return None
    place = longest.representative_point()
    return _doubt(
        0.45,
        "lost-limb",
        (float(place.x), float(place.y)),
        float(longest.length / 2),
        _LIMB_MM,
        f"a part {longest.length / 2:.0f} mm long came off, as it is too pale or too thin where it "
        "joins the motif; go over it with a darker pen, or cut it by hand",
    )


def _larger(page: Page, taken: list[Thing]) -> Doubt | None:
    """Doubt a motif beside something larger that one edge of the picture cuts off."""
    area = sum(thing.area for thing in taken)
    larger = [t for t in page.things if t.sides == 1 and t.area > 1.5 * area and t not in taken]
    if not larger:
        return None
    return _doubt(
        0.45 if larger[0].area > 5 * area else 0.7,
        "larger-thing-cut",
        "the picture's edge",
        larger[0].area / max(area, 1),
        1.5,
        "something larger than the motif runs out of the picture; if that is the motif, take it "
        "again with paper all round, if not, say --take 1",
    )


def _gap_note(gap_mm: float) -> Finding:
    return Finding(
        "pen-gap",
        "note",
        "the pen line",
        gap_mm,
        None,
        f"gaps of up to about {gap_mm:.1f} mm in the pen line were closed",
    )


def edge_of(mask: Mask) -> Mask:
    """Return the mask's own outermost pixels."""
    solid = mask.astype(np.uint8)
    result: Mask = (solid - cv2.erode(solid, np.ones((3, 3), np.uint8))) > 0
    return result


def weak_edge(difference: Plane, mask: Mask, px_per_mm: float) -> Mask:
    """Return the outermost pixels where inside and outside hardly differ in colour."""
    reach = max(2, round(0.25 * px_per_mm))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1,) * 2)
    inside = cv2.dilate(np.where(mask, difference, 0).astype(np.float32), kernel)
    beyond = cv2.erode(np.where(mask, np.float32(1e3), difference).astype(np.float32), kernel)
    result: Mask = edge_of(mask) & (inside - beyond < _WEAK)
    return result
