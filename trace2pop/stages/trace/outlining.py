"""From coverage to outlines: contours below a pixel, fitted, widened, made even, never crossing."""

import numpy as np
import shapely

from trace2pop.errors import TraceError
from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import crossings, uncrossed
from trace2pop.geometry.fitting import fit_closed
from trace2pop.geometry.slits import drawn_out
from trace2pop.model.outline import Contour, FloatArray, Outline
from trace2pop.stages.trace.light import Plane

HOLE_MM2 = 0.5
"""Holes smaller than this are flaws of the picture."""

FINEST_PX = 0.3
"""A fit closer than this follows the pixels, not the line."""

_SHARP_PX = 0.6
"""Blur below which nothing is known of an edge's softness: that of masks and of bare alpha."""

_SLIT_BLUR = 1.4
"""Blur in slits over that of open edges: a slit's own paper pales the ink that coverage is measured
against beside it. Set on the development motifs of the benchmark."""

_AGAIN = ((1.0, 1), (0.5, 2), (0.25, 2))
"""Shares of the tolerance and parts of the step with which contours that cross are fitted anew."""

_ON = 0.02
"""mm from a contour within which it has a share in a crossing."""

_STEP_PX = 0.6
_STEPS = (0.03, 0.3)
_PIECE_MM2 = 1.0


def pieces_of(cover: Plane, px_per_mm: float) -> list[shapely.Polygon]:
    """Return the regions of at least half coverage as polygons in drawn mm, largest first.

    Vertices lie where the coverage, taken as linear between pixel centres, crosses one half; slits
    are drawn on to where they end.
    """
    rings = _contours(cover, px_per_mm)
    blur = _blur_px(cover, rings, px_per_mm)
    if blur > _SHARP_PX:
        pieces = _assembled(drawn_out(rings, _SLIT_BLUR * blur / px_per_mm))
        if all(piece.is_valid for piece in pieces):
            return pieces
    return _assembled(rings)


def _assembled(rings: list[FloatArray]) -> list[shapely.Polygon]:
    """Return the polygons that rings bound, largest first: outer ones have a positive area."""
    solid = [ring for ring in rings if _signed_area(ring) > _PIECE_MM2]
    hollow = [ring for ring in rings if _signed_area(ring) < -HOLE_MM2]
    pieces = []
    for outer in solid:
        shape = shapely.Polygon(outer)
        shapely.prepare(shape)
        inside = [ring for ring in hollow if shape.contains(shapely.Point(ring[0]))]
        pieces.append(shapely.Polygon(outer, inside))
    return sorted(pieces, key=lambda piece: -float(piece.area))


def _contours(cover: Plane, px_per_mm: float) -> list[FloatArray]:
    """Return the closed contours (n, 2) of half coverage in drawn mm, last point not doubled."""
    from skimage.measure import find_contours

    some = cover > 0.25
    ys, xs = (np.flatnonzero(some.any(axis=axis)) for axis in (1, 0))
    if not len(xs):
        return []
    top, left = max(int(ys[0]) - 2, 0), max(int(xs[0]) - 2, 0)
    part = np.pad(cover[top : ys[-1] + 3, left : xs[-1] + 3], 2)
    origin = np.array([left, top]) - 2 + 0.5
    return [
        (ring[:-1, ::-1] + origin) / px_per_mm
        for ring in find_contours(part, 0.5)
        if len(ring) > 8 and np.array_equal(ring[0], ring[-1])
    ]


def _blur_px(cover: Plane, rings: list[FloatArray], px_per_mm: float) -> float:
    """Return the blur's standard deviation in px: from how steeply coverage falls at its edges.

    The middle of a step blurred by a Gaussian has the slope 1 / (s sqrt(2 pi)); differences over
    two pixels add the variance of such a box, 1/3 px^2.
    """
    if not rings:
        return 0.0
    col, row = np.rint(np.vstack(rings) * px_per_mm - 0.5).astype(int).T
    col, row = np.clip(col, 1, cover.shape[1] - 2), np.clip(row, 1, cover.shape[0] - 2)
    across = (cover[row, col + 1] - cover[row, col - 1]) / 2
    down = (cover[row + 1, col] - cover[row - 1, col]) / 2
    slope = float(np.median(np.hypot(across, down)))
    return float(np.sqrt(max(1 / (2 * np.pi * max(slope, 1e-3) ** 2) - 1 / 3, 0.0)))


def _signed_area(ring: FloatArray) -> float:
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2)


def outline_of(piece: shapely.Polygon, px_per_mm: float, tolerance: float) -> Outline:
    """Return a traced polygon fitted to ``tolerance`` mm; finer where the fit would cross itself.

    Raises:
        TraceError: where even the polygon crosses itself.
    """
    step = float(np.clip(_STEP_PX / px_per_mm, *_STEPS))
    tolerance = max(tolerance, FINEST_PX / px_per_mm)
    rings = [
        np.asarray(ring.coords)[:-1] for ring in (piece.exterior, *_large(list(piece.interiors)))
    ]
    outline = _outline([fit_closed(ring, tolerance, step) for ring in rings])
    blunt = np.empty((0, 2))
    for share, finer in _AGAIN:
        if uncrossed(outline):
            return outline
        places = crossings(outline)
        blunt = np.vstack([blunt, places])
        chains = (outline.outer, *outline.holes)
        outline = _outline(
            [
                fit_closed(ring, share * tolerance, step / finer, blunt)
                if _meets(chain, places)
                else chain
                for ring, chain in zip(rings, chains, strict=True)
            ]
        )
    if uncrossed(outline):
        return outline
    # What no curve follows without crossing itself is drawn by the points it was traced from.
    finest = FINEST_PX / px_per_mm / 2
    plain = _outline([beziers.straight(_simplified(ring, finest), closed=True) for ring in rings])
    if not uncrossed(plain):
        raise TraceError(
            "the outline crosses itself, so it can't be cut",
            "take the picture again, larger and sharper",
        )
    return plain


def _outline(chains: list[Contour]) -> Outline:
    return Outline(chains[0], tuple(chains[1:]))


def _meets(chain: Contour, places: FloatArray) -> bool:
    """Whether a place of ``places`` (n, 2) lies on a chain; without any, every chain counts."""
    line = shapely.LinearRing(beziers.flatten(chain))
    return not len(places) or bool((shapely.distance(line, shapely.points(places)) < _ON).any())


def _large(rings: list[shapely.LinearRing]) -> list[shapely.LinearRing]:
    return [ring for ring in rings if shapely.Polygon(ring).area > HOLE_MM2]


def _simplified(ring: FloatArray, tolerance: float) -> FloatArray:
    return np.asarray(shapely.Polygon(ring).simplify(tolerance).exterior.coords)[:-1]


def one_piece(pieces: list[shapely.Polygon], offset: float) -> shapely.Polygon:
    """Return the pieces with a margin of ``offset`` mm, round at corners, as the one they must be.

    Raises:
        TraceError: where they stay apart.
    """
    if offset == 0 and len(pieces) == 1:
        return pieces[0]
    whole = shapely.union_all([piece.buffer(offset, quad_segs=32) for piece in pieces])
    parts = shapely.get_parts(whole)
    if len(parts) > 1:
        apart = min(float(parts[0].distance(other)) for other in parts[1:])
        raise TraceError(
            f"what is taken lies in {len(parts)} pieces, {apart:.1f} mm and more apart, but a "
            "motif is one piece of paper",
            f"take one of them, or leave a margin that joins them: --offset "
            f"{offset + np.ceil(5 * apart + 1) / 10:.1f}mm",
        )
    return parts[0]
