"""Random outlines for tests: smooth shapes with waists, and blobs joined by stems."""

import numpy as np
import shapely

from tests.examples import smooth_closed
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Artwork, MirrorAxis, Motif, Scale
from trace2pop.model.outline import Outline


def random_outline(seed: int) -> Outline:
    """Return a random outline about 100 mm across: every other one is of blobs joined by stems."""
    random = np.random.default_rng(seed)
    return _blobs(random) if seed % 2 else _star(random)


def _star(random: np.random.Generator) -> Outline:
    angle = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    radius = np.full(60, 50.0)
    for order in range(1, 7):
        size = random.normal(0, 16.0 / order)
        radius += size * np.cos(order * angle + random.uniform(0, 2 * np.pi))
    radius = np.maximum(radius, random.uniform(3, 12))
    stretch = random.uniform(0.6, 1.6)
    ring = np.stack([radius * np.cos(angle) * stretch, radius * np.sin(angle)], axis=1)
    holes = ()
    if radius.min() > 14:
        small = radius.min() * 0.6
        holes = (smooth_closed(small * np.stack([np.cos(-angle), np.sin(-angle)], axis=1)),)
    return Outline(smooth_closed(ring), holes)


def _blobs(random: np.random.Generator) -> Outline:
    """Blobs left and right of the middle, some with holes, each joined to the next by a stem."""
    count = int(random.integers(2, 5))
    x = np.linspace(-50, 50, count) + random.uniform(-10, 10, count)
    middles = np.stack([x, random.uniform(-30, 30, count)], axis=1)
    shapes = [shapely.Point(m).buffer(random.uniform(7, 26)) for m in middles]
    shapes = [
        shapely.affinity.scale(shape, random.uniform(0.6, 1.2), random.uniform(0.6, 1.4))
        for shape in shapes
    ]
    stem = shapely.LineString(middles).buffer(random.uniform(1, 5))
    whole = shapely.union_all([*shapes, stem])
    for middle in middles[random.uniform(size=count) < 0.3]:
        whole = whole.difference(shapely.Point(middle).buffer(random.uniform(2, 6)))
    largest = max(shapely.get_parts(whole), key=lambda piece: piece.area)
    return beziers.from_polygon(largest)


def motif_of(outline: Outline, axis: MirrorAxis | None = None) -> Motif:
    """Return a traced motif with ``outline`` in drawn mm, its picture left blank."""
    left, top, right, bottom = beziers.bounds(outline.outer)
    cols, rows = int(right - left) + 2, int(bottom - top) + 2
    artwork = Artwork(
        name="random.png",
        rgb=np.full((rows, cols, 3), 255, np.uint8),
        alpha=None,
        px_per_mm=1.0,
        scale=Scale("none", None, None),
        to_source=np.eye(3),
        source_size_px=(cols, rows),
    )
    return Motif(artwork, outline, "solid", 1.0, axis)
