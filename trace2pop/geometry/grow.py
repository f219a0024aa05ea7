"""Strips made wider, and gaps filled."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.ops import substring

from trace2pop.geometry.middle import MiddleLine
from trace2pop.geometry.thin import Thin, find_thin, without
from trace2pop.model.outline import FloatArray

_ARC = 16
_SURE = 1.01
"""Strips grow to this many times the width asked for, so that flattening leaves none below it."""


def thickened(
    shape: shapely.Polygon, lines: Sequence[MiddleLine], width: float, bounds: shapely.Geometry
) -> shapely.Polygon:
    """Return ``shape`` with a strip of ``width`` along each of ``lines``, its joins rounded.

    What is added stays within ``bounds``. A free tip keeps its place.
    """
    paths = []
    for line in lines:
        paths.append(short_of_tip(line.path, width) if line.free else line.path)
        paths += [short_of_tip(branch, width) for branch in line.branches]
    return banded(shape, paths, width, bounds) if paths else shape


def banded(
    shape: shapely.Geometry, paths: Sequence[FloatArray], width: float, bounds: shapely.Geometry
) -> shapely.Polygon:
    """Return ``shape``, one piece or several, with a strip along each path (n, 2).

    A strip's ends are round, about the path's. Its joins are rounded; what is added stays within
    ``bounds``. Of what doesn't hang together then, the largest piece is returned.
    """
    half = width / 2 * _SURE
    bands = [shapely.LineString(path).buffer(half, quad_segs=_ARC) for path in paths]
    added = shapely.union_all(bands)
    grown = shape.union(added)
    fillets = shapely.get_parts(grown.buffer(half, quad_segs=_ARC).buffer(-half).difference(grown))
    ends = np.concatenate([path[[0, -1]] for path in paths])
    near = shapely.union_all(shapely.buffer(shapely.points(ends), 1.5 * width))
    wanted = [
        fillet
        for fillet in fillets
        if fillet.area > 0.01 * width * width
        and fillet.intersects(near)
        and fillet.distance(added) < 0.05 * width
    ]
    # Grown by a hair, for a fillet's edge lies on the strip's only as well as arcs are written.
    fills = [fillet.buffer(0.004 * width) for fillet in wanted]
    new = shapely.union_all([added, *fills]).intersection(bounds)
    return _largest(shape.union(new))


def short_of_tip(path: FloatArray, width: float) -> FloatArray:
    """Return the line without its last bit, so that the round end of its strip ends at its tip."""
    line, half = shapely.LineString(path), width / 2 * _SURE
    if line.length < 3 * half:
        return path
    kept = substring(line, 0, line.length - half)
    return np.asarray(kept.coords)


def _largest(shape: shapely.Geometry) -> shapely.Polygon:
    return max(shapely.get_parts(shape), key=lambda part: part.area)


@dataclass(frozen=True, eq=False)
class Gap:
    """A place between a shape's edges narrower than the width asked about.

    ``area`` numbers the surroundings' part it lies in; ``thin`` is the gap as a feature of that
    part: "loose" where a whole hole is too narrow.
    """

    area: int
    thin: Thin

    @property
    def is_hole(self) -> bool:
        """Whether it is a whole hole."""
        return self.thin.kind in ("loose", "ring")


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What is not paper inside a frame round a shape: its parts, and the gaps among them."""

    frame: shapely.Polygon
    areas: list[shapely.Polygon]
    gaps: list[Gap]

    def closed(self, gaps: Sequence[Gap]) -> shapely.Polygon:
        """Return the shape with ``gaps`` filled."""
        open_areas = []
        for number, area in enumerate(self.areas):
            own = [gap for gap in gaps if gap.area == number]
            if not any(gap.is_hole for gap in own):
                open_areas += without(area, [gap.thin for gap in own])
        return _largest(self.frame.difference(shapely.union_all(open_areas)))


def surroundings(shape: shapely.Polygon, width: float) -> Surroundings:
    """Return the surroundings of ``shape`` with its gaps and holes narrower than ``width``.

    As with paper, a pointed inner corner is no gap.
    """
    margin = 4 * width
    left, head, right, foot = shape.bounds
    frame = shapely.box(left - margin, head - margin, right + margin, foot + margin)
    areas = [
        part
        for part in shapely.get_parts(frame.difference(shape))
        if part.geom_type == "Polygon" and not part.is_empty
    ]
    gaps = [
        Gap(number, thin)
        for number, area in enumerate(areas)
        for thin in find_thin(area, width, clubs=False)
    ]
    return Surroundings(frame, areas, gaps)
