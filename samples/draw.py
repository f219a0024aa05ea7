"""Draws the sample motifs of an invented spring fair at a pond, as vectors in millimetres.

    python samples/draw.py

writes samples/*/motif.svg: one A5 page each, the group "silhouette" holding closed filled shapes
whose union is the motif's true outline, the group "markings" what is drawn on it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Points = Sequence[tuple[float, float]]
Array = NDArray[np.float64]
HERE = Path(__file__).parent
PAGE = (148.0, 210.0)


@dataclass
class Drawing:
    """A motif: shapes that make its silhouette, markings on top. (path data, fill) each."""

    title: str
    shapes: list[tuple[str, str]] = field(default_factory=list)
    markings: list[tuple[str, str]] = field(default_factory=list)

    def svg(self) -> str:
        """Return the page as SVG."""
        groups = "\n".join(
            f'<g id="{name}">\n'
            + "\n".join(f'<path d="{data}" fill="{fill}"/>' for data, fill in rows)
            + "\n</g>"
            for name, rows in (("silhouette", self.shapes), ("markings", self.markings))
        )
        width, height = PAGE
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
            f'viewBox="0 0 {width:g} {height:g}">\n<title>{self.title}</title>\n{groups}\n</svg>\n'
        )


def smooth(points: Points | Array, *, corners: Sequence[int] = ()) -> str:
    """Return path data of a closed Catmull-Rom curve; it turns sharply at the ``corners``."""
    nodes = np.asarray(points, dtype=float)
    tangent = (np.roll(nodes, -1, axis=0) - np.roll(nodes, 1, axis=0)) / 6
    tangent[list(corners)] = 0
    after = np.roll(nodes, -1, axis=0)
    second = after - np.roll(tangent, -1, axis=0)
    start = f"M{nodes[0, 0]:.3f} {nodes[0, 1]:.3f}"
    return (
        start
        + "".join(
            f"C{a:.3f} {b:.3f} {c:.3f} {d:.3f} {e:.3f} {f:.3f}"
            for (a, b), (c, d), (e, f) in zip(nodes + tangent, second, after, strict=True)
        )
        + "Z"
    )


def limb(points: Points, root: float, tip: float) -> str:
    """Return a curved strip along ``points``, ``root`` mm wide at its start, ``tip`` at its end."""
    nodes = np.asarray(points, dtype=float)
    along = np.linspace(0, len(nodes) - 1, 12 * (len(nodes) - 1) + 1)
    line = np.array([_catmull(nodes, t) for t in along])
    step = np.gradient(line, axis=0)
    normal = np.stack([-step[:, 1], step[:, 0]], axis=1) / np.linalg.norm(step, axis=1)[:, None]
    half = np.linspace(root, tip, len(line))[:, None] / 2
    return smooth(
        np.vstack([line + half * normal, (line - half * normal)[::-1]]),
        corners=(0, len(line) - 1, len(line), 2 * len(line) - 1),
    )


def _catmull(nodes: Array, t: float) -> Array:
    index = min(int(t), len(nodes) - 2)
    u = t - index
    before = nodes[max(index - 1, 0)]
    start, end = nodes[index], nodes[index + 1]
    after = nodes[min(index + 2, len(nodes) - 1)]
    first = start + (end - before) / 6
    second = end - (after - start) / 6
    s = 1 - u
    result: Array = s**3 * start + 3 * s * s * u * first + 3 * s * u * u * second + u**3 * end
    return result


def disc(x: float, y: float, rx: float, ry: float | None = None) -> str:
    """Return an ellipse."""
    angle = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    return smooth(np.stack([x + rx * np.cos(angle), y + (ry or rx) * np.sin(angle)], axis=1))


def mirrored(points: Points, x: float) -> list[tuple[float, float]]:
    """Return points mirrored about the upright line at ``x``."""
    return [(2 * x - px, py) for px, py in points]


def dragonfly() -> Drawing:
    """Return a dragonfly from above: four broad wings, six fine legs, two feelers."""
    x, y = 74.0, 92.0
    draw = Drawing("Lantern dragonfly")
    upper = [
        (0, -7), (8, -13), (22, -22), (38, -28), (50, -28), (55, -22), (52, -14), (40, -8),
        (24, -3), (10, 1), (0, 3),
    ]  # fmt: skip
    lower = [
        (0, -1), (11, 2), (26, 5), (40, 9), (48, 16), (47, 24), (39, 27), (26, 23), (13, 15),
        (0, 12),
    ]  # fmt: skip
    legs = [
        [(4, -9), (11, -20), (13, -31)],
        [(2.5, -12), (7, -22), (6.5, -32)],
        [(1.5, 13), (11, 27), (11, 38)],
    ]
    feeler = [(1.6, -22), (3.4, -31), (8, -39)]
    for side in (1, -1):

        def at(points: Points, side: int = side) -> list[tuple[float, float]]:
            return [(x + side * px, y + py) for px, py in points]

        for leg in legs:
            draw.shapes.append((limb(at(leg), 0.55, 0.45), "#22313f"))
        draw.shapes.append((limb(at(feeler), 0.5, 0.4), "#22313f"))
        draw.shapes.append((smooth(at(upper), corners=(0, 10)), "#4aa8a0"))
        draw.shapes.append((smooth(at(lower), corners=(0, 9)), "#7cc6a4"))
        for vein in ([(6, -7), (28, -18), (50, -22)], [(6, -4), (26, -10), (48, -16)]):
            draw.markings.append((limb(at(vein), 0.7, 0.4), "#e9f5ee"))
        for vein in ([(7, 5), (24, 11), (43, 19)], [(7, 8), (20, 14), (36, 23)]):
            draw.markings.append((limb(at(vein), 0.7, 0.4), "#eef8f0"))
        draw.markings.append((disc(x + side * 49, y - 23.5, 3.2, 1.6), "#22313f"))
        draw.markings.append((disc(x + side * 2.6, y - 20.5, 2.0, 2.4), "#d8573c"))
    body = [
        (0, -24), (3.4, -22.5), (4.6, -19), (3.4, -15), (6.2, -10), (7, -3), (6.2, 6), (4, 12),
        (2.9, 24), (2.6, 40), (2.9, 52), (3.6, 60), (2.4, 66), (0, 68),
    ]  # fmt: skip
    outline = body + [(-px, py) for px, py in reversed(body[1:-1])]
    draw.shapes.append((smooth([(x + px, y + py) for px, py in outline]), "#2b4a6f"))
    for step in range(7):
        draw.markings.append((disc(x, y + 18 + 6.6 * step, 2.0, 0.7), "#8fc1de"))
    draw.markings.append((disc(x, y - 4, 3.4, 6.5), "#3f6d9c"))
    return draw


def wader() -> Drawing:
    """Return a wading bird from the side: thin bill, two thin legs, no mirror axis."""
    draw = Drawing("Reed wader")
    legs = "#b5533c"
    draw.shapes.append((limb([(82, 134), (80, 152), (84, 170), (83, 188)], 0.75, 0.6), legs))
    draw.shapes.append((limb([(83, 187.6), (76, 189), (70, 188.6)], 0.6, 0.45), legs))
    draw.shapes.append((limb([(92, 132), (94, 150), (97, 168), (97, 187)], 0.75, 0.6), legs))
    draw.shapes.append((limb([(97, 186.6), (90, 188), (84.6, 187)], 0.6, 0.45), legs))
    draw.shapes.append((limb([(44, 62), (31, 65.5), (17, 71)], 2.6, 0.35), "#d9822b"))
    body = [
        (50, 53.5), (56, 55), (60, 60), (60.5, 68), (58, 77), (58.5, 86), (66, 90), (78, 91),
        (92, 95), (106, 101), (120, 107), (136, 109), (137, 112), (126, 117), (116, 120),
        (106, 129), (94, 136), (80, 138), (66, 134), (56, 126), (49.5, 114), (47, 100),
        (46.5, 86), (45.5, 74), (42, 67.5), (42.5, 59.5), (45.5, 55),
    ]  # fmt: skip
    draw.shapes.append((smooth(body, corners=(11,)), "#d3c19c"))
    wing = [
        (64, 98),
        (82, 98),
        (102, 105),
        (128, 110.5),
        (108, 119),
        (90, 124),
        (74, 121),
        (64, 111),
    ]
    draw.markings.append((smooth(wing, corners=(3,)), "#5f7f93"))
    for row in ([(70, 106), (90, 108), (116, 111)], [(72, 113), (90, 115), (106, 115)]):
        draw.markings.append((limb(row, 1.4, 0.6), "#dfe9ee"))
    draw.markings.append(
        (smooth([(42.6, 60), (47, 54.4), (56, 55), (60, 60), (52, 59)]), "#3e4a52")
    )
    draw.markings.append((disc(48.6, 61.8, 1.7), "#1d2328"))
    draw.markings.append((disc(48.1, 61.3, 0.5), "#ffffff"))
    draw.markings.append(
        (smooth([(49, 88), (54, 88), (57, 104), (56, 120), (50.5, 110)]), "#b9a479")
    )
    return draw


def lily() -> Drawing:
    """Return a water lily: a broad leaf with its notch, a flower, a curled stem and a bud."""
    draw = Drawing("Market-day lily")
    cx, cy = 74.0, 122.0
    angle = np.radians(np.linspace(112, 112 + 336, 40))
    wave = 1 + 0.02 * np.cos(9 * angle)
    rim = np.stack([cx + 58 * wave * np.cos(angle), cy + 47 * wave * np.sin(angle)], axis=1)
    leaf = np.vstack([rim, [[cx - 3, cy + 10]]])
    draw.shapes.append((smooth(leaf, corners=(0, 39, 40)), "#5c9a5a"))
    for turn in np.radians([150, 178, 342, 5, 32, 60]):
        tip = (cx + 50 * np.cos(turn), cy + 40 * np.sin(turn))
        middle = (cx + 25 * np.cos(turn + 0.06), cy + 20 * np.sin(turn + 0.06))
        draw.markings.append((limb([(cx, cy + 2), middle, tip], 1.5, 0.5), "#8fc17f"))
    stem = [(104, 87), (112, 72), (119, 60), (117, 49), (110, 48)]
    draw.shapes.append((limb(stem, 0.7, 0.6), "#3f7a4c"))
    draw.shapes.append((limb([(119, 60), (126, 54), (131, 52)], 0.6, 0.5), "#3f7a4c"))
    petals = [(-74, 33, 11), (74, 33, 11), (-50, 40, 13), (50, 40, 13), (-24, 46, 14), (24, 46, 14)]
    fx, fy = 66.0, 104.0
    for number, (lean, length, width) in enumerate([*petals, (0, 48, 14)]):
        colour = ("#e7b3c4", "#efc6d2", "#f6dde4")[min(number // 2, 2)]
        draw.shapes.append((petal(fx, fy, lean, length, width), colour))
        tip = np.radians(lean - 90)
        vein = [(fx, fy), (fx + 0.7 * length * np.cos(tip), fy + 0.7 * length * np.sin(tip))]
        draw.markings.append(
            (
                limb([vein[0], ((fx + vein[1][0]) / 2, (fy + vein[1][1]) / 2), vein[1]], 1.2, 0.4),
                "#cf8aa3",
            )
        )
    for lean in (-40, -20, 0, 20, 40):
        turn = np.radians(lean - 90)
        draw.markings.append(
            (disc(fx + 11 * np.cos(turn), fy + 9 * np.sin(turn), 2.0, 3.0), "#f0b83f")
        )
    return draw


def petal(x: float, y: float, lean_deg: float, length: float, width: float) -> str:
    """Return a pointed petal from (x, y), leaning clockwise from upright."""
    shape = np.array([(0, 4), (0.75, -0.3), (1, -0.55), (0.62, -0.85), (0, -1), (-0.62, -0.85),
                      (-1, -0.55), (-0.75, -0.3)])  # fmt: skip
    flat = shape * np.array([width / 2, length])
    flat[0] = (0, 4)
    turn = np.radians(lean_deg)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return smooth(flat @ spin.T + np.array([x, y]), corners=(4,))


MOTIFS = {"dragonfly": dragonfly, "wader": wader, "lily": lily}


def main() -> None:
    """Write every motif."""
    for name, draw in MOTIFS.items():
        folder = HERE / name
        folder.mkdir(exist_ok=True)
        (folder / "motif.svg").write_text(draw().svg(), "utf-8")


if __name__ == "__main__":
    main()
