"""From rendered pictures to the list, against the shapes they were rendered from.

The pages are rendered by samples/render.py: a flat scan at 300 dpi, a 12-megapixel photo. Bars: a
blunt feature's length within 5 % or 0.5 mm, a needle's within 10 %; every feature found, no other.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import render
import shapely
from shapely import affinity

from tests.examples import CUTTER, STOCK, placed
from tests.thin_shapes import Strip, on_body, strip
from trace2pop.geometry import beziers
from trace2pop.geometry.middle import middle_line
from trace2pop.geometry.thin import find_thin
from trace2pop.model.card import HandPart
from trace2pop.model.settings import FragileSettings, PictureSettings, TraceSettings
from trace2pop.stages.capture import capture
from trace2pop.stages.cuttable import cuttable
from trace2pop.stages.trace import trace

SAMPLES = Path(__file__).parents[2] / "samples"
SCALE = 1.2

STRIPS = ((0.9, 0.005, 25.0), (0.9, 0.3, 20.0), (0.6, 0.005, 15.0), (0.7, 0.7, 18.0))
"""Width at root and tip, length: needles and blunt ones."""


def drawn() -> tuple[shapely.Polygon, list[Strip]]:
    parts, known = [], []
    for number, (root, tip, length) in enumerate(STRIPS):
        x = 10.0 + 12 * number
        end = np.array([x + 1.5, -length])
        parts += [strip(np.array([[x, 0.0], end]), root, tip)]
        parts += [shapely.box(x - root / 2, -0.2, x + root / 2, 1)]
        known.append(Strip(float(np.hypot(1.5, length)), (root + tip) / 2, (x, 0), root, tip))
    return on_body(*parts), known


def svg(shape: shapely.Polygon) -> str:
    points = np.asarray(shape.exterior.coords)[:-1]
    data = "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in points) + "Z"
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" width="148mm" height="210mm" '
        f'viewBox="0 0 148 210"><path d="{data}" fill="#223040"/></svg>'
    )


def seen(tmp_path: Path, kind: str) -> tuple[tuple[HandPart, ...], list[tuple[Strip, np.ndarray]]]:
    """Return the listed parts in drawn mm times SCALE, and the true strips with their joins."""
    shape, known = drawn()
    turn = np.radians(13)
    page = affinity.translate(affinity.rotate(shape, 13, origin=(0, 0)), 45, 90)
    picture = tmp_path / "page.jpg"
    if kind == "scan":
        picture.write_bytes(render.scan(render.page_svg(svg(page), 300 / 25.4), 3))
        settings = PictureSettings(dpi=300)
    else:
        photo = render.photo(render.page_svg(svg(page), 16.0), render.Camera(5))
        picture.write_bytes(photo[0] if isinstance(photo, tuple) else photo)
        settings = PictureSettings(paper="a5")
    motif = trace(capture(picture, settings), TraceSettings())
    found = beziers.polygon(motif.outline)
    # A photo's sheet is cut off a little along its edges: the body tells where it went.
    body = max(shapely.get_parts(page.buffer(-1)), key=lambda part: part.area).centroid
    there = max(shapely.get_parts(found.buffer(-1)), key=lambda part: part.area).centroid
    shift = np.array([there.x - body.x, there.y - body.y])
    to_card = np.column_stack([SCALE * np.eye(2), [-80.0, 0.0]])
    start = replace(
        placed(),
        motif=motif,
        scale=SCALE,
        to_card=to_card,
        outline=beziers.transform_outline(motif.outline, to_card),
    )
    parts = cuttable(start, FragileSettings(min_width=SCALE), STOCK, CUTTER).hand_parts
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    joins = [spin @ np.array(strip_.join) + [45, 90] + shift for strip_ in known]
    return parts, [(k, SCALE * j + [-80.0, 0.0]) for k, j in zip(known, joins, strict=True)]


@pytest.mark.parametrize("kind", ["scan", pytest.param("photo", marks=pytest.mark.bench)])
def test_the_list_from_a_picture(tmp_path: Path, kind: str) -> None:
    parts, known = seen(tmp_path, kind)
    assert len(parts) == len(known)
    for true, join in known:
        part = min(parts, key=lambda part: float(np.hypot(*(part.join - join))))
        assert np.hypot(*(part.join - join)) < 0.5
        length, width = part.length / SCALE, part.width / SCALE
        needle = true.tip is not None and true.tip < 0.1
        assert length == pytest.approx(true.length, abs=max(0.05 * true.length, 0.5))
        assert width == pytest.approx(true.width, rel=0.15 if needle else 0.06)
        if needle:
            assert abs(length - true.length) <= part.uncertainty / SCALE + 0.5


SAMPLE_COUNTS = {"dragonfly": 8, "wader": 5, "lily": 1}
"""Six legs and two feelers; two legs, two plumes and the bill's tip; a tendril (samples/README)."""

PHOTO = ("photo.jpg", PictureSettings(paper="a5"))
SCAN = ("scan.jpg", PictureSettings(dpi=300))


@pytest.mark.parametrize(
    "name", ["dragonfly", "wader", pytest.param("lily", marks=pytest.mark.bench)]
)
@pytest.mark.parametrize("picture", [SCAN, pytest.param(PHOTO, marks=pytest.mark.bench)])
def test_every_feature_of_a_sample_is_listed_and_no_other(
    name: str, picture: tuple[str, PictureSettings]
) -> None:
    """The list from a picture against what the drawing itself has at the same size."""
    scale = 1.25
    file, settings = picture
    motif = trace(capture(SAMPLES / name / file, settings), TraceSettings())
    to_card = np.column_stack([scale * np.eye(2), [-90.0, -40.0]])
    outline = beziers.transform_outline(motif.outline, to_card)
    start = replace(placed(), motif=motif, scale=scale, to_card=to_card, outline=outline)
    parts = cuttable(start, FragileSettings(min_width=1.0), STOCK, CUTTER).hand_parts
    true = shapely.Polygon(render.silhouette(SAMPLES / name / "motif.svg").exterior)
    known = [thin for thin in find_thin(true, 1.0 / scale) if thin.kind == "spur"]
    assert len(parts) == len(known) == SAMPLE_COUNTS[name]
    lines = [middle_line(thin.region, thin.joins) for thin in known]
    for part, line in zip(
        sorted(parts, key=lambda part: part.length),
        sorted(lines, key=lambda line: line.length),
        strict=True,
    ):
        assert part.length / scale == pytest.approx(line.length, rel=0.05, abs=0.5)
        assert part.width / scale == pytest.approx(line.width, rel=0.06)
