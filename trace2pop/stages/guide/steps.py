"""The steps of the guide, in the order of making."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from trace2pop.limits import FORK_OVERLAP, GLUE_FOLD_GAP
from trace2pop.mechanism.marks import FIVE
from trace2pop.model.card import STIFFENER
from trace2pop.model.guide import Figure, Step
from trace2pop.stages.guide import (
    endview,
    facts,
    flat,
    found,
    islands,
    joined,
    laid,
    plans,
    seated,
    space,
    thickness,
)
from trace2pop.stages.guide.card import GUTTER, WIDE, TheCard, signs
from trace2pop.stages.guide.template import details

_NARROWEST_SOLD = 3.0
"""mm; common practice, no published source."""


def steps(card: TheCard, templates: tuple[Figure, ...]) -> tuple[Step, ...]:
    """Return all steps; ``templates`` are the pages that the hand-added parts' step points to."""
    made = [_cut(card, len(templates)), *joined.step(card), _crease(card), _fold(card), _glue(card)]
    made += [_slit(card), _lay(card)]
    if card.hand:
        made.append(_hand(card, len(templates)))
    if card.cut.islands:
        made.append(islands.step(card, len(templates)))
    made += [_mount(card), _cover(card), _check(card)]
    return tuple(replace(step, rows=_fitted(step.rows)) for step in made)


def _fitted(rows: tuple[tuple[Figure, ...], ...]) -> tuple[tuple[Figure, ...], ...]:
    """Return rows broken where words in some language make them wider than the page."""
    return tuple(part for row in rows for part in _in_rows(list(row), len(row)))


def _cut(card: TheCard, pages: int) -> Step:
    say = card.say
    sheets = [s for s in card.sheets.sheets if any(p.part in card.pieces for p in s.placements)]
    printed = {part.name for part in card.pieces.values() if part.printed}
    art = [s for s in sheets if any(item.part in printed for item in s.placements)]
    text: list[str] = []
    rows: list[Figure] = laid.sheet_figures(card)
    if art:
        files = say.listed([f"print/{sheet.name}.pdf" for sheet in art])
        size = say.size(art[0].width, art[0].height)
        text += say.several("cut.print", file=files, size=size)
    if pages:
        text.append(say("cut.template"))
    text += say.several("cut.text")
    trial = [sheet.name for sheet in card.sheets.sheets if sheet not in sheets]
    if trial:
        text.append(say("cut.mockup", sheets=say.listed(trial)))
    text += [say(f"cut.{key}") for key in _scores(card)]
    text.append(say("cut.by_hand"))
    pieces = [name for name, part in card.pieces.items() for _ in range(part.quantity)]
    names = laid.titles(card, pieces)
    text.append(say("cut.done", list=say.listed(names)))
    return Step(
        say("cut.title"),
        say("cut.take"),
        tuple(text),
        _in_rows(rows, 3),
        say("cut.care"),
        table=laid.files_table(card),
        found=found.about(card, "cut"),
    )


def _scores(card: TheCard) -> list[str]:
    """Return how folds are marked where no tool scores them."""
    strokes = [stroke for part in card.pieces.values() for stroke in part.strokes if stroke.fold]
    if any(stroke.dash for stroke in strokes):
        return ["dashed"]
    return ["pencil"] if strokes and all(stroke.op == "note" for stroke in strokes) else []


def _crease(card: TheCard) -> Step:
    say = card.say
    own = "text_spine" if card.spine else "text_fold"
    text = (*say.several("crease.text"), say(f"crease.{own}", spine=say.mm(card.spine)))
    about = found.about(card, "crease")
    return Step(say("crease.title"), say("crease.take"), text, (flat.creased(card),), found=about)


def _fold(card: TheCard) -> Step:
    say = card.say
    sequence = _fitting(lambda share: space.folding(card, (WIDE / 3 - 16) * share))
    rows = (sequence, *_in_rows(flat.beam_figures(card), 4))
    text = [*say.several("fold.text"), *_numbers(card), *_steps_at(card, "fold")]
    text.append(say("fold.open"))
    about = found.about(card, "fold")
    return Step(say("fold.title"), say("fold.take"), tuple(text), rows, found=about)


def _numbers(card: TheCard) -> Iterator[str]:
    """Yield what a slot counts, and which beams have no room for the marks of their number."""
    counts = {name: signs(card.pieces[name]) for name in card.numbers}
    if any(FIVE in marks for marks in counts.values()):
        yield card.say("fold.five")
    for name, number in card.numbers.items():
        if any(counts.values()) and sum(counts[name]) < number:
            yield card.say("fold.few", number=str(number))


def _steps_at(card: TheCard, section: str) -> list[str]:
    """Return what is said of the steps at the beams' feet: that all have one, or which."""
    say = card.say
    stepped = sorted({card.numbers[beam.part] for beam in card.beams if beam.shoulder > 0})
    if not stepped:
        return []
    if len(stepped) == len(card.numbers):
        return [say(f"{section}.shoulder")]
    key = "mount.beams" if len(stepped) == 1 else "mount.beams_many"
    names = say(key, list=say.listed([str(number) for number in stepped]))
    return [say(f"{section}.shoulder_some", beams=names)]


def _glue(card: TheCard) -> Step:
    say = card.say
    text = say.several("glue.text", gap=say.mm(GLUE_FOLD_GAP.value))
    if card.taped:
        text = (*text, say("glue.shapes"))
    if card.taped and card.stripped:
        text = (*text, say("glue.too_small", beams=card.named(card.stripped)))
    if card.stripped:
        text = (*text, *say.several("glue.strips"))
    if min((card.tape_of(beam) for beam in card.stripped), default=9.0) < _NARROWEST_SOLD:
        text = (*text, say("glue.narrow", width=say.mm(_NARROWEST_SOLD, 0)))
    rows = ((*flat.adhesive(card), space.glued_end(card, base=False)),)
    table = facts.tape_table(card) if card.stripped else ()
    return Step(say("glue.title"), say("glue.take"), text, rows, table=table)


def _slit(card: TheCard) -> Step:
    say = card.say
    text = list(say.several("slit.text"))
    slots = any(FIVE in signs(card.pieces[name]) for name in card.numbers)
    text[2:2] = [*([say("slit.five")] if slots else []), *_steps_at(card, "slit")]
    if len(card.numbers) < len(card.beams):
        text.append(say("slit.equal"))
    half = WIDE / 2 - 5
    rows = (
        (seated.slits(card, half, behind=False), seated.slits(card, half, behind=True)),
        _fitting(
            lambda share: (
                space.through_slit(card, WIDE * 0.26 * share),
                seated.seated(card, (34.0 + WIDE * 0.14 * share, 40.0)),
                space.glued_end(card, base=True, largest=share),
            )
        ),
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
    if any(part.branches for part in card.hand):
        text.append(say("hand.forked", overlap=say.mm(FORK_OVERLAP.value)))
    stiff = [part for part in card.hand if part.kind == STIFFENER]
    if stiff:
        text.append(say("hand.stiffeners", parts=say.listed([str(part.id) for part in stiff])))
    materials = facts.materials(card)
    return Step(
        say("hand.stiff_title" if len(stiff) == len(card.hand) else "hand.title"),
        say("hand.take", materials=materials),
        tuple(text),
        _in_rows(details(card), 4),
        care=say("hand.care"),
        table=facts.hand_table(card),
        note=say("hand.note"),
        found=found.about(card, "hand"),
    )


def _mount(card: TheCard) -> Step:
    say = card.say
    text = say.several(
        "mount.text",
        centre=card.centre,
        right=_flanges(card, 1),
        left=_flanges(card, -1),
        near=say("mount.near_gauge") if plans.by_the_gauge(card) else "",
    )
    down, close, left, done = endview.mounting(card)
    notch = plans.notch(card, WIDE * 0.42)
    first = (plans.placing(card, 72.0), *((notch,) if notch else ()))
    return Step(say("mount.title"), say("mount.take"), text, (first, (down, close), (left, done)))


def _flanges(card: TheCard, sign: int) -> str:
    say = card.say
    first = say("mount.right_first" if sign > 0 else "mount.left_first", centre=card.centre)
    beams = card.side(sign)
    return say.listed([say("mount.both", beams=beams), first]) if beams else first


def _cover(card: TheCard) -> Step:
    say = card.say
    long, across, _, short = (max(x1 - x0, y1 - y0) for x0, y0, x1, y1 in plans.frame_strips(card))
    border = card.card.border
    text = say.several(
        "cover.text",
        away=say.mm(card.bare),
        tape=say.mm(card.frame_tape, 0),
        a=say.mm(long, 0),
        b=say.mm(across, 0),
        d=say.mm(short, 0),
        inset=say.mm(plans.STRIP_INSET),
        even=say("cover.border", border=say.mm(border)) if border > 0 else say("cover.flush"),
    )
    if not card.window.is_empty:
        text = (f"{text[0]} {say('cover.window')}", *text[1:])
    if "liner" in card.pieces:
        text = (*text, say("cover.liner"))
    rows = (
        (
            plans.outer(card, WIDE * 0.47),
            plans.lid(card, WIDE * 0.2),
            plans.closing_cover(card, WIDE * 0.24),
        ),
    )
    return Step(say("cover.title"), say("cover.take"), text, rows)


def _check(card: TheCard) -> Step:
    say, size = card.say, card.card
    _, high, _, low = card.whole.bounds
    text = say.several(
        "check.text",
        inside=say.mm(size.half_width - card.reach),
        head=say.mm(high),
        foot=say.mm(size.height - low),
        rise=say.mm(size.rise),
        thickness=say.mm(card.sheets.parts.plan.closed.thickness),
        envelope=facts.envelope(card),
    )
    if card.hand or card.cut.islands:
        text = (*text[:2], say("check.by_hand"), *text[2:])
    if card.bends:
        text = (*text, say("check.bends"))
    if "envelope" in card.pieces:
        text = (*text, say("check.own_envelope"))
    stack = thickness.map_of(card, WIDE * 0.45)
    rows = ((plans.closed(card, WIDE * 0.36), *((stack,) if stack else ())),)
    return Step(say("check.title"), say("check.take"), text, rows, found=found.about(card, "check"))


def _fitting(drawn: Callable[[float], tuple[Figure, ...]]) -> tuple[Figure, ...]:
    """Return drawings in one row, as large as lets them stand beside each other."""
    row = drawn(1.0)
    for share in (0.9, 0.8, 0.7, 0.6):
        if sum(figure.size[0] for figure in row) + GUTTER * (len(row) - 1) <= WIDE:
            break
        row = drawn(share)
    return row


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
