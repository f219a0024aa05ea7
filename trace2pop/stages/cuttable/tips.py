"""Tips followed in the picture, where a traced outline ends too soon or goes on without ink.

A tip that tapers to nothing is narrower than a pixel over its last bit, where an outline at half
ink vanishes. Summed across, the ink is still there: it is the width, a pixel wide or not. And where
an outline runs on along the halo a compressed picture has round ink, there is none.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from trace2pop.geometry.middle import MiddleLine
from trace2pop.model.artwork import Artwork
from trace2pop.model.card import PlacedMotif
from trace2pop.model.outline import FloatArray

_NEEDLE_PX = 3.0
"""A tip no wider than this many pixels may go on beyond the outline."""

_BLUNT = 0.6
"""A tip of more than this share of the root's width was drawn blunt."""

_NO_INK_PX = 0.4
"""Less ink than this, summed across, is none: an outline's tip has half a pixel or more."""

_FADES_PX = 1.5
"""A stroke narrower than this many pixels may be lost, where the picture itself doesn't tell."""

_BEFORE, _BEYOND = 60, 60
"""Pixels along the middle line looked at before the outline's tip and beyond it."""

_ACROSS, _PAPER = 3.5, 7.0
"""Pixels from the middle line: ink lies within the first, paper between the two."""

_AT_MOST, _UNSURE = 1.4, 0.3
"""A tip goes on at most so many times as far as a stroke of ``_FADES_PX`` would fade; and what is
added is unsure by this share of it. Both measured, see docs/fragile.md."""

_LEAST_INK = 0.12
"""Contrast of ink to paper, linear, below which nothing is read from the picture."""

_STEP = 0.5


@dataclass(frozen=True, eq=False)
class _Ridge:
    """What the picture shows along a middle line: places in px from the outline's tip, ink in px.

    ``ink`` is the darkness summed across over that of full ink: the width drawn, in px.
    """

    at: FloatArray
    ink: FloatArray
    noise: float


def followed(
    middle: MiddleLine, placed: PlacedMotif, *, thick: float | None
) -> tuple[MiddleLine, float]:
    """Return a middle line led on to where its tip was drawn, and how unsure that is, in mm.

    Blunt tips come back as they are, but for what of them has no ink. Where the picture shows too
    little, the line is not led on and all that may have faded counts as unsure. Made of material
    ``thick`` mm in diameter it ends inside the window, so that it doesn't show when the card is
    closed; None where it may.
    """
    artwork = placed.motif.artwork
    px = artwork.px_per_mm / placed.scale
    if artwork.scale.source == "vector" or middle.tip_width * px > _NEEDLE_PX or _blunt(middle):
        return middle, 0.0
    way = _way_on(middle, placed)
    from_tip = np.linspace(-middle.length, 0, len(middle.widths)) * px
    ridge = _ridge(artwork, way, from_tip, middle.widths * px)
    bare = 0.0 if ridge is None else _without_ink(ridge) / px
    if bare > 0:
        return _shorter(middle, bare), 1 / px
    taper = _taper(middle)
    if taper <= 0:
        return middle, 0.0
    if ridge is None:
        return middle, min(_FADES_PX / px / taper, 0.25 * middle.length)
    more, unsure = _tip(ridge, _FADES_PX * _AT_MOST / taper)
    room = more / px if thick is None else min(more / px, _room(middle, placed, thick))
    return _longer(middle, room), max(unsure, _UNSURE * more) / px + more / px - room


def _blunt(middle: MiddleLine) -> bool:
    """Whether a strip is still wide where its own end begins to narrow it."""
    widths, least = middle.widths, _BLUNT * middle.root_width
    before = round((1 - 0.6 * middle.root_width / middle.length) * (len(widths) - 1))
    return middle.tip_width > least and float(widths[max(before, 0)]) > least


def _taper(middle: MiddleLine) -> float:
    """Return by how much the strip narrows towards its tip, mm per mm."""
    count = len(middle.widths)
    last = slice(int(0.6 * count), max(count - 2, 2))
    at = np.linspace(0, middle.length, count)[last]
    off = at - at.mean()
    return -float(off @ middle.widths[last] / (off @ off)) if len(at) > 2 else 0.0


def _way_on(middle: MiddleLine, placed: PlacedMotif) -> FloatArray:
    """Return the middle line in the artwork's pixels at even steps, led on beyond the tip."""
    back = np.linalg.inv(placed.to_card[:, :2])
    path = (middle.path - placed.to_card[:, 2]) @ back.T * placed.motif.artwork.px_per_mm
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    start = max(along[-1] - _BEFORE, 0.0)
    at = np.arange(along[-1], start, -_STEP)[::-1]
    known = np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)])
    # A parabola through the last stretch, without the very tip, where the outline is rounded.
    share = at - along[-1]
    fit = share < -4
    if fit.sum() < 8:
        fit = share <= 0
    curve = np.polyfit(share[fit], known[fit], 2)
    beyond = np.arange(_STEP, _BEYOND, _STEP)
    led_on = np.vander(beyond, 3) @ curve
    return np.vstack([known, led_on])


def _ridge(
    artwork: Artwork, way: FloatArray, from_tip: FloatArray, widths: FloatArray
) -> _Ridge | None:
    """Return the ink along ``way``; None where it doesn't stand out from the paper.

    ``widths`` (n,) are the outline's, at places ``from_tip``, both in px.
    """
    count = len(way)
    known = count - len(np.arange(_STEP, _BEYOND, _STEP))
    at: FloatArray = np.asarray((np.arange(count) - known + 1) * _STEP, dtype=float)
    step = np.gradient(way, axis=0)
    normal = np.column_stack([-step[:, 1], step[:, 0]])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    off = np.arange(-_PAPER, _PAPER + _STEP / 2, _STEP)
    spots = way[:, None] + off[None, :, None] * normal[:, None]
    light = _sampled(artwork, spots)
    inside = np.abs(off) <= _ACROSS
    paper = np.median(light[:, np.abs(off) > _ACROSS + 1], axis=1)
    dark = paper[:, None] - light
    summed = dark[:, inside].sum(axis=1) * _STEP
    # Full ink: where the strip's width is known from its outline.
    width = np.interp(at, from_tip, widths)
    sure = (at < -6) & (at > -_BEFORE) & (width < 2 * _ACROSS - 1)
    if sure.sum() < 10:
        return None
    full = float(summed[sure].sum() / max(width[sure].sum(), 1e-9))
    if full < _LEAST_INK:
        return None
    beside = dark[:, ~inside]
    noise = float(beside.std()) * np.sqrt(inside.sum()) * _STEP / full
    ink: FloatArray = summed / full
    return _Ridge(at, ink, max(noise, 1e-3))


def _sampled(artwork: Artwork, spots: FloatArray) -> FloatArray:
    """Return linear light at places in px edge coordinates; of a cut-out, what shows through."""
    x, y = ((spots[..., axis] - 0.5).astype(np.float32) for axis in (0, 1))
    if artwork.alpha is not None:
        alpha = cv2.remap(artwork.alpha, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
        result: FloatArray = 1 - alpha.astype(float) / 255
        return result
    rgb = cv2.remap(artwork.rgb, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    shade = rgb.astype(float) / 255
    light = np.where(shade <= 0.04045, shade / 12.92, ((shade + 0.055) / 1.055) ** 2.4)
    weighed: FloatArray = light @ np.array([0.2126, 0.7152, 0.0722])
    return weighed


def _tip(ridge: _Ridge, most: float) -> tuple[float, float]:
    """Return how far beyond the outline's tip the ink goes on, and how unsure that is, in px.

    The straight taper that fits the ink best, by its end, ``most`` at most: ink farther out is
    another stroke's.
    """
    ends = np.arange(0.0, min(_BEYOND - 2, most) + 0.5, 0.5)
    near = ridge.at > -_BEFORE / 2
    at, ink = ridge.at[near], ridge.ink[near]
    model = np.maximum(ends[:, None] - at[None], 0)
    slope = (model @ ink) / np.maximum((model**2).sum(axis=1), 1e-9)
    misfit = ((slope[:, None] * model - ink) ** 2).sum(axis=1)
    best = int(np.argmin(misfit))
    # Neighbouring steps share pixels: about one in four is a measurement of its own.
    spread = max(float(misfit[best]) / len(at), ridge.noise**2 / 4) * 4
    good = ends[misfit <= misfit[best] + 4 * spread]
    return float(ends[best]), float(max(good[-1] - ends[best], ends[best] - good[0]))


def _without_ink(ridge: _Ridge) -> float:
    """Return how far before the outline's tip the ink ends, in px; 0 where it reaches the tip."""
    inked = ridge.at[(ridge.at <= 0) & (ridge.ink >= _NO_INK_PX)]
    less = -float(inked.max()) if len(inked) else 0.0
    return less if less > _FADES_PX else 0.0


def _shorter(middle: MiddleLine, less: float) -> MiddleLine:
    """Return a middle line that ends ``less`` mm earlier, on a blunt tip."""
    count = len(middle.widths)
    along = np.linspace(0, middle.length, count)
    length = middle.length - less
    kept = along < length
    end = [np.interp(length, along, middle.path[:, axis]) for axis in (0, 1)]
    tip = float(np.interp(length, along, middle.widths))
    lost = float(
        np.trapezoid(np.append(tip, middle.widths[~kept]), np.append(length, along[~kept]))
    )
    before = float(np.interp(length - middle.width, along, middle.widths))
    return replace(
        middle,
        path=np.vstack([middle.path[kept], end]),
        widths=np.append(middle.widths[kept], tip),
        length=length,
        width=(middle.width * middle.length - lost) / length,
        tip_width=before,
    )


def _room(middle: MiddleLine, placed: PlacedMotif, thick: float) -> float:
    """Return how far a part may be led on before its end, cut square, comes to the window's edge.

    0 where it is there already: the outline decides how large the motif is.
    """
    card = placed.card
    way = _way(middle)
    half = np.array(card.window) / 2
    wide = thick / 2 * np.abs(way[::-1])
    off = np.sign(way) * (middle.path[-1] - np.array([0.0, card.height / 2]))
    left = (half - wide - off) / np.maximum(np.abs(way), 1e-9)
    return max(float(left.min()), 0.0)


def _way(middle: MiddleLine) -> FloatArray:
    way = middle.path[-1] - middle.path[max(-6, -len(middle.path))]
    result: FloatArray = way / max(float(np.linalg.norm(way)), 1e-9)
    return result


def _longer(middle: MiddleLine, more: float) -> MiddleLine:
    """Return a middle line led on straight by ``more`` mm, its mean width over all of it."""
    if more <= 0:
        return middle
    length = middle.length + more
    tip_area = 0.5 * middle.tip_width * more
    return replace(
        middle,
        path=np.vstack([middle.path, middle.path[-1] + more * _way(middle)]),
        widths=np.append(middle.widths, 0.0),
        length=length,
        width=(middle.width * middle.length + tip_area) / length,
        tip_width=0.0,
    )
