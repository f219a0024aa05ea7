"""Where the motif lies: looked for in a small copy of the picture, drawn out of the full one."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from trace2pop.errors import TraceError
from trace2pop.model.artwork import Artwork, Kind
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace.ink import Ink, Mask, coverage, find_ink, grown
from trace2pop.stages.trace.light import Ground, Plane, evened, ground_of, inverted
from trace2pop.stages.trace.outlining import HOLE_MM2
from trace2pop.stages.trace.pens import Link, drawn_over, links_over
from trace2pop.stages.trace.regions import closed_lines, filled, kind_of, without_small_holes
from trace2pop.stages.trace.rules import without_rules
from trace2pop.stages.trace.things import Thing, numbered, things_on

_COARSE = 7.0
"""px/mm that suffice to find things."""

_EDGE_MM = 1.0
_AROUND_MM = 4.0
_WIDE_GAP_MM = 5.0
_TELLS = 1.02
_ENCLOSES = 1.15
"""Art that isn't a line drawing has gaps in its edge where closing them encloses so much more."""


@dataclass(frozen=True, eq=False)
class Page:
    """The whole picture at ``factor`` of its size: its ground, what is drawn, the things on it.

    ``links`` close gaps in pen lines.
    """

    ground: Ground
    ink: Ink
    things: list[Thing]
    links: list[Link]
    factor: float
    px_per_mm: float


@dataclass(frozen=True, eq=False)
class Region:
    """The motif in a window of the full picture that begins at ``left``, ``top`` px.

    ``whole`` (rows, cols) is its silhouette, ``strict`` the same by a threshold twice as high,
    ``cover`` how much of each pixel it covers. ``gap_mm`` is the widest pen gap that was closed,
    ``open_share`` how much more area would close with gaps twice as wide.
    """

    cover: Plane
    whole: Mask
    strict: Mask
    drawn: Mask
    difference: Plane
    reflectance: Plane
    left: int
    top: int
    kind: Kind
    gap_mm: float
    open_share: float


def page_of(artwork: Artwork, gap_mm: float) -> Page:
    """Return what is on the page, pen lines joined over gaps of up to ``gap_mm``."""
    rows, cols = artwork.rgb.shape[:2]
    whole = artwork.px_per_mm / _COARSE
    factor = 1 / max(1, int(min(whole, max(rows, cols) / 900)))
    small = artwork.rgb
    if factor < 1:
        size = round(cols * factor), round(rows * factor)
        small = np.asarray(cv2.resize(small, size, interpolation=cv2.INTER_AREA), np.uint8)
    px_per_mm = artwork.px_per_mm * factor
    if min(small.shape[:2]) < 8:
        raise TraceError(
            f"the picture is {cols} x {rows} pixels, too small to hold a motif",
            "give a picture at least a few hundred pixels wide",
        )
    ground = ground_of(small)
    ink = find_ink(evened(small, ground), dark=ground.dark)
    rim = 0
    if artwork.page is not None:
        rim = max(1, round(_EDGE_MM * px_per_mm))
        inner = np.zeros_like(ink.mask)
        inner[rim:-rim, rim:-rim] = ink.mask[rim:-rim, rim:-rim]
        ink = replace(ink, mask=inner)
    ink = without_rules(ink, px_per_mm)
    links = links_over(ink.mask, gap_mm, px_per_mm)
    joined = drawn_over(ink.mask, links, px_per_mm, (0, 0))
    things = numbered(things_on(filled(joined), rim))
    return Page(ground, ink, things, links, factor, px_per_mm)


def region_of(artwork: Artwork, page: Page, thing: Thing, settings: TraceSettings) -> Region:
    """Return the motif as it is drawn in the full picture, its kind found or as it was named."""
    window, (left, top) = _window(artwork, page, thing)
    full = Ground(page.ground.light, artwork.rgb.shape[:2], page.ground.dark)
    reflectance = evened(artwork.rgb[window], full, top, left)
    ink = find_ink(reflectance, dark=full.dark, levels=(page.ink.low, page.ink.high))
    near = _enlarged(thing.mask, page.factor, artwork.rgb.shape[:2])[window]
    drawn = ink.mask & near
    if not drawn.any():
        drawn = near
    colour = inverted(reflectance) if full.dark else reflectance
    px_per_mm = artwork.px_per_mm
    links = [link for link in page.links if _lies_in(link, thing, page)]
    joined = drawn_over(drawn, links, px_per_mm, (left, top))
    kind = kind_of(colour, joined) if settings.kind == "auto" else _kind(settings.kind)
    firm = grown(ink.difference, 2 * ink.low, max(2 * ink.low, ink.high)) & drawn
    bare, gained = drawn, float(filled(joined).sum() / max(filled(drawn).sum(), 1))
    if kind == "line" or gained > _ENCLOSES:
        drawn, firm = joined, drawn_over(firm, links, px_per_mm, (left, top))
    if gained < _TELLS and not _joins(bare, joined):
        links = []  # within the motif: nothing to tell of
    gap = settings.gap * px_per_mm
    whole, gap_px = _whole(drawn, kind, gap, px_per_mm)
    strict, _ = _whole(firm, kind, gap, px_per_mm)
    open_share = _open_share(page, thing, on_page(whole, left, top, page), settings.gap)
    return Region(
        cover=coverage(reflectance, whole, clefts=kind != "line"),
        whole=whole,
        strict=strict & whole,
        drawn=drawn,
        difference=ink.difference,
        reflectance=reflectance,
        left=left,
        top=top,
        kind=kind,
        gap_mm=max([gap_px / px_per_mm, *(link.gap for link in links)]),
        open_share=open_share,
    )


def _joins(drawn: Mask, joined: Mask) -> bool:
    """Whether links joined parts of which none lies within another."""
    apart, together = (
        cv2.connectedComponents(filled(mask).astype(np.uint8), connectivity=4)[0]
        for mask in (drawn, joined)
    )
    return together < apart


def _lies_in(link: Link, thing: Thing, page: Page) -> bool:
    x, y = (int((a + b) / 2 * page.px_per_mm) for a, b in zip(link.start, link.end, strict=True))
    rows, cols = thing.mask.shape
    return bool(thing.mask[min(y, rows - 1), min(x, cols - 1)])


def on_page(mask: Mask, left: int, top: int, page: Page) -> Mask:
    """Return a mask of a window of the full picture in the small copy."""
    scale = page.factor
    place = np.array([[scale, 0, left * scale], [0, scale, top * scale]])
    size = page.ink.mask.shape[1], page.ink.mask.shape[0]
    moved = cv2.warpAffine(mask.astype(np.uint8), place, size, flags=cv2.INTER_NEAREST)
    result: Mask = moved > 0
    return result


def _open_share(page: Page, thing: Thing, whole: Mask, gap_mm: float) -> float:
    """Return how much more area would be enclosed if clearly wider pen gaps were closed."""
    inked = page.ink.mask & cv2.dilate(thing.mask.astype(np.uint8), np.ones((3, 3))).astype(bool)
    closed = whole | filled(drawn_over(inked, page.links, page.px_per_mm, (0, 0)))
    wide = links_over(inked, max(2.5 * gap_mm, _WIDE_GAP_MM), page.px_per_mm)
    wider = filled(drawn_over(closed, wide, page.px_per_mm, (0, 0)))
    return float(wider.sum() / max(closed.sum(), 1) - 1)


def _kind(word: str) -> Kind:
    kinds: dict[str, Kind] = {"solid": "solid", "line": "line", "printed": "printed"}
    return kinds.get(word, "colour")


def _whole(mask: Mask, kind: Kind, gap: float, px_per_mm: float) -> tuple[Mask, float]:
    """Return what the drawn parts enclose, by the kind of drawing, and the pen gap closed in px."""
    if kind == "line":
        return closed_lines(mask, gap)
    if kind != "solid":
        return filled(mask), 0.0
    return without_small_holes(mask, HOLE_MM2 * px_per_mm**2), 0.0


def _window(
    artwork: Artwork, page: Page, thing: Thing
) -> tuple[tuple[slice, slice], tuple[int, int]]:
    rows, cols = artwork.rgb.shape[:2]
    pad = round(_AROUND_MM * page.px_per_mm) + 8
    x, y, width, height = thing.box
    scale = 1 / page.factor
    left, top = max(int((x - pad) * scale), 0), max(int((y - pad) * scale), 0)
    right, bottom = int((x + width + pad) * scale), int((y + height + pad) * scale)
    return (slice(top, min(bottom, rows)), slice(left, min(right, cols))), (left, top)


def _enlarged(mask: Mask, factor: float, shape: tuple[int, ...]) -> Mask:
    """Return a coarse mask at full size, a little wider than it was."""
    wide = cv2.dilate(mask.astype(np.uint8), np.ones((5, 5), np.uint8))
    if factor < 1:
        wide = cv2.resize(wide, (shape[1], shape[0]), interpolation=cv2.INTER_NEAREST)
    result: Mask = wide > 0
    return result
