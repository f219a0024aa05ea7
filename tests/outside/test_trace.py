"""The tracer against the vectors its pictures were rendered from, and beside a reference tracer.

Reference: potracer, the pure-Python port of potrace, from the registry (a development dependency).
"""

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import render
import shapely
from shapely import affinity

from tests.bench.tracers import cubics
from trace2pop.errors import TraceError
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Artwork, Motif, Scale
from trace2pop.model.settings import PictureSettings, TraceSettings
from trace2pop.stages.capture import capture
from trace2pop.stages.trace import trace
from trace2pop.stages.trace.outlining import outline_of

SAMPLES = Path(__file__).parents[2] / "samples"

NAMES = ("dragonfly", "wader", "lily")
INSET = 1.5
"""mm the capture stage cuts off along a sheet's edge."""


@dataclass(frozen=True)
class Agreement:
    iou: float
    mean: float
    p99: float
    worst: float


def agreement(found: shapely.Polygon, true: shapely.Polygon) -> Agreement:
    """Return overlap and the distances both ways between two outlines, in mm."""
    overlap = found.intersection(true).area / found.union(true).area
    distances = np.concatenate(
        [
            shapely.distance(
                shapely.points(shapely.get_coordinates(shapely.segmentize(a.exterior, 0.1))),
                b.exterior,
            )
            for a, b in ((found, true), (true, found))
        ]
    )
    return Agreement(
        overlap, distances.mean(), float(np.percentile(distances, 99)), distances.max()
    )


def traced(name: str, file: str, settings: PictureSettings) -> Motif:
    return trace(capture(SAMPLES / name / file, settings), TraceSettings())


def ink_truth(name: str) -> shapely.Polygon:
    return shapely.Polygon(render.ink_silhouette(SAMPLES / name / "motif.svg").exterior)


def truth(name: str) -> shapely.Polygon:
    return shapely.Polygon(render.silhouette(SAMPLES / name / "motif.svg").exterior)


@pytest.mark.parametrize("name", NAMES)
def test_a_photo_gives_the_drawn_outline(name: str) -> None:
    motif = traced(name, "photo.jpg", PictureSettings(paper="a5"))
    found = affinity.translate(beziers.polygon(motif.outline), INSET, INSET)
    seen = agreement(found, truth(name))
    assert motif.kind == "colour"
    assert motif.confidence > 0.9
    assert seen.iou > 0.995
    assert seen.mean < 0.02
    assert seen.p99 < 0.1


@pytest.mark.parametrize("name", NAMES)
def test_a_scan_gives_the_drawn_outline(name: str) -> None:
    motif = traced(name, "scan.jpg", PictureSettings(dpi=300))
    seen = agreement(beziers.polygon(motif.outline), truth(name))
    assert seen.iou > 0.995
    assert seen.mean < 0.02


@pytest.mark.parametrize(("name", "depth", "soft"), [("lily", 0.7, 0.03), ("wader", 0.5, 0.015)])
def test_a_hard_shadow_across_the_drawing_moves_nothing(
    name: str, depth: float, soft: float
) -> None:
    """A scan is darkened to a half or a third beyond a line; ``soft`` is of the page's height."""
    scan = capture(SAMPLES / name / "scan.jpg", PictureSettings(dpi=300))
    rows, cols = scan.rgb.shape[:2]
    y, x = np.mgrid[:rows, :cols].astype(np.float32) / rows
    beyond = (0.45 * x + y - 0.62 + 0.03 * np.sin(9 * x)) / soft
    light = 1 - depth / (1 + np.exp(-np.clip(beyond, -30, 30)))
    light *= 1 - 0.3 * x
    dim = render.encoded(render.linear(scan.rgb) * light[..., None] * [1.0, 0.93, 0.85])
    motif = trace(replace(scan, rgb=dim), TraceSettings())
    seen = agreement(beziers.polygon(motif.outline), truth(name))
    assert seen.iou > 0.995
    assert seen.mean < 0.02


@pytest.mark.parametrize("name", NAMES)
def test_an_ink_drawing_is_filled_to_the_outer_side_of_its_line(name: str) -> None:
    motif = traced(name, "ink.jpg", PictureSettings(dpi=300))
    seen = agreement(beziers.polygon(motif.outline), ink_truth(name))
    assert motif.kind == "line"
    assert motif.outline.holes == ()
    assert seen.iou > 0.99
    assert seen.mean < 0.02


@pytest.mark.parametrize("name", NAMES)
def test_a_cutout_is_traced_by_its_own_transparency(name: str) -> None:
    motif = traced(name, "cutout.png", PictureSettings())
    found, true = beziers.polygon(motif.outline), truth(name)
    scale = (true.bounds[2] - true.bounds[0]) / (found.bounds[2] - found.bounds[0])
    found = affinity.scale(found, scale, scale, origin=(0, 0))
    found = affinity.translate(
        found, true.bounds[0] - found.bounds[0], true.bounds[1] - found.bounds[1]
    )
    assert motif.kind == "alpha"
    assert agreement(found, true).iou > 0.995


@pytest.mark.parametrize("name", NAMES)
def test_as_true_as_the_reference_with_fewer_curves(name: str) -> None:
    """Same clean page at 300 dpi for both."""
    potrace = pytest.importorskip("potrace")
    px_per_mm = 300 / 25.4
    page = render.page_svg((SAMPLES / name / "motif.svg").read_text("utf-8"), px_per_mm)
    artwork = Artwork(
        name="page.png",
        rgb=np.ascontiguousarray(page[..., :3]),
        alpha=None,
        px_per_mm=px_per_mm,
        scale=Scale("dpi", 1 / px_per_mm, 0.0),
        to_source=np.eye(3),
        source_size_px=(page.shape[1], page.shape[0]),
    )
    ours = trace(artwork, TraceSettings())
    grey = cv2.cvtColor(artwork.rgb, cv2.COLOR_RGB2GRAY)
    solid = np.zeros_like(grey)
    contours, _ = cv2.findContours(
        (grey < 250).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    cv2.drawContours(solid, [max(contours, key=cv2.contourArea)], -1, 1, -1)
    theirs = max(potrace.Bitmap(solid == 0).trace(), key=lambda curve: len(curve.segments))
    chain = cubics(theirs) / px_per_mm
    true = truth(name)
    mine = agreement(beziers.polygon(ours.outline), true)
    reference = agreement(shapely.Polygon(beziers.flatten(chain)), true)
    assert mine.mean <= reference.mean
    assert len(ours.outline.outer) <= len(chain)


@pytest.mark.parametrize("tilt", [6.5, -13.2])
def test_the_mirror_axis_and_the_tilt_are_found(tilt: float) -> None:
    """The page is turned by a known angle before it is traced."""
    svg = (SAMPLES / "dragonfly" / "motif.svg").read_text("utf-8")
    page = render.page_svg(svg, 8)[..., :3]
    turn = cv2.getRotationMatrix2D((page.shape[1] / 2, page.shape[0] / 2), -tilt, 1)
    turned = cv2.warpAffine(page, turn, page.shape[1::-1], borderValue=(255, 255, 255))
    motif = trace(_artwork(turned, 8), TraceSettings())
    assert motif.axis is not None
    assert motif.axis.tilt_deg == pytest.approx(tilt, abs=0.3)
    middle = turn @ np.array([74.0 * 8, 92.0 * 8, 1.0]) / 8
    across = np.array([np.cos(np.radians(tilt)), np.sin(np.radians(tilt))])
    assert abs((np.array(motif.axis.point) - middle) @ across) < 0.3


def _artwork(rgb: np.ndarray, px_per_mm: float) -> Artwork:
    return Artwork(
        "page.png",
        np.ascontiguousarray(rgb),
        None,
        px_per_mm,
        Scale("dpi", 1 / px_per_mm, 0.0),
        np.eye(3),
        (rgb.shape[1], rgb.shape[0]),
    )


@pytest.mark.parametrize("grey", [0, 255])
def test_a_blank_page_is_refused(grey: int) -> None:
    with pytest.raises(TraceError):
        trace(_artwork(np.full((600, 600, 3), grey, np.uint8), 10), TraceSettings())


def test_holes_of_a_silhouette_stay_holes() -> None:
    page = np.full((800, 800, 3), 245, np.uint8)
    cv2.circle(page, (400, 400), 300, (20, 20, 20), -1, cv2.LINE_AA)
    cv2.circle(page, (400, 400), 120, (245, 245, 245), -1, cv2.LINE_AA)
    motif = trace(_artwork(page, 10), TraceSettings())
    assert motif.kind == "solid"
    assert len(motif.outline.holes) == 1
    assert beziers.polygon(motif.outline).area == pytest.approx(np.pi * (30**2 - 12**2), rel=0.005)


def test_white_parts_of_grey_art_are_no_holes() -> None:
    """The disc again, with two eyes in another grey: several inks make it art, not a silhouette."""
    page = np.full((800, 800, 3), 245, np.uint8)
    cv2.circle(page, (400, 400), 300, (120, 120, 120), -1, cv2.LINE_AA)
    cv2.circle(page, (400, 400), 120, (245, 245, 245), -1, cv2.LINE_AA)
    for side in (220, 580):
        cv2.circle(page, (side, 400), 40, (20, 20, 20), -1, cv2.LINE_AA)
    motif = trace(_artwork(page, 10), TraceSettings())
    assert motif.outline.holes == ()
    assert beziers.polygon(motif.outline).area == pytest.approx(np.pi * 30**2, rel=0.005)


def test_a_needle_that_ends_at_another_part_is_not_drawn_through_it() -> None:
    """Drawn out to its tip it would cross the bar; only there may the curves be given up."""
    bar = shapely.box(20, 10, 26, 70)
    ring = shapely.Point(45, 40).buffer(34, 64).difference(shapely.Point(45, 40).buffer(24, 64))
    needle = shapely.Polygon([(72, 36), (25.85, 40.1), (72, 44)])
    shape = shapely.union_all([bar, ring.intersection(shapely.box(26, 0, 90, 80)), needle])
    blunt = shape.difference(shapely.box(26, 39, 26.15, 41)).buffer(-0.06).buffer(0.059)
    outline = outline_of(max(shapely.get_parts(blunt), key=lambda part: part.area), 12, 0.03)
    assert beziers.polygon(outline).is_valid
    assert len(outline.outer) + sum(map(len, outline.holes)) <= 20
