"""Uneven light taken out: the picture divided by the paper it was drawn on."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]

_SMALL_PX = 420
_ROUNDS = 3
_DARKER = 0.86
"""What is darker than this share of the estimated paper is not paper."""

_STEEP = 0.04
"""Change of the light's logarithm from px to px that a shadow's edge stays below."""

_SIGMAS = (64.0, 24.0, 9.0)
_SHADE_SIGMAS = (3.0,)
"""px: a shadow's edge is followed more closely than the light of a lamp."""


def linear_light(rgb: NDArray[np.uint8]) -> Plane:
    """Return linear light (rows, cols, 3) in 0..1 of an sRGB picture (IEC 61966-2-1)."""
    value = np.arange(256, dtype=np.float32) / 255
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    result: Plane = table.astype(np.float32)[rgb]
    return result


@dataclass(frozen=True, eq=False)
class Ground:
    """What the motif lies on: the light bare paper sends, (rows, cols, 3), at reduced size.

    ``dark`` tells that the ground is darker than what lies on it.
    """

    light: Plane
    shape: tuple[int, int]
    dark: bool


def ground_of(rgb: NDArray[np.uint8]) -> Ground:
    """Return the ground of a picture (rows, cols, 3), estimated everywhere from where it shows."""
    rows, cols = rgb.shape[:2]
    factor = min(1.0, _SMALL_PX / max(rows, cols))
    size = max(8, round(cols * factor)), max(8, round(rows * factor))
    # Light adds up linearly, so the picture is made linear at a size that costs little first.
    rough = max(1, min(rows // size[1], cols // size[0]) // 3)
    light = linear_light(rgb[::rough, ::rough])
    light += np.float32(1e-3)
    small = np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)
    if lies_on_dark(small):
        return Ground(inverted(_paper(inverted(small))), (rows, cols), True)
    return Ground(_paper(small), (rows, cols), False)


def inverted(light: Plane) -> Plane:
    """Return the reciprocal, by which a dark ground and what lies on it change places."""
    return np.asarray(1 / np.maximum(light, 1e-3), np.float32)


def evened(rgb: NDArray[np.uint8], ground: Ground, top: int = 0, left: int = 0) -> Plane:
    """Return reflectance over the ground's, (rows, cols, 3), of a window of the picture.

    ``rgb`` is the window, ``top`` and ``left`` say where in the picture it lies. Bare ground is 1.
    """
    light = linear_light(rgb)
    rows, cols = rgb.shape[:2]
    down = ground.light.shape[0] / ground.shape[0]
    across = ground.light.shape[1] / ground.shape[1]
    place = np.array(
        [[across, 0, (left + 0.5) * across - 0.5], [0, down, (top + 0.5) * down - 0.5]]
    )
    full = cv2.warpAffine(
        ground.light,
        place,
        (cols, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    light /= np.maximum(full, 1e-3)
    return light


def lies_on_dark(small: Plane) -> bool:
    """Whether the picture shows light art on a dark ground, not a light sheet on a dark table.

    The rim is dark then, and the light region has no sheet's shape: four straight sides.
    """
    grey = small.mean(axis=2)
    level = np.clip(255 * np.sqrt(grey / max(float(np.percentile(grey, 99)), 1e-3)), 0, 255)
    cut, bright = cv2.threshold(level.astype(np.uint8), 0, 1, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    rim = np.concatenate([level[:4].ravel(), level[-4:].ravel(), level[:, :4].ravel(),
                          level[:, -4:].ravel()])  # fmt: skip
    if (rim > cut).mean() > 0.1 or np.median(level[bright == 1]) < 2 * np.median(rim):
        return False
    outlines, _ = cv2.findContours(bright, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    largest = max(outlines, key=cv2.contourArea)
    hull = cv2.convexHull(largest)
    corners = cv2.approxPolyDP(hull, 0.02 * cv2.arcLength(hull, closed=True), closed=True)
    return len(corners) != 4 or cv2.contourArea(largest) < 0.93 * cv2.contourArea(corners)


def _paper(small: Plane) -> Plane:
    """Return the light the bare paper would send, everywhere, from where it can be seen.

    A smooth surface is fitted to the logarithm with what is darker weighed down; what then still
    lies near it is paper, and the local ratio to the surface is spread into the drawn regions.
    """
    grey = np.log(small.mean(axis=2))
    basis = _cubics(grey.shape)
    weight = np.ones(grey.size, np.float32)
    surface: Plane = grey.ravel()
    for _ in range(12):
        weighed = (basis * weight[:, None]).T
        factors = np.linalg.solve((weighed @ basis).astype(float), weighed @ grey.ravel())
        surface = (basis @ factors).astype(np.float32)
        off = grey.ravel() - surface
        # Darker than the surface is ink or shadow; brighter is more likely paper.
        weight = np.where(off < 0, np.exp(-((off / 0.12) ** 2)) + 1e-3, 1.0).astype(np.float32)
    smooth = np.exp(surface.reshape(grey.shape)).astype(np.float32)
    estimate = np.repeat(smooth[..., None], 3, axis=2)
    calm = _calm(small)
    for _ in range(_ROUNDS):
        ratio = small / estimate
        bare = (ratio.mean(axis=2) > _DARKER) & (_colourfulness(ratio) < 0.16)
        shade = _shade(bare, calm)
        bare, shade = (_shrunk(some) for some in (bare | shade, shade))
        if bare.mean() < 0.02:
            break
        usual = np.median(ratio[bare], axis=0).astype(np.float32)
        estimate = estimate * _spread(ratio, bare, _SIGMAS, usual)
        if shade.any():
            estimate = estimate * _spread(small / estimate, shade, _SHADE_SIGMAS, 1.0)
    return estimate


def _calm(small: Plane) -> NDArray[np.bool_]:
    """Return where light changes no faster than across the edge of a shadow."""
    level = cv2.GaussianBlur(np.log(small), (0, 0), 1.0)
    kernel = np.ones((3, 3), np.uint8)
    change = cv2.dilate(level, kernel) - cv2.erode(level, kernel)
    result: NDArray[np.bool_] = change.max(axis=2) < 2 * _STEEP
    return result


def _shade(bare: NDArray[np.bool_], calm: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the paper in a shadow: dark, running in from the picture's edge, as calm as paper.

    From bare paper it is reached without crossing an edge, which what is drawn has all round.
    """
    _, labels = cv2.connectedComponents((~bare).astype(np.uint8), connectivity=4)
    rim = np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]])
    dark = np.isin(labels, np.unique(rim[rim > 0]))
    _, parts = cv2.connectedComponents((calm & (bare | dark)).astype(np.uint8), connectivity=4)
    reached = np.unique(parts[bare & (parts > 0)])
    result: NDArray[np.bool_] = dark & np.isin(parts, reached)
    return result


def _shrunk(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    result: NDArray[np.bool_] = cv2.erode(mask.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return result


def _colourfulness(ratio: Plane) -> Plane:
    """Return how far each pixel's colour is from the paper's usual one, brightness left out."""
    tint = ratio / ratio.mean(axis=2, keepdims=True)
    usual = np.median(tint.reshape(-1, 3), axis=0)
    result: Plane = np.abs(tint / usual - 1).max(axis=2)
    return result


def _cubics(shape: tuple[int, ...]) -> Plane:
    y, x = np.meshgrid(
        np.linspace(-1, 1, shape[0], dtype=np.float32),
        np.linspace(-1, 1, shape[1], dtype=np.float32),
        indexing="ij",
    )
    powers = [(i, j) for i in range(4) for j in range(4 - i)]
    return np.stack([(x**i * y**j).ravel() for i, j in powers], axis=1)


def _spread(
    values: Plane, known: NDArray[np.bool_], sigmas: tuple[float, ...], beyond: Plane | float
) -> Plane:
    """Return ``values`` smoothed where known and filled where not, coarse to fine.

    Far from all that is known it is ``beyond``.
    """
    weight = known.astype(np.float32)
    total: Plane = np.full_like(values, beyond)
    for sigma in sigmas:
        mass = cv2.GaussianBlur(weight, (0, 0), sigma)
        mean = cv2.GaussianBlur(values * weight[..., None], (0, 0), sigma)
        trust = (mass / (mass + 0.02))[..., None]
        total = total * (1 - trust) + mean / np.maximum(mass, 1e-6)[..., None] * trust
    return total
