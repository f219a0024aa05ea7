"""Every kind of damage is caught, and named by the rule that it breaks."""

import copy
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests import folders
from tests.damage import (
    add,
    beam_row,
    grow_page,
    move,
    move_all,
    parent,
    path,
    plan,
    scale,
    shift,
    svg,
)
from trace2pop.checks import check
from trace2pop.checks.rules import RULES

Damage = Callable[[Path], None]
DAMAGES: dict[str, tuple[Damage, str]] = {}


def breaks(rule: str) -> Callable[[Damage], Damage]:
    def note(damage: Damage) -> Damage:
        DAMAGES[damage.__name__] = (damage, rule)
        return damage

    return note


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("whole")
    folders.write(folder)
    return {str(f.relative_to(folder)): f.read_bytes() for f in folder.rglob("*.*")}


@pytest.fixture
def card(whole: dict[str, bytes], tmp_path: Path) -> Path:
    for name, content in whole.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(content)
    return tmp_path


def test_the_whole_folder_passes(card: Path) -> None:
    report = check(card)
    assert report.messages() == []
    assert report.passed
    unused = set(RULES) - {row.rule for row in report.rows}
    assert unused == {"formats", "window"}  # this folder holds SVG only, and a cover without one


def both(folder: Path, part: str, sheet: str, name: str, act: Callable[..., None]) -> None:
    """Damage a line in the piece's file and on its sheet alike."""
    with svg(folder, f"parts/{part}.svg") as root:
        act(path(root, name))
    with svg(folder, f"sheets/{sheet}.svg") as root:
        group = next(g for g in root if g.get("id") == f"{part}-1")
        act(path(group, name))


@breaks("placed")
def piece_scaled_one_percent(folder: Path) -> None:
    with svg(folder, "parts/gauge.svg") as root:
        move_all(root, scale(1.01))
        grow_page(root, 1.01)


@breaks("beams")
def beam_scaled_one_percent_everywhere(folder: Path) -> None:
    with svg(folder, "parts/beam-2.svg") as root:
        move_all(root, scale(1.01))
        grow_page(root, 1.01)
    with svg(folder, "sheets/sheet-1.svg") as root:
        move_all(next(g for g in root if g.get("id") == "beam-2-1"),
                 lambda x, y: (100 + (x - 100) * 1.01, 130 + (y - 130) * 1.01))  # fmt: skip


@breaks("numbers")
def motif_scaled_one_percent_everywhere(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        move_all(root, scale(1.01))
        grow_page(root, 1.01)
    with svg(folder, "sheets/sheet-1.svg") as root:
        move_all(next(g for g in root if g.get("id") == "motif-1"),
                 lambda x, y: (6 + (x - 6) * 1.01, 6 + (y - 6) * 1.01))  # fmt: skip


@breaks("size")
def piece_scaled_inside_its_page(folder: Path) -> None:
    with svg(folder, "parts/outer.svg") as root:
        move_all(root, scale(0.99))


@breaks("slits")
def slit_moved_one_mm(folder: Path) -> None:
    both(folder, "base", "sheet-2", "slit-2", lambda line: move(line, shift(1, 0)))


@breaks("slits")
def slit_a_mm_too_short(folder: Path) -> None:
    both(folder, "base", "sheet-2", "slit-3",
         lambda line: move(line, lambda x, y: (x, min(y, folders.MIDDLE + 17.5))))  # fmt: skip


@breaks("slits")
def slit_forgotten(folder: Path) -> None:
    for file in ("parts/base.svg", "sheets/sheet-2.svg"):
        with svg(folder, file) as root:
            slit = path(root, "slit-2")
            parent(root, slit).remove(slit)


@breaks("placed")
def slit_moved_on_the_sheet_only(folder: Path) -> None:
    with svg(folder, "sheets/sheet-2.svg") as root:
        move(path(root, "slit-2"), shift(0.05, 0))


@breaks("closed")
def contour_opened(folder: Path) -> None:
    with svg(folder, "parts/gauge.svg") as root:
        line = path(root, "outline")
        line.set("d", (line.get("d") or "").removesuffix(" Z"))


@breaks("closed")
def curved_contour_says_no_more_that_it_closes(folder: Path) -> None:
    with svg(folder, "sheets/sheet-1.svg") as root:
        line = path(root, "hole-1")
        line.set("d", (line.get("d") or "").removesuffix(" Z"))


@breaks("stray")
def piece_doubled(folder: Path) -> None:
    with svg(folder, "sheets/sheet-1.svg") as root:
        again = copy.deepcopy(next(g for g in root if g.get("id") == "gauge-1"))
        again.set("id", "gauge-1 copy")
        move_all(again, shift(30, 0))
        root.append(again)


@breaks("doubled")
def line_doubled(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        line = path(root, "hole-1")
        again = copy.deepcopy(line)
        again.set("id", "motif.hole-2")
        parent(root, line).append(again)


@breaks("doubled")
def shared_edge_cut_twice(folder: Path) -> None:
    with svg(folder, "sheets/sheet-1.svg") as root:
        add(root, "outline", "again", "M230,140 L230,150 L230,140", **{"class": "cut"})
        add(root, "outline", "edge", "M230,141 L230,149", **{"class": "cut", "data-op": "slit"})


@breaks("units")
def units_dropped(folder: Path) -> None:
    with svg(folder, "parts/base.svg") as root:
        root.set("width", "248")


@breaks("units")
def units_changed_to_pixels(folder: Path) -> None:
    with svg(folder, "sheets/sheet-3.svg") as root:
        root.set("height", "304.8px")


@breaks("viewbox")
def viewbox_shifted(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        root.set("viewBox", "1 0 180 120")


@breaks("beams")
def beam_flange_widened(folder: Path) -> None:
    def wider(x: float, y: float) -> tuple[float, float]:
        return (x, y + 1.5) if y > 38.2 else (x, y)

    with svg(folder, "parts/beam-2.svg") as root:
        move(path(root, "outline"), wider)
        root.set("height", "39.8mm")
        root.set("viewBox", "0 0 72 39.8")


@breaks("insertion")
def beam_differs_from_the_one_it_could_be_taken_for(folder: Path) -> None:
    """Beams 2 and 3 carry the same marks, as equal beams may; now 2 would show in the place of 3.

    The motif has a hole 9 + 2 mm beside the fold of beam 3: flanges of 10.5 mm come too near it.
    """
    beam_flange_widened(folder)
    with svg(folder, "parts/beam-2.svg") as root:
        move(path(root, "outline"), lambda x, y: (x, y - 1.5) if y < 1.0 else (x, y))
        move_all(root, lambda x, y: (x, y + 1.5))
        root.set("height", "41.3mm")
        root.set("viewBox", "0 0 72 41.3")
    with svg(folder, "parts/motif.svg") as root:
        path(root, "hole-1").set("d", "M125 58 L129 58 L129 62 L125 62 Z")


@breaks("beams")
def web_of_one_beam_higher(folder: Path) -> None:
    with svg(folder, "parts/beam-3.svg") as root:
        move_all(root, lambda x, y: (x, y + 1.0) if y > 20 else (x, y))
        root.set("height", "39.3mm")
        root.set("viewBox", "0 0 72 39.3")


@breaks("crease")
def motif_shifted_three_mm_across(folder: Path) -> None:
    with plan(folder) as document:
        document["parts"][0]["origin"][0] += 3


@breaks("hand-parts")
def motif_shifted_three_mm_along(folder: Path) -> None:
    with plan(folder) as document:
        document["parts"][0]["origin"][1] += 3


@breaks("marks")
def mark_removed_from_a_beam(folder: Path) -> None:
    for file in ("parts/beam-3.svg", "sheets/sheet-1.svg"):
        with svg(folder, file) as root:
            group = next(g for g in root if (g.get("id") or "").startswith("beam-3"))
            for name in ("mark-1", "mark-2"):
                group.remove(path(group, name))


@breaks("placed")
def hole_removed_from_the_sheet(folder: Path) -> None:
    with svg(folder, "sheets/sheet-1.svg") as root:
        hole = path(root, "hole-1")
        parent(root, hole).remove(hole)


@breaks("apart")
def pieces_overlap(folder: Path) -> None:
    _lay_gauge(folder, shift(-40, 0))


@breaks("apart")
def pieces_closer_than_the_gap(folder: Path) -> None:
    _lay_gauge(folder, shift(-26, 0))  # 2 mm beside beam-2


@breaks("on-sheet")
def piece_off_the_sheet(folder: Path) -> None:
    _lay_gauge(folder, shift(76, 0))


def _lay_gauge(folder: Path, by: Callable[[float, float], tuple[float, float]]) -> None:
    with svg(folder, "sheets/sheet-1.svg") as root:
        move_all(next(g for g in root if g.get("id") == "gauge-1"), by)
    with plan(folder) as document:
        row = document["sheets"][0]["placements"][4]
        row["x"], row["y"] = by(row["x"], row["y"])


@breaks("folds")
def fold_sense_lost(folder: Path) -> None:
    with svg(folder, "parts/beam-1.svg") as root:
        del path(root, "fold-2").attrib["data-fold"]


@breaks("folds")
def fold_sense_turned_round(folder: Path) -> None:
    with svg(folder, "parts/beam-1.svg") as root:
        path(root, "fold-middle").set("data-fold", "valley")


@breaks("folds")
def beam_lies_face_down(folder: Path) -> None:
    with plan(folder) as document:
        document["parts"][2]["face_up"] = "inner"


@breaks("folds")
def fold_leaves_the_paper(folder: Path) -> None:
    both(folder, "outer", "sheet-3", "fold", lambda line: move(line, scale(1.2)))


@breaks("coordinates")
def coordinate_is_no_number(folder: Path) -> None:
    file = folder / "parts/motif.svg"
    file.write_text(file.read_text().replace("180.0000,60.0000", "NaN,60.0000"))


@breaks("coordinates")
def coordinate_is_endless(folder: Path) -> None:
    file = folder / "sheets/sheet-2.svg"
    file.write_text(file.read_text().replace("254.0000,6.0000", "1e999,6.0000"))


@breaks("coordinates")
def coordinate_is_torn(folder: Path) -> None:
    """Once took for ever: a pattern tried every split of the digits before the tear."""
    file = folder / "parts/base.svg"
    text = file.read_text()
    at = text.rindex("177.5000")
    file.write_text(text[: at + 2] + "?" + text[at + 3 :])


@breaks("beams")
def outline_of_a_beam_torn(folder: Path) -> None:
    file = folder / "parts/beam-1.svg"
    file.write_text(file.read_text().replace("L40.0000,27.3000 L33.0000,34.3000", "L40 33,34.3"))


@breaks("coordinates")
def coordinate_lost(folder: Path) -> None:
    file = folder / "parts/motif.svg"
    file.write_text(file.read_text().replace("180.0000,60.0000", "180.0000", 1))


@breaks("files")
def piece_missing(folder: Path) -> None:
    (folder / "parts/beam-2.svg").unlink()


@breaks("files")
def sheet_missing(folder: Path) -> None:
    (folder / "sheets/sheet-3.svg").unlink()


@breaks("files")
def guide_empty(folder: Path) -> None:
    (folder / "guide.pdf").write_bytes(b"")


@breaks("files")
def drawing_cut_short(folder: Path) -> None:
    file = folder / "parts/base.svg"
    file.write_bytes(file.read_bytes()[:-40])


@breaks("files")
def plan_holds_nan(folder: Path) -> None:
    file = folder / "card.json"
    file.write_text(file.read_text().replace("20.3", "NaN", 1))


@breaks("plan")
def plan_lacks_a_key(folder: Path) -> None:
    with plan(folder) as document:
        del document["window"]


@breaks("plan")
def plan_of_another_program(folder: Path) -> None:
    with plan(folder) as document:
        document["schema"] = "another-1"


@breaks("plan")
def piece_unnamed(folder: Path) -> None:
    with svg(folder, "parts/gauge.svg") as root:
        next(iter(root)).set("id", "layer1")


@breaks("numbers")
def plan_number_changed(folder: Path) -> None:
    with plan(folder) as document:
        document["motif"]["reach_left"] = 88.0


@breaks("beams")
def web_changed_in_the_plan(folder: Path) -> None:
    with plan(folder) as document:
        document["card"]["web"] = 19.3


@breaks("slits")
def beam_moved_in_the_plan(folder: Path) -> None:
    with plan(folder) as document:
        beam_row(document, "beam-2")["u"] = -52.0


@breaks("paths")
def group_scaled_by_a_transform(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        next(iter(root)).set("transform", "scale(1.01)")


@breaks("paths")
def two_contours_in_one_path(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        line = path(root, "hole-1")
        line.set("d", (line.get("d") or "") + " M80,80 L90,80 L90,90 Z")


@breaks("paths")
def circle_in_place_of_a_path(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        line = path(root, "hole-1")
        line.tag = line.tag.replace("path", "circle")


@breaks("quantity")
def copy_forgotten(folder: Path) -> None:
    with plan(folder) as document:
        document["parts"][4]["quantity"] = 2


@breaks("placed")
def piece_on_the_wrong_paper(folder: Path) -> None:
    with plan(folder) as document:
        document["sheets"][1]["stock"] = "cover-270"


@breaks("placed")
def piece_turned_on_the_sheet(folder: Path) -> None:
    with plan(folder) as document:
        document["sheets"][4]["placements"][0]["rotation_deg"] = 90


@breaks("size")
def sheet_of_another_size(folder: Path) -> None:
    with plan(folder) as document:
        document["sheets"][2]["width"] = 320.0


@breaks("crease")
def crease_scored_over_the_slit(folder: Path) -> None:
    both(folder, "base", "sheet-2", "crease-1",
         lambda line: move(line, lambda x, y: (x, y + 30 if y > 10 else y)))  # fmt: skip


@breaks("crease")
def crease_of_the_base_forgotten(folder: Path) -> None:
    for file in ("parts/base.svg", "sheets/sheet-2.svg"):
        with svg(folder, file) as root:
            line = path(root, "crease-2")
            parent(root, line).remove(line)


@breaks("crossing")
def outline_crosses_itself(folder: Path) -> None:
    path_ = "M0,0 L24,0 L0,60 L24,60 Z"
    with svg(folder, "parts/gauge.svg") as root:
        path(root, "outline").set("d", path_)


@breaks("nesting")
def hole_runs_into_the_edge(folder: Path) -> None:
    both(folder, "motif", "sheet-1", "hole-1", lambda line: move(line, shift(-48, 10)))


@breaks("nesting")
def two_holes_meet(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        again = copy.deepcopy(path(root, "hole-1"))
        again.set("id", "motif.hole-2")
        move(again, shift(8, 0))
        next(iter(root)).append(again)


@breaks("width")
def strip_too_narrow(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        hole = "M120,50 L150,50 L150,80 L120,80 Z"
        slot = "M150.4,55 L156,55 L156,75 L150.4,75 Z"
        add(root, "hole-1", "hole-2", hole, **{"class": "cut"})
        add(root, "hole-1", "hole-3", slot, **{"class": "cut"})


@breaks("flanges-hidden")
def hole_over_a_flange(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        add(root, "hole-1", "hole-2", "M30,58 L36,58 L36,62 L30,62 Z", **{"class": "cut"})


@breaks("flanges-hidden")
def flange_nearer_the_edge_than_asked(folder: Path) -> None:
    (folder / "card.toml").write_text('[supports]\ninset = "28.5mm"\n')


@breaks("flanges-half")
def beam_across_the_crease(folder: Path) -> None:
    _stand_at(folder, "beam-3", 6.0)


@breaks("flanges-apart")
def beams_too_close(folder: Path) -> None:
    _stand_at(folder, "beam-3", 12.0)


@breaks("flanges-base")
def flange_beyond_the_base(folder: Path) -> None:
    _stand_at(folder, "beam-3", 118.0)


@breaks("flanges-base")
def flange_over_another_slit(folder: Path) -> None:
    _stand_at(folder, "beam-1", 46.0)


def _stand_at(folder: Path, part: str, u: float) -> None:
    with plan(folder) as document:
        beam_row(document, part)["u"] = u


@breaks("slit-paper")
def slit_close_to_the_foot(folder: Path) -> None:
    with plan(folder) as document:
        row = beam_row(document, "beam-2")
        for key in ("v0", "v1"):
            row[key] += 60
            row["slit"][key] += 60


@breaks("closing")
def motif_too_wide_for_the_rise(folder: Path) -> None:
    with svg(folder, "parts/motif.svg") as root:
        move_all(root, scale(1.13))
        grow_page(root, 1.13)
    with plan(folder) as document:
        document["parts"][0]["origin"] = [-90 * 1.13, folders.MIDDLE - 60 * 1.13]


@breaks("closing")
def feeler_sticks_out_when_closed(folder: Path) -> None:
    with plan(folder) as document:
        hand = document["hand_parts"][0]
        hand["path"].append([102.0, 40.0])


@breaks("moving")
def beam_past_what_the_base_hides(folder: Path) -> None:
    _stand_at(folder, "beam-3", 104.0)


@breaks("outer")
def spine_fold_beside_its_place(folder: Path) -> None:
    both(folder, "outer", "sheet-3", "fold", lambda line: move(line, shift(0.3, 0.3)))


@breaks("outer")
def outer_card_a_border_short(folder: Path) -> None:
    with plan(folder) as document:
        document["parts"][5]["origin"][1] += 3


@breaks("mock-up")
def mockup_slit_moved(folder: Path) -> None:
    both(folder, "mockup-base", "sheet-4", "slit-3", lambda line: move(line, shift(0.3, 0)))


@breaks("mock-up")
def trial_layer_shifted(folder: Path) -> None:
    with plan(folder) as document:
        document["parts"][8]["origin"][1] += 1


@breaks("gauge")
def gauge_stops_the_motif_too_high(folder: Path) -> None:
    both(folder, "gauge", "sheet-1", "lip", lambda line: move(line, shift(0, 0.3)))


@breaks("gauge")
def gauge_lies_over_the_motif(folder: Path) -> None:
    """Let the far corner of its nib hang 8 mm lower: over the motif, though its stop is right."""
    left, foot = 24.0, 8 + folders.MIDDLE - 60

    def lower(x: float, y: float) -> tuple[float, float]:
        far = abs(x % 200 - left) < 0.01 and abs(y % 130 - foot) < 0.01
        return x, y + (8.0 if far else 0.0)

    both(folder, "gauge", "sheet-1", "outline", lambda line: move(line, lower))


@breaks("hand-parts")
def hand_part_listed_too_short(folder: Path) -> None:
    with plan(folder) as document:
        document["hand_parts"][0]["length"] -= 2


@breaks("numbers")
def rise_and_web_disagree(folder: Path) -> None:
    with plan(folder) as document:
        document["card"]["rise"] = 25.0


@breaks("slits")
def slot_said_where_the_slit_is_a_plain_cut(folder: Path) -> None:
    with plan(folder) as document:
        beam_row(document, "beam-1")["slit"]["width"] = 1.0


def window_in_the_outer_card(folder: Path, u: float, half_height: float) -> None:
    """Cut a window, 20 mm wide, at u .. u + 20, into the outer card and its sheet."""
    x, y = u + 127.0, folders.MIDDLE + 3.0
    corners = [(x, y - half_height), (x + 20, y - half_height),
               (x + 20, y + half_height), (x, y + half_height)]  # fmt: skip
    turned = [(20 + 177.8 - b, 20 + a) for a, b in corners]
    for file, points in (("parts/outer.svg", corners), ("sheets/sheet-3.svg", turned)):
        data = "M" + " L".join(f"{a:.4f},{b:.4f}" for a, b in points) + " Z"
        with svg(folder, file) as root:
            add(root, "outline", "window", data, **{"class": "cut"})


@breaks("window")
def window_over_a_flange(folder: Path) -> None:
    window_in_the_outer_card(folder, -65.0, 10.0)


@breaks("window")
def window_past_the_base(folder: Path) -> None:
    window_in_the_outer_card(folder, -80.0, 87.0)


def test_a_window_beside_the_works_is_right(card: Path) -> None:
    window_in_the_outer_card(card, -100.0, 10.0)
    assert "window" not in check(card).failed_rules


@pytest.mark.parametrize("name", DAMAGES)
def test_damage_is_caught_and_named(name: str, card: Path) -> None:
    damage, rule = DAMAGES[name]
    damage(card)
    report = check(card)
    assert not report.passed
    assert rule in report.failed_rules, report.messages()
    assert any(message.startswith(f"{rule}: ") for message in report.messages())


def test_every_rule_is_bitten_by_some_damage() -> None:
    bitten = {rule for _, rule in DAMAGES.values()}
    assert set(RULES) - bitten == {"formats"}  # tests/unit/test_checks_formats.py


def test_bending_feelers_may_stick_out(card: Path) -> None:
    feeler_sticks_out_when_closed(card)
    text = (card / "card.toml").read_text()
    (card / "card.toml").write_text(text + "[fragile]\nbends = true\n")
    assert "closing" not in check(card).failed_rules


def test_a_feeler_may_reach_into_a_hole_from_its_edge(card: Path) -> None:
    with plan(card) as document:
        origin, hand = document["parts"][0]["origin"], document["hand_parts"][0]
        join = [origin[0] + 62, origin[1] + 27]  # the lowest point of the hole
        hand |= {"join": join, "path": [join, [join[0], join[1] - 15]]}
    assert check(card).messages() == []


def test_kept_spurs_are_not_called_too_narrow(card: Path) -> None:
    strip_too_narrow(card)
    text = (card / "card.toml").read_text()
    (card / "card.toml").write_text(text + '[fragile]\nspurs = "keep"\n')
    assert "width" not in check(card).failed_rules


def test_json_itself_is_what_the_description_says(card: Path) -> None:
    document = json.loads((card / "card.json").read_text())
    assert [row["name"] for row in document["parts"]][:2] == ["motif", "base"]
