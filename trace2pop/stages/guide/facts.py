"""What the guide says in numbers: facts, materials, what to cut by hand."""

from collections import Counter

import numpy as np

from trace2pop.geometry import beziers
from trace2pop.limits import MINUTES_BEAM, MINUTES_CARD, MINUTES_HAND_PART
from trace2pop.mechanism.mail import envelope_for
from trace2pop.mechanism.materials import suggestions
from trace2pop.model.card import HandPart
from trace2pop.model.outline import FloatArray
from trace2pop.stages.guide.card import TheCard

Row = tuple[str, str]

_SPARE = 1.1
"""Tape and bristle bought over what is used."""


def facts(card: TheCard) -> tuple[Row, ...]:
    """Return the first page's facts as (what, how much)."""
    say, plan, size = card.say, card.sheets.parts.plan, card.card
    left, top, right, bottom = beziers.bounds(card.cut.outline.outer)
    reach = say(
        "fact.reach_value", reach=say.number(plan.closed.reach), limit=say.mm(plan.closed.limit)
    )
    return (
        (say("fact.closed"), say.size(size.outer.width, size.outer.height)),
        (say("fact.open"), say.size(2 * size.outer.width + card.spine, size.outer.height)),
        (say("fact.motif"), say.size(right - left, bottom - top)),
        (say("fact.rise"), say.mm(size.rise)),
        (say("fact.reach"), reach),
        (say("fact.thickness"), say.mm(plan.closed.thickness)),
        (say("fact.envelope"), envelope(card)),
        (say("fact.beams"), str(len(card.beams))),
        (say("fact.hand"), str(len(card.hand)) if card.hand else say("fact.none")),
        (say("fact.time"), say("fact.time_value", minutes=str(_minutes(card)))),
    )


def envelope(card: TheCard) -> str:
    """Return the envelope that takes the closed card, in words."""
    outer, thickness = card.card.outer, card.sheets.parts.plan.closed.thickness
    found, say = envelope_for(outer.width, outer.height, thickness), card.say
    if found is None:
        need = say.size(outer.width + thickness + 3, outer.height + thickness + 3, 0)
        return say("fact.envelope_own", size=need)
    return say("fact.envelope_value", title=found.title)


def _minutes(card: TheCard) -> int:
    whole = MINUTES_CARD.value + MINUTES_BEAM.value * len(card.beams)
    whole += MINUTES_HAND_PART.value * len(card.hand)
    return 5 * round(whole / 5)


def needs(card: TheCard, adhesive: float) -> tuple[Row, ...]:
    """Return materials and tools as (what, how much)."""
    say = card.say
    rows: list[Row] = []
    used = [s for s in card.sheets.sheets if any(p.part in card.pieces for p in s.placements)]
    count = Counter((sheet.stock.title, sheet.width, sheet.height) for sheet in used)
    for (title, width, height), number in count.items():
        rows.append(
            (say("need.paper", title=title, size=say.size(width, height)), _sheets(card, number))
        )
    printed = {part.name for part in card.pieces.values() if part.printed}
    pages = sum(any(p.part in printed for p in sheet.placements) for sheet in used)
    if pages:
        rows.append((say("need.printed"), _sheets(card, pages)))
    for width, length in sorted(_tape(card).items()):
        words = say("need.tape", width=say.mm(width, 0), thickness=say.mm(adhesive, 2))
        rows.append((words, say("need.length", length=say.number(_metres(length)))))
    for diameter, length in sorted(_bristle(card).items()):
        words = material(card, diameter)
        rows.append(
            (words, say("need.hand_length", length=say.number(10 * np.ceil(length / 10), 0)))
        )
    if card.hand:
        rows.append((say("need.glue"), say("need.little")))
        rows.append((say("need.tweezers"), say("need.one")))
    tools = ("mat", "folding", "weight")
    return (*rows, *((say(f"need.{tool}"), say("need.one")) for tool in tools))


def _sheets(card: TheCard, number: int) -> str:
    return (
        card.say("need.sheets_one") if number == 1 else card.say("need.sheets", count=str(number))
    )


def _tape(card: TheCard) -> dict[float, float]:
    """Return tape by its width: what the flanges take, and round the outer card's two halves."""
    tapes: dict[float, float] = {}
    for beam in () if card.taped else card.beams:
        width = float(np.floor(beam.flange - 2))
        tapes[width] = tapes.get(width, 0.0) + 4 * (beam.v1 - beam.v0)
    widest = max(tapes, default=6.0)
    size = card.card
    tapes[widest] = tapes.get(widest, 0.0) + 4 * (size.height + size.half_width)
    return tapes


def _metres(length: float) -> float:
    return float(np.ceil(length * _SPARE / 100) / 10)


def _bristle(card: TheCard) -> dict[float, float]:
    lengths: dict[float, float] = {}
    for part in card.hand:
        whole = part.cut_length + sum(run_length(line) for line in part.branches)
        lengths[part.diameter] = lengths.get(part.diameter, 0.0) + whole * _SPARE
    return lengths


def run_length(line: FloatArray) -> float:
    """Return the length of a line (n, 2)."""
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def hand_table(card: TheCard) -> tuple[tuple[str, ...], ...]:
    """Return the list of parts to add, heads first."""
    if not card.hand:
        return ()
    return (card.say.several("hand.columns"), *(_hand_row(card, part) for part in card.hand))


def _hand_row(card: TheCard, part: HandPart) -> tuple[str, ...]:
    say = card.say
    length = say.number(part.length)
    cut = say.number(part.cut_length, 0)
    if part.branches:
        branches = [run_length(line) for line in part.branches]
        plus = " + ".join(say.number(branch) for branch in branches)
        length = say("hand.fork", length=length, branches=plus)
        cut = say("hand.fork", length=cut, branches=" + ".join(say.number(b, 0) for b in branches))
    return (str(part.id), length, cut, material(card, part.diameter))


def material(card: TheCard, diameter: float) -> str:
    """Return in words what a part of that diameter can be made of."""
    say = card.say
    kinds = [say(f"material.{row.kind}") for row in suggestions(diameter)]
    names = say.listed(kinds, "or") if kinds else say("hand.any")
    return say("hand.of", material=names, diameter=say.mm(diameter, 2))
