"""What is too thin to cut comes off and is listed, or is thickened."""

import numpy as np
import shapely

from trace2pop.errors import FragileError
from trace2pop.geometry import beziers
from trace2pop.geometry.recover import recovered
from trace2pop.geometry.thin import Thin, find_thin, taken_off
from trace2pop.model.card import CutMotif, HandPart, PlacedMotif, Treatment
from trace2pop.model.finding import Finding
from trace2pop.model.outline import FloatArray, Outline
from trace2pop.model.settings import FragileSettings
from trace2pop.model.stock import Cutter, Stock
from trace2pop.stages.cuttable.overlap import glue_overlap

DIAMETERS = (0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0)
"""Diameters in mm that bristles, nylon line and wire are sold in; common practice, no source."""

_PASSES = 3


def minimum_width(settings: FragileSettings, stock: Stock, cutter: Cutter) -> float:
    """Return the narrowest strip in mm that may be cut: the maker's, else by cutter and paper."""
    if settings.min_width is not None:
        return settings.min_width
    return max(cutter.min_feature, stock.thickness)


def cuttable(
    placed: PlacedMotif, settings: FragileSettings, stock: Stock, cutter: Cutter
) -> CutMotif:
    """Return the motif without what is too thin for its paper and cutter.

    Raises:
        FragileError: where nothing is left to cut, or only a loose strip.
    """
    width = minimum_width(settings, stock, cutter)
    shape = beziers.polygon(placed.outline)
    thin = find_thin(shape, width)
    if any(item.kind == "loose" for item in thin):
        raise FragileError(
            f"the motif is narrower than {width:.1f} mm, the least that can be cut, all over",
            "make it larger with a larger card or a lower --rise, or draw it bolder",
        )
    body, off, findings = shape, [], []
    for _ in range(_PASSES):
        spurs = [item for item in thin if item.kind == "spur"]
        if settings.spurs in ("hand", "drop") and spurs:
            body = taken_off(body, [item.region for item in spurs], width)
            off += spurs
        for item in thin:
            grown = item.kind == "bridge" and settings.bridges == "thicken"
            grown |= item.kind == "spur" and settings.spurs == "thicken"
            if grown:
                body = _thickened(body, item, width)
                findings.append(_grown_finding(item, width))
        thin = find_thin(body, width)
        if not any(item.kind == "spur" for item in thin):
            break
    findings += _ring_findings(thin, width)
    parts = tuple(
        _hand_part(number, item, body, settings)
        for number, item in enumerate(_clockwise(off, body), start=1)
    )
    findings += _overlap_findings(parts, settings)
    return CutMotif(placed, recovered(placed.outline, body), parts, tuple(findings))


def _thickened(body: shapely.Polygon, item: Thin, width: float) -> shapely.Polygon:
    """Return the body with a strip grown along its middle line to just over the least width."""
    lines = [shapely.LineString(line) for line in (item.middle.path, *item.middle.branches)]
    band = shapely.union_all([line.buffer(0.51 * width, cap_style="square") for line in lines])
    grown = body.union(band)
    return max(shapely.get_parts(grown), key=lambda part: part.area)


def _clockwise(items: list[Thin], body: shapely.Polygon) -> list[Thin]:
    """Return the features clockwise round the body as seen, from its head."""
    centre = body.centroid

    def turn(item: Thin) -> float:
        u, v = item.joins[0]
        return float(np.arctan2(u - centre.x, -(v - centre.y)) % (2 * np.pi))

    return sorted(items, key=turn)


def _hand_part(
    number: int, item: Thin, body: shapely.Polygon, settings: FragileSettings
) -> HandPart:
    middle = item.middle
    join, outward = item.joins[0], _direction(middle.path)
    diameter = min(DIAMETERS, key=lambda size: abs(size - middle.width))
    overlap = glue_overlap(body, join, -outward, settings.glue_overlap, diameter)
    glued = float(np.linalg.norm(overlap[1] - overlap[0]))
    choice: Treatment = settings.spurs
    return HandPart(
        id=number,
        kind="spur",
        length=middle.length,
        root_width=middle.root_width,
        tip_width=middle.tip_width,
        width=middle.width,
        cut_length=middle.length + glued,
        diameter=diameter,
        join=(float(join[0]), float(join[1])),
        direction_deg=float(np.degrees(np.arctan2(outward[1], outward[0]))),
        path=middle.path,
        overlap=overlap,
        shape=_shape(item.region),
        choice=choice,
        branches=middle.branches,
    )


def _direction(path: FloatArray) -> FloatArray:
    """Return the unit direction in which a middle line sets out, over its first two mm."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    ahead = path[int(np.searchsorted(along, min(2.0, along[-1])))] - path[0]
    result: FloatArray = ahead / max(float(np.linalg.norm(ahead)), 1e-9)
    return result


def _shape(region: shapely.Polygon) -> Outline:
    return beziers.from_polygon(region)


def _grown_finding(item: Thin, width: float) -> Finding:
    u, v = item.joins[0]
    return Finding(
        f"thin-{item.kind}",
        "warning",
        f"{u:.0f}, {v:.0f} mm",
        round(item.middle.width, 2),
        width,
        f"this {item.kind} is {item.middle.width:.2f} mm wide and was thickened to {width:.1f} mm; "
        "draw it bolder if that spoils the look",
    )


def _ring_findings(thin: tuple[Thin, ...], width: float) -> list[Finding]:
    return [
        Finding(
            "thin-ring",
            "warning",
            f"{item.region.centroid.x:.0f}, {item.region.centroid.y:.0f} mm",
            round(item.middle.width, 2),
            width,
            "this ring is too thin to cut; draw it bolder or leave it out",
        )
        for item in thin
        if item.kind == "ring"
    ]


def _overlap_findings(parts: tuple[HandPart, ...], settings: FragileSettings) -> list[Finding]:
    findings = []
    for part in parts:
        glued = float(np.linalg.norm(part.overlap[1] - part.overlap[0]))
        if part.choice == "hand" and glued < 0.5 * settings.glue_overlap:
            findings.append(
                Finding(
                    "short-overlap",
                    "warning",
                    f"hand part {part.id}",
                    round(glued, 1),
                    settings.glue_overlap,
                    f"only {glued:.1f} mm of it can be glued behind the motif; use strong glue, or "
                    "glue a small patch of paper over it",
                )
            )
    return findings
