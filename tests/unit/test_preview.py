"""Preview and pictures. Hidden surfaces are held against rays cast by hand through the panels."""

import io
from dataclasses import replace

import cv2
import numpy as np
import pytest
import shapely
from PIL import Image

from tests import examples
from trace2pop.formats.camera import Camera, Paint, Picture, looking
from trace2pop.formats.maps import ramp, sag_shares
from trace2pop.formats.picture_trace import traced_picture
from trace2pop.formats.pictures import picture_files
from trace2pop.formats.preview import Film, preview_png
from trace2pop.formats.scene import Panel, panels, pose_of
from trace2pop.model.card import Sag
from trace2pop.model.pieces import Sheets
from trace2pop.model.settings import CutterSettings, GuideSettings
from trace2pop.stages.guide import guide
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets

SIZE = (240, 180)


@pytest.fixture(scope="module")
def laid() -> Sheets:
    made = parts(examples.plan(), examples.STOCKS, examples.CUTTER)
    return sheets(made, examples.CUTTER, CutterSettings())


def _camera(turn_deg: float, tilt_deg: float) -> Camera:
    turn = looking(turn_deg, tilt_deg)
    return Camera(np.array([0.0, 86.0, 40.0]) - 700.0 * turn[2], turn, 380.0, (120.0, 90.0))


Plane = tuple[np.ndarray, np.ndarray, np.ndarray]


def _nearest(camera: Camera, pixel: np.ndarray, scene: list[tuple[Panel, Plane]]) -> int:
    """Cast the ray of a place in the picture; return the panel it meets first, or -1."""
    way = np.array([(pixel[0] - 120.0) / 380.0, (pixel[1] - 90.0) / 380.0, 1.0]) @ camera.turn
    best, found = np.inf, -1
    for index, (panel, (origin, across, along)) in enumerate(scene):
        normal = np.cross(across, along)
        t = ((origin - camera.eye) @ normal) / (way @ normal)
        local = camera.eye + t * way - origin
        if 0 < t < best and shapely.contains_xy(panel.shape, local @ across, local @ along):
            best, found = t, index
    return found


def _clear(camera: Camera, pixel: np.ndarray, scene: list[tuple[Panel, Plane]]) -> int | None:
    """Return what a pixel shows, None where an edge runs nearby."""
    around = [(0, 0), (1.2, 0), (-1.2, 0), (0, 1.2), (0, -1.2)]
    seen = {_nearest(camera, pixel + np.array(step), scene) for step in around}
    return seen.pop() if len(seen) == 1 else None


def test_a_wall_seen_on_edge_does_not_shine_through_the_motif() -> None:
    """A web ends 0.45 mm behind the motif it carries; from in front nothing of it is to be seen."""
    x, y, z = np.eye(3)
    motif, wall = shapely.box(-60, -80, 60, 80), shapely.box(0.45, -60, 20, 60)
    white, red = (np.full((1, 1, 3), colour, np.uint8) for colour in ((250,) * 3, (255, 0, 0)))
    for across in np.linspace(-50, 50, 41):
        for turn in (-9.0, 0.0, 7.0):
            way = looking(turn, 13.0)
            camera = Camera(-900.0 * way[2], way, 1500.0, (150.0, 150.0))
            picture = Picture(np.zeros((300, 300, 3), np.uint8))
            picture.draw(camera, (across * x, -z, y), wall, Paint(red))
            picture.draw(camera, (0 * x, x, y), motif, Paint(white))
            shown = picture.pixels[picture.pixels[..., 0] > 0]
            assert len(shown) > 10_000 and (shown == 250).all()


@pytest.mark.parametrize(
    ("opening", "turn", "tilt"),
    [(25, 20, 10), (60, -25, 15), (95, 0, 60), (128, -16, 15), (180, 35, -30), (150, 160, 10)],
)
def test_the_nearest_surface_is_seen(
    laid: Sheets, opening: float, turn: float, tilt: float
) -> None:
    camera, placed = _camera(turn, tilt), pose_of(laid, opening)
    picture = Picture(np.full((SIZE[1], SIZE[0], 3), 255, np.uint8))
    scene = []
    for panel in panels(laid):
        if panel.layer == "hand":
            continue  # thinner than a pixel here: drawn one pixel wide, so that it shows
        frame = panel.frame(placed)
        origin = frame.origin + panel.lift * frame.normal
        shapely.prepare(panel.shape)
        scene.append((panel, (origin, frame.x_axis, frame.y_axis)))
    for index, (panel, plane) in enumerate(scene):
        picture.draw(camera, plane, panel.shape, Paint(np.array([[[index, 0, 0]]], np.uint8)))
    points = np.random.default_rng(7).uniform([0, 0], SIZE, (400, 2))
    seen, wrong = 0, []
    for point in points:
        column, row = np.floor(point).astype(int)
        expected = _clear(camera, np.array([column + 0.5, row + 0.5]), scene)
        if expected is None:
            continue
        drawn = picture.pixels[row, column]
        seen += expected >= 0
        if (-1 if drawn[1] == 255 else int(drawn[0])) != expected:
            wrong.append((column, row, expected, drawn))
    assert seen > 20 and wrong == []


def test_projection_agrees_with_opencv() -> None:
    """cv2.projectPoints, with the axes turned to its right-handed world."""
    camera = _camera(-22.0, 15.0)
    points = np.random.default_rng(3).uniform(-120, 120, (20, 3))
    flip = np.diag([1.0, 1.0, -1.0])
    turn = camera.turn @ flip
    shift = -camera.turn @ camera.eye
    lens = np.array([[380.0, 0, 120], [0, 380.0, 90], [0, 0, 1]])
    reference, _ = cv2.projectPoints(points @ flip, cv2.Rodrigues(turn)[0], shift, lens, None)
    assert np.allclose(camera.project(points)[:, :2], reference[:, 0], atol=1e-6)


def test_homography_is_the_projection_of_the_plane() -> None:
    camera = _camera(30.0, 20.0)
    origin, across, along = np.array([3.0, 5, 7]), np.array([0.8, 0, 0.6]), np.array([0.0, 1, 0])
    flat = np.random.default_rng(5).uniform(-50, 50, (9, 2))
    seen = camera.homography(origin, across, along) @ np.column_stack([flat, np.ones(9)]).T
    world = origin + flat[:, :1] * across + flat[:, 1:] * along
    assert np.allclose((seen[:2] / seen[2]).T, camera.project(world)[:, :2])


def test_preview_is_wide_and_the_same_each_time(laid: Sheets) -> None:
    content = preview_png(laid)
    picture = Image.open(io.BytesIO(content))
    assert picture.size == (1600, 1370)
    assert preview_png(laid) == content
    assert len(np.unique(np.asarray(picture).reshape(-1, 3), axis=0)) > 1000


def test_film_opens_and_closes(laid: Sheets) -> None:
    taken = Film(laid, size=(160, 120), frames=5)
    content = taken.gif([take() for take in taken.takes])
    film = Image.open(io.BytesIO(content))
    assert film.n_frames == 8 and film.info["loop"] == 0
    frames = []
    for number in range(film.n_frames):
        film.seek(number)
        frames.append(np.asarray(film.convert("RGB")).astype(int))
    assert np.abs(frames[1] - frames[-1]).max() == 0  # the way back is the way there
    assert np.abs(frames[0] - frames[4]).mean() > 5


def test_pictures_can_be_opened(laid: Sheets) -> None:
    made = picture_files(guide(laid, GuideSettings(), 0.1))
    assert set(made) == {"pictures/trace.png", "pictures/sag.png", "pictures/sizes.png"}
    for content in made.values():
        assert min(Image.open(io.BytesIO(content)).size) > 400


def test_sag_raster_is_linear_over_triangles() -> None:
    points = np.array([[0.0, 0], [10, 0], [0, 10], [10, 10]])
    depth = 0.1 * points[:, 0] + 0.02 * points[:, 1]
    sag = Sag(1.2, 2.0, (10, 10), 10.0, points, np.array([[0, 1, 2], [1, 3, 2]]), depth)
    shares = sag_shares(sag, (0, 0, 10, 10), 4.0)
    y, x = np.mgrid[0:41, 0:41] / 4.0
    assert np.allclose(shares, (0.1 * x + 0.02 * y) / 2.0)


def test_colour_ramp_darkens_all_the_way() -> None:
    """Readable without colour: lightness by ITU-R BT.601 falls from end to end."""
    colours = ramp(np.linspace(0, 1, 50)).astype(float)
    assert np.all(np.diff(colours @ [0.299, 0.587, 0.114]) <= 0)


def test_transparent_paper_is_white_under_the_trace(laid: Sheets) -> None:
    """Whatever colour a file keeps where it is transparent, the picture shows none of it."""
    motif = laid.parts.plan.cut.placed.motif
    for hidden in ((0, 0, 0), (200, 30, 30)):
        clear = replace(
            motif.artwork,
            rgb=np.full_like(motif.artwork.rgb, hidden),
            alpha=np.zeros(motif.artwork.rgb.shape[:2], np.uint8),
        )
        png = traced_picture(replace(motif, artwork=clear), ())
        pixels = np.asarray(Image.open(io.BytesIO(png)).convert("RGB"))
        assert (pixels > 200).all(axis=2).mean() > 0.9
