"""Slits whose ends a picture's blur has filled, drawn out to where they really end.

Where a slit is narrower than the blur, no place in it is half paper: the line of half coverage
turns back before its end and leans inwards on its way there. For a strip of width w under Gaussian
blur of standard deviation s the sides are seen w' apart, where

    Phi((w' + w) / 2s) - Phi((w' - w) / 2s) = 1/2

so that w' = 0 at w = 1.349 s (Phi is the normal distribution; derived here). Widths measured near
the end are mended by that, and the mended sides drawn on to where they meet.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.geometry.corners import Indices, resampled
from trace2pop.model.outline import FloatArray

_STEP = 0.5
"""Spacing of samples. This and all lengths below are in standard deviations of the blur."""

_LEG, _LEG_WIDTH = 6.0, 6.0
"""A slit's sides are at most so far apart, so far from its end: an angle of 60 degrees."""

_REACH = 24.0
"""Length of the sides that are looked at."""

_ROUNDED = 2.0
"""Length at the end for which a strip is no model."""

_WINDOW = (5.0, 14.0)
"""Least and usual length of the sides that tell where they meet."""

_VANISHING = 1.349
"""Width of which blur leaves none: twice the upper quartile of the normal distribution."""

_LEAST_LEFT, _MOST_LEFT = 0.3, 1.8
"""Width the sides may have at the end that is seen, for it to be that of a blurred wedge."""

_FARTHEST = 18.0
"""How far a slit is drawn on at most."""

_POINTS = 8
"""Points of a side drawn on."""

_CLEAR = 1.0
"""Room that must be left to other edges."""


@dataclass(frozen=True, eq=False)
class _Tip:
    """What comes in place of a ring's samples ``first`` .. ``last``, counted on past its end.

    ``points`` (n, 2) have the true end in their middle; ``seen`` (2,) is the end before.
    """

    first: int
    last: int
    points: FloatArray
    seen: FloatArray


def drawn_out(rings: Sequence[FloatArray], blur: float) -> list[FloatArray]:
    """Return closed rings (n, 2), y down, with slits at their full length.

    Rings round what is drawn have a positive area, holes a negative one. ``blur`` is the blur's
    standard deviation in the rings' units. Slits that don't narrow evenly, and those that would
    come near another edge, are left as they are seen.
    """
    edges = shapely.STRtree([shapely.LinearRing(ring) for ring in rings])
    return [_with_tips(ring, blur, edges) for ring in rings]


def _with_tips(ring: FloatArray, blur: float, edges: shapely.STRtree) -> FloatArray:
    samples = resampled(ring, _STEP * blur)
    if len(samples) < 4 * _LEG / _STEP:
        return ring
    tips: list[_Tip] = []
    for place in _sharpest(samples, blur):
        tip = _tip(samples, int(place), blur)
        if tip is None or _in_the_way(tip, blur, edges):
            continue
        if tips and tip.first <= tips[-1].last:
            continue
        if tips and tip.last >= tips[0].first + len(samples):
            continue
        tips.append(tip)
    return _replaced(ring, samples, tips) if tips else ring


def _sharpest(samples: FloatArray, blur: float) -> Indices:
    """Return the samples (k,) in order at which a ring turns back most closely, inwards."""
    leg = round(_LEG / _STEP)
    before, after = np.roll(samples, leg, axis=0), np.roll(samples, -leg, axis=0)
    width = np.hypot(*(after - before).T)
    (x, y), (u, v) = (samples - before).T, (after - before).T
    around = width[(np.arange(len(width))[:, None] + np.arange(-leg, leg + 1)) % len(width)]
    close = (width < _LEG_WIDTH * blur) & (width <= around.min(axis=1))
    result: Indices = np.flatnonzero(close & (x * v - y * u < 0))
    return result


def _tip(samples: FloatArray, place: int, blur: float) -> _Tip | None:
    """Return the slit's end near a sample, None where what is seen isn't that of a wedge."""
    count = min(round(_REACH / _STEP), len(samples) // 2 - 1)
    index = place + np.arange(-count, count + 1)
    near = samples[index % len(samples)]
    leg = round(_LEG / _STEP)
    axis = near[count] - (near[count - leg] + near[count + leg]) / 2
    size = float(np.hypot(*axis))
    if size < 0.5 * _LEG * blur:
        return None
    frame = np.array([[axis[0], axis[1]], [-axis[1], axis[0]]]) / size
    apex = count - leg + int(np.argmax((near @ axis)[count - leg : count + leg + 1]))
    local = (near - near[apex]) @ frame.T * (-1, 1)
    sides = [_side(local[apex::-1], blur), _side(local[apex:], blur)]
    wedge = _wedge(sides, blur)
    if wedge is None:
        return None
    first, last = (int(np.searchsorted(side[:, 0], wedge[0, 0])) for side in sides)
    points = near[apex] + (wedge * (-1, 1)) @ frame
    return _Tip(int(index[apex - first]), int(index[apex + last]), points, near[apex])


def _side(run: FloatArray, blur: float) -> FloatArray:
    """Return a side (n, 2) from the tip on, distance from it first, as far as it leads away."""
    farthest = np.maximum.accumulate(run[:, 0])
    turned = np.flatnonzero(run[:, 0] < farthest - _STEP * blur)
    stop = int(turned[0]) if len(turned) else len(run)
    return np.column_stack([farthest, run[:, 1]])[:stop]


def _wedge(sides: Sequence[FloatArray], blur: float) -> FloatArray | None:
    """Return a wedge's mended outline (n, 2), its end in the middle, from its two sides as seen.

    Rows are (distance back from the end that is seen, distance aside); None where the sides don't
    narrow evenly to about the width that blur fills.
    """
    far = min(side[-1, 0] for side in sides)
    at = np.arange(0, far, _STEP * blur)
    one, other = (np.interp(at, *side.T) for side in sides)
    sense = np.sign((other - one).sum())
    seen, middle = sense * (other - one), (one + other) / 2
    wide = np.flatnonzero(seen > _LEG_WIDTH * blur)
    start = round(_ROUNDED / _STEP)
    end = min([len(at), start + round(_WINDOW[1] / _STEP), *wide[:1]])
    if end - start < _WINDOW[0] / _STEP:
        return None
    true = _mended(seen, blur)
    slope, left = np.polyfit(at[start:end], true[start:end], 1)
    if not _LEAST_LEFT * blur < left < _MOST_LEFT * blur or slope * _FARTHEST < _VANISHING:
        return None
    ahead = _VANISHING * blur / slope  # the width where it ends for the eye is known
    narrow = start + int(np.argmax(np.append(seen[start:end], np.inf) > _LEG_WIDTH / 2 * blur))
    old = np.arange(start, max(narrow, start + 1))[::-1]
    fresh = np.linspace(at[start], -ahead, _POINTS)[1:]
    width = true[start] * (fresh + ahead) / (at[start] + ahead)
    x = np.concatenate([at[old], fresh])
    y = np.concatenate([middle[old], np.polyval(np.polyfit(at[:end], middle[:end], 2), fresh)])
    half = sense / 2 * np.concatenate([true[old], width])
    return np.concatenate([np.column_stack([x, y - half]), np.column_stack([x, y + half])[-2::-1]])


def _mended(seen: FloatArray, blur: float) -> FloatArray:
    """Return the true widths (n,) of strips that blur shows ``seen`` wide."""
    beyond = np.maximum(seen - _SEEN[-1] * blur, 0)
    result: FloatArray = np.interp(seen / blur, _SEEN, _TRUE) * blur + beyond
    return result


def _seen_width(true: float) -> float:
    """Return what blur of standard deviation 1 leaves of a strip's width, by bisection."""
    low, high = 0.0, true + 1.0
    for _ in range(50):
        half = (low + high) / 2
        share = math.erf((half + true) / 8**0.5) - math.erf((half - true) / 8**0.5)
        low, high = (half, high) if share > 1 else (low, half)
    return low


_TRUE = np.linspace(_VANISHING, 7.0, 60)
_SEEN = np.array([_seen_width(float(true)) for true in _TRUE])


def _in_the_way(tip: _Tip, blur: float, edges: shapely.STRtree) -> bool:
    """Whether another edge lies near the way from the end that is seen to the true one."""
    end = tip.points[len(tip.points) // 2]
    ahead = end - tip.seen
    unit = ahead / np.hypot(*ahead)
    free = shapely.LineString([tip.seen + 2 * _CLEAR * blur * unit, end + 2 * _CLEAR * blur * unit])
    return bool(len(edges.query(free, "dwithin", distance=_CLEAR * blur)))


def _replaced(ring: FloatArray, samples: FloatArray, tips: Sequence[_Tip]) -> FloatArray:
    """Return the ring's own points with the tips in place of what lies between their ends."""
    whole = np.vstack([ring, ring[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(whole, axis=0).T))])
    step = length[-1] / len(samples)
    twice = np.concatenate([length[:-1], length[:-1] + length[-1]])
    parts = []
    for number, tip in enumerate(tips):
        after = tips[(number + 1) % len(tips)]
        begin = (tip.last * step) % length[-1]
        stop = (after.first * step) % length[-1]
        if stop <= begin:
            stop += length[-1]
        chosen = np.flatnonzero((twice > begin) & (twice < stop)) % len(ring)
        parts += [tip.points, ring[chosen]]
    return np.vstack(parts)
