"""What holds for every motif: made-up bodies with lobes, holes, spurs and clubs."""

from dataclasses import replace

import numpy as np
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely import affinity

from tests.examples import CUTTER, STOCK, placed
from tests.thin_check import features
from tests.thin_shapes import straight
from trace2pop.errors import FragileError
from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import sound
from trace2pop.model.card import CutMotif
from trace2pop.model.settings import FragileSettings
from trace2pop.stages.cuttable import cuttable

PLACED = placed()
EASY = settings(
    max_examples=30,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False).map(lambda value: round(value, 3))


@st.composite
def lobes(draw: st.DrawFn) -> shapely.Geometry:
    size, turn, far, way = (draw(numbers(*r)) for r in ((3, 10), (0, 180), (6, 22), (0, 360)))
    lobe = affinity.scale(shapely.Point(0, 0).buffer(size, 24), 1, draw(numbers(0.3, 1)))
    angle = np.radians(way)
    return affinity.translate(affinity.rotate(lobe, turn), far * np.cos(angle), far * np.sin(angle))


@st.composite
def spurs(draw: st.DrawFn) -> shapely.Geometry:
    way, points = draw(numbers(0, 360)), [np.zeros(2)]
    step = draw(numbers(6, 16))
    for turn in draw(st.lists(numbers(-40, 40), min_size=1, max_size=4)):
        way += turn
        angle = np.radians(way)
        points.append(points[-1] + step * np.array([np.cos(angle), np.sin(angle)]))
    cap = draw(st.sampled_from(["round", "flat"]))
    spur = shapely.LineString(points).buffer(draw(numbers(0.1, 1.25)), cap_style=cap)
    if draw(st.booleans()):
        return spur
    return spur.union(shapely.Point(points[-1]).buffer(draw(numbers(0.5, 4))))


@st.composite
def motifs(draw: st.DrawFn) -> shapely.Polygon:
    body = affinity.scale(
        shapely.Point(0, 0).buffer(draw(numbers(8, 20)), 32), 1, draw(numbers(0.4, 1))
    )
    body = shapely.union_all([body, *draw(st.lists(lobes(), max_size=3))])
    for way, far, size in draw(
        st.lists(st.tuples(numbers(0, 360), numbers(0, 12), numbers(0.15, 4)), max_size=2)
    ):
        place = shapely.Point(far * np.cos(np.radians(way)), far * np.sin(np.radians(way)))
        body = body.difference(place.buffer(size))
    whole = shapely.union_all([body, *draw(st.lists(spurs(), max_size=6))])
    largest = max(shapely.get_parts(whole), key=lambda part: part.area)
    return affinity.translate(affinity.rotate(largest, draw(numbers(0, 360))), 0, 85)


def cut(motif: shapely.Polygon, choices: FragileSettings) -> CutMotif:
    start = replace(PLACED, outline=beziers.from_polygon(motif))
    try:
        return cuttable(start, choices, STOCK, CUTTER)
    except FragileError:
        assume(False)
        raise


def check(motif: shapely.Polygon, choices: FragileSettings) -> None:
    result = cut(motif, choices)
    left = beziers.polygon(result.outline)
    assert sound(result.outline)
    assert left.geom_type == "Polygon"
    assert features(left, 0.96 * result.min_width) == []
    grown = {feature.choice for feature in result.features} & {"thicken", "close"}
    new = left.difference(motif.buffer(0.01))
    beyond = new.difference(motif.buffer(0.76)) if grown else new
    assert beyond.area < 1e-6
    again = cuttable(replace(result.placed, outline=result.outline), choices, STOCK, CUTTER)
    assert not again.features
    assert left.symmetric_difference(beziers.polygon(again.outline)).area < 1e-9


@EASY
@given(motifs())
def test_by_hand_nothing_narrow_remains(motif: shapely.Polygon) -> None:
    check(motif, FragileSettings())


@EASY
@given(motifs())
def test_thickened_nothing_narrow_remains(motif: shapely.Polygon) -> None:
    check(motif, FragileSettings(spurs="thicken"))


def test_the_check_on_pixels_can_fail() -> None:
    found = features(straight(0.6).polygon, 0.96)
    assert len(found) == 1
    length, mean, _ = found[0]
    assert abs(length - 25) < 0.3
    assert abs(mean - 0.6) < 0.06
    assert features(straight(1.2).polygon, 0.96) == []
