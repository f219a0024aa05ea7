"""Openly licensed motifs the tracer is measured on, installed outside the project.

Icons come from the npm packages of ``PACKAGES``; they are fetched once by ``npm install`` into the
folder named by TRACE2POP_CORPUS, by default ``trace2pop-corpus`` in the system's temporary folder.
Nothing of them is kept in the project. Licences as the packages state them.
"""

import json
import os
import re
import subprocess
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from shutil import which

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.ops import polygonize
from svgpathtools import parse_path

PACKAGES = {
    "game-icons": ("1.2.4", "CC-BY-3.0"),
    "emojione-monotone": ("1.2.1", "CC-BY-4.0"),
    "fluent-emoji-high-contrast": ("1.2.6", "MIT"),
    "noto": ("1.2.9", "Apache-2.0"),
}
PAGE = (148.0, 210.0)
"""A5, mm."""

DEV = (
    "game-icons:gecko",
    "game-icons:flamingo",
    "game-icons:ginkgo-leaf",
    "game-icons:dove",
    "game-icons:manta-ray",
    "game-icons:oak-leaf",
    "game-icons:octopus",
    "game-icons:scorpion",
    "game-icons:curled-leaf",
    "game-icons:angler-fish",
    "emojione-monotone:spider",
    "emojione-monotone:octopus",
    "emojione-monotone:lady-beetle",
    "emojione-monotone:shrimp",
    "fluent-emoji-high-contrast:ant",
    "fluent-emoji-high-contrast:lobster",
)
HELD_OUT = (
    "game-icons:hummingbird",
    "game-icons:squirrel",
    "game-icons:maple-leaf",
    "game-icons:hanging-spider",
    "game-icons:falling-leaf",
    "fluent-emoji-high-contrast:spider",
    "game-icons:vine-leaf",
    "game-icons:lotus-flower",
    "game-icons:tropical-fish",
    "game-icons:goose",
    "emojione-monotone:crab",
    "emojione-monotone:squid",
    "fluent-emoji-high-contrast:beetle",
    "fluent-emoji-high-contrast:crab",
    "fluent-emoji-high-contrast:peacock",
    "fluent-emoji-high-contrast:fly",
)
COLOUR_DEV = (
    "noto:ant",
    "noto:beetle",
    "noto:bird",
    "noto:crab",
    "noto:dolphin",
    "noto:fish",
    "noto:flamingo",
    "noto:lady-beetle",
    "noto:lobster",
    "noto:octopus",
    "noto:parrot",
    "noto:peacock",
    "noto:shrimp",
    "noto:squid",
    "noto:turtle",
    "noto:tulip",
)
COLOUR_HELD_OUT = (
    "noto:bat",
    "noto:black-bird",
    "noto:bug",
    "noto:deer",
    "noto:duck",
    "noto:eagle",
    "noto:fly",
    "noto:frog",
    "noto:jellyfish",
    "noto:lizard",
    "noto:mosquito",
    "noto:owl",
    "noto:rooster",
    "noto:scorpion",
    "noto:tropical-fish",
    "noto:lotus",
)
PALE = (
    "noto:swan",
    "noto:dove",
    "noto:goose",
    "noto:polar-bear",
    "noto:white-flower",
    "noto:rabbit",
)
"""White or nearly white art: to be doubted on white paper."""

PALE_HELD_OUT = (
    "noto:ewe",
    "noto:ghost",
    "noto:snowman-without-snow",
    "noto:llama",
    "noto:cloud",
    "noto:feather",
)


@dataclass(frozen=True)
class Icon:
    """An icon's SVG body and its view box's size."""

    body: str
    width: float
    height: float


def folder() -> Path:
    """Return the folder that holds the packages, installing them where they are missing."""
    base = Path(
        os.environ.get("TRACE2POP_CORPUS", Path(tempfile.gettempdir()) / "trace2pop-corpus")
    )
    home = base / "node_modules" / "@iconify-json"
    if all((home / name).is_dir() for name in PACKAGES):
        return home
    if which("npm") is None:
        pytest.skip("the icon sets are installed by npm, which is not here")
    base.mkdir(parents=True, exist_ok=True)
    names = [f"@iconify-json/{name}@{version}" for name, (version, _) in PACKAGES.items()]
    command = ["npm", "install", "--no-audit", "--no-fund", "--prefix", str(base), *names]
    subprocess.run(command, check=True, capture_output=True)
    return home


@cache
def _set(name: str) -> dict:  # type: ignore[type-arg]  # JSON of a package
    return json.loads((folder() / name / "icons.json").read_text("utf-8"))


def icon(name: str) -> Icon:
    """Return an icon by ``set:name``."""
    package, short = name.split(":")
    icons = _set(package)
    found = icons["icons"][short]
    width = found.get("width", icons.get("width", 16))
    return Icon(found["body"], width, found.get("height", icons.get("height", 16)))


@cache
def silhouette(name: str) -> shapely.Polygon:
    """Return the largest piece of a one-colour icon, holes kept, in the icon's own units."""
    pieces = [_nonzero(data) for data in re.findall(r'<path[^>]*?\bd="([^"]+)"', icon(name).body)]
    whole = shapely.unary_union(pieces)
    return max(shapely.get_parts(whole), key=lambda piece: piece.area)


def _nonzero(data: str) -> shapely.Geometry:
    """Return what a path covers by SVG's nonzero rule."""
    rings = []
    for part in parse_path(data).continuous_subpaths():
        points = [point for segment in part for point in _sampled(segment)]
        if len(points) > 2:
            rings.append(np.array([[p.real, p.imag] for p in points]))
    faces = polygonize(shapely.unary_union([shapely.LinearRing(ring) for ring in rings]))
    inside = [face for face in faces if _winding(face.representative_point(), rings)]
    return shapely.unary_union(inside)


def _sampled(segment: object) -> list[complex]:
    count = 1 if type(segment).__name__ == "Line" else 48
    return [segment.point(t) for t in np.arange(count) / count]  # type: ignore[attr-defined]  # untyped


def _winding(point: shapely.Point, rings: list[np.ndarray]) -> int:
    total = 0.0
    for ring in rings:
        off = ring - np.array([point.x, point.y])
        angle = np.arctan2(off[:, 1], off[:, 0])
        turn = np.diff(np.append(angle, angle[0]))
        total += float(((turn + np.pi) % (2 * np.pi) - np.pi).sum())
    return round(total / (2 * np.pi))


def placement(number: int, size: tuple[float, float], span: float) -> list[float]:
    """Return the affine (a, b, d, e, x, y) that lays an icon on the page, turned by its number.

    Each motif is ``span`` mm on its longer side and turned by a different odd angle.
    """
    turn = np.radians(7.3 + 37.9 * number)
    scale = span / max(size)
    a, d = scale * np.cos(turn), scale * np.sin(turn)
    middle = np.array([size[0] / 2, size[1] / 2])
    x = PAGE[0] / 2 - (a * middle[0] - d * middle[1])
    y = PAGE[1] / 2 - (d * middle[0] + a * middle[1])
    return [float(a), float(-d), float(d), float(a), float(x), float(y)]


def placed(name: str, number: int, span: float = 73.0) -> shapely.Polygon:
    """Return a silhouette in page mm, ``span`` on its longer side."""
    shape = silhouette(name)
    left, top, right, bottom = shape.bounds
    shape = affinity.translate(shape, -left, -top)
    return affinity.affine_transform(shape, placement(number, (right - left, bottom - top), span))
