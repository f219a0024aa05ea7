"""Draws the sample motifs of an invented spring fair at a pond, as vectors in millimetres.

    python samples/draw.py

writes samples/*/motif.svg: one A5 page each, the group "silhouette" holding closed filled shapes
whose union is the motif's true outline, the group "markings" what is drawn on it.
"""

from pathlib import Path

import numpy as np
import shapely
from pen import Array, Drawing, Points, area, limb, oval, petal, ring, smooth, stroke, turned, union

HERE = Path(__file__).parent


def dragonfly() -> Drawing:
    """Return a dragonfly from above: four broad wings, six fine legs, two feelers."""
    draw = Drawing("Lantern dragonfly")
    legs: list[Points] = [
        [(3.5, -12), (13.5, -21), (18, -28), (19.5, -39)],
        [(2.5, -13.5), (9.8, -21.5), (12.2, -29), (11, -38)],
        [(3, 12), (12, 25), (15.5, 32), (14, 43)],
    ]
    feeler: Points = [(1.2, -25), (2.6, -34), (5.6, -42.5), (11.5, -48), (16.5, -47.5)]
    for side in (1, -1):
        for leg in legs:
            draw.shape(limb(_at(leg, side), 0.55, 0.42), "#1d2b3a", "whole")
        draw.shape(limb(_at(feeler, side), 0.5, 0.4), "#1d2b3a", "whole")
        _wing(draw, side, _LOWER, (4, 4), "#2f8f8c", "#58b9a4", "#a9dcc0", 8)
        _wing(draw, side, _UPPER, (4, -5), "#1f6f86", "#3f9fae", "#93d3cf", 9)
    _dragonfly_body(draw)
    return draw


_UPPER: Points = [
    (4, -10.6), (15, -17.2), (31, -23.2), (46, -27), (55.5, -27.2), (60.8, -22.6), (59.6, -14.8),
    (52, -7.2), (43, -1.8), (28, 1.5), (13, 2), (4, -1),
]  # fmt: skip
_LOWER: Points = [
    (4, -1.6), (15, -1.6), (29, -2.6), (43, -2.6), (52, 1.6), (56.4, 9), (54, 17.2), (45.5, 22.8),
    (33.5, 24.8), (20.5, 22.4), (10, 16.4), (4, 10),
]  # fmt: skip


def _at(points: Points | Array, side: int) -> Points:
    """Return points of the dragonfly's right side on the page."""
    return [(74 + side * x, 92 + y) for x, y in points]


_RIGHT: Points = [
    (2.4, -26.2), (3.5, -19.5), (3.5, -17.8), (6.8, -13.8), (9, -6), (8.8, 3), (7.4, 8.5),
    (6.7, 14), (6.7, 24), (7, 36), (7.1, 46), (6.1, 53), (3.6, 58), (0.9, 59.6),
]  # fmt: skip
_TORSO = _at([*_RIGHT, *((-x, y) for x, y in reversed(_RIGHT))], 1)


def _wing(
    draw: Drawing,
    side: int,
    edge: Points,
    root: tuple[float, float],
    rim: str,
    field: str,
    light: str,
    veins: int,
) -> None:
    """Draw a wing: dark rim, a pale lantern band across, veins that fan out, a dark tip spot."""
    nodes = _at(edge, side)
    draw.shape(smooth(nodes, corners=(0, len(edge) - 1)), rim)
    inside = area(nodes, corners=(0, len(edge) - 1)).buffer(-1.1).difference(area(_TORSO))
    if edge is _LOWER:
        inside = inside.difference(area(_at(_UPPER, side), corners=(0, len(_UPPER) - 1)))
    ((x, y),) = _at([root], side)
    draw.mark(inside, field)
    draw.mark(inside.intersection(ring(x, y, 27, 44)), light)
    draw.mark(inside.intersection(ring(x, y, 0, 13)), "#f2b84b")
    draw.mark(inside.intersection(ring(x, y, 13, 15)), "#f8dfa0")
    line = np.asarray(nodes)
    ends = shapely.LineString(np.vstack([line[1:-1]]))
    lines = []
    for share in np.linspace(0.08, 0.92, veins):
        end = ends.interpolate(share, normalized=True)
        bow = (x + 0.5 * (end.x - x), y + 0.5 * (end.y - y) - 1.4)
        lines.append(stroke([(x, y), bow, (end.x, end.y)], 0.7, 0.45))
    arcs = [ring(x, y, radius, radius + 0.4) for radius in (20, 27, 35.5, 44, 50)]
    draw.mark(union([*lines, *arcs]).intersection(inside), rim, "whole")
    tip = max(nodes, key=lambda point: abs(point[0] - 74))
    spot = oval(tip[0] - side * 7.4, tip[1] - 1.2, 3.6, 1.5, side * (-12 if edge is _UPPER else 24))
    draw.mark(smooth(spot), "#1d2b3a", "whole")


def _dragonfly_body(draw: Drawing) -> None:
    whole = area(_TORSO)
    for side in (1, -1):
        draw.shape(smooth(_at(oval(3.3, -22.6, 3.5, 4.1, 18), side)), "#c8442f")
        draw.shape(smooth(_at(petal(2.4, 56, 170, 8, 3.4), side), corners=(4,)), "#16344f")
    draw.shape(smooth(_TORSO), "#20486b")
    for step in range(8):
        y = 92 + 13.5 + 5.5 * step
        band = stroke([(65, y - 1.2), (74, y + 1.0), (83, y - 1.2)], 1.7, 1.7)
        colour = "#f2b84b" if step % 2 else "#7fd0c8"
        draw.mark(band.intersection(whole.buffer(-0.5)), colour, "edge")
    for side in (1, -1):
        stripe = stroke(_at([(2.2, -15), (4.2, -7), (3.4, 4), (1.6, 9)], side), 1.5, 1.0)
        draw.mark(stripe, "#7fd0c8", "edge")
        draw.mark(smooth(_at(oval(3.9, -23.4, 1.9, 2.3, 18), side)), "#e8705a")
        draw.mark(smooth(_at(oval(4.5, -24.2, 0.6, 0.9, 18), side)), "#ffe9dd")
    draw.mark(smooth(_at(petal(0, 8, 0, 21, 3.0), 1), corners=(4,)), "#f2b84b", "edge")


def wader() -> Drawing:
    """Return a wading bird from the side: thin bill, two thin legs, a crest, no mirror axis."""
    draw = Drawing("Reed wader")
    coral = "#c2503a"
    near: Points = [(91, 132), (92.6, 143), (93.2, 153), (95.6, 165), (97.5, 177)]
    far: Points = [(79, 132), (77.4, 143), (75.2, 152), (75.8, 164), (76, 176)]
    for leg, foot in ((far, (76, 176)), (near, (97.5, 177))):
        x, y = foot
        draw.shape(limb(leg, 0.76, 0.62), coral, "whole")
        draw.shape(
            limb([(x + 0.2, y - 0.4), (x - 5, y + 1.0), (x - 10, y + 1.3)], 0.6, 0.42),
            coral,
            "whole",
        )
        draw.shape(
            limb([(x, y - 0.5), (x + 2.6, y + 0.5), (x + 5, y + 2)], 0.6, 0.42), coral, "whole"
        )
    for plume in ([(55, 43), (63, 40.5), (71, 42), (77, 47)], [(56, 45.5), (64, 45.5), (71, 49.5)]):
        draw.shape(limb(plume, 0.75, 0.4), "#2a3440", "whole")
    bill: Points = [(39, 51.6), (29.5, 53.2), (20.5, 58.2), (13.5, 66)]
    draw.shape(limb(bill, 3.8, 0.4), "#d9822b")
    draw.shape(smooth(_BODY, corners=(16,)), "#c98a52")
    inside = area(_BODY, corners=(16,)).buffer(-0.9)
    head = [(28, 30), (66, 30), (66, 48.5), (56, 50.5), (45, 47), (28, 49.8)]
    draw.mark(area(head).intersection(inside), "#2a3440", "edge")
    draw.mark(stroke([(33, 52.6), (45, 50.6), (60, 56)], 1.2, 2.6).intersection(inside), "#f4e3c3")
    throat = [(50, 62), (56, 71), (55, 86), (58, 104), (70, 122), (92, 131), (84, 140), (50, 128),
              (40, 100), (50, 80)]  # fmt: skip
    draw.mark(area(throat).intersection(inside), "#e9c48d", "")
    for number, (x, y) in enumerate(_SPECKLES):
        spot = area(petal(x, y, 150 + 7 * (number % 4), 3.4, 1.7), corners=(4,))
        draw.mark(spot.intersection(inside), "#a4622f", "edge")
    _folded_wing(draw, inside)
    draw.mark(smooth(oval(45.2, 49.8, 2.3)), "#fff6e6")
    draw.mark(smooth(oval(45.0, 49.8, 1.65)), "#161d24", "whole")
    draw.mark(smooth(oval(44.4, 49.2, 0.5)), "#ffffff")
    return draw


_BODY: Points = [
    (36.6, 50), (39.6, 43), (46, 38.8), (54, 40.4), (58.6, 46.5), (60.2, 54), (63.2, 62),
    (65.6, 70), (66.8, 78), (70, 85), (77, 89.2), (88, 92), (99.5, 96), (111.5, 102), (123, 109.5),
    (132, 115.5), (137.5, 120.5), (128, 122.6), (119, 125), (111, 129), (101, 134), (89.5, 136.4),
    (77, 134.4), (65, 128), (56.4, 118.6), (51, 107.5), (49, 97), (49.6, 87), (50.6, 78),
    (49.4, 70), (46.2, 63.5), (42, 58.8), (38.6, 56), (36.6, 53.2),
]  # fmt: skip
_SPECKLES = [
    (56, 84), (58.5, 91), (54.5, 93), (57, 100), (61.5, 97), (54.8, 104), (60, 107), (64.5, 112),
    (58.6, 113.5), (63, 119), (69, 118), (70, 125), (76.5, 122.5), (78, 128.5), (85, 127), (58, 76),
]  # fmt: skip


def _folded_wing(draw: Drawing, inside: shapely.Geometry) -> None:
    """Draw the wing's feathers in rows: the long ones at the tail first, the small ones last."""
    whole = area([(62, 97), (71, 92), (84, 94.4), (100, 100), (117, 109), (134, 119.6), (114, 121),
                  (97, 124), (80, 121.6), (67, 113)], corners=(5,))  # fmt: skip
    whole = whole.intersection(inside)
    draw.mark(whole, "#33536b", "edge")
    rows = [
        ("#2b4459", 7, (100, 104), (96, 120), 37, 9.0, 116, 96),
        ("#47728c", 6, (88, 99), (82, 119), 28, 8.5, 118, 92),
        ("#6d9cb0", 5, (76, 96.5), (70.5, 114), 20, 8.0, 120, 92),
        ("#a5c9cf", 4, (68, 97), (65, 108), 13, 6.5, 122, 92),
    ]
    for fill, count, first, last, length, width, lean, end_lean in rows:
        for share in np.linspace(0, 1, count):
            x, y = np.array(first) * (1 - share) + np.array(last) * share
            turn = lean * (1 - share) + end_lean * share
            feather = area(petal(x, y, turn, length, width), corners=(4,)).intersection(whole)
            draw.mark(feather, "#f4e9d2")
            draw.mark(feather.buffer(-0.45), fill)
            tip = turned([(0, -0.86 * length)], turn)[0] + (x, y)
            quill = stroke([(x, y), ((x + tip[0]) / 2, (y + tip[1]) / 2), tuple(tip)], 0.5, 0.3)
            draw.mark(quill.intersection(feather.buffer(-0.6)), "#f4e9d2", "whole")


def lily() -> Drawing:
    """Return a water lily: a broad leaf with its notch, a flower, a bud, two fine tendrils."""
    draw = Drawing("Market-day lily")
    for tendril in (
        [(108, 88), (116, 74), (122, 63), (121.5, 53), (115, 49), (110.5, 53), (113, 57)],
        [(121.9, 63), (128, 58), (133, 58.5), (134.5, 63)],
    ):
        draw.shape(limb(tendril, 0.66, 0.5), "#3a7d52", "whole")
    leaf = _leaf()
    draw.shape(smooth(leaf, corners=(0, 1, len(leaf) - 1)), "#2f7550")
    x, y = 64.0, 106.0
    flower = union(
        area(petal(x, y, *sizes), corners=(4,)) for _, _, petals in _PETALS for sizes in petals
    )
    _leaf_markings(draw, area(leaf, corners=(0, 1, len(leaf) - 1)).buffer(-1.3), flower)
    _flower(draw, x, y)
    return draw


_HEART = (77.0, 128.0)


def _leaf() -> Array:
    x, y = _HEART
    angle = np.radians(np.linspace(106, 106 + 336, 44))
    wave = 1 + 0.022 * np.cos(7 * angle + 0.6) + 0.010 * np.cos(16 * angle)
    edge = np.stack([x + 59 * wave * np.cos(angle), y + 48 * wave * np.sin(angle)], axis=1)
    return np.vstack([[[x + 0.5, y + 7]], edge])


def _leaf_markings(draw: Drawing, inside: shapely.Geometry, hidden: shapely.Geometry) -> None:
    x, y = _HEART
    draw.mark(inside, "#4f9d63")
    draw.mark(_around(0.78).intersection(inside), "#62ad6c")
    draw.mark(_around(0.42).intersection(inside), "#7cbd78")
    lines = []
    for turn in (122, 146, 170, 193, 216, 240, 265, 290, 314, 338, 2, 25, 48, 70):
        out = np.array([59 * np.cos(np.radians(turn)), 48 * np.sin(np.radians(turn))])
        side = np.array([-out[1], out[0]]) * 0.10
        fork = np.array([x, y]) + 0.62 * out
        lines.append(stroke([(x, y), tuple(fork - 0.31 * out), tuple(fork)], 1.5, 0.9))
        for sign in (-1, 1):
            tip = np.array([x, y]) + 0.95 * out + sign * side
            middle = np.array([x, y]) + 0.79 * out + sign * 0.42 * side
            back = np.array([x, y]) + 0.55 * out
            lines.append(stroke([tuple(back), tuple(middle), tuple(tip)], 0.8, 0.4))
    draw.mark(union(lines).intersection(inside).difference(hidden), "#b9dc9f", "edge")
    for dx, dy, size in ((30, 12, 2.4), (36, 17, 1.3), (-30, 26, 1.8), (25, -14, 1.4)):
        draw.mark(smooth(oval(x + dx, y + dy, size, size * 0.8)), "#dff2ea")
        draw.mark(smooth(oval(x + dx + 0.3, y + dy + 0.3, size * 0.72, size * 0.55)), "#8fccb4")


def _around(share: float) -> shapely.Polygon:
    """Return an ellipse like the leaf's, smaller."""
    x, y = _HEART
    return area(oval(x, y + 1, 59 * share, 48 * share))


_PETALS: list[tuple[str, str, list[tuple[float, float, float]]]] = [
    ("#c94f7c", "#d9719a", [(-82, 34, 13), (82, 34, 13), (-58, 42, 15), (58, 42, 15)]),
    ("#d9719a", "#e796b5", [(-36, 50, 16), (36, 50, 16), (-12, 55, 17), (12, 55, 17)]),
    ("#e391b0", "#f1b9cd", [(-66, 31, 13), (66, 31, 13), (-42, 38, 14), (42, 38, 14)]),
    ("#eeb0c7", "#f9d8e2", [(-20, 43, 15), (20, 43, 15), (0, 46, 16)]),
]
"""Petals from the back to the front: rim, field, and lean in degrees, length, width of each."""


def _flower(draw: Drawing, x: float, y: float) -> None:
    """Draw the flower from the back to the front; each petal pales to its foot."""
    for rim, _, petals in _PETALS:
        for lean, length, width in petals:
            nodes = petal(x, y, lean, length, width)
            draw.shape(smooth(nodes, corners=(4,)), rim)
    for rim, field, petals in _PETALS:
        for lean, length, width in petals:
            whole = area(petal(x, y, lean, length, width), corners=(4,))
            inside = whole.buffer(-0.55)
            draw.mark(whole, rim)
            draw.mark(inside, field)
            draw.mark(ring(x, y, 0, 0.55 * length).intersection(inside), _paler(field, 0.35))
            draw.mark(ring(x, y, 0, 0.30 * length).intersection(inside), _paler(field, 0.65))
            tip = turned([(0, -0.9 * length)], lean)[0] + (x, y)
            middle = ((x + tip[0]) / 2, (y + tip[1]) / 2)
            draw.mark(stroke([(x, y), middle, tuple(tip)], 0.5, 0.25).intersection(inside), rim)
    for number, lean in enumerate((-62, -44, -26, -9, 9, 26, 44, 62, -34, -16, 0, 16, 34)):
        length = 13.5 if number < 8 else 9.0
        tip = turned([(0, -length)], lean)[0] + (x, y)
        stalk = stroke([(x, y), ((x + tip[0]) / 2, (y + tip[1]) / 2), tuple(tip)], 0.9, 0.7)
        draw.mark(stalk, "#e09a2b")
        draw.mark(smooth(oval(tip[0], tip[1], 1.3, 1.7, lean)), "#f7c948", "edge")
    draw.mark(smooth(oval(x, y - 2.4, 4.2, 3.0)), "#e8ad35", "edge")
    draw.mark(smooth(oval(x, y - 2.9, 2.8, 1.7)), "#f9dc7c")


def _paler(colour: str, share: float) -> str:
    """Return a colour mixed with ``share`` of cream."""
    cream = (255, 246, 240)
    old = [int(colour[start : start + 2], 16) for start in (1, 3, 5)]
    return "#" + "".join(
        f"{round(a + (b - a) * share):02x}" for a, b in zip(old, cream, strict=True)
    )


MOTIFS = {"dragonfly": dragonfly, "wader": wader, "lily": lily}


def main() -> None:
    """Write every motif."""
    for name, draw in MOTIFS.items():
        folder = HERE / name
        folder.mkdir(exist_ok=True)
        (folder / "motif.svg").write_text(draw().svg(), "utf-8")


if __name__ == "__main__":
    main()
