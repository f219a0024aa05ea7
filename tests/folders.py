"""Card folders for tests of the check: one written by hand, from the public description alone.

Nothing of the program writes it: an oval motif with one hole and one hand-added feeler on a 5 x 7
in card, three beams, worked out here with pencil and paper.
"""

import json
import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path

Point = tuple[float, float]
Steps = list[tuple[str, list[Point]]]

HALF, HEIGHT, WEB, MARGIN = 124.0, 171.8, 20.3, 3.0
MIDDLE = HEIGHT / 2
BEAMS = (("beam-1", 0.0, 40.0, 7.0), ("beam-2", -50.0, 36.0, 9.0), ("beam-3", 50.0, 36.0, 9.0))
CLEARANCE = 1.0
STOCK = "cover-216"


@dataclass(frozen=True)
class Line:
    """A path: its id, what is written in its tag beside it, its steps, whether it ends in Z."""

    name: str
    attributes: str
    steps: Steps
    closed: bool = True

    def svg(self, group: str, place: Callable[[Point], Point]) -> str:
        data = " ".join(
            op + " ".join(f"{x:.4f},{y:.4f}" for x, y in map(place, points))
            for op, points in self.steps
        )
        end = " Z" if self.closed else ""
        return f'<path id="{group}.{self.name}" {self.attributes} d="{data}{end}"/>'


@dataclass(frozen=True)
class Piece:
    name: str
    size: Point
    origin: Point | None
    face_up: str
    lines: tuple[Line, ...]


def cut(name: str, steps: Steps, **more: str) -> Line:
    extra = "".join(f' data-{key}="{value}"' for key, value in more.items())
    return Line(name, f'class="cut"{extra}', steps, closed=more.get("op") != "slit")


def fold(name: str, start: Point, end: Point, sense: str) -> Line:
    steps: Steps = [("M", [start]), ("L", [end])]
    return Line(name, f'class="score" data-fold="{sense}"', steps, closed=False)


def polygon(points: Iterable[Point]) -> Steps:
    first, *rest = points
    return [("M", [first]), *(("L", [point]) for point in rest)]


def oval(x: float, y: float, rx: float, ry: float) -> Steps:
    k = 4 / 3 * (math.sqrt(2) - 1)
    steps: Steps = [("M", [(x + rx, y)])]
    for (cx, cy), (sx, sy) in (((1, 0), (0, 1)), ((0, 1), (-1, 0)), ((-1, 0), (0, -1)),
                               ((0, -1), (1, 0))):  # fmt: skip
        unit = [(cx + k * sx, cy + k * sy), (sx + k * cx, sy + k * cy), (sx, sy)]
        steps.append(("C", [(x + rx * a, y + ry * b) for a, b in unit]))
    return steps


def box(width: float, height: float) -> Steps:
    return polygon([(0, 0), (width, 0), (width, height), (0, height)])


def pieces() -> list[Piece]:
    made = [_motif(), _base("base")]
    made += [_beam(*row) for row in BEAMS]
    outer = (cut("outline", box(254, 177.8)), fold("fold", (127, 1), (127, 176.8), "valley"))
    made.append(Piece("outer", (254, 177.8), (-127, -3), "inner", outer))
    stop = 8 + MIDDLE - 60
    nib: list[Point] = [(0, 0), (24, 0), (24, stop), (14, stop), (14, 60), (0, 60)]
    gauge = (cut("outline", polygon(nib)), fold("lip", (1, 8), (23, 8), "mountain"))
    made.append(Piece("gauge", (24, 60), None, "front", gauge))
    made.append(_base("mockup-base"))
    window = (2 * (HALF - WEB - MARGIN), HEIGHT - 2 * MARGIN)
    middle = window[0] / 2
    layer = (
        cut("outline", box(*window)),
        fold("crease", (middle, 1), (middle, window[1] - 1), "valley"),
    )
    made.append(Piece("mockup-layer", window, (-middle, MARGIN), "front", layer))
    return made


def _motif() -> Piece:
    lines = (
        fold("crease", (90, 1), (90, 119), "valley"),
        cut("hole-1", oval(62, 22, 6, 5)),
        cut("outline", oval(90, 60, 90, 60)),
    )
    return Piece("motif", (180, 120), (-90, MIDDLE - 60), "front", lines)


def _base(name: str) -> Piece:
    lines = []
    v0, v1 = _slit(BEAMS[0][2])
    lines.append(fold("crease-1", (HALF, 1), (HALF, v0), "valley"))
    lines.append(fold("crease-2", (HALF, v1), (HALF, HEIGHT - 1), "valley"))
    for part, u, length, _ in BEAMS:
        v0, v1 = _slit(length)
        slit: Steps = [("M", [(HALF + u, v0)]), ("L", [(HALF + u, v1)])]
        lines.append(cut(f"slit-{part[-1]}", slit, op="slit"))
        side = -1 if u < 0 else 1
        pin = oval(HALF + u + side * 3, MIDDLE - length / 2 + 10, 0.5, 0.5)
        lines.append(cut(f"mark-{part[-1]}", pin))
    lines.append(cut("outline", box(2 * HALF, HEIGHT)))
    return Piece(name, (2 * HALF, HEIGHT), (-HALF, 0), "front", tuple(lines))


def _slit(length: float) -> Point:
    return MIDDLE - (length + CLEARANCE) / 2, MIDDLE + (length + CLEARANCE) / 2


def _beam(name: str, u: float, length: float, flange: float) -> Piece:
    top, low, foot = flange, flange + WEB, 2 * flange + WEB
    half = [(0.0, top), (flange, 0.0), (length - flange, 0.0), (length, top)]
    over = [(length + flange, 0.0), (2 * length - flange, 0.0), (2 * length, top)]
    under = [(2 * length, low), (2 * length - flange, foot), (length + flange, foot)]
    back = [(length, low), (length - flange, foot), (flange, foot), (0.0, low)]
    lines = [
        fold(f"fold-{number}", (x + 1, y), (x + length - 1, y), "valley")
        for number, (x, y) in enumerate([(0, top), (length, top), (0, low), (length, low)], 1)
    ]
    lines.append(fold("fold-middle", (length, top + 1), (length, low - 1), "mountain"))
    lines += [
        cut(f"mark-{number}", oval(x, low + 3, 0.75, 0.75))
        for number, x in enumerate((length - 10, length + 10), 1)
    ]
    lines.append(cut("outline", polygon([*half, *over, *under, *back])))
    return Piece(name, (2 * length, foot), None, "outer", tuple(lines))


LAYOUT = (
    ("sheet-1", (("motif", 6, 6, 0), ("beam-1", 6, 130, 180), ("beam-2", 100, 130, 0),
                 ("beam-3", 6, 180, 0), ("gauge", 200, 130, 0))),
    ("sheet-2", (("base", 6, 6, 0),)),
    ("sheet-3", (("outer", 20, 20, 90),)),
    ("sheet-4", (("mockup-base", 6, 6, 0),)),
    ("sheet-5", (("mockup-layer", 6, 6, 180),)),
)  # fmt: skip
SIDE = 304.8


def write(folder: Path) -> None:
    """Write the whole folder."""
    made = {piece.name: piece for piece in pieces()}
    for piece in made.values():
        group = _group(piece, piece.name, lambda point: point)
        _file(folder / f"parts/{piece.name}.svg", piece.size, [group])
    for sheet, rows in LAYOUT:
        groups = [
            _group(made[name], f"{name}-1", _placer(made[name], x, y, turn))
            for name, x, y, turn in rows
        ]
        _file(folder / f"sheets/{sheet}.svg", (SIDE, SIDE), groups)
    (folder / "card.json").write_text(json.dumps(document(made), indent=1))
    (folder / "card.toml").write_text('[supports]\ninset = "2mm"\n[cutter]\ngap = "3mm"\n')
    for name in ("guide.pdf", "page.html", "preview.png", "mockup.pdf"):
        (folder / name).write_bytes(b"stands for a file that is not judged")


def _placer(piece: Piece, x: float, y: float, turn: int) -> Callable[[Point], Point]:
    width, height = piece.size
    moves: dict[int, Callable[[Point], Point]] = {
        0: lambda p: (x + p[0], y + p[1]),
        90: lambda p: (x + height - p[1], y + p[0]),
        180: lambda p: (x + width - p[0], y + height - p[1]),
    }
    return moves[turn]


def _group(piece: Piece, name: str, place: Callable[[Point], Point]) -> str:
    return "\n".join([f'<g id="{name}">', *(line.svg(name, place) for line in piece.lines), "</g>"])


def _file(path: Path, size: Point, groups: Iterable[str]) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    width, height = (f"{side:.4f}".rstrip("0").rstrip(".") for side in size)
    head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
    path.write_text("\n".join([f'{head}viewBox="0 0 {width} {height}">', *groups, "</svg>", ""]))


def document(made: dict[str, Piece]) -> dict[str, object]:
    """Return card.json."""
    join = (20.0, MIDDLE - 60 * math.sqrt(1 - (20 / 90) ** 2))
    paper = {"name": STOCK, "grammage": 216, "thickness": 0.3, "e_along": 5, "e_across": 2.5,
             "poisson": 0.3}  # fmt: skip
    return {
        "schema": "trace2pop-card-1",
        "card": {"half_width": HALF, "height": HEIGHT, "rise": 20.0, "web": WEB, "margin": MARGIN,
                 "border": 3.0, "outer": {"width": 127.0, "height": 177.8, "spine": "long"}},
        "window": {"width": 2 * (HALF - WEB - MARGIN), "height": HEIGHT - 2 * MARGIN},
        "scale": {"source": "none", "mm_per_px": None, "uncertainty": None},
        "motif": {"width": 180.0, "height": 120.0, "scale": None, "final_mm_per_px": 0.1,
                  "reach_left": 90.0, "reach_right": 90.0, "reach_left_with_hand": 90.0,
                  "reach_right_with_hand": 90.0, "symmetric": True, "limited_by": []},
        "hand_parts": [{"id": 1, "kind": "spur", "length": 15.0, "root_width": 0.6,
                        "tip_width": 0.6, "width": 0.6, "cut_length": 25.0, "diameter": 0.6,
                        "join": join, "direction_deg": -90.0, "choice": "hand",
                        "path": [join, (20.0, join[1] - 15)]}],
        "supports": [
            {"id": n, "part": part, "u": u, "v0": MIDDLE - length / 2, "v1": MIDDLE + length / 2,
             "flange": flange, "taper_deg": 45.0,
             "slit": {"v0": _slit(length)[0], "v1": _slit(length)[1], "width": 0.0}}
            for n, (part, u, length, flange) in enumerate(BEAMS, 1)
        ],
        "sag": {"max": 0.4, "limit": 1.0, "at": [80.0, MIDDLE], "handling_load": 10},
        "stock": dict.fromkeys(("motif", "base", "beam", "outer", "mockup", "gauge"), paper),
        "closed": {"reach": 90.0 + WEB, "limit": HALF - MARGIN, "thickness": 2.4, "layers": []},
        "cutter": {"name": "mat-12x12", "area": [SIDE, SIDE], "inset": 6.0, "min_feature": 1.0},
        "parts": [
            {"name": piece.name, "file": f"parts/{piece.name}.svg", "quantity": 1, "stock": STOCK,
             "origin": piece.origin, "face_up": piece.face_up, "fold_face": piece.face_up,
             "grain_deg": 90.0}
            for piece in made.values()
        ],
        "sheets": [
            {"file": f"sheets/{sheet}.svg", "stock": STOCK, "width": SIDE, "height": SIDE,
             "placements": [{"part": name, "copy": 1, "x": x, "y": y, "rotation_deg": turn}
                            for name, x, y, turn in rows]}
            for sheet, rows in LAYOUT
        ],
        "findings": [],
    }  # fmt: skip
