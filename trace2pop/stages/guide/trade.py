"""Rise against size: what this motif could be on this card at other rises."""

from dataclasses import dataclass

import numpy as np

from trace2pop.model.guide import Figure, Trade
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.sketch import Sketch

_LOWEST, _STEP, _ROWS = 5.0, 5.0, 7
_WIDE, _HIGH = 84.0, 40.0


@dataclass(frozen=True)
class _Size:
    rise: float
    width: float
    height: float
    own: bool


def trade(card: TheCard) -> Trade:
    """Return the trade: its words, a table and a chart of width against rise."""
    say = card.say
    rows = _sizes(card)
    table = [say.several("trade.columns")]
    for row in rows:
        size = say.size(row.width, row.height, 0)
        mark = say("trade.own") if row.own else ""
        table.append((say.mm(row.rise), size, mark))
    most = say.mm(highest(card))
    return Trade(say.several("trade.text", most=most), tuple(table), _chart(card, rows))


def highest(card: TheCard) -> float:
    """Return the highest rise at which the motif, as it is, would still close inside."""
    size = card.card
    return size.half_width - size.margin - (card.reach - size.web) - (size.web - size.rise)


def _sizes(card: TheCard) -> list[_Size]:
    size = card.card
    own = size.rise
    most = size.half_width - size.margin - (size.web - own) - 15.0
    step = _STEP if most < 60 else 2 * _STEP
    rises = sorted({own, *np.arange(_LOWEST, most, step).tolist()})
    near = sorted(sorted(rises, key=lambda rise: (abs(rise - own), rise))[:_ROWS])
    return [_largest(card, float(rise)) for rise in near]


def _largest(card: TheCard, rise: float) -> _Size:
    """Return the motif's size at a rise, its crease where it is, up to what head and foot allow."""
    size = card.card
    left, top, right, foot = (card.motif if card.bends else card.whole).bounds
    room = size.half_width - size.margin - size.web + size.rise - rise
    scale = min(room / max(-left, right), size.window[1] / (foot - top))
    return _Size(rise, (right - left) * scale, (foot - top) * scale, rise == size.rise)


def _chart(card: TheCard, rows: list[_Size]) -> Figure:
    say, sketch = card.say, Sketch()
    last = max(row.rise for row in rows) + 2.0
    top = 20.0 * np.ceil(max(row.width for row in rows) / 20.0)

    def at(rise: float, width: float) -> tuple[float, float]:
        return float(rise / last * _WIDE), float(_HIGH * (1 - width / top))

    sketch.line([at(0, top), at(0, 0), at(last, 0)], "axis")
    for width in np.arange(0, top + 1, 40.0):
        x, y = at(0, float(width))
        sketch.line([(x - 1.2, y), (x, y)], "axis")
        sketch.word(say.number(float(width), 0), (x, y), off=(-2.0, 1.0), anchor="end")
    for row in rows:
        x, y = at(row.rise, 0)
        sketch.line([(x, y), (x, y + 1.2)], "axis")
        sketch.word(say.number(row.rise), (x, y), off=(0.0, 4.6), bold=row.own)
    sketch.word(say("trade.across"), at(last, 0), off=(0.0, 9.0), anchor="end", tone="soft")
    sketch.word(say("trade.up"), at(0, top), off=(-6.0, -4.0), anchor="start", tone="soft")
    fine = [_largest(card, float(rise)) for rise in np.linspace(rows[0].rise, rows[-1].rise, 60)]
    sketch.line([at(row.rise, row.width) for row in fine], "curve")
    for row in rows:
        place = at(row.rise, row.width)
        sketch.dot(place, 1.6 if row.own else 0.9, "pinhole")
        sketch.word(say.number(row.width, 0), place, off=(0.0, -2.6))
    return sketch.figure(say("trade.alt"), say("trade.caption"))
