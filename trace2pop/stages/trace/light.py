"""Uneven light taken out: the picture divided by the paper it was drawn on."""

import cv2
import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]

_SMALL_PX = 420
_ROUNDS = 3
_DARKER = 0.86
"""What is darker than this share of the estimated paper is not paper."""


def linear_light(rgb: NDArray[np.uint8]) -> Plane:
    """Return linear light (rows, cols, 3) in 0..1 of an sRGB picture (IEC 61966-2-1)."""
    value = np.arange(256, dtype=np.float32) / 255
    table = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    result: Plane = table.astype(np.float32)[rgb]
    return result


def evened(rgb: NDArray[np.uint8]) -> Plane:
    """Return the picture's reflectance over its paper's, (rows, cols, 3): paper is 1."""
    light = linear_light(rgb)
    small = cv2.resize(light, _small_size(light), interpolation=cv2.INTER_AREA)
    paper = _paper(np.maximum(small, 1e-3))
    full = cv2.resize(paper, (light.shape[1], light.shape[0]), interpolation=cv2.INTER_CUBIC)
    light /= np.maximum(full, 1e-3)
    return light


def _small_size(light: Plane) -> tuple[int, int]:
    rows, cols = light.shape[:2]
    factor = min(1.0, _SMALL_PX / max(rows, cols))
    return max(8, round(cols * factor)), max(8, round(rows * factor))


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
        root = np.sqrt(weight)[:, None]
        factors = np.linalg.lstsq(basis * root, grey.ravel() * root[:, 0], rcond=None)[0]
        surface = (basis @ factors).astype(np.float32)
        off = grey.ravel() - surface
        # Darker than the surface is ink or shadow; brighter is more likely paper.
        weight = np.where(off < 0, np.exp(-((off / 0.12) ** 2)) + 1e-3, 1.0).astype(np.float32)
    smooth = np.exp(surface.reshape(grey.shape)).astype(np.float32)
    estimate = np.repeat(smooth[..., None], 3, axis=2)
    for _ in range(_ROUNDS):
        ratio = small / estimate
        bare = (ratio.mean(axis=2) > _DARKER) & (_colourfulness(ratio) < 0.16)
        bare = cv2.erode(bare.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        if bare.mean() < 0.02:
            break
        estimate = estimate * _spread(ratio, bare)
    return estimate


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


def _spread(values: Plane, known: NDArray[np.bool_]) -> Plane:
    """Return ``values`` smoothed where known and filled where not, coarse to fine."""
    weight = known.astype(np.float32)
    total: Plane = np.ones_like(values) * np.median(values[known], axis=0).astype(np.float32)
    for sigma in (64.0, 24.0, 9.0):
        mass = cv2.GaussianBlur(weight, (0, 0), sigma)
        mean = cv2.GaussianBlur(values * weight[..., None], (0, 0), sigma)
        trust = (mass / (mass + 0.02))[..., None]
        total = total * (1 - trust) + mean / np.maximum(mass, 1e-6)[..., None] * trust
    return total
