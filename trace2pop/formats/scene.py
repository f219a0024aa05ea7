"""The finished card as flat panels in space: what preview and page both draw."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.mechanism import beam as beam_shapes
from trace2pop.mechanism.keys import lower_flange
from trace2pop.mechanism.linkage import Frame, Pose, pose
from trace2pop.mechanism.spine import spine_of
from trace2pop.model.card import CardPlan
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Sheets

Layer = Literal["base", "beams", "motif", "outer", "hand"]
Kind = Literal["base", "motif", "web", "lower", "upper", "outer", "spine"]

_CLEAR = 0.6
APART = 0.15
"""mm between sheets that lie on each other, so that the one in front is drawn in front."""


@dataclass(frozen=True, eq=False)
class Panel:
    """One flat panel: its shape in its own frame's coordinates and how that frame is found.

    ``beam`` is the beam's index in the plan for webs and flanges, ``side`` -1 or +1 the half,
    ``lift`` mm off the frame's plane. ``lines`` are strokes (n, 2) with their width, for parts
    added by hand; ``number`` is a beam's or a hand-added part's.
    """

    name: str
    layer: Layer
    kind: Kind
    side: int
    shape: shapely.Geometry
    beam: int | None = None
    lift: float = 0.0
    lines: tuple[tuple[FloatArray, float], ...] = ()
    number: int | None = None

    def frame(self, placed: Pose) -> Frame:
        """Return where the panel lies in a pose."""
        index = (self.side + 1) // 2
        if self.kind == "spine":
            return placed.spine
        if self.beam is not None:
            found = placed.beams[self.beam]
            if self.kind == "web":
                return found.web
            return (found.lower if self.kind == "lower" else found.upper)[index]
        halves = {"base": placed.base, "motif": placed.motif, "outer": placed.outer}
        return halves[self.kind][index]


def pose_of(sheets: Sheets, opening_deg: float) -> Pose:
    """Return where the card's panels are at an opening."""
    plan = sheets.parts.plan
    web = plan.cut.placed.card.web
    return pose(web, plan.beams, opening_deg, spine=spine_of(sheets.parts))


def panels(sheets: Sheets) -> tuple[Panel, ...]:
    """Return every panel of the card, from the back of the open card to its front."""
    plan = sheets.parts.plan
    return (
        *_covers(plan, spine_of(sheets.parts), _window(sheets)),
        *_bases(plan),
        *_beams(plan),
        *_motifs(plan),
        *_hand(plan),
    )


def together(every: Sequence[Panel]) -> list[Panel]:
    """Return the panels to be drawn, those that lie in one plane and look alike as one.

    Lower flanges lie under the base, out of sight from in front.
    """
    found: dict[tuple[object, ...], Panel] = {}
    for panel in every:
        if panel.kind == "lower":
            continue
        alike = panel.kind == "upper" or panel.layer == "hand"
        key = (panel.layer, panel.kind, panel.side, panel.lift, None if alike else panel.name)
        other = found.get(key)
        if other is not None:
            panel = replace(other, shape=shapely.union(other.shape, panel.shape))
        found[key] = panel
    return list(found.values())


def half(shape: shapely.Geometry, side: int, past: float = 0.0) -> shapely.Geometry:
    """Return the part of a shape (u, v) on one half, and ``past`` mm beyond the crease."""
    far, near = side * 1e4, -side * past
    return shape.intersection(shapely.box(min(near, far), -1e4, max(near, far), 1e4))


def _window(sheets: Sheets) -> shapely.Polygon:
    """Return the window of the outer card as it is cut, (u, v); empty where there is none."""
    for part in sheets.parts.parts:
        for stroke in part.strokes:
            if stroke.id == "window" and part.origin is not None:
                return shapely.Polygon(beziers.flatten(stroke.line) + np.array(part.origin))
    return shapely.Polygon()


def _covers(plan: CardPlan, spine: float, window: shapely.Polygon) -> Iterator[Panel]:
    card = plan.cut.placed.card
    wide, top = card.outer.width, -card.border
    foot = top + card.outer.height
    left = shapely.box(-wide - spine, top, -spine, foot).difference(window)
    yield Panel("outer-left", "outer", "outer", -1, left, lift=-3 * APART)
    right = shapely.box(0, top, wide, foot)
    yield Panel("outer-right", "outer", "outer", 1, right, lift=-3 * APART)
    if spine > 0:
        panel = shapely.box(-spine, top, 0, foot)
        yield Panel("outer-spine", "outer", "spine", 1, panel, lift=-3 * APART)


def _bases(plan: CardPlan) -> Iterator[Panel]:
    card = plan.cut.placed.card
    slits = [
        shapely.box(b.u - 0.2, b.slit.v0, b.u + 0.2, b.slit.v1) for b in plan.beams if b.u != 0
    ]
    cut = shapely.union_all(slits)
    for side, name in ((-1, "left"), (1, "right")):
        far = side * card.half_width
        sheet = shapely.box(min(0, far), 0, max(0, far), card.height)
        yield Panel(f"base-{name}", "base", "base", side, sheet.difference(cut))


def _beams(plan: CardPlan) -> Iterator[Panel]:
    web = plan.cut.placed.card.web
    for index, beam in enumerate(plan.beams):
        own = 1 if beam.u >= 0 else -1
        shape = shapely.box(APART, beam.v0, web - 3 * APART, beam.v1)
        prefix = f"beam-{beam.id}"
        yield Panel(f"{prefix}-web", "beams", "web", own, shape, index, number=beam.id)
        for way, end in ((-1, "left"), (1, "right")):
            upper = beam_shapes.flange(beam.u, beam.v0, beam.v1, beam.flange, beam.taper_deg, way)
            side = own if beam.u != 0 else way
            if beam.u == 0:  # clear of the motif's crease, or it would shine through it
                upper = upper.difference(shapely.box(-_CLEAR, -1e4, _CLEAR, 1e4))
            flanges: tuple[tuple[Kind, shapely.Geometry], ...]
            flanges = (("lower", lower_flange(beam, way)), ("upper", upper))
            for kind, flange in flanges:
                name = f"{prefix}-{kind}-{end}"
                yield Panel(name, "beams", kind, side, flange, index, -APART, number=beam.id)


def _motifs(plan: CardPlan) -> Iterator[Panel]:
    outlines = (plan.cut.outline, *(island.outline for island in plan.cut.islands))
    shape = shapely.union_all([beziers.polygon(one, 0.02) for one in outlines])
    for side, name in ((-1, "left"), (1, "right")):
        part = half(shape, side)
        if not part.is_empty:
            yield Panel(f"motif-{name}", "motif", "motif", side, part)


def _hand(plan: CardPlan) -> Iterator[Panel]:
    for part in plan.cut.hand_parts:
        if part.choice != "hand":
            continue
        runs = [(line, part.diameter) for line in (part.path, *part.branches, part.overlap)]
        lines = tuple((line, width) for line, width in runs if len(line) > 1)
        shape = shapely.union_all([shapely.LineString(x).buffer(w / 2, 2) for x, w in lines])
        side = 1 if np.sign(part.path[:, 0].mean()) >= 0 else -1
        yield Panel(
            f"hand-{part.id}", "hand", "motif", side, shape, None, -2 * APART, lines, part.id
        )
