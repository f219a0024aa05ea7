"""The largest size at which beams hold, with flanges as wide as can be.

What the motif's window allows is tried first, then smaller sizes from the largest down. Flanges as
narrow as the last resort are taken only where no size near the largest holds without them.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from trace2pop.errors import FitError, FragileError, SupportError, Trace2popError
from trace2pop.geometry.beziers import bounds
from trace2pop.model.card import CardPlan, PlacedMotif, Stop
from trace2pop.model.finding import Finding
from trace2pop.model.settings import Settings
from trace2pop.stages.supports import SagError

LEAST_SHARE = 0.4
"""A motif that doesn't hold at this share of the size that closes is refused."""
NEARLY = 0.85
"""Down to this share a smaller motif is better than flanges of the last resort."""
WIRED = 0.6
"""Down to this share a motif with wires behind it is tried where nothing holds without."""
_LONGEST_STEP, _SHORTEST_STEP = 0.9, 0.985
_FAR_STEP = 0.75
"""The longest step where beams everywhere don't hold: a smaller motif has room for no more."""
_WORTH = 0.06
"""A gain in size worth another try."""

Place = Callable[[Settings], PlacedMotif]
Plan = Callable[[PlacedMotif, Settings], CardPlan]


@dataclass(frozen=True)
class Holding:
    """A motif on a card: ``place`` finds its size, ``plan`` its beams at that size.

    ``unplaced`` are settings known to leave no size: to say why takes long.
    """

    settings: Settings
    place: Place
    plan: Plan
    unplaced: list[Settings] = field(default_factory=list)

    def run(self) -> CardPlan:
        """Return the plan of the motif at the largest size that holds.

        Raises:
            Trace2popError: where the size or the beams were asked for and don't hold, or no size
                does.
        """
        try:
            return self.largest(self.settings)
        except SagError as error:
            refusal = error
        if self.settings.supports.stiffen == "last":
            wired = replace(self.settings.supports, stiffen="first")
            try:
                return self.largest(replace(self.settings, supports=wired), WIRED)
            except (FitError, SupportError):
                pass
        raise self.advised(refusal)

    def advised(self, refusal: SagError) -> SagError:
        """Return the refusal with the option that was tried and lets the motif hold, if any."""
        ways = (
            ("--inset 1.5mm", _with_inset(self.settings, 1.5)),
            ("--motif-stock cover-270", _on_heavier(self.settings)),
        )
        for option, changed in ways:
            if changed is None:
                continue
            try:
                plan = self.planned(_narrowed(changed) or changed)
            except (FitError, FragileError, SupportError):
                continue
            width = _width(plan.cut.placed)
            advice = f"say {option}: it holds then, {width:.0f} mm wide; or {refusal.advice}"
            return SagError(str(refusal), advice, refusal.excess, anywhere=refusal.anywhere)
        return refusal

    def largest(self, settings: Settings, least: float = LEAST_SHARE) -> CardPlan:
        """Return the plan at the largest size that holds, with flanges as wide as can be."""
        narrow = _narrowed(settings)
        try:
            return self.whole(settings)
        except (FitError, SupportError) as error:
            refusal = error
        if isinstance(refusal, FitError):
            self.unplaced.append(settings)
        found = self.smaller(settings, refusal, NEARLY if narrow else least)
        if found is not None:
            return found
        if narrow is None:
            raise self.nowhere(settings, refusal)
        try:
            return self.told_narrow(self.whole(narrow), refusal)
        except (FitError, SupportError) as error:
            found = self.smaller(narrow, error, least)
            if found is None:
                last = error if isinstance(error, SupportError) else refusal
                raise self.nowhere(narrow, last) from None
        return self.told_narrow(found, refusal)

    def nowhere(self, settings: Settings, refusal: FitError | SupportError) -> Trace2popError:
        """Return the refusal where no size holds; it says so where others were tried."""
        if isinstance(refusal, FitError):
            return refusal
        placed = self.placed(settings)
        if not self.free(placed):
            return refusal
        least = LEAST_SHARE * _width(placed)
        text = f"{refusal}; it was tried smaller, too, down to {least:.0f} mm wide"
        if isinstance(refusal, SagError):
            return SagError(text, refusal.advice, refusal.excess, anywhere=refusal.anywhere)
        return SupportError(text, refusal.advice)

    def free(self, placed: PlacedMotif) -> bool:
        """Whether the size may be chosen: neither it nor beams for it were asked for."""
        beams = self.settings.supports
        asked = bool(beams.beam) or beams.only_given or beams.count is not None
        return bool(placed.limited_by) and not asked

    def whole(self, settings: Settings) -> CardPlan:
        """Return the plan at the size asked for, or else at the largest one that closes."""
        return self.planned(settings)

    def planned(self, settings: Settings, limited_by: tuple[Stop, ...] | None = None) -> CardPlan:
        """Return the plan at the size the settings lead to.

        A crease wide enough for the usual flanges comes first; where it leaves no room for beams
        beside it, one that takes narrower flanges, too, may lie elsewhere.
        """
        placed = self.placed(settings)
        try:
            return self.plan(_limited(placed, limited_by), settings)
        except SagError:
            raise
        except SupportError:
            if settings.supports.flanges == self.settings.supports.flanges:
                raise
            other = self.place(settings)
            if np.array_equal(other.to_card, placed.to_card):
                raise
        return self.plan(_limited(other, limited_by), settings)

    def placed(self, settings: Settings) -> PlacedMotif:
        """Return the motif placed; a beam on the crease that is wide enough to glue comes first."""
        flanges = self.settings.supports.flanges
        usual = replace(settings, supports=replace(settings.supports, flanges=flanges))
        if usual != settings and usual not in self.unplaced:
            try:
                return self.place(usual)
            except FitError:
                self.unplaced.append(usual)
        return self.place(settings)

    def smaller(self, settings: Settings, refusal: Exception, least: float) -> CardPlan | None:
        """Return the plan at the largest size found to hold, from the whole size down.

        None where none does, or size or beams were asked for. What holds at a size needn't hold at
        a smaller one, where fewer limbs have room for a beam: so the largest are tried first.
        """
        if isinstance(refusal, FitError):
            return None
        placed = self.placed(settings)
        if not self.free(placed):
            return None
        width, best, fails = _width(placed), None, 1.0
        share = fails * _step(refusal)
        while share >= least:
            try:
                best = self.at(settings, width * share)
            except (FitError, FragileError):
                break
            except SupportError as error:
                if best is not None:
                    break
                if placed.symmetric and not isinstance(error, SagError):
                    break
                fails, share = share, share * _step(error)
                continue
            if fails - share < _WORTH:
                break
            share = (share + fails) / 2
        return None if best is None else _told_smaller(best, width, refusal)

    def at(self, settings: Settings, width: float) -> CardPlan:
        """Return the plan of the motif ``width`` wide."""
        asked = replace(settings.motif, width=round(width, 1))
        return self.planned(replace(settings, motif=asked), ("sag",))

    def told_narrow(self, plan: CardPlan, refusal: Exception) -> CardPlan:
        """Return the plan with a finding that names the beams with flanges of the last resort."""
        usual = min(self.settings.supports.flanges)
        beams = [beam for beam in plan.beams if beam.flange < usual]
        if not beams:
            return plan
        places = ", ".join(f"{beam.u:+.0f}" for beam in sorted(beams, key=lambda beam: beam.u))
        finding = Finding(
            rule="narrow-flange",
            severity="warning",
            where=f"{'beam' if len(beams) == 1 else 'beams'} at {places} mm from the crease",
            measured=round(min(beam.flange for beam in beams), 1),
            limit=round(usual, 1),
            advice=(
                f"With flanges of {usual:.0f} mm or more there is no plan: {refusal}. Tape is "
                "wider than flanges this narrow: glue them with a thin line of white glue from a "
                "fine tip. A larger card or a wider feature there makes them wider; --last-flange "
                f"{usual:.0f}mm rules them out."
            ),
        )
        return replace(plan, findings=(*plan.findings, finding))


def _narrowed(settings: Settings) -> Settings | None:
    """Return the settings with flanges of the last resort, None where they are no narrower."""
    beams = settings.supports
    if beams.last_flange >= min(beams.flanges):
        return None
    flanges = (*beams.flanges, beams.last_flange)
    return replace(settings, supports=replace(beams, flanges=flanges))


def _with_inset(settings: Settings, inset: float) -> Settings | None:
    """Return the settings with a smaller inset: beams have room in slimmer limbs."""
    beams = settings.supports
    return replace(settings, supports=replace(beams, inset=inset)) if beams.inset > inset else None


def _on_heavier(settings: Settings) -> Settings | None:
    """Return the settings with the heaviest listed paper for the motif, where it is a lighter."""
    if settings.stock.motif not in ("cover-176", "cover-216"):
        return None
    return replace(settings, stock=replace(settings.stock, motif="cover-270"))


def _step(refusal: Exception) -> float:
    """Return by what to make the motif smaller: what overhangs sags as its length's 4th power."""
    if not isinstance(refusal, SagError):
        return 0.95
    least = _FAR_STEP if refusal.anywhere else _LONGEST_STEP
    return float(min(max(refusal.excess**-0.25, least), _SHORTEST_STEP))


def _told_smaller(plan: CardPlan, could: float, refusal: Exception) -> CardPlan:
    """Return the plan with a finding that says why it is smaller than what closes."""
    placed = plan.cut.placed
    width = _width(placed)
    finding = Finding(
        rule="smaller-to-hold",
        severity="warning",
        where="motif",
        measured=round(width, 1),
        limit=round(could, 1),
        advice=(
            f"{could:.0f} mm wide it would close, but {refusal}. So it is made {width:.0f} mm "
            "wide, where it holds. A steel wire glued behind what droops (--stiffen first), "
            "heavier paper for the motif (--motif-stock), a wider feature there or a larger "
            "--sag-limit let it be larger."
        ),
    )
    told = replace(placed, findings=(*placed.findings, finding))
    return replace(plan, cut=replace(plan.cut, placed=told))


def _limited(placed: PlacedMotif, by: tuple[Stop, ...] | None) -> PlacedMotif:
    return placed if by is None else replace(placed, limited_by=by)


def _width(placed: PlacedMotif) -> float:
    left, _, right, _ = bounds(placed.outline.outer)
    return right - left
