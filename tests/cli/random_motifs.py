"""Random motifs as SVG elements: what people draw, by its geometry. Lengths are mm."""

import math
from collections.abc import Callable
from random import Random

MIDDLE = 100.0
"""Of the sheet a motif is drawn on, across and down."""

Elements = tuple[str, ...]
"""Each a drawing element of its own, so that a motif is made simpler by leaving some out."""


def motif(random: Random, size: float) -> Elements:
    """Return a motif that reaches about ``size`` from the middle: one kind, or several together."""
    kinds = random.choices(list(KINDS), list(KINDS.values()), k=random.choice((1, 1, 1, 2, 3)))
    elements: Elements = ()
    for number, kind in enumerate(kinds):
        reach = size if number == 0 else size * random.uniform(0.2, 1)
        elements += kind(random, reach)
    if random.random() < 0.3:  # a whole that is its own mirror image
        turned = f'<g transform="matrix(-1 0 0 1 {2 * MIDDLE} 0)">'
        elements += tuple(f"{turned}{element}</g>" for element in elements)
    return elements


def blob(random: Random, size: float) -> Elements:
    return (filled(outline(random, spot(random, size / 8), size)),)


def plain(random: Random, size: float) -> Elements:
    """Return a rectangle, an ellipse or a triangle, as its element."""
    width, height = size * random.uniform(0.4, 1.6), size * random.uniform(0.4, 1.6)
    left, top = MIDDLE - width / 2, MIDDLE - height / 2
    fill = colour(random)
    return (
        random.choice(
            (
                f'<rect x="{left:.2f}" y="{top:.2f}" width="{width:.2f}" height="{height:.2f}" '
                f'rx="{random.choice((0.0, size / 5)):.2f}" {fill}/>',
                f'<ellipse cx="{MIDDLE}" cy="{MIDDLE}" rx="{width:.2f}" ry="{height:.2f}" {fill}/>',
                f'<polygon points="{left:.2f},{top:.2f} {left + width:.2f},{top + 5:.2f} '
                f'{MIDDLE:.2f},{top + height:.2f}" {fill}/>',
            )
        ),
    )


def limbs(random: Random, size: float) -> Elements:
    """Return a body with tapering limbs, some of them fine at their ends."""
    found = blob(random, size * random.uniform(0.3, 0.7))
    for _ in range(random.randint(2, 8)):
        way, length = random.uniform(0, 2 * math.pi), size * random.uniform(0.6, 1.3)
        root, end = size * random.uniform(0.05, 0.3), random.choice((0.2, 0.8, 3.0, size * 0.2))
        along, across = (math.cos(way), math.sin(way)), (-math.sin(way), math.cos(way))
        corners = [
            tuple(MIDDLE + far * a + side * b for a, b in zip(along, across, strict=True))
            for far, side in ((0, root), (length, end / 2), (length, -end / 2), (0, -root))
        ]
        found += (filled(straight([(x, y) for x, y in corners])),)
    return found


def spurs(random: Random, size: float) -> Elements:
    """Return a body with feelers and stems of a pen's width."""
    found = blob(random, size * random.uniform(0.4, 0.9))
    for _ in range(random.randint(1, 6)):
        x, y = spot(random, size * 1.1)
        bent = spot(random, size * 0.6)
        line = f"M{MIDDLE} {MIDDLE}Q{bent[0]:.2f} {bent[1]:.2f} {x:.2f} {y:.2f}"
        found += (stroked(random, line, random.choice((0.25, 0.6, 1, 1.5, 2.5, 4))),)
    return found


def holes(random: Random, size: float) -> Elements:
    """Return a body with holes, some at its edge, some too small to cut."""
    path = outline(random, (MIDDLE, MIDDLE), size)
    for _ in range(random.randint(1, 7)):
        radius = random.choice((0.2, 0.8, 2.0, 5.0, size / 4)) * random.uniform(0.5, 1.5)
        path += outline(random, spot(random, size * 0.7), radius)
    return (filled(path),)


def islands(random: Random, size: float) -> Elements:
    """Return a ring with something loose in it, and perhaps something loose beside it."""
    inner = size * random.uniform(0.3, 0.8)
    path = circle((MIDDLE, MIDDLE), size) + circle((MIDDLE, MIDDLE), inner)
    found: Elements = (filled(path),)
    for _ in range(random.randint(1, 3)):
        speck = outline(random, spot(random, inner), inner * random.uniform(0.05, 0.5))
        found += (filled(speck),)
    if random.random() < 0.3:
        found += (filled(circle((MIDDLE + size * 1.2, MIDDLE), size * 0.1)),)
    return found


def ring(random: Random, size: float) -> Elements:
    """Return a ring with spokes, wide or slim."""
    wide = size * random.choice((0.03, 0.1, 0.3, 0.6))
    found: Elements = (
        filled(circle((MIDDLE, MIDDLE), size) + circle((MIDDLE, MIDDLE), size - wide)),
    )
    for number in range(random.randint(0, 6)):
        x, y = (MIDDLE + size * f(number) * 0.97 for f in (math.cos, math.sin))
        found += (stroked(random, f"M{MIDDLE} {MIDDLE}L{x:.2f} {y:.2f}", size * 0.08),)
    return found


def spiral(random: Random, size: float) -> Elements:
    """Return an even spiral in one pen width, its turns well apart or nearly touching."""
    turns, steps = random.uniform(1.2, 3.5), 90
    width = size / turns * random.uniform(0.15, 0.9)
    points = [
        (MIDDLE + size * part * math.cos(angle), MIDDLE + size * part * math.sin(angle))
        for part, angle in ((k / steps, 2 * math.pi * turns * k / steps) for k in range(steps + 1))
    ]
    return (stroked(random, straight(points)[:-1], width),)


def comb(random: Random, size: float) -> Elements:
    """Return a bar with teeth, as letters are: some fine, some close together."""
    bar = size * random.uniform(0.1, 0.5)
    tooth, gap = (size * random.uniform(0.02, 0.3) for _ in range(2))
    left, top = MIDDLE - size, MIDDLE - bar / 2
    path = f"M{left:.2f} {top:.2f}h{2 * size:.2f}v{bar:.2f}h{-2 * size:.2f}z"
    at = left + gap
    while at + tooth < MIDDLE + size:
        up, down = (size * random.uniform(0, 0.9) for _ in range(2))
        path += f"M{at:.2f} {top - up:.2f}h{tooth:.2f}v{bar + up + down:.2f}h{-tooth:.2f}z"
        at += tooth + gap
    return (f'<path fill-rule="nonzero" d="{path}" {colour(random)}/>',)


def star(random: Random, size: float) -> Elements:
    """Return a star, one that crosses itself among them, under either rule of what is inside."""
    count, step = random.randint(5, 13), random.choice((1, 2, 3))
    points = [
        (
            MIDDLE + size * math.sin(2 * math.pi * step * k / count),
            MIDDLE - size * math.cos(2 * math.pi * step * k / count),
        )
        for k in range(count)
    ]
    rule = random.choice(("nonzero", "evenodd"))
    return (f'<path fill-rule="{rule}" d="{straight(points)}" {colour(random)}/>',)


def leaves(random: Random, size: float) -> Elements:
    """Return a stem with leaves to both sides."""
    sway = spot(random, size * 0.4)
    low, high = MIDDLE + size, MIDDLE - size
    stem = f"M{MIDDLE} {low:.2f}Q{sway[0]:.2f} {sway[1]:.2f} {MIDDLE} {high:.2f}"
    found: Elements = (stroked(random, stem, random.choice((0.8, 2, 5, size / 5))),)
    for number in range(random.randint(2, 7)):
        y = MIDDLE + size * (0.8 - 0.25 * number)
        turn = random.uniform(-60, 60) + 180 * (number % 2)
        found += (
            f'<ellipse cx="{size * 0.4:.2f}" cy="0" rx="{size * random.uniform(0.25, 0.5):.2f}" '
            f'ry="{size * random.uniform(0.05, 0.25):.2f}" {colour(random)} '
            f'transform="translate({MIDDLE} {y:.2f}) rotate({turn:.1f})"/>',
        )
    return found


KINDS: dict[Callable[[Random, float], Elements], int] = {
    blob: 4,
    plain: 1,
    limbs: 3,
    spurs: 3,
    holes: 3,
    islands: 2,
    ring: 1,
    spiral: 1,
    comb: 1,
    star: 1,
    leaves: 2,
}
"""With how often each comes up."""


def spot(random: Random, far: float) -> tuple[float, float]:
    """Return a place up to ``far`` from the middle."""
    angle, reach = random.uniform(0, 2 * math.pi), random.uniform(0, far)
    return MIDDLE + reach * math.cos(angle), MIDDLE + reach * math.sin(angle)


def outline(random: Random, middle: tuple[float, float], size: float) -> str:
    """Return a closed outline of lobes, smooth or straight, perhaps its own mirror image."""
    count = random.randint(5, 18)
    radii = [random.uniform(0.35, 1.0) for _ in range(count)]
    if random.random() < 0.5:
        radii = [radii[min(k, count - k)] for k in range(count)]
    stretch = random.uniform(0.4, 1.6)
    points = [
        (
            middle[0] + size * radius * math.sin(2 * math.pi * k / count) * stretch,
            middle[1] - size * radius * math.cos(2 * math.pi * k / count),
        )
        for k, radius in enumerate(radii)
    ]
    return straight(points) if random.random() < 0.3 else smooth(points)


def circle(middle: tuple[float, float], radius: float) -> str:
    """Return a circle of two arcs."""
    arc = f"A{radius:.3f} {radius:.3f} 0 1 1"
    left, right = (f"{middle[0] + far:.3f} {middle[1]:.3f}" for far in (-radius, radius))
    return f"M{left}{arc} {right}{arc} {left}z"


def straight(points: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points) + "z"


def smooth(points: list[tuple[float, float]]) -> str:
    """Return a closed Catmull-Rom curve as cubic Beziers."""
    parts = [f"M{points[0][0]:.3f} {points[0][1]:.3f}"]
    for k, point in enumerate(points):
        before, after = points[k - 1], points[(k + 1) % len(points)]
        later = points[(k + 2) % len(points)]
        first = [p + (a - b) / 6 for p, a, b in zip(point, after, before, strict=True)]
        second = [a - (c - p) / 6 for a, c, p in zip(after, later, point, strict=True)]
        parts.append("C" + " ".join(f"{value:.3f}" for value in (*first, *second, *after)))
    return "".join(parts) + "z"


def filled(path: str) -> str:
    return f'<path fill="#474" fill-rule="evenodd" d="{path}"/>'


def stroked(random: Random, path: str, width: float) -> str:
    cap = random.choice(("butt", "round", "square"))
    return (
        f'<path d="{path}" fill="none" stroke="#333" stroke-width="{width:.2f}" '
        f'stroke-linecap="{cap}" stroke-linejoin="round"/>'
    )


def colour(random: Random) -> str:
    return f'fill="{random.choice(("black", "#696", "rgb(200,80,40)"))}"'
