"""The finished card set up to be drawn from anywhere: papers, light, shadows, a table."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.formats.camera import Camera, Image, Paint, Picture, looking
from trace2pop.formats.print_pdf import artwork_picture
from trace2pop.formats.scene import Panel, panels, pose_of, together
from trace2pop.geometry import beziers
from trace2pop.limits import BLEED
from trace2pop.mechanism.linkage import Frame, Pose
from trace2pop.model.card import CutMotif
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Sheets
from trace2pop.units import MM_PER_INCH

Colour = tuple[int, int, int]

ART_PX_PER_MM = 6.0
_OVERSAMPLE = 2
_FLOOR = 0.87
_SHADE_PX_PER_MM = 1.5
_GROUND_PX_PER_MM = 0.25
_AMBIENT = 0.80
_DARKEST = 150
"""Most that the table is darkened, of 255."""
_SHADOW = np.array([0.34, 0.33, 0.29], np.float32)
_LIGHT = np.array([-0.42, -0.62, 0.66])
"""From the card towards the light, as the viewer sees it: from the left, above, in front."""


@dataclass(frozen=True)
class View:
    """Opening, where the viewer stands (to the right, from above), degrees."""

    opening_deg: float
    turn_deg: float
    tilt_deg: float = 13.0


class Studio:
    """The card with its papers and a light, ready to be drawn from anywhere.

    ``art`` is what ``artwork`` returns for the card, where that is there already.
    """

    def __init__(self, sheets: Sheets, art: Image | None = None) -> None:
        self.sheets = sheets
        self._art = art
        self.cut = sheets.parts.plan.cut
        self.panels = together(panels(sheets))
        self.printed = any(part.printed for part in sheets.parts.parts)

    @cached_property
    def art(self) -> Image:
        """The artwork at final size with its bleed."""
        return artwork(self.cut) if self._art is None else self._art

    @cached_property
    def art_corner(self) -> tuple[float, float]:
        """Where the artwork's corner lies in card coordinates."""
        left, top, _, _ = beziers.bounds(self.cut.outline.outer)
        return left - BLEED.value, top - BLEED.value

    @cached_property
    def colours(self) -> dict[str, Colour]:
        """RGB of each layer's paper: the outer card's is taken from the artwork.

        A motif of plain stock gets a tint, or it would be lost on the white base.
        """
        return {
            "base": (250, 246, 238),
            "beams": (248, 246, 241),
            "motif": (252, 250, 245) if self.printed else (238, 214, 172),
            "outer": _muted(self.art) if self.printed else (108, 132, 130),
            "hand": (45, 42, 40),
        }

    def picture(self, view: View, size: tuple[int, int], fill: float = 0.86) -> Image:
        """Return one view, (rows, cols, 3) RGB, ``size`` wide and high."""
        shot = _Shot(self, view)
        camera = shot.camera(size, shot.focal(size, fill))
        return _taken(size, shot.foot(camera) / size[1], [(shot, camera)])

    def film(self, views: Sequence[View], size: tuple[int, int]) -> list[Callable[[], Image]]:
        """Return what takes several views one after another, at one scale on one table."""
        shots = [_Shot(self, view) for view in views]
        focal = min(shot.focal(size, 0.78) for shot in shots)
        foot = (size[0] / 2, _FLOOR * size[1])
        placed = [(shot, shot.camera(size, focal, foot)) for shot in shots]
        return [partial(_taken, size, _FLOOR, [one]) for one in placed]

    def row(self, views: Sequence[View], size: tuple[int, int]) -> Image:
        """Return several views at one scale on one table, from left to right."""
        shots = [_Shot(self, view) for view in views]
        focal = min(shot.focal((10 * size[0], size[1]), 0.72) for shot in shots)
        focal *= min(1.0, 0.76 * size[0] / sum(shot.extent(focal)[0] for shot in shots))
        widths = [shot.extent(focal)[0] for shot in shots]
        gap = (size[0] - sum(widths)) / (len(shots) + 0.4)
        x, placed = 0.7 * gap, []
        for shot, width in zip(shots, widths, strict=True):
            foot = (float(x + width / 2), _FLOOR * size[1])
            placed.append((shot, shot.camera(size, focal, foot)))
            x += width + gap
        return _taken(size, _FLOOR, placed)


def _taken(size: tuple[int, int], floor: float, shots: Sequence[tuple["_Shot", Camera]]) -> Image:
    """Return a picture of cards on one table; ``floor`` is where they stand, as a share of it.

    The soft ground is drawn at the picture's own size, the cards finer and averaged down.
    """
    ground = Picture(_backdrop(size, floor))
    for shot, camera in shots:
        shot.ground_shadow(ground, camera)
    whole = (size[0] * _OVERSAMPLE, size[1] * _OVERSAMPLE)
    fine = cv2.resize(ground.pixels, whole, interpolation=cv2.INTER_NEAREST)
    picture = Picture(np.asarray(fine, np.uint8))
    for shot, camera in shots:
        shot.draw(picture, camera.finer(_OVERSAMPLE))
    small = cv2.resize(picture.pixels, size, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def artwork(cut: CutMotif) -> Image:
    """Return the artwork for the screen: preview, its film and the page show the same."""
    return artwork_picture(cut, ART_PX_PER_MM * MM_PER_INCH)


class _Shot:
    """One view of the card being set up: its pose, the light, the camera's direction."""

    def __init__(self, studio: Studio, view: View) -> None:
        self.studio = studio
        self.placed = pose_of(studio.sheets, view.opening_deg)
        self.turn = looking(view.turn_deg, view.tilt_deg)
        light: FloatArray = np.array([_LIGHT[0], _LIGHT[1], -_LIGHT[2]]) @ self.turn
        self.light = light / np.linalg.norm(light)
        outer = [p for p in studio.panels if p.layer == "outer"]
        self.corners = np.concatenate([_corners(panel, self.placed) for panel in outer])
        low, high = self.corners.min(axis=0), self.corners.max(axis=0)
        self.eye = (low + high) / 2 - 3.0 * _diagonal(studio.sheets) * self.turn[2]

    def extent(self, focal: float) -> FloatArray:
        """Return width and height in px."""
        low, high = self._box(focal)
        return high - low

    def _box(self, focal: float) -> tuple[FloatArray, FloatArray]:
        seen = Camera(self.eye, self.turn, focal, (0.0, 0.0)).project(self.corners)[:, :2]
        return seen.min(axis=0), seen.max(axis=0)

    def focal(self, size: tuple[int, int], fill: float) -> float:
        """Return the focal length in px at which the card fills that share of a picture."""
        return float(fill * min(np.array(size) / self.extent(1.0)))

    def camera(
        self, size: tuple[int, int], focal: float, foot: tuple[float, float] | None = None
    ) -> Camera:
        """Return the camera: the card in the middle, or its foot's middle at ``foot``."""
        low, high = self._box(focal)
        if foot is None:
            centre = np.array(size) / 2 - (low + high) / 2
        else:
            centre = np.array(foot) - [(low[0] + high[0]) / 2, high[1]]
        return Camera(self.eye, self.turn, focal, (float(centre[0]), float(centre[1])))

    def foot(self, camera: Camera) -> float:
        """Return the lowest row the card takes."""
        return float(camera.project(self.corners)[:, 1].max())

    def draw(self, picture: Picture, camera: Camera) -> None:
        """Draw the card."""
        for panel in self.studio.panels:
            self._panel(picture, camera, panel)

    def _panel(self, picture: Picture, camera: Camera, panel: Panel) -> None:
        studio, frame = self.studio, panel.frame(self.placed)
        origin = frame.origin + panel.lift * frame.normal
        front = bool((camera.eye - origin) @ frame.normal > 0)
        facing = frame.normal if front else -frame.normal
        shade = _AMBIENT + (1.02 - _AMBIENT) * max(0.0, float(facing @ self.light))
        paper = studio.colours[panel.layer]
        rim: Colour | None = _shaded(paper, shade * 0.88)
        texture, corner, k = np.array([[_shaded(paper, shade)]], np.uint8), (0.0, 0.0), 1.0
        if panel.layer == "motif" and front and studio.printed:
            texture, corner, k = _dimmed(studio.art, shade), studio.art_corner, ART_PX_PER_MM
            rim = _shaded((247, 244, 238), shade * 0.98)
        elif panel.layer == "base" and front:
            texture, corner, k = self._shadowed(panel, shade)
        elif panel.layer == "hand":
            rim = None
        paint = Paint(texture, corner, k, rim)
        picture.draw(camera, (origin, frame.x_axis, frame.y_axis), panel.shape, paint)

    def _shadowed(self, panel: Panel, shade: float) -> tuple[Image, tuple[float, float], float]:
        """Return the base's paper with the soft shadows of what stands above it."""
        frame, k = panel.frame(self.placed), _SHADE_PX_PER_MM
        x0, y0, x1, y1 = panel.shape.bounds
        size = (int((x1 - x0) * k) + 1, int((y1 - y0) * k) + 1)
        shadow = np.zeros(size[::-1], np.uint8)
        for other in self.studio.panels:
            if other.kind in ("motif", "web") and other.layer != "hand":
                _cast(shadow, other, self.placed, frame, self.light, (x0, y0), k)
        soft = cv2.GaussianBlur(shadow, (0, 0), 2.8 * k)
        paper = np.array(self.studio.colours["base"], np.float32) * shade
        tones = _bytes(paper * (1 - np.linspace(0, 1, 256)[:, None] * _SHADOW))
        return tones[soft], (x0, y0), k

    def ground_shadow(self, picture: Picture, camera: Camera) -> None:
        """Darken the table where the card stands."""
        floor = float(self.corners[:, 1].max())
        ground = Frame(np.array([0.0, floor, 0.0]), np.array([1.0, 0, 0]), np.array([0, 0, 1.0]))
        k, low = _GROUND_PX_PER_MM, -1.8 * _diagonal(self.studio.sheets)
        size = int(-2 * low * k)
        cast, near = np.zeros((size, size), np.uint8), np.zeros((size, size), np.uint8)
        for panel in self.studio.panels:
            if panel.layer == "outer":
                _cast(cast, panel, self.placed, ground, self.light, (low, low), k)
                ends = _corners(panel, self.placed)
                foot = (ends[ends[:, 1] > floor - 1][:, [0, 2]] - low) * k
                cv2.polylines(near, [np.rint(foot * 16).astype(np.int32)], False, 255, 2, shift=4)
        soft = cv2.GaussianBlur(cast, (0, 0), 14.0 * k).astype(np.float32) * 0.26
        soft += cv2.GaussianBlur(near, (0, 0), 4.0 * k).astype(np.float32) * 0.6
        dark = np.rint(np.clip(soft, 0, _DARKEST)).astype(np.uint8)
        tone = _bytes(255 - np.arange(_DARKEST + 1)[:, None] * np.array([1.0, 0.98, 0.93]))[dark]
        plane = (ground.origin, ground.x_axis, ground.y_axis)
        paint = Paint(tone, (low, low), k)
        picture.draw(camera, plane, shapely.box(low, low, -low, -low), paint, solid=False)


def _diagonal(sheets: Sheets) -> float:
    outer = sheets.parts.plan.cut.placed.card.outer
    return float(np.hypot(2 * outer.width, outer.height))


def _corners(panel: Panel, placed: Pose) -> FloatArray:
    x0, y0, x1, y1 = panel.shape.bounds
    return panel.frame(placed).at(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]), panel.lift)


def _cast(
    shadow: Image,
    panel: Panel,
    placed: Pose,
    onto: Frame,
    light: FloatArray,
    corner: tuple[float, float],
    k: float,
) -> None:
    """Fill what a panel hides from the light on another plane."""
    normal = onto.normal
    slope = float(light @ normal)
    if abs(slope) < 0.05:
        return
    for piece in shapely.get_parts(panel.shape):
        if piece.geom_type != "Polygon":
            continue
        rings = []
        for ring in (piece.exterior, *piece.interiors):
            points = panel.frame(placed).at(np.asarray(ring.coords)[:, :2], panel.lift)
            height = (points - onto.origin) @ normal
            if slope * float(height.mean()) <= 0 and abs(float(height.mean())) > 0.5:
                return
            hit = points - (height / slope)[:, None] * light - onto.origin
            flat = np.column_stack([hit @ onto.x_axis, hit @ onto.y_axis])
            rings.append(np.rint((flat - corner) * k * 16).astype(np.int32))
        cv2.fillPoly(shadow, rings, 255, lineType=cv2.LINE_AA, shift=4)


def _backdrop(size: tuple[int, int], foot: float) -> Image:
    """Return a plain studio ground: a wall that runs softly into the table by ``foot``."""
    y = np.linspace(0, 1, size[1], dtype=np.float32)[:, None]
    wall, table = np.array([233, 234, 232.0]), np.array([246, 245, 242.0])
    share = 1 / (1 + np.exp(-(y - foot + 0.16) * 16))
    rows = wall * (1 - share) + table * share - 10 * (1 - y)
    return np.ascontiguousarray(np.repeat(_bytes(rows)[:, None], size[0], axis=1))


def _muted(art: Image) -> Colour:
    """Return a quiet colour that goes with the artwork: its own deeper tones, greyed."""
    small = cv2.resize(art, (64, 64), interpolation=cv2.INTER_AREA)
    lab = cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_RGB2LAB).reshape(-1, 3)
    inked = lab[(lab[:, 0] < 88) | (np.hypot(lab[:, 1], lab[:, 2]) > 12)]
    tone = np.median(inked if len(inked) > 20 else lab, axis=0)
    chroma = float(np.hypot(tone[1], tone[2]))
    tone = np.array([52.0, *(tone[1:] * min(0.75, 26.0 / max(chroma, 1e-6)))], np.float32)
    rgb = cv2.cvtColor(tone[None, None].astype(np.float32), cv2.COLOR_LAB2RGB)[0, 0]
    red, green, blue = (round(float(np.clip(c, 0, 1)) * 255) for c in rgb)
    return red, green, blue


def _shaded(colour: Colour, shade: float) -> Colour:
    red, green, blue = (round(min(255.0, c * shade)) for c in colour)
    return red, green, blue


def _dimmed(picture: Image, shade: float) -> Image:
    return np.asarray(cv2.convertScaleAbs(picture, alpha=shade), np.uint8)


def _bytes(values: NDArray[np.floating]) -> Image:
    return np.asarray(np.clip(np.rint(values), 0, 255), np.uint8)
