"""The guide of cards that differ: pieces in halves, no parts by hand, other folds, large cards."""

from dataclasses import replace

import numpy as np
import pytest

from tests import examples
from trace2pop.geometry import beziers
from trace2pop.mechanism.linkage import Frame, pose
from trace2pop.model.card import CardPlan
from trace2pop.model.guide import Guide
from trace2pop.model.pieces import Parts, Sheets
from trace2pop.model.settings import CutterSettings, GuideSettings, PieceSettings
from trace2pop.model.stock import Cutter
from trace2pop.stages.guide import guide
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.endview import EndView, View
from trace2pop.stages.guide.phrases import Phrases
from trace2pop.stages.guide.sketch import Sketch
from trace2pop.stages.guide.template import fits, templates
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets


def book(
    plan: CardPlan | None = None,
    settings: PieceSettings | None = None,
    cutter: Cutter = examples.CUTTER,
) -> Guide:
    made = parts(plan or examples.plan(), examples.STOCKS, cutter, settings or PieceSettings())
    return guide(sheets(made, cutter, CutterSettings()), GuideSettings(), 0.1)


def words(made: Guide) -> str:
    return " ".join(" ".join((step.title, *step.text)) for step in made.steps)


def test_without_hand_parts_nothing_speaks_of_them() -> None:
    plan = examples.plan()
    made = book(replace(plan, cut=replace(plan.cut, hand_parts=())))
    assert made.templates == () and "too thin to cut" not in words(made)
    assert not any("bristle" in what for what, _ in made.needs)


def test_pieces_in_halves_are_joined_first() -> None:
    cutter = replace(examples.CUTTER, area=(230.0, 230.0))
    plan = examples.plan()
    made = book(replace(plan, closed=replace(plan.closed, spine=4.0)), cutter=cutter)
    titles = [step.title for step in made.steps]
    assert titles[1] == "Join what was cut in two"
    assert "hinge strip" in made.steps[1].take
    assert any("4\u00a0mm apart" in line for line in made.steps[1].text)


@pytest.mark.parametrize("form", ["fold", "spine"])
def test_spine_is_the_pieces_own(form: str) -> None:
    """The maker may overrule the plan: what the guide says follows the piece that is cut."""
    made = book(settings=PieceSettings(spine_form=form))  # type: ignore[arg-type]
    text = words(made)
    assert ("one fold, inner face up" in text) == (form == "fold")
    outer = next(part for part in made.sheets.parts.parts if part.name == "outer")
    spine = outer.size[0] - 2 * examples.CARD.outer.width
    assert f"starting {spine + 5:g}\u00a0mm from the fold" in text


def test_other_ways_to_fold_are_said() -> None:
    assert "cut in dashes" in words(book(settings=PieceSettings(scores="dashed")))
    assert "draw them in pencil" in words(book(settings=PieceSettings(scores="pencil")))


def test_equal_beams_share_a_number() -> None:
    made = book(settings=PieceSettings(keyed=False))
    step = next(step for step in made.steps if step.table and len(step.table[0]) == 5)
    assert [row[0] for row in step.table[1:]] == ["1", "2", "2"]
    assert any("equal" in line for line in step.text)


def test_pieces_on_request_are_told() -> None:
    settings = PieceSettings(adhesive_shapes=True, liner=True, envelope="make")
    made = book(settings=settings)
    text = words(made)
    assert all(word in text for word in ("cut to shape", "writing panel", "Envelope cut to size"))
    assert not any("wide, 0.1" in what and value == "0 m" for what, value in made.needs)


def test_one_beam_on_the_crease_alone() -> None:
    plan = examples.plan()
    made = book(replace(plan, beams=plan.beams[:1]))
    step = next(step for step in made.steps if "one half at a time" in step.title)
    assert any("right half only: the right flange of beam 1." in line for line in step.text)


def test_large_templates_are_parted_never_shrunk() -> None:
    """Three sizes of motif: whole on one page, by halves, part by part; always true size."""
    for factor, pages in ((1.0, 1), (1.35, 2), (2.4, 1)):
        plan = examples.plan()
        turn = np.array([[factor, 0, 0], [0, factor, 0]])

        part = examples.feeler()
        moved = replace(
            part,
            path=part.path * factor,
            overlap=part.overlap * factor,
            shape=beziers.transform_outline(part.shape, turn),
        )
        outline = beziers.transform_outline(plan.cut.outline, turn)
        cut = replace(plan.cut, outline=outline, hand_parts=(moved,))

        laid = Sheets(Parts(replace(plan, cut=cut), ()), examples.CUTTER, ())

        made = templates(TheCard(laid, Phrases("en")), "letter")
        assert len(made) == pages
        assert all(figure.true_size and fits(figure.size, "letter") for figure in made)


@pytest.mark.parametrize("opening", [40.0, 90.0, 180.0])
def test_end_views_are_the_mechanisms_poses(opening: float) -> None:
    """Base, webs and motif of a drawing against ``mechanism.linkage``, seen along the crease."""
    plan = examples.plan()
    laid = Sheets(Parts(plan, ()), examples.CUTTER, ())
    sketch = Sketch()
    EndView(sketch, TheCard(laid, Phrases("en")), View(opening, motif=(0.0, 0.0))).draw()
    web = examples.CARD.web
    placed = pose(web, plan.beams, opening)
    lines = {"end-base": [], "end-beam": [], "end-motif": []}
    for mark in sketch.figure("").marks:
        lines[mark.ink].append(mark.lines[0][[0, -1], [0, 3]])
    left, _, right, _ = beziers.polygon(examples.cut_motif().outline).bounds

    def seen(frame: Frame, a: float, b: float) -> np.ndarray:
        points = frame.at(np.array([[a, 0.0], [b, 0.0]]))
        return np.column_stack([points[:, 0], -points[:, 2]])

    expected = {
        "end-base": [seen(placed.base[0], 0, -124.0), seen(placed.base[1], 0, 124.0)],
        "end-motif": [seen(placed.motif[0], 0, left), seen(placed.motif[1], 0, right)],
        "end-beam": [seen(beam.web, 0, web) for beam in placed.beams],
    }
    shift = lines["end-base"][0][0] - expected["end-base"][0][0]
    for ink, wanted in expected.items():
        slack = 1.0 if ink == "end-motif" else 0.01  # drawn a hair above what it touches
        for line in wanted:
            gaps = [np.abs(found - line - shift).max() for found in lines[ink]]
            assert min(gaps) < slack, ink


def test_closed_plan_measures_the_reach() -> None:
    made = book()
    figure = next(step for step in made.steps if "before you send" in step.title).rows[0][0]
    reach = examples.plan().closed.reach
    assert f"{reach:.1f}\u00a0mm" in [word.text for word in figure.words]
