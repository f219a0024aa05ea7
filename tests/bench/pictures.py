"""Pictures of the corpus: rendered pages, clean or photographed in bad light.

Five kinds: solid silhouette, ink line drawing (with pen gaps), coloured art, art with transparency,
printed art; and white art on white paper. Clean is a flat scan at 300 dpi; bad is a photo in uneven
light, rectified by the exact mapping, so that what is measured is the tracer and not the page's
finding. Held-out pictures have another camera, lens, light and shadow than those the tracer was set
on. Pictures are kept beside the corpus, as making a photo takes seconds.
"""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import render
import shapely
from PIL import Image
from shapely import affinity

from tests.bench import corpus
from trace2pop.model.artwork import Artwork, Scale

PX_PER_MM = 300 / 25.4
SUPER = 24.0
PHOTO_SUPER = 20.0
INKS = ("#16161c", "#2b2b33", "#3a2a22", "#555555", "#777777", "#1d3350")
LINE = 0.7
VERSION = 6
"""Counted up when pictures change, so that kept ones are made anew."""

Array = np.ndarray


@dataclass(frozen=True)
class Case:
    """One picture to trace: ``kind`` of art, ``light`` clean or bad, from dev or held-out set."""

    name: str
    number: int
    kind: str
    light: str
    held_out: bool
    gap: float = 0.0

    @property
    def key(self) -> str:
        where = "held" if self.held_out else "dev"
        short = self.name.replace(":", "_")
        return f"{where}-{self.number:02d}-{short}-{self.kind}{self.gap:g}-{self.light}"


def cases(kinds: tuple[str, ...], lights: tuple[str, ...], *, held_out: bool) -> list[Case]:
    """Return the cases of a set."""
    plain = corpus.HELD_OUT if held_out else corpus.DEV
    colour = corpus.COLOUR_HELD_OUT if held_out else corpus.COLOUR_DEV
    found = []
    pale = corpus.PALE_HELD_OUT if held_out else corpus.PALE
    for kind in kinds:
        names = {"colour": colour, "printed": colour, "pale": pale}.get(kind, plain)
        gap = {"line1": 1.0, "line2": 2.0}.get(kind, 0.0)
        base = "line" if kind.startswith("line") else kind
        found += [
            Case(name, number, base, light, held_out, gap)
            for light in lights
            for number, name in enumerate(names)
        ]
    return found


def _page(case: Case) -> tuple[str, shapely.Polygon]:
    """Return the case's page as SVG and its true outline in page mm, holes kept for silhouettes."""
    if ":" in case.name and case.name.startswith("noto"):
        return _art(case)
    shape = corpus.placed(case.name, case.number)
    if case.kind != "line":
        ink = INKS[case.number % len(INKS)]
        return svg(filled(shape, ink)), shape
    strokes = shapely.unary_union([_with_gaps(r, case) for r in (shape.exterior, *shape.interiors)])
    body = "".join(filled(part, "#1a1a22") for part in shapely.get_parts(strokes))
    return svg(body), shapely.Polygon(shapely.Polygon(shape.exterior).buffer(LINE / 2).exterior)


def _with_gaps(ring: shapely.LinearRing, case: Case) -> shapely.Geometry:
    """Return a pen line along a ring, lifted six times for ``case.gap`` mm."""
    pen = shapely.LineString(ring.coords)
    if case.gap > 0:
        places = [pen.interpolate((k + 0.37) / 6, normalized=True) for k in range(6)]
        lifted = shapely.unary_union([p.buffer(case.gap / 2 + LINE / 2) for p in places])
        pen = pen.difference(lifted)
    return pen.buffer(LINE / 2, quad_segs=16)


def _art(case: Case) -> tuple[str, shapely.Polygon]:
    art = corpus.icon(case.name)
    a, b, d, e, x, y = corpus.placement(case.number, (art.width, art.height), 80.0)
    drawn = svg(f'<g transform="matrix({a} {d} {b} {e} {x} {y})">{art.body}</g>')
    page = render.page_svg(drawn, SUPER, transparent=True)
    alpha = np.minimum(page[..., 3].astype(np.float32) / 64, 1)
    return drawn, outline_of(alpha, SUPER)


def outline_of(cover: Array, px_per_mm: float) -> shapely.Polygon:
    """Return the largest outline of half coverage in mm, holes filled."""
    from skimage.measure import find_contours

    rings = [(r[:, ::-1] - 0.5) / px_per_mm for r in find_contours(np.pad(cover, 1), 0.5)]
    shapes = [shapely.Polygon(ring) for ring in rings if len(ring) > 8]
    return shapely.make_valid(max(shapes, key=lambda shape: shape.area))


def svg(body: str, size: tuple[float, float] = corpus.PAGE) -> str:
    """Return a page of ``size`` mm with ``body`` drawn on it."""
    width, height = size
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{body}</svg>'
    )


def filled(shape: shapely.Geometry, ink: str) -> str:
    """Return a region in mm as an SVG path in ``ink``."""
    return f'<path fill="{ink}" fill-rule="evenodd" d="{_data(shape)}"/>'


def _data(shape: shapely.Geometry) -> str:
    rings = [ring for part in shapely.get_parts(shape) for ring in (part.exterior, *part.interiors)]
    return "".join("M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in r.coords) + "Z" for r in rings)


def camera(case: Case) -> render.Camera:
    """Return the camera a case is photographed with."""
    rng = np.random.default_rng(1000 * case.held_out + 17 * case.number + len(case.kind))
    tilt = tuple(float(v) for v in rng.uniform(-9, 9, 2) * (1.35 if case.held_out else 1))
    hard = case.kind == "printed"
    if case.held_out:
        lamp = ((1.0, 0.91, 0.78), (0.9, 0.97, 1.0))[case.number % 2]
        return render.Camera(
            seed=900 + case.number, size=(3000, 4000), tilt=tilt, turn=float(rng.uniform(-4, 4)),
            distance=2.2, k1=(0.012, -0.012)[case.number % 2], light=0.42, vignette=0.3,
            shadow=0.55 if hard else 0.45, lamp=lamp, blur=1.1, noise=0.011, quality=78,
        )  # fmt: skip
    return render.Camera(
        seed=100 + case.number, size=(2448, 3264), tilt=tilt, turn=float(rng.uniform(-3, 3)),
        distance=2.1, light=0.3, vignette=0.25, shadow=0.5 if hard else 0.4,
    )  # fmt: skip


def _photographed(svg: str, case: Case) -> Array:
    """Return the page photographed and rectified by the exact mapping, lens included."""
    lens = camera(case)
    shot, view = _shot(svg, lens)
    cols, rows = (round(side * PX_PER_MM) for side in corpus.PAGE)
    x, y = np.meshgrid((np.arange(cols) + 0.5) / PX_PER_MM, (np.arange(rows) + 0.5) / PX_PER_MM)
    place = np.einsum("ij,jrc->irc", view, np.stack([x, y, np.ones_like(x)]))
    ideal = place[:2] / place[2]
    middle = np.array(lens.size, float)[:, None, None] / 2
    half = np.hypot(*lens.size) / 2
    off = (ideal - middle) / half
    bent = off.copy()
    for _ in range(8):
        bent = off / (1 + lens.k1 * (bent * bent).sum(axis=0))
    at = (bent * half + middle - 0.5).astype(np.float32)
    return cv2.remap(shot, at[0], at[1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)


def _shot(svg: str, lens: render.Camera) -> tuple[Array, Array]:
    """Return a photo of the page on a desk and its view matrix, as ``render.photo``, but fast."""
    rng = np.random.default_rng(lens.seed)
    width, height = lens.size
    light = _light(svg, PHOTO_SUPER)
    density = light.shape[1] / corpus.PAGE[0]
    view = render.projection(lens, corpus.PAGE)
    x, y = np.meshgrid(
        np.arange(width, dtype=np.float32) + 0.5, np.arange(height, dtype=np.float32) + 0.5
    )
    ideal = render._without_lens(x, y, lens)
    back = np.linalg.inv(view @ np.diag([1 / density, 1 / density, 1])).astype(np.float32)
    u, v, w = (row[0] * ideal[0] + row[1] * ideal[1] + row[2] for row in back)
    at = (u / w - 0.5, v / w - 0.5)
    inside = cv2.remap(np.ones(light.shape[:2], np.float32), *at, cv2.INTER_LINEAR)[..., None]
    paper = render.PAPER * (1 + 0.012 * _grain(rng, (height, width), (2, 5, 16)))[..., None]
    shot = cv2.remap(light, *at, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) * paper
    desk = np.float32([0.17, 0.11, 0.07])
    desk = desk * (1 + 0.25 * _grain(rng, (height, width), (3, 9, 60, 220)))[..., None]
    shot = desk + inside * (shot - desk)
    shot *= render._lighting(x, y, lens)[..., None] * np.float32(lens.lamp)
    shot = cv2.GaussianBlur(shot, (0, 0), lens.blur)
    shot += lens.noise * rng.standard_normal((height, width, 1), np.float32)
    content = cv2.imencode(
        ".jpg", _srgb(shot)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, lens.quality]
    )[1]
    return cv2.imdecode(content, cv2.IMREAD_COLOR)[..., ::-1], view


def _grain(rng: np.random.Generator, shape: tuple[int, int], cells: tuple[int, ...]) -> Array:
    total = np.zeros(shape, np.float32)
    for cell in cells:
        small = rng.standard_normal((shape[0] // cell + 2, shape[1] // cell + 2), np.float32)
        total += cv2.resize(small, shape[::-1], interpolation=cv2.INTER_LINEAR)
    return total / total[::8, ::8].std()


def _scanned(svg: str, case: Case) -> Array:
    """Return a flat scan on grainy paper, as JPEG keeps it."""
    rng = np.random.default_rng(7 + case.number + 100 * case.held_out)
    cols, rows = (round(side * PX_PER_MM) for side in corpus.PAGE)
    light = cv2.resize(_light(svg, SUPER), (cols, rows), interpolation=cv2.INTER_AREA)
    light *= render.PAPER * (1 + 0.012 * _grain(rng, (rows, cols), (1, 3, 8)))[..., None] / 0.93
    light += 0.004 * rng.standard_normal(light.shape, np.float32)
    content = cv2.imencode(".jpg", _srgb(light)[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
    return cv2.imdecode(content, cv2.IMREAD_COLOR)[..., ::-1]


def _clean(svg: str) -> Array:
    """Return the page at 300 dpi without any fault: for the line itself, beside other tracers."""
    cols, rows = (round(side * PX_PER_MM) for side in corpus.PAGE)
    return _srgb(cv2.resize(_light(svg, SUPER), (cols, rows), interpolation=cv2.INTER_AREA))


_LINEAR = render.linear(np.arange(256, dtype=np.uint8)).astype(np.float32)
_ENCODED = render.encoded(np.arange(4096, dtype=np.float32) / 4095)


def _light(svg: str, density: float) -> Array:
    """Return the page on white in linear light, edges mixed as ink on paper mixes for the eye.

    Drawing programs mix sRGB values, which puts an edge a seventh of a pixel too far out.
    """
    page = render.page_svg(svg, density, transparent=True)
    share = page[..., 3:].astype(np.float32) / 255
    light = _LINEAR[page[..., :3]]
    light -= 1
    light *= share
    light += 1
    return light


def _srgb(light: Array) -> Array:
    return _ENCODED[np.clip(light * 4095 + 0.5, 0, 4095).astype(np.uint16)]


def _cut_out(svg: str, case: Case) -> Array:
    """Return RGBA at 10 px/mm; in bad light with a soft shadow under it and a noisy edge."""
    page = render.page_svg(svg, 20, transparent=True)
    page = cv2.resize(page, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    if case.light == "clean":
        return page
    alpha = page[..., 3].astype(np.float32)
    moved = np.roll(alpha, (12, 9), axis=(0, 1))
    shadow = 0.35 * cv2.GaussianBlur(moved, (0, 0), 9)
    noise = np.random.default_rng(case.number).normal(0, 5, alpha.shape)
    soft = np.maximum(cv2.GaussianBlur(alpha, (0, 0), 0.9), shadow)
    page[..., 3] = np.clip(soft + noise * (soft > 4), 0, 255).astype(np.uint8)
    return page


def picture(case: Case) -> Array:
    """Return the picture of a case, (rows, cols, 3 or 4) uint8, from the store or newly made."""
    file = store_folder() / f"{case.key}.png"
    if file.exists():
        return np.asarray(Image.open(file))
    svg, _ = _page(case)
    if case.kind == "alpha":
        made = _cut_out(svg, case)
    elif case.light == "perfect":
        made = _clean(svg)
    elif case.light == "clean":
        made = _scanned(svg, case)
    else:
        made = _photographed(svg, case)
    Image.fromarray(made).save(file, compress_level=1)
    return made


def truth(case: Case) -> shapely.Polygon:
    """Return the true outline of a case in the picture's mm, from the store or newly made."""
    file = store_folder() / f"{case.key}.wkb"
    if file.exists():
        return shapely.from_wkb(file.read_bytes())
    shape = _page(case)[1]
    if case.kind != "alpha" and case.light != "bad":
        # A flat scan has whole pixels, so its sides are a hair off 300 dpi.
        across, down = (round(side * PX_PER_MM) / (side * PX_PER_MM) for side in corpus.PAGE)
        shape = affinity.scale(shape, across, down, origin=(0, 0))
    file.write_bytes(shapely.to_wkb(shape))
    return shape


def px_per_mm(case: Case) -> float:
    return 10.0 if case.kind == "alpha" else PX_PER_MM


def artwork(case: Case) -> Artwork:
    """Return the picture as the capture stage would hand it on."""
    made = picture(case)
    density = px_per_mm(case)
    return Artwork(
        name=case.key,
        rgb=np.ascontiguousarray(made[..., :3]),
        alpha=np.ascontiguousarray(made[..., 3]) if made.shape[2] == 4 else None,
        px_per_mm=density,
        scale=Scale("dpi", 1 / density, 0.0),
        to_source=np.eye(3),
        source_size_px=(made.shape[1], made.shape[0]),
    )


def store_folder() -> Path:
    """Return the folder pictures and truths are kept in."""
    store = corpus.folder().parents[1] / f"pictures-{VERSION}"
    store.mkdir(exist_ok=True)
    return store
