"""What is out of the ordinary with this card, told at the step it concerns."""

from collections.abc import Iterator

from trace2pop.model.finding import Finding
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.flat import piece_title
from trace2pop.units import place_of

_STEPS = {
    "cut": ("weak", "sheet-trimmed"),
    "crease": ("grain-across", "unscored-crossing", "unscored-fold", "crease-held", "free-end"),
    "fold": ("grain-across",),
    "hand": ("short-overlap", "needle-tip", "hand-part-shows"),
    "check": ("shows-when-closed", "thick-for-a-letter"),
}
"""Rules by the step whose guest can do something about them."""

_TOGETHER = ("weak", "free-end")
"""Limbs have many thin places and ends: one line tells of all."""


def about(card: TheCard, step: str) -> tuple[str, ...]:
    """Return what was found that the step's reader should know, in the guide's language."""
    return tuple(dict.fromkeys(line[:1].upper() + line[1:] for line in _words(card, step)))


def _words(card: TheCard, step: str) -> Iterator[str]:
    say = card.say
    for finding in _findings(card):
        if finding.rule not in _STEPS[step] or finding.rule in _TOGETHER:
            continue
        if finding.rule == "grain-across" and (step == "fold") != _is_beam(card, finding.where):
            continue
        key = f"found.{finding.rule.replace('-', '_')}"
        measured, limit = finding.measured or 0.0, finding.limit or 0.0
        yield say(
            key,
            where=_place(card, finding.where),
            measured=say.number(measured),
            limit=say.number(limit),
            one_in=say.number(1 / measured, 0) if 0 < measured < 1 else "1",
        )

    for rule in _TOGETHER:
        if rule in _STEPS[step]:
            yield from _together(card, rule)


def _together(card: TheCard, rule: str) -> Iterator[str]:
    """Return one line for all findings of a rule that are beyond its limit, the worst number."""
    all_of = [found for found in _findings(card) if found.rule == rule and found.limit is not None]
    numbers = [(found.measured or 0.0, found.limit or 0.0) for found in all_of]
    if rule == "free-end":
        kept = [
            found for found, (bends, most) in zip(all_of, numbers, strict=True) if bends >= most
        ]
        worst = max((bends for bends, _ in numbers), default=0.0)
    else:
        kept, worst = all_of, min((wide for wide, _ in numbers), default=0.0)
    if kept:
        places = "; ".join(dict.fromkeys(_place(card, found.where) for found in kept))
        key = f"found.{rule.replace('-', '_')}{'s' if len(kept) > 1 else ''}"
        yield card.say(key, where=places, measured=card.say.number(worst), many=str(len(kept)))


def _is_beam(card: TheCard, title: str) -> bool:
    return any(part.title == title and part.role == "beam" for part in card.pieces.values())


def _findings(card: TheCard) -> Iterator[Finding]:
    parts = card.sheets.parts
    plan = parts.plan
    for stage in (plan.cut, plan, parts, card.sheets):
        yield from stage.findings


def _place(card: TheCard, where: str) -> str:
    """Return a finding's place in the guide's language: a part's number, or where on the motif."""
    say = card.say
    if where.startswith("hand part "):
        return say("found.part", number=where.removeprefix("hand part "))
    for part in card.pieces.values():
        if part.title == where:
            return piece_title(card, part)
    place = place_of(where)
    if place is None:
        return where
    u, v = place
    top = card.motif.bounds[1]
    if u == 0:
        return say("found.on_crease", down=say.mm(v - top, 0))
    half = say("slit.left" if u < 0 else "slit.right")
    return say("found.at", half=half, away=say.mm(abs(u), 0), down=say.mm(v - top, 0))
