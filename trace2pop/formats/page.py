"""page.html: the card to turn and fold on the screen, one file, offline."""

import base64
import json
from html import escape
from importlib.resources import files
from string import Template

import cv2
import numpy as np
import shapely

from trace2pop.formats.print_pdf import artwork_picture
from trace2pop.formats.scene import APART, Panel, panels
from trace2pop.geometry import beziers
from trace2pop.limits import BLEED
from trace2pop.model.card import CardPlan
from trace2pop.model.pieces import Sheets
from trace2pop.units import MM_PER_INCH

PX_PER_MM = 4.0
_ART_PX_PER_MM = 4.0
_LAYERS = (
    ("motif", "motif", True),
    ("hand", "parts added by hand", True),
    ("beams", "beams", True),
    ("base", "base card", True),
    ("outer", "outer card", True),
    ("sag", "where it bends, and how far", False),
    ("window", "what fits when closed", False),
)
_FILLS = {"base": "#faf7f0", "beams": "#fdfcf8", "motif": "#ffffff", "outer": "#4a747a"}


def page_html(sheets: Sheets, title: str) -> bytes:
    """Return the page. ``title`` is plain text."""
    plan = sheets.parts.plan
    printed = any(part.printed for part in sheets.parts.parts)
    scene = [*panels(sheets), *_window(plan), *_sag(plan)]
    art = _artwork(plan) if printed else ""
    text = files("trace2pop.formats").joinpath("templates/page.html").read_text("utf-8")
    card = plan.cut.placed.card
    document = {
        "web": card.web,
        "spine": plan.closed.spine,
        "width": card.outer.width,
        "height": card.outer.height,
        "px_per_mm": PX_PER_MM,
        "panels": [_placing(panel, plan) for panel in scene],
    }
    drawn = "".join(_sheet(panel, plan, art) for panel in scene)
    page = Template(text).substitute(
        title=escape(title),
        described=escape(_described(plan)),
        sheets=drawn,
        layers="".join(_layer(*row) for row in _LAYERS),
        facts="".join(_fact(*row) for row in _facts(plan)),
        plan=json.dumps(document).replace("<", "\\u003c"),
    )
    return page.encode()


def _placing(panel: Panel, plan: CardPlan) -> dict[str, object]:
    u = 0.0 if panel.beam is None else plan.beams[panel.beam].u
    return {
        "name": panel.name,
        "layer": _shown_as(panel),
        "kind": panel.kind,
        "side": panel.side,
        "beam_side": 1 if u >= 0 else -1,
        "u": u,
        "lift": panel.lift,
        "corner": [round(value, 3) for value in panel.shape.bounds[:2]],
    }


def _shown_as(panel: Panel) -> str:
    return panel.name.split("-")[0] if panel.name.startswith(("sag-", "window-")) else panel.layer


def _window(plan: CardPlan) -> list[Panel]:
    """Return the window on the motif's plane: the largest motif there is for this card."""
    card = plan.cut.placed.card
    reach, top = card.reach, card.margin
    rows = []
    for side, name in ((-1, "left"), (1, "right")):
        far = side * reach
        shape = shapely.box(min(0, far), top, max(0, far), card.height - top)
        rows.append(
            Panel(
                f"window-{name}", "what fits when closed", "motif", "motif", side, shape, None, 0.1
            )
        )
    return rows


def _sag(plan: CardPlan) -> list[Panel]:
    shape = beziers.polygon(plan.cut.outline, 0.05)
    rows = []
    for side, name in ((-1, "left"), (1, "right")):
        half = shape.intersection(shapely.box(min(0, side * 1e4), -1e4, max(0, side * 1e4), 1e4))
        if not half.is_empty:
            load = f"{plan.sag.handling_load:g} times its weight"
            title = f"bends up to {plan.sag.max:.2f} mm under {load}"
            rows.append(Panel(f"sag-{name}", title, "motif", "motif", side, half, None, APART))
    return rows


def _sheet(panel: Panel, plan: CardPlan, art: str) -> str:
    """Return one panel as a positioned SVG."""
    x0, y0, x1, y1 = panel.shape.bounds
    body = _body(panel, plan, art)
    box = f"{x0:.3f} {y0:.3f} {x1 - x0:.3f} {y1 - y0:.3f}"
    size = (
        f'width="{(x1 - x0) * PX_PER_MM:.2f}" height="{(y1 - y0) * PX_PER_MM:.2f}" viewBox="{box}"'
    )
    return (
        f'<svg class="sheet" id="{panel.name}" data-title="{escape(panel.title)}" {size} '
        f'aria-hidden="true">{body}</svg>'
    )


def _body(panel: Panel, plan: CardPlan, art: str) -> str:
    data = _path(panel.shape)
    if panel.name.startswith("window-"):
        line = 'fill="none" stroke="#0072B2" stroke-width="1.6" stroke-dasharray="3 2"'
        return f'<path d="{data}" {line}/>'
    if panel.name.startswith("sag-"):
        return _clipped(panel, data, _image(plan, _sag_picture(plan), "png"))
    if panel.lines:
        return "".join(
            f'<path d="M{" ".join(f"{x:.2f} {y:.2f}" for x, y in line)}" fill="none" '
            f'stroke="#2b3038" stroke-width="{width:g}" stroke-linecap="round"/>'
            for line, width in panel.lines
        )
    rim = '" stroke="#00000055" stroke-width=".25'
    if panel.layer == "motif" and art:
        return _clipped(panel, data, art)
    return f'<path d="{data}" fill="{_FILLS[panel.layer]}{rim}" fill-rule="evenodd"/>'


def _clipped(panel: Panel, data: str, picture: str) -> str:
    clip = f"clip-{panel.name}"
    return (
        f'<clipPath id="{clip}"><path d="{data}" clip-rule="evenodd"/></clipPath>'
        f'<g clip-path="url(#{clip})">{picture}</g>'
    )


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


def _artwork(plan: CardPlan) -> str:
    """Return the artwork as an SVG image in card coordinates; the halves share its data."""
    picture = artwork_picture(plan.cut, _ART_PX_PER_MM * MM_PER_INCH)
    done, content = cv2.imencode(".jpg", picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 85])
    if not done:
        raise RuntimeError("the artwork could not be encoded")
    return _image(plan, content.tobytes(), "jpeg", BLEED.value)


def _image(plan: CardPlan, content: bytes, kind: str, beyond: float = 0.0) -> str:
    left, top, right, bottom = beziers.bounds(plan.cut.outline.outer)
    data = base64.b64encode(content).decode("ascii")
    return (
        f'<image x="{left - beyond:.3f}" y="{top - beyond:.3f}" '
        f'width="{right - left + 2 * beyond:.3f}" height="{bottom - top + 2 * beyond:.3f}" '
        f'preserveAspectRatio="none" href="data:image/{kind};base64,{data}"/>'
    )


def _sag_picture(plan: CardPlan) -> bytes:
    """Return the sag map over the motif's box, white to dark with depth, as PNG."""
    left, top, right, bottom = beziers.bounds(plan.cut.outline.outer)
    k = 2.0
    size = (int((bottom - top) * k) + 1, int((right - left) * k) + 1)
    share = np.clip(plan.sag.depth / max(plan.sag.limit, 1e-9), 0, 1)
    image = np.full((*size, 3), 255, np.uint8)
    corners = (plan.sag.points - [left, top]) * k
    for triangle in plan.sag.triangles:
        depth = float(share[triangle].mean())
        # From white to the vermillion of Okabe and Ito: darker means deeper, in grey as well.
        colour = tuple(255 + depth * (end - 255) for end in (0, 94, 213))
        cv2.fillConvexPoly(image, np.rint(corners[triangle] * 8).astype(np.int32), colour, shift=3)
    done, content = cv2.imencode(".png", image)
    if not done:
        raise RuntimeError("the sag map could not be encoded")
    return content.tobytes()


def _layer(key: str, title: str, shown: bool) -> str:
    checked = " checked" if shown else ""
    return f'<label><input type="checkbox" data-layer="{key}"{checked}> {escape(title)}</label>'


def _fact(name: str, value: str) -> str:
    return f'<tr><th scope="row">{escape(name)}</th><td>{escape(value)}</td></tr>'


def _described(plan: CardPlan) -> str:
    card = plan.cut.placed.card
    return (
        f"A folding card {card.outer.width:.0f} by {card.outer.height:.0f} mm, its motif floating "
        f"{card.rise:.0f} mm above it on {len(plan.beams)} beams"
    )


def _facts(plan: CardPlan) -> list[tuple[str, str]]:
    card, cut = plan.cut.placed.card, plan.cut
    left, top, right, bottom = beziers.bounds(cut.outline.outer)
    hand = sum(part.choice == "hand" for part in cut.hand_parts)
    return [
        ("Card, closed", f"{card.outer.width:.1f} x {card.outer.height:.1f} mm"),
        ("Rise", f"{card.rise:.1f} mm"),
        ("Motif", f"{right - left:.1f} x {bottom - top:.1f} mm"),
        ("Closed, reaches", f"{plan.closed.reach:.1f} of {plan.closed.limit:.1f} mm"),
        ("Beams", str(len(plan.beams))),
        ("Parts by hand", str(hand)),
        ("Bends", f"{plan.sag.max:.2f} of {plan.sag.limit:.2f} mm"),
        ("Thickness", f"{plan.closed.thickness:.1f} mm"),
    ]
