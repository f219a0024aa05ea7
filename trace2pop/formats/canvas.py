"""A picture drawn in mm with words, written as PNG."""

import base64
from collections.abc import Iterable
from html import escape

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from trace2pop.formats import pages
from trace2pop.formats.figures import FONT, INK, SOFT
from trace2pop.formats.svg import BLUE, VERMILLION, document, number, path_data, places, text
from trace2pop.model.outline import Contour, FloatArray

DPI = 150.0
Box = tuple[float, float, float, float]

__all__ = ["BLUE", "INK", "SOFT", "VERMILLION", "Canvas"]


class Canvas:
    """A page of ``width`` by ``height`` mm on which a drawing lies at ``scale``.

    ``origin`` is the drawing's point (in its own mm) that comes to ``corner`` on the page. Type
    sizes and stroke widths are page mm.
    """

    def __init__(
        self,
        size: tuple[float, float],
        *,
        scale: float = 1.0,
        origin: tuple[float, float] = (0.0, 0.0),
        corner: tuple[float, float] = (0.0, 0.0),
    ) -> None:
        self.size, self.scale = size, scale
        self.matrix = np.array(
            [
                [scale, 0.0, corner[0] - scale * origin[0]],
                [0.0, scale, corner[1] - scale * origin[1]],
            ]
        )
        self._body: list[str] = [
            f'<rect width="{number(size[0])}" height="{number(size[1])}" fill="#ffffff"/>'
        ]

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a point of the drawing lies on the page."""
        a, b = self.matrix @ np.array([x, y, 1.0])
        return float(a), float(b)

    def image(self, pixels: NDArray[np.uint8], box: Box, clip: Iterable[Contour] = ()) -> None:
        """Lay an RGB picture over a box of the drawing, inside ``clip`` where that is given."""
        done, content = cv2.imencode(".png", pixels[..., ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 1])
        assert done
        x0, y0 = self.at(*box[:2])
        x1, y1 = self.at(*box[2:])
        data = base64.b64encode(content.tobytes()).decode("ascii")
        drawn = (
            f'<image x="{number(x0)}" y="{number(y0)}" width="{number(x1 - x0)}" '
            f'height="{number(y1 - y0)}" preserveAspectRatio="none" '
            f'xlink:href="data:image/png;base64,{data}"/>'
        )
        rings = " ".join(path_data(self._mapped(line), closed=True) for line in clip)
        if rings:
            self._body.append(
                f'<clipPath id="clip"><path d="{rings}" clip-rule="evenodd"/></clipPath>'
                f'<g clip-path="url(#clip)">{drawn}</g>'
            )
        else:
            self._body.append(drawn)

    def _mapped(self, line: Contour) -> Contour:
        mapped: Contour = line @ self.matrix[:, :2].T + self.matrix[:, 2]
        return mapped

    def contours(
        self,
        lines: Iterable[Contour],
        *,
        stroke: str = INK,
        width: float = 0.3,
        fill: str = "none",
        dash: str = "",
    ) -> None:
        """Draw closed Bezier chains of the drawing."""
        data = " ".join(path_data(self._mapped(line), closed=True) for line in lines)
        self._path(data, stroke, width, fill, dash)

    def polygon(self, shape: shapely.Geometry, fill: str, stroke: str, width: float) -> None:
        """Draw polygons of the drawing."""
        for piece in shapely.get_parts(shape):
            if piece.geom_type == "Polygon":
                rings = [np.asarray(ring.coords) for ring in (piece.exterior, *piece.interiors)]
                data = " ".join(self._run(ring) + " Z" for ring in rings)
                self._path(data, stroke, width, fill, "")

    def line(
        self, points: FloatArray, *, stroke: str = INK, width: float = 0.3, dash: str = ""
    ) -> None:
        """Draw an open line of the drawing through ``points`` (n, 2)."""
        self._path(self._run(points), stroke, width, "none", dash)

    def _run(self, points: FloatArray) -> str:
        mapped = np.asarray(points)[:, :2] @ self.matrix[:, :2].T + self.matrix[:, 2]
        return "M" + " L".join(places(mapped))

    def _path(self, data: str, stroke: str, width: float, fill: str, dash: str) -> None:
        dashes = f' stroke-dasharray="{dash}"' if dash else ' stroke-linecap="round"'
        self._body.append(
            f'<path d="{data}" fill="{fill}" fill-rule="evenodd" stroke="{stroke}" '
            f'stroke-width="{number(width)}" stroke-linejoin="round"{dashes}/>'
        )

    def words(
        self,
        words: str,
        place: tuple[float, float],
        *,
        size: float = 3.2,
        anchor: str = "start",
        colour: str = INK,
        bold: bool = False,
        plate: bool = False,
    ) -> None:
        """Write words at a place on the page; ``plate`` puts white behind them."""
        x, y = place
        weight = "bold" if bold else "normal"
        look = f' font-weight="{weight}" style="font-family:{FONT}"'
        if plate:
            wide = len(words) * size * 0.47 + 1.6
            left = {"start": -0.8, "middle": -wide / 2, "end": -wide + 0.8}[anchor]
            self._body.append(
                f'<rect x="{number(x + left)}" y="{number(y - size * 0.85)}" rx="0.8" '
                f'width="{number(wide)}" height="{number(size * 1.25)}" fill="#ffffff" '
                'fill-opacity="0.88"/>'
            )
        self._body.append(text(words, x, y, size, anchor, colour, look))

    def dot(self, place: tuple[float, float], radius: float = 0.9, fill: str = INK) -> None:
        """Draw a ringed dot at a place on the page."""
        self._body.append(
            f'<circle cx="{number(place[0])}" cy="{number(place[1])}" r="{number(radius)}" '
            f'fill="{escape(fill)}" stroke="#ffffff" stroke-width="0.4"/>'
        )

    def scale_bar(self, place: tuple[float, float], length: float, words: str) -> None:
        """Draw a bar of ``length`` of the drawing's mm at a place on the page, its words beside."""
        x, y = place
        end = x + length * self.scale
        data = f"M{number(x)},{number(y - 1)} V{number(y)} H{number(end)} V{number(y - 1)}"
        self._path(data, INK, 0.35, "none", "")
        self.words(words, (end + 1.5, y + 0.2))

    def colour_bar(
        self, place: tuple[float, float], size: tuple[float, float], colours: NDArray[np.uint8]
    ) -> None:
        """Draw a bar of colours from foot to head at a place on the page."""
        x, y = place
        step = size[1] / len(colours)
        for index, (red, green, blue) in enumerate(colours):
            top = y + size[1] - (index + 1) * step
            self._body.append(
                f'<rect x="{number(x)}" y="{number(top)}" width="{number(size[0])}" '
                f'height="{number(step + 0.05)}" fill="#{red:02x}{green:02x}{blue:02x}"/>'
            )
        self._body.append(
            f'<rect x="{number(x)}" y="{number(y)}" width="{number(size[0])}" '
            f'height="{number(size[1])}" fill="none" stroke="{INK}" stroke-width="0.2"/>'
        )

    def png(self) -> bytes:
        """Return the picture."""
        return pages.png(pages.Page(self.size, (document(self.size, "picture", self._body),)), DPI)
