"""Middle lines of thin strips, with their widths and, where they fork, their branches."""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from trace2pop.geometry.chordal import Axis
from trace2pop.geometry.edges import rings_of
from trace2pop.model.outline import FloatArray

_SPACING = 0.8
"""Spacing of points along a strip's sides, in mean widths."""

_TAIL = 1.3
"""In widths before a tip the line is led on straight: it wanders there."""

_SMOOTH = 4
"""Points to either side over which a line is smoothed: one mean width."""

_BRANCH, _TWIG = 1.3, 1.5
"""A branch reaches at least this many widths of the fork, and of the strip, beyond the fork."""


@dataclass(frozen=True, eq=False)
class MiddleLine:
    """A strip's middle line.

    ``path`` (n, 2) runs from the root to the tip, evenly spaced, ``widths`` (n,) along it;
    ``branches`` from where they leave it, ``twigs`` of all. ``length`` is that of the path.
    ``width`` is the mean without clubs, ``root_width``, ``tip_width`` at its ends, ``least`` the
    narrowest. ``free`` says that it ends at a tip, not where it is joined.
    """

    path: FloatArray
    widths: FloatArray
    branches: tuple[FloatArray, ...]
    length: float
    width: float
    root_width: float
    tip_width: float
    least: float
    least_at: tuple[float, float]
    free: bool


def middle_line(region: shapely.Polygon, joins: FloatArray) -> MiddleLine:
    """Return the middle line of ``region``, which is joined to more along ``joins`` (k, 2, 2).

    It starts at the middle of the first join; it ends at the second, or at the farthest tip where
    there is no second.
    """
    mean = max(2 * region.area / region.length, 1e-6)
    axis = Axis(region, joins, _SPACING * mean)
    if not len(joins) and region.interiors:
        return _ring_line(axis.points[axis.round_trip()], region)
    main = axis.way(axis.doors[1] if len(joins) > 1 else axis.farthest())
    sides = _sides(region, joins)
    halves = [math.dist(*join) / 2 for join in joins[:2]]
    path = _run(axis.points[main], mean, sides, region, halves)
    branches = tuple(
        _run(axis.points[way], mean, sides, region, None)
        for way in _branches(axis, main, sides, mean)
    )
    return _measured(path, branches, region, sides, open_end=len(joins) < 2)


def _sides(region: shapely.Polygon, joins: FloatArray) -> shapely.Geometry:
    """Return the region's boundary without its joins."""
    if not len(joins):
        return region.boundary
    ends = {(*a, *b) for join in joins.tolist() for a, b in (join, join[::-1])}
    lines = []
    for ring in rings_of(region):
        pairs = np.stack([ring, np.concatenate((ring[1:], ring[:1]))], axis=1)
        keep = [tuple(pair) not in ends for pair in pairs.reshape(-1, 4).tolist()]
        lines.append(pairs[keep])
    return shapely.multilinestrings(shapely.linestrings(np.concatenate(lines)))


def _branches(axis: Axis, main: list[int], sides: shapely.Geometry, mean: float) -> list[list[int]]:
    """Return the ways that leave the main one and each other, longest first, but for twigs."""
    used = [False] * len(axis.points)
    for point in main:
        used[point] = True
    found = []
    for tip in axis.tips():
        way = axis.twig(tip, used)
        if len(way) < 2 or not used[way[0]]:
            continue
        reach = float(np.linalg.norm(axis.points[tip] - axis.points[way[0]]))
        if reach <= _TWIG * mean:
            continue
        fork = 2 * float(sides.distance(shapely.Point(axis.points[way[0]])))
        if reach > _BRANCH * fork:
            found.append(way)
            for point in way:
                used[point] = True
    return found


def _ring_line(path: FloatArray, region: shapely.Polygon) -> MiddleLine:
    """Return the middle line of a ring, from anywhere round to there again."""
    mean = 2 * region.area / region.length
    path = _even(path, mean / 4)
    smooth = _smooth(np.vstack([path[-9:-1], path, path[1:9]]))[8:-8]
    path = np.vstack([smooth[:-1], smooth[:1]])
    length = float(_along(path)[-1])
    widths = 2 * shapely.distance(shapely.points(path), region.boundary)
    place = int(np.argmin(widths))
    width = region.area / length
    at = (float(path[place, 0]), float(path[place, 1]))
    least = float(widths[place])
    return MiddleLine(path, widths, (), length, width, width, width, least, at, free=False)


def _along(path: FloatArray) -> FloatArray:
    steps = path[1:] - path[:-1]
    result: FloatArray = np.zeros(len(path))
    np.cumsum(np.hypot(steps[:, 0], steps[:, 1]), out=result[1:])
    return result


def _even(path: FloatArray, spacing: float) -> FloatArray:
    """Return points evenly spaced along ``path``, its ends kept."""
    along = _along(path)
    at = np.linspace(0, along[-1], max(3, round(along[-1] / spacing) + 1))
    return np.column_stack([np.interp(at, along, path[:, axis]) for axis in (0, 1)])


def _run(
    path: FloatArray,
    mean: float,
    sides: shapely.Geometry,
    region: shapely.Polygon,
    halves: list[float] | None,
) -> FloatArray:
    """Return a way through the triangles as an even, smooth line that ends on the tip's edge.

    ``halves`` are half the lengths of the joins it begins and ends at, None of a branch.
    """
    start, end = path[0], path[-1]
    through = path
    path = _even(path, 0.25 * mean)
    across = 2 * shapely.distance(shapely.points(path), sides)
    wide = np.minimum(across, 2 * mean)
    place = np.arange(len(path))
    inner = place >= 0
    # Beside a wide join the way wanders before it sets out: what counts is how far off it got.
    if halves:
        reach = max(0.7 * wide[len(wide) // 4], halves[0])
        inner &= place >= np.argmax(np.hypot(*(path - start).T) >= reach)
    if halves and len(halves) > 1:
        reach = max(0.7 * mean, halves[1])
        off = np.linalg.norm(path - end, axis=1)
        inner &= (place <= len(path) - 1 - np.argmax(off[::-1] >= reach)) & (off.max() >= reach)
    else:
        inner &= place <= _tail_start(path, across, mean)
    if inner.sum() < 4:
        return np.vstack([start, end])
    body = _smooth(path[inner])
    if not halves or len(halves) < 2:
        end = _led_on(body, end, mean, region)
    line = _even(np.vstack([start, body, end]), 0.25 * mean)
    if 0.6 * mean < float(across[inner].min()) and float(across.max()) < 2 * mean:
        return line
    # Of what is narrow in one place and wide in another, a smooth line may cut the corners.
    inside = shapely.contains_xy(region, line[1:-1, 0], line[1:-1, 1])
    return line if inside.all() else _even(through, 0.25 * mean)


def _tail_start(path: FloatArray, across: FloatArray, mean: float) -> int:
    """Return where a line's wandering end begins: so near the tip as the strip is wide there."""
    off = np.linalg.norm(path - path[-1], axis=1)
    width, reach = 0.0, 1.5 * mean
    for _ in range(4):
        width = float(across[off <= reach].max())
        reach = max(reach, 1.2 * width)
    return int(np.flatnonzero(off >= min(_TAIL * width, off[0] / 2))[-1])


def _smooth(path: FloatArray) -> FloatArray:
    """Return an even path with the steps from triangle to triangle averaged out, its ends kept."""
    reach = min(_SMOOTH, (len(path) - 1) // 2)
    padded = np.pad(path, ((reach, reach), (0, 0)), mode="reflect", reflect_type="odd")
    weight = np.hanning(2 * reach + 3)[1:-1]
    weight /= weight.sum()
    return np.column_stack([np.convolve(padded[:, k], weight, "valid") for k in (0, 1)])


def _led_on(path: FloatArray, end: FloatArray, mean: float, region: shapely.Polygon) -> FloatArray:
    """Return where the line, led on straight from its last points, leaves the region."""
    back = max(2, min(len(path) - 1, 6))
    way = path[-1] - path[-1 - back]
    way = way / max(float(np.linalg.norm(way)), 1e-12)
    reach = 4 * mean + float(np.linalg.norm(end - path[-1]))
    ray = shapely.linestrings(np.array([path[-1], path[-1] + reach * way]))
    inside = shapely.get_parts(shapely.intersection(region, ray))
    here = shapely.points(path[-1])
    first = [part for part in inside if shapely.distance(part, here) < 1e-6]
    if not first or first[0].length == 0:
        return end
    coords = shapely.get_coordinates(first[0])
    exit_: FloatArray = coords[np.argmax(np.sum((coords - path[-1]) ** 2, axis=1))]
    # A line that leaves through a side, not the tip, falls far short of it.
    short = float(np.linalg.norm(end - path[-1])) - float(np.linalg.norm(exit_ - path[-1]))
    return end if short > 0.75 * mean else exit_


def _measured(
    path: FloatArray,
    branches: tuple[FloatArray, ...],
    region: shapely.Polygon,
    sides: shapely.Geometry,
    *,
    open_end: bool,
) -> MiddleLine:
    along = _along(path)
    length = float(along[-1])
    widths = 2 * shapely.distance(shapely.points(path), sides)
    total = length + sum(float(_along(branch)[-1]) for branch in branches)
    mean = region.area / max(total, 1e-9)
    typical = float(np.median(widths))
    clubbed = float(widths.max()) > 2 * typical and mean > 1.1 * typical
    # Beyond the middle of the last disc inside, what counts is nearness to the tip, not width.
    beyond = length - along <= widths / 2 + 0.02 * mean if open_end else along > length
    tip = max(int(np.argmax(beyond)) - 1, 0) if beyond.any() else len(along) - 1
    place = int(np.argmin(widths[: tip + 1]))
    return MiddleLine(
        path=path,
        widths=widths,
        branches=branches,
        length=length,
        width=typical if clubbed else mean,
        root_width=float(np.interp(min(0.75 * mean, length / 4), along, widths)),
        tip_width=max(float(widths[tip]), _towards_tip(along, widths, mean)),
        least=float(widths[place]),
        least_at=(float(path[place, 0]), float(path[place, 1])),
        free=open_end,
    )


def _towards_tip(along: FloatArray, widths: FloatArray, mean: float) -> float:
    """Return the width at the tip as the taper before it has it, whatever shape the tip itself."""
    length = along[-1]
    last = (along >= length - 4 * mean) & (along <= length - mean)
    if last.sum() < 3:
        return 0.0
    at, wide = along[last], widths[last]
    off = at - at.mean()
    slope = float(off @ wide / (off @ off))
    tip = float(wide.mean()) + slope * (length - float(at.mean()))
    return float(np.clip(tip, 0, wide.max()))
