"""The card closed: what lies on what, how thick it is, and the spine that takes it."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.ops import substring

from trace2pop.limits import FORK_OVERLAP, GLUE_FOLD_GAP, SPINE_FROM, SPINE_STEP, UNGLUED
from trace2pop.mechanism.beam import flange
from trace2pop.mechanism.springs import resting_gap
from trace2pop.model.card import Beam, Card, Closed, HandPart, StackArea
from trace2pop.model.stock import Stocks

_FLATTEN = 0.05
"""Outlines are simplified by this much for the map: far below what a layer's place is known to."""


@dataclass(frozen=True, eq=False)
class Layer:
    """One layer of the closed card: its ``shape`` in (distance from spine, v), and its thickness.

    ``side`` is -1 for the left (front) half, +1 for the right, 0 for what stands between them.
    ``depth`` sorts the layers of a half from the outer card inwards. ``beam`` marks what a beam
    adds.
    """

    name: str
    side: int
    depth: float
    shape: shapely.Geometry
    thickness: float
    beam: bool = False


def closed_stack(
    card: Card,
    motif: shapely.Geometry,
    beams: Sequence[Beam],
    stocks: Stocks,
    adhesive: float,
    hand_parts: Iterable[HandPart] = (),
) -> Closed:
    """Return the card closed.

    ``motif`` is the cut motif's polygon in card coordinates (u, v); ``adhesive`` the thickness of
    the tape. ``hand_parts`` that are added by hand lie on the motif's back with their diameter.

    Every layer is where the linkage puts it at 0 degrees: base and lower flanges where they are,
    webs at d .. d + w, motif and upper flanges w further out. The stack at a place is the sum of
    what lies there, pressed flat; webs that cross lie on each other like shingles.
    """
    layers = tuple(_layers(card, motif, beams, stocks, adhesive, hand_parts))
    areas = _areas(layers)
    thickest = max(areas, key=lambda area: area.thickness)
    place = shapely.point_on_surface(shapely.Polygon(thickest.outer, thickest.holes))
    left, _, right, _ = motif.bounds
    spine = spine_width(thickest.thickness, stocks["outer"].thickness)
    return Closed(
        reach=max(-left, right) + card.web,
        limit=card.half_width - card.margin,
        thickness=thickest.thickness,
        layers=thickest.layers,
        at=(float(place.x), float(place.y)),
        spine=spine,
        areas=areas,
        staggered=_staggered(layers),
        gap=resting_gap(card, motif, beams, stocks, spine=spine, thickness=thickest.thickness),
    )


def spine_width(thickness: float, cover: float) -> float:
    """Return the distance between the outer card's two scores, 0 where one fold will do.

    The covers' middle planes are ``thickness - cover`` apart where the stack is thickest; the spine
    panel joins them.
    """
    if thickness <= SPINE_FROM.value:
        return 0.0
    return math.ceil((thickness - cover) / SPINE_STEP.value - 1e-9) * SPINE_STEP.value


def _layers(
    card: Card,
    motif: shapely.Geometry,
    beams: Sequence[Beam],
    stocks: Stocks,
    adhesive: float,
    hand_parts: Iterable[HandPart],
) -> Iterable[Layer]:
    outline = motif.simplify(_FLATTEN)
    top = -card.border
    cover = shapely.box(0, top, card.outer.width, top + card.outer.height)
    half = shapely.box(0, 0, card.half_width, card.height)
    glued = shapely.box(UNGLUED.value, 0, card.half_width, card.height)
    parts = [part for part in hand_parts if part.choice == "hand"]
    for side in (-1, 1):
        yield Layer("outer card", side, 0, cover, stocks["outer"].thickness)
        yield Layer("tape", side, 1, glued, adhesive)
        yield Layer("base", side, 4, half, stocks["base"].thickness)
        folded = _folded(outline, side, card.web)
        yield Layer("motif", side, 8, folded, stocks["motif"].thickness)
        for part in parts:
            name = f"hand-added part {part.id}"
            yield Layer(name, side, 7.5, _folded(strands(part), side, card.web), part.diameter)
    for beam in beams:
        yield from _beam_layers(card, beam, stocks["beam"].thickness, adhesive)


def strands(part: HandPart) -> shapely.Geometry:
    """Return where a part added by hand lies on the motif's back, one diameter thick throughout.

    Its glued end counts. Branches of a forked part are glued for ``limits.FORK_OVERLAP`` beside
    what they leave, towards the root: side by side two round rods of a diameter d lie d apart, so a
    second branch on the same side lies another d farther out. Where drawn lines meet at the fork
    there is one rod, not as many as lines.
    """
    size = part.diameter
    lines = [shapely.LineString(np.vstack([part.overlap[:0:-1], part.path]))]
    lain = [lines[0].buffer(size / 2)]
    beside: list[shapely.Geometry] = []
    for branch in part.branches:
        start = shapely.Point(branch[0])
        main = min(lines, key=start.distance)
        fork = main.project(start)
        run = substring(main, max(0.0, fork - FORK_OVERLAP.value), fork)
        if run.length > 0:
            (x0, y0), (x1, y1) = run.coords[0], run.coords[-1]
            x, y = branch[-1] - branch[0]
            side = 1 if (x1 - x0) * y - (y1 - y0) * x > 0 else -1
            rods = [
                run.offset_curve(side * row * size).buffer(size / 2, cap_style="flat")
                for row in range(1, len(beside) + 2)
            ]
            taken = shapely.union_all(beside).buffer(-0.1 * size)
            beside.append(next((rod for rod in rods if not rod.intersects(taken)), rods[-1]))
        lines.append(shapely.LineString(branch))
        lain.append(lines[-1].buffer(size / 2))
    return shapely.union_all([*lain, *beside])


def _folded(shape: shapely.Geometry, side: int, shift: float) -> shapely.Geometry:
    """Return one half of ``shape`` as it lies closed, ``shift`` further from the spine."""
    left, top, right, bottom = shape.bounds
    far = max(-left, right, 0.0) + 1
    half = shapely.box(min(0.0, side * far), top - 1, max(0.0, side * far), bottom + 1)
    kept = shape.intersection(half)
    return shapely.transform(kept, lambda xy: np.abs(xy * [1, 0]) + xy * [0, 1] + [shift, 0])


def _beam_layers(card: Card, beam: Beam, paper: float, adhesive: float) -> Iterable[Layer]:
    place = abs(beam.u)
    web = shapely.box(place, beam.v0, place + card.web, beam.v1)
    centre = beam.u == 0
    own = 0 if centre else int(np.sign(beam.u))
    # The further out a web stands, the nearer to the base it lies: inner webs fold over it.
    depth = 5 - place / 1e4
    for _ in range(2):
        yield Layer(f"web of {beam.part}", own, depth, web, paper, beam=True)
    for side in (-1, 1):
        half = side if centre else own
        towards = 1 if centre else side
        args = (beam.v0, beam.v1, beam.flange, beam.taper_deg, towards)
        lower, upper = flange(place, *args), flange(place + card.web, *args)
        yield Layer(f"lower flange of {beam.part}", half, 2, lower, paper, beam=True)
        yield Layer("tape", half, 3, _off_fold(lower, place), adhesive, beam=True)
        yield Layer(f"upper flange of {beam.part}", half, 6, upper, paper, beam=True)
        yield Layer("tape", half, 7, _off_fold(upper, place + card.web), adhesive, beam=True)


def _off_fold(panel: shapely.Geometry, fold: float) -> shapely.Geometry:
    """Return a flange without the strip along its fold that takes no adhesive."""
    _, top, _, bottom = panel.bounds
    gap = GLUE_FOLD_GAP.value
    return panel.difference(shapely.box(fold - gap, top - 1, fold + gap, bottom + 1))


def _areas(layers: Sequence[Layer]) -> tuple[StackArea, ...]:
    """Return the map of thicknesses: the faces that all layers' edges cut the card into."""
    layers = [layer for layer in layers if not layer.shape.is_empty]
    edges = shapely.unary_union([layer.shape.boundary for layer in layers])
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(edges)))
    inside = _membership(layers, faces)
    faces, inside = faces[inside.any(axis=1)], inside[inside.any(axis=1)]
    order = sorted(range(len(layers)), key=lambda index: _front_to_back(layers[index]))
    areas = []
    for face, row in zip(faces, inside, strict=True):
        here = [layers[index] for index in order if row[index]]
        areas.append(
            StackArea(
                np.asarray(face.exterior.coords)[:-1],
                tuple(np.asarray(ring.coords)[:-1] for ring in face.interiors),
                sum(layer.thickness for layer in here),
                tuple(layer.name for layer in here if layer.thickness > 0),
            )
        )
    return tuple(areas)


def _membership(layers: Sequence[Layer], faces: NDArray[np.object_]) -> NDArray[np.bool_]:
    """Return (faces, layers): whether the layer lies there."""
    points = shapely.point_on_surface(faces)
    x, y = shapely.get_x(points), shapely.get_y(points)
    return np.stack([shapely.contains_xy(layer.shape, x, y) for layer in layers], axis=1)


def _front_to_back(layer: Layer) -> tuple[int, float]:
    return layer.side, -layer.side * layer.depth if layer.side > 0 else layer.depth


def _staggered(layers: Sequence[Layer]) -> float:
    """Return the least thickness the same beams allow: none over one of the other half."""

    def thickest(kept: Sequence[Layer]) -> float:
        return max(area.thickness for area in _areas(kept))

    return max(
        thickest([layer for layer in layers if not (layer.beam and layer.side == side)])
        for side in (-1, 1)
    )
