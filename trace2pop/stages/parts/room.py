"""Whether pieces go onto the cutter's sheet: as they should lie, across the grain, or in halves."""

from collections.abc import Callable

from trace2pop.errors import SheetError
from trace2pop.mechanism import sheet
from trace2pop.model.finding import Finding
from trace2pop.model.pieces import Part
from trace2pop.model.stock import Cutter
from trace2pop.stages.parts.halves import Joint, in_halves

Draw = Callable[[float], Part]
"""Draws a piece for a grain direction in degrees."""


_WAYS_ON = {
    "motif": "choose paper in larger sheets (--motif-stock) and a cutter that takes them "
    "(--cutter), or a smaller motif (--width or --height)",
    "envelope": "leave the envelope out and buy one, or choose paper in larger sheets and a cutter "
    "that takes them (--cutter)",
    "base": "choose paper in larger sheets and a cutter that takes them (--cutter), or a smaller "
    "card (--card)",
}
"""What to do where a piece is too large, by its role."""


class Room:
    """Fits pieces to one cutter and gathers what the maker should know about it."""

    def __init__(self, cutter: Cutter) -> None:
        self.cutter = cutter
        self.findings: list[Finding] = []

    def whole(self, draw: Draw, grain_deg: float) -> Part:
        """Return the piece in one, with its grain as wanted or, where only that fits, across.

        Raises:
            SheetError: where it fits neither way.
        """
        part = self._one(draw, grain_deg)
        if part is None:
            raise self._too_large(draw(grain_deg))
        return part

    def or_halves(
        self, draw: Draw, grain_deg: float, joint: Callable[[], Joint]
    ) -> tuple[Part, ...]:
        """Return the piece in one or, where it is too large, in two halves with hinge strips.

        Raises:
            SheetError: where even a half is too large, or no strip has room.
        """
        part = self._one(draw, grain_deg)
        if part is not None:
            return (part,)
        whole, joined = draw(grain_deg), joint()
        for grain in (grain_deg, (grain_deg + 90) % 180):
            pieces = in_halves(draw(grain), joined)
            if all(self._fits(piece) for piece in pieces):
                self._say_halves(whole, joined)
                if grain != grain_deg:
                    self._say_across(whole)
                return pieces
        raise self._too_large(in_halves(whole, joined)[0])

    def _one(self, draw: Draw, grain_deg: float) -> Part | None:
        part = draw(grain_deg)
        if self._fits(part):
            return part
        across = draw((grain_deg + 90) % 180)
        if self._fits(across):
            self._say_across(across)
            return across
        return None

    def _fits(self, part: Part) -> bool:
        return sheet.fits(part.size, part.grain_deg, part.stock, self.cutter)

    def _too_large(self, part: Part) -> SheetError:
        room = sheet.usable(part.stock, self.cutter)
        return SheetError(
            f"the {part.title} is {part.size[0]:.1f} x {part.size[1]:.1f} mm, but "
            f"{part.stock.title} on {self.cutter.the} has room for "
            f"{room[0]:.1f} x {room[1]:.1f} mm",
            _WAYS_ON.get(part.role if part.name != "envelope" else part.name, _WAYS_ON["base"]),
        )

    def _say_across(self, part: Part) -> None:
        advice = {
            "motif": "the sag was worked out for grain along the crease; a stack of this stock "
            "with its grain the other way, or a larger sheet, keeps to that",
            "beam": "score its folds well: they run across the grain",
        }.get(part.role, "score its fold well, it runs across the grain; a larger sheet avoids it")
        self._add("grain-across", part, max(part.size), min(self._room(part)), advice)

    def _say_halves(self, part: Part, joint: Joint) -> None:
        self._add(
            "piece-in-two",
            part,
            max(part.size),
            max(self._room(part)),
            f"it is made of two halves and a hinge strip that joins {joint.held:.0f} mm of its "
            f"{part.size[1]:.0f} mm; the joint bends more easily than whole paper and is one paper "
            "thicker, so a larger cutter makes a crisper card",
        )

    def _room(self, part: Part) -> tuple[float, float]:
        return sheet.usable(part.stock, self.cutter)

    def _add(self, rule: str, part: Part, measured: float, limit: float, advice: str) -> None:
        if part.set == "mockup":
            return  # a trial piece: how it is made matters to nobody
        self.findings.append(Finding(rule, "warning", part.title, measured, limit, advice))
