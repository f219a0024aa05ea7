"""Pieces on sheets: never overlapping, never off the sheet, cut in an order that works."""

import math
import time
from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from tests import examples
from trace2pop import data
from trace2pop.errors import SheetError
from trace2pop.geometry import beziers, chains
from trace2pop.mechanism.sheet import in_order, to_sheet, usable
from trace2pop.model.pieces import Part, Parts, Placement, Sheet, Sheets, Stroke
from trace2pop.model.settings import CutterSettings, OwnPaper
from trace2pop.stages.parts import parts
from trace2pop.stages.sheets import mockup_pages, sheets
from trace2pop.stages.sheets.apart import apart, most_of
from trace2pop.stages.sheets.bound import least_sheets
from trace2pop.stages.sheets.kinds import Kind, Room
from trace2pop.stages.sheets.layouts import laid_out
from trace2pop.stages.sheets.tour import piece_order

PARTS = parts(examples.plan(), examples.STOCKS, examples.CUTTER)
BY_NAME = {part.name: part for part in PARTS.parts}


def laid(copies: int = 1, pieces: Parts = PARTS, **choices: object) -> Sheets:
    chosen = CutterSettings(copies=copies, **choices)  # type: ignore[arg-type]  # keywords by name
    return sheets(pieces, examples.CUTTER, chosen)


def paper(part: Part, place: Placement) -> shapely.Polygon:
    outline = next(s for s in part.strokes if s.id == "outline")
    return shapely.Polygon(beziers.flatten(beziers.transform(outline.line, to_sheet(part, place))))


def assert_feasible(result: Sheets, by_name: dict[str, Part], gap: float) -> None:
    for sheet in result.sheets:
        inset = result.cutter.inset
        area = shapely.box(inset, inset, sheet.width - inset, sheet.height - inset).buffer(1e-6)
        shapes = []
        for place in sheet.placements:
            part = by_name[place.part]
            assert part.stock == sheet.stock
            assert (part.grain_deg + place.rotation_deg - sheet.stock.grain_deg) % 180 == 0
            shapes.append(paper(part, place))
            assert area.covers(shapes[-1])
        for a, b in combinations(shapes, 2):
            assert a.distance(b) >= gap - 1e-6


@pytest.mark.parametrize("layout", ["auto", "boxes", "tight"])
@pytest.mark.parametrize("copies", [1, 3, 12])
def test_sheets_are_feasible_and_hold_every_piece_once(copies: int, layout: str) -> None:
    result = laid(copies, layout=layout)
    assert_feasible(result, BY_NAME, CutterSettings().gap)
    found = Counter((p.part, p.copy) for sheet in result.sheets for p in sheet.placements)
    wanted = {
        (part.name, copy)
        for part in PARTS.parts
        for copy in range(1, (copies if part.set == "card" else 1) + 1)
    }
    assert set(found) == wanted and set(found.values()) == {1}


@pytest.mark.parametrize("area", [(304.8, 304.8), (210.0, 297.0)])
@pytest.mark.parametrize("copies", [1, 5, 12])
def test_sheets_are_at_most_one_more_than_no_layout_can_beat(
    copies: int, area: tuple[float, float]
) -> None:
    """Lower bound, worked out anew: paper area over sheet area, or pieces that share no sheet.

    Where nothing else goes beside those, the paper of all else comes on top.
    """
    cutter = replace(examples.CUTTER, area=area)
    pieces = parts(examples.plan(), examples.STOCKS, cutter)
    result = sheets(pieces, cutter, CutterSettings(copies=copies))
    room = usable(examples.STOCK, cutter)
    card = [part for part in pieces.parts if part.set == "card" and not part.printed]
    papers = [paper(part, Placement(part.name, 1, 0, 0, part.grain_deg - 90)) for part in card]
    alone = [p for p in papers if all(p.bounds[k + 2] > room[k] / 2 for k in (0, 1))]
    others = [p for p in papers if p not in alone
              and all(p.bounds[k + 2] + a.bounds[k + 2] > room[k] for k in (0, 1) for a in alone)
              ]  # fmt: skip
    by_area = sum(p.area for p in papers) * copies / math.prod(room)
    besides = sum(p.area for p in others) * copies / math.prod(room)
    used = [s for s in result.sheets if any(p.part in {c.name for c in card} for p in s.placements)]
    assert len(used) <= max(math.ceil(by_area), len(alone) * copies + math.ceil(besides)) + 1


@pytest.mark.parametrize("printed", [True, False])
def test_layout_by_default_is_as_thrifty_as_the_tight_one(printed: bool) -> None:
    pieces = parts(examples.plan(), examples.STOCKS, examples.CUTTER, printed=printed)
    by_default, tight = (len(laid(6, pieces, layout=word).sheets) for word in ("auto", "tight"))
    assert by_default <= 1.1 * tight


def test_printed_motif_and_mockup_have_sheets_of_their_own() -> None:
    for sheet in laid().sheets:
        names = {place.part for place in sheet.placements}
        assert names <= {"motif"} or not names & {"motif"}
        assert all(n.startswith("mockup") for n in names) or not any(
            n.startswith("mockup") for n in names
        )
        assert bool(sheet.crosses) == (names == {"motif"})


def test_crosses_are_clear_of_pieces_and_tell_the_sheets_way_round() -> None:
    sheet = laid().sheets[0]
    marks = [shapely.box(x - 3, y - 3, x + 3, y + 3) for x, y in sheet.crosses]
    for place in sheet.placements:
        bleed = paper(BY_NAME[place.part], place).buffer(3)
        assert all(mark.disjoint(bleed) for mark in marks)
    turned = {(round(sheet.width - x, 6), round(sheet.height - y, 6)) for x, y in sheet.crosses}
    assert turned != {(round(x, 6), round(y, 6)) for x, y in sheet.crosses}


def test_crosses_lie_where_a_desktop_printer_prints_also_beside_a_wide_motif() -> None:
    """180 x 120 mm on A4 leave no band round the motif, but room in its lobed box's corners."""
    cutter = replace(examples.CUTTER, area=(210.0, 297.0))
    pieces = parts(examples.plan(), examples.STOCKS, cutter)
    sheet = sheets(pieces, cutter, CutterSettings()).sheets[0]
    motif = next(part for part in pieces.parts if part.name == "motif")
    bleed = paper(motif, sheet.placements[0]).buffer(3)
    for x, y in sheet.crosses:
        mark = shapely.box(x - 3, y - 3, x + 3, y + 3)
        assert shapely.box(6, 6, 204, 291).covers(mark)
        assert mark.disjoint(bleed)


def test_pieces_of_one_guest_lie_together() -> None:
    result = laid(6)
    for sheet in result.sheets:
        beams = [p for p in sheet.placements if p.part.startswith(("beam", "gauge"))]
        assert len({p.copy for p in beams}) <= 1


def test_same_input_same_layout() -> None:
    assert laid(4).sheets == laid(4).sheets
    assert laid(2, layout="tight").sheets == laid(2, layout="tight").sheets


def boxes(sizes: list[tuple[float, float]]) -> list[Kind]:
    return [Kind(w, h, 1, (0.0,), (shapely.box(0, 0, w, h),)) for w, h in sizes]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(5, 120), st.floats(5, 120)), min_size=1, max_size=12),
    st.floats(0.5, 8),
)
def test_boxes_never_overlap_nor_leave_the_area(
    sizes: list[tuple[float, float]], gap: float
) -> None:
    area = (130.0, 140.0)
    kinds = boxes(sizes)
    laid = laid_out(kinds, Room(*area, gap), "boxes")
    assert sorted(spot.kind for layout in laid for spot in layout) == list(range(len(sizes)))
    assert len(laid) >= least_sheets(kinds, Room(*area, gap))
    for layout in laid:
        shapes = [shapely.box(s.x, s.y, s.x + sizes[s.kind][0], s.y + sizes[s.kind][1])
                  for s in layout]  # fmt: skip
        assert all(shapely.box(0, 0, *area).buffer(0.011).covers(box) for box in shapes)
        assert all(a.distance(b) >= gap - 0.011 for a, b in combinations(shapes, 2))


@pytest.mark.parametrize(
    ("sizes", "count", "fewest"),
    [
        # Worked by hand: four 49.5 mm squares to a sheet; two 60 mm ones share none.
        ([(49.5, 49.5)], 9, 3),
        ([(60.0, 60.0)], 5, 5),
        # A 60 mm square leaves a strip of 39 mm for two 39 x 49.5 mm beside it and one below.
        ([(60.0, 60.0), (39.0, 49.5)], 4, 4),
    ],
)
def test_sheets_are_the_fewest_where_these_are_known(
    sizes: list[tuple[float, float]], count: int, fewest: int
) -> None:
    kinds = [replace(kind, count=count) for kind in boxes(sizes)]
    room = Room(100.0, 100.0, 1.0)
    assert least_sheets(kinds, room) <= fewest
    assert len(laid_out(kinds, room, "auto")) == fewest


def test_triangles_go_two_to_a_sheet_by_their_shapes() -> None:
    """A right-angled triangle fills its box by half: another one lies against its long side."""
    low = shapely.Polygon([(0, 0), (90, 0), (0, 90)])
    high = shapely.Polygon([(90, 90), (0, 90), (90, 0)])
    kind = Kind(90.0, 90.0, 6, (0.0, 180.0), (low, high))
    room = Room(100.0, 100.0, 3.0)
    assert least_sheets([kind], room) == 3
    assert len(laid_out([kind], room, "boxes")) == 6
    assert len(laid_out([kind], room, "auto")) == 3


def test_a_great_many_copies_are_laid_out_as_quickly_as_few() -> None:
    start = time.process_time()
    laid(12)
    few = time.process_time() - start
    start = time.process_time()
    many = laid(300, layout="boxes")
    assert time.process_time() - start < 20 * few + 2
    assert len(many.sheets) <= 300 * len(laid(1).sheets)


def test_a_piece_larger_than_the_sheet_is_refused_with_numbers() -> None:
    small = replace(examples.CUTTER, area=(200.0, 200.0))
    with pytest.raises(SheetError, match=r"motif is 180\.0 x 120\.0|base card is 248\.0 x 171\.8"):
        sheets(PARTS, small, CutterSettings())


def tool_path(sheet: Sheet) -> list[tuple[int, str, np.ndarray]]:
    """Return (placement, kind, line) in the order of the steps."""
    path = []
    for index, place in enumerate(sheet.placements):
        part = BY_NAME[place.part]
        steps = [step for step in sheet.steps if step.placement == index]
        for stroke in in_order(part, steps)[: len(steps)]:
            kind = "score" if stroke.op == "score" else "inner" if stroke.inner else "outline"
            path.append((index, kind, beziers.transform(stroke.line, to_sheet(part, place))))
    return path


def test_steps_run_every_cut_and_score_once_and_in_order() -> None:
    for sheet in laid(2).sheets:
        wanted = {
            (index, stroke.id)
            for index, place in enumerate(sheet.placements)
            for stroke in BY_NAME[place.part].strokes
            if stroke.op in ("cut", "score")
        }
        assert {(step.placement, step.stroke) for step in sheet.steps} == wanted
        assert len(sheet.steps) == len(wanted)
        ranks = {"score": 0, "inner": 1, "outline": 2}
        keys = [(index, ranks[kind]) for index, kind, _ in tool_path(sheet)]
        assert keys == sorted(keys)


def test_work_adds_up() -> None:
    for sheet in laid().sheets:
        path = tool_path(sheet)
        here, travel = np.zeros(2), 0.0
        for _, _, line in path:
            travel += float(np.linalg.norm(line[0, 0] - here))
            here = line[-1, 3]
        assert sheet.work is not None
        assert sheet.work.travel == pytest.approx(travel)
        cut = sum(chains.length(line) for _, kind, line in path if kind != "score")
        assert sheet.work.cut == pytest.approx(cut)
        assert sheet.work.lifts == len(path)


def test_outlines_begin_away_from_corners() -> None:
    for sheet in laid().sheets:
        for _, kind, line in tool_path(sheet):
            if kind == "outline":
                into, out = line[-1, 3] - line[-1, 2], line[0, 1] - line[0, 0]
                cosine = into @ out / np.linalg.norm(into) / np.linalg.norm(out)
                assert cosine > math.cos(math.radians(11))


def reference_tour(sheet: Sheet) -> float:
    """Return the travel of a plain 2-opt tour under the same rules, from many random starts.

    Croes 1958: any two links are exchanged while that helps, here within each piece's kind and over
    whole pieces. It may begin closed contours at any joint.
    """
    path = tool_path(sheet)
    ends = [
        line[:, 0] if np.allclose(line[0, 0], line[-1, 3]) else line[[0, -1], [0, 3]]
        for _, _, line in path
    ]
    closed = [np.allclose(line[0, 0], line[-1, 3]) for _, _, line in path]
    groups: dict[int, dict[str, list[int]]] = {}
    for number, (index, kind, _) in enumerate(path):
        groups.setdefault(index, {}).setdefault(kind, []).append(number)

    def travel(order: list[int]) -> float:
        here, total = np.zeros(2), 0.0
        for number in order:
            gaps = np.linalg.norm(ends[number] - here, axis=1)
            pick = int(gaps.argmin())
            total += float(gaps[pick])
            here = ends[number][pick if closed[number] else 1 - pick]
        return total

    def improved(blocks: list[list[int]]) -> float:
        best = travel([n for block in blocks for n in block])
        better = True
        while better:
            better = False
            for block in blocks:
                for i, j in combinations(range(len(block)), 2):
                    block[i : j + 1] = block[i : j + 1][::-1]
                    length = travel([n for b in blocks for n in b])
                    if length < best - 1e-9:
                        best, better = length, True
                    else:
                        block[i : j + 1] = block[i : j + 1][::-1]
        return best

    random = np.random.default_rng(1)
    best = math.inf
    for _ in range(6):
        pieces = [groups[index] for index in random.permutation(list(groups))]
        blocks = [
            list(random.permutation(piece[kind]))
            for piece in pieces
            for kind in ("score", "inner", "outline")
            if kind in piece
        ]
        best = min(best, improved(blocks))
    return best


def test_travel_is_close_to_a_two_opt_tour() -> None:
    for sheet in laid().sheets:
        assert sheet.work is not None
        assert sheet.work.travel <= 1.1 * reference_tour(sheet)


@pytest.mark.parametrize("count", [4, 9, 10, 24])
def test_many_pieces_are_passed_in_a_way_close_to_a_two_opt_tour(count: int) -> None:
    """Places drawn at random, ways between them by their distance; Croes' 2-opt, 1958."""
    random = np.random.default_rng(count)
    places = random.uniform(0, 200, (count, 2))
    gaps = np.linalg.norm(places[:, None] - places[None], axis=2)
    start = np.linalg.norm(places, axis=1)

    def length(way: list[int]) -> float:
        return float(start[way[0]] + gaps[way[:-1], way[1:]].sum())

    def two_opt(way: list[int]) -> float:
        best, better = length(way), True
        while better:
            better = False
            for i, j in combinations(range(count + 1), 2):
                turned = way[:i] + way[i:j][::-1] + way[j:]
                if length(turned) < best - 1e-9:
                    best, way, better = length(turned), turned, True
        return best

    reference = min(two_opt(random.permutation(count).tolist()) for _ in range(5))
    way = piece_order(gaps, start)
    assert sorted(way) == list(range(count))
    assert length(way) <= 1.1 * reference


@pytest.mark.parametrize("page", ["letter", "a4"])
def test_mockup_pages_hold_every_trial_piece_whole(page: str) -> None:
    pages = mockup_pages(PARTS, page)
    names = Counter(place.part for sheet in pages for place in sheet.placements)
    assert set(names) == {"mockup-base", "mockup-layer", "beam-1", "beam-2", "beam-3"}
    for sheet in pages:
        area = shapely.box(6, 6, sheet.width - 6, sheet.height - 6).buffer(1e-6)
        for place in sheet.placements:
            assert area.covers(paper(BY_NAME[place.part], place))


def test_a_large_mockup_piece_is_tiled_without_a_gap() -> None:
    large = replace(BY_NAME["mockup-base"], size=(400.0, 300.0))
    pages = mockup_pages(replace(PARTS, parts=(large,)), "a4")
    assert all(sheet.tile for sheet in pages)
    seen = [
        shapely.box(6 - p.x, 6 - p.y, s.width - 6 - p.x, s.height - 6 - p.y)
        for s in pages
        for p in s.placements
    ]
    turn = pages[0].placements[0].rotation_deg
    size = large.size if turn == 0 else large.size[::-1]
    assert shapely.union_all(seen).covers(shapely.box(0, 0, *size))


SMALL = [(304.8, 304.8), (210.0, 297.0), (215.9, 279.4), (210.0, 240.0), (200.0, 200.0),
         (148.0, 210.0), (250.0, 150.0)]  # fmt: skip


@pytest.mark.parametrize("area", SMALL, ids=str)
def test_every_piece_of_card_and_mockup_fits_a_small_cutter(area: tuple[float, float]) -> None:
    """Whole, across the grain or in halves: each lies inside what the cutter reaches, once."""
    cutter = replace(examples.CUTTER, area=area)
    pieces = parts(examples.plan(), examples.STOCKS, cutter)
    by_name = {part.name: part for part in pieces.parts}
    result = sheets(pieces, cutter, CutterSettings())
    assert_feasible(result, by_name, CutterSettings().gap)
    found = Counter(place.part for sheet in result.sheets for place in sheet.placements)
    assert found == dict.fromkeys(by_name, 1)
    assert all((s.width, s.height) <= area for s in result.sheets)
    whole = {name.split("-")[0] for name in by_name}
    assert whole == {"motif", "base", "beam", "outer", "gauge", "mockup"}


@pytest.mark.parametrize("area", [(120.0, 200.0), (304.8, 100.0)], ids=str)
def test_a_cutter_too_small_even_for_halves_is_refused_with_numbers(
    area: tuple[float, float],
) -> None:
    with pytest.raises(SheetError, match=r"\d+\.\d x \d+\.\d mm, but .* has room for"):
        parts(examples.plan(), examples.STOCKS, replace(examples.CUTTER, area=area))


def test_the_makers_own_cutter_and_paper_change_what_is_listed() -> None:
    mine = CutterSettings(name="mat-a4", area=(200.0, 150.0), min_feature=0.8)
    cutter = data.cutter_of(mine)
    assert (cutter.area, cutter.inset, cutter.min_feature) == ((200.0, 150.0), 6.0, 0.8)
    assert "200 x 150" in cutter.title and cutter.name == "own"
    assert data.cutter_of(CutterSettings(name="mat-a4")) == data.cutters()["mat-a4"]
    own = OwnPaper(name="cover-216", thickness=0.28, sheet=(210.0, 297.0), grain="width")
    stock = data.stock_of("cover-216", (own,))
    assert (stock.thickness, stock.sheet, stock.grain_deg) == (0.28, (210.0, 297.0), 0.0)
    assert stock.grammage == 216.0
    assert data.stock_of("cover-270", (own,)) == data.stocks()["cover-270"]


def test_the_makers_own_paper_under_a_new_name() -> None:
    mine = OwnPaper(name="kraft-300", grammage=300, thickness=0.4, sheet=(297, 420), grain="height")
    stock = data.stock_of("kraft-300", (mine,))
    assert (stock.name, stock.title, stock.grammage) == ("kraft-300", "kraft-300", 300)
    assert (stock.thickness, stock.sheet, stock.grain_deg) == (0.4, (297, 420), 90.0)
    like = OwnPaper(name="blue", like="cover-270", title="blue cover")
    stock = data.stock_of("blue", (like, mine))
    assert stock == replace(
        data.stocks()["cover-270"], name="blue", title="blue cover", source="the maker's own"
    )
    assert not data.paper_fault(mine) and not data.paper_fault(like)
    assert "thickness and sheet" in data.paper_fault(OwnPaper(name="blue", grammage=300))
    assert "no name" in data.paper_fault(OwnPaper(name="a/b", like="cover-270"))


def test_stock_larger_than_the_cutter_is_trimmed_and_said() -> None:
    cutter = replace(examples.CUTTER, area=(300.0, 290.0))
    pieces = parts(examples.plan(), examples.STOCKS, cutter)
    result = sheets(pieces, cutter, CutterSettings())
    assert {(s.width, s.height) for s in result.sheets} == {(300.0, 290.0)}
    (finding,) = result.findings
    assert finding.rule == "sheet-trimmed" and "300.0 x 290.0" in finding.advice
    assert not laid().findings


def test_printed_motifs_lie_in_the_middle_of_their_sheet() -> None:
    """Also one as wide as what the cutter reaches: its bleed keeps off the rulers in the edges."""
    for size in ((292.8, 120.0), (180.0, 120.0)):
        line = beziers.straight([(0, 0), (size[0], 0), size, (0, size[1])], closed=True)
        pieces = parts(examples.plan(), examples.STOCKS, examples.CUTTER)
        wide = [
            replace(part, size=size, strokes=(Stroke("outline", "cut", line, closed=True),))
            if part.printed
            else part
            for part in pieces.parts
        ]
        result = sheets(replace(pieces, parts=tuple(wide)), examples.CUTTER, CutterSettings())
        (place,) = result.sheets[0].placements
        assert place.part == "motif"
        assert place.x == pytest.approx((304.8 - size[0]) / 2, abs=1e-3)
        assert place.y == pytest.approx((304.8 - size[1]) / 2, abs=1e-3)


def test_a_sheet_with_few_pieces_has_them_in_its_corner() -> None:
    for copies in (1, 3, 5):
        for sheet in laid(copies=copies).sheets:
            if not sheet.crosses:
                assert min(place.x for place in sheet.placements) == pytest.approx(sheet.edge)
                assert min(place.y for place in sheet.placements) == pytest.approx(sheet.edge)


def corner(arm: float) -> Kind:
    """Return two pieces of 100 x 100 mm in the form of an L with arms so wide, at both turns."""
    one = shapely.box(0, 0, 100, 100).difference(shapely.box(arm, 0, 100, 100 - arm))
    turned = affinity.rotate(one, 180, origin=(50, 50))
    return Kind(100.0, 100.0, 2, (0.0, 180.0), (one, turned))


@pytest.mark.parametrize(
    ("arm", "side", "never"), [(9, 120, False), (30, 120, True), (9, 104, True)]
)
def test_which_pieces_go_on_no_sheet_together(arm: float, side: float, never: bool) -> None:
    """Two corners, the second turned half round: they close to a frame of 100 mm and two arms.

    Moved by m along both axes, the second lies off the first from m = arm + gap on.
    """
    room, kind = Room(side, side, 2.0), corner(arm)
    assert apart(kind, kind, room) is never
    assert least_sheets([kind], room) == (2 if never else 1)
    assert (most_of(kind, room) == 1) is never


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_pieces_said_to_be_apart_overlap_wherever_they_are_tried(seed: int) -> None:
    rng = np.random.default_rng(seed)
    kinds = []
    for _ in range(2):
        angles = np.sort(rng.uniform(0, 2 * np.pi, 9))
        reach = rng.uniform(15, 60, 9)
        shape = shapely.Polygon(np.column_stack([reach * np.cos(angles), reach * np.sin(angles)]))
        shape = affinity.translate(shape, -shape.bounds[0], -shape.bounds[1])
        width, height = shape.bounds[2:]
        turned = affinity.rotate(shape, 180, origin=(width / 2, height / 2))
        kinds.append(Kind(width, height, 1, (0.0, 180.0), (shape, turned)))
    sides = [max(kind.width for kind in kinds), max(kind.height for kind in kinds)]
    room = Room(sides[0] + rng.uniform(0, 40), sides[1] + rng.uniform(0, 40), 1.0)
    free = False
    for _ in range(400):
        laid = []
        for kind in kinds:
            x, y = rng.choice([0.0, 1.0, rng.random()]), rng.choice([0.0, 1.0, rng.random()])
            paper = kind.papers[rng.integers(2)]
            x, y = x * (room.width - kind.width), y * (room.height - kind.height)
            laid.append(affinity.translate(paper, x, y))
        free = free or laid[0].distance(laid[1]) >= room.gap
    assert not (free and apart(*kinds, room))
