"""What the guide says in numbers: facts, materials, what to cut by hand."""

from collections import Counter
from dataclasses import dataclass

import numpy as np

from trace2pop import data
from trace2pop.geometry import beziers
from trace2pop.limits import FORK_OVERLAP, MINUTES_BEAM, MINUTES_CARD, MINUTES_HAND_PART
from trace2pop.mechanism.mail import envelope_for, envelope_to_make
from trace2pop.mechanism.materials import suggestions
from trace2pop.model.card import STIFFENER, HandPart
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Sheet
from trace2pop.model.stock import Stock
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.islands import film_sizes
from trace2pop.stages.guide.laid import kinds_of_sheets, sheet_name, sheet_pieces

Row = tuple[str, str]

_SPARE = 1.1
"""Tape and bristle bought over what is used."""


def facts(card: TheCard) -> tuple[Row, ...]:
    """Return the first page's facts as (what, how much)."""
    say, plan, size = card.say, card.sheets.parts.plan, card.card
    left, top, right, bottom = beziers.bounds(card.cut.outline.outer)
    x0, y0, x1, y1 = card.whole.bounds
    reach = say(
        "fact.reach_value",
        reach=say.number(card.reach),
        half=say.mm(size.half_width),
        limit=say.number(plan.closed.limit),
    )
    whole = ((say("fact.whole"), say.size(x1 - x0, y1 - y0)),) if card.hand else ()
    return (
        (say("fact.closed"), say.size(size.outer.width, size.outer.height)),
        (say("fact.open"), say.size(2 * size.outer.width + card.spine, size.outer.height)),
        (say("fact.motif"), say.size(right - left, bottom - top)),
        *whole,
        (say("fact.rise"), say.mm(size.rise)),
        (say("fact.reach"), reach),
        (say("fact.thickness"), say.mm(plan.closed.thickness)),
        (say("fact.envelope"), envelope(card)),
        (say("fact.beams"), str(len(card.beams))),
        (say("fact.hand"), _by_hand(card)),
        (say("fact.time"), say("fact.time_value", minutes=str(_minutes(card)))),
    )


def _by_hand(card: TheCard) -> str:
    """Return how many parts are added by hand, and in how many lengths where some fork."""
    parts = len(card.hand) + len(card.cut.islands)
    lengths = len(card.cut.islands) + sum(1 + len(part.branches) for part in card.hand)
    if lengths > parts:
        return card.say("fact.hand_lengths", parts=str(parts), lengths=str(lengths))
    return str(parts) if parts else card.say("fact.none")


def envelope(card: TheCard) -> str:
    """Return the envelope that takes the closed card, in words."""
    outer, thickness = card.card.outer, card.sheets.parts.plan.closed.thickness
    say = card.say
    if "envelope" in card.pieces:
        long, short = envelope_to_make(outer.width, outer.height, thickness)
        return say("fact.envelope_made", size=say.size(long, short, 0))
    found = envelope_for(outer.width, outer.height, thickness)
    if found is None:
        need = say.size(outer.width + thickness + 3, outer.height + thickness + 3, 0)
        return say("fact.envelope_own", size=need)
    title = say.section("envelope").get(found.name, found.title)
    return say("fact.envelope_value", title=title)


def _in_words(card: TheCard, stock: Stock) -> str:
    """Return a paper's title in the guide's language, the maker's own as they call it."""
    listed = data.stocks().get(stock.name)
    if listed is None or listed.title != stock.title:
        return stock.title
    return card.say.section("stock").get(stock.name, stock.title)


def _minutes(card: TheCard) -> int:
    whole = MINUTES_CARD.value + MINUTES_BEAM.value * len(card.beams)
    whole += MINUTES_HAND_PART.value * (len(card.hand) + len(card.cut.islands))
    return 5 * round(whole / 5)


def needs(card: TheCard, adhesive: float, pages: int) -> tuple[Row, ...]:
    """Return materials and tools as (what, how much); ``pages`` is the number of templates."""
    say = card.say
    rows: list[Row] = []
    used = [s for s in card.sheets.sheets if any(p.part in card.pieces for p in s.placements)]
    count = Counter((sheet.stock.title, sheet.width, sheet.height) for sheet in used)
    for (title, width, height), number in count.items():
        stock = next(sheet.stock for sheet in used if sheet.stock.title == title)
        words = say("need.paper", title=_in_words(card, stock), size=say.size(width, height))
        rows.append((words, _sheets(card, number)))
        for kind in kinds_of_sheets(card):
            sheet = kind[0]
            if (sheet.stock.title, sheet.width, sheet.height) == (title, width, height):
                pieces = sheet_pieces(card, sheet)
                name = sheet_name(card, kind)
                rows.append((say("need.sheet", name=name, pieces=pieces), _use(card, sheet)))
    if pages:
        rows.append((say("need.template"), _sheets(card, pages)))
    for width, length in sorted(_tape(card).items()):
        words = say("need.tape", width=say.mm(width, 0), thickness=say.mm(adhesive, 2))
        rows.append((words, say("need.length", length=say.number(_metres(length)))))
    for (diameter, stiff), length in sorted(_bristle(card).items()):
        words = material(card, diameter, stiff=stiff)
        words += "" if stiff else alternatives(card, diameter)
        rows.append(
            (words, say("need.hand_length", length=say.number(10 * np.ceil(length / 10), 0)))
        )
    if card.cut.islands:
        rows.append((say("need.film"), film_sizes(card)))
    if card.hand or card.cut.islands:
        rows.append((say("need.glue"), say("need.little")))
    if card.hand:
        rows.append((say("need.tweezers"), say("need.one")))
    tools = ("mat", "folding", "needle", "weight")
    return (*rows, *((say(f"need.{tool}"), say("need.one")) for tool in tools))


def _use(card: TheCard, sheet: Sheet) -> str:
    """Return in words what colour a sheet should have."""
    parts = [card.pieces[item.part] for item in sheet.placements]
    roles = {part.role for part in parts}
    if any(part.printed for part in parts):
        return card.say("need.use_printed")
    if {"base", "outer"} <= roles:
        return card.say("need.use_both")
    named = [role for role in ("base", "outer") if role in roles]
    return card.say(f"need.use_{named[0]}" if named else "need.use_any")


def _sheets(card: TheCard, number: int) -> str:
    return (
        card.say("need.sheets_one") if number == 1 else card.say("need.sheets", count=str(number))
    )


def _tape(card: TheCard) -> dict[float, float]:
    """Return tape by its width: what the flanges take, and round the outer card's two halves."""
    tapes: dict[float, float] = {}
    for beam in card.stripped:
        width = card.tape_of(beam)
        tapes[width] = tapes.get(width, 0.0) + 4 * (beam.v1 - beam.v0)
    widest, size = card.frame_tape, card.card
    tapes[widest] = tapes.get(widest, 0.0) + 4 * (size.height + size.half_width)
    return tapes


def tape_table(card: TheCard) -> tuple[tuple[str, ...], ...]:
    """Return for each beam's piece its tape and how long to cut it, heads first."""
    say = card.say
    rows = [say.several("glue.columns")]
    for name, number in card.numbers.items():
        beam = next((beam for beam in card.stripped if beam.part == name), None)
        if beam is None:
            continue
        length = np.floor(beam.v1 - beam.v0)
        numbers = (beam.flange, card.tape_of(beam), float(length))
        rows.append((str(number), *(say.number(value) for value in numbers)))
    return tuple(rows)


def _metres(length: float) -> float:
    return float(np.ceil(length * _SPARE / 100) / 10)


def _bristle(card: TheCard) -> dict[tuple[float, bool], float]:
    """Return the length needed by diameter, and by whether it is wire that stiffens."""
    lengths: dict[tuple[float, bool], float] = {}
    for part in card.hand:
        whole = sum(run.cut for run in runs(part))
        kind = (part.diameter, part.kind == STIFFENER)
        lengths[kind] = lengths.get(kind, 0.0) + whole * _SPARE
    return lengths


@dataclass(frozen=True, eq=False)
class Run:
    """One length of a part added by hand: its name, visible middle line, and mm of its lengths."""

    name: str
    line: FloatArray
    visible: float
    glued: float
    cut: float


def runs(part: HandPart) -> tuple[Run, ...]:
    """Return a part's lengths: its main line and, where it forks, one for each branch.

    A branch is glued alongside the main line for ``limits.FORK_OVERLAP``.
    """
    forked = len(part.branches) > 0
    name = f"{part.id}a" if forked else str(part.id)
    main = Run(name, part.path, part.length, run_length(part.overlap), part.cut_length)
    found = [main]
    for number, line in enumerate(part.branches, start=1):
        visible, glued = run_length(line), FORK_OVERLAP.value
        letter = "abcdefghijklmnopqrstuvwxyz"[min(number, 25)]
        found.append(Run(f"{part.id}{letter}", line, visible, glued, visible + glued))
    return tuple(found)


def run_length(line: FloatArray) -> float:
    """Return the length of a line (n, 2)."""
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def hand_table(card: TheCard) -> tuple[tuple[str, ...], ...]:
    """Return the list of parts to add, heads first."""
    if not card.hand:
        return ()
    say = card.say
    rows = [say.several("hand.columns")]
    for part in card.hand:
        for run in runs(part):
            lengths = (say.number(run.visible), say.number(run.glued), say.number(run.cut, 0))
            stiff = part.kind == STIFFENER
            rows.append((run.name, *lengths, material(card, part.diameter, stiff=stiff)))
    return tuple(rows)


_FIRST = ("wire", "bristle", "line", "thread", "paper")
"""What to take by default, best first: wire keeps its bend, the rest spring back."""


def _kinds(diameter: float) -> list[str]:
    found = {row.kind for row in suggestions(diameter)}
    order = _FIRST if diameter >= _WIRE_FROM else ("bristle", *_FIRST)
    return [kind for kind in dict.fromkeys(order) if kind in found]


_WIRE_FROM = 0.25
"""mm; a finer wire is cut by accident and pricks, so a bristle comes first."""


def material(card: TheCard, diameter: float, *, stiff: bool = False) -> str:
    """Return in words what a part of that diameter is made of, unless there is a reason not to.

    What is ``stiff`` must be steel.
    """
    say = card.say
    return say("hand.of", material=_named(card, diameter, stiff), diameter=say.mm(diameter, 2))


def _named(card: TheCard, diameter: float, stiff: bool) -> str:
    kinds = ["steel"] if stiff else _kinds(diameter)
    return card.say(f"material.{kinds[0]}") if kinds else card.say("hand.any")


def materials(card: TheCard) -> str:
    """Return what to take for all parts added by hand, each material with its diameters."""
    say = card.say
    named: dict[str, list[str]] = {}
    for diameter, stiff in sorted({(part.diameter, part.kind == STIFFENER) for part in card.hand}):
        named.setdefault(_named(card, diameter, stiff), []).append(say.mm(diameter, 2))
    return say.listed(
        [say("hand.of", material=name, diameter=say.listed(d)) for name, d in named.items()]
    )


def alternatives(card: TheCard, diameter: float) -> str:
    """Return what else a part can be made of, in brackets; empty where there is nothing."""
    say, kinds = card.say, _kinds(diameter)[1:]
    if not kinds:
        return ""
    return say("hand.instead", list=say.listed([say(f"material.{kind}") for kind in kinds], "or"))
