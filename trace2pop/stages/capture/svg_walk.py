"""An SVG tree to painted shapes in millimetres: groups, use, transforms and viewports applied."""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from xml.etree import ElementTree

import numpy as np
import shapely

from trace2pop.errors import PictureError
from trace2pop.geometry import beziers
from trace2pop.model.outline import Contour, FloatArray
from trace2pop.stages.capture import svg_shapes
from trace2pop.stages.capture.svg_bounds import Tally
from trace2pop.stages.capture.svg_faces import filled_area
from trace2pop.stages.capture.svg_style import INHERITED, Style, StyleSheet, displayed, painted
from trace2pop.stages.capture.svg_tree import local, reference

SHAPES = frozenset({"path", "rect", "circle", "ellipse", "line", "polyline", "polygon"})
_GROUPS = frozenset({"g", "a", "svg", "symbol", "switch", "use"})
_SILENT = frozenset(
    {"defs", "style", "title", "desc", "metadata", "linearGradient", "radialGradient", "pattern"}
    | {"filter", "marker", "clipPath", "mask", "symbol", "view", "cursor"}
    | {"animate", "animateTransform", "animateMotion", "set"}
)
_FARTHEST = 1e5
"""mm from the canvas, a hundred metres: further out there is no drawing, only damage."""

_WIDEST = 1000.0
"""mm: a wider line is damage."""


@dataclass(frozen=True, eq=False)
class Shape:
    """One painted shape in mm: ``chains`` (n, 4, 2) with whether each is closed.

    ``line`` is the width of its stroke, 0 where none is seen, ``mitre`` the limit of its mitres
    (SVG 2, section 13.5.5); ``clip`` is the area outside which
    the shape isn't seen, None where it is seen everywhere.
    """

    chains: tuple[tuple[Contour, bool], ...]
    filled: bool
    even_odd: bool
    line: float
    cap: str
    join: str
    mitre: float
    clip: shapely.Geometry | None


@dataclass(frozen=True, eq=False)
class _Place:
    """Where the walk is: matrix (3, 3) to mm, inherited style, clip, viewport in user units."""

    matrix: FloatArray
    style: Style
    clip: shapely.Geometry | None
    viewport: tuple[float, float]
    depth: int = 0
    uses: frozenset[str] = frozenset()


@dataclass(eq=False)
class Walk:
    """One pass through a drawing. ``passed_over`` counts what is seen but isn't an outline."""

    name: str
    root: ElementTree.Element
    passed_over: Counter[str] = field(default_factory=Counter)

    def __post_init__(self) -> None:
        self.tally = Tally(self.name)
        self._styles = StyleSheet(self.root, self.tally)
        self._by_id = {e.get("id"): e for e in self.root.iter() if e.get("id")}
        self._clips: dict[tuple[str, bytes], shapely.Geometry] = {}

    def shapes(self, to_mm: FloatArray, viewport: tuple[float, float]) -> list[Shape]:
        """Return the painted shapes, back to front; ``to_mm`` (3, 3) maps the root's user units.

        Raises:
            PictureError: where uses go round in a circle or the drawing is beyond measure.
        """
        style = self._styles.style_of(self.root, INHERITED)
        place = _Place(to_mm, style, None, viewport)
        return [shape for child in self.root for shape in self._drawn(child, place)]

    def _drawn(self, element: ElementTree.Element, above: _Place) -> Iterator[Shape]:
        kind = local(element)
        if not kind or kind in _SILENT:
            return
        self.tally.element(above.depth)
        style = self._styles.style_of(element, above.style)
        if not displayed(style):
            return
        with np.errstate(all="ignore"):
            matrix = above.matrix @ svg_shapes.transform(element.get("transform"))
        place = replace(above, matrix=matrix, style=style, depth=above.depth + 1)
        place = self._clipped(place)
        if kind in SHAPES:
            yield from self._shape(element, place)
        elif kind == "use":
            yield from self._used(element, place)
        elif kind in _GROUPS:
            inner = self._in_viewport(element, element, place) if kind == "svg" else place
            for child in _first_usable(element) if kind == "switch" else element:
                yield from self._drawn(child, inner)
        else:
            self.passed_over[kind] += 1

    def _used(self, element: ElementTree.Element, place: _Place) -> Iterator[Shape]:
        target = (reference(element) or "").strip().removeprefix("#")
        original = self._by_id.get(target)
        if original is None:
            self.passed_over["use of something missing"] += 1
            return
        if target in place.uses:
            raise PictureError(
                f"{self.name}: the part {target} uses itself", "save it as plain SVG again"
            )
        width, height = place.viewport
        x = svg_shapes.length(element.get("x"), 0.0, width)
        y = svg_shapes.length(element.get("y"), 0.0, height)
        shift = np.array([[1, 0, x], [0, 1, y], [0, 0, 1]])
        place = replace(place, matrix=place.matrix @ shift, uses=place.uses | {target})
        if local(original) != "symbol":
            yield from self._drawn(original, place)
            return
        place = replace(place, style=self._styles.style_of(original, place.style))
        inner = self._in_viewport(original, element, place)
        for child in original:
            yield from self._drawn(child, inner)

    def _in_viewport(
        self, element: ElementTree.Element, sized: ElementTree.Element, place: _Place
    ) -> _Place:
        """Return the place inside a nested svg or symbol; ``sized`` states its width and height."""
        width, height = (
            svg_shapes.length(sized.get(key) or element.get(key), whole, whole)
            for key, whole in zip(("width", "height"), place.viewport, strict=True)
        )
        matrix = place.matrix
        if element is sized:
            x = svg_shapes.length(element.get("x"), 0.0, place.viewport[0])
            y = svg_shapes.length(element.get("y"), 0.0, place.viewport[1])
            matrix = matrix @ np.array([[1, 0, x], [0, 1, y], [0, 0, 1]])
        box = svg_shapes.numbers(element.get("viewBox"))
        if len(box) != 4 or min(box[2:]) <= 0:
            return replace(place, matrix=matrix, viewport=(width, height))
        fitted = view_matrix(box, (width, height), element.get("preserveAspectRatio", ""))
        return replace(place, matrix=matrix @ fitted, viewport=(box[2], box[3]))

    def _shape(self, element: ElementTree.Element, place: _Place) -> Iterator[Shape]:
        style = place.style
        filled, lined = painted(style, "fill"), painted(style, "stroke")
        if style["visibility"] != "visible" or not (filled or lined):
            return
        chains = self._chains(element, place)
        if not chains:
            return
        growth = math.sqrt(abs(float(np.linalg.det(place.matrix[:2, :2]))))
        diagonal = math.hypot(*place.viewport) / math.sqrt(2)
        width = svg_shapes.length(style["stroke-width"], 1.0, diagonal) * growth
        yield Shape(
            chains=chains,
            filled=filled and local(element) != "line",
            even_odd=style["fill-rule"] == "evenodd",
            line=width if lined and width < _WIDEST else 0.0,
            cap=style["stroke-linecap"],
            join=style["stroke-linejoin"],
            mitre=max(1.0, svg_shapes.length(style["stroke-miterlimit"], 4.0, 1.0)),
            clip=place.clip,
        )

    def _chains(
        self, element: ElementTree.Element, place: _Place
    ) -> tuple[tuple[Contour, bool], ...]:
        self.tally.outline(element)
        try:
            with np.errstate(all="ignore"):  # numbers beyond measure are found below
                chains = [
                    (beziers.transform(chain, place.matrix[:2]), closed)
                    for chain, closed in svg_shapes.chains(element, place.viewport)
                ]
        except (ValueError, OverflowError):
            self.passed_over["damaged path"] += 1
            return ()
        if not all(len(chain) and np.abs(chain).max() < _FARTHEST for chain, _ in chains):
            self.passed_over["shape beyond measure"] += 1
            return ()
        return tuple(chains)

    def _clipped(self, place: _Place) -> _Place:
        """Return the place with the element's clip path, if it has one, cut into its clip."""
        if place.style["mask"] != "none":
            self.passed_over["mask"] += 1
        target = place.style["clip-path"]
        if target == "none":
            return place
        path = self._by_id.get(target.removeprefix("url(").rstrip(")").strip("\"'# "))
        if path is None or path.get("clipPathUnits") == "objectBoundingBox":
            self.passed_over["clip"] += 1
            return place
        matrix = place.matrix @ svg_shapes.transform(path.get("transform"))
        key = (target, matrix.tobytes())
        if key not in self._clips:
            self._clips[key] = self._clip_area(path, replace(place, matrix=matrix))
        area = self._clips[key]
        return replace(place, clip=area if place.clip is None else place.clip & area)

    def _clip_area(self, path: ElementTree.Element, place: _Place) -> shapely.Geometry:
        areas = []
        for child in path.iter():
            if local(child) in SHAPES:
                self.tally.element(place.depth)
                style = self._styles.style_of(child, place.style)
                own = place.matrix @ svg_shapes.transform(child.get("transform"))
                chains = [chain for chain, _ in self._chains(child, replace(place, matrix=own))]
                self.tally.crossings(chains)
                areas.append(filled_area(chains, even_odd=style["clip-rule"] == "evenodd"))
        return shapely.union_all(areas)


def _first_usable(switch: ElementTree.Element) -> list[ElementTree.Element]:
    """Return the child a switch shows where no extension is known (SVG 2, section 5.9)."""
    return [child for child in switch if local(child) and "requiredExtensions" not in child.attrib][
        :1
    ]


def view_matrix(box: list[float], size: tuple[float, float], ratio: str) -> FloatArray:
    """Return the matrix (3, 3) from a viewBox to a viewport (SVG 2, section 8.2)."""
    across, down = size[0] / box[2], size[1] / box[3]
    words = ratio.split()
    align = words[0] if words else "xMidYMid"
    if align != "none":
        across = down = max(across, down) if "slice" in words else min(across, down)
    places = {"Min": 0.0, "Mid": 0.5, "Max": 1.0}
    x = (size[0] - box[2] * across) * places.get(align[1:4], 0.5 if align != "none" else 0.0)
    y = (size[1] - box[3] * down) * places.get(align[5:8], 0.5 if align != "none" else 0.0)
    return np.array([[across, 0, x - box[0] * across], [0, down, y - box[1] * down], [0, 0, 1]])
