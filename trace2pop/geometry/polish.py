"""All cubics of a contour moved together to where they follow its samples best."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from trace2pop.geometry.corners import Indices, Spans
from trace2pop.geometry.greedy import evaluated, nearer, spread
from trace2pop.model.outline import Contour, FloatArray

Flags = NDArray[np.bool_]

_POINTS = 32
_BLOCK = 5
"""Unknowns of a node: x, y, direction, logarithms of the handle after and of the handle before."""

_DAMPING = np.array([2e-3, 2e-3, 1e-3, 1e-3, 1e-3])


@dataclass(eq=False)
class Chain:
    """Cubics joined at nodes, spans one after the other.

    ``node`` (n, 2), ``angle`` (n,), log handle lengths ``after`` and ``before`` (n,), ``sample``
    (n,) the sample each node lies at; cubic k runs from node ``left[k]`` to ``left[k] + 1``.
    ``ends`` (n,) tells the nodes at the spans' ends, which stay where they are.
    """

    node: FloatArray
    angle: FloatArray
    after: FloatArray
    before: FloatArray
    sample: Indices
    left: Indices
    ends: Flags


def chain_of(spans: Spans, cubics: Contour, start: Indices, end: Indices) -> Chain:
    """Return a chain of fitted cubics and the runs of samples they follow."""
    opens = np.isin(start, spans.first)
    left = np.arange(len(start)) + np.cumsum(opens) - 1
    count = int(left[-1]) + 2
    closes = np.isin(end, spans.last)
    node, after, before = np.empty((count, 2)), np.zeros(count), np.zeros(count)
    sample = np.empty(count, np.int64)
    node[left], sample[left] = cubics[:, 0], start
    node[left + 1], sample[left + 1] = cubics[:, 3], end
    after[left] = np.log(np.maximum(np.hypot(*(cubics[:, 1] - cubics[:, 0]).T), 1e-6))
    before[left + 1] = np.log(np.maximum(np.hypot(*(cubics[:, 3] - cubics[:, 2]).T), 1e-6))
    ends = np.zeros(count, bool)
    ends[left[opens]] = ends[left[closes] + 1] = True
    tangent = spans.tangents[sample]
    return Chain(node, np.arctan2(*tangent.T[::-1]), after, before, sample, left, ends)


def cubics_of(chain: Chain) -> Contour:
    """Return the chain's cubics (k, 4, 2)."""
    a, b = chain.left, chain.left + 1
    unit = np.column_stack([np.cos(chain.angle), np.sin(chain.angle)])
    start, end = chain.node[a], chain.node[b]
    out = np.exp(chain.after[a])[:, None] * unit[a]
    back = np.exp(chain.before[b])[:, None] * unit[b]
    return np.stack([start, start + out, end - back, end], axis=1)


def polished(chain: Chain, spans: Spans, rounds: int) -> Chain:
    """Return the chain after ``rounds`` damped Gauss-Newton steps on the distances to the samples.

    Nodes inside spans slide and turn freely, each with one direction for both its cubics; nodes at
    spans' ends turn only (on a contour without corners not even that). A span that a step makes
    worse takes half of it, then none.
    """
    best, cost, t = chain, *_cost(chain, spans, None)
    owner = np.cumsum(chain.ends)[chain.left] // 2
    for _ in range(rounds):
        step = _step(best, spans, t, spans.smooth)
        for share in (1.0, 0.4):
            trial = _moved(best, step * share)
            worth, moved_t = _cost(trial, spans, t)
            better = np.bincount(owner, worth) < np.bincount(owner, cost)
            if better.all() or share < 1:
                break
        keep = better[owner]
        if not keep.any():
            break
        best = _merged(best, trial, keep)
        cost, t = np.where(keep, worth, cost), np.where(keep[:, None], moved_t, t)
        best = _reassigned(best, spans)
        cost, t = _cost(best, spans, None)
    return best


def deviations(chain: Chain, spans: Spans) -> tuple[FloatArray, Indices]:
    """Return each cubic's largest distance from its samples (k,), and at which sample that is."""
    start, end = chain.sample[chain.left], chain.sample[chain.left + 1]
    most = int(min(max((end - start).max() + 1, 8), 160))
    points = spread(spans.points, start, end, most)
    t = _parameters(points)
    cubics = cubics_of(chain)
    for _ in range(4):
        t = nearer(cubics, points, t)
    off = evaluated(cubics, t) - points
    distance = np.sqrt((off * off).sum(axis=2))
    where = distance.argmax(axis=1)
    sample = np.round(start + (end - start) * where / (most - 1)).astype(np.int64)
    return distance.max(axis=1), sample


def _parameters(points: FloatArray) -> FloatArray:
    steps = np.hypot(*np.moveaxis(np.diff(points, axis=1), 2, 0))
    t = np.concatenate([np.zeros((len(points), 1)), np.cumsum(steps, axis=1)], axis=1)
    result: FloatArray = t / np.maximum(t[:, -1:], 1e-12)
    return result


def _cost(chain: Chain, spans: Spans, t: FloatArray | None) -> tuple[FloatArray, FloatArray]:
    """Return each cubic's summed squared distance (k,), and at which parameters (k, m)."""
    start, end = chain.sample[chain.left], chain.sample[chain.left + 1]
    points = spread(spans.points, start, end, _POINTS)
    cubics = cubics_of(chain)
    if t is None:
        t = _parameters(points)
        t = nearer(cubics, points, t)
    for _ in range(2):
        t = nearer(cubics, points, t)
    off = evaluated(cubics, t) - points
    weight = np.maximum(end - start, 1) / _POINTS
    return (off * off).sum(axis=(1, 2)) * weight, t


def _step(chain: Chain, spans: Spans, t: FloatArray, smooth: bool) -> FloatArray:
    """Return the Gauss-Newton step (n, 5): the banded normal equations solved for all spans."""
    from scipy.linalg import solveh_banded  # scipy takes 0.2 s to import: only where it is used

    a, b = chain.left, chain.left + 1
    start, end = chain.sample[a], chain.sample[b]
    points = spread(spans.points, start, end, _POINTS)
    cubics = cubics_of(chain)
    jacobian, off = _jacobian(chain, cubics, points, t)
    weight = (np.maximum(end - start, 1) / _POINTS)[:, None, None]
    square = (jacobian * weight).transpose(0, 2, 1) @ jacobian
    right = (jacobian * weight).transpose(0, 2, 1) @ -off[..., None]
    size = _BLOCK * len(chain.node)
    band = np.zeros((2 * _BLOCK, size))
    full = np.zeros(size)
    base = _BLOCK * a[:, None] + np.array([0, 1, 2, 3, 5, 6, 7, 9])
    for row in range(8):
        np.add.at(full, base[:, row], right[:, row, 0])
        for col in range(row + 1):
            np.add.at(band, (base[:, row] - base[:, col], base[:, col]), square[:, row, col])
    fixed = np.zeros((len(chain.node), _BLOCK), bool)
    fixed[chain.ends, :2] = True
    if smooth:
        fixed[chain.ends, 2] = True
    _hold(band, full, np.flatnonzero(fixed.ravel()))
    scale = np.tile(_DAMPING * _POINTS, len(chain.node))
    band[0] += scale
    solution: FloatArray = solveh_banded(band, full, lower=True).reshape(-1, _BLOCK)
    return solution


def _hold(band: FloatArray, full: FloatArray, index: Indices) -> None:
    """Take unknowns out of the equations: their rows and columns become those of the identity."""
    full[index] = 0
    for below in range(1, len(band)):
        band[below, index] = 0
        above = index - below
        band[below, above[above >= 0]] = 0
    band[0, index] = 1


def _jacobian(
    chain: Chain, cubics: Contour, points: FloatArray, t: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the derivatives (k, m, 8) of the distances along the normals (k, m), and these.

    Columns: x, y, direction and log handle of the left node; the same of the right node.
    """
    s = 1 - t
    slope = 3 * (
        (s * s)[..., None] * (cubics[:, 1] - cubics[:, 0])[:, None]
        + (2 * s * t)[..., None] * (cubics[:, 2] - cubics[:, 1])[:, None]
        + (t * t)[..., None] * (cubics[:, 3] - cubics[:, 2])[:, None]
    )
    slope /= np.maximum(np.sqrt((slope * slope).sum(axis=2)), 1e-9)[..., None]
    normal = np.stack([-slope[..., 1], slope[..., 0]], axis=2)
    off = ((evaluated(cubics, t) - points) * normal).sum(axis=2)
    b0, b1, b2, b3 = s**3, 3 * s * s * t, 3 * s * t * t, t**3
    out, back = cubics[:, 1] - cubics[:, 0], cubics[:, 2] - cubics[:, 3]

    def along(vector: FloatArray) -> FloatArray:
        result: FloatArray = (normal @ vector[..., None])[..., 0]
        return result

    def turned(vector: FloatArray) -> FloatArray:
        return np.column_stack([-vector[:, 1], vector[:, 0]])

    columns = [
        (b0 + b1) * normal[..., 0],
        (b0 + b1) * normal[..., 1],
        b1 * along(turned(out)),
        b1 * along(out),
        (b2 + b3) * normal[..., 0],
        (b2 + b3) * normal[..., 1],
        b2 * along(turned(back)),
        b2 * along(back),
    ]
    return np.stack(columns, axis=2), off


def _moved(chain: Chain, step: FloatArray) -> Chain:
    step = np.clip(step, [-0.5, -0.5, -0.3, -0.6, -0.6], [0.5, 0.5, 0.3, 0.6, 0.6])
    node = chain.node + step[:, :2]
    reach = np.hypot(*(node[chain.left + 1] - node[chain.left]).T)
    after, before = chain.after + step[:, 3], chain.before + step[:, 4]
    low, high = np.log(np.maximum(0.03 * reach, 1e-6)), np.log(np.maximum(1.2 * reach, 1e-6))
    after[chain.left] = np.clip(after[chain.left], low, high)
    before[chain.left + 1] = np.clip(before[chain.left + 1], low, high)
    return Chain(
        node, chain.angle + step[:, 2], after, before, chain.sample, chain.left, chain.ends
    )


def _merged(old: Chain, new: Chain, keep: Flags) -> Chain:
    """Return the new values for the cubics (k,) to ``keep``, the old ones for the others."""
    chosen = np.zeros(len(old.node), bool)
    chosen[old.left[keep]] = chosen[old.left[keep] + 1] = True
    return Chain(
        np.where(chosen[:, None], new.node, old.node),
        np.where(chosen, new.angle, old.angle),
        np.where(chosen, new.after, old.after),
        np.where(chosen, new.before, old.before),
        old.sample,
        old.left,
        old.ends,
    )


_SEARCH = 12


def _reassigned(chain: Chain, spans: Spans) -> Chain:
    """Return the chain with each inner node's sample the nearest one to where it has moved."""
    inner = np.flatnonzero(~chain.ends)
    if not len(inner):
        return chain
    sample = chain.sample.copy()
    low = (2 * sample[inner - 1] + sample[inner]) // 3 + 1
    high = (2 * sample[inner + 1] + sample[inner]) // 3 - 1
    tried = np.clip(
        sample[inner][:, None] + np.arange(-_SEARCH, _SEARCH + 1),
        np.minimum(low, sample[inner])[:, None],
        np.maximum(high, sample[inner])[:, None],
    )
    off = spans.points[tried] - chain.node[inner][:, None]
    best = (off * off).sum(axis=2).argmin(axis=1)
    sample[inner] = tried[np.arange(len(inner)), best]
    return Chain(chain.node, chain.angle, chain.after, chain.before, sample, chain.left, chain.ends)
