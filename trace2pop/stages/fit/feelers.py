"""What of a motif is body, and what is feelers that may be added by hand."""

import shapely

from trace2pop.geometry.middle import middle_line
from trace2pop.geometry.thin import find_thin
from trace2pop.mechanism.materials import nearest_diameter
from trace2pop.model.settings import FragileSettings

_MIN_WIDTH = 1.0
"""Narrowest strip taken as body where the maker named none: most cutters' own limit, in mm."""


def feelers(solid: shapely.Polygon, scale: float, fragile: FragileSettings) -> shapely.Geometry:
    """Return what is too thin to cut when ``solid`` (drawn mm) is made ``scale`` times larger.

    What an opening by half the minimum width takes off, without the slivers it takes off corners.
    """
    width = (fragile.min_width or _MIN_WIDTH) / scale
    opened = solid.buffer(-width / 2).buffer(width * 0.55)
    thin = shapely.get_parts(solid.difference(opened))
    return shapely.MultiPolygon([piece for piece in thin if piece.area > 2 * width * width])


def body(
    solid: shapely.Polygon, scale: float, fragile: FragileSettings, *, quick: bool = False
) -> shapely.Geometry:
    """Return ``solid`` without its feelers: its largest piece, all of it where nothing is left.

    ``quick`` takes them from the opening alone, without telling feelers from bridges.
    """
    if quick:
        thin = feelers(solid, scale, fragile)
    else:
        found = find_thin(solid, (fragile.min_width or _MIN_WIDTH) / scale)
        thin = shapely.union_all([item.region for item in found if item.kind == "spur"])
    rest = solid.difference(thin)
    pieces = shapely.get_parts(rest) if rest.area else []
    return max(pieces, key=lambda piece: piece.area, default=solid)


def strands(solid: shapely.Polygon, scale: float, fragile: FragileSettings) -> shapely.Geometry:
    """Return the parts (drawn mm) that take the feelers' place, as thick as their material.

    That comes in steps, and a feeler tapers: a part may be thicker than what was drawn.
    """
    found = find_thin(solid, (fragile.min_width or _MIN_WIDTH) / scale)
    strips = []
    for item in found:
        if item.kind == "spur":
            middle = middle_line(item.region, item.joins)
            half = nearest_diameter(middle.width * scale) / 2 / scale
            lines = shapely.multilinestrings(
                [shapely.LineString(middle.path), *map(shapely.LineString, middle.branches)]
            )
            strips.append(shapely.buffer(lines, half, cap_style="flat"))
    return shapely.union_all(strips)


def counts_body_only(fragile: FragileSettings) -> bool:
    """Whether feelers may stick out: they bend, or they are left away altogether."""
    return fragile.spurs == "drop" or (fragile.spurs == "hand" and fragile.bends)
