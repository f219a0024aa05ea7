"""Where beams have room, found on pixels, by a way that shares nothing with the planner's.

A motif is drawn on a raster, its inset taken by a distance transform, and the shortest beam of
every flange width is tried on every pixel. Each answer comes twice, once with the raster's error
given away and once with it taken: what has no room in the generous one has none at all.

The rules, from docs/mechanism.md, common practice with no published source: a flange pair is a
hexagon with ends of 45 degrees and a straight edge of 5 mm at least; it lies inset under the motif,
1 mm off its crease and off glued runs, inside its half of the base; its web stays inside when
closed; its slit, 1 mm longer than the fold line, leaves 12 mm or a tenth of the base's height at
head and foot and 12 mm to the fore edge.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import distance_transform_edt

PITCH = 0.2
"""Pixels, mm."""
ERROR = 0.15
"""What the raster may be off: half a pixel's diagonal."""

NOTHING = shapely.Polygon()
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Ground:
    """A motif's paper on a base, mm: ``taken`` is paper that flanges must keep 1 mm from."""

    paper: shapely.Geometry
    half_width: float
    height: float
    web: float
    inset: float = 2.0
    widths: tuple[float, ...] = (9.0, 7.0, 5.0)
    taken: shapely.Geometry = NOTHING


@dataclass(frozen=True, eq=False)
class Room:
    """Where fold lines may begin: ``starts[k]`` (rows, cols) for a shortest beam of width k.

    ``u`` (cols,) and ``v`` (rows,) are the pixels' places; ``folds[k]`` is that beam's fold line.
    """

    u: NDArray[np.float64]
    v: NDArray[np.float64]
    folds: tuple[float, ...]
    starts: tuple[Mask, ...]

    def on(self, side: int) -> bool:
        """Whether there is room on the left half (-1), the crease (0) or the right half (1)."""
        return any(bool(own[:, np.sign(self.u) == side].any()) for own in self.starts)

    def alike(self) -> bool:
        """Whether there is room at the same place on both halves."""
        return any(bool((own & own[:, ::-1])[:, self.u > 0].any()) for own in self.starts)

    def together(self, *, alike: bool, error: float = ERROR) -> bool:
        """Whether a beam on the crease and one on each half have room beside one another.

        Flanges 1 mm apart or beams 10 mm apart along the crease; ``alike`` halves mirror-symmetric.
        """
        for fold, own in zip(self.folds, self.starts, strict=True):
            crease = self.v[own[:, self.u == 0].any(axis=1)]
            fits = np.ones(len(crease), dtype=bool)
            for side in (1,) if alike else (-1, 1):
                beside = np.zeros(len(crease), dtype=bool)
                for length, other in zip(self.folds, self.starts, strict=True):
                    there = other & other[:, ::-1] if alike else other
                    near = np.abs(self.u) < (fold + length) / 2 - 5.0 + 1.0 - error
                    half = np.sign(self.u) == side
                    beside |= bool(there[:, half & ~near].any())
                    rows = self.v[there[:, half & near].any(axis=1)]
                    if len(rows):
                        beside |= rows.max() >= crease + fold + 10.0 - error
                        beside |= rows.min() + length <= crease - 10.0 + error
                fits &= beside
            if fits.any():
                return True
        return False

    def beams(self, every: float = 1.0) -> list[tuple[float, float, float, float]]:
        """Return all longest beams as (u, v0, v1, flange), their lines ``every`` mm apart.

        They lie on whole pixels and may be in one another's way.
        """
        found = []
        middle = len(self.u) // 2
        columns = range(middle % round(every / PITCH), len(self.u), round(every / PITCH))
        for fold, own in zip(self.folds, self.starts, strict=True):
            for col in columns:
                edges = np.flatnonzero(np.diff(np.pad(own[:, col].astype(np.int8), 1)))
                for first, behind in edges.reshape(-1, 2):
                    low, high = self.v[first], self.v[behind - 1] + fold
                    found.append((float(self.u[col]), float(low), float(high), (fold - 5.0) / 2))
        return found

    def lines(self) -> Mask:
        """Return the pixels (rows, cols) that lie on the fold line of some beam."""
        whole = np.zeros(self.starts[0].shape, dtype=bool)
        for fold, own in zip(self.folds, self.starts, strict=True):
            whole |= _dilated(own, round(fold / PITCH))
        return whole


def room(ground: Ground, *, generous: bool) -> Room:
    """Return where beams have room, the raster's error given away (``generous``) or taken."""
    error = ERROR if generous else -ERROR
    left, _, right, _ = ground.paper.bounds
    half = int(np.ceil((max(-left, right) + 1) / PITCH))
    u = np.arange(-half, half + 1) * PITCH
    v = np.arange(0, ground.height + PITCH, PITCH)
    free = _away(ground.paper, u, v, outside=False) >= ground.inset - error
    if not ground.taken.is_empty:
        free &= _away(ground.taken, u, v, outside=True) >= 1.0 - error
    folds, starts = [], []
    for width in ground.widths:
        fold = 2 * width + 5.0
        own = _hexagons(free, width, fold)
        margin = max(12.0, 0.1 * ground.height) + 0.5 - error
        own &= ((v >= margin) & (v + fold <= ground.height - margin))[:, None]
        far = ground.half_width - max(ground.web, 12.0, width) + error
        aside = (np.abs(u) >= width + 1.0 - error) & (np.abs(u) <= far)
        own &= aside | (u == 0)
        folds.append(fold)
        starts.append(own)
    return Room(u, v, tuple(folds), tuple(starts))


def _away(
    shape: shapely.Geometry, u: NDArray[np.float64], v: NDArray[np.float64], *, outside: bool
) -> NDArray[np.float64]:
    """Return each pixel's distance to the edge, inside the shape or outside it; 0 elsewhere."""
    shapely.prepare(shape)
    across, along = np.meshgrid(u, v)
    inside = shapely.contains_xy(shape, across.ravel(), along.ravel()).reshape(across.shape)
    padded = np.pad(inside != outside, 1, constant_values=outside)
    found: NDArray[np.float64] = distance_transform_edt(padded)[1:-1, 1:-1] * PITCH
    return found


def _hexagons(free: Mask, width: float, fold: float) -> Mask:
    """Return the pixels at which a fold line may begin so that its flange pair is on free ones."""
    blocked = np.cumsum(np.pad(~free, ((1, 0), (0, 0))), axis=0, dtype=np.int32)
    rows, cols = free.shape
    length = round(fold / PITCH)
    fits = np.zeros((rows, cols), dtype=bool)
    top = rows - length
    if top <= 0:
        return fits
    fits[:top] = True
    for step in range(round(width / PITCH) + 1):
        clear = (
            blocked[length - step + 1 : length - step + 1 + top] - blocked[step : step + top] == 0
        )
        for aside in {step, -step}:
            fits[:top] &= _shifted(clear, aside)
    return fits


def _shifted(mask: Mask, aside: int) -> Mask:
    """Return what stands ``aside`` columns to the right of each pixel, nothing past the edge."""
    moved = np.zeros_like(mask)
    if aside >= 0:
        moved[:, : mask.shape[1] - aside] = mask[:, aside:]
    else:
        moved[:, -aside:] = mask[:, :aside]
    return moved


def _dilated(starts: Mask, length: int) -> Mask:
    """Return every pixel that lies at most ``length`` rows behind a start."""
    run = np.cumsum(np.pad(starts, ((length + 1, 0), (0, 0))), axis=0, dtype=np.int32)
    found: Mask = run[length + 1 :] - run[: -length - 1] > 0
    return found
