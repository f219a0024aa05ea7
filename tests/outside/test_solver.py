"""The choice of beams against exhaustive search, on cases small enough to try every set.

Both judge a set by the same model of bending, so what is compared is the choosing: the set cover
that finds the fewest and the branch and bound that finds the least length.
"""

import itertools

import numpy as np
import pytest
import shapely

from tests import examples
from trace2pop.mechanism.predicates import Ground
from trace2pop.model.settings import SupportSettings
from trace2pop.stages.supports.candidates import Candidates, Sides, candidates
from trace2pop.stages.supports.choose import Row, cheapest
from trace2pop.stages.supports.fewest import Fewest, UnheldError
from trace2pop.stages.supports.growing import Growing
from trace2pop.stages.supports.influence import Influence, influence
from trace2pop.stages.supports.places import Room, stretches
from trace2pop.stages.supports.proof import sheet
from trace2pop.stages.supports.shortest import Shortest
from trace2pop.stages.supports.standing import Standing

MOST = 5
"""Sets of more beams than this are not tried out."""
LIFTING = (54, 74, 103)
"""Cases in which longer fold lines let an overhang sag a third further."""
BEHIND = (110, 134)
"""Cases that hold only with shorter beams, one behind the other, on lines too near."""
SHARED = (240,)
"""A case that is shorter with the beams shared otherwise between the halves."""
DIFFER = {312: "two beams on one line", 329: "an overhang that sags half as far again"}
"""Of 400 cases those in which exhaustive search finds shorter fold lines, and what with."""


def blob(rng: np.random.Generator) -> shapely.Polygon:
    """Return a random star-shaped motif of some 100 x 80 mm with paper on the crease."""
    angle = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    radius = 1 + sum(
        rng.uniform(-0.22, 0.22) * np.cos(k * angle + rng.uniform(0, 6)) for k in range(1, 5)
    )
    u = radius * np.cos(angle) * rng.uniform(40, 62)
    v = radius * np.sin(angle) * rng.uniform(30, 45) + 85.9
    return shapely.Polygon(np.column_stack([u, v])).buffer(0)


def case(seed: int) -> tuple[Candidates, Influence]:
    rng = np.random.default_rng(seed)
    shape = blob(rng)
    settings = SupportSettings()
    given = Room(
        ground=Ground(examples.CARD, shape, shapely.MultiPolygon(), 2.0, 280.0),
        paper=shape.buffer(-2),
        head=18.0,
        foot=153.8,
        far=100.0,
        longest=102.0,
        widths=(9.0, 5.0),
        taper_deg=45.0,
        clearance=1.0,
    )
    sides = np.arange(16.0, 70.0, 16.0)
    places = [s for u in (0.0, *-sides, *sides) for s in stretches(given, float(u))]
    plate = sheet(shape, examples.STOCKS, settings, shapely.MultiPolygon())
    known = influence(shape, places, plate, size=9.0, step=14.0)
    return candidates(places, known, given, mirrored=False), known


def needs(given: Candidates) -> list[Row]:
    return [Row(np.flatnonzero(side), least=1) for side in (given.u == 0, given.u > 0, given.u < 0)]


def every_set(given: Candidates, known: Influence, limit: float) -> tuple[int, float] | None:
    """Return count and length of the best set that holds, by trying all."""
    length = given.v1 - given.v0
    sides = [np.flatnonzero(side) for side in (given.u == 0, given.u > 0, given.u < 0)]
    for count in range(3, MOST):
        best = np.inf
        for split in ((1, 1, 1), (2, 1, 1), (1, 2, 1), (1, 1, 2)):
            if sum(split) != count:
                continue
            choices = [itertools.combinations(own, k) for own, k in zip(sides, split, strict=True)]
            sets = [tuple(map(int, itertools.chain(*own))) for own in itertools.product(*choices)]
            sets.sort(key=lambda own: float(length[list(own)].sum()))
            for own in sets:
                total = float(length[list(own)].sum())
                if total >= best:
                    break
                if given.apart(own) and np.abs(known.sag(given.chosen(own))).max() <= limit:
                    best = total
        if np.isfinite(best):
            return count, best
    return None


def chosen(given: Candidates, known: Influence, limit: float) -> tuple[int, float, float] | None:
    """Return count, length, and the length the search says no set goes below."""
    sides = Sides(given, known)
    fewest = Fewest(given, sides, needs(given), {})
    try:
        shortest = Shortest(Standing(given, sides, fewest.points))
        found = shortest.run(shortest.start(fewest, limit), limit)
    except UnheldError:
        return None
    length = (given.v1 - given.v0)[list(found.members)].sum()
    return len(found.members), float(length), float(length - (found.cost - found.bound))


def compare(seed: int) -> bool:
    """Return whether choice and exhaustive search agree; assert that the choice holds."""
    given, known = case(seed)
    limit = float(np.random.default_rng(1000 + seed).uniform(0.25, 1.2))
    tried, found = every_set(given, known, limit), chosen(given, known, limit)
    if tried is None:
        return found is None or found[0] >= MOST
    if found is None or found[0] != tried[0]:
        return False
    return found[1] <= tried[1] + 0.01 and found[2] <= tried[1] + 0.01


@pytest.mark.parametrize("seed", [*range(6), *LIFTING, *BEHIND, *SHARED])
def test_choice_is_the_best_there_is(seed: int) -> None:
    assert compare(seed)


@pytest.mark.parametrize("seed", range(3))
def test_room_beside_a_set_is_what_keeps_apart(seed: int) -> None:
    given, _ = case(seed)
    rng = np.random.default_rng(seed)
    options = np.flatnonzero(given.longest)
    members: tuple[int, ...] = ()
    for _ in range(5):
        fine = given.beside(members, options)
        slow = [o not in members and given.apart((*members, int(o))) for o in options]
        assert fine.tolist() == slow
        if not fine.any():
            break
        members = (*members, int(rng.choice(options[fine])))
    assert len(members) >= 3


@pytest.mark.parametrize("seed", range(4))
def test_grown_beams_hold(seed: int) -> None:
    """Grown beam by beam: never fewer than the best there is, and they hold."""
    given, known = case(seed)
    limit = float(np.random.default_rng(1000 + seed).uniform(0.25, 1.2))
    grown = Growing(given, known, np.flatnonzero(given.longest), needs(given), limit).run()
    best = chosen(given, known, limit)
    if best is None:
        return
    assert grown is not None
    assert np.abs(known.sag(given.chosen(grown))).max() <= limit
    assert given.apart(grown)
    assert best[0] <= len(grown) <= best[0] + 1


@pytest.mark.bench
def test_choice_is_the_best_there_is_in_four_hundred_cases() -> None:
    """A hundred were at hand when the search was written, three hundred came after."""
    assert [seed for seed in range(400) if not compare(seed)] == list(DIFFER)


def test_set_cover_against_exhaustive_search() -> None:
    rng = np.random.default_rng(3)
    for _ in range(40):
        count = 11
        costs = rng.integers(1, 30, count).astype(float)
        rows = [Row(np.flatnonzero(rng.random(count) < 0.35), least=1) for _ in range(6)] + [
            Row(np.flatnonzero(rng.random(count) < 0.3), most=1) for _ in range(3)
        ]
        sets = (own for k in range(count + 1) for own in itertools.combinations(range(count), k))
        fine = [
            costs[list(own)].sum()
            for own in sets
            if all(r.least <= np.isin(r.members, own).sum() <= r.most for r in rows)
        ]
        found = cheapest(costs, rows)
        assert (found is None) == (not fine)
        if found is not None:
            assert costs[list(found)].sum() == min(fine)
