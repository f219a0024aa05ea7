"""The step that joins pieces cut in two, with their hinge strips in place."""

from collections.abc import Iterator

import numpy as np

from trace2pop.model.guide import Figure, Step
from trace2pop.model.pieces import Part
from trace2pop.stages.guide.card import WIDE, TheCard
from trace2pop.stages.guide.flat import FACES, draw_piece
from trace2pop.stages.guide.laid import titles
from trace2pop.stages.guide.sketch import Sketch, fitting

_LABEL_ROOM = 24.0
_BEHIND = np.array([[-1.0, 0.0], [0.0, 1.0]])


def step(card: TheCard) -> Iterator[Step]:
    """Yield the step, where there are such pieces."""
    say = card.say
    made = {root: _pieces(card, root) for root in ("base", "outer")}
    made = {root: pieces for root, pieces in made.items() if pieces}
    if not made:
        return
    text = list(say.several("join.text"))
    if card.spine and "outer" in made:
        text.insert(1, say("join.spine", spine=say.mm(card.spine)))
    names = titles(card, [part.name for pieces in made.values() for part in pieces])
    row = tuple(_from_behind(card, root, pieces) for root, pieces in made.items())
    yield Step(say("join.title"), say("join.take", pieces=say.listed(names)), tuple(text), (row,))


def _pieces(card: TheCard, root: str) -> list[Part]:
    return [part for name, part in card.pieces.items() if name.startswith(f"{root}-")]


def _from_behind(card: TheCard, root: str, pieces: list[Part]) -> Figure:
    """Return a piece's halves from behind, its strips over the seam, each with its length."""
    places = np.array([part.origin for part in pieces])
    ends = places + [part.size for part in pieces]
    (left, top), (right, foot) = places.min(axis=0), ends.max(axis=0)
    room = (WIDE / 2 - _LABEL_ROOM - 6.0, 80.0)
    sketch, say = Sketch(fitting((right - left, foot - top), room)), card.say
    strips = [part for part in pieces if "-hinge" in part.name]
    for part in [part for part in pieces if part not in strips] + strips:
        sketch.frame(np.column_stack([_BEHIND, _BEHIND @ np.array(part.origin)]))
        ink = "paper" if part in strips else "base-back" if root == "base" else FACES[root]
        draw_piece(sketch, part, ink, turned=True)
    sketch.frame(np.column_stack([_BEHIND, [0.0, 0.0]]))
    for strip in strips:
        assert strip.origin is not None
        u = strip.origin[0] + strip.size[0] / 4
        v = strip.origin[1] + strip.size[1] / 2
        edge = ((u - left) * sketch.scale + 3.0, 0.0)
        sketch.pointer(say.mm(strip.size[1], 0), (u, v), edge)
    head = ((3 * left + right) / 4, top)
    sketch.word(say("piece.head"), head, off=(0.0, -1.6), tone="soft")
    title = say(f"piece.{root}")
    return sketch.figure(say("join.alt", piece=title), say("join.behind", piece=title))
