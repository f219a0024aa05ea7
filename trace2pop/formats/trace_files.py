"""What a trace leaves to look at and to use: the outline in mm, and the picture with its line."""

import cv2
import numpy as np

from trace2pop.formats.svg import document, path_data
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Motif

_LONGEST_PX = 1600
_BAR_MM = 50.0


def outline_svg(motif: Motif) -> bytes:
    """Return the outline as SVG in drawn mm, in the artwork's own frame."""
    rows, cols = motif.artwork.rgb.shape[:2]
    size = (cols / motif.artwork.px_per_mm, rows / motif.artwork.px_per_mm)
    chains = (motif.outline.outer, *motif.outline.holes)
    style = 'class="cut" fill="none" stroke="#000000" stroke-width="0.2"'
    body = [f'<path {style} d="{path_data(chain, closed=True)}"/>' for chain in chains]
    return document(size, "outline", body)


def trace_png(motif: Motif) -> bytes:
    """Return the picture with the traced line, its mirror axis, and a scale bar."""
    artwork = motif.artwork
    factor = min(1.0, _LONGEST_PX / max(artwork.rgb.shape[:2]))
    small = cv2.resize(artwork.rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    image = np.ascontiguousarray((small.astype(np.float32) * 0.6 + 102).astype(np.uint8)[..., ::-1])
    scale = artwork.px_per_mm * factor
    for chain in (motif.outline.outer, *motif.outline.holes):
        points = np.rint(beziers.flatten(chain, 0.02) * scale * 16 - 8).astype(np.int32)
        cv2.polylines(image, [points], True, (255, 255, 255), 5, cv2.LINE_AA, 4)
        cv2.polylines(image, [points], True, (0, 94, 213), 2, cv2.LINE_AA, 4)
    if motif.axis is not None:
        turn = np.radians(motif.axis.tilt_deg)
        along = np.array([-np.sin(turn), np.cos(turn)]) * max(image.shape)
        middle = np.array(motif.axis.point) * scale
        ends = np.rint([middle - along, middle + along]).astype(int)
        cv2.line(image, tuple(ends[0]), tuple(ends[1]), (178, 114, 0), 1, cv2.LINE_AA)
    if artwork.scale.source != "none":
        x, y = 20, image.shape[0] - 24
        end = (x + round(_BAR_MM * scale), y)
        cv2.line(image, (x, y), end, (0, 0, 0), 3)
        cv2.putText(
            image, f"{_BAR_MM:.0f} mm drawn", (x, y - 8), cv2.FONT_HERSHEY_SIMPLEX, 0.6, (0, 0, 0)
        )
    done, content = cv2.imencode(".png", image)
    if not done:
        raise RuntimeError("the picture could not be encoded")
    return content.tobytes()
