"""Sheets of the pictures with the traced outline over each, to be looked at."""

from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
import shapely

from tests.bench import pictures
from tests.bench.finding_table import Row

Array = np.ndarray

_ROUND_MM = 4.0
_ROUGH_MM = 0.02
_LINE = (255, 0, 160)
_ASTRAY = (255, 120, 0)
_NO_PAPER = (200, 220, 240)
_CAPTION_PX = 34


def sheet(rows: Sequence[Row], target: Path, columns: int = 4, side: int = 480) -> None:
    """Write one sheet. Where trace and truth differ by more than a pen's width is filled orange."""
    tiles = [_tile(row, side) for row in rows]
    blank = np.full((side + _CAPTION_PX, side, 3), 255, np.uint8)
    tiles += [blank] * (-len(tiles) % columns)
    lines = [np.hstack(tiles[k : k + columns]) for k in range(0, len(tiles), columns)]
    cv2.imwrite(str(target), np.vstack(lines)[..., ::-1])


def _tile(row: Row, side: int) -> Array:
    artwork = pictures.artwork(row.case)
    true = shapely.Polygon(pictures.truth(row.case).exterior)
    view = artwork.rgb.copy()
    if artwork.alpha is not None:
        share = artwork.alpha[..., None] / 255
        view = (view * share + np.array(_NO_PAPER) * (1 - share)).astype(np.uint8)
    left, top, right, bottom = true.bounds
    if row.rings:
        ends = np.vstack([row.rings[0], [[left, top], [right, bottom]]])
        left, top, right, bottom = *ends.min(axis=0), *ends.max(axis=0)
    span = max(right - left, bottom - top) + 2 * _ROUND_MM
    scale = side / span
    corner = np.array([(left + right) / 2 - span / 2, (top + bottom) / 2 - span / 2])
    zoom = scale / artwork.px_per_mm
    place = np.array([[zoom, 0, -corner[0] * scale], [0, zoom, -corner[1] * scale]])
    tile = cv2.warpAffine(view, place, (side, side), flags=cv2.INTER_AREA,
                          borderMode=cv2.BORDER_CONSTANT, borderValue=(120, 120, 120))  # fmt: skip

    def drawn(ring: Array) -> Array:
        return np.round((ring - corner) * scale * 16).astype(np.int32)

    found = shapely.Polygon(row.rings[0] if row.rings else None)
    one, other = (shapely.make_valid(shape.simplify(_ROUGH_MM)) for shape in (found, true))
    off = one.symmetric_difference(other).buffer(-0.15, quad_segs=4).buffer(0.15, quad_segs=4)
    for part in shapely.get_parts(off) if not off.is_empty else ():
        cv2.fillPoly(tile, [drawn(np.asarray(part.exterior.coords))], _ASTRAY, cv2.LINE_8, 4)
    for ring in row.rings:
        cv2.polylines(tile, [drawn(ring)], True, _LINE, 1, cv2.LINE_AA, 4)
    return np.vstack([tile, _caption(row, side)])


def _caption(row: Row, side: int) -> Array:
    caption = np.full((_CAPTION_PX, side, 3), 255, np.uint8)
    first = f"{row.case.key} {row.iou:.4f}"
    second = row.error or f"{row.kind} {row.confidence:.2f} {' '.join(row.doubts)}"
    for text, height in ((first, 14), (second, 29)):
        cv2.putText(caption, text, (4, height), cv2.FONT_HERSHEY_SIMPLEX, 0.42, (0, 0, 0), 1)
    return caption
