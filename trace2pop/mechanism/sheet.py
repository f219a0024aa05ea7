"""What a sheet on the cutter has room for, which way the grain lies, where a piece comes to lie."""

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from trace2pop.geometry import beziers, chains
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Part, Placement, Step, Stroke
from trace2pop.model.stock import Cutter, Stock

_SLACK = 1e-6


def sheet_size(stock: Stock, cutter: Cutter) -> tuple[float, float]:
    """Return the sheet's size as it goes onto the cutter: trimmed where it is larger."""
    return min(stock.sheet[0], cutter.area[0]), min(stock.sheet[1], cutter.area[1])


def usable(stock: Stock, cutter: Cutter) -> tuple[float, float]:
    """Return width and height of what the cutter reaches on a sheet, its edges kept clear."""
    width, height = sheet_size(stock, cutter)
    return width - 2 * cutter.inset, height - 2 * cutter.inset


def turns(grain_deg: float, stock: Stock) -> tuple[float, float] | None:
    """Return the two turns that bring a piece's grain onto the sheet's, None where none does.

    Only quarter turns count.
    """
    turn = (stock.grain_deg - grain_deg) % 180
    return (turn, turn + 180) if math.isclose(turn % 90, 0, abs_tol=1e-9) else None


def turned_size(size: tuple[float, float], turn_deg: float) -> tuple[float, float]:
    """Return the box of a piece after a quarter turn."""
    return size if turn_deg % 180 == 0 else (size[1], size[0])


def fits(size: tuple[float, float], grain_deg: float, stock: Stock, cutter: Cutter) -> bool:
    """Whether a piece of that size and grain goes onto one sheet."""
    allowed = turns(grain_deg, stock)
    if allowed is None:
        return False
    width, height = turned_size(size, allowed[0])
    room = usable(stock, cutter)
    return width <= room[0] + _SLACK and height <= room[1] + _SLACK


def to_sheet(part: Part, placement: Placement) -> FloatArray:
    """Return the affine matrix (2, 3) from the piece's mm to the sheet's.

    The turn is clockwise on the page; ``placement`` names the corner of the turned box.
    """
    quarter = round(placement.rotation_deg / 90) % 4
    cos, sin = ((1, 0), (0, 1), (-1, 0), (0, -1))[quarter]
    width, height = part.size
    shift = ((0.0, 0.0), (height, 0.0), (width, height), (0.0, width))[quarter]
    return np.array(
        [[cos, -sin, placement.x + shift[0]], [sin, cos, placement.y + shift[1]]], dtype=float
    )


def in_order(part: Part, steps: Iterable[Step]) -> list[Stroke]:
    """Return a piece's strokes as the tool runs them, what no tool runs after them.

    Without steps the strokes come in the piece's own order.
    """
    by_id = {stroke.id: stroke for stroke in part.strokes}
    run = [_as_run(by_id.pop(step.stroke), step) for step in steps]
    return [*run, *by_id.values()]


def _as_run(stroke: Stroke, step: Step) -> Stroke:
    if step.backward:
        return replace(stroke, line=beziers.reverse(stroke.line))
    return replace(stroke, line=chains.restarted(stroke.line, step.start))
