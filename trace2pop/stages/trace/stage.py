"""Artwork to motif."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
import shapely

from trace2pop import limits
from trace2pop.errors import TraceError
from trace2pop.geometry import beziers
from trace2pop.geometry.fitting import fit_closed
from trace2pop.geometry.mirror import mirror_axis
from trace2pop.model.artwork import Artwork, Kind, MirrorAxis, Motif, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray, Outline
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace.ink import Ink, Mask, coverage, find_ink, stricter
from trace2pop.stages.trace.judge import Verdict, judge
from trace2pop.stages.trace.light import Plane, evened
from trace2pop.stages.trace.regions import Thing, closed_lines, filled, kind_of, things_on

SYMMETRIC = 0.94
"""Overlap with its mirror image from which a motif counts as drawn symmetric."""

_LEAST_AREA_SHARE = 0.0005
_HOLE_MM2 = 0.5
_EDGE_MM = 1.0
_FINEST_PX = 0.3
"""A fit closer than this follows the pixels, not the line."""


@dataclass(frozen=True, eq=False)
class _Found:
    """What segmentation gives: coverage (rows, cols), kind and how sure it is."""

    cover: Plane
    kind: Kind
    verdict: Verdict
    findings: tuple[Finding, ...]


def trace(artwork: Artwork, settings: TraceSettings, *, drawn_width: float | None = None) -> Motif:
    """Return the motif in an artwork. ``drawn_width`` in mm sets its scale.

    Raises:
        TraceError: where there is no motif, or one too doubtful to go on with.
    """
    found = _from_alpha(artwork) if _has_alpha(artwork) else _from_ink(artwork, settings)
    if found.verdict.confidence < limits.CONFIDENCE.value and not settings.trust:
        doubt = next(item for item in found.verdict.findings if item.severity == "doubt")
        raise TraceError(
            f"the outline is doubtful ({found.verdict.confidence:.0%} sure): {doubt.where}, "
            f"{doubt.advice}",
            "take a better picture, or add --trust to go on as it is",
        )
    tolerance = max(settings.tolerance, _FINEST_PX / artwork.px_per_mm)
    outline = _outline(found, artwork.px_per_mm, tolerance)
    if drawn_width is not None:
        artwork, outline = _with_width(artwork, outline, drawn_width)
    if settings.offset > 0:
        outline = _offset(outline, settings)
    return Motif(
        artwork=artwork,
        outline=outline,
        kind=found.kind,
        confidence=found.verdict.confidence,
        axis=_axis(outline),
        findings=(*found.verdict.findings, *found.findings),
    )


def _has_alpha(artwork: Artwork) -> bool:
    """Whether the picture's own transparency cuts the motif out."""
    if artwork.alpha is None:
        return False
    alpha = artwork.alpha
    rim = np.concatenate([alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]])
    return bool((alpha < 250).mean() > 0.01 and (rim < 128).mean() > 0.5)


def _from_alpha(artwork: Artwork) -> _Found:
    alpha = artwork.alpha
    if alpha is None:
        raise ValueError("the picture has no transparency")
    cover = alpha.astype(np.float32) / 255
    thing, findings = _chosen(things_on(cover > 0.5), cover.size, "1")
    return _Found(np.where(_near(thing), cover, 0), "alpha", Verdict(1.0, ()), findings)


def _near(thing: Thing) -> Mask:
    """Return the thing with the soft pixels round it."""
    grown: Mask = cv2.dilate(thing.mask.astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    return grown


def _from_ink(artwork: Artwork, settings: TraceSettings) -> _Found:
    """Return what is drawn on paper: found on a coarser picture, its edge measured on the full."""
    full = evened(artwork.rgb)
    step = 2 if max(full.shape) > _COARSE_PX else 1
    full = full[: full.shape[0] // step * step, : full.shape[1] // step * step]
    px_per_mm = artwork.px_per_mm / step
    reflectance = _averaged(full, step)
    ink = _without_page_edge(find_ink(reflectance), artwork, px_per_mm)
    if ink.mask.mean() < 1e-5:
        raise _nothing()
    thing, findings = _chosen(things_on(ink.mask), ink.mask.size, settings.take)
    window = _window(thing, ink.mask.shape)
    ink = replace(ink, mask=ink.mask[window], difference=ink.difference[window])
    thing = replace(thing, mask=thing.mask[window])
    kind = settings.kind
    shown = kind_of(reflectance[window], thing.mask) if kind == "auto" else _kind(kind)
    gap_mm = 0.0
    if shown == "line":
        gap_mm = closed_lines(thing.mask, settings.gap * px_per_mm)[1] / px_per_mm

    def whole_of(mask: Mask) -> Mask:
        if shown == "line":
            return closed_lines(mask, settings.gap * px_per_mm)[0]
        if shown != "solid":
            return filled(mask)
        return _without_small_holes(mask, _HOLE_MM2 * px_per_mm**2)

    whole = whole_of(thing.mask)
    strict = whole_of(stricter(ink) & whole)
    verdict = judge(ink, replace(thing, mask=whole), strict, px_per_mm, gap_mm)
    rows, cols = (slice(part.start * step, part.stop * step) for part in window)
    cover = np.zeros(artwork.rgb.shape[:2], np.float32)
    cover[rows, cols] = coverage(full[rows, cols], np.kron(whole, np.ones((step, step), bool)))
    return _Found(cover, shown, verdict, findings)


def _averaged(picture: Plane, step: int) -> Plane:
    """Return the mean of each block of ``step`` by ``step`` pixels."""
    if step == 1:
        return picture
    size = (picture.shape[1] // step, picture.shape[0] // step)
    mean: Plane = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.float32)
    return mean


def _kind(word: str) -> Kind:
    kinds: dict[str, Kind] = {"solid": "solid", "line": "line", "printed": "printed"}
    return kinds.get(word, "colour")


def _without_page_edge(ink: Ink, artwork: Artwork, px_per_mm: float) -> Ink:
    """Return the ink without a rim where the edge of a rectified sheet may show."""
    if artwork.page is None:
        return ink
    rim = max(1, round(_EDGE_MM * px_per_mm))
    mask = np.zeros_like(ink.mask)
    mask[rim:-rim, rim:-rim] = ink.mask[rim:-rim, rim:-rim]
    return replace(ink, mask=mask)


def _nothing() -> TraceError:
    return TraceError(
        "no motif was found: the picture is blank, or the motif as pale as its paper",
        "give a picture of a drawing that is clearly darker or more colourful than its paper",
    )


def _chosen(things: list[Thing], size: int, take: str) -> tuple[Thing, tuple[Finding, ...]]:
    """Return the thing that is the motif, and what to say of the others."""
    things = [thing for thing in things if thing.area > _LEAST_AREA_SHARE * size]
    if not things:
        raise _nothing()
    if take.strip():
        return _taken(things, take), ()
    whole = [thing for thing in things if not thing.cut_off]
    if not whole:
        raise TraceError(
            "everything drawn touches the edge of the picture",
            "take the picture with some bare paper all round the motif",
        )
    others = len(things) - 1
    if not others:
        return whole[0], ()
    note = Finding(
        "other-things",
        "note",
        "the page",
        float(others),
        None,
        f"{others} smaller or cut-off things on the page were left out; say --take 2 or "
        "--take 1,3 if they are the motif",
    )
    return whole[0], (note,)


def _taken(things: list[Thing], take: str) -> Thing:
    try:
        numbers = [int(word) for word in take.split(",")]
        chosen = [things[number - 1] for number in numbers if number >= 1]
    except (ValueError, IndexError):
        chosen = []
    if not chosen:
        raise TraceError(
            f"--take {take}: there are {len(things)} things on the page",
            f"name numbers from 1 to {len(things)}, the largest is 1",
        )
    mask = np.logical_or.reduce([thing.mask for thing in chosen])
    ys, xs = np.nonzero(mask)
    box = (int(xs.min()), int(ys.min()), int(np.ptp(xs)) + 1, int(np.ptp(ys)) + 1)
    cut_off = any(thing.cut_off for thing in chosen)
    return Thing(mask, int(mask.sum()), box, cut_off)


_PAD_PX = 20
_COARSE_PX = 2200
"""Pictures larger than this are searched at half their resolution."""


def _window(thing: Thing, shape: tuple[int, ...]) -> tuple[slice, slice]:
    x, y, width, height = thing.box
    return (
        slice(max(y - _PAD_PX, 0), min(y + height + _PAD_PX, shape[0])),
        slice(max(x - _PAD_PX, 0), min(x + width + _PAD_PX, shape[1])),
    )


def _without_small_holes(mask: Mask, least_px: float) -> Mask:
    holes = (filled(mask) & ~mask).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(holes, connectivity=4)
    small = [n for n in range(1, count) if stats[n, cv2.CC_STAT_AREA] < least_px]
    result: Mask = mask | np.isin(labels, small)
    return result


def _outline(found: _Found, px_per_mm: float, tolerance: float) -> Outline:
    """Return the fitted outline: the largest contour of half coverage, and the holes in it."""
    rings = sorted(_contours(found.cover, px_per_mm), key=lambda ring: -abs(_signed_area(ring)))
    if not rings:
        raise _nothing()
    outer = rings[0]
    shape = shapely.Polygon(outer)
    shapely.prepare(shape)
    holes = [
        ring
        for ring in rings[1:]
        if abs(_signed_area(ring)) > _HOLE_MM2
        and _signed_area(ring) * _signed_area(outer) < 0
        and shape.contains(shapely.Point(ring[0]))
    ]
    outline = Outline(
        fit_closed(outer, tolerance), tuple(fit_closed(hole, tolerance) for hole in holes)
    )
    if beziers.polygon(outline).is_valid:
        return outline
    # A fit that crosses itself gives way to the contour it was made from.
    return Outline(
        beziers.straight(_simplified(outer, tolerance), closed=True),
        tuple(beziers.straight(_simplified(hole, tolerance), closed=True) for hole in holes),
    )


def _simplified(ring: FloatArray, tolerance: float) -> FloatArray:
    return np.asarray(shapely.Polygon(ring).simplify(tolerance).exterior.coords)[:-1]


def _signed_area(ring: FloatArray) -> float:
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)


def _contours(cover: Plane, px_per_mm: float) -> list[FloatArray]:
    """Return the closed contours (n, 2) of half coverage in drawn mm, last point not doubled."""
    from skimage.measure import find_contours

    ys, xs = np.nonzero(cover > 0.25)
    top, left = max(int(ys.min()) - 2, 0), max(int(xs.min()) - 2, 0)
    part = np.pad(cover[top : ys.max() + 3, left : xs.max() + 3], 2)
    origin = np.array([left, top]) - 2 + 0.5
    return [
        (ring[:-1, ::-1] + origin) / px_per_mm
        for ring in find_contours(part, 0.5)
        if len(ring) > 8 and np.array_equal(ring[0], ring[-1])
    ]


def _with_width(artwork: Artwork, outline: Outline, width: float) -> tuple[Artwork, Outline]:
    """Return both at the scale at which the motif is ``width`` mm wide."""
    left, _, right, _ = beziers.bounds(outline.outer)
    factor = width / (right - left)
    matrix = np.array([[factor, 0, 0], [0, factor, 0]])
    px_per_mm = artwork.px_per_mm / factor
    per_source = artwork.source_size_px[0] / artwork.rgb.shape[1] if artwork.page is None else 1.0
    scale = Scale("length", 1 / (px_per_mm * per_source), 0.5 / width)
    page = None if artwork.page is None else artwork.page * factor
    return (
        replace(artwork, px_per_mm=px_per_mm, scale=scale, page=page),
        beziers.transform_outline(outline, matrix),
    )


def _offset(outline: Outline, settings: TraceSettings) -> Outline:
    grown = beziers.polygon(outline).buffer(settings.offset, join_style="round", quad_segs=16)
    rings = [np.asarray(ring.coords)[:-1] for ring in (grown.exterior, *grown.interiors)]
    fitted = [fit_closed(ring, settings.tolerance) for ring in rings]
    return Outline(fitted[0], tuple(fitted[1:]))


def _axis(outline: Outline) -> MirrorAxis | None:
    point, tilt, score = mirror_axis(beziers.polygon(outline, 0.05))
    return MirrorAxis(point, tilt, score) if score >= SYMMETRIC else None
