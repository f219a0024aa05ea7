"""The motif as a flat piece: its exact outline, its holes, its crease."""

import shapely

from trace2pop.geometry import beziers
from trace2pop.model.card import CutMotif
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing, scored_run


def motif_part(cut: CutMotif, stock: Stock, grain_deg: float, *, printed: bool) -> Part:
    """Return the motif, front up, with the places of hand-added parts as notes."""
    drawing = Drawing()
    runs = [scored_run(start, end) for start, end in crease_spans(cut)]
    for number, (start, end) in enumerate(filter(None, runs), start=1):
        drawing.score(f"crease-{number}", (0.0, start), (0.0, end), "valley")
    drawing.outline(cut.outline)
    for part in cut.hand_parts:
        if part.choice == "hand" and len(part.overlap) > 1:
            points = [(float(u), float(v)) for u, v in part.overlap]
            drawing.note(f"hand-{part.id}", points)
            drawing.label(str(part.id), points[len(points) // 2], size=2.4)
    u, v, radius = roomiest(cut)
    drawing.grain((u, v - radius / 4), grain_deg, min(8.0, radius))
    drawing.label("motif, front", (u, v + radius / 2), room=1.5 * radius)
    return drawing.part(
        "motif", "motif", "motif", stock, on_card=True, grain_deg=grain_deg, printed=printed
    )


def crease_spans(cut: CutMotif) -> list[tuple[float, float]]:
    """Return the stretches (v0, v1) of u = 0 that lie on the motif's paper, from head to foot."""
    sheet = paper(cut)
    _, top, _, bottom = sheet.bounds
    line = shapely.LineString([(0.0, top - 1), (0.0, bottom + 1)])
    shared = shapely.get_parts(shapely.intersection(sheet, line))
    spans = [piece.bounds for piece in shared if piece.length > 0]
    return sorted((float(v0), float(v1)) for _, v0, _, v1 in spans)


def paper(cut: CutMotif, tolerance: float = beziers.FLATTEN) -> shapely.Geometry:
    """Return the motif's paper in card coordinates, made sound where its outline touches itself."""
    shape = beziers.polygon(cut.outline, tolerance)
    return shape if shape.is_valid else shape.buffer(0)


def roomiest(cut: CutMotif) -> tuple[float, float, float]:
    """Return middle (u, v) and radius of the largest circle that lies in one half of the motif."""
    sheet = paper(cut, 0.1)
    left, top, right, bottom = sheet.bounds
    halves = (shapely.box(0, top, right, bottom), shapely.box(left, top, 0, bottom))
    pieces = [
        piece
        for half in halves
        for piece in shapely.get_parts(shapely.intersection(sheet, half))
        if piece.geom_type == "Polygon"
    ]
    circles = [shapely.maximum_inscribed_circle(piece, tolerance=0.5) for piece in pieces]
    best = max(circles, key=lambda circle: float(circle.length))
    centre = shapely.get_point(best, 0)
    return float(centre.x), float(centre.y), float(best.length)
