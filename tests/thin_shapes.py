"""Shapes with thin features whose count, length, width and joins are known by construction."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity

BODY = shapely.box(0, 0, 60, 30)
"""A body 60 x 30 mm; spurs stand on its upper edge, outwards is -y."""


@dataclass(frozen=True, eq=False)
class Strip:
    """What is known of one strip: length along its middle line from the body, mean width, join.

    ``tip_from`` is, for tapering strips, the function that gives length and mean width of what is
    narrower than a width.
    """

    length: float
    width: float
    join: tuple[float, float]
    root: float | None = None
    tip: float | None = None

    def thin_part(self, least: float) -> "Strip | None":
        """Return what of the strip is narrower than ``least``; None where nothing is."""
        root = self.width if self.root is None else self.root
        tip = self.width if self.tip is None else self.tip
        if tip >= least:
            return None
        if root <= least:
            return self
        share = (root - least) / (root - tip)
        at = np.array(self.join) + share * self.length * np.array([0.0, -1.0])
        return Strip(
            (1 - share) * self.length, (least + tip) / 2, (float(at[0]), float(at[1])), least, tip
        )


@dataclass(frozen=True, eq=False)
class Shape:
    """A shape, the strips on it and how they are joined: "spur", "bridge", "wall" or "ring"."""

    polygon: shapely.Polygon
    strips: tuple[Strip, ...] = ()
    kind: str = "spur"


def strip(path: np.ndarray, root: float, tip: float | None = None) -> shapely.Polygon:
    """Return a strip along ``path`` (n, 2), ``root`` wide at its start and ``tip`` at its end."""
    line = shapely.LineString(path)
    at = np.linspace(0, line.length, 240)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
    way = np.gradient(points, axis=0)
    across = np.column_stack([-way[:, 1], way[:, 0]]) / np.linalg.norm(way, axis=1)[:, None]
    half = np.linspace(root, root if tip is None else tip, len(at))[:, None] / 2
    return shapely.Polygon(np.vstack([points + half * across, (points - half * across)[::-1]]))


def arc(radius: float, degrees: float, start: Sequence[float], sense: int = 1) -> np.ndarray:
    """Return a path that sets out upwards from ``start`` and bends with ``radius``."""
    angle = np.radians(np.linspace(0, degrees, 160))
    x = sense * radius * (1 - np.cos(angle))
    return np.column_stack([x, -radius * np.sin(angle)]) + start


def s_curve(radius: float, degrees: float, start: Sequence[float]) -> np.ndarray:
    """Return two arcs that bend to opposite sides."""
    first = arc(radius, degrees, (0, 0))
    turn = np.radians(degrees)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    second = arc(radius, degrees, (0, 0), sense=-1) @ spin.T + first[-1]
    return np.vstack([first, second[1:]]) + start


def grounded(path: np.ndarray) -> np.ndarray:
    """Return the path with a stretch before it that roots it in the body."""
    way = path[1] - path[0]
    return np.vstack([path[0] - 3 * way / np.linalg.norm(way), path])


def on_body(*strips: shapely.Polygon, body: shapely.Polygon = BODY) -> shapely.Polygon:
    """Return the body with strips."""
    return shapely.union_all([body, *strips])


def straight(width: float, length: float = 25.0, x: float = 30.0) -> Shape:
    return Shape(
        on_body(shapely.box(x - width / 2, -length, x + width / 2, 1)),
        (Strip(length, width, (x, 0)),),
    )


def oblique(width: float, degrees: float, length: float = 25.0) -> Shape:
    turn = np.radians(degrees)
    end = np.array([30 + length * np.sin(turn), -length * np.cos(turn)])
    path = grounded(np.array([[30.0, 0.0], end]))
    return Shape(on_body(strip(path, width)), (Strip(length, width, (30, 0)),))


def bent(width: float, radius: float, degrees: float) -> Shape:
    path = arc(radius, degrees, (30, 0))
    length = radius * np.radians(degrees)
    return Shape(on_body(strip(grounded(path), width)), (Strip(length, width, (30, 0)),))


def wound(width: float, radius: float, degrees: float) -> Shape:
    path = s_curve(radius, degrees, (30, 0))
    length = 2 * radius * np.radians(degrees)
    return Shape(on_body(strip(grounded(path), width)), (Strip(length, width, (30, 0)),))


def tapering(root: float, tip: float, length: float = 25.0) -> Shape:
    path = np.array([[30.0, 0.0], [30.0, -length]])
    base = shapely.box(30 - root / 2, -0.01, 30 + root / 2, 1)
    known = Strip(length, (root + tip) / 2, (30, 0), root, tip)
    return Shape(on_body(strip(path, root, tip), base), (known,))


def round_cap(width: float, length: float = 25.0) -> Shape:
    line = shapely.LineString([(30, 2), (30, -length + width / 2)])
    return Shape(on_body(line.buffer(width / 2)), (Strip(length, width, (30, 0)),))


def forked(width: float) -> Shape:
    ways = [[(30, 2), (30, -10)], [(30, -10), (22, -20)], [(30, -10), (35, -16)]]
    polygon = on_body(*(shapely.LineString(way).buffer(width / 2) for way in ways))
    length = 10 + float(np.hypot(8, 10)) + width / 2
    return Shape(polygon, (Strip(length, width, (30, 0)),))


def clubbed(width: float, knob: float) -> Shape:
    line = shapely.LineString([(30, 2), (30, -22)])
    polygon = on_body(line.buffer(width / 2), shapely.Point(30, -22).buffer(knob / 2))
    return Shape(polygon, (Strip(22 + knob / 2, width, (30, 0)),))


def wavering(mean: float, by: float) -> Shape:
    """Return a spur whose width goes up and down about its mean; its root is narrow."""
    y = np.linspace(0, 25, 300)
    half = (mean - by * np.cos(1.7 * y)) / 2
    sides = np.vstack([np.column_stack([30 - half, -y]), np.column_stack([30 + half, -y])[::-1]])
    base = shapely.box(30 - half[0], -0.01, 30 + half[0], 1)
    return Shape(on_body(shapely.Polygon(sides), base), (Strip(25, mean, (30, 0)),))


def comb(count: int = 20, width: float = 0.5, length: float = 8.0) -> Shape:
    xs = [5 + 2.5 * number for number in range(count)]
    teeth = [shapely.box(x - width / 2, -length, x + width / 2, 1) for x in xs]
    return Shape(on_body(*teeth), tuple(Strip(length, width, (x, 0)) for x in xs))


def pair(width: float) -> Shape:
    """Return two spurs that leave the body at the same place."""
    way = np.array([6, -22]) / np.hypot(6, 22)
    strips, known = [], []
    for side in (-1, 1):
        root = np.array([30 + side * 0.6, 0.0])
        out = way * (side, 1)
        strips.append(strip(np.array([root - 2 * out, root + 20 * out]), width))
        known.append(Strip(20, width, (float(root[0]), 0)))
    return Shape(on_body(*strips), tuple(known))


def bridge(width: float, length: float = 10.0) -> Shape:
    polygon = on_body(
        shapely.box(60 + length, 2, 110, 28),
        shapely.box(59, 15 - width / 2, 61 + length, 15 + width / 2),
    )
    return Shape(polygon, (Strip(length, width, (60, 15)),), "bridge")


def wall(width: float) -> Shape:
    """Return a hole close to the body's upper edge."""
    polygon = BODY.difference(shapely.box(20, width, 40, 15))
    return Shape(polygon, (Strip(20, width, (20, width / 2)),), "wall")


def wall_beyond(width: float, least: float) -> float:
    """Return how far the thin part reaches beyond the hole's end, on its middle line.

    A disc as wide as ``least`` that touches the outer edge and the hole's corner has its middle
    beyond the corner; the wall ends on the line between the two.
    """
    return float(np.sqrt((least / 2) ** 2 - (least / 2 - width) ** 2)) / 2


def slot(width: float = 0.5) -> Shape:
    return Shape(BODY.difference(shapely.box(20, -1, 20 + width, 15)))


def corner(degrees: float) -> Shape:
    height = 6 / np.tan(np.radians(degrees) / 2)
    return Shape(on_body(shapely.Polygon([(24, 0.01), (30, -height), (36, 0.01)])))


def scallops() -> Shape:
    return Shape(
        shapely.union(shapely.Point(0, 0).buffer(10, 64), shapely.Point(18, 0).buffer(10, 64))
    )


def star(points: int = 5) -> Shape:
    angle = np.linspace(0, 2 * np.pi, 2 * points, endpoint=False)
    radius = np.tile([20.0, 8.0], points)
    return Shape(shapely.Polygon(np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])))


def ring(width: float, radius: float = 15.0) -> Shape:
    whole = shapely.Point(0, 0).buffer(radius + width / 2, 64)
    return Shape(
        whole.difference(shapely.Point(0, 0).buffer(radius - width / 2, 64)),
        (Strip(2 * np.pi * radius, width, (0, 0)),),
        "ring",
    )


def shapes() -> dict[str, Shape]:
    """Return all shapes by name."""
    return {
        **{f"straight {w}": straight(w) for w in (0.3, 0.4, 0.6, 0.8, 0.95, 1.2, 1.6, 2.0, 2.5)},
        **{f"short {w}": straight(w, 4.0) for w in (0.3, 0.6)},
        **{f"oblique {d}": oblique(0.6, d) for d in (-60, -40, 20, 45)},
        **{f"arc {w}": bent(w, 12, 120) for w in (0.3, 0.6, 0.8, 1.2)},
        "tight arc": bent(0.6, 4, 160),
        **{f"s-curve {w}": wound(w, 8, 90) for w in (0.4, 0.8, 1.2)},
        "taper 2.0-0.3": tapering(2.0, 0.3),
        "taper 0.9-0.3": tapering(0.9, 0.3),
        "taper 1.4-0.5": tapering(1.4, 0.5),
        "needle 0.9": tapering(0.9, 0.02),
        "needle 1.8": tapering(1.8, 0.02),
        **{f"round {w}": round_cap(w) for w in (0.4, 0.8, 1.2)},
        **{f"fork {w}": forked(w) for w in (0.4, 0.7)},
        "club": clubbed(0.6, 3.6),
        "wavering": wavering(0.95, 0.1),
        "comb": comb(),
        "pair": pair(0.5),
        **{f"bridge {w}": bridge(w) for w in (0.4, 0.8, 1.2)},
        **{f"wall {w}": wall(w) for w in (0.5, 0.8, 1.2)},
        **{f"ring {w}": ring(w) for w in (0.6, 2.0)},
        "slot": slot(),
        **{f"corner {a}": corner(a) for a in (15, 18, 20, 30, 45, 60, 90)},
        "scallops": scallops(),
        "star": star(),
        "star 9": star(9),
    }


def turned(polygon: shapely.Polygon, degrees: float, scale: float = 1.0) -> shapely.Polygon:
    """Return a polygon scaled and turned about (0, 0), its edges as short as a traced outline's."""
    spun = affinity.rotate(affinity.scale(polygon, scale, scale, origin=(0, 0)), degrees, (0, 0))
    return shapely.segmentize(spun, 0.7)


def turned_point(point: Sequence[float], degrees: float, scale: float = 1.0) -> np.ndarray:
    turn = np.radians(degrees)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return spin @ (scale * np.asarray(point, dtype=float))


def jittered(polygon: shapely.Polygon, by: float, seed: int) -> shapely.Polygon:
    """Return a polygon whose outline wavers by ``by`` mm (one sigma) over some 0.5 mm."""
    random = np.random.default_rng(seed)
    dense = shapely.segmentize(polygon, 0.12)

    def moved(ring: shapely.LinearRing) -> np.ndarray:
        points = np.asarray(ring.coords)[:-1]
        noise = random.normal(size=points.shape)
        kernel = np.hanning(7)[1:-1]
        kernel /= np.sqrt((kernel**2).sum())
        smooth = np.column_stack(
            [np.convolve(np.pad(noise[:, k], 2, mode="wrap"), kernel, "valid") for k in (0, 1)]
        )
        return points + by * smooth

    moved_rings = shapely.Polygon(moved(dense.exterior), [moved(hole) for hole in dense.interiors])
    # Where an outline wavers as much as a tip is narrow, it crosses itself there.
    return max(shapely.get_parts(moved_rings.buffer(0)), key=lambda part: part.area)
