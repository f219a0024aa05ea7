"""As few sheets as can be found: many ways to fill one sheet, then the fewest of them that do.

The cutting-stock method of Gilmore and Gomory (Operations Research 9, 1961): ways to fill a sheet
are gathered, a linear program says what each kind of piece is worth beside them, and the sheet is
filled anew with what is worth most, until that adds nothing. An integer program then chooses.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from trace2pop.model.outline import FloatArray
from trace2pop.stages.sheets.kinds import Kind, Layout, Order, counts, in_corner

Fill = Callable[[Order], Iterable[Layout]]
"""Fills one sheet in a given order, in one or several ways."""

_MOST_NODES = 20000
_GAIN = 1e-6


@dataclass(eq=False)
class Patterns:
    """Ways to fill a sheet with some kinds of pieces, by how many of each kind they hold.

    ``least`` is a number of sheets that no way can do without.
    """

    kinds: Sequence[Kind]
    least: int
    known: dict[tuple[int, ...], tuple[Layout, Fill]] = field(default_factory=dict)
    _tried: set[tuple[int, Order]] = field(default_factory=set)

    def gather(self, fill: Fill, rounds: int, leading: int) -> None:
        """Fill sheets by ``fill``: in plain orders first, then ``rounds`` times by what pays.

        ``leading`` is how many of one kind, at most, are tried before all others.
        """
        self._try(fill, self._plain())
        if not self._few():
            # Each kind leads once, all worth their size: often that is enough, without a programme.
            sizes = np.array([kind.width * kind.height for kind in self.kinds])
            self._try(fill, self._by_worth(sizes, leading))
        for _ in range(0 if self._few() else rounds):
            worth, _ = self._worth()
            before = set(self.known)
            self._try(fill, self._by_worth(worth, leading))
            new = [np.array(key) @ worth for key in self.known if key not in before]
            if not new or max(new) <= 1 + _GAIN:
                return

    def fewest(self) -> list[Layout]:
        """Return one layout a sheet: the fewest sheets of the known ways that hold every piece.

        Fullest sheets come first; what is laid once too often is left off the last ones, and what
        stays is moved together.
        """
        few = self._few()
        if few:
            return list(self._without_extras(few))
        from scipy.optimize import Bounds, LinearConstraint, milp  # slow to import

        keys = sorted(self.known)
        table = np.array(keys, dtype=float).T
        demand = np.array([kind.count for kind in self.kinds], dtype=float)
        result = milp(
            np.ones(len(keys)),
            constraints=LinearConstraint(table, lb=demand),
            integrality=np.ones(len(keys)),
            bounds=Bounds(0, np.inf),
            options={"node_limit": _MOST_NODES, "mip_rel_gap": 0.0},
        )
        times = result.x if result.x is not None else np.ceil(self._worth()[1] - _GAIN)
        chosen = [key for key, n in zip(keys, times, strict=True) for _ in range(round(n))]
        return list(self._without_extras(sorted(chosen, key=self._fullest)))

    def _few(self) -> list[tuple[int, ...]]:
        """Return one or two known ways that hold every piece, where no fewer sheets could.

        Empty where there are none: then a programme looks for the fewest.
        """
        wanted = tuple(kind.count for kind in self.kinds)
        if self.least <= 1 and wanted in self.known:
            return [wanted]
        ranked = sorted(self.known, key=self._fullest) if self.least == 2 else []
        for number, one in enumerate(ranked):
            left = [most - count for most, count in zip(wanted, one, strict=True)]
            for other in ranked[number:]:
                if all(count >= open_ for count, open_ in zip(other, left, strict=True)):
                    return [one, other]
        return []

    def _fullest(self, key: tuple[int, ...]) -> tuple[float, tuple[int, ...]]:
        """Return what sorts ways to fill a sheet, the fullest first."""
        kinds = zip(key, self.kinds, strict=True)
        return -sum(count * kind.width * kind.height for count, kind in kinds), key

    def _without_extras(self, chosen: Sequence[tuple[int, ...]]) -> Iterator[Layout]:
        left = [kind.count for kind in self.kinds]
        for key in chosen:
            kept = []
            layout, fill = self.known[key]
            for spot in layout:
                if left[spot.kind]:
                    left[spot.kind] -= 1
                    kept.append(spot)
            if kept:
                yield layout if len(kept) == len(layout) else self._together(tuple(kept), fill)

    def _together(self, layout: Layout, fill: Fill) -> Layout:
        """Return the pieces of a sheet laid anew, where that needs less of its height."""
        wanted = counts(layout, self.kinds)
        order = tuple((number, wanted[number]) for number in self._ranked() if wanted[number])
        anew = [found for found in fill(order) if counts(found, self.kinds) == wanted]
        return min((in_corner(layout), *anew), key=self._height)

    def _height(self, layout: Layout) -> float:
        return max(spot.y + self.kinds[spot.kind].height for spot in layout)

    def _ranked(self) -> list[int]:
        """Return the kinds' numbers, largest pieces first."""
        return sorted(
            range(len(self.kinds)),
            key=lambda number: (-self.kinds[number].width * self.kinds[number].height, number),
        )

    def _try(self, fill: Fill, orders: Iterable[Order]) -> None:
        for order in orders:
            if (id(fill), order) not in self._tried:
                self._tried.add((id(fill), order))
                for layout in fill(order):
                    self.known.setdefault(counts(layout, self.kinds), (layout, fill))

    def _plain(self) -> Iterator[Order]:
        """Yield orders that make no use of what pays: by size, and each kind alone."""
        sizes: tuple[Callable[[Kind], float], ...] = (
            lambda kind: kind.width * kind.height,
            lambda kind: max(kind.width, kind.height),
            lambda kind: min(kind.width, kind.height),
            lambda kind: kind.height,
        )
        every = range(len(self.kinds))
        for size in sizes:
            ranked = sorted(every, key=lambda number: (-size(self.kinds[number]), number))
            yield tuple((number, self.kinds[number].count) for number in ranked)
        for number in every:
            yield ((number, self.kinds[number].count),)

    def _by_worth(self, worth: FloatArray, leading: int) -> Iterator[Order]:
        """Yield orders that begin with some of one kind and go on with what is worth most."""
        value = [w / (kind.width * kind.height) for w, kind in zip(worth, self.kinds, strict=True)]
        ranked = sorted(range(len(self.kinds)), key=lambda number: (-value[number], number))
        rest = tuple((number, self.kinds[number].count) for number in ranked)
        yield rest
        for number in ranked:
            most = max(key[number] for key in self.known)
            for few in range(min(most, leading, self.kinds[number].count), 0, -1):
                others = tuple(entry for entry in rest if entry[0] != number)
                left = self.kinds[number].count - few
                yield ((number, few), *others, (number, left))

    def _worth(self) -> tuple[FloatArray, FloatArray]:
        """Return what a piece of each kind is worth, in sheets, and how often each way is used."""
        from scipy.optimize import linprog  # slow to import

        table = np.array(sorted(self.known), dtype=float).T
        demand = np.array([kind.count for kind in self.kinds], dtype=float)
        result = linprog(np.ones(table.shape[1]), A_ub=-table, b_ub=-demand, method="highs")
        return -result.ineqlin.marginals, result.x
