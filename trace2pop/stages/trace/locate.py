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
from trace2pop.stages.trace.regions import closed_lines, filled, kind_of, without_small_holes
from trace2pop.stages.trace.rules import without_rules
from trace2pop.stages.trace.things import Thing, numbered, things_on

_COARSE = 7.0
"""px/mm that suffice to find things."""

_EDGE_MM = 1.0
_AROUND_MM = 4.0


@dataclass(frozen=True, eq=False)
class Page:
    """The whole picture at ``factor`` of its size: its ground, what is drawn, the things on it."""

    ground: Ground
    ink: Ink
    things: list[Thing]
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


def page_of(artwork: Artwork) -> Page:
    """Return what is on the page."""
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
    things = numbered(things_on(filled(ink.mask), rim))
    return Page(ground, ink, things, factor, px_per_mm)


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
    kind = kind_of(colour, drawn) if settings.kind == "auto" else _kind(settings.kind)
    px_per_mm = artwork.px_per_mm
    gap = settings.gap * px_per_mm
    whole, gap_px = _whole(drawn, kind, gap, px_per_mm)
    firm = grown(ink.difference, 2 * ink.low, max(2 * ink.low, ink.high)) & drawn
    strict, _ = _whole(firm, kind, gap, px_per_mm)
    open_share = 0.0
    if kind == "line":
        wider, _ = closed_lines(drawn, max(2 * gap, 3 * px_per_mm))
        open_share = float(wider.sum() / max(whole.sum(), 1) - 1)
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
        gap_mm=gap_px / px_per_mm,
        open_share=open_share,
    )


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
