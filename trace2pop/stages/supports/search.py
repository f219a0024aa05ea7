"""The fewest and shortest beams that hold: choose, look where it sags, choose again.

Every place found to sag becomes a row: one of the beams that would hold that place must be in.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from trace2pop.limits import FLANGE_GAP, SLIT_APART
from trace2pop.model.outline import FloatArray
from trace2pop.stages.supports.choose import Row, cheapest
from trace2pop.stages.supports.influence import Fold, Influence
from trace2pop.stages.supports.places import Stretch

BEAM = 1000.0
"""What a beam costs in mm of fold line: more than all lengths together: fewest first."""
_CALM = 1e-3
_ROUNDS = 80
_PLACES = 4


@dataclass(frozen=True, eq=False)
class Candidates:
    """Every fold line to choose from. Arrays (n,) but ``folds``; ``at`` holds their numbers.

    ``counts`` is 2 for a beam that stands for itself and its mirror image. ``longest`` marks
    the fold lines that no other on their stretch contains.
    """

    folds: tuple[Fold, ...]
    at: tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]
    u: FloatArray
    v0: FloatArray
    v1: FloatArray
    flange: FloatArray
    counts: FloatArray
    costs: FloatArray
    longest: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Found:
    """Beams that hold in the search's model, and how good they are.

    ``sag`` is the model's largest, ``bound`` the least cost proved for any set.
    """

    members: tuple[int, ...]
    cost: float
    bound: float
    sag: float
    rounds: int


class UnheldError(Exception):
    """A place sags over the limit whatever stands under the motif."""

    def __init__(self, point: FloatArray, sag: float) -> None:
        super().__init__()
        self.point = point
        self.sag = sag


def candidates(
    places: Sequence[Stretch], known: Influence, middle: float, *, mirrored: bool
) -> Candidates:
    """Return every fold line between two nodes of a stretch, long and short enough.

    A fold line that a wider flange could take is left to it. ``middle`` is the v beams are calmest
    about.
    """
    folds: list[Fold] = []
    for number, (place, nodes) in enumerate(zip(places, known.nodes, strict=True)):
        wider = [other for other in places if other.u == place.u and other.flange > place.flange]
        for first in range(len(nodes)):
            for last in range(first + 1, len(nodes)):
                v0, v1 = nodes[first], nodes[last]
                fits = place.least - 1e-9 <= v1 - v0 <= place.most + 1e-9
                if fits and not any(w.v0 <= v0 + 1e-9 and v1 <= w.v1 + 1e-9 for w in wider):
                    folds.append(Fold(number, first, last))
    own = np.array([fold.place for fold in folds], dtype=int)
    u = np.array([place.u for place in places])[own]
    flange = np.array([place.flange for place in places])[own]
    v0 = np.array([known.nodes[fold.place][fold.first] for fold in folds])
    v1 = np.array([known.nodes[fold.place][fold.last] for fold in folds])
    counts = np.where((u > 0) & mirrored, 2.0, 1.0)
    costs = counts * (BEAM + (v1 - v0) + _CALM * np.abs((v0 + v1) / 2 - middle))
    return Candidates(
        tuple(folds),
        _numbers(folds),
        u,
        v0,
        v1,
        flange,
        counts,
        costs,
        _longest(folds),
    )


def _numbers(
    folds: Sequence[Fold],
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    place, first, last = np.array([(f.place, f.first, f.last) for f in folds], dtype=np.int64).T
    return place, first, last


def _longest(folds: Sequence[Fold]) -> NDArray[np.bool_]:
    spans: dict[int, set[tuple[int, int]]] = {}
    for fold in folds:
        spans.setdefault(fold.place, set()).add((fold.first, fold.last))
    return np.array(
        [not ({(f.first - 1, f.last), (f.first, f.last + 1)} & spans[f.place]) for f in folds]
    )


@dataclass(eq=False)
class Search:
    """One search: the candidates, what is known of bending, and the rows found so far."""

    given: Candidates
    known: Influence
    limit: float
    share: float
    rows: list[Row] = field(default_factory=list)

    def run(self) -> Found:
        """Return the cheapest set that holds.

        Raises:
            UnheldError: where no choice holds a place.
        """
        # Longer beams hold more, so the fewest are found among the longest of each stretch.
        short = Row(np.flatnonzero(~self.given.longest), most=0)
        for number in range(1, _ROUNDS + 1):
            chosen = cheapest(self.given.costs, [*self.rows, short])
            if chosen is None:
                raise self.hopeless()
            members = chosen.members
            clashes = self.clashes(members)
            if clashes:
                self.rows += clashes
                continue
            sag = self.sag(members)
            places = self.sagging(sag)
            if not places:
                better = self.shortened(members)
                cost = float(self.given.costs[list(better)].sum())
                worst = float(np.abs(self.sag(better)).max())
                return Found(better, cost, chosen.bound, worst, number)
            for place in places:
                self.rows.append(self.holders(members, place))
        raise self.hopeless()

    def folds(self, members: Sequence[int]) -> list[Fold]:
        """Return the fold lines of ``members``."""
        return [self.given.folds[index] for index in members]

    def sag(self, members: Sequence[int]) -> FloatArray:
        """Return the sag (P,) of the motif on ``members``."""
        return self.known.sag(self.folds(members))

    def sagging(self, sag: FloatArray) -> list[int]:
        """Return the points that sag over the limit, worst first, none near another."""
        over = np.flatnonzero(np.abs(sag) > self.limit)
        order = over[np.argsort(-np.abs(sag[over]), kind="stable")]
        kept: list[int] = []
        for index in order:
            away = self.known.points[kept] - self.known.points[index]
            if not kept or np.hypot(away[:, 0], away[:, 1]).min() > _NEAR:
                kept.append(int(index))
            if len(kept) == _PLACES:
                break
        return kept

    def holders(self, members: Sequence[int], place: int) -> Row:
        """Return the row that asks for one of the beams that would hold ``place``.

        Those are the candidates which, added to the set or put in the place of one of its beams,
        bring the place within the limit; where none does alone, those that help most.
        """
        reached = np.full(len(self.given.folds), np.inf)
        for company in [members, *self.without_one(members)]:
            if company:
                reached = np.minimum(reached, self.added(company, place))
        reached[list(members)] = np.inf
        reached[~self.given.longest] = np.inf
        now = float(np.abs(self.sag(members)[place]))
        holding = np.flatnonzero(reached <= self.limit)
        if not len(holding):
            best = reached.min()
            if best > 0.98 * now:
                raise UnheldError(self.known.points[place], now)
            holding = np.flatnonzero(reached <= best + 0.5 * (now - best))
        return Row(holding, least=1)

    def added(self, company: Sequence[int], place: int | None) -> FloatArray:
        """Return (n,) the sag at ``place`` (largest anywhere: None) with each one added."""
        table = self.known.with_one_more(self.folds(company), place)
        return table[self.given.at]

    @staticmethod
    def without_one(members: Sequence[int]) -> list[tuple[int, ...]]:
        """Return the sets with one member left out."""
        return [tuple(m for m in members if m != out) for out in members]

    def shortened(self, members: tuple[int, ...]) -> tuple[int, ...]:
        """Return a set as good that no single exchange makes cheaper."""
        best = members
        while True:
            cost = float(self.given.costs[list(best)].sum())
            options: list[tuple[float, int, tuple[int, ...]]] = []
            for company in self.without_one(best):
                rest = float(self.given.costs[list(company)].sum())
                total = rest + self.given.costs
                holds = self.added(company, None) <= self.limit if company else total < 0
                cheaper = np.flatnonzero(holds & (total < cost - 1e-6))
                options += [(float(total[index]), int(index), company) for index in cheaper]
            for _, exchanged, company in sorted(options):
                trial = tuple(sorted((*company, exchanged)))
                if self.keeps_rows(trial) and not self.clashes(trial):
                    best = trial
                    break
            else:
                return best

    def keeps_rows(self, members: Sequence[int]) -> bool:
        """Whether the rows that stood from the start are kept."""
        return all(
            row.least <= np.isin(members, row.members).sum() <= row.most for row in self.rows[:3]
        )

    def clashes(self, members: Sequence[int]) -> list[Row]:
        """Return the rows that forbid beams of the set to meet."""
        found: list[Row] = []
        for number, one in enumerate(members):
            for other in members[number + 1 :]:
                at = meeting(self.given, one, other)
                if at is not None:
                    found.append(Row(self.over(*at), most=1))
        return found + self.too_much_on_a_line(members)

    def over(self, u: float, v: float) -> NDArray[np.int64]:
        """Return the candidates that cover a place, half of the gap to the next one included."""
        given = self.given
        aside = np.abs(given.u - u) < given.flange + FLANGE_GAP.value / 2
        pad = SLIT_APART.value / 2
        return np.flatnonzero(aside & (given.v0 - pad < v) & (v < given.v1 + pad))

    def too_much_on_a_line(self, members: Sequence[int]) -> list[Row]:
        """Return the rows that keep the slits on one line within their share of the base."""
        given, found = self.given, []
        for u in sorted({float(given.u[index]) for index in members}):
            own = [index for index in members if given.u[index] == u]
            if len(own) > 1 and float((given.v1 - given.v0)[own].sum()) > self.share:
                line = np.flatnonzero(given.u == u)
                found.append(Row(line, most=self.share, weights=(given.v1 - given.v0)[line]))
        return found

    def hopeless(self) -> UnheldError:
        """Return where the motif sags most with beams everywhere."""
        every = [Fold(k, 0, len(nodes) - 1) for k, nodes in enumerate(self.known.nodes)]
        sag = np.abs(self.known.sag(every))
        worst = int(np.argmax(sag))
        return UnheldError(self.known.points[worst], float(sag[worst]))


_NEAR = 15.0


def meeting(given: Candidates, one: int, other: int) -> tuple[float, float] | None:
    """Return a place (u, v) that two beams cover, gaps included; None where they don't meet."""
    gap, apart = FLANGE_GAP.value, SLIT_APART.value
    reach = given.flange[one] + given.flange[other] + gap
    if abs(given.u[one] - given.u[other]) >= reach - 1e-9:
        return None
    low, high = max(given.v0[one], given.v0[other]), min(given.v1[one], given.v1[other])
    if low - high >= apart - 1e-9:
        return None
    half = gap / 2
    sides = [
        (given.u[i] - given.flange[i] - half, given.u[i] + given.flange[i] + half)
        for i in (one, other)
    ]
    u = (max(s[0] for s in sides) + min(s[1] for s in sides)) / 2
    return float(u), float((low + high) / 2)
