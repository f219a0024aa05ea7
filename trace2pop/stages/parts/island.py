"""An island of the motif as a piece of its own: its outline and its holes, no fold."""

import shapely

from trace2pop.geometry import beziers
from trace2pop.model.card import LooseIsland
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing


def island_part(island: LooseIsland, stock: Stock, grain_deg: float, *, printed: bool) -> Part:
    """Return the piece, front up; its origin is where it goes on the open card."""
    drawing = Drawing()
    drawing.outline(island.outline)
    circle = shapely.maximum_inscribed_circle(beziers.polygon(island.outline, 0.1), tolerance=0.1)
    centre, radius = shapely.get_point(circle, 0), float(circle.length)
    place = (float(centre.x), float(centre.y))
    drawing.label(f"{island.name}, front", (place[0], place[1] + radius / 3), room=1.5 * radius)
    drawing.grain((place[0], place[1] - radius / 4), grain_deg, min(8.0, radius))
    return drawing.part(
        island.name,
        f"island {island.id}",
        "motif",
        stock,
        on_card=True,
        grain_deg=grain_deg,
        printed=printed,
    )
