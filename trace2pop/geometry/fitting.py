"""Few cubic Beziers through the many points of a contour: corners sharp, smooth joins smooth."""

import numpy as np
from numpy.typing import NDArray

from trace2pop.geometry.corners import ARM, Indices, Spans, find_corners, resampled, spans_of
from trace2pop.geometry.greedy import fitted, longest_runs
from trace2pop.geometry.polish import Chain, chain_of, cubics_of, deviations, polished
from trace2pop.model.outline import Contour, FloatArray

STEP = 0.05
"""Spacing in mm at which contours are resampled before anything is measured on them."""

_EASE = 1.5
"""The first fit may be this much looser: polishing brings it back to the tolerance."""

_ROUNDS = 5
_REPAIRS = 3


_NOWHERE = np.empty((0, 2))


def fit_closed(
    points: FloatArray, tolerance: float, step: float = STEP, blunt: FloatArray = _NOWHERE
) -> Contour:
    """Return a closed chain of cubic Beziers (k, 4, 2) within about ``tolerance`` of a contour.

    ``points`` (n, 2) in mm, the first not repeated; ``step`` is the spacing in mm at which they are
    looked at, a little over half a pixel of the picture they come from. Spans between corners are
    covered greedily by the longest cubics, whose nodes, directions and handles are then moved
    together to follow the samples best. A cubic that still strays is parted. Joins inside a span
    share their tangent. Corners near the places ``blunt`` (m, 2) are not drawn out to their tips.
    """
    samples = resampled(points, step)
    if len(samples) < 4 * ARM:
        return _tiny(samples)
    return fit_spans(spans_of(samples, *find_corners(samples, blunt)), tolerance)


def fit_spans(spans: Spans, tolerance: float) -> Contour:
    """Return the cubics (k, 4, 2) of spans, one span after the other, as ``fit_closed`` does."""
    start, end = longest_runs(spans, _EASE * tolerance)
    chain = polished(_chain(spans, start, end), spans, _ROUNDS)
    for _ in range(_REPAIRS):
        far, where = deviations(chain, spans)
        start, end = _parted(chain, far > tolerance, where)
        if len(start) == len(far):
            break
        chain = polished(_chain(spans, start, end), spans, _ROUNDS)
    return _with_lines(chain, spans, tolerance)


def _chain(spans: Spans, start: Indices, end: Indices) -> Chain:
    return chain_of(spans, fitted(spans, start, end)[0], start, end)


def _parted(chain: Chain, stray: NDArray[np.bool_], where: Indices) -> tuple[Indices, Indices]:
    """Return the runs of samples, those that stray parted near where they stray most."""
    start, end = chain.sample[chain.left], chain.sample[chain.left + 1]
    third = (end - start) // 3
    stray = stray & (third >= 2)
    cut = np.clip(where, start + third, end - third)[stray]
    starts = np.concatenate([start, cut])
    order = np.argsort(starts)
    ends = np.concatenate([np.where(stray, 0, end), end[stray]])
    ends[: len(end)][stray] = cut
    return starts[order], ends[order]


def _with_lines(chain: Chain, spans: Spans, tolerance: float) -> Contour:
    """Return the cubics, those between two corners that are straight written as lines."""
    cubics = cubics_of(chain)
    alone = chain.ends[chain.left] & chain.ends[chain.left + 1]
    if spans.smooth or not alone.any():
        return cubics
    start, end = cubics[:, 0], cubics[:, 3]
    lines = np.stack([start, (2 * start + end) / 3, (start + 2 * end) / 3, end], axis=1)
    chord = end - start
    bow = [
        np.abs(chord[:, 0] * off[:, 1] - chord[:, 1] * off[:, 0])
        / np.maximum(np.hypot(*chord.T), 1e-9)
        for off in (cubics[:, 1] - cubics[:, 0], cubics[:, 2] - cubics[:, 0])
    ]
    # A cubic bows by no more than three quarters of its handles' offsets.
    straight = alone & (0.75 * np.maximum(*bow) < 0.4 * tolerance)
    return np.where(straight[:, None, None], lines, cubics)


def _tiny(samples: FloatArray) -> Contour:
    """Return a contour too small for corners: four smooth cubics through it."""
    nodes = samples[np.linspace(0, len(samples), 4, endpoint=False).astype(int)]
    tangent = (np.roll(nodes, -1, axis=0) - np.roll(nodes, 1, axis=0)) / 6 * 1.1
    after = np.roll(nodes, -1, axis=0)
    return np.stack([nodes, nodes + tangent, after - np.roll(tangent, -1, axis=0), after], axis=1)
