"""A hand-made card for tests of the later stages: a lobed swimmer on a 5 x 7 in card.

Numbers are worked out here by hand, not taken from the stages under test.
"""

import numpy as np

from trace2pop.data import cutters, stocks
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Artwork, MirrorAxis, Motif, Scale
from trace2pop.model.card import (
    Beam,
    Card,
    CardPlan,
    Closed,
    CutMotif,
    HandPart,
    OuterCard,
    PlacedMotif,
    Sag,
    Slit,
)
from trace2pop.model.outline import Contour, Outline
from trace2pop.model.stock import Cutter, Stock, Stocks

STOCK: Stock = stocks()["cover-216"]
CUTTER: Cutter = cutters()["mat-12x12"]
STOCKS: Stocks = {
    "motif": STOCK,
    "base": STOCK,
    "beam": STOCK,
    "outer": STOCK,
    "mockup": STOCK,
    "gauge": STOCK,
}

CARD = Card(
    half_width=124.0,
    height=171.8,
    rise=20.0,
    web=20.3,
    margin=3.0,
    border=3.0,
    outer=OuterCard(127.0, 177.8, "long"),
)


def smooth_closed(points: np.ndarray) -> Contour:
    """Return a closed Catmull-Rom chain through ``points`` (n, 2) as cubic Beziers."""
    before, after = np.roll(points, 1, axis=0), np.roll(points, -1, axis=0)
    tangent = (after - before) / 6
    return np.stack([points, points + tangent, after - np.roll(tangent, -1, axis=0), after], axis=1)


def lobed(width: float = 180.0, height: float = 120.0) -> Outline:
    """Return a shape with two wide lobes and a narrow waist, centred on (0, 0)."""
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    radius = 0.62 + 0.38 * np.cos(2 * angle)
    points = np.stack([radius * np.cos(angle) * width / 2, np.sin(angle) * height / 2], axis=1)
    return Outline(smooth_closed(points))


def motif(width: float = 180.0, height: float = 120.0) -> Motif:
    """Return a traced motif of that size in drawn mm, 10 px/mm, drawn at half size."""
    px_per_mm = 10.0
    margin = 10.0
    cols, rows = (
        int((width / 2 + 2 * margin) * px_per_mm),
        int((height / 2 + 2 * margin) * px_per_mm),
    )
    place = np.array([[0.5, 0, width / 4 + margin], [0, 0.5, height / 4 + margin]])
    outline = beziers.transform_outline(lobed(width, height), place)
    rgb = np.full((rows, cols, 3), 244, np.uint8)
    y, x = np.mgrid[0:rows, 0:cols]
    rgb[..., 0] = (x * 200 // cols).astype(np.uint8)
    rgb[..., 2] = (y * 200 // rows).astype(np.uint8)
    artwork = Artwork(
        name="swimmer.png",
        rgb=rgb,
        alpha=None,
        px_per_mm=px_per_mm,
        scale=Scale("dpi", 1 / px_per_mm, 0.002),
        to_source=np.eye(3),
        source_size_px=(cols, rows),
    )
    axis = MirrorAxis((width / 4 + margin, height / 4 + margin), 0.0, 0.99)
    return Motif(artwork, outline, "colour", 0.95, axis)


def placed(width: float = 180.0, height: float = 120.0) -> PlacedMotif:
    """Return the motif placed with its middle on the crease at mid height."""
    drawn = motif(width, height)
    to_card = np.array([[2.0, 0, -(width / 2 + 20)], [0, 2.0, CARD.height / 2 - height / 2 - 20]])
    return PlacedMotif(
        motif=drawn,
        card=CARD,
        scale=2.0,
        turn_deg=0.0,
        to_card=to_card,
        outline=beziers.transform_outline(drawn.outline, to_card),
        symmetric=True,
        limited_by=(),
    )


def feeler() -> HandPart:
    """Return a straight feeler of 25 x 0.6 mm on the swimmer's head, right of the crease."""
    v = CARD.height / 2 - 60.0 + 2
    path = np.array([[8.0, v], [8.0, v - 25.0]])
    shape = Outline(
        beziers.straight([(7.7, v), (8.3, v), (8.3, v - 25.0), (7.7, v - 25.0)], closed=True)
    )
    return HandPart(
        id=1,
        kind="spur",
        length=25.0,
        root_width=0.6,
        tip_width=0.6,
        width=0.6,
        cut_length=35.0,
        diameter=0.6,
        join=(8.0, v),
        direction_deg=-90.0,
        path=path,
        overlap=np.array([[8.0, v], [8.0, v + 10.0]]),
        shape=shape,
        choice="hand",
    )


def cut_motif() -> CutMotif:
    """Return the placed motif with one feeler taken off."""
    at_size = placed()
    return CutMotif(at_size, at_size.outline, (feeler(),))


def beams() -> tuple[Beam, ...]:
    """Return three beams: one on the crease, one under each lobe, 1 mm slit clearance."""
    middle = CARD.height / 2
    rows = [(0.0, 40.0, 7.0), (-50.0, 36.0, 9.0), (50.0, 36.0, 9.0)]
    return tuple(
        Beam(
            id=number,
            part=f"beam-{number}",
            u=u,
            v0=middle - length / 2,
            v1=middle + length / 2,
            flange=flange,
            taper_deg=45.0,
            slit=Slit(middle - length / 2 - 0.5, middle + length / 2 + 0.5, 0.6),
        )
        for number, (u, length, flange) in enumerate(rows, start=1)
    )


def plan() -> CardPlan:
    """Return the whole plan; its sag map is a made-up dish, for pictures only."""
    cut = cut_motif()
    u, v = np.meshgrid(np.linspace(-80, 80, 9), np.linspace(40, 130, 6))
    points = np.stack([u.ravel(), v.ravel()], axis=1)
    cell = (np.arange(5)[:, None] * 9 + np.arange(8)).ravel()
    triangles = np.concatenate(
        [np.stack([cell, cell + 1, cell + 9], 1), np.stack([cell + 1, cell + 10, cell + 9], 1)]
    )
    depth = 0.4 * (points[:, 0] / 80) ** 2
    sag = Sag(0.4, 1.0, (80.0, 85.9), 10.0, points, triangles, depth)
    closed = Closed(
        reach=90.0 + CARD.web,
        limit=CARD.half_width - CARD.margin,
        thickness=4.5,
        layers=("outer card", "base", "beam flange", "web", "web", "beam flange", "motif"),
        at=(50.0, CARD.height / 2),
    )
    return CardPlan(cut, beams(), sag, closed)
