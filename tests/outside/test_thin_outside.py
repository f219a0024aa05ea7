"""Widths against a distance transform on pixels; wire gauges against their standards."""

import cv2
import numpy as np
import pytest
import shapely

from tests.thin_check import drawn
from tests.thin_shapes import jittered, shapes, turned
from trace2pop import data
from trace2pop.geometry.middle import middle_line
from trace2pop.geometry.thin import find_thin
from trace2pop.mechanism.materials import nearest_diameter, suggestions

PX = 40.0


@pytest.mark.parametrize(
    "name", ["straight 0.6", "arc 0.8", "s-curve 0.8", "taper 2.0-0.3", "needle 0.9", "fork 0.7"]
)
def test_widths_agree_with_a_distance_transform(name: str) -> None:
    """OpenCV's exact distance transform of the whole shape, drawn at 40 px/mm."""
    shape = jittered(turned(shapes()[name].polygon, 23.0), 0.01, 4)
    (thin,) = find_thin(shape, 1.0)
    line = middle_line(thin.region, thin.joins)
    away = cv2.distanceTransform(drawn(shape, PX), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    left, head, _, _ = shape.bounds
    inner = slice(6, -6)
    x, y = ((line.path[inner] - (left, head)) * PX + 10 - 0.5).T
    there = cv2.remap(away, x.astype(np.float32), y.astype(np.float32), cv2.INTER_LINEAR)
    widths = 2 * (there.ravel() - 0.5) / PX
    assert line.widths[inner] == pytest.approx(widths, abs=2.5 / PX)


def test_the_middle_line_halves_the_strip() -> None:
    """Shapely's own distances to the two sides of a curved strip agree all along."""
    (thin,) = find_thin(shapes()["arc 0.6"].polygon, 1.0)
    line = middle_line(thin.region, thin.joins)
    inner = shapely.points(line.path[4:-6])
    outer = shapely.distance(inner, shapely.Point(42, 0).buffer(12.3, 256).exterior)
    hollow = shapely.distance(inner, shapely.Point(42, 0).buffer(11.7, 256).exterior)
    assert np.abs(outer - hollow).max() < 0.03


AWG_MM = {16: 1.291, 18: 1.024, 20: 0.812, 22: 0.644, 24: 0.511, 26: 0.405, 28: 0.321}
"""ASTM B258, d = 0.127 * 92^((36 - n) / 39) mm, as tabled by wire makers."""

SWG_INCH = {16: 0.064, 18: 0.048, 20: 0.036, 22: 0.028, 24: 0.022, 26: 0.018, 28: 0.0148}
"""Imperial standard wire gauge, defined in inches; from memory."""


def test_wire_gauges() -> None:
    rows = {row.name: row for row in data.materials()}
    for gauge, mm in AWG_MM.items():
        assert rows[f"wire-awg-{gauge}"].diameter == pytest.approx(mm, abs=0.001)
        assert "SWG" in rows[f"wire-awg-{gauge}"].note
    for gauge, inch in SWG_INCH.items():
        assert rows[f"wire-swg-{gauge}"].diameter == pytest.approx(inch * 25.4, abs=0.001)
        assert "AWG" in rows[f"wire-swg-{gauge}"].note


def test_materials_name_mm_and_their_source() -> None:
    for row in data.materials():
        assert row.source
        assert row.kind in ("bristle", "line", "wire", "thread", "paper")
        if row.kind == "wire":
            assert f"{row.diameter:.2f} mm" in row.title
            assert "sharp" in row.note


def test_suggestions_are_near_and_one_of_a_kind() -> None:
    for diameter in (0.1, 0.3, 0.5, 0.6, 0.8, 1.0):
        found = suggestions(diameter)
        assert found
        assert len({row.kind for row in found}) == len(found)
        assert all(abs(row.diameter - diameter) <= 0.15 * diameter + 0.02 for row in found)
    assert nearest_diameter(0.62) == 0.6
