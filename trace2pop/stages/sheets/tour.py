"""Short ways past lines that may be run from either end, and past whole pieces."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from trace2pop.model.outline import FloatArray

_MOST_EXACT = 9
_MOST_STARTS = 8
_MOVED = 3
_GAIN = 1e-9

_OUT = -1


def line_order(ends: FloatArray, here: FloatArray, ahead: FloatArray) -> list[int]:
    """Return a short order of lines with ends (n, 2, 2), begun at ``here``.

    The way ends near one of the points ``ahead`` (m, 2), anywhere where there are none. From the
    nearest-neighbour way out of several first lines, 2-opt (Croes, Operations Research 6, 1958) and
    the moving of short stretches (Or, 1976) go on while they help; the best is kept.
    """
    count = len(ends)
    if count < 2:
        return list(range(count))
    ways = _Ways(ends.reshape(-1, 2), here, ahead)
    firsts = sorted(range(2 * count), key=lambda node: ways.step(_OUT, node))[:_MOST_STARTS]
    found = [ways.improved(ways.nearest(first)) for first in firsts]
    return [node // 2 for node in min(found, key=ways.length)]


class _Ways:
    """Ways past lines: node 2n enters a line at its first end, 2n + 1 at its last.

    A line entered at a node is left at the other one (node xor 1). ``_OUT`` stands for where the
    tool comes from and where it goes to.
    """

    def __init__(self, nodes: FloatArray, here: FloatArray, ahead: FloatArray) -> None:
        self.lines = len(nodes) // 2
        gaps = np.linalg.norm(nodes[:, None] - nodes[None], axis=2)
        table = np.zeros((len(nodes) + 1, len(nodes) + 1))
        leave = np.arange(len(nodes)) ^ 1
        table[:-1, :-1] = gaps[leave]
        table[-1, :-1] = np.linalg.norm(nodes - here, axis=1)
        if len(ahead):
            table[:-1, -1] = np.linalg.norm(nodes[leave][:, None] - ahead, axis=2).min(axis=1)
        self.table: list[list[float]] = table.tolist()

    def step(self, node: int, following: int) -> float:
        """Return the way from the end of one line to the entry of another."""
        return self.table[node][following]

    def length(self, way: list[int]) -> float:
        """Return the whole way between the lines."""
        return sum(self.table[a][b] for a, b in pairwise([_OUT, *way, _OUT]))

    def nearest(self, first: int) -> list[int]:
        """Return the way that goes on to the nearest end each time."""
        way, left = [first], set(range(self.lines)) - {first // 2}
        while left:
            ends = (node for line in sorted(left) for node in (2 * line, 2 * line + 1))
            way.append(min(ends, key=self.table[way[-1]].__getitem__))
            left.discard(way[-1] // 2)
        return way

    def improved(self, way: list[int]) -> list[int]:
        """Return the way changed for the better until no change helps."""
        while self._turn(way) or self._move(way):
            pass
        return way

    def _turn(self, way: list[int]) -> bool:
        """Run stretches backwards where that shortens the way; say whether any was."""
        table, better = self.table, False
        for i in range(len(way)):
            before = way[i - 1] if i else _OUT
            for j in range(i, len(way)):
                after = way[j + 1] if j + 1 < len(way) else _OUT
                gain = table[before][way[i]] + table[way[j]][after]
                gain -= table[before][way[j] ^ 1] + table[way[i] ^ 1][after]
                if gain > _GAIN:
                    way[i : j + 1] = [node ^ 1 for node in reversed(way[i : j + 1])]
                    better = True
        return better

    def _move(self, way: list[int]) -> bool:
        """Move one short stretch elsewhere, either way round, where that helps most."""
        table = self.table
        best, change = _GAIN, None
        for size in range(1, min(_MOVED, len(way) - 1) + 1):
            for i in range(len(way) - size + 1):
                first, last = way[i], way[i + size - 1]
                rest = [_OUT, *way[:i], *way[i + size :], _OUT]
                gain = (
                    table[rest[i]][first] + table[last][rest[i + 1]] - table[rest[i]][rest[i + 1]]
                )
                if gain <= best:
                    continue
                for place, (before, after) in enumerate(pairwise(rest)):
                    open_ = gain + table[before][after]
                    straight = open_ - table[before][first] - table[last][after]
                    turned = open_ - table[before][last ^ 1] - table[first ^ 1][after]
                    if max(straight, turned) > best:
                        best, change = max(straight, turned), (i, size, place, turned > straight)
        if change is None:
            return False
        i, size, place, turn = change
        stretch = way[i : i + size]
        rest = way[:i] + way[i + size :]
        piece = [node ^ 1 for node in reversed(stretch)] if turn else stretch
        way[:] = rest[:place] + piece + rest[place:]
        return True


def piece_order(between: FloatArray, start: FloatArray) -> list[int]:
    """Return a short order of pieces: ``between[a, b]`` is the way from a to b, ``start`` to each.

    Exact (Held and Karp, 1962) for a few pieces; else the best of several nearest-neighbour orders,
    in which short stretches are moved (Or, 1976) and stretches turned round (2-opt) while it helps.
    """
    count = len(start)
    if count > _MOST_EXACT:
        firsts = np.argsort(start, kind="stable")[:_MOST_STARTS]
        found = [_improved(_nearest_pieces(between, int(n)), between, start) for n in firsts]
        return min(found, key=lambda way: _way_length(way, between, start))
    best: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {
        (1 << n, n): (float(start[n]), (n,)) for n in range(count)
    }
    for _ in range(count - 1):
        longer: dict[tuple[int, int], tuple[float, tuple[int, ...]]] = {}
        for (done, at), (length, way) in best.items():
            for n in range(count):
                if not done & 1 << n:
                    key = done | 1 << n, n
                    found_here = length + float(between[at, n]), (*way, n)
                    if key not in longer or found_here < longer[key]:
                        longer[key] = found_here
        best = longer
    return list(min(best.values())[1]) if best else []


def _nearest_pieces(between: FloatArray, first: int) -> list[int]:
    way = [first]
    left = [n for n in range(len(between)) if n != first]
    while left:
        way.append(min(left, key=lambda n: float(between[way[-1], n])))
        left = [n for n in left if n != way[-1]]
    return way


def _way_length(way: Sequence[int], between: FloatArray, start: FloatArray) -> float:
    return float(start[way[0]] + between[way[:-1], way[1:]].sum())


def _improved(way: list[int], between: FloatArray, start: FloatArray) -> list[int]:
    """Return the order changed by the best single change, again and again until none helps."""
    length = _way_length(way, between, start)
    while True:
        tried = ((_way_length(new, between, start), new) for new in _changed(way))
        shorter, new = min(tried)
        if shorter > length - _GAIN:
            return way
        length, way = shorter, new


def _changed(way: list[int]) -> Iterator[list[int]]:
    """Yield the order with each stretch turned round, and each short one moved elsewhere."""
    count = len(way)
    for i in range(count):
        for j in range(i + 2, count + 1):
            yield way[:i] + way[i:j][::-1] + way[j:]
    for size in range(1, _MOVED + 1):
        for i in range(count - size + 1):
            stretch, rest = way[i : i + size], way[:i] + way[i + size :]
            yield from (rest[:n] + stretch + rest[n:] for n in range(len(rest) + 1) if n != i)
