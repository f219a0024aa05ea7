"""What the sample motifs are drawn with: curves, limbs, petals and markings, in millimetres."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

Points = Sequence[tuple[float, float]]
Array = NDArray[np.float64]
PAGE = (148.0, 210.0)
Ink = Literal["", "edge", "whole"]
_CLASS = {"": "", "edge": ' class="edge"', "whole": ' class="whole"'}
_PER_SPAN = 16


@dataclass
class Drawing:
    """A motif: shapes whose union is its silhouette, markings on top; (path data, fill, ink) each.

    ``ink`` says what a pen drawing keeps: the "edge", the "whole" of what is no wider than a pen's
    line, or nothing.
    """

    title: str
    shapes: list[tuple[str, str, Ink]] = field(default_factory=list)
    markings: list[tuple[str, str, Ink]] = field(default_factory=list)

    def shape(self, data: str, fill: str, ink: Ink = "edge") -> None:
        """Add to the silhouette."""
        self.shapes.append((data, fill, ink))

    def mark(self, area: shapely.Geometry | str, fill: str, ink: Ink = "") -> None:
        """Draw on the silhouette: path data, or an area of any number of pieces."""
        self.markings.append((area if isinstance(area, str) else outline(area), fill, ink))

    def svg(self) -> str:
        """Return the page as SVG."""
        groups = "\n".join(
            f'<g id="{name}">\n'
            + "\n".join(
                f'<path{_CLASS[ink]} d="{data}" fill="{fill}"/>' for data, fill, ink in rows if data
            )
            + "\n</g>"
            for name, rows in (("silhouette", self.shapes), ("markings", self.markings))
        )
        width, height = PAGE
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
            f'viewBox="0 0 {width:g} {height:g}">\n<title>{self.title}</title>\n{groups}\n</svg>\n'
        )


def smooth(points: ArrayLike, *, corners: Sequence[int] = ()) -> str:
    """Return path data of a closed Catmull-Rom curve; it turns sharply at the ``corners``."""
    nodes, first, second, after = _curve(points, corners)
    start = f"M{nodes[0, 0]:.3f} {nodes[0, 1]:.3f}"
    return (
        start
        + "".join(
            f"C{a:.3f} {b:.3f} {c:.3f} {d:.3f} {e:.3f} {f:.3f}"
            for (a, b), (c, d), (e, f) in zip(first, second, after, strict=True)
        )
        + "Z"
    )


def area(points: ArrayLike, *, corners: Sequence[int] = ()) -> shapely.Polygon:
    """Return what the closed curve of ``smooth`` holds, as a polygon."""
    nodes, first, second, after = (item[:, None] for item in _curve(points, corners))
    t = np.linspace(0, 1, _PER_SPAN, endpoint=False)[None, :, None]
    s = 1 - t
    line = s**3 * nodes + 3 * s * s * t * first + 3 * s * t * t * second + t**3 * after
    return shapely.Polygon(line.reshape(-1, 2)).buffer(0)


def _curve(points: ArrayLike, corners: Sequence[int]) -> tuple[Array, Array, Array, Array]:
    nodes = np.asarray(points, dtype=float)
    tangent = (np.roll(nodes, -1, axis=0) - np.roll(nodes, 1, axis=0)) / 6
    tangent[list(corners)] = 0
    after = np.roll(nodes, -1, axis=0)
    return nodes, nodes + tangent, after - np.roll(tangent, -1, axis=0), after


def outline(shape: shapely.Geometry) -> str:
    """Return path data of an area's pieces, true to 0.01 mm."""
    pieces = shapely.get_parts(shapely.simplify(shape, 0.01))
    return "".join(
        "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in list(ring.coords)[:-1]) + "Z"
        for piece in pieces
        if piece.geom_type == "Polygon" and piece.area > 0.02
        for ring in (piece.exterior, *piece.interiors)
    )


def limb_points(points: Points, root: float, tip: float) -> tuple[Array, list[int]]:
    """Return nodes and corners of a curved strip, ``root`` mm wide at first, ``tip`` at last."""
    nodes = np.asarray(points, dtype=float)
    line = spline(nodes, 8)
    step = np.gradient(line, axis=0)
    normal = np.stack([-step[:, 1], step[:, 0]], axis=1) / np.linalg.norm(step, axis=1)[:, None]
    half = np.linspace(root, tip, len(line))[:, None] / 2
    n = len(line)
    ring = np.vstack([line + half * normal, (line - half * normal)[::-1]])
    return ring, [0, n - 1, n, 2 * n - 1]


def limb(points: Points, root: float, tip: float) -> str:
    """Return path data of a curved strip."""
    ring, corners = limb_points(points, root, tip)
    return smooth(ring, corners=corners)


def stroke(points: Points, root: float, tip: float) -> shapely.Polygon:
    """Return a curved strip as an area, for markings that are clipped."""
    ring, corners = limb_points(points, root, tip)
    return area(ring, corners=corners)


def spline(nodes: Array, per_span: int) -> Array:
    """Return points on the open Catmull-Rom curve through ``nodes`` (n, 2)."""
    padded = np.vstack([nodes[:1], nodes, nodes[-1:]])
    t = np.linspace(0, 1, per_span, endpoint=False)[:, None]
    s = 1 - t
    pieces = []
    for before, start, end, after in zip(
        padded[:-3], padded[1:-2], padded[2:-1], padded[3:], strict=True
    ):
        first, second = start + (end - before) / 6, end - (after - start) / 6
        pieces.append(s**3 * start + 3 * s * s * t * first + 3 * s * t * t * second + t**3 * end)
    return np.vstack([*pieces, nodes[-1:]])


def oval(x: float, y: float, rx: float, ry: float | None = None, turn_deg: float = 0) -> Array:
    """Return nodes of an ellipse."""
    angle = np.linspace(0, 2 * np.pi, 16, endpoint=False)
    flat = np.stack([rx * np.cos(angle), (ry or rx) * np.sin(angle)], axis=1)
    return turned(flat, turn_deg) + np.array([x, y])


def petal(x: float, y: float, lean_deg: float, length: float, width: float) -> Array:
    """Return nodes of a pointed petal from (x, y), leaning clockwise from upright; its tip is 4."""
    half = [(0.22, 0.02), (0.8, -0.32), (1, -0.58), (0.64, -0.85)]
    shape = np.array([*half, (0, -1), *((-a, b) for a, b in reversed(half))])
    return turned(shape * (width / 2, length), lean_deg) + np.array([x, y])


def turned(points: ArrayLike, turn_deg: float) -> Array:
    """Return points turned clockwise about (0, 0)."""
    turn = np.radians(turn_deg)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    result: Array = np.asarray(points, dtype=float) @ spin.T
    return result


def ring(x: float, y: float, inner: float, outer: float) -> shapely.Geometry:
    """Return the area between two circles."""
    middle = shapely.Point(x, y)
    return middle.buffer(outer, 64).difference(middle.buffer(inner, 64))


def union(areas: Iterable[shapely.Geometry]) -> shapely.Geometry:
    """Return the union of areas."""
    return shapely.unary_union(list(areas))
