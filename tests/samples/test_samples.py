"""The samples are what their tables say, and the degrader puts a page where it says it does."""

import re
from dataclasses import replace
from pathlib import Path

import cv2
import draw
import numpy as np
import pytest
import render
import shapely
from PIL import Image
from svgpathtools import parse_path

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "samples"
NAMES = tuple(draw.MOTIFS)
ROWS = {
    row[0]: (float(row[1]), float(row[2]), float(row[3]))
    for row in re.findall(
        r"\| `(\w+)` \| ([\d.]+) x ([\d.]+) \| ([\d.]+) \|", (SAMPLES / "README.md").read_text()
    )
}


def test_every_sample_file_has_its_row_in_the_table() -> None:
    listed = set(
        re.findall(r"`(samples/\w+/\w+\.\w+)`", (Path(__file__).parent / "README.md").read_text())
    )
    present = {path.relative_to(ROOT).as_posix() for path in SAMPLES.glob("*/*.*")}
    assert listed == {path for path in present if "__pycache__" not in path}


@pytest.mark.parametrize("name", NAMES)
def test_the_vector_is_what_the_script_draws(name: str) -> None:
    assert (SAMPLES / name / "motif.svg").read_text("utf-8") == draw.MOTIFS[name]().svg()


@pytest.mark.parametrize("name", NAMES)
def test_silhouette_is_one_piece_of_the_size_the_table_gives(name: str) -> None:
    outline = render.silhouette(SAMPLES / name / "motif.svg")
    assert outline.geom_type == "Polygon"
    left, top, right, bottom = outline.bounds
    width, height, factor = ROWS[name]
    assert (right - left, bottom - top) == pytest.approx((width, height), abs=0.06)
    assert min(201.4 / (right - left), 165.8 / (bottom - top)) == pytest.approx(factor, abs=0.006)


@pytest.mark.parametrize("name", NAMES)
def test_markings_stay_on_the_paper(name: str) -> None:
    svg = SAMPLES / name / "motif.svg"
    outline = render.silhouette(svg).buffer(0.05)
    markings = svg.read_text("utf-8").split('<g id="markings">')[1]
    for data in re.findall(r' d="([^"]+)"', markings):
        points = [
            p for part in parse_path(data).continuous_subpaths() for p in (s.start for s in part)
        ]
        assert all(outline.contains(shapely.Point(p.real, p.imag)) for p in points)


@pytest.mark.parametrize("name", NAMES)
def test_pictures_have_the_pixels_and_tags_they_are_for(name: str) -> None:
    with Image.open(SAMPLES / name / "photo.jpg") as photo:
        assert photo.width * photo.height == 12_000_000
        assert photo.getexif()[0x0112] == render.CAMERAS[name].orientation
    for scan in ("scan.jpg", "ink.jpg"):
        with Image.open(SAMPLES / name / scan) as picture:
            assert picture.info["dpi"] == (300, 300)
            assert picture.size == (1748, 2480)  # A5 at 300 dpi, ISO 216
    with Image.open(SAMPLES / name / "cutout.png") as cutout:
        alpha = np.asarray(cutout)[..., 3]
    outline = render.silhouette(SAMPLES / name / "motif.svg")
    assert (alpha / 255).sum() / 100 == pytest.approx(outline.area, rel=0.002)


def test_the_photo_puts_the_page_where_its_matrix_says() -> None:
    """Black discs on a page, found in the photo by OpenCV's moments, against the matrix."""
    page = np.full((1260, 888, 4), 255, np.uint8)
    middles = np.array([(30.0, 40.0), (120.0, 45.0), (110.0, 170.0), (40.0, 160.0), (74.0, 105.0)])
    for x, y in middles * 6:
        cv2.circle(page, (round(x), round(y)), 24, (0, 0, 0, 255), -1, cv2.LINE_AA)
    camera = replace(render.CAMERAS["wader"], size=(1500, 2000), shadow=0.0, noise=0.0)
    data, view = render.photo(page, camera)
    grey = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE)
    for middle in middles:
        x, y, w = view @ [*(middle + 0.5 / 6), 1]
        left, top = round(x / w) - 70, round(y / w) - 70
        dark = 255.0 - grey[top : top + 140, left : left + 140]
        moments = cv2.moments(np.where(dark > 110, 1.0, 0.0))
        found = (
            left + moments["m10"] / moments["m00"] + 0.5,
            top + moments["m01"] / moments["m00"] + 0.5,
        )
        assert found == pytest.approx((x / w, y / w), abs=0.25)


def test_a_photo_comes_out_the_same_each_time() -> None:
    page = np.full((630, 444, 4), 200, np.uint8)
    camera = replace(render.CAMERAS["lily"], size=(600, 800))
    assert render.photo(page, camera)[0] == render.photo(page, camera)[0]
