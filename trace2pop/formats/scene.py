"""The finished card as flat panels in space: what preview and page both draw."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.mechanism import beam as beam_shapes
from trace2pop.mechanism.linkage import Frame, Pose
from trace2pop.model.card import CardPlan
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Sheets

Layer = Literal["base", "beams", "motif", "outer", "hand"]
Kind = Literal["base", "motif", "web", "lower", "upper", "outer", "spine"]

APART = 0.15
"""mm between sheets that lie on each other, so that the one in front is drawn in front."""


@dataclass(frozen=True, eq=False)
class Panel:
    """One flat panel: its shape in its own frame's coordinates and how that frame is found.

    ``beam`` is the beam's number in the plan's order for webs and flanges, ``side`` -1 or +1 the
    half, ``lift`` mm off the frame's plane. ``lines`` are strokes (n, 2) with their width, for
    parts added by hand.
    """

    name: str
    title: str
    layer: Layer
    kind: Kind
    side: int
    shape: shapely.Geometry
    beam: int | None = None
    lift: float = 0.0
    lines: tuple[tuple[FloatArray, float], ...] = ()

    def frame(self, pose: Pose) -> Frame:
        """Return where the panel lies in a pose."""
        index = (self.side + 1) // 2
        if self.kind == "spine":
            return pose.spine
        if self.beam is not None:
            found = pose.beams[self.beam]
            if self.kind == "web":
                return found.web
            return (found.lower if self.kind == "lower" else found.upper)[index]
        halves = {"base": pose.base, "motif": pose.motif, "outer": pose.outer}
        return halves[self.kind][index]


def panels(sheets: Sheets) -> tuple[Panel, ...]:
    """Return every panel of the card, from the back of the open card to its front."""
    plan = sheets.parts.plan
    return (*_covers(plan), *_bases(plan), *_beams(plan), *_motifs(plan), *_hand(plan))


def _half(shape: shapely.Geometry, side: int) -> shapely.Geometry:
    return shape.intersection(shapely.box(min(0.0, side * 1e4), -1e4, max(0.0, side * 1e4), 1e4))


def _covers(plan: CardPlan) -> Iterator[Panel]:
    card = plan.cut.placed.card
    spine, top = plan.closed.spine, -card.border
    foot = top + card.outer.height
    right = shapely.box(0, top, card.outer.width, foot)
    left = shapely.box(-card.outer.width, top, 0, foot)
    yield Panel("outer-left", "outer card", "outer", "outer", -1, left, lift=-3 * APART)
    yield Panel("outer-right", "outer card", "outer", "outer", 1, right, lift=-3 * APART)
    if spine > 0:
        panel = shapely.box(-spine, top, 0, foot)
        yield Panel("outer-spine", "outer card's spine", "outer", "spine", 1, panel)


def _bases(plan: CardPlan) -> Iterator[Panel]:
    card = plan.cut.placed.card
    slits = [
        shapely.box(b.u - 0.3, b.slit.v0, b.u + 0.3, b.slit.v1) for b in plan.beams if b.u != 0
    ]
    for side, name in ((-1, "left"), (1, "right")):
        far = side * card.half_width
        half = shapely.box(min(0, far), 0, max(0, far), card.height)
        shape = half.difference(shapely.union_all(slits)) if slits else half
        yield Panel(f"base-{name}", "base card", "base", "base", side, shape)


def _beams(plan: CardPlan) -> Iterator[Panel]:
    web = plan.cut.placed.card.web
    for index, beam in enumerate(plan.beams):
        title = f"I-beam {beam.id}"
        shape = shapely.box(0, beam.v0, web, beam.v1)
        yield Panel(f"{beam.part}-web", title, "beams", "web", 1, shape, beam=index)
        for side in (-1, 1):
            flange = beam_shapes.flange(beam.u, beam.v0, beam.v1, beam.flange, beam.taper_deg, side)
            end = "left" if side < 0 else "right"
            kinds: tuple[Kind, Kind] = ("lower", "upper")
            for kind in kinds:
                name = f"{beam.part}-{kind}-{end}"
                yield Panel(name, title, "beams", kind, side, flange, index, -APART)


def _motifs(plan: CardPlan) -> Iterator[Panel]:
    shape = beziers.polygon(plan.cut.outline, 0.02)
    for side, name in ((-1, "left"), (1, "right")):
        half = _half(shape, side)
        if not half.is_empty:
            yield Panel(f"motif-{name}", "motif", "motif", "motif", side, half)


def _hand(plan: CardPlan) -> Iterator[Panel]:
    for part in plan.cut.hand_parts:
        if part.choice != "hand":
            continue
        lines = tuple((line, part.diameter) for line in (part.path, *part.branches))
        inner = (*lines, (part.overlap, part.diameter))
        shape = shapely.union_all(
            [shapely.LineString(line).buffer(width / 2) for line, width in inner]
        )
        side = 1 if np.sign(part.path[:, 0].mean()) >= 0 else -1
        name, title = f"hand-{part.id}", f"hand part {part.id}"
        yield Panel(name, title, "hand", "motif", side, shape, None, -2 * APART, inner)
