"""The steps of the guide, in the order of making."""

from collections.abc import Iterator
from dataclasses import replace

from trace2pop.geometry import beziers
from trace2pop.limits import GLUE_FOLD_GAP
from trace2pop.model.guide import Figure, Step
from trace2pop.stages.guide import endview, facts, flat, plans, space
from trace2pop.stages.guide.card import GUTTER, WIDE, TheCard


def steps(card: TheCard, templates: tuple[Figure, ...]) -> tuple[Step, ...]:
    """Return all steps; ``templates`` are the pages that the hand-added parts' step points to."""
    found = [_cut(card), *_join(card), _crease(card), _fold(card), _glue(card)]
    found += [_slit(card), _lay(card)]
    if card.hand:
        found.append(_hand(card, len(templates)))
    found += [_mount(card), _cover(card), _check(card)]
    return tuple(replace(step, rows=_fitted(step.rows)) for step in found)


def _fitted(rows: tuple[tuple[Figure, ...], ...]) -> tuple[tuple[Figure, ...], ...]:
    """Return rows broken where words in some language make them wider than the page."""
    return tuple(part for row in rows for part in _in_rows(list(row), len(row)))


def _cut(card: TheCard) -> Step:
    say = card.say
    sheets = [s for s in card.sheets.sheets if any(p.part in card.pieces for p in s.placements)]
    printed = {part.name for part in card.pieces.values() if part.printed}
    files = [
        f"print/{sheet.name}.pdf"
        for sheet in sheets
        if any(item.part in printed for item in sheet.placements)
    ]
    text = [*say.several("cut.text")]
    if files:
        text.insert(0, say("cut.print", file=say.listed(files)))
    trial = [sheet.name for sheet in card.sheets.sheets if sheet not in sheets]
    if trial:
        text.append(say("cut.mockup", sheets=say.listed(trial)))
    text += [say(f"cut.{key}") for key in _scores(card)]
    text.append(say("cut.by_hand"))
    names = [_counted(card, name) for name in card.pieces]
    text.append(say("cut.done", list=say.listed(names)))
    rows = _in_rows(flat.sheet_figures(card), 3)
    return Step(say("cut.title"), say("cut.take"), tuple(text), rows, say("cut.care"))


def _scores(card: TheCard) -> list[str]:
    """Return how folds are marked where no tool scores them."""
    strokes = [stroke for part in card.pieces.values() for stroke in part.strokes if stroke.fold]
    if any(stroke.dash for stroke in strokes):
        return ["dashed"]
    return ["pencil"] if strokes and all(stroke.op == "note" for stroke in strokes) else []


def _join(card: TheCard) -> Iterator[Step]:
    """Yield the step that joins pieces cut in two, where there are any."""
    say = card.say
    halves = [name for name in card.pieces if name.startswith(("base-", "outer-"))]
    if not halves:
        return
    names = [flat.piece_title(card, card.pieces[name]) for name in halves]
    text = list(say.several("join.text"))
    if card.spine and any(name.startswith("outer-") for name in halves):
        text.insert(1, say("join.spine", spine=say.mm(card.spine)))
    yield Step(say("join.title"), say("join.take", pieces=say.listed(names)), tuple(text))


def _counted(card: TheCard, name: str) -> str:
    part = card.pieces[name]
    title = flat.piece_title(card, part)
    if part.quantity == 1:
        return title
    return f"{title} ({card.say('piece.times', count=str(part.quantity))})"


def _crease(card: TheCard) -> Step:
    say = card.say
    own = "text_spine" if card.spine else "text_fold"
    text = (*say.several("crease.text"), say(f"crease.{own}", spine=say.mm(card.spine)))
    return Step(say("crease.title"), say("crease.take"), text, (flat.creased(card),))


def _fold(card: TheCard) -> Step:
    say = card.say
    rows = (space.folding(card, WIDE / 3 - 4), *_in_rows(flat.beam_figures(card), 4))
    return Step(say("fold.title"), say("fold.take"), say.several("fold.text"), rows)


def _glue(card: TheCard) -> Step:
    say = card.say
    text = say.several("glue.text", gap=say.mm(GLUE_FOLD_GAP.value))
    if card.taped:
        text = (*text, say("glue.shapes"))
    rows = ((*flat.adhesive(card), space.glued_end(card, base=False)),)
    return Step(say("glue.title"), say("glue.take"), text, rows)


def _slit(card: TheCard) -> Step:
    say = card.say
    text = list(say.several("slit.text"))
    if any(beam.shoulder > 0 for beam in card.beams):
        text.insert(2, say("slit.shoulder"))
    if len(card.numbers) < len(card.beams):
        text.append(say("slit.equal"))
    half = WIDE / 2 - 5
    rows = (
        (flat.slits(card, half, behind=False), flat.slits(card, half, behind=True)),
        (space.through_slit(card, half), space.glued_end(card, base=True)),
    )
    table = (say.several("slit.columns"), *_places(card))
    return Step(say("slit.title"), say("slit.take"), tuple(text), rows, table=table)


def _places(card: TheCard) -> Iterator[tuple[str, ...]]:
    """Yield for each slit its number, where it lies and how long its beam is."""
    say = card.say
    for beam in card.beams:
        side = "on_crease" if beam.u == 0 else "left" if beam.u < 0 else "right"
        away = say.number(abs(beam.u)) if beam.u else "0"
        number = str(card.numbers[beam.part])
        ends = (say.number(beam.slit.v0), say.number(beam.slit.v1 - beam.slit.v0))
        yield (number, say(f"slit.{side}"), away, *ends)


def _lay(card: TheCard) -> Step:
    say = card.say
    text = say.several("lay.text", centre=card.centre)
    rows = ((endview.outward(card), endview.nearly_closed(card)),)
    return Step(say("lay.title"), say("lay.take"), text, rows)


def _hand(card: TheCard, pages: int) -> Step:
    say = card.say
    text = list(say.several("hand.text"))
    if pages > 1:
        text[0] = say("hand.text_pages", pages=str(pages))
    sizes = sorted({part.diameter for part in card.hand})
    materials = say.listed([facts.material(card, diameter) for diameter in sizes])
    return Step(
        say("hand.title"),
        say("hand.take", materials=materials),
        tuple(text),
        care=say("hand.care"),
        table=facts.hand_table(card),
        note=say("hand.note"),
    )


def _mount(card: TheCard) -> Step:
    say = card.say
    text = say.several(
        "mount.text",
        centre=card.centre,
        right=_flanges(card, 1),
        left=_flanges(card, -1),
    )
    a, b, c, d, e = endview.mounting(card)
    rows: tuple[tuple[Figure, ...], ...] = ((plans.placing(card, 78.0), a), (b, c), (d, e))
    return Step(say("mount.title"), say("mount.take"), text, rows)


def _flanges(card: TheCard, sign: int) -> str:
    say = card.say
    first = say("mount.right_first" if sign > 0 else "mount.left_first", centre=card.centre)
    beams = card.side(sign)
    return say.listed([beams, first]) if beams else first


def _cover(card: TheCard) -> Step:
    say = card.say
    text = say.several("cover.text", away=say.mm(card.bare))
    if "liner" in card.pieces:
        text = (*text, say("cover.liner"))
    rows = ((plans.outer(card, WIDE * 0.62), plans.closing_cover(card, WIDE * 0.36)),)
    return Step(say("cover.title"), say("cover.take"), text, rows)


def _check(card: TheCard) -> Step:
    say, size = card.say, card.card
    left, _, right, _ = beziers.bounds(card.cut.outline.outer)
    inside = size.half_width - size.web - max(-left, right)
    text = say.several(
        "check.text",
        inside=say.mm(inside),
        rise=say.mm(size.rise),
        thickness=say.mm(card.sheets.parts.plan.closed.thickness),
        envelope=facts.envelope(card),
    )
    if "envelope" in card.pieces:
        text = (*text, say("check.own_envelope"))
    rows = ((plans.closed(card, WIDE * 0.4),),)
    return Step(say("check.title"), say("check.take"), text, rows)


def _in_rows(figures: list[Figure], most: int) -> tuple[tuple[Figure, ...], ...]:
    """Return figures in rows that fit the page, at most ``most`` in one."""
    rows: list[list[Figure]] = []
    for figure in figures:
        wide = sum(one.size[0] + GUTTER for one in rows[-1]) if rows else 0.0
        if rows and len(rows[-1]) < most and wide + figure.size[0] <= WIDE:
            rows[-1].append(figure)
        else:
            rows.append([figure])
    return tuple(tuple(row) for row in rows)
