"""Opened pictures to upright 8 bit sRGB arrays of a size worth working on.

Reduction comes first, so that nothing later costs more for a larger picture.
"""

import io
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, ImageOps

LONGEST_PX = 4000
"""Longest side worked on: 20 px/mm on a motif of 200 mm, beyond what a cutter can place."""

MAX_PX_PER_MM = 20.0

_ORIENTATION = 0x0112
_MAX_16_BIT = 65535.0


@dataclass(frozen=True, eq=False)
class Picture:
    """A decoded picture: ``rgb`` (rows, cols, 3), ``alpha`` (rows, cols) or None, uint8, upright.

    ``size`` is the upright source's width and height in px, ``reduction`` source px per array px.
    ``dpi_tag`` is what the file claims, which phones and editors often get wrong.
    """

    rgb: NDArray[np.uint8]
    alpha: NDArray[np.uint8] | None
    size: tuple[int, int]
    reduction: float
    dpi_tag: float | None


def decoded(image: Image.Image) -> Picture:
    """Return an opened image decoded.

    Raises:
        OSError, ValueError, SyntaxError, EOFError: where the file is damaged.
    """
    source = image.size
    if image.format in ("JPEG", "MPO") and max(source) >= 2 * LONGEST_PX:
        image.draft(None, (LONGEST_PX, LONGEST_PX))
    tag = image.info.get("dpi")
    image.load()
    if image.format == "TIFF":  # Pillow sets TIFF pictures upright as it loads them
        source = image.size
    orientation = image.getexif().get(_ORIENTATION, 1)
    profile = image.info.get("icc_profile")
    image = _to_srgb(_reduced(_eight_bit(image)), profile)
    if orientation in range(2, 9):
        image.getexif()[_ORIENTATION] = orientation
        image = ImageOps.exif_transpose(image)
    size = (source[1], source[0]) if orientation in (5, 6, 7, 8) else source
    array = np.asarray(image)
    alpha = np.ascontiguousarray(array[..., 3]) if image.mode == "RGBA" else None
    return Picture(
        rgb=np.ascontiguousarray(array[..., :3]),
        alpha=alpha,
        size=size,
        reduction=size[0] / array.shape[1],
        dpi_tag=_dpi(tag),
    )


def shrunk(picture: Picture, factor: float) -> Picture:
    """Return the picture at ``factor`` (below 1) of its size."""
    image = Image.fromarray(picture.rgb)
    size = (max(1, round(image.width * factor)), max(1, round(image.height * factor)))
    rgb = np.asarray(image.resize(size, Image.Resampling.BOX, reducing_gap=2.0))
    alpha = picture.alpha
    if alpha is not None:
        alpha = np.asarray(Image.fromarray(alpha).resize(size, Image.Resampling.BOX))
    return Picture(rgb, alpha, picture.size, picture.size[0] / size[0], picture.dpi_tag)


def _dpi(tag: object) -> float | None:
    try:
        value = float(tag[0])  # type: ignore[index]  # whatever the file holds
    except (TypeError, ValueError, IndexError, ZeroDivisionError):
        return None
    return value if np.isfinite(value) and value > 1 else None


def _eight_bit(image: Image.Image) -> Image.Image:
    """Return the picture in a mode of 8 bits a channel that may be averaged."""
    if image.mode.startswith(("I", "F")):
        return _from_deep_grey(image)
    if image.mode == "1":
        return image.convert("L")
    if "transparency" in image.info or image.mode in ("PA", "La", "RGBa"):
        return image.convert("RGBA")
    if image.mode in ("L", "LA", "RGB", "RGBA", "CMYK"):
        return image
    return image.convert("RGB")


def _from_deep_grey(image: Image.Image) -> Image.Image:
    values: NDArray[Any] = np.asarray(image)
    top = 255.0 if values.max(initial=0) <= 255 and image.mode in ("I", "F") else _MAX_16_BIT
    if image.mode == "F" and values.max(initial=0) <= 1:
        top = 1.0
    grey = np.empty(values.shape, np.uint8)
    for row in range(0, len(values), 256):  # bands: no copy of the whole in floating point
        part = values[row : row + 256].astype(np.float32)
        grey[row : row + 256] = np.clip(np.nan_to_num(part) * (255 / top), 0, 255) + 0.5
    return Image.fromarray(grey)


def _reduced(image: Image.Image) -> Image.Image:
    longest = max(image.size)
    if longest <= LONGEST_PX:
        return image
    factor = LONGEST_PX / longest
    width, height = (max(1, round(side * factor)) for side in image.size)
    step = int(longest / (2 * LONGEST_PX))
    if step > 1:
        whole_image, image = image, _divided(image, step)
        whole_image.close()  # lets go of its memory although callers still hold it
    if image.mode in ("RGBA", "LA"):
        return _weighed(image, (width, height))
    return image.resize((width, height), Image.Resampling.BOX)


def _weighed(image: Image.Image, size: tuple[int, int]) -> Image.Image:
    """Return a picture with opacity at ``size``, its colours averaged weighed by it, by bands.

    Colour must not bleed in from where nothing is seen. A band at a time, since this needs a
    working copy.
    """
    weighed = {"RGBA": "RGBa", "LA": "La"}[image.mode]
    result = Image.new(image.mode, size)
    result.info = image.info
    each = image.height / size[1]
    for top in range(0, size[1], 256):
        foot = min(top + 256, size[1])
        first, last = int(top * each), min(math.ceil(foot * each), image.height)
        band = image.crop((0, first, image.width, last)).convert(weighed)
        box = (0, top * each - first, image.width, min(foot * each, image.height) - first)
        small = band.resize((size[0], foot - top), Image.Resampling.BOX, box)
        result.paste(small.convert(image.mode), (0, top))
    return result


def _divided(image: Image.Image, step: int) -> Image.Image:
    """Return the picture at 1/``step`` of its size, band by band: opacity needs a working copy."""
    if image.mode not in ("RGBA", "LA"):
        return image.reduce(step)
    width, height = image.size
    result = Image.new(image.mode, (-(-width // step), -(-height // step)))
    result.info = image.info
    for top in range(0, height, 256 * step):
        band = image.crop((0, top, width, min(top + 256 * step, height)))
        result.paste(band.reduce(step), (0, top // step))
    return result


def _to_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """Return the picture as RGB or RGBA in sRGB, its colour profile applied."""
    if profile:
        image = _profiled(image, profile) or image
    mode = "RGBA" if image.mode in ("RGBA", "LA") else "RGB"
    return image if image.mode == mode else image.convert(mode)  # convert copies at any rate


def _profiled(image: Image.Image, profile: bytes) -> Image.Image | None:
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        space = source.profile.xcolor_space.strip()
        if space == "RGB" and image.mode in ("L", "LA"):
            image = image.convert("RGBA" if image.mode == "LA" else "RGB")
        if space == "GRAY" and image.mode == "LA":
            return None
        mode = "RGBA" if image.mode == "RGBA" else "RGB"
        return ImageCms.profileToProfile(
            image, source, ImageCms.createProfile("sRGB"), outputMode=mode
        )
    except (ImageCms.PyCMSError, OSError, ValueError):
        return None  # a damaged or mismatched profile: the plain values are the better guess
