"""Loose pieces of the motif, set into its holes on clear film: drawing, sizes, step."""

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.limits import FILM_OVERLAP
from trace2pop.model.card import LooseIsland
from trace2pop.model.guide import Step
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.sketch import Sketch


def name(card: TheCard, island: LooseIsland) -> str:
    """Return a loose piece's name in the guide's language."""
    return card.say("piece.island", number=str(island.id))


def film(island: LooseIsland) -> shapely.Polygon:
    """Return the strip of film in card coordinates."""
    return shapely.LineString(island.film).buffer(island.film_width / 2, cap_style="flat")


def draw(sketch: Sketch, card: TheCard, island: LooseIsland) -> None:
    """Draw a loose piece from behind, its film over it, hatched where it is glued."""
    sketch.outline(island.outline, "motif-back")
    strip = film(island)
    shape = beziers.polygon(island.outline, 0.02)
    sketch.glue(strip.intersection(shapely.union(card.motif, shape)))
    corners = shapely.get_coordinates(strip.exterior)
    sketch.line(corners, "thin")
    label = shapely.get_point(shapely.maximum_inscribed_circle(shape, tolerance=0.1), 0)
    sketch.box(name(card, island), np.array([label.x, label.y]))


def step(card: TheCard, pages: int) -> Step:
    """Return the step that sets the loose pieces in; ``pages`` is the number of templates."""
    say, islands = card.say, card.cut.islands
    text = list(say.several("islands.text", overlap=say.mm(FILM_OVERLAP.value, 0)))
    if pages > 1:
        text[0] = say("islands.text_pages", pages=str(pages))
    rows = [
        (name(card, one), say.number(one.film_width), say.number(one.film_length))
        for one in islands
    ]
    return Step(
        say("islands.title"),
        say("islands.take", pieces=say.listed([name(card, one) for one in islands])),
        tuple(text),
        care=say("islands.care"),
        table=(say.several("islands.columns"), *rows),
        note=say("islands.note"),
    )


def film_sizes(card: TheCard) -> str:
    """Return the strips of film to cut, in words."""
    say = card.say
    return say.listed([say.size(one.film_width, one.film_length) for one in card.cut.islands])
