"""Time of the thin feature stage: against the number of segments, and beside plain openings."""

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.examples import CUTTER, STOCK, placed, smooth_closed
from trace2pop.geometry import beziers
from trace2pop.geometry.recover import flat, recovered
from trace2pop.model.card import PlacedMotif
from trace2pop.model.outline import Outline
from trace2pop.model.settings import FragileSettings
from trace2pop.stages.cuttable import cuttable


def motif(segments: int, spurs: int, size: float) -> PlacedMotif:
    """Return a scalloped body of that many segments with straight spurs, 18 mm long, all round."""
    angle = np.linspace(0, 2 * np.pi, segments, endpoint=False)
    radius = size * (1 + 1.6 / size * np.cos(segments / 6 * angle))
    body = flat(
        Outline(smooth_closed(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])))
    )
    ways = 2 * np.pi * (np.arange(spurs) + 0.3) / spurs
    out = np.column_stack([np.cos(ways), np.sin(ways)])
    lines = [shapely.LineString([(size - 8) * way, (size + 18) * way]) for way in out]
    strips = [line.buffer(0.3, cap_style="flat") for line in lines]
    outline = recovered(body, shapely.union_all([body.polygon, *strips]))
    return replace(placed(), outline=outline)


def seconds(work: Callable[[], object]) -> float:
    work()
    times = []
    for _ in range(7):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


def stage(start: PlacedMotif) -> float:
    return seconds(lambda: cuttable(start, FragileSettings(bends=True), STOCK, CUTTER))


@pytest.mark.bench
def test_time_grows_as_the_segments_do() -> None:
    small, large = motif(140, 40, 80.0), motif(1400, 400, 800.0)
    one, ten = stage(small), stage(large)
    ratio = len(large.outline.outer) / len(small.outline.outer)
    shape = beziers.polygon(small.outline)
    opening = seconds(lambda: shape.buffer(-0.5).buffer(0.5))
    print(
        f"{len(small.outline.outer)} segments, 40 features: {one * 1e3:.0f} ms, "
        f"{one / opening:.0f} openings of the same shape; "
        f"{len(large.outline.outer)} segments, 400 features: {ten * 1e3:.0f} ms"
    )
    assert one < 60 * opening
    assert ten < 1.5 * ratio * one
