"""Gaps in pen lines: ends of strokes that face each other, and the links that close them."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.stages.trace.ink import Mask

_STROKE_MM = 2.2
"""Wider strokes are no pen's."""

_RIM_MM = 1.6
"""How much of a wider part's rim is looked at: no less than a stroke at its widest."""

_BACK_MM = 1.2
"""How far back along its stroke an end's direction is taken from."""

_FACING = 0.35
"""Cosine of the largest angle between a stroke's direction and the link that continues it."""

_ROUND_A_CORNER = -0.3
"""The same for ends that nothing else continues: the gap may lie at a corner."""

_MOST_TIPS = 3000
"""What has more ends than this is no pen drawing but grain or a printed texture."""

_HORNS = 2.6
"""The horns of a stroke's end are at most so many of its half widths apart."""

Vector = NDArray[np.float64]


@dataclass(frozen=True)
class Link:
    """A straight link over a pen gap, in mm: its ends, its width, the gap it closes."""

    start: tuple[float, float]
    end: tuple[float, float]
    width: float
    gap: float


@dataclass(frozen=True)
class _End:
    """The end of a stroke: where, which way it points, half its width, all in px."""

    place: Vector
    direction: Vector
    radius: float


def links_over(mask: Mask, gap_mm: float, px_per_mm: float) -> list[Link]:
    """Return the links between facing ends of thin strokes at most ``gap_mm`` apart.

    Each end is linked once, nearest pairs first; ends left over are linked to a stroke's side that
    lies straight ahead.
    """
    ends = _ends(mask, px_per_mm)
    if gap_mm <= 0:
        return []
    links: list[Link] = []
    for facing in (_FACING, _ROUND_A_CORNER):
        found, ends = _paired(ends, gap_mm, px_per_mm, facing)
        links += found
    return links + _onto_sides(mask, ends, gap_mm, px_per_mm)


def _paired(
    ends: list[_End], gap_mm: float, px_per_mm: float, facing: float
) -> tuple[list[Link], list[_End]]:
    """Return the links between ends that face each other, and the ends left over."""
    places = np.array([end.place for end in ends]).reshape(-1, 2)
    pairs = []
    for number, end in enumerate(ends):
        off = places - end.place
        far = np.hypot(*off.T)
        for other in map(int, np.flatnonzero(far < gap_mm * px_per_mm + 4 * end.radius + 2)):
            if other <= number:
                continue
            gap = float(far[other] - end.radius - ends[other].radius) / px_per_mm
            toward = off[other] / max(far[other], 1e-9)
            meets = min(end.direction @ toward, -(ends[other].direction @ toward))
            if gap <= gap_mm and meets > facing:
                pairs.append((gap, number, other))
    used: set[int] = set()
    links = []
    for gap, one, other in sorted(pairs):
        if one in used or other in used:
            continue
        used |= {one, other}
        a, b = ends[one], ends[other]
        links.append(_link(a.place, b.place, 2 * min(a.radius, b.radius), gap, px_per_mm))
    return links, [end for number, end in enumerate(ends) if number not in used]


def drawn_over(mask: Mask, links: list[Link], px_per_mm: float, shift: tuple[int, int]) -> Mask:
    """Return the mask with links drawn in; ``shift`` is the px (x, y) its window begins at."""
    result = mask.astype(np.uint8)
    for link in links:
        start, end = (
            tuple(round(16 * (v * px_per_mm - 0.5 - s)) for v, s in zip(p, shift, strict=True))
            for p in (link.start, link.end)
        )
        thickness = max(1, round(link.width * px_per_mm))
        cv2.line(result, start, end, 1, thickness, cv2.LINE_8, 4)
    found: Mask = result > 0
    return found


def _ends(mask: Mask, px_per_mm: float) -> list[_End]:
    """Return the free ends of thin strokes.

    A skeleton's end is a stroke's where one branch alone runs from it to a circle round it; where
    two do it is the tip of a corner's bump.
    """
    from skimage.morphology import skeletonize

    solid = mask.astype(np.uint8)
    depth = np.asarray(cv2.distanceTransform(solid, cv2.DIST_L2, 5), np.float32)
    # The inside of wide parts holds no stroke's end, and thinning it takes longest.
    skeleton = skeletonize(mask & (depth < _RIM_MM * px_per_mm))
    kernel = np.ones((3, 3), np.uint8)
    lines = skeleton.astype(np.uint8)
    around = cv2.filter2D(lines, cv2.CV_8U, kernel, borderType=cv2.BORDER_CONSTANT)
    tips = skeleton & (around == 2) & (depth < _STROKE_MM * px_per_mm / 2)
    if tips.sum() > _MOST_TIPS:
        return []
    ends, forked = _forked_ends(lines, depth, np.argwhere(tips), px_per_mm)
    for row, col in np.argwhere(tips & ~forked):
        end = _end_at(lines, depth, int(row), int(col), _BACK_MM * px_per_mm)
        if end is None:
            continue
        near = [e for e in ends if np.hypot(*(e.place - end.place)) < 1 + 1.5 * e.radius]
        if near and near[0].direction @ end.direction > 0:
            continue  # a blunt end's skeleton forks
        ends.append(end)
    return ends


def _forked_ends(
    lines: NDArray[np.uint8], depth: NDArray[np.float32], tips: NDArray[np.intp], px_per_mm: float
) -> tuple[list[_End], Mask]:
    """Return the ends whose skeleton forks to two corners, and the tips that belong to them.

    Rubbed or painted out, a stroke ends in two horns a stroke's width apart.
    """
    ends: list[_End] = []
    used = np.zeros(lines.shape, bool)
    most = _HORNS * _STROKE_MM / 2 * px_per_mm
    for number, one in enumerate(tips):
        later = tips[number + 1 :]
        for other in later[np.hypot(*(later - one).T) <= most]:
            if used[tuple(one)] or used[tuple(other)]:
                continue
            end = _fork(lines, depth, one, other, _BACK_MM * px_per_mm)
            if end is not None:
                ends.append(end)
                used[tuple(one)] = used[tuple(other)] = True
    return ends, used


def _fork(
    lines: NDArray[np.uint8],
    depth: NDArray[np.float32],
    one: NDArray[np.intp],
    other: NDArray[np.intp],
    reach: float,
) -> _End | None:
    """Return the end that two tips make together: one stroke alone leads away from both."""
    row, col = (one + other) / 2
    size = int(2 * reach) + 2
    top, left = max(int(row) - size, 0), max(int(col) - size, 0)
    part = lines[top : int(row) + size + 1, left : int(col) + size + 1]
    y, x = np.mgrid[: part.shape[0], : part.shape[1]]
    far = np.hypot(x + left - col, y + top - row)
    apart = float(np.hypot(*(other - one)))
    rim = max(reach, apart / 2 + 2)
    _, labels = cv2.connectedComponents(part * (far < rim + 2).astype(np.uint8), connectivity=8)
    label = labels[one[0] - top, one[1] - left]
    own = labels == label
    if label == 0 or labels[other[0] - top, other[1] - left] != label:
        return None
    count, branches = cv2.connectedComponents((own & (far >= rim)).astype(np.uint8), connectivity=8)
    around = depth[top : top + part.shape[0], left : left + part.shape[1]]
    radius = float(np.median(around[own & (far >= min(apart / 2, rim))]))
    if count != 2 or apart > _HORNS * radius:
        return None
    back = branches == 1
    place = np.array([col, row], float)
    direction = place - np.array([x[back].mean() + left, y[back].mean() + top])
    direction /= float(np.hypot(*direction))
    return _End(place - radius * direction, direction, radius)


def _end_at(
    lines: NDArray[np.uint8], depth: NDArray[np.float32], row: int, col: int, reach: float
) -> _End | None:
    """Return the stroke's end at a skeleton's tip, or None where it is none."""
    size = int(reach) + 2
    top, left = max(row - size, 0), max(col - size, 0)
    part = lines[top : row + size + 1, left : col + size + 1]
    y, x = np.mgrid[: part.shape[0], : part.shape[1]]
    far = np.hypot(x + left - col, y + top - row)
    _, labels = cv2.connectedComponents(part * (far < reach + 2).astype(np.uint8), connectivity=8)
    own = labels == labels[row - top, col - left]
    count, branches = cv2.connectedComponents(
        (own & (far >= reach)).astype(np.uint8), connectivity=8
    )
    if count > 2:
        return None
    radius = float(np.median(depth[top : row + size + 1, left : col + size + 1][own]))
    back = branches == 1 if count == 2 else own & (far >= far[own].max() - 0.5)
    place = np.array([col, row], float)
    direction = place - np.array([x[back].mean() + left, y[back].mean() + top])
    length = float(np.hypot(*direction))
    if length < max(3.0, 2 * radius):
        return None
    return _End(place, direction / length, radius)


def _onto_sides(mask: Mask, ends: list[_End], gap_mm: float, px_per_mm: float) -> list[Link]:
    """Return links from ends to the side of another stroke straight ahead."""
    links = []
    for end in ends:
        reach = gap_mm * px_per_mm + end.radius
        steps = np.arange(1.0, reach + 2)
        for turn in (0.0, 0.35, -0.35):
            ray = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
            course = end.place + steps[:, None] * (ray @ end.direction)
            cols, rows = np.round(course).astype(int).T
            safe = (rows >= 0) & (cols >= 0) & (rows < mask.shape[0]) & (cols < mask.shape[1])
            inked = np.zeros(len(steps), bool)
            inked[safe] = mask[rows[safe], cols[safe]]
            leaves = int(np.argmin(inked)) if not inked.all() else len(steps)
            hits = np.flatnonzero(inked[leaves:])
            if leaves >= len(steps) or not len(hits):
                continue
            hit = leaves + int(hits[0])
            target = course[min(hit + max(1, int(end.radius)), len(steps) - 1)]
            gap = float(steps[hit] - steps[leaves]) / px_per_mm
            links.append(_link(end.place, target, 2 * end.radius, gap, px_per_mm))
            break
    return links


def _link(start: Vector, end: Vector, width: float, gap: float, px_per_mm: float) -> Link:
    first, second = (start + 0.5) / px_per_mm, (end + 0.5) / px_per_mm
    return Link(
        (float(first[0]), float(first[1])), (float(second[0]), float(second[1])),
        width / px_per_mm, max(gap, 0.0),
    )  # fmt: skip
