"""trace2pop trace, as a maker runs it."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
import render
import shapely
from PIL import Image
from svgpathtools import parse_path

from tests.cli.running import run

SAMPLES = Path(__file__).parents[2] / "samples"


def outline(folder: Path) -> shapely.Polygon:
    """Return outline.svg's polygon, read by svgpathtools (a library from the registry)."""
    text = (folder / "outline.svg").read_text("utf-8")
    curves = parse_path(text.split(' d="')[1].split('"')[0])
    points = [curve.point(t) for curve in curves for t in np.arange(16) / 16]
    return shapely.Polygon([(point.real, point.imag) for point in points])


def found(folder: Path) -> dict:  # type: ignore[type-arg]  # JSON
    return json.loads((folder / "trace.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def several(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a scan with two whole things on it and one that its edge cuts off."""
    page = np.full((1000, 800, 3), 240, np.uint8)
    cv2.ellipse(page, (340, 360), (240, 130), 20, 0, 360, (140, 60, 50), -1, cv2.LINE_AA)
    cv2.circle(page, (560, 800), 110, (30, 90, 150), -1, cv2.LINE_AA)
    cv2.circle(page, (790, 120), 80, (20, 20, 20), -1, cv2.LINE_AA)
    file = tmp_path_factory.mktemp("scans") / "several.png"
    Image.fromarray(page).save(file)
    return file


def test_things_are_numbered_and_can_be_taken_by_number(several: Path, tmp_path: Path) -> None:
    ran = run(["trace", str(several), "--dpi", "254", "--take", "2", "--out", "t"], tmp_path)
    assert ran.code == 0
    told = found(tmp_path / "t")
    assert [(t["number"], t["taken"], t["cut_off"]) for t in told["things"]] == [
        (1, False, False),
        (2, True, False),
        (3, False, True),
    ]
    assert told["lies_on"] == {"what": "picture", "size": [80.0, 100.0]}
    assert told["box"] == pytest.approx([45.05, 69.05, 67.05, 91.05], abs=0.1)
    picture = np.asarray(Image.open(tmp_path / "t" / "trace.png").convert("RGB")).astype(int)
    vermillion = (abs(picture - (213, 94, 0)).sum(axis=2) < 40).nonzero()
    assert vermillion[0].min() > 0.6 * len(picture)  # round the second thing only


def test_a_doubtful_outline_is_shown_with_its_places_and_told_by_the_exit_code(
    tmp_path: Path,
) -> None:
    page = np.full((1000, 800, 3), 240, np.uint8)
    cv2.ellipse(page, (420, 400), (240, 130), 20, 0, 360, (140, 60, 50), -1, cv2.LINE_AA)
    cv2.ellipse(page, (200, 420), (140, 80), 0, 0, 360, (226, 222, 216), -1, cv2.LINE_AA)
    Image.fromarray(page).save(tmp_path / "pale.png")
    ran = run(["trace", "pale.png", "--dpi", "254", "--out", "t"], tmp_path)
    assert ran.code == 4
    assert "trace.png" in ran.err
    told = found(tmp_path / "t")
    assert told["confidence"] < 0.5
    assert told["doubts"]
    x, y = told["doubts"][0]["at"]
    assert x < 34
    assert 34 < y < 50  # in the pale part
    assert run(["trace", "pale.png", "--out", "u", "--trust"], tmp_path).code == 0


def test_in_place_the_outline_lies_where_it_is_on_its_sheet(tmp_path: Path) -> None:
    """Against the vector the photographed A5 sheet was printed from, in its own coordinates."""
    picture = str(SAMPLES / "lily" / "photo.jpg")
    ran = run(["trace", picture, "--paper", "a5", "--in-place", "--out", "t"], tmp_path)
    assert ran.code == 0
    assert found(tmp_path / "t")["lies_on"] == {"what": "sheet", "size": [148.0, 210.0]}
    true = shapely.Polygon(render.silhouette(SAMPLES / "lily" / "motif.svg").exterior)
    assert outline(tmp_path / "t").hausdorff_distance(true) < 0.3
    assert 'width="148mm" height="210mm"' in (tmp_path / "t" / "outline.svg").read_text("utf-8")


def test_in_place_is_refused_where_the_size_is_not_known(several: Path, tmp_path: Path) -> None:
    ran = run(["trace", str(several), "--in-place", "--out", "t"], tmp_path)
    assert ran.code == 4
    assert "--dpi" in ran.err
    assert not (tmp_path / "t").exists()


def test_even_makes_a_hand_drawn_motif_truly_symmetric(tmp_path: Path) -> None:
    """The drawn one is not: its halves are the same shape with a bump on one side."""
    page = np.full((1000, 1000, 3), 240, np.uint8)
    turn = np.linspace(0, 2 * np.pi, 400)
    reach = 300 * (1 + 0.25 * np.cos(5 * (turn - np.pi / 2))) + 14 * np.sin(turn / 2) ** 8
    points = 500 + np.column_stack([reach * np.cos(turn), reach * np.sin(turn)])
    cv2.fillPoly(page, [np.round(points * 16).astype(np.int32)], (120, 50, 60), cv2.LINE_AA, 4)
    Image.fromarray(page).save(tmp_path / "flower.png")
    even = run(["trace", "flower.png", "--dpi", "254", "--even", "--out", "even"], tmp_path)
    plain = run(["trace", "flower.png", "--dpi", "254", "--out", "plain"], tmp_path)
    assert even.code == plain.code == 0
    overlaps = []
    for folder in ("plain", "even"):
        shape = outline(tmp_path / folder)
        axis = found(tmp_path / "even")["axis"]
        tilt = np.radians(axis["tilt_deg"])
        across = np.array([np.cos(tilt), np.sin(tilt)])
        flip = np.eye(2) - 2 * np.outer(across, across)
        shift = np.array(axis["point"]) - flip @ axis["point"]
        image = shapely.transform(shape, lambda p, flip=flip, shift=shift: p @ flip.T + shift)
        overlaps.append(shape.intersection(image).area / shape.union(image).area)
    assert overlaps[0] < 0.998
    assert overlaps[1] > 0.9998


def test_what_runs_into_the_edge_is_shown_too(tmp_path: Path) -> None:
    page = np.full((1000, 800, 3), 240, np.uint8)
    cv2.ellipse(page, (700, 400), (240, 130), 0, 0, 360, (140, 60, 50), -1, cv2.LINE_AA)
    Image.fromarray(page).save(tmp_path / "cut.png")
    ran = run(["trace", "cut.png", "--dpi", "254", "--out", "t"], tmp_path)
    assert ran.code == 4 and "touches the edge" in ran.err and "trace.png" in ran.err
    assert [thing["cut_off"] for thing in found(tmp_path / "t")["things"]] == [True]


def test_whole_things_left_out_are_told_aloud(several: Path, tmp_path: Path) -> None:
    ran = run(["trace", str(several), "--dpi", "254", "--out", "t"], tmp_path)
    assert ran.code == 0 and "[other-things]" in ran.err and "--take 2" in ran.err
