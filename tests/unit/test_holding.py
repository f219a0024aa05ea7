"""Which size and which flanges are tried in which order, with stages that hold where told to."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests import examples
from trace2pop.errors import FitError, SupportError
from trace2pop.geometry.beziers import bounds
from trace2pop.holding import LEAST_SHARE, Holding
from trace2pop.model.card import CardPlan, PlacedMotif
from trace2pop.model.settings import Settings
from trace2pop.stages.supports import SagError

WIDTH = 180.0
Holds = Callable[[float, float], Exception | None]
"""What stops a plan of a width with a narrowest flange, if anything does."""


def wide(placed: PlacedMotif) -> float:
    left, _, right, _ = bounds(placed.outline.outer)
    return float(right - left)


def place(settings: Settings) -> PlacedMotif:
    width = settings.motif.width
    placed = examples.placed(width or WIDTH, (width or WIDTH) / 1.5)
    return replace(placed, limited_by=() if width else ("left", "right"))


def planned(
    holds: Holds, settings: Settings | None = None
) -> tuple[CardPlan, list[tuple[int, float]]]:
    """Return the plan, and what was tried: (width, narrowest flange)."""
    tried: list[tuple[int, float]] = []

    def plan(placed: PlacedMotif, chosen: Settings) -> CardPlan:
        narrow = min(chosen.supports.flanges)
        tried.append((round(wide(placed)), narrow))
        stop = holds(wide(placed), narrow)
        if stop is not None:
            raise stop
        made = examples.plan()
        first = replace(made.beams[0], flange=narrow)
        return replace(made, cut=replace(made.cut, placed=placed), beams=(first, *made.beams[1:]))

    return Holding(settings or Settings(), place, plan).run(), tried


def sags(excess: float) -> SagError:
    return SagError("the tail droops", "heavier paper", excess)


def told(plan: CardPlan) -> set[str]:
    return {item.rule for item in (*plan.cut.placed.findings, *plan.findings)}


def test_what_holds_is_not_touched() -> None:
    found, tried = planned(lambda width, narrow: None)
    assert tried == [(180, 5.0)]
    assert not told(found) & {"smaller-to-hold", "narrow-flange"}


def test_a_little_smaller_comes_before_narrow_flanges() -> None:
    found, tried = planned(lambda width, narrow: sags((width / 165) ** 4) if width > 165 else None)
    assert 160 < wide(found.cut.placed) <= 165
    assert {narrow for _, narrow in tried} == {5.0}
    assert found.cut.placed.limited_by == ("sag",)
    assert told(found) >= {"smaller-to-hold"}


def test_narrow_flanges_come_before_half_the_size_and_are_told_with_the_reason() -> None:
    found, _ = planned(lambda width, narrow: sags(20) if narrow > 3 and width > 100 else None)
    assert wide(found.cut.placed) == pytest.approx(WIDTH)
    (finding,) = (item for item in found.findings if item.rule == "narrow-flange")
    assert finding.where == "beam at +0 mm from the crease"
    assert (finding.measured, finding.limit) == (3.0, 5.0)
    assert "the tail droops" in finding.advice


def test_sizes_are_tried_from_the_largest_down_though_a_larger_one_failed() -> None:
    """It holds between 120 and 130 mm only, where a limb has room."""
    found, tried = planned(lambda width, narrow: None if 112 < width < 130 else sags(1.2))
    assert 112 < wide(found.cut.placed) < 130
    widths = [width for width, narrow in tried if narrow == 3.0]
    assert widths[0] == 180


def test_where_nothing_holds_it_says_what_was_tried() -> None:
    with pytest.raises(SupportError, match=rf"down to {LEAST_SHARE * WIDTH:.0f} mm wide") as caught:
        planned(lambda width, narrow: sags(2.0))
    assert caught.value.advice == "heavier paper"


def test_a_size_asked_for_is_never_changed() -> None:
    settings = replace(Settings(), motif=replace(Settings().motif, width=170.0))
    with pytest.raises(SagError, match="tail"):
        planned(lambda width, narrow: sags(1.1), settings)
    found, tried = planned(lambda width, narrow: sags(1.1) if narrow > 3 else None, settings)
    assert {width for width, _ in tried} == {170}
    assert "narrow-flange" in told(found)


def test_narrow_flanges_can_be_ruled_out() -> None:
    supports = replace(Settings().supports, last_flange=5.0)
    with pytest.raises(SupportError, match="tail"):
        planned(
            lambda width, narrow: sags(9.0) if narrow > 3 else None,
            replace(Settings(), supports=supports),
        )


def test_the_beam_on_the_crease_is_placed_for_usual_flanges_where_that_can_be() -> None:
    asked: list[float] = []

    def narrow_only(settings: Settings) -> PlacedMotif:
        asked.append(min(settings.supports.flanges))
        if asked[-1] > 3:
            raise FitError("no room on the crease", "")
        return place(settings)

    found = Holding(Settings(), narrow_only, lambda placed, _: examples.plan()).run()
    assert found.beams
    assert asked == [5.0, 3.0]


def test_a_crease_for_narrow_flanges_may_lie_where_both_halves_have_beams() -> None:
    """The usual crease leaves the left half no room; the one for 3 mm flanges lies elsewhere."""

    def at_the_left(settings: Settings) -> PlacedMotif:
        placed = place(settings)
        aside = 0.0 if min(settings.supports.flanges) > 3 else 25.0
        return replace(placed, to_card=placed.to_card + np.array([[0, 0, aside], [0, 0, 0]]))

    def plan(placed: PlacedMotif, chosen: Settings) -> CardPlan:
        if placed.to_card[0, 2] != at_the_left(chosen).to_card[0, 2]:
            raise SupportError("no beam has room on the left half", "")
        if min(chosen.supports.flanges) > 3:
            raise SupportError("no beam has room on the left half", "")
        return examples.plan()

    assert Holding(Settings(), at_the_left, plan).run().beams


def test_what_no_beams_could_hold_is_tried_much_smaller() -> None:
    """Where beams everywhere don't hold, a tenth less and a tenth less again only takes time."""

    def droops(width: float, narrow: float) -> SagError | None:
        excess = (width / 80) ** 4
        return SagError("it droops", "", excess, anywhere=True) if excess > 1 else None

    found, tried = planned(droops)
    assert 76 < wide(found.cut.placed) <= 80
    assert len(tried) <= 8


def test_a_wire_comes_where_no_size_holds_without() -> None:
    """With ``last`` beams alone are tried at every size first; with ``never`` no wire is."""

    def holds_wired(chosen: Settings) -> bool:
        return chosen.supports.stiffen == "first"

    tried: list[tuple[int, str]] = []

    def plan(placed: PlacedMotif, chosen: Settings) -> CardPlan:
        tried.append((round(wide(placed)), chosen.supports.stiffen))
        if not holds_wired(chosen):
            raise sags(2.0)
        made = examples.plan()
        return replace(made, cut=replace(made.cut, placed=placed))

    found = Holding(Settings(), place, plan).run()
    assert wide(found.cut.placed) == pytest.approx(WIDTH)
    assert tried[-1] == (180, "first")
    assert min(width for width, _ in tried) < 0.45 * WIDTH
    never = replace(Settings(), supports=replace(Settings().supports, stiffen="never"))
    with pytest.raises(SupportError, match="tail"):
        Holding(never, place, plan).run()
    first = replace(Settings(), supports=replace(Settings().supports, stiffen="first"))
    tried.clear()
    Holding(first, place, plan).run()
    assert tried == [(180, "first")]
