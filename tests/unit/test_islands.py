"""Loose pieces in a motif's holes: found in a drawing, left away, joined or cut by themselves."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely

from tests.examples import CUTTER, STOCK, placed
from trace2pop.errors import FragileError
from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import sound
from trace2pop.geometry.thin import find_thin
from trace2pop.model.artwork import Motif
from trace2pop.model.card import CutMotif, PlacedMotif
from trace2pop.model.settings import (
    FeatureChoice,
    FragileSettings,
    PictureSettings,
    TraceSettings,
)
from trace2pop.stages.capture import capture
from trace2pop.stages.cuttable import cuttable
from trace2pop.stages.trace import trace

PAGE = 80.0
SHEET = shapely.Point(40, 40).buffer(32, 64).difference(shapely.Point(40, 40).buffer(18, 64))
PUPIL = shapely.Point(44, 40).buffer(8, 64)
"""A ring 14 mm broad, and a disc loose in its hole, 6 mm from the ring on its right."""


def drawn(folder: Path, kind: str) -> tuple[Path, PictureSettings]:
    """Return a picture of the ring and the disc."""
    shapes = (SHEET, PUPIL)
    if kind == "vector":
        rings = [ring for shape in shapes for ring in (shape.exterior, *shape.interiors)]
        data = "".join(
            "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in list(ring.coords)[:-1]) + "Z"
            for ring in rings
        )
        path = folder / "eye.svg"
        path.write_text(
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{PAGE}mm" height="{PAGE}mm" '
            f'viewBox="0 0 {PAGE} {PAGE}"><path fill-rule="evenodd" d="{data}"/></svg>',
            "utf-8",
        )
        return path, PictureSettings()
    px = 12.0
    fine = 8
    mask = np.zeros((int(PAGE * px) * fine,) * 2, np.uint8)
    for value, ring in (
        (255, SHEET.exterior),
        (0, SHEET.interiors[0]),
        (255, PUPIL.exterior),
    ):
        points = (np.asarray(ring.coords) * px * fine - 0.5) * 16
        cv2.fillPoly(mask, [np.rint(points).astype(np.int32)], value, cv2.LINE_8, 4)
    mask = cv2.resize(mask, None, fx=1 / fine, fy=1 / fine, interpolation=cv2.INTER_AREA)
    path = folder / "eye.png"
    if kind == "cutout":
        cv2.imwrite(str(path), np.dstack([np.full((*mask.shape, 3), 60, np.uint8), mask]))
    else:
        grey = 250 - (mask.astype(float) * 0.85).astype(np.uint8)
        cv2.imwrite(str(path), np.dstack([grey] * 3))
    return path, PictureSettings(dpi=px * 25.4)


def motif(folder: Path, kind: str) -> Motif:
    path, settings = drawn(folder, kind)
    return trace(capture(path, settings), TraceSettings())


def on_card(found: Motif) -> PlacedMotif:
    left, head, right, foot = beziers.bounds(found.outline.outer)
    move = np.array([-(left + right) / 2, 85 - (head + foot) / 2])
    to_card = np.column_stack([np.eye(2), move])
    outline = beziers.transform_outline(found.outline, to_card)
    return replace(placed(), motif=found, scale=1.0, to_card=to_card, outline=outline)


def cut(start: PlacedMotif, settings: FragileSettings) -> CutMotif:
    return cuttable(start, settings, STOCK, CUTTER)


@pytest.mark.parametrize("kind", ["vector", "cutout", "scan"])
def test_an_island_is_found_and_said(tmp_path: Path, kind: str) -> None:
    found = motif(tmp_path, kind)
    (island,) = found.islands
    assert beziers.polygon(island).area == pytest.approx(PUPIL.area, rel=0.01)
    result = cut(on_card(found), FragileSettings())
    (feature,) = result.features
    assert (feature.kind, feature.choice) == ("island", "drop")
    assert feature.length == pytest.approx(6, abs=0.1)
    (said,) = (item for item in result.findings if item.rule == "island-dropped")
    assert f"--feature {feature.id}=join" in said.advice
    assert "2.0 mm wide" in said.advice


def test_a_bridge_joins_it(tmp_path: Path) -> None:
    start = on_card(motif(tmp_path, "vector"))
    for settings in (
        FragileSettings(islands="join"),
        FragileSettings(features=(FeatureChoice("join", number=1),)),
    ):
        result = cut(start, settings)
        left = beziers.polygon(result.outline)
        assert sound(result.outline)
        added = left.area - SHEET.area - PUPIL.area
        # The bridge, 2 mm wide and 6 mm long, and the rounding of its four corners.
        assert 12 < added < 14
        assert find_thin(left, 1.9) == ()
        again = cut(replace(start, outline=result.outline), FragileSettings(islands="join"))
        assert np.array_equal(again.outline.outer, result.outline.outer)


def test_islands_keep_their_curves(tmp_path: Path) -> None:
    start = on_card(motif(tmp_path, "vector"))
    result = cut(start, FragileSettings(islands="join"))
    island = beziers.transform_outline(start.motif.islands[0], start.to_card)
    known = {np.sort(segment, axis=0).tobytes() for segment in island.outer}
    kept = [np.sort(piece, axis=0).tobytes() for hole in result.outline.holes for piece in hole]
    assert sum(piece in known for piece in kept) > 0.8 * len(known)


@pytest.mark.parametrize("do", ["thicken", "keep"])
def test_what_cannot_be_done_for_an_island_is_refused(tmp_path: Path, do: str) -> None:
    start = on_card(motif(tmp_path, "vector"))
    choice = FeatureChoice(do, number=1)  # type: ignore[arg-type]  # as the settings file gives it
    with pytest.raises(FragileError, match="nothing is behind it") as caught:
        cut(start, FragileSettings(features=(choice,)))
    assert "drop or join or hand" in caught.value.advice


def beside(start: PlacedMotif, island: shapely.Polygon) -> PlacedMotif:
    """Return the ring with another island in its hole, drawn in the sheet's mm."""
    outline = beziers.from_polygon(island)
    return replace(start, motif=replace(start.motif, islands=(outline,)))


@pytest.mark.parametrize(
    "island",
    [
        shapely.Point(49, 42).buffer(5, 64),
        shapely.Point(31, 36).buffer(5, 64).difference(shapely.Point(31, 36).buffer(2, 64)),
        shapely.box(46, 30, 49, 48),
    ],
)
def test_film_holds_it_on_one_side_of_the_crease(tmp_path: Path, island: shapely.Polygon) -> None:
    start = beside(on_card(motif(tmp_path, "vector")), island)
    result = cut(start, FragileSettings(islands="hand"))
    (loose,) = result.islands
    (feature,) = result.features
    assert (feature.id, feature.choice, loose.id, loose.name) == (1, "hand", 1, "island-1")
    (said,) = (item for item in result.findings if item.rule.startswith("island"))
    assert said.rule == "island-by-hand"
    paper, piece = beziers.polygon(result.outline), beziers.polygon(loose.outline)
    # The motif itself is as if the island had been left away.
    dropped = cut(start, FragileSettings()).outline
    assert paper.symmetric_difference(beziers.polygon(dropped)).area == pytest.approx(0, abs=1e-6)
    there = shapely.transform(
        island, lambda points: points @ start.to_card[:, :2].T + start.to_card[:, 2]
    )
    assert piece.area == pytest.approx(island.area, rel=1e-4)
    assert piece.hausdorff_distance(there) < 0.01
    strip = shapely.LineString(loose.film).buffer(loose.film_width / 2, cap_style="flat")
    left, _, right, _ = strip.bounds
    assert max(left, -right) >= 1
    assert 3 <= loose.film_width <= 10
    # A convex hole: two ends on paper, each at least 5 mm long, the island between them.
    ends = shapely.get_parts(strip.intersection(paper))
    assert len(ends) == 2
    assert min(end.area for end in ends) >= 5 * loose.film_width - 0.05
    assert strip.difference(paper).intersection(piece).area > 0.2 * piece.area


@pytest.mark.parametrize(
    ("island", "told"),
    [
        (PUPIL, "across the crease"),
        (shapely.box(50, 30, 50.6, 48), "narrower than the"),
        (shapely.Point(41.9, 40).buffer(1.6, 64), "no strip of film"),
    ],
)
def test_where_film_cannot_hold_it(tmp_path: Path, island: shapely.Polygon, told: str) -> None:
    start = beside(on_card(motif(tmp_path, "vector")), island)
    result = cut(start, FragileSettings(islands="hand"))
    assert result.islands == ()
    assert [feature.choice for feature in result.features] == ["drop"]
    (said,) = (item for item in result.findings if item.rule == "island-dropped")
    assert told in said.advice
    single = FragileSettings(features=(FeatureChoice("hand", number=1),))
    with pytest.raises(FragileError, match=told) as caught:
        cut(start, single)
    assert "drop or join" in caught.value.advice
