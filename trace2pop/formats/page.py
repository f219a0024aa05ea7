"""page.html: the card in space from its own flat pieces, one file that needs nothing else.

Panels are SVG pictures placed by CSS 3D transforms; the script's poses are those of
``mechanism.linkage``, which a test compares in a browser.
"""

import base64
import json
import re
from collections.abc import Iterator
from html import escape
from importlib.resources import files

import cv2
import numpy as np
import shapely

from trace2pop.formats.camera import Image
from trace2pop.formats.maps import sag_picture
from trace2pop.formats.scene import APART, Panel, half, panels
from trace2pop.formats.studio import ART_PX_PER_MM, Studio
from trace2pop.geometry import beziers
from trace2pop.mechanism.spine import spine_of
from trace2pop.model.guide import Guide
from trace2pop.model.outline import FloatArray

VIEW = (-22.0, 15.0)
VIEWS = {
    "angle": VIEW,
    "front": (0.0, 0.0),
    "head": (0.0, 72.0),
    "foot": (0.0, -72.0),
    "left": (-80.0, 8.0),
    "behind": (180.0, 12.0),
}
"""Where the viewer stands: to the right, from above, degrees."""

LAYERS = (
    ("motif", True),
    ("hand", True),
    ("beams", True),
    ("base", True),
    ("outer", True),
    ("sag", False),
    ("window", False),
)
_QUALITY = 84
_SEAM = 0.3
_BEAM = "#d3e0ec"


def page_html(guide: Guide, art: Image | None = None) -> bytes:
    """Return the page, in the guide's language; ``art`` as for ``studio.Studio``."""
    return _Page(guide, art).html()


class _Page:
    def __init__(self, guide: Guide, art: Image | None) -> None:
        self.guide, self.words = guide, guide.words
        self.sheets = guide.sheets
        self.plan = guide.sheets.parts.plan
        self.studio = Studio(guide.sheets, art)
        self.motif = beziers.polygon(self.plan.cut.outline, 0.02)
        self.panels = (*panels(guide.sheets), *self._sag(), *self._window())

    def html(self) -> bytes:
        """Return the whole document."""
        say, guide = self.words, self.guide
        values = {
            "language": guide.language,
            "title": escape(guide.title),
            "shared": self._shared(),
            "panels": "".join(self._panel(panel) for panel in self.panels) + self._backs(),
            "buttons": "".join(
                f'<button type="button" data-view="{turn:g},{tilt:g}">'
                f"{escape(say[f'page_view_{name}'])}</button>"
                for name, (turn, tilt) in VIEWS.items()
            ),
            "layers": "".join(
                self._layer(name, shown) for name, shown in LAYERS if self._has(name)
            ),
            "facts": "".join(
                f'<tr><th scope="row">{escape(what)}</th><td>{escape(value)}</td></tr>'
                for what, value in guide.facts
            ),
            "facts_head": escape(say["facts"]),
            "plan": json.dumps(self._data(), separators=(",", ":")).replace("<", "\\u003c"),
        }
        for name in (
            "theme",
            "seen",
            "described",
            "opening",
            "play",
            "views",
            "beside",
            "now",
            "height",
            "reach",
            "show",
            "keys_head",
            "keys",
        ):
            values[name] = escape(say[f"page_{name}"])
        text = files("trace2pop.formats").joinpath("templates/page.html").read_text("utf-8")
        return re.sub(r"\{\{(\w+)\}\}", lambda found: values[found[1]], text).encode()

    def _has(self, layer: str) -> bool:
        return any(self._layer_of(panel) == layer for panel in self.panels)

    def _layer(self, name: str, shown: bool) -> str:
        checked = " checked" if shown else ""
        title = escape(self.words[f"page_layer_{name}"])
        return f'<label><input type="checkbox" data-layer="{name}"{checked}>{title}</label>'

    def _data(self) -> dict[str, object]:
        card, closed = self.plan.cut.placed.card, self.plan.closed
        set_words = {key: self.words[f"page_{key}"] for key in ("state", "of_limit")}
        back = [self._placing(panel, back=True) for panel in self.panels if self._two_faced(panel)]
        return {
            "web": card.web,
            "spine": spine_of(self.sheets.parts),
            "width": card.outer.width,
            "height": card.outer.height,
            "middle": card.outer.height / 2 - card.border,
            "paper": card.web - card.rise,
            "far": self.guide.reach - card.web,
            "limit": closed.limit,
            "view": VIEW,
            "words": set_words | {"decimal": self.words["decimal"]},
            "panels": [*(self._placing(panel) for panel in self.panels), *back],
        }

    def _two_faced(self, panel: Panel) -> bool:
        return panel.name.startswith("motif-")

    def _placing(self, panel: Panel, *, back: bool = False) -> dict[str, object]:
        x0, y0, x1, y1 = panel.shape.bounds
        placing: dict[str, object] = {
            "name": f"{panel.name}-back" if back else panel.name,
            "layer": self._layer_of(panel),
            "kind": panel.kind,
            "side": panel.side,
            "u": 0.0 if panel.beam is None else self.plan.beams[panel.beam].u,
            "lift": panel.lift,
            "corner": [round(x1 if back else x0, 4), round(y0, 4)],
            "size": [round(x1 - x0, 4), round(y1 - y0, 4)],
        }
        if back:
            placing["back"] = True
        if self._layer_of(panel) in ("sag", "window", "hand"):
            placing["plain"] = True
        return placing

    def _layer_of(self, panel: Panel) -> str:
        first = panel.name.split("-")[0]
        return first if first in ("sag", "window") else panel.layer

    def _title(self, panel: Panel) -> str:
        key = "spine" if panel.kind == "spine" else self._layer_of(panel)
        return self.words[f"page_name_{key}"].format(number=panel.number)

    def _panel(self, panel: Panel) -> str:
        sided = " onesided" if self._two_faced(panel) or panel.name.startswith("sag-") else ""
        return self._svg(panel, panel.name, self._body(panel), sided)

    def _backs(self) -> str:
        fill = _hex(self.studio.colours["motif"])
        found = []
        for panel in self.panels:
            if self._two_faced(panel):
                turned = shapely.transform(panel.shape, lambda xy: xy * [-1.0, 1.0])
                body = f'<path d="{_path(turned)}" fill="{fill}" fill-rule="evenodd"/>'
                moved = Panel(panel.name, panel.layer, panel.kind, panel.side, turned)
                found.append(self._svg(moved, f"{panel.name}-back", body, " onesided"))
        return "".join(found)

    def _svg(self, panel: Panel, name: str, body: str, sided: str) -> str:
        x0, y0, x1, y1 = panel.shape.bounds
        wide, high = x1 - x0, y1 - y0
        return (
            f'<svg class="panel{sided}" id="{name}" data-title="{escape(self._title(panel))}" '
            f'viewBox="{x0:.4f} {y0:.4f} {wide:.4f} {high:.4f}" aria-hidden="true">{body}</svg>'
        )

    def _body(self, panel: Panel) -> str:
        data, layer = _path(panel.shape), self._layer_of(panel)
        if layer == "window":
            line = 'fill="none" stroke="#0072B2" stroke-width="1.2" stroke-dasharray="4 2"'
            return f'<path d="{data}" {line}/>'
        if layer == "sag":
            return _clipped(panel.name, data, '<use href="#sag"/>')
        if panel.lines:
            return "".join(_stroke(line, width) for line, width in panel.lines)
        if layer == "motif":
            # A hair past the crease, behind the other half, so that no light shows in the fold.
            data = _path(half(self.motif, panel.side, past=_SEAM))
        if layer == "motif" and self.studio.printed:
            return _clipped(panel.name, data, '<use href="#art"/>')
        fill = _hex(self.studio.colours[panel.layer])
        if panel.layer == "beams":  # a tint, or white beams are lost on white paper
            fill = _BEAM
        rim = 'stroke="#0005" stroke-width=".25"'
        return f'<path d="{data}" fill="{fill}" {rim} fill-rule="evenodd"/>'

    def _shared(self) -> str:
        """Return the pictures that several panels show."""
        box = beziers.bounds(self.plan.cut.outline.outer)
        found = []
        if self.studio.printed:
            flags = [cv2.IMWRITE_JPEG_QUALITY, _QUALITY]
            done, art = cv2.imencode(".jpg", self.studio.art[..., ::-1], flags)
            assert done
            k, (left, top) = ART_PX_PER_MM, self.studio.art_corner
            high, wide = self.studio.art.shape[:2]
            reach = (left, top, left + wide / k, top + high / k)
            found.append(_image("art", art.tobytes(), "jpeg", reach))
        if len(self.plan.sag.points):
            found.append(_image("sag", sag_picture(self.plan.sag, box), "png", box))
        return "".join(found)

    def _window(self) -> Iterator[Panel]:
        """Yield the window on the motif's plane: the largest motif there is for this card."""
        card = self.plan.cut.placed.card
        for side, name in ((-1, "left"), (1, "right")):
            far = side * card.reach
            shape = shapely.box(min(0, far), card.margin, max(0, far), card.height - card.margin)
            yield Panel(f"window-{name}", "motif", "motif", side, shape, None, APART)

    def _sag(self) -> Iterator[Panel]:
        if not len(self.plan.sag.points):
            return
        shape = beziers.polygon(self.plan.cut.outline, 0.05)
        for side, name in ((-1, "left"), (1, "right")):
            part = half(shape, side)
            if not part.is_empty:
                yield Panel(f"sag-{name}", "motif", "motif", side, part, None, APART)


def _clipped(name: str, data: str, picture: str) -> str:
    return (
        f'<clipPath id="clip-{name}"><path d="{data}" clip-rule="evenodd"/></clipPath>'
        f'<g clip-path="url(#clip-{name})">{picture}</g>'
    )


def _stroke(line: FloatArray, width: float) -> str:
    run = " ".join(f"{x:.2f} {y:.2f}" for x, y in line)
    look = f'stroke="#2d2a28" stroke-width="{max(width, 0.3):g}"'
    return f'<path d="M{run}" fill="none" {look} stroke-linecap="round"/>'


def _path(shape: shapely.Geometry) -> str:
    rings = [
        ring
        for piece in shapely.get_parts(shape)
        if piece.geom_type == "Polygon"
        for ring in (piece.exterior, *piece.interiors)
    ]
    return "".join(
        "M" + " ".join(f"{x:.2f} {y:.2f}" for x, y in list(ring.coords)[:-1]) + "Z"
        for ring in rings
    )


def _image(name: str, content: bytes, kind: str, box: tuple[float, float, float, float]) -> str:
    x0, y0, x1, y1 = box
    data = base64.b64encode(content).decode("ascii")
    return (
        f'<image id="{name}" x="{x0:.4f}" y="{y0:.4f}" width="{x1 - x0:.4f}" '
        f'height="{y1 - y0:.4f}" preserveAspectRatio="none" '
        f'href="data:image/{kind};base64,{data}"/>'
    )


def _hex(colour: tuple[int, int, int]) -> str:
    return "#{:02x}{:02x}{:02x}".format(*np.array(colour))
