"""What lies beside the motif and was left out: how large it is, where, and how far off."""

from collections.abc import Sequence

import cv2
import numpy as np

from trace2pop.model.finding import Finding, Severity
from trace2pop.stages.trace.ink import Mask
from trace2pop.stages.trace.locate import Region
from trace2pop.stages.trace.things import Thing

_NAMED = 3
"""Of many things the first so many, by their numbers, are told one by one."""

_JOINED_MM = 5.0
"""Things nearer than this can be joined to the motif by a margin round both."""

_SPARE_MM = 0.3
"""Added to half the gap: on the page things are seen a little larger than they are."""

_BARE_MM2 = 2.0
"""Bare paper within a motif smaller than this is a highlight or a flaw."""

_SPECK_MM = 1.0
_NEAR_SHARE = 0.1
"""Specks farther off than this share of the motif's size are the paper's."""

_MARGIN_PX = 2
"""Round a thing, what its own edge leaves of it."""


def left_out(
    things: Sequence[Thing], kept: Sequence[Thing], motif: Mask, px_per_mm: float
) -> tuple[Finding, ...]:
    """Tell of the things on the page that were not ``kept``.

    Aloud where one lies whole on the page, as a motif does. ``things`` are in the order of their
    numbers, ``motif`` (rows, cols) is what the motif covers.
    """
    others = [
        (number, thing)
        for number, thing in enumerate(things, start=1)
        if not any(thing is one for one in kept)
    ]
    if not others:
        return ()
    away = _away(motif)
    own = [n for n, thing in enumerate(things, start=1) if any(thing is one for one in kept)]
    told = [_told(number, thing, away, px_per_mm) for number, thing in others[:_NAMED]]
    more = len(others) - len(told)
    beside = others[0][1]
    gap = float(away[beside.mask].min()) / px_per_mm
    both = ",".join(map(str, sorted([*own[:1], others[0][0]])))
    if not beside.cut_off and gap < _JOINED_MM:
        margin = f"--take {both} --offset {gap / 2 + _SPARE_MM:.1f}mm"
        join = f"draw it up to the motif, or join it by a margin: {margin}"
    else:
        join = "say --take 1,3 with an --offset that joins them"
    listed = "; ".join(told) + (f"; and {more} more" if more else "")
    advice = (
        f"left out: {listed}. If that is the motif, say --take {others[0][0]}; if it belongs to "
        f"the motif, {join}. trace2pop trace shows all of them numbered"
    )
    severity: Severity = "note" if all(thing.cut_off for _, thing in others) else "warning"
    return (Finding("other-things", severity, "the page", float(len(others)), None, advice),)


def paper_inside(region: Region, px_per_mm: float, *, named: bool) -> tuple[Finding, ...]:
    """Tell of bare paper within coloured art, which is kept: it may be meant as holes.

    Paint round a white eye and a plain silhouette with an opening look alike. ``named`` tells that
    the maker said what kind the picture is.
    """
    if named or region.kind not in ("colour", "printed"):
        return ()
    bare = (region.whole & ~region.drawn).astype(np.uint8)
    _, _, stats, _ = cv2.connectedComponentsWithStats(bare, connectivity=4)
    areas = stats[1:, cv2.CC_STAT_AREA] / px_per_mm**2
    count = int((areas >= _BARE_MM2).sum())
    if not count:
        return ()
    x, y, width, height, _ = stats[1 + int(np.argmax(areas))] / px_per_mm
    places = f"{count} white places within it, up to {areas.max():.0f} mm2, stay"
    if count == 1:
        places = f"a white place of {areas.max():.0f} mm2 within it stays"
    left, top = region.left / px_per_mm + x + width / 2, region.top / px_per_mm + y + height / 2
    where = f"near {left:.0f} mm from the left, {top:.0f} mm from the top"
    advice = (
        f"taken as coloured art, so {places} paper; say --kind solid if they are to be cut out as "
        "holes"
    )
    return (Finding("holes-filled", "note", where, float(areas.max()), _BARE_MM2, advice),)


def _told(number: int, thing: Thing, away: np.ndarray, px_per_mm: float) -> str:
    x, y, width, height = (value / px_per_mm for value in thing.box)
    gap = float(away[thing.mask].min()) / px_per_mm
    cut = ", cut off by the picture's edge" if thing.cut_off else ""
    return (
        f"thing {number}, {width:.0f} x {height:.0f} mm{cut}, {gap:.1f} mm off the motif near "
        f"{x + width / 2:.0f} mm from the left, {y + height / 2:.0f} mm from the top"
    )


def _away(motif: Mask) -> np.ndarray:
    """Return each pixel's distance from the motif in px."""
    away: np.ndarray = cv2.distanceTransform((~motif).astype(np.uint8), cv2.DIST_L2, 3)
    return away


def specks(
    ink: Mask, things: Sequence[Thing], motif: Mask, px_per_mm: float
) -> tuple[Finding, ...]:
    """Tell of what is drawn close by, but too small to be a thing of its own."""
    known = np.logical_or.reduce([motif, *(thing.mask for thing in things)]).astype(np.uint8)
    size = 2 * _MARGIN_PX + 1
    spare = ink & (cv2.dilate(known, np.ones((size, size), np.uint8)) == 0)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        spare.astype(np.uint8), connectivity=8
    )
    away = _away(motif)
    ys, xs = np.nonzero(motif)
    reach = _NEAR_SHARE * float(max(np.ptp(ys), np.ptp(xs)))
    found: list[tuple[float, float, float, float]] = []
    for number in range(1, count):
        x, y, width, height, _ = (int(value) for value in stats[number])
        part = (slice(y, y + height), slice(x, x + width))
        gap = float(away[part][labels[part] == number].min())
        if max(width, height) >= _SPECK_MM * px_per_mm and gap < reach:
            found.append((float(max(width, height)), gap, x + width / 2, y + height / 2))
    if not found:
        return ()
    long, gap, middle_x, middle_y = (value / px_per_mm for value in max(found))
    many = f"{len(found)} specks were" if len(found) > 1 else "a speck was"
    advice = (
        f"{many} left out, the largest {long:.1f} mm long and {gap:.1f} mm off the motif; if it "
        "belongs to the motif, draw it up to it and take the picture again"
    )
    where = f"near {middle_x:.0f} mm from the left, {middle_y:.0f} mm from the top"
    return (Finding("specks-left-out", "note", where, long, _SPECK_MM, advice),)
