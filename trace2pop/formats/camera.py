"""A perspective camera, and a picture in which the nearest surface wins."""

from dataclasses import dataclass, field

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.model.outline import FloatArray

Image = NDArray[np.uint8]
Size = tuple[int, int]

_SHIFT = 4
_ON_EDGE = 1e12
"""Condition of a plane's homography beyond which it is seen on edge: there is nothing to draw."""


@dataclass(frozen=True, eq=False)
class Camera:
    """Looks from ``eye`` (3,) along the third row of ``turn`` (3, 3): right, down, forward.

    World axes as in ``mechanism.linkage``; ``focal`` in px; ``centre`` is the picture's point
    straight ahead.
    """

    eye: FloatArray
    turn: FloatArray
    focal: float
    centre: tuple[float, float]

    def project(self, points: FloatArray) -> FloatArray:
        """Return (n, 3): x and y in px and the depth in mm of world points (n, 3)."""
        x, y, depth = self.turn @ (points - self.eye).T
        flat = self.focal / depth
        return np.column_stack([self.centre[0] + x * flat, self.centre[1] + y * flat, depth])

    def finer(self, times: float) -> "Camera":
        """Return the camera for a picture with ``times`` as many pixels each way."""
        centre = (self.centre[0] * times, self.centre[1] * times)
        return Camera(self.eye, self.turn, self.focal * times, centre)

    def homography(self, origin: FloatArray, across: FloatArray, along: FloatArray) -> FloatArray:
        """Return (3, 3) from a plane's (a, b, 1) to (x, y, 1) times depth."""
        columns = self.turn @ np.stack([across, along, origin - self.eye], axis=1)
        lens = np.array(
            [[self.focal, 0, self.centre[0]], [0, self.focal, self.centre[1]], [0, 0, 1.0]]
        )
        result: FloatArray = lens @ columns
        return result


def looking(turn_deg: float, tilt_deg: float) -> FloatArray:
    """Return a camera's turn (3, 3): from ``turn_deg`` to the right, ``tilt_deg`` from above."""
    a, b = np.radians(turn_deg), np.radians(tilt_deg)
    right = np.array([np.cos(a), 0.0, -np.sin(a)])
    forward = np.array([-np.sin(a) * np.cos(b), np.sin(b), -np.cos(a) * np.cos(b)])
    # Down is right x forward in axes whose y points down.
    down = np.array([np.sin(a) * np.sin(b), np.cos(b), np.cos(a) * np.sin(b)])
    return np.stack([right, down, forward])


@dataclass(eq=False)
class Picture:
    """RGB picture (rows, cols, 3) being drawn, with one over the depth of what is nearest."""

    pixels: Image
    near: NDArray[np.float32] = field(init=False)

    def __post_init__(self) -> None:
        self.near = np.zeros(self.pixels.shape[:2], np.float32)

    def draw(
        self,
        camera: Camera,
        plane: tuple[FloatArray, FloatArray, FloatArray],
        shape: shapely.Geometry,
        paint: "Paint",
        *,
        solid: bool = True,
    ) -> None:
        """Draw a shape that lies in a plane (origin, across, along), where nothing is nearer.

        Without ``solid`` it darkens what is there and hides nothing.
        """
        matrix = camera.homography(*plane)
        rings = _rings(matrix, shape)
        if not rings or np.linalg.cond(matrix) > _ON_EDGE:
            return
        corners = np.concatenate(rings)
        x0, y0 = np.maximum(np.floor(corners.min(axis=0)).astype(int) - 2, 0)
        high = np.array(self.pixels.shape[1::-1])
        x1, y1 = np.minimum(np.ceil(corners.max(axis=0)).astype(int) + 3, high)
        if x1 <= x0 or y1 <= y0:
            return
        size = (int(x1 - x0), int(y1 - y0))
        local = [_fixed(ring - [x0, y0]) for ring in rings]
        mask = np.zeros(size[::-1], np.uint8)
        cv2.fillPoly(mask, local, 255, shift=_SHIFT)
        window = (slice(y0, y1), slice(x0, x1))
        near = _nearness(matrix, (int(x0), int(y0)), size)
        _hold_edges(near, mask, matrix, shape)
        mask &= cv2.compare(near, self.near[window], cv2.CMP_GT)
        move = np.array([[1.0, 0, -x0], [0, 1, -y0], [0, 0, 1]])
        colours = paint.seen(move @ matrix, size)
        if not solid:
            darker = cv2.multiply(self.pixels[window], colours, scale=1 / 255)
            cv2.copyTo(darker, mask, self.pixels[window])
            return
        if paint.rim is not None:
            width = max(1, round(paint.rim_width * camera.focal / _depth(matrix, shape)))
            edges = [_fixed(run - [x0, y0]) for run in _rims(matrix, shape)]
            cv2.polylines(colours, edges, False, paint.rim, width, shift=_SHIFT)
        cv2.copyTo(colours, mask, self.pixels[window])
        cv2.copyTo(near, mask, self.near[window])


@dataclass(frozen=True, eq=False)
class Paint:
    """What a surface looks like: a picture on its plane, and the colour of its cut edge.

    ``texture`` (rows, cols, 3) uint8 covers the plane from ``corner`` on at ``px_per_mm``; one
    pixel stands for one colour all over. ``rim`` is RGB, ``rim_width`` mm.
    """

    texture: Image
    corner: tuple[float, float] = (0.0, 0.0)
    px_per_mm: float = 1.0
    rim: tuple[int, int, int] | None = None
    rim_width: float = 0.25

    def seen(self, matrix: FloatArray, size: Size) -> Image:
        """Return the texture through a homography, (rows, cols, 3)."""
        if self.texture.size == 3:
            row = np.tile(self.texture.reshape(3), size[0])
            return np.repeat(row[None], size[1], axis=0).reshape(size[1], size[0], 3)
        k = self.px_per_mm
        place = np.array(
            [[1 / k, 0, self.corner[0] + 0.5 / k], [0, 1 / k, self.corner[1] + 0.5 / k], [0, 0, 1]]
        )
        warped = cv2.warpPerspective(
            self.texture,
            matrix @ place,
            size,
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        return np.asarray(warped, np.uint8)


def _depth(matrix: FloatArray, shape: shapely.Geometry) -> float:
    """Return the depth of a shape's middle."""
    x0, y0, x1, y1 = shape.bounds
    return float(matrix[2] @ np.array([(x0 + x1) / 2, (y0 + y1) / 2, 1.0]))


def _rings(matrix: FloatArray, shape: shapely.Geometry) -> list[FloatArray]:
    found = []
    for piece in shapely.get_parts(shape):
        if piece.geom_type != "Polygon":
            continue
        for ring in (piece.exterior, *piece.interiors):
            points = np.asarray(ring.coords)[:-1, :2]
            seen = matrix @ np.column_stack([points, np.ones(len(points))]).T
            if np.any(seen[2] <= 1e-6):
                return []
            found.append((seen[:2] / seen[2]).T)
    return found


def _rims(matrix: FloatArray, shape: shapely.Geometry) -> list[FloatArray]:
    """Return the runs of a shape's edge in px that are cut: all but those along its crease."""
    runs = []
    for piece in shapely.get_parts(shape):
        for ring in (piece.exterior, *piece.interiors):
            points = np.asarray(ring.coords)[:, :2]
            seen = matrix @ np.column_stack([points, np.ones(len(points))]).T
            flat = (seen[:2] / seen[2]).T
            folded = (np.abs(points[:-1, 0]) < 1e-9) & (np.abs(points[1:, 0]) < 1e-9)
            breaks = np.flatnonzero(folded)
            starts, ends = [0, *(breaks + 1)], [*(breaks + 1), len(points)]
            runs += [flat[a:b] for a, b in zip(starts, ends, strict=True) if b - a > 1]
    return runs


def _fixed(points: FloatArray) -> NDArray[np.int32]:
    return np.asarray(np.rint((points - 0.5) * 2**_SHIFT), np.int32)


def _nearness(matrix: FloatArray, corner: tuple[int, int], size: Size) -> NDArray[np.float32]:
    """Return one over the depth of the plane at each pixel: it is affine in x and y."""
    back = np.linalg.inv(matrix)[2]
    xs = back[0] * (np.arange(size[0]) + corner[0] + 0.5) + back[2]
    ys = back[1] * (np.arange(size[1]) + corner[1] + 0.5)
    result: NDArray[np.float32] = np.add(
        xs.astype(np.float32)[None], ys.astype(np.float32)[:, None]
    )
    return result


def _hold_edges(
    near: NDArray[np.float32], mask: NDArray[np.uint8], matrix: FloatArray, shape: shapely.Geometry
) -> None:
    """Put a shape's outermost pixels a pixel further back on its plane, but never off the shape.

    They lie partly beside the shape, where the plane goes on: a wall seen nearly on edge would come
    through what lies just in front of it.
    """
    inner = cv2.erode(mask, np.ones((3, 3), np.uint8), borderValue=0)
    rim = (mask > 0) & (inner == 0)
    back = np.linalg.inv(matrix)[2]
    corners = shapely.get_coordinates(shape.envelope)
    depths = np.column_stack([corners, np.ones(len(corners))]) @ matrix[2]
    low, high = np.float32(1 / depths.max()), np.float32(1 / max(depths.min(), 1e-6))
    near[rim] = np.clip(near[rim] - np.float32(abs(back[0]) + abs(back[1])), low, high)
