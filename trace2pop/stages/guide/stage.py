"""The guide: this card's facts, needs, steps and troubles, in the chosen language."""

from collections import Counter
from typing import Any

import numpy as np

from trace2pop import data
from trace2pop.geometry import beziers
from trace2pop.limits import UNGLUED
from trace2pop.model.card import CardPlan, HandPart
from trace2pop.model.guide import Figure, Guide, Step
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Part, Sheets
from trace2pop.model.settings import GuideSettings
from trace2pop.stages.guide import figures

Text = dict[str, Any]


def guide(sheets: Sheets, settings: GuideSettings, adhesive: float) -> Guide:
    """Return the guide of a card laid on sheets. ``adhesive`` is the tape's thickness."""
    text: Text = dict(data.table(f"text_{settings.language}"))
    plan = sheets.parts.plan
    hand = tuple(part for part in plan.cut.hand_parts if part.choice == "hand")
    name = plan.cut.placed.motif.artwork.name.rsplit(".", 1)[0]
    return Guide(
        sheets=sheets,
        title=text["title"].format(name=name),
        words={key: value for key, value in text.items() if isinstance(value, str)},
        facts=_facts(plan, hand, text),
        needs=_needs(sheets, hand, adhesive, text),
        cautions=tuple(text["care"]),
        steps=_steps(sheets, hand, text),
        hand_rows=_hand_rows(hand, text),
        template=figures.template(plan, hand, text["true_size"]) if hand else None,
        trouble=tuple((what, how) for what, how in text["trouble"]),
        paper=settings.paper,
        language=settings.language,
    )


def _mm(value: float, decimals: int = 1) -> str:
    return f"{value:.{decimals}f} mm"


def _facts(plan: CardPlan, hand: tuple[HandPart, ...], text: Text) -> tuple[tuple[str, str], ...]:
    card, closed, sag = plan.cut.placed.card, plan.closed, plan.sag
    left, top, right, bottom = beziers.bounds(plan.cut.outline.outer)
    both = text["of"]
    wide = 2 * card.outer.width + closed.spine
    return (
        (text["fact_closed"], f"{card.outer.width:.1f} x {_mm(card.outer.height)}"),
        (text["fact_open"], f"{wide:.1f} x {_mm(card.outer.height)}"),
        (text["fact_rise"], _mm(card.rise)),
        (text["fact_motif"], f"{right - left:.1f} x {_mm(bottom - top)}"),
        (text["fact_thick"], _mm(closed.thickness)),
        (text["fact_reach"], both.format(a=f"{closed.reach:.1f}", b=_mm(closed.limit))),
        (
            text["fact_sag"].format(load=f"{sag.handling_load:g}"),
            both.format(a=f"{sag.max:.2f}", b=_mm(sag.limit, 2)),
        ),
        (text["fact_beams"], str(len(plan.beams))),
        (text["fact_hand"], str(len(hand))),
    )


def _needs(
    sheets: Sheets, hand: tuple[HandPart, ...], adhesive: float, text: Text
) -> tuple[str, ...]:
    needs = []
    count = Counter((sheet.stock.title, sheet.width, sheet.height) for sheet in sheets.sheets)
    for (paper, width, height), number in sorted(count.items()):
        needs.append(
            text["need_paper"].format(
                count=number, paper=paper, width=f"{width:.0f}", height=f"{height:.0f}"
            )
        )
    printed = {part.name for part in sheets.parts.parts if part.printed}
    pages = sum(any(p.part in printed for p in sheet.placements) for sheet in sheets.sheets)
    if pages:
        needs.append(text["need_print"].format(count=pages))
    plan = sheets.parts.plan
    flange = min(beam.flange for beam in plan.beams)
    length = 4 * sum(beam.v1 - beam.v0 for beam in plan.beams)
    needs.append(
        text["need_tape"].format(
            thickness=f"{adhesive:g}", width=f"{flange - 2:.0f}", length=f"{length:.0f}"
        )
    )
    by_diameter: dict[float, float] = {}
    for part in hand:
        whole = by_diameter.get(part.diameter, 0.0) + part.cut_length
        by_diameter[part.diameter] = whole + sum(_length(line) for line in part.branches)
    for diameter, whole in sorted(by_diameter.items()):
        needs.append(
            text["need_bristle"].format(diameter=f"{diameter:g}", length=f"{whole + 20:.0f}")
        )
    return (*needs, text["need_tools"])


def _hand_rows(hand: tuple[HandPart, ...], text: Text) -> tuple[tuple[str, ...], ...]:
    if not hand:
        return ()
    rows = [tuple(text["hand_columns"])]
    for part in hand:
        glued = _length(part.overlap)
        lengths = [f"{part.length:.1f}", *(f"+ {_length(line):.1f}" for line in part.branches)]
        rows.append(
            (
                str(part.id),
                " ".join(lengths),
                f"{part.root_width:.1f} to {part.tip_width:.1f}",
                f"{part.cut_length:.0f}",
                f"{part.diameter:g}",
                f"{glued:.0f}",
            )
        )
    return tuple(rows)


def _length(line: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def _steps(sheets: Sheets, hand: tuple[HandPart, ...], text: Text) -> tuple[Step, ...]:
    plan = sheets.parts.plan
    card = plan.cut.placed.card
    parts = {part.name: part for part in sheets.parts.parts}
    steps = [_cutting(sheets, text), *_folding(plan, parts, text)]
    listed = ", ".join(_slit_words(plan, text))
    steps.append(
        Step(
            text["step_slit_title"],
            (text["step_slit"].format(list=listed), text["step_slit_glue"]),
            (
                figures.base_with_slits(plan, ""),
                figures.end_view(plan, 180.0, "", motif=False),
            ),
        )
    )
    if hand:
        steps.append(Step(text["step_hand_title"], (text["step_hand"],)))
    steps.append(
        Step(
            text["step_motif_title"],
            (text["step_motif"], text["step_motif_second"]),
            (
                figures.motif_on_beams(plan, ""),
                figures.piece(parts["gauge"], parts["gauge"].title),
                figures.end_view(plan, 40.0, ""),
            ),
        )
    )
    away = plan.closed.spine + UNGLUED.value
    steps.append(
        Step(
            text["step_outer_title"],
            (text["step_outer"].format(away=f"{away:.0f}"),),
            (figures.piece(parts["outer"], ""),) if "outer" in parts else (),
        )
    )
    numbers = {"rise": f"{card.rise:.0f}", "thickness": f"{plan.closed.thickness:.1f}"}
    steps.append(
        Step(
            text["step_check_title"],
            (text["step_check"].format(**numbers),),
            (figures.end_view(plan, 180.0, ""), figures.end_view(plan, 8.0, "")),
        )
    )
    return tuple(steps)


def _cutting(sheets: Sheets, text: Text) -> Step:
    words = [text["step_cut"]]
    printed = {part.name for part in sheets.parts.parts if part.printed}
    words += [
        text["step_print"].format(file=f"print/{sheet.name}.pdf")
        for sheet in sheets.sheets
        if any(item.part in printed for item in sheet.placements)
    ]
    drawings = tuple(
        Figure(
            f"{sheet.name}: {sheet.stock.title}", (sheet.width, sheet.height), (), sheet=sheet.name
        )
        for sheet in sheets.sheets
    )
    return Step(text["step_cut_title"], tuple(words), drawings)


def _folding(plan: CardPlan, parts: dict[str, Part], text: Text) -> list[Step]:
    beam = plan.beams[0]
    part = parts[beam.part]
    web = plan.cut.placed.card.web
    outer = figures.glued_beam(part, web, beam.flange, text["step_glue_outer"], inner=False)
    inner = figures.glued_beam(part, web, beam.flange, text["step_glue_inner"], inner=True)
    return [
        Step(
            text["step_fold_title"],
            (text["step_fold"],),
            (figures.piece(part, text["step_fold_legend"]),),
        ),
        Step(text["step_glue_title"], (text["step_glue"],), (outer, inner)),
    ]


def _slit_words(plan: CardPlan, text: Text) -> list[str]:
    words = []
    for beam in plan.beams:
        if beam.u == 0:
            words.append(text["on_crease"].format(id=beam.id))
        else:
            side = text["left_of"] if beam.u < 0 else text["right_of"]
            words.append(text["slit_item"].format(id=beam.id, u=f"{abs(beam.u):.1f}", side=side))
    return words
