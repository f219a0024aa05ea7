"""Makes stand-ins for real input from the sample motifs: rendered, not taken.

    python samples/render.py

writes, beside each motif.svg: scan.jpg (flat scan, 300 dpi), photo.jpg (12 megapixel photo of
the page on a desk, in uneven light with a soft shadow), ink.jpg (closed ink line drawing, scanned),
and cutout.png (transparent). Every random number is seeded, so the same files come out each time.
"""

import io
import re
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import shapely
import typst
from numpy.typing import NDArray
from PIL import Image
from svgpathtools import parse_path

Array = NDArray[np.float32]
HERE = Path(__file__).parent
INK = 0.7
"""Width of the pen's line in mm."""

PAPER = np.float32([0.90, 0.89, 0.87])
"""Linear reflectance of the paper, red green blue."""


@dataclass(frozen=True)
class Camera:
    """How a photo is taken. Angles in degrees, ``k1`` the radial lens term on the half diagonal."""

    seed: int
    size: tuple[int, int] = (3000, 4000)
    tilt: tuple[float, float] = (9.0, -6.0)
    turn: float = 2.5
    distance: float = 2.1
    k1: float = 0.0
    light: float = 0.30
    vignette: float = 0.22
    shadow: float = 0.40
    lamp: tuple[float, float, float] = (1.0, 0.98, 0.94)
    blur: float = 0.9
    noise: float = 0.008
    quality: int = 85
    orientation: int = 1


def silhouette(svg: Path) -> shapely.Geometry:
    """Return the true outline of a motif in mm: the union of its silhouette's shapes."""
    return shapely.unary_union([shape for _, shape in _shapes(svg)])


def ink_silhouette(svg: Path, line: float = INK) -> shapely.Geometry:
    """Return what a pen drawing of the motif covers, filled to the outer side of its line."""
    fine = [shape for ink, shape in _shapes(svg) if ink == "whole"]
    return shapely.unary_union([_broad(svg).buffer(line / 2, quad_segs=32), *fine])


def _broad(svg: Path) -> shapely.Geometry:
    """Return the silhouette without what a pen draws in one stroke."""
    return shapely.unary_union([shape for ink, shape in _shapes(svg) if ink == "edge"])


def _shapes(svg: Path) -> list[tuple[str, shapely.Geometry]]:
    """Return the silhouette's shapes in mm, from the back to the front, as a pen draws them."""
    group = re.search(r'<g id="silhouette">(.*?)</g>', svg.read_text("utf-8"), re.DOTALL)
    if group is None:
        raise ValueError(f"{svg} has no silhouette")
    t = np.linspace(0, 1, 33)[:-1]
    found = []
    for ink, data in re.findall(r'class="(\w+)" d="([^"]+)"', group[1]):
        points = np.concatenate([segment.points(t) for segment in parse_path(data)])
        shape = shapely.Polygon(np.column_stack([points.real, points.imag]))
        found.append((ink, shapely.make_valid(shape)))
    return found


def page_svg(svg: str, px_per_mm: float, *, transparent: bool = False) -> NDArray[np.uint8]:
    """Return an A5 page drawn at ``px_per_mm``: (rows, cols, 4) uint8 RGBA."""
    fill = "none" if transparent else "white"
    source = (
        f"#set page(width: 148mm, height: 210mm, margin: 0mm, fill: {fill})\n"
        f'#image(bytes({_typst_text(svg)}), width: 148mm, format: "svg")'
    )
    png = typst.compile(source.encode(), format="png", ppi=px_per_mm * 25.4)
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGBA"))


def _typst_text(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def ink_svg(svg: Path, line: float = INK) -> str:
    """Return the motif as a closed ink line drawing: its outline, its shapes' edges, some markings.

    Limbs no wider than a pen's line are drawn in one stroke. Of the markings, class "edge" keeps
    the edge and class "whole" all.
    """
    text = svg.read_text("utf-8")
    markings = text[text.index('<g id="markings">') :]
    outline = _broad(svg)
    layers = [shape for ink, shape in _shapes(svg) if ink == "edge"]
    inner = [
        shape.boundary.difference(shapely.unary_union([outline.boundary, *layers[number:]]))
        for number, shape in enumerate(layers, start=1)
    ]
    fine = [shape.difference(outline) for ink, shape in _shapes(svg) if ink == "whole"]
    edges = [*map(_line_data, inner), *re.findall(r'class="edge" d="([^"]*)"', markings)]
    whole = re.findall(r'class="whole" d="([^"]*)"', markings)
    strokes = _line_data(shapely.unary_union(fine).boundary)
    head = text[: text.index("<title>")]
    return (
        f'{head}<g fill="none" stroke="#1a1a22" stroke-linejoin="round">'
        f'<path stroke-width="{line}" d="{_line_data(outline.boundary)}"/>'
        f'<path stroke-width="0.3" d="{"".join(edges)}"/>'
        f'<path fill="#1a1a22" stroke="none" d="{"".join(whole)}"/>'
        f'<path fill="#1a1a22" stroke="none" d="{strokes}"/></g></svg>'
    )


def _line_data(lines: shapely.Geometry) -> str:
    return "".join(
        "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in line.coords) + ("Z" if line.is_closed else "")
        for line in shapely.get_parts(lines)
        if line.length > 0.3
    )


def linear(rgb: NDArray[np.uint8]) -> Array:
    """Return linear light of sRGB (IEC 61966-2-1)."""
    value = rgb.astype(np.float32) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encoded(light: Array) -> NDArray[np.uint8]:
    """Return sRGB of linear light (IEC 61966-2-1)."""
    value = np.clip(light, 0, 1)
    srgb = np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055)
    return (srgb * 255 + 0.5).astype(np.uint8)


def grain(rng: np.random.Generator, shape: tuple[int, int], octaves: tuple[int, ...]) -> Array:
    """Return smooth noise of unit deviation, one octave a cell size in pixels."""
    total = np.zeros(shape, np.float32)
    for cell in octaves:
        small = rng.normal(size=(shape[0] // cell + 2, shape[1] // cell + 2)).astype(np.float32)
        total += cv2.resize(small, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)
    deviation: Array = total / total.std()
    return deviation


def on_paper(page: NDArray[np.uint8], seed: int, roughness: float = 0.012) -> Array:
    """Return the page in linear light, printed on grainy paper."""
    rng = np.random.default_rng(seed)
    texture = grain(rng, page.shape[:2], (2, 5, 16))
    paper = PAPER * (1 + roughness * texture)[..., None]
    result: Array = linear(page[..., :3]) * paper
    return result


def scan(page: NDArray[np.uint8], seed: int) -> bytes:
    """Return a flat scan at 300 dpi as JPEG."""
    light = on_paper(page, seed)
    light = cv2.resize(light, (1748, 2480), interpolation=cv2.INTER_AREA)
    rng = np.random.default_rng(seed + 1)
    light += rng.normal(0, 0.004, light.shape).astype(np.float32)
    buffer = io.BytesIO()
    Image.fromarray(encoded(light / 0.93)).save(buffer, "JPEG", quality=90, dpi=(300, 300))
    return buffer.getvalue()


def photo(
    page: NDArray[np.uint8], camera: Camera, page_mm: tuple[float, float] = (148.0, 210.0)
) -> tuple[bytes, Array]:
    """Return a photo of the page on a desk, and the matrix (3, 3) from page mm to upright pixels.

    The matrix leaves the lens out: it is the place without distortion.
    """
    rng = np.random.default_rng(camera.seed)
    width, height = camera.size
    px_per_mm = page.shape[1] / page_mm[0]
    view = projection(camera, page_mm)
    light = on_paper(page, camera.seed)
    # Coordinates count from pixel edges: the middle of pixel i lies at i + 0.5.
    x, y = np.meshgrid(
        np.arange(width, dtype=np.float32) + 0.5, np.arange(height, dtype=np.float32) + 0.5
    )
    ideal_x, ideal_y = _without_lens(x, y, camera)
    back = np.linalg.inv(view @ np.diag([1 / px_per_mm, 1 / px_per_mm, 1]))
    scale = back[2, 0] * ideal_x + back[2, 1] * ideal_y + back[2, 2]
    map_x = ((back[0, 0] * ideal_x + back[0, 1] * ideal_y + back[0, 2]) / scale - 0.5).astype(
        np.float32
    )
    map_y = ((back[1, 0] * ideal_x + back[1, 1] * ideal_y + back[1, 2]) / scale - 0.5).astype(
        np.float32
    )
    inside = cv2.remap(np.ones(page.shape[:2], np.float32), map_x, map_y, cv2.INTER_LINEAR)[
        ..., None
    ]
    sharp = cv2.remap(light, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    desk = (
        np.float32([0.17, 0.11, 0.07])
        * (1 + 0.25 * grain(rng, (height, width), (3, 9, 60, 220)))[..., None]
    )
    shot = inside * sharp + (1 - inside) * desk
    shot *= _lighting(x, y, camera)[..., None] * np.float32(camera.lamp)
    shot = cv2.GaussianBlur(shot, (0, 0), camera.blur)
    shot += rng.normal(0, camera.noise, (height, width, 1)).astype(np.float32)
    return _with_orientation(encoded(shot), camera), view


def projection(camera: Camera, page_mm: tuple[float, float]) -> Array:
    """Return the matrix (3, 3) from page mm to pixels of a pinhole camera above the page."""
    width, height = camera.size
    focal = 1.1 * max(width, height)
    ax, ay, az = np.radians([camera.tilt[0], camera.tilt[1], camera.turn])
    rx = np.array([[1, 0, 0], [0, np.cos(ax), -np.sin(ax)], [0, np.sin(ax), np.cos(ax)]])
    ry = np.array([[np.cos(ay), 0, np.sin(ay)], [0, 1, 0], [-np.sin(ay), 0, np.cos(ay)]])
    rz = np.array([[np.cos(az), -np.sin(az), 0], [np.sin(az), np.cos(az), 0], [0, 0, 1]])
    turned = rx @ ry @ rz
    away = camera.distance * max(page_mm) * 0.62
    place = np.column_stack([turned[:, 0], turned[:, 1], [0, 0, away]])
    place[:, 2] -= turned[:, :2] @ (np.array(page_mm) / 2)
    lens = np.array([[focal, 0, width / 2], [0, focal, height / 2], [0, 0, 1]])
    view: Array = lens @ place
    return view / view[2, 2]


def _without_lens(x: Array, y: Array, camera: Camera) -> tuple[Array, Array]:
    """Return where each pixel would lie without the lens's bending (one-term radial model)."""
    width, height = camera.size
    half = np.float32(np.hypot(width, height) / 2)
    dx, dy = (x - width / 2) / half, (y - height / 2) / half
    factor = 1 + np.float32(camera.k1) * (dx * dx + dy * dy)
    return dx * factor * half + width / 2, dy * factor * half + height / 2


def _lighting(x: Array, y: Array, camera: Camera) -> Array:
    """Return the light on each pixel: a lamp from one side, a vignette, a hand's soft shadow."""
    width, height = camera.size
    u, v = x / width - 0.5, y / height - 0.5
    lamp = 1 + camera.light * (0.8 * u - 0.6 * v)
    vignette = 1 - camera.vignette * 2 * (u * u + v * v)
    edge = 0.45 * u + v - 0.18 + 0.05 * np.sin(6 * u)
    shade = 1 - camera.shadow / (1 + np.exp(-edge / 0.05))
    light: Array = (0.95 * lamp * vignette * shade).astype(np.float32)
    return light


def _with_orientation(upright: NDArray[np.uint8], camera: Camera) -> bytes:
    """Return the JPEG as a phone held sideways stores it: turned, with its orientation tag."""
    image = Image.fromarray(upright)
    exif = Image.Exif()
    exif[0x0112] = camera.orientation
    if camera.orientation == 6:
        image = image.transpose(Image.Transpose.ROTATE_90)
    buffer = io.BytesIO()
    image.save(buffer, "JPEG", quality=camera.quality, exif=exif)
    return buffer.getvalue()


def cutout(svg: str) -> bytes:
    """Return the motif alone on a transparent ground, 10 px/mm, cropped to it."""
    page = page_svg(svg, 10, transparent=True)
    rows, cols = np.nonzero(page[..., 3])
    crop = page[rows.min() - 20 : rows.max() + 21, cols.min() - 20 : cols.max() + 21]
    buffer = io.BytesIO()
    Image.fromarray(crop).save(buffer, "PNG", optimize=True)
    return buffer.getvalue()


CAMERAS = {
    "dragonfly": Camera(seed=11, orientation=6),
    "wader": Camera(seed=23, tilt=(-7.0, 8.0), turn=-3.0, shadow=0.35),
    "lily": Camera(seed=37, tilt=(12.0, 4.0), turn=1.5, light=0.35, lamp=(1.0, 0.93, 0.82)),
}


def main() -> None:
    """Write the stand-ins of every sample."""
    for name, camera in CAMERAS.items():
        folder = HERE / name
        svg = folder / "motif.svg"
        text = svg.read_text("utf-8")
        page = page_svg(text, 24)
        (folder / "scan.jpg").write_bytes(scan(page, camera.seed))
        (folder / "photo.jpg").write_bytes(photo(page, camera)[0])
        ink = page_svg(ink_svg(svg), 24)
        (folder / "ink.jpg").write_bytes(scan(ink, camera.seed + 5))
        (folder / "cutout.png").write_bytes(cutout(text))


def in_worse_light(camera: Camera) -> Camera:
    """Return the camera in harder light and with a worse lens, for tests."""
    return replace(camera, light=0.4, shadow=0.5, vignette=0.3, noise=0.012, quality=75)


if __name__ == "__main__":
    main()
