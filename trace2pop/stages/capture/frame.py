"""The capture frame in a photo: markers found, tilt and lens worked out together, laid flat."""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from trace2pop.errors import PictureError
from trace2pop.geometry.frame import PAPERS, dictionary, frame_layout
from trace2pop.model.artwork import Artwork, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.frame import CaptureFrame
from trace2pop.model.outline import FloatArray
from trace2pop.stages.capture.decoding import MAX_PX_PER_MM, Picture
from trace2pop.stages.capture.lens import Lens, laid_flat, through

FRAME_UNCERTAINTY = 0.002
"""Relative, one sigma: what printers keep to; common practice, no published source. The fit itself
is far better."""

_SMALL_PX = 1600
_SEEN = 3
"""Markers from which a frame is in the picture at all; chance never decodes as many."""

_LEAST = 10
_LEAST_COVER = 0.5
"""Share of the frame's area that the markers used must span."""

_POOR_MM = 0.15
_STRAY_MM = 4.0
_ROUNDS = 12
_LENS_SPREAD = np.array([0.05, 0.05])
_CENTRE_SPREAD = 0.02
"""How far lens terms and the lens's middle (half diagonals) are thought to lie from 0: where the
markers say nothing of them, they stay small."""


@dataclass(frozen=True, eq=False)
class FoundFrame:
    """A frame found: ``plane`` (3, 3) from sheet mm to px without the lens's bending.

    ``residual`` is the rms distance of the marker corners from where the fit puts them, in mm on
    the sheet; ``hidden`` counts markers not used.
    """

    layout: CaptureFrame
    plane: FloatArray
    lens: Lens
    residual: float
    hidden: int


def find_frame(picture: Picture) -> FoundFrame | None:
    """Return the capture frame in a photo, None where there is none.

    Raises:
        PictureError: where there is one, but too little of it is seen.
    """
    seen = _markers(picture.rgb)
    layouts = [frame_layout(paper) for paper in PAPERS]
    layout = max(layouts, key=lambda each: sum(m.number in seen for m in each.markers))
    known = [marker for marker in layout.markers if marker.number in seen]
    if len(known) < _SEEN:
        return None
    square = layout.marker_side * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    on_sheet = np.array([square + np.array([marker.x, marker.y]) for marker in known])
    in_picture = np.array([seen[marker.number] for marker in known])
    kept = _consistent(on_sheet, in_picture, picture)
    if kept.sum() < _SEEN:
        return None
    frame_area = _span(np.array([(m.x, m.y) for m in layout.markers]))
    cover = _span(on_sheet[kept].reshape(-1, 2)) / frame_area
    if kept.sum() < _LEAST or cover < _LEAST_COVER:
        raise PictureError(
            f"only {kept.sum()} of the capture frame's {len(layout.markers)} markers are seen",
            "take the whole frame into the picture, sharp and without glare; up to a third of its "
            "markers may be covered",
        )
    plane, lens, residual, used = _fitted(on_sheet[kept], in_picture[kept], picture)
    return FoundFrame(layout, plane, lens, residual, len(layout.markers) - used)


def _markers(rgb: NDArray[np.uint8]) -> dict[int, FloatArray]:
    """Return the corners (4, 2) px of every marker seen once, clockwise from its own head left.

    Markers are found on a reduced picture and their corners refined on the whole one.
    """
    grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    factor = min(1.0, _SMALL_PX / max(grey.shape))
    small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    detector = cv2.aruco.ArucoDetector(dictionary(), cv2.aruco.DetectorParameters())
    corners, numbers, _ = detector.detectMarkers(small)
    if numbers is None:
        return {}
    flat = [int(number) for number in numbers.ravel()]
    found = {}
    criteria = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
    for number, quad in zip(flat, corners, strict=True):
        if flat.count(number) > 1:
            continue
        points = (quad.reshape(4, 1, 2) + 0.5) / factor - 0.5
        side = np.linalg.norm(np.diff(points[:, 0], axis=0), axis=1).min()
        reach = int(np.clip(0.4 * side / 7, 2, 8))
        cv2.cornerSubPix(grey, points, (reach, reach), (-1, -1), criteria)
        found[number] = points[:, 0].astype(float) + 0.5
    return found


def _span(points: FloatArray) -> float:
    """Return the area the points (n, 2) span."""
    return cv2.contourArea(cv2.convexHull(points.astype(np.float32)))


def _consistent(sheet: FloatArray, seen: FloatArray, picture: Picture) -> NDArray[np.bool_]:
    """Return which markers lie together on one plane, the lens's bending allowed for."""
    slack = 0.02 * max(picture.rgb.shape)
    if len(sheet) < _SEEN:
        return np.zeros(len(sheet), bool)
    _, inlier = cv2.findHomography(
        sheet.reshape(-1, 2).astype(np.float32),
        seen.reshape(-1, 2).astype(np.float32),
        cv2.RANSAC,
        slack,
    )
    return np.asarray(inlier.reshape(-1, 4).all(axis=1), bool)


def _fitted(
    sheet: FloatArray, seen: FloatArray, picture: Picture
) -> tuple[FloatArray, Lens, float, int]:
    """Return plane, lens, rms residual in mm and number of markers used.

    ``sheet`` and ``seen`` are (n, 4, 2). Unknowns: eight of the plane, two lens terms, the lens's
    middle, and how much the ink has spread at a marker's edges (printing, blur), which without its
    own unknown would look like scale. Gauss-Newton with weights after Huber (1964); markers off by
    more than five spreads are then left out and the rest fitted again; the residual counts them.
    """
    fit = _Fit(sheet, seen, picture.rgb.shape[:2])
    off = fit.run()
    spread = 1.4826 * np.median(np.abs(fit.residuals()))
    used = off < max(5 * spread, 0.3 / fit.half)
    if not used.all() and used.sum() >= _SEEN:
        fit = _Fit(sheet[used], seen[used], picture.rgb.shape[:2])
        fit.run()
    plane, lens = fit.plane(), fit.lens()
    spread_mm = fit.unknown[12] * fit.size * fit.outward
    back = through(np.asarray(np.linalg.inv(plane)), lens.straighten(seen))
    miss = np.linalg.norm(back - sheet - spread_mm, axis=2)
    # A marker a little off the fit tells of a sheet that isn't flat; one far off, of no marker.
    kept = miss.max(axis=1) < _STRAY_MM
    return plane, lens, float(np.sqrt((miss[kept] ** 2).mean())), int(kept.sum())


class _Fit:
    """The unknowns as one vector, in units in which all are of order 1."""

    def __init__(self, sheet: FloatArray, seen: FloatArray, shape: tuple[int, ...]) -> None:
        self.sheet, self.seen = sheet, seen
        self.middle = np.array([shape[1], shape[0]]) / 2
        self.half = math.hypot(shape[0], shape[1]) / 2
        # In mm: centred and scaled, so that the plane's eight numbers weigh alike.
        self.origin = sheet.reshape(-1, 2).mean(axis=0)
        self.size = float(np.abs(sheet - self.origin).max())
        self.outward = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        plane, _ = cv2.findHomography(
            ((sheet - self.origin) / self.size).reshape(-1, 2),
            ((seen - self.middle) / self.half).reshape(-1, 2),
        )
        self.unknown = np.concatenate([(plane / plane[2, 2]).ravel()[:8], np.zeros(5)])

    def corners(self) -> FloatArray:
        """Return the printed corners (n, 4, 2) in mm, the spread of the ink included."""
        result: FloatArray = self.sheet + self.outward * self.unknown[12] * self.size
        return result

    def lens(self) -> Lens:
        k1, k2, x, y = self.unknown[8:12]
        centre = self.middle + self.half * np.array([x, y])
        return Lens((float(centre[0]), float(centre[1])), self.half, float(k1), float(k2))

    def plane(self) -> FloatArray:
        to_unit = np.array(
            [
                [1 / self.size, 0, -self.origin[0] / self.size],
                [0, 1 / self.size, -self.origin[1] / self.size],
                [0, 0, 1],
            ]
        )
        from_unit = np.array(
            [[self.half, 0, self.middle[0]], [0, self.half, self.middle[1]], [0, 0, 1]]
        )
        plane = np.append(self.unknown[:8], 1.0).reshape(3, 3)
        result: FloatArray = from_unit @ plane @ to_unit
        return result

    def residuals(self) -> FloatArray:
        """Return fit minus picture at each corner (n, 4, 2), in half diagonals."""
        straight = self.lens().straighten(self.seen)
        ideal = through(self.plane(), self.corners())
        result: FloatArray = (ideal - straight) / self.half
        return result

    def run(self) -> FloatArray:
        """Fit, and return each marker's largest residual (n,)."""
        prior = np.zeros((4, 13))
        prior[:, 8:12] = np.diag(1 / np.array([*_LENS_SPREAD, _CENTRE_SPREAD, _CENTRE_SPREAD]))
        for _ in range(_ROUNDS):
            now = self.residuals().ravel()
            slope = self._slope(now)
            spread = max(1.4826 * float(np.median(np.abs(now))), 0.02 / self.half)
            weight = np.sqrt(np.minimum(1.0, 2 * spread / np.maximum(np.abs(now), 1e-12)))
            left = np.vstack([slope * weight[:, None], prior * spread])
            right = np.concatenate([now * weight, prior @ self.unknown * spread])
            step = np.linalg.lstsq(left, -right, rcond=None)[0]
            self.unknown = self.unknown + step
            if np.abs(step).max() < 1e-9:
                break
        result: FloatArray = np.linalg.norm(self.residuals(), axis=2).max(axis=1)
        return result

    def _slope(self, now: FloatArray) -> FloatArray:
        start, columns = self.unknown, []
        for number in range(len(start)):
            self.unknown = start.copy()
            self.unknown[number] += 1e-6
            columns.append((self.residuals().ravel() - now) / 1e-6)
        self.unknown = start
        return np.column_stack(columns)


def rectified_field(name: str, picture: Picture, frame: FoundFrame) -> Artwork:
    """Return the frame's field laid flat in true millimetres."""
    layout = frame.layout
    left, top, width, height = layout.field
    corners = np.array(
        [[left, top], [left + width, top], [left + width, top + height], [left, top + height]]
    )
    seen = through(frame.plane, corners)
    sides_px = np.linalg.norm(np.roll(seen, -1, axis=0) - seen, axis=1)
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    density = float((sides_px / sides).max())
    px_per_mm = min(MAX_PX_PER_MM, float(np.ceil(density * 10) / 10))
    to_sheet = np.array([[1 / px_per_mm, 0, left], [0, 1 / px_per_mm, top], [0, 0, 1]])
    matrix = frame.plane @ to_sheet
    shape = (round(height * px_per_mm), round(width * px_per_mm))
    sheet = np.array([[0, 0], [layout.width, 0], [layout.width, layout.height], [0, layout.height]])
    mm_per_px = 1 / (float((sides_px / sides).mean()) * picture.reduction)
    return Artwork(
        name=name,
        rgb=laid_flat(picture.rgb, matrix, frame.lens, shape),
        alpha=None,
        px_per_mm=px_per_mm,
        scale=Scale("frame", mm_per_px, FRAME_UNCERTAINTY),
        to_source=np.diag([picture.reduction, picture.reduction, 1.0]) @ matrix,
        source_size_px=picture.size,
        page=sheet - (left, top),
        findings=(_report(frame),),
    )


def _report(frame: FoundFrame) -> Finding:
    poor = frame.residual > _POOR_MM
    hidden = f", {frame.hidden} of its markers not used" if frame.hidden else ""
    told = (
        f"the {frame.layout.paper} capture frame was laid flat{hidden}; its corners come out "
        f"within {frame.residual:.3f} mm (rms)"
    )
    if poor:
        told += ": flatten the sheet, under glass if need be, and take the picture again"
    else:
        told += "; check its ruler once, printers may be off by some 0.2 %"
    return Finding(
        "frame-found",
        "warning" if poor else "note",
        "the picture",
        frame.residual,
        _POOR_MM,
        told,
    )
