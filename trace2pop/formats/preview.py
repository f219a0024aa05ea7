"""preview.png: the finished card at several openings, with its artwork, hidden surfaces right.

Each panel is drawn flat and warped into the picture by its own perspective; of what lies at a pixel
the nearest is kept. The picture is made at twice its size and averaged down.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.formats.print_pdf import artwork_picture
from trace2pop.formats.scene import Panel, panels
from trace2pop.geometry import beziers
from trace2pop.limits import BLEED
from trace2pop.mechanism.linkage import Frame, pose
from trace2pop.model.card import CardPlan
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Sheets
from trace2pop.units import MM_PER_INCH

VIEWS = ((170.0, -20.0, 52.0), (105.0, -12.0, 44.0), (50.0, -4.0, 38.0))
"""Opening, turn about the crease and tilt of the pictures, degrees."""

WIDTH_PX = 1600
_HEIGHT_PX = 720
_OVERSAMPLE = 2
_TEXTURE_PX_PER_MM = 6.0
_SHADOW_MM = np.array([5.0, 9.0])

_COLOURS = {
    "base": (250, 247, 240),
    "beams": (252, 251, 248),
    "motif": (255, 255, 255),
    "outer": (74, 116, 122),
    "hand": (40, 44, 52),
}
"""RGB of paper where no artwork is printed."""

Texture = NDArray[np.uint8]
Image = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Camera:
    """A perspective camera: ``turn`` (3, 3) world to camera, ``middle`` (3,) looked at, mm.

    ``distance`` mm from there, ``px_per_mm`` at that distance, ``centre`` px in the picture.
    """

    turn: FloatArray
    middle: FloatArray
    distance: float
    px_per_mm: float
    centre: tuple[float, float]

    def matrix(self, frame: Frame, lift: float) -> FloatArray:
        """Return the homography (3, 3) from panel mm to pixels; its third row is depth over px."""
        origin = frame.origin + lift * frame.normal - self.middle
        columns = np.stack([frame.x_axis, frame.y_axis, origin], axis=1)
        x, y, z = self.turn @ columns
        depth = np.array([0.0, 0.0, self.distance]) - z
        scale = self.px_per_mm * self.distance
        return np.stack(
            [scale * x + self.centre[0] * depth, scale * y + self.centre[1] * depth, depth]
        )


def view(yaw_deg: float, pitch_deg: float) -> FloatArray:
    """Return the turn (3, 3): first about the crease, then the head away from the viewer."""
    a, b = np.radians(yaw_deg), np.radians(pitch_deg)
    about_y = np.array([[np.cos(a), 0, np.sin(a)], [0, 1, 0], [-np.sin(a), 0, np.cos(a)]])
    about_x = np.array([[1, 0, 0], [0, np.cos(b), -np.sin(b)], [0, np.sin(b), np.cos(b)]])
    result: FloatArray = about_x @ about_y
    return result


def preview_png(sheets: Sheets) -> bytes:
    """Return the card in its ``VIEWS`` side by side, 1600 px wide, as PNG."""
    art = _Art(sheets)
    scene = [(panel, _texture(panel, art)) for panel in panels(sheets)]
    edges = np.linspace(0, WIDTH_PX, len(VIEWS) + 1).round().astype(int)
    pictures = [
        opened(sheets.parts.plan, scene, seen, (int(width), _HEIGHT_PX))
        for seen, width in zip(VIEWS, np.diff(edges), strict=True)
    ]
    joined = np.hstack(pictures)
    done, content = cv2.imencode(".png", joined[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 9])
    if not done:
        raise RuntimeError("the picture could not be encoded")
    return content.tobytes()


class _Art:
    """The artwork at final size: picture and where its corner lies in card coordinates."""

    def __init__(self, sheets: Sheets) -> None:
        cut = sheets.parts.plan.cut
        self.printed = any(part.printed for part in sheets.parts.parts)
        self.px_per_mm = _TEXTURE_PX_PER_MM
        left, top, _, _ = beziers.bounds(cut.outline.outer)
        self.corner = np.array([left, top]) - BLEED.value
        self.picture = artwork_picture(cut, self.px_per_mm * MM_PER_INCH)
        self.shadow = beziers.polygon(cut.outline, 0.05)


@dataclass(frozen=True, eq=False)
class _Drawn:
    """A panel drawn flat: RGBA (rows, cols, 4), and the mm of its corner."""

    rgba: Texture
    corner: FloatArray


def _texture(panel: Panel, art: _Art) -> _Drawn:
    k, pad = _TEXTURE_PX_PER_MM, 2
    x0, y0, x1, y1 = panel.shape.bounds
    corner = np.array([x0, y0]) - pad / k
    size = (int((y1 - y0) * k) + 2 * pad + 1, int((x1 - x0) * k) + 2 * pad + 1)
    rgba = np.zeros((*size, 4), np.uint8)
    rgba[..., :3] = _COLOURS[panel.layer]
    if panel.layer == "motif" and art.printed:
        offset = (corner - art.corner) * k
        shift = np.array([[1, 0, offset[0]], [0, 1, offset[1]]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        rgba[..., :3] = cv2.warpAffine(
            art.picture, shift, size[::-1], flags=flags, borderMode=cv2.BORDER_REPLICATE
        )
    if panel.layer == "base":
        rgba[..., :3] = _shaded(rgba[..., :3], art.shadow, corner)
    mask = np.zeros(size, np.uint8)
    for piece in shapely.get_parts(panel.shape):
        if piece.geom_type == "Polygon":
            _fill(mask, piece, corner, k)
    rgba[..., 3] = mask
    if panel.layer not in ("hand", "motif"):
        inner = cv2.erode(mask, np.ones((3, 3), np.uint8))
        rim = (mask > inner)[..., None]
        rgba[..., :3] = np.where(rim, (rgba[..., :3] * 0.72).astype(np.uint8), rgba[..., :3])
    return _Drawn(rgba, corner)


def _shaded(rgb: Texture, motif: shapely.Polygon, corner: FloatArray) -> Texture:
    """Return the base's paper with the soft shadow of the motif on it."""
    shadow = np.zeros(rgb.shape[:2], np.uint8)
    _fill(shadow, motif, corner - _SHADOW_MM, _TEXTURE_PX_PER_MM)
    soft = cv2.GaussianBlur(shadow, (0, 0), 2.5 * _TEXTURE_PX_PER_MM).astype(np.float32) / 255
    result: Texture = (rgb * (1 - 0.3 * soft[..., None])).astype(np.uint8)
    return result


def _fill(mask: Texture, piece: shapely.Polygon, corner: FloatArray, k: float) -> None:
    rings = [
        np.rint(((np.asarray(ring.coords) - corner) * k - 0.5) * 16).astype(np.int32)
        for ring in (piece.exterior, *piece.interiors)
    ]
    cv2.fillPoly(mask, rings, 255, lineType=cv2.LINE_AA, shift=4)


def opened(
    plan: CardPlan,
    scene: list[tuple[Panel, _Drawn]],
    seen: tuple[float, float, float],
    size_px: tuple[int, int],
) -> Image:
    """Return the card as ``seen`` (one of ``VIEWS``), RGB, ``size_px`` wide and high."""
    size = (size_px[0] * _OVERSAMPLE, size_px[1] * _OVERSAMPLE)
    card = plan.cut.placed.card
    opening, yaw, pitch = seen
    place = pose(card.web, plan.beams, opening, spine=plan.closed.spine)
    camera = _camera(plan, [(p, p.frame(place)) for p, _ in scene], view(yaw, pitch), size)
    image = _ground(size)
    nearest = np.full((size[1], size[0]), np.inf, np.float32)
    light = np.array([-0.35, -0.5, 0.79])
    for panel, drawn in scene:
        frame = panel.frame(place)
        shade = 0.62 + 0.38 * abs(float(frame.normal @ camera.turn.T @ light))
        _draw(image, nearest, drawn, camera.matrix(frame, panel.lift), shade)
    small = cv2.resize(image, size_px, interpolation=cv2.INTER_AREA)
    result: Image = np.clip(small + 0.5, 0, 255).astype(np.uint8)
    return result


def _camera(
    plan: CardPlan, placed: list[tuple[Panel, Frame]], turn: FloatArray, size: tuple[int, int]
) -> Camera:
    """Return a camera, turned so, that sees everything."""
    card = plan.cut.placed.card
    distance = 3.2 * card.outer.height
    corners = np.vstack(
        [frame.at(np.array(panel.shape.envelope.exterior.coords)) for panel, frame in placed]
    )
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    seen = (corners - middle) @ turn.T
    flat = seen[:, :2] / (1 - seen[:, 2:] / distance)
    low, high = flat.min(axis=0), flat.max(axis=0)
    scale = float(0.88 * min(np.array(size) / (high - low)))
    centre = np.array(size) / 2 - scale * (low + high) / 2
    return Camera(turn, middle, distance, scale, (float(centre[0]), float(centre[1])))


def _ground(size: tuple[int, int]) -> NDArray[np.float32]:
    y = np.linspace(0, 1, size[1], dtype=np.float32)[:, None, None]
    top, foot = np.array([236, 238, 238], np.float32), np.array([216, 220, 221], np.float32)
    return np.repeat(top * (1 - y) + foot * y, size[0], axis=1)


def _draw(
    image: NDArray[np.float32],
    nearest: NDArray[np.float32],
    drawn: _Drawn,
    matrix: FloatArray,
    shade: float,
) -> None:
    """Draw one panel where it is nearer than what is there."""
    rows, cols = drawn.rgba.shape[:2]
    k = _TEXTURE_PX_PER_MM
    to_mm = np.array([[1 / k, 0, drawn.corner[0]], [0, 1 / k, drawn.corner[1]], [0, 0, 1]])
    whole = matrix @ to_mm
    ends = whole @ np.array([[0, cols, cols, 0], [0, 0, rows, rows], [1, 1, 1, 1]])
    if np.any(ends[2] <= 1e-6):
        return
    seen = ends[:2] / ends[2]
    x0, y0 = np.maximum(np.floor(seen.min(axis=1)).astype(int) - 1, 0)
    x1, y1 = np.minimum(np.ceil(seen.max(axis=1)).astype(int) + 2, image.shape[1::-1])
    if x1 <= x0 or y1 <= y0 or abs(np.linalg.det(whole)) < 1e-9:
        return
    local = np.array([[1, 0, -x0], [0, 1, -y0], [0, 0, 1]]) @ whole
    warped = cv2.warpPerspective(drawn.rgba, local, (int(x1 - x0), int(y1 - y0)))
    # Depth is the third row at the panel's own point, so one over the inverse's third row.
    back = np.linalg.inv(whole)
    xs, ys = np.arange(x0, x1) + 0.5, np.arange(y0, y1) + 0.5
    inverse = back[2, 0] * xs[None] + back[2, 1] * ys[:, None] + back[2, 2]
    depth = (1 / np.where(np.abs(inverse) < 1e-12, 1e-12, inverse)).astype(np.float32)
    window = (slice(y0, y1), slice(x0, x1))
    front = (warped[..., 3] > 127) & (depth < nearest[window]) & (depth > 0)
    image[window][front] = warped[..., :3][front] * np.float32(shade)
    nearest[window][front] = depth[front]
