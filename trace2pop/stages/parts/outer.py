"""The outer card: folded once, or round a spine where the closed card is thick."""

import math

from trace2pop import limits
from trace2pop.geometry import shapes
from trace2pop.model.card import Card, Closed
from trace2pop.model.outline import Outline
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Stock
from trace2pop.stages.parts.drawing import Drawing, scored_run
from trace2pop.stages.parts.halves import Joint, Run
from trace2pop.stages.parts.window import Box


def spine_width(closed: Closed, stock: Stock, form: str) -> float:
    """Return the distance of the outer card's two scores, 0 for a single fold.

    ``form`` "auto" goes by the closed card; "fold" and "spine" are the maker's own choice. A spine
    is measured between the middles of front and back, so one thickness of the outer card comes off.
    """
    if form == "auto":
        return closed.spine
    step = limits.SPINE_STEP.value
    least = math.ceil((closed.thickness - stock.thickness) / step - 1e-9) * step
    return 0.0 if form == "fold" else max(step, least)


def outer_joint(card: Card, spine: float) -> Joint:
    """Return where an outer card too large for the cutter is parted: along its spine."""
    run = Run(-card.border, card.outer.height - card.border, limits.HINGE_STRIP.value)
    return Joint(-spine, 0.0, (run,))


def outer_part(
    card: Card,
    spine: float,
    stock: Stock,
    corner_radius: float,
    window: Box | None,
    grain_deg: float,
) -> Part:
    """Return the outer card, inner face up, in card coordinates.

    ``window`` is where it lies on the base's left half, None where there is none.

    With a spine the base is held by its right half, its crease on the right score, so the left half
    begins a spine's width further out.
    """
    width, height, border = card.outer.width, card.outer.height, card.border
    left, right, top = -width - spine, width, -border
    drawing = Drawing()
    run = scored_run(top, top + height)
    for name, u in (
        (("fold", 0.0),) if spine == 0 else (("spine-left", -spine), ("spine-right", 0.0))
    ):
        if run:
            drawing.score(name, (u, run[0]), (u, run[1]), "valley")
    corners = [(left, top), (right, top), (right, top + height), (left, top + height)]
    if window:
        u0, v0, u1, v1 = window
        drawing.hole("window", shapes.rectangle(u0 - spine, v0, u1 - spine, v1))
    drawing.outline(Outline(shapes.cornered(corners, [corner_radius] * 4)))
    _glue_notes(drawing, card, spine, window)
    drawing.label("outer card, inner face", (left + 8, top + height - 6), anchor="start")
    drawing.grain((right - 12, top + height - 16), grain_deg, 12.0)
    return drawing.part(
        "outer",
        "outer card",
        "outer",
        stock,
        on_card=True,
        face_up="inner",
        grain_deg=grain_deg,
    )


def _glue_notes(drawing: Drawing, card: Card, spine: float, window: Box | None) -> None:
    """Note where the base lies, and where it is glued; words keep clear of a window."""
    clear = spine + limits.UNGLUED.value
    zones = (
        ("right", clear, card.half_width, "glue the base here first"),
        ("left", -spine - card.half_width, -spine - clear, "then close the card on this half"),
    )
    for name, near, far, text in zones:
        corners = [(near, 0.0), (far, 0.0), (far, card.height), (near, card.height)]
        drawing.note(f"base-{name}", corners, closed=True)
        line = card.height / 2
        if name == "left" and window and window[1] - 4 < line < window[3] + 4:
            line = (window[3] + card.height) / 2
        drawing.label(text, ((near + far) / 2, line), size=3.5)
