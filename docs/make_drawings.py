"""Draw the figures of docs/mechanism.md from the program's own geometry.

Run as ``python docs/make_drawings.py``; writes docs/drawings/*.svg.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from trace2pop import data
from trace2pop.mechanism.beam import flange_pair
from trace2pop.mechanism.card import card_of
from trace2pop.mechanism.closed import closed_stack
from trace2pop.mechanism.linkage import Frame, pose, reach
from trace2pop.mechanism.sizes import with_rise
from trace2pop.mechanism.tolerance import tolerance_of
from trace2pop.model.card import Beam, Card, Slit
from trace2pop.model.settings import CardSettings, HandsSettings
from trace2pop.model.stock import Role, Stock, Stocks

FOLDER = Path(__file__).parent / "drawings"

# Okabe and Ito's colour-blind-safe set; line widths tell the layers apart as well.
BLACK, ORANGE, BLUE, GREEN, GREY = "#000000", "#d55e00", "#0072b2", "#009e73", "#767676"

STOCK: Stock = data.stocks()["cover-216"]
ROLES: tuple[Role, ...] = ("motif", "base", "beam", "outer", "mockup", "gauge")
STOCKS: Stocks = dict.fromkeys(ROLES, STOCK)
CARD: Card = card_of(CardSettings(), STOCK, 0.1)


def beam(number: int, u: float, v0: float, v1: float, width: float) -> Beam:
    """Return a beam for the figures."""
    return Beam(number, f"beam-{number}", u, v0, v1, width, 45.0, Slit(v0 - 0.5, v1 + 0.5, 0.0))


BEAMS = (
    beam(1, 0.0, 60.0, 112.0, 7.0),
    beam(2, -46.0, 66.0, 104.0, 9.0),
    beam(3, 46.0, 66.0, 104.0, 9.0),
)


def motif() -> shapely.Polygon:
    """Return the figures' motif in card coordinates: two lobes and a waist."""
    turn = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    far = 0.7 + 0.3 * np.cos(2 * turn)
    points = np.stack([far * np.cos(turn) * 90, far * np.sin(turn) * 118], axis=1)
    return shapely.Polygon(np.add(points, (0, CARD.height / 2)))


class Figure:
    """An SVG drawing in mm, built up stroke by stroke."""

    def __init__(self, width: float, height: float, title: str) -> None:
        self.width, self.height, self.title = width, height, title
        self.body: list[str] = []

    def line(
        self,
        points: Sequence[Sequence[float]],
        colour: str,
        width: float = 0.5,
        *,
        dash: str = "",
        fill: str = "none",
        closed: bool = False,
        opacity: float = 1.0,
    ) -> None:
        """Draw a polyline or polygon."""
        path = "M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in points) + (" Z" if closed else "")
        extra = f' stroke-dasharray="{dash}"' if dash else ""
        extra += f' fill-opacity="{opacity:g}"' if fill != "none" else ""
        self.body.append(
            f'<path d="{path}" fill="{fill}" stroke="{colour}" stroke-width="{width:g}"{extra}/>'
        )

    def shape(
        self,
        polygon: shapely.Geometry,
        colour: str,
        fill: str,
        *,
        width: float = 0.3,
        opacity: float = 1.0,
        dash: str = "",
    ) -> None:
        """Draw a shapely polygon."""
        for part in shapely.get_parts(polygon):
            rings = [part.exterior, *part.interiors]
            path = " ".join(
                "M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in ring.coords[:-1]) + " Z"
                for ring in rings
            )
            extra = f' stroke-dasharray="{dash}"' if dash else ""
            self.body.append(
                f'<path d="{path}" fill="{fill}" fill-opacity="{opacity:g}" fill-rule="evenodd" '
                f'stroke="{colour}" stroke-width="{width:g}"{extra}/>'
            )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = 3.4,
        anchor: str = "start",
        colour: str = BLACK,
        bold: bool = False,
    ) -> None:
        """Write words."""
        weight = ' font-weight="bold"' if bold else ""
        words = words.replace("&", "&amp;").replace("<", "&lt;")
        self.body.append(
            f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}" '
            f'fill="{colour}"{weight}>{words}</text>'
        )

    def arrow(self, x0: float, y0: float, x1: float, y1: float, colour: str = GREY) -> None:
        """Draw a dimension line with a head at both ends."""
        self.line([(x0, y0), (x1, y1)], colour, 0.2)
        along = np.array([x1 - x0, y1 - y0]) / np.hypot(x1 - x0, y1 - y0)
        across = np.array([-along[1], along[0]])
        for tip, way in ((np.array([x0, y0]), along), (np.array([x1, y1]), -along)):
            wings = [tip + 1.8 * way + 0.6 * across, tip, tip + 1.8 * way - 0.6 * across]
            self.line(wings, colour, 0.2)

    def svg(self) -> str:
        """Return the drawing as SVG."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self.width:g}mm" '
            f'height="{self.height:g}mm" viewBox="0 0 {self.width:g} {self.height:g}" '
            f'font-family="sans-serif" role="img"><title>{self.title}</title>'
            f'<rect width="{self.width:g}" height="{self.height:g}" fill="#fff"/>'
            + "".join(self.body)
            + "</svg>\n"
        )


def end_view(
    figure: Figure,
    opening: float,
    x: float,
    y: float,
    *,
    scale: float = 0.5,
    sway: float = 0.0,
    flanges: bool = True,
) -> Callable[[np.ndarray], np.ndarray]:
    """Draw the card seen from its foot, its spine at (x, y); return the map from the world."""
    at = pose(CARD.web, BEAMS, opening, sway_deg=sway)

    def seen(world: np.ndarray) -> np.ndarray:
        return np.array([x, y]) + scale * world[:, [0, 2]] * [1, -1]

    def across(frame: Frame, u0: float, u1: float) -> np.ndarray:
        return seen(frame.at(np.array([[u0, 0.0], [u1, 0.0]])))

    for side, index in ((-1, 0), (1, 1)):
        figure.line(across(at.base[index], 0, side * CARD.half_width), BLACK, 1.0)
        figure.line(across(at.motif[index], 0, side * 90.0), ORANGE, 1.0)
    for one, frames in zip(BEAMS, at.beams, strict=True):
        figure.line(across(frames.web, 0, CARD.web), BLUE, 0.7)
        if not flanges:
            continue
        for index, side in ((0, -1), (1, 1)):
            ends = (one.u + side * 0.0, one.u + side * one.flange)
            for frame, lift in ((frames.lower[index], 2.0), (frames.upper[index], 2.0)):
                points = np.array([[end, 0.0] for end in ends])
                figure.line(seen(frame.at(points, -lift)), BLUE, 0.7)
    return seen


def opening() -> Figure:
    """Three openings side by side, with the closing law."""
    figure = Figure(250, 118, "The card at 180, 80 and 0 degrees, seen from its foot")
    end_view(figure, 180, 68, 92)
    figure.text(68, 106, "180 degrees: the motif's edge at s = 90", anchor="middle")
    end_view(figure, 80, 178, 92)
    figure.text(178, 106, "80 degrees", anchor="middle")
    seen = end_view(figure, 0, 236, 92, flanges=False)
    figure.text(236, 106, "closed: s + w", anchor="middle")
    closed = pose(CARD.web, BEAMS, 0.0)
    tip = seen(closed.motif[1].at(np.array([[90.0, 0.0]])))[0]
    edge = seen(closed.base[1].at(np.array([[CARD.half_width, 0.0]])))[0]
    figure.arrow(243, tip[1], 243, 92)
    figure.text(234, (tip[1] + 92) / 2, "s + w", anchor="end", size=3)
    figure.arrow(247, edge[1], 247, 92)
    for x, colour, name in ((10, BLACK, "base"), (40, ORANGE, "motif"), (72, BLUE, "beams")):
        figure.line([(x, 10), (x + 10, 10)], colour, 1.0)
        figure.text(x + 12, 11.2, name)
    return figure


def parallelogram() -> Figure:
    """One half at 70 degrees: the two parallelograms and the vector of length w."""
    figure = Figure(150, 110, "Base, webs and motif of a half are parallelograms")
    scale, x, y = 0.75, 40, 100
    half = np.radians(40.0)

    def point(distance: float, up: float) -> tuple[float, float]:
        world = distance * np.array([np.sin(half), np.cos(half)]) + np.array([0, up])
        return x + scale * world[0], y - scale * world[1]

    figure.line([point(0, 0), point(CARD.half_width, 0)], BLACK, 1.0)
    figure.line([point(0, CARD.web), point(90, CARD.web)], ORANGE, 1.0)
    for d in (0.0, 46.0):
        figure.line([point(d, 0), point(d, CARD.web)], BLUE, 0.9)
    figure.line([point(0, -8), point(0, 138)], GREY, 0.2, dash="3 2")
    figure.text(x + 2, 8, "bisecting plane", colour=GREY, size=3)
    figure.text(*np.add(point(23, 0), (3, 3)), "d", size=4)
    figure.text(*np.add(point(33, CARD.web), (-3, -2)), "d", size=4, anchor="end")
    figure.text(*np.add(point(0, CARD.web / 2), (-2, 1)), "w", size=4, anchor="end")
    figure.text(*np.add(point(46, CARD.web / 2), (2, 1)), "w", size=4)
    figure.text(
        *np.add(point(90, CARD.web), (-2, 0)),
        "motif point, s from its crease",
        size=3,
        anchor="end",
    )
    angle = np.linspace(np.pi / 2 - half, np.pi / 2, 30)
    figure.line([(x + 26 * np.cos(a), y - 26 * np.sin(a)) for a in angle], GREY, 0.25)
    figure.text(x + 2.5, y - 28, "A/2", size=3.4, colour=GREY)
    figure.text(70, 96, "along the base:  s + w cos(A/2)")
    figure.text(70, 102, "above the base:  w sin(A/2)")
    return figure


def reach_curve() -> Figure:
    """Reach and height over the opening angle."""
    figure = Figure(150, 90, "Reach grows as the card closes")
    left, bottom, wide, high = 22.0, 74.0, 115.0, 60.0

    def place(angle: float, value: float) -> tuple[float, float]:
        return left + wide * (180 - angle) / 180, bottom - high * value / 130

    figure.line([place(180, 130), place(180, 0), place(0, 0)], BLACK, 0.3)
    for angle in range(0, 181, 30):
        figure.text(place(angle, 0)[0], bottom + 5, f"{angle}", anchor="middle", size=3)
    for value in range(0, 131, 20):
        figure.text(left - 2, place(180, value)[1] + 1, f"{value}", anchor="end", size=3)
    angles = np.arange(180, -1, -2)
    figure.line([place(a, reach(90.0, CARD.web, a)) for a in angles], ORANGE, 0.8)
    figure.line([place(a, CARD.web * np.sin(np.radians(a / 2))) for a in angles], BLUE, 0.8)
    limit = CARD.half_width - CARD.margin
    figure.line([place(180, limit), place(0, limit)], BLACK, 0.4, dash="2 1.5")
    figure.text(place(178, 0)[0], place(0, limit)[1] - 1.5, "limit: half width less margin", size=3)
    figure.text(
        place(80, 0)[0], place(0, 108)[1] + 5.5, "reach s + w cos(A/2)", size=3, colour=ORANGE
    )
    figure.text(place(100, 0)[0], place(0, 22)[1] + 1, "height w sin(A/2)", size=3, colour=BLUE)
    figure.text(
        left + wide / 2, 86, "opening angle A in degrees, closing to the right", anchor="middle"
    )
    figure.text(left - 14, 10, "mm", size=3)
    return figure


def window() -> Figure:
    """Draw the open card with its window, motif, beams and slits."""
    figure = Figure(265, 190, "The open card and the window for its motif")
    base = shapely.box(-CARD.half_width, 0, CARD.half_width, CARD.height)

    def moved(shape: shapely.Geometry) -> shapely.Geometry:
        return shapely.transform(shape, lambda p: np.add(p, (132, 8)))

    figure.shape(moved(base), BLACK, "#f4efe4")
    wide = CARD.window[0]
    inside = shapely.box(-wide / 2, CARD.margin, wide / 2, CARD.height - CARD.margin)
    figure.shape(moved(inside), GREEN, "none", width=0.6, dash="4 2")
    figure.shape(moved(motif()), ORANGE, ORANGE, opacity=0.25, width=0.5)
    for one in BEAMS:
        pair = flange_pair(one.u, one.v0, one.v1, one.flange, one.taper_deg)
        figure.shape(moved(pair), BLUE, BLUE, opacity=0.3)
        figure.line([(132 + one.u, 8 + one.slit.v0), (132 + one.u, 8 + one.slit.v1)], BLACK, 0.6)
    figure.line([(132, 8), (132, 8 + CARD.height)], GREY, 0.3, dash="6 2 1 2")
    figure.arrow(132, 186, 132 + CARD.reach, 186)
    figure.text(132 + CARD.reach / 2, 184.8, f"W - w - m = {CARD.reach:.1f}", anchor="middle")
    figure.arrow(132 + CARD.reach, 186, 132 + CARD.half_width, 186)
    figure.text(132 + CARD.half_width - 11, 184.8, "w + m", anchor="middle")
    figure.text(132 - wide / 2 + 2, 15.5, "window", colour=GREEN)
    return figure


def thickness_map() -> Figure:
    """Draw the closed card's map of thicknesses, and its stack at the thickest place."""
    closed = closed_stack(CARD, motif(), BEAMS, STOCKS, 0.1)
    figure = Figure(240, 200, "The closed card: thickness at every place")
    most = closed.thickness
    for area in sorted(closed.areas, key=lambda one: one.thickness):
        shade = round(255 - 200 * area.thickness / most)
        shape = shapely.Polygon(area.outer, area.holes)
        shape = shapely.transform(shape, lambda p: np.add(p, (10, 12)))
        figure.shape(
            shape, "#ffffff", f"#{shade:02x}{shade:02x}{min(255, shade + 20):02x}", width=0.15
        )
        if area.thickness > 0.6 * most and not shape.buffer(-3).is_empty:
            spot = shapely.point_on_surface(shape.buffer(-2.9))
            figure.text(
                spot.x,
                spot.y + 1,
                f"{area.thickness:.1f}",
                anchor="middle",
                size=3,
                colour="#ffffff",
            )
    x, y = closed.at[0] + 10, closed.at[1] + 12
    figure.line([(x - 2, y - 6), (x, y - 2), (x + 2, y - 6)], ORANGE, 0.8)
    figure.text(
        12, 196, "spine on the left; numbers in mm, pressed flat, adhesive included", size=3
    )
    figure.text(150, 14, f"thickest place: {most:.1f} mm", bold=True)
    for row, name in enumerate(closed.layers):
        colour = {"outer card": BLACK, "base": BLACK, "motif": ORANGE, "tape": GREY}.get(name, BLUE)
        top = 20 + 6.5 * row
        figure.line([(150, top), (166, top)], colour, 0.8 if name == "tape" else 2.4)
        figure.text(170, top + 1.2, name, size=3.2)
    return figure


def sway() -> Figure:
    """Draw the layer leaning sideways, and upright."""
    figure = Figure(220, 62, "The linkage's second freedom is sway")
    end_view(figure, 180, 56, 46, scale=0.4, sway=18)
    figure.text(56, 58, "without flanges to both sides it may lean", anchor="middle")
    end_view(figure, 180, 164, 46, scale=0.4)
    figure.text(164, 58, "pairs of folds hold it upright", anchor="middle")
    return figure


def slabs() -> Figure:
    """Thickness: where the layers begin to press."""
    figure = Figure(150, 70, "Layers as slabs: where closing begins to press")
    scale, x, y = 3.0, 20, 52
    web, lean = 20.3, np.radians(9.0)
    over, under = web * np.cos(lean), web * np.sin(lean) - 0.3

    def slab(corners: Sequence[tuple[float, float]], colour: str) -> None:
        points = [(x + scale * a, y - scale * 2 * b) for a, b in corners]
        figure.line(points, colour, 0.25, fill=colour, closed=True, opacity=0.35)

    slab([(-4, -0.3), (38, -0.3), (38, 0), (-4, 0)], BLACK)
    slab([(over - 10, under), (38, under), (38, under + 0.3), (over - 10, under + 0.3)], ORANGE)
    for side in (-1, 1):
        near, far = over + side * 0.3, over + side * 8
        slab(
            [(near, under - 0.4), (far, under - 0.4), (far, under - 0.1), (near, under - 0.1)], BLUE
        )
    slab([(0, 0.3), (over, under - 0.1), (over, under - 0.7), (0, -0.3)], BLUE)
    figure.text(20, 12, "One half, nearly closed; heights drawn twice as large as widths.")
    figure.text(20, 66, "base, web (doubled), flange and motif with their own thickness", size=3)
    return figure


def hands() -> Figure:
    """Chance of showing over the margin, and each error's share."""
    figure = Figure(230, 92, "What hands do: chance of showing over the margin")
    left, bottom, wide, high = 22.0, 74.0, 80.0, 56.0

    def place(margin: float, chance: float) -> tuple[float, float]:
        return left + wide * margin / 3, bottom - high * (np.log10(max(chance, 1e-4)) + 4) / 4

    figure.line([place(0, 1), place(0, 1e-4), place(3, 1e-4)], BLACK, 0.3)
    for power in range(-4, 1):
        words = "1" if power == 0 else f"1 in {10**-power}"
        figure.text(left - 2, place(0, 10.0**power)[1] + 1, words, anchor="end", size=2.8)
    for margin in range(4):
        figure.text(place(margin, 1e-4)[0], bottom + 5, f"{margin}", anchor="middle", size=3)
    rows = []
    for margin in np.arange(0, 3.01, 0.1):
        card = replace(CARD, margin=float(margin))
        filled = shapely.box(-card.reach, 30, card.reach, card.height - 30)
        rows.append((margin, tolerance_of(card, filled, HandsSettings())))
    figure.line([place(m, found.chance) for m, found in rows if found.chance > 5e-4], ORANGE, 0.9)
    dotted = [place(m, found.linear) for m, found in rows if found.linear > 1e-4]
    figure.line(dotted, BLUE, 0.5, dash="1.5 1.2")
    figure.text(60, 18, "drawn by lot", size=3, colour=ORANGE)
    figure.text(60, 23, "to first order", size=3, colour=BLUE)
    figure.text(left + wide / 2, 86, "margin in mm", anchor="middle")
    shares = sorted(rows[10][1].shares, key=lambda row: -row[1])[:6]
    figure.text(125, 16, "shares of the variance at the edge most at risk", bold=True, size=3.2)
    for index, (name, part) in enumerate(shares):
        top = 24 + 9 * index
        figure.line([(125, top), (125 + 60 * part + 0.3, top)], BLUE, 3)
        figure.text(125, top - 2.3, f"{name}: {100 * part:.0f} %", size=2.9)
    return figure


def trade() -> Figure:
    """Rise against window for a few cards."""
    figure = Figure(150, 92, "The trade: the higher the rise, the narrower the window")
    left, bottom, wide, high = 22.0, 74.0, 92.0, 60.0

    def place(rise: float, width: float) -> tuple[float, float]:
        return left + wide * rise / 80, bottom - high * width / 280

    figure.line([place(0, 280), place(0, 0), place(80, 0)], BLACK, 0.3)
    for rise in range(0, 81, 20):
        figure.text(place(rise, 0)[0], bottom + 5, f"{rise}", anchor="middle", size=3)
    for width in range(0, 281, 40):
        figure.text(left - 2, place(0, width)[1] + 1, f"{width}", anchor="end", size=3)
    names = (("iso-a6", GREEN, "4 2"), ("a7", ORANGE, ""), ("iso-a5", BLUE, "1.5 1"))
    for name, colour, dash in names:
        row = data.cards()[name]
        card = card_of(CardSettings(size=row.size, rise=5.0), STOCK, 0.1)
        points = [(rise, 2 * with_rise(card, rise).reach) for rise in range(5, 81)]
        points = [place(rise, width) for rise, width in points if width > 0]
        figure.line(points, colour, 0.8, dash=dash)
        figure.text(points[-1][0] + 2, points[-1][1] + 1, row.title, size=3, colour=colour)
    figure.text(left + wide / 2, 86, "rise in mm", anchor="middle")
    figure.text(left - 14, 10, "mm wide", size=3)
    return figure


def spine() -> Figure:
    """Draw a two-score spine and a base of one crease."""
    figure = Figure(200, 70, "Why the base is placed with the card closed")
    for x, title, gap in ((30, "glued flat, then closed", 4.0), (125, "glued closed", 0.0)):
        half = 12.0
        figure.line([(x - half, 8), (x - half, 50), (x + half, 50), (x + half, 8)], BLACK, 0.9)
        for side in (-1, 1):
            figure.line(
                [(x + side * (half - 2.5), 8), (x + side * (half - 2.5), 44), (x, 46 + 2 * gap)],
                ORANGE,
                0.9,
            )
        figure.text(x, 64, title, anchor="middle")
    figure.arrow(18, 56, 42, 56)
    figure.text(44, 57.5, "S", size=3.4)
    figure.text(60, 20, "the base's crease is driven", size=3)
    figure.text(60, 24.5, "S/2 past the spine", size=3)
    figure.text(155, 20, "the crease lies free;", size=3)
    figure.text(155, 24.5, "opening leaves S of slack,", size=3)
    figure.text(155, 29, "so one half stays unglued", size=3)
    figure.text(155, 33.5, "for S + 5 beside the spine", size=3)
    return figure


FIGURES: dict[str, Callable[[], Figure]] = {
    "opening": opening,
    "parallelogram": parallelogram,
    "reach": reach_curve,
    "window": window,
    "thickness": thickness_map,
    "sway": sway,
    "slabs": slabs,
    "hands": hands,
    "trade": trade,
    "spine": spine,
}


def main() -> None:
    """Write every figure."""
    FOLDER.mkdir(exist_ok=True)
    for name, make in FIGURES.items():
        (FOLDER / f"mechanism-{name}.svg").write_text(make().svg(), "utf-8")


if __name__ == "__main__":
    main()
