"""Rise against size: what this motif could be on this card at other rises."""

from collections.abc import Sequence

import numpy as np

from trace2pop.model.guide import Figure, Trade, Traded
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.sketch import Sketch

_LOWEST, _STEP, _ROWS = 5.0, 5.0, 7
_WIDE, _HIGH = 84.0, 40.0


def trade(card: TheCard, planned: Sequence[Traded] = ()) -> Trade:
    """Return the trade: its words, a table and a chart of width against rise.

    ``planned`` are other rises with their own size and beams; without them sizes are those that
    would close, the crease where it is.
    """
    say = card.say
    own = _own(card)
    rows = sorted((*planned, own), key=lambda row: row.rise) if planned else _sizes(card, own)
    table = [say.several("trade.columns")]
    for row in rows:
        size = say.size(*row.size, 0) if row.size else say("trade.none")
        beams = "" if row.beams is None else str(row.beams)
        table.append((say.mm(row.rise), size, beams, say("trade.own") if row is own else ""))
    most = say.mm(highest(card))
    text = say.several("trade.planned" if planned else "trade.text", most=most)
    return Trade(text, tuple(table), _chart(card, rows, own, planned=bool(planned)))


def _own(card: TheCard) -> Traded:
    left, top, right, foot = card.whole.bounds
    size = (float(right - left), float(foot - top))
    return Traded(card.card.rise, size, len(card.beams))


def highest(card: TheCard) -> float:
    """Return the highest rise at which the motif, as it is, would still close inside."""
    size = card.card
    return size.half_width - size.margin - (card.reach - size.web) - (size.web - size.rise)


def _sizes(card: TheCard, own: Traded) -> list[Traded]:
    size = card.card
    most = size.half_width - size.margin - (size.web - size.rise) - 15.0
    step = _STEP if most < 60 else 2 * _STEP
    rises = [rise for rise in np.arange(_LOWEST, most, step).tolist() if rise != own.rise]
    near = sorted(rises, key=lambda rise: (abs(rise - own.rise), rise))[: _ROWS - 1]
    rows = [own, *(_largest(card, float(rise)) for rise in near)]
    return sorted(rows, key=lambda row: row.rise)


def _largest(card: TheCard, rise: float) -> Traded:
    """Return the motif's size at a rise, its crease where it is, up to what head and foot allow.

    One that was made smaller so that it holds gets no larger: what it bends is the same there.
    """
    size = card.card
    left, top, right, foot = (card.motif if card.bends else card.whole).bounds
    room = size.half_width - size.margin - size.web + size.rise - rise
    scale = float(min(room / max(-left, right), size.window[1] / (foot - top)))
    if "sag" in card.cut.placed.limited_by:
        scale = min(scale, 1.0)
    return Traded(rise, ((right - left) * scale, (foot - top) * scale))


def _chart(card: TheCard, rows: list[Traded], own: Traded, *, planned: bool) -> Figure:
    say, sketch = card.say, Sketch()
    shown = [(row, row.size[0]) for row in rows if row.size]
    last = max(row.rise for row in rows) + 2.0
    top = 20.0 * float(np.ceil(max(width for _, width in shown) / 20.0))

    def at(rise: float, width: float) -> tuple[float, float]:
        return float(rise / last * _WIDE), float(_HIGH * (1 - width / top))

    sketch.line([at(0, top), at(0, 0), at(last, 0)], "axis")
    for width in np.arange(0, top + 1, 40.0).tolist():
        x, y = at(0, width)
        sketch.line([(x - 1.2, y), (x, y)], "axis")
        sketch.word(say.number(width, 0), (x, y), off=(-2.0, 1.0), anchor="end")
    for row in rows:
        x, y = at(row.rise, 0)
        sketch.line([(x, y), (x, y + 1.2)], "axis")
        sketch.word(say.number(row.rise), (x, y), off=(0.0, 4.6), bold=row is own)
    sketch.word(say("trade.across"), at(last, 0), off=(0.0, 9.0), anchor="end", tone="soft")
    sketch.word(say("trade.up"), at(0, top), off=(-6.0, -5.0), anchor="start", tone="soft")
    line = [at(row.rise, width) for row, width in shown]
    if not planned:
        fine = [_largest(card, rise) for rise in np.linspace(rows[0].rise, rows[-1].rise, 60)]
        line = [at(row.rise, row.size[0]) for row in fine if row.size]
    if len(line) > 1:
        sketch.line(line, "curve")
    for row, width in shown:
        place = at(row.rise, width)
        sketch.dot(place, 1.6 if row is own else 0.9, "pinhole")
        words = say.number(width, 0)
        words = f"{words} ({row.beams})" if planned else words
        sketch.word(words, place, off=(0.0, -2.6))
    key = "trade.caption_planned" if planned else "trade.caption"
    return sketch.figure(say("trade.alt"), say(key))
