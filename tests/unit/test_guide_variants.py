"""The guide of cards that differ: pieces in halves, no parts by hand, other folds, large cards."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import affinity

from tests import examples
from trace2pop import data
from trace2pop.geometry import beziers
from trace2pop.mechanism.linkage import Frame, pose
from trace2pop.model.card import CardPlan
from trace2pop.model.finding import Finding
from trace2pop.model.guide import Guide, Traded
from trace2pop.model.pieces import Parts, Sheets
from trace2pop.model.settings import (
    CutterSettings,
    GuideSettings,
    MotifSettings,
    PieceSettings,
    Settings,
)
from trace2pop.model.stock import Cutter
from trace2pop.pipeline import at_other_rises
from trace2pop.stages.guide import guide
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.endview import EndView, View
from trace2pop.stages.guide.phrases import Phrases
from trace2pop.stages.guide.plans import gauge_outline
from trace2pop.stages.guide.sketch import Sketch
from trace2pop.stages.guide.stage import title as guide_title
from trace2pop.stages.guide.template import alongside, fits, templates
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import sheets


def book(
    plan: CardPlan | None = None,
    settings: PieceSettings | None = None,
    cutter: Cutter = examples.CUTTER,
    language: str = "en",
) -> Guide:
    made = parts(plan or examples.plan(), examples.STOCKS, cutter, settings or PieceSettings())
    laid = sheets(made, cutter, CutterSettings())
    return guide(laid, GuideSettings(language=language), 0.1)


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


def test_beams_without_adhesive_shapes_get_tape() -> None:
    plan = examples.plan()
    beams = (replace(plan.beams[0], flange=3.0), *plan.beams[1:])
    made = book(replace(plan, beams=beams), settings=PieceSettings(adhesive_shapes=True))
    step = next(step for step in made.steps if "cut to shape" in " ".join(step.text))
    assert any("flanges of beam 1 are too small" in line for line in step.text)
    assert [row[0] for row in step.table[1:]] == ["1"]
    whole = book(settings=PieceSettings(adhesive_shapes=True))
    step = next(step for step in whole.steps if "cut to shape" in " ".join(step.text))
    assert not step.table and not any("too small" in line for line in step.text)


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


def test_forked_parts_are_two_lengths_with_room_for_glue() -> None:
    """A branch of 8 mm leaves the feeler 5 mm under its tip; glued alongside for 5 mm more."""
    plan, part = examples.plan(), examples.feeler()
    tip = part.path[-1]
    branch = tip + np.array([[0.0, 5.0], [8.0, 5.0]])
    forked = replace(part, branches=(branch,))
    made = book(replace(plan, cut=replace(plan.cut, hand_parts=(forked,))))
    step = next(step for step in made.steps if "too thin to cut" in step.title)
    assert [row[:4] for row in step.table[1:]] == [
        ("1a", "25", "10", "35"),
        ("1b", "8", "5", "13"),
    ]
    assert any("for 5\u00a0mm" in line for line in step.text)
    names = [word.text for word in made.templates[0].words if word.tone == "light"]
    assert sorted(names) == ["1a", "1b"]
    beside = alongside(forked, branch)
    assert shapely.LineString(beside).length == pytest.approx(5.0)
    assert np.all(beside[:, 0] > part.path[0, 0])  # on the branch's side
    assert np.all(beside[:, 1] >= branch[0, 1] - 1e-9)  # towards the motif


def test_findings_are_told_at_their_step() -> None:
    plan = examples.plan()
    found = (
        Finding("short-overlap", "warning", "hand part 1", 6.0, 10.0, "English only"),
        Finding("weak", "warning", "-77.0, 31.9 mm", 1.04, 2.0, "English only"),
        Finding("unscored-crossing", "note", "0.0, 40.0 mm", 1.4, 2.0, "English only"),
        Finding("unscored-fold", "note", "0.0, 50.0 mm", 1.9, 2.0, "English only"),
    )
    made = book(replace(plan, cut=replace(plan.cut, findings=found)), language="de")
    told = {step.title: step.found for step in made.steps if step.found}
    assert len(told) == 3
    text = " ".join(" ".join(lines) for lines in told.values())
    assert "Teil 1: nur 6 mm" in text and "links, 77\u00a0mm vom Falz" in text
    assert "English" not in text
    assert "Auf dem Falz" in text and "nur 1,4 mm Papier" in text and "beim Falten flach" in text
    assert "nur 1,9 mm Papier" in text and "an einem Lineal" in text
    crease = next(step for step in made.steps if step.title.startswith("Motiv, Grundkarte"))
    rings = [mark for mark in crease.rows[0][0].marks if mark.ink == "ring"]
    assert len(rings) == 1 and "Ring" in crease.rows[0][0].caption


def test_ends_that_stand_free_and_narrow_places_take_one_line_each() -> None:
    """Ends that bend no more than the rest may are not worth a strip of paper."""
    plan, free = examples.plan(), "free-end"
    below = "30 mm below the base's head edge"
    found = (
        Finding("weak", "warning", "-77.0, 31.9 mm", 1.04, 2.0, "English only"),
        Finding("weak", "warning", "77.0, 31.9 mm", 1.2, 2.0, "English only"),
        Finding(free, "warning", f"52 mm left of the crease, {below}", 2.2, 1.0, "English only"),
        Finding(free, "warning", f"the crease, {below}", 1.5, 1.0, "English only"),
        Finding(free, "warning", f"40 mm left of the crease, {below}", 0.2, 1.0, "English only"),
        Finding("crease-held", "warning", f"the crease, {below}", 0.1, 1.0, "English only"),
    )
    made = book(replace(plan, cut=replace(plan.cut, findings=found)), language="de")
    lines = [line for step in made.steps for line in step.found]
    assert len(lines) == 3
    text = " ".join(lines)
    assert "an 2 Stellen nur 1 mm" in text and "links, 77\u00a0mm" in text and "rechts, 77" in text
    assert "Diese Enden" in text and "bis zu 2,2 mm" in text and "links, 52\u00a0mm" in text
    assert "40\u00a0mm vom" not in text
    assert "English" not in text and "crease" not in text


def test_parts_by_hand_are_pulled_at_only_where_there_are_some() -> None:
    plan = examples.plan()
    bare = replace(plan, cut=replace(plan.cut, hand_parts=(), islands=()))
    with_one = replace(plan, cut=replace(plan.cut, hand_parts=(examples.feeler(),)))
    told = [
        any("added by hand" in line for line in book(p).steps[-1].text) for p in (bare, with_one)
    ]
    assert told == [False, True]


def test_reach_counts_what_is_added_by_hand() -> None:
    """A stiff whisker to u = 100 reaches 100 + web from the spine; one that must bend doesn't."""
    plan, part = examples.plan(), examples.feeler()
    web = examples.CARD.web
    for far, reach in ((100.0, 100.0 + web), (115.0, 90.0 + web)):
        path = np.array([[60.0, 86.0], [far, 86.0]])
        cut = replace(plan.cut, hand_parts=(replace(part, path=path),))
        made = book(replace(plan, cut=cut))
        assert made.reach == pytest.approx(reach, abs=0.1)
        value = dict(made.facts)["Closed, it reaches from the spine"]
        assert value.startswith(f"{reach:.1f} of 124")
        check = next(step for step in made.steps if "before you send" in step.title)
        assert any("bend when it closes" in line for line in check.text) == (far > 100)


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("lily.jpg", "Lily: a floating-layer card"),
        ("sea_horse-2.png", "Sea horse 2: a floating-layer card"),
        ("photo.jpg", "A floating-layer card"),
        ("IMG_2031.jpeg", "A floating-layer card"),
        ("...", "A floating-layer card"),
    ],
)
def test_title_names_what_the_picture_is_called(name: str, title: str) -> None:
    assert guide_title(Phrases("en"), "", name) == title
    assert guide_title(Phrases("en"), " Two herons ", name).startswith("Two herons: a floating")


def test_tape_keeps_clear_of_a_window_in_the_front() -> None:
    """Steps keep their letters, which captions name; nothing is hatched where the window is."""
    plain, made = book(), book(settings=PieceSettings(cover_window=(50.0, 66.0)))
    steps = [
        next(s for s in one.steps if s.title.startswith("Put it into")) for one in (plain, made)
    ]
    assert len(steps[0].text) == len(steps[1].text)
    assert "window" in steps[1].text[0] and "window" not in steps[0].text[0]
    lid = steps[1].rows[0][1]
    window = next(mark for mark in lid.marks if mark.ink == "hidden")
    pane = shapely.Polygon(beziers.flatten(window.lines[0])[:, :2])
    areas = [m for m in lid.marks if m.ink == "glue-edge"]
    tape = [shapely.Polygon(beziers.flatten(m.lines[0])) for m in areas]
    assert pane.area > 0 and tape and all(pane.distance(strip) > 0.5 for strip in tape)


def test_sheets_alike_are_told_once() -> None:
    """Twelve cards of three sheets: a row and a drawing for each kind, not for each sheet."""
    made = parts(examples.plan(), examples.STOCKS, examples.CUTTER, PieceSettings())
    laid = sheets(made, examples.CUTTER, CutterSettings(copies=12))
    assert len(laid.sheets) > 12
    told = guide(laid, GuideSettings(), 0.1)
    rows = [what for what, _ in told.needs if what.startswith("\N{EN DASH} sheet")]
    assert len(rows) < 8 and any("more like it" in row for row in rows)
    assert sum(len(row) for row in told.steps[0].rows) == len(rows)


def test_a_beam_with_fewer_holes_than_its_number_is_told() -> None:
    made = parts(examples.plan(), examples.STOCKS, examples.CUTTER, PieceSettings())
    third = next(part for part in made.parts if part.name == "beam-3")
    fewer = replace(third, strokes=tuple(s for s in third.strokes if not s.id.endswith("-3")))
    pieces = tuple(fewer if part is third else part for part in made.parts)
    laid = sheets(replace(made, parts=pieces), examples.CUTTER, CutterSettings())
    text = words(guide(laid, GuideSettings(), 0.1))
    assert "Beam 3 has no room for the marks of its number" in text


def test_grain_is_told_where_the_piece_is_folded() -> None:
    made = parts(examples.plan(), examples.STOCKS, examples.CUTTER, PieceSettings())
    across = tuple(
        Finding("grain-across", "warning", title, None, None, "")
        for title in ("base card", "I-beam 2")
    )
    laid = replace(sheets(made, examples.CUTTER, CutterSettings()), findings=across)
    told = {step.title: step.found for step in guide(laid, GuideSettings(), 0.1).steps}
    assert [line.split(":")[0] for line in told["Fold the beams"]] == ["Beam 2"]
    crease = told["Crease motif, base, outer card and gauge"]
    assert [line.split(":")[0] for line in crease] == ["Base card"]


def test_gauges_notch_stops_the_motif_sideways_and_upwards() -> None:
    """Where the drawing has it, the folded motif just fits; 0.5 mm on it would be in the gauge."""
    made = book()
    card = TheCard(made.sheets, Phrases("en"))
    outline = gauge_outline(card)
    assert outline is not None
    gauge = shapely.Polygon(beziers.flatten(outline))
    folded = affinity.translate(card.half_motif(1), xoff=examples.CARD.web)
    assert gauge.intersection(folded).area < 0.2
    for x, y in ((-0.5, 0.0), (0.0, -0.5)):
        assert gauge.intersection(affinity.translate(folded, x, y)).area > 0.6


def test_trade_is_the_window_law() -> None:
    """The half width less margin, web and reach: docs/mechanism.md; higher is smaller."""
    made = book()
    highest = 124.0 - 3.0 - 90.0 - 0.3
    assert any(f"{highest:.1f}\u00a0mm" in line for line in made.trade.text)
    widths = [float(row[1].split("\u00a0")[0]) for row in made.trade.table[1:]]
    assert len(widths) > 4 and widths[-1] == min(widths)
    assert [row[2] for row in made.trade.table if row[3] == "this card"] == ["3"]


def test_trade_tells_the_beams_that_were_planned() -> None:
    made = parts(examples.plan(), examples.STOCKS, examples.CUTTER, PieceSettings())
    laid = sheets(made, examples.CUTTER, CutterSettings())
    planned = (Traded(40.0, (140.0, 90.0), 5), Traded(60.0, None), Traded(10.0, (200.0, 130.0), 4))
    told = guide(laid, GuideSettings(), 0.1, planned).trade
    assert [row[2] for row in told.table[1:]] == ["4", "3", "5", ""]
    assert told.table[-1][1] == "none"
    labels = {word.text for word in told.picture.words}
    assert {"140 (5)", "200 (4)"} <= labels


def test_other_rises_are_planned_each_for_itself() -> None:
    """Half, one and a half and twice the rise; a size asked for was meant for this rise only."""
    settings = Settings(motif=MotifSettings(width=60.0))
    rows = at_other_rises(examples.motif(), examples.plan(), settings)
    assert [row.rise for row in rows] == [10.0, 30.0, 40.0]
    for row in rows:
        assert row.size is not None and row.beams is not None and row.beams >= 1
        assert row.size[0] <= 2 * (124.0 - 3.0 - row.rise)
    widths = [row.size[0] for row in rows if row.size]
    assert widths == sorted(widths, reverse=True) and widths[-1] > 60.0


def test_closed_plan_measures_the_reach() -> None:
    made = book()
    figure = next(step for step in made.steps if "before you send" in step.title).rows[0][0]
    reach = examples.plan().closed.reach
    assert f"{reach:.1f}\u00a0mm" in [word.text for word in figure.words]


def test_step_one_names_what_is_printed_and_what_is_cut() -> None:
    """Every sheet of the card, and none of the mock-up's, by the files a make writes for it."""
    plain, printed = (
        parts(examples.plan(), examples.STOCKS, examples.CUTTER, PieceSettings(), printed=way)
        for way in (False, True)
    )
    for made, art in ((plain, 0), (printed, 1)):
        laid = sheets(made, examples.CUTTER, CutterSettings())
        _, *rows = guide(laid, GuideSettings(), 0.1).steps[0].table
        own = {part.name for part in made.parts if part.set == "card"}
        used = [s for s in laid.sheets if any(item.part in own for item in s.placements)]
        assert [row[2] for row in rows] == [f"sheets/{sheet.name}.svg" for sheet in used]
        assert sum(row[1].startswith("print/") for row in rows) == art


def test_the_gauge_is_told_of_parts_that_lie_on_it() -> None:
    """A part above the motif by its crease lies on the gauge, one out at the fore edge doesn't."""
    plan = examples.plan()
    part, top = plan.cut.hand_parts[0], beziers.bounds(plan.cut.outline.outer)[1]
    for u, near in ((4.0, True), (-4.0, True), (60.0, False)):
        path = np.array([[u, top + 2.0], [u, top - 6.0]])
        moved = replace(part, path=path, branches=())
        made = book(replace(plan, cut=replace(plan.cut, hand_parts=(moved,))))
        assert ("near the gauge" in words(made)) == near


def test_forked_parts_are_counted_with_their_lengths() -> None:
    plan = examples.plan()
    part = plan.cut.hand_parts[0]
    branch = np.add(part.path[:2], (3.0, 0.0))
    forked = replace(plan, cut=replace(plan.cut, hand_parts=(replace(part, branches=(branch,)),)))
    plain = replace(plan, cut=replace(plan.cut, hand_parts=(part,)))
    for made, told in ((plain, "1"), (forked, "1, in 2 lengths")):
        assert dict(book(made).facts)["Parts added by hand"] == told


def test_border_of_nothing_is_edge_on_edge() -> None:
    plan = examples.plan()
    placed = plan.cut.placed
    flush = replace(
        placed.card, outer=replace(placed.card.outer, width=placed.card.half_width), border=0.0
    )
    bare = replace(plan, cut=replace(plan.cut, placed=replace(placed, card=flush)))
    assert "the same border of 3\N{NO-BREAK SPACE}mm" in words(book(plan))
    assert "edge on edge" in words(book(bare))


def test_envelopes_are_named_in_the_guides_language() -> None:
    """Listed envelopes whose name holds a word, not only an ISO size, have one in each language."""
    worded = {name for name, row in data.envelopes().items() if not row.title.startswith("ISO")}
    for language in ("en", "de"):
        assert set(data.table(f"text_{language}")["envelope"]) == worded  # type: ignore[arg-type]  # a section
    assert "Umschlag" in dict(book(language="de").facts)["Umschlag"]


def test_strips_lie_over_the_seam_in_the_drawing() -> None:
    """Each with its length in words, none longer than its piece."""
    made = book(cutter=replace(examples.CUTTER, area=(230.0, 230.0)))
    strips = [
        part for part in made.sheets.parts.parts if "-hinge" in part.name and part.set == "card"
    ]
    figures = [figure for row in made.steps[1].rows for figure in row]
    told = sorted(word.text for figure in figures for word in figure.words if "mm" in word.text)
    assert told == sorted(f"{part.size[1]:.0f}\N{NO-BREAK SPACE}mm" for part in strips) and told


def test_pieces_alike_are_named_once() -> None:
    made = book(cutter=replace(examples.CUTTER, area=(230.0, 230.0)))
    assert made.steps[1].take.count("base card, hinge strip") == 1


@pytest.mark.parametrize("area", [(230.0, 230.0), (304.8, 304.8)])
def test_all_pieces_and_the_legend_share_a_page(area: tuple[float, float]) -> None:
    """Under a heading each, on the lower of the two papers."""
    made = book(cutter=replace(examples.CUTTER, area=area))
    assert made.pieces.size[1] + made.legend.size[1] + 40 < 279.4 - 33


def test_a_motif_made_smaller_to_hold_gets_no_larger_at_other_rises() -> None:
    plan = examples.plan()
    held = replace(plan.cut.placed, limited_by=("sag",))
    rows = book(replace(plan, cut=replace(plan.cut, placed=held))).trade.table[1:]
    own = next(row for row in rows if row[3])
    widths = [float(row[1].split("\N{NO-BREAK SPACE}")[0]) for row in rows]
    assert max(widths) == float(own[1].split("\N{NO-BREAK SPACE}")[0])
