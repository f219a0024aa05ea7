"""Picture files to upright sRGB arrays, refused by their headers where they are too large."""

import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import (
    BmpImagePlugin,
    Image,
    ImageCms,
    ImageOps,
    JpegImagePlugin,
    PngImagePlugin,
    TiffImagePlugin,
    UnidentifiedImageError,
    WebPImagePlugin,
)

from trace2pop import limits
from trace2pop.errors import PictureError

FORMATS = tuple(
    plugin.format
    for plugin in (
        JpegImagePlugin.JpegImageFile,
        PngImagePlugin.PngImageFile,
        TiffImagePlugin.TiffImageFile,
        WebPImagePlugin.WebPImageFile,
        BmpImagePlugin.BmpImageFile,
    )
)
LONGEST_PX = 4000
"""Longest side worked on: 20 px/mm on a motif of 200 mm, beyond what a cutter can place."""

_SMALLEST_PX = 16
_PDF_DPI = 300
_ORIENTATION = 0x0112

# The header check in _refuse_size takes the place of Pillow's own, which only warns at first.
Image.MAX_IMAGE_PIXELS = None


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


def read_picture(path: Path, page_number: int) -> Picture:
    """Return the picture in a file.

    Raises:
        PictureError: where the file is missing, damaged, too large, too small or of no known kind.
    """
    content = _content(path)
    if content[:5] == b"%PDF-":
        image = _pdf_page(path, content, page_number)
    else:
        image = _opened(path, content, page_number)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # damaged tags beside a whole picture
            return _decoded(image)
    except (OSError, ValueError, SyntaxError, MemoryError, EOFError) as error:
        raise PictureError(
            f"{path.name} is damaged or cut short ({_first_line(error)})",
            "copy it again from the camera or scanner, or open it and save it as PNG",
        ) from None


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise PictureError(f"there is no file {path}", "check its name and folder") from None
    except IsADirectoryError:
        raise PictureError(
            f"{path} is a folder", "name a picture, or use trace2pop batch for a folder"
        ) from None
    except OSError as error:
        raise PictureError(
            f"{path} can't be read ({error.strerror})", "check that you may open it"
        ) from None


def _opened(path: Path, content: bytes, page_number: int) -> Image.Image:
    formats = FORMATS
    if content[4:12] in (b"ftypheic", b"ftypheix", b"ftypmif1", b"ftyphevc", b"ftypmsf1"):
        _enable_heic(path)
        formats = (*FORMATS, "HEIF")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            image = Image.open(io.BytesIO(content), formats=formats)
            if page_number > 1:
                image.seek(page_number - 1)
    except EOFError:
        raise PictureError(
            f"{path.name} has no page {page_number}", "choose a page it has with --page-number"
        ) from None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as error:
        kind = "empty" if not content else "no picture this program can read"
        if not isinstance(error, UnidentifiedImageError):
            kind = f"damaged ({_first_line(error)})"
        raise PictureError(
            f"{path.name} is {kind}", "give a JPEG, PNG, TIFF, WebP, BMP, HEIC, PDF or SVG file"
        ) from None
    _refuse_size(path, *image.size)
    return image


def _enable_heic(path: Path) -> None:
    try:
        import pi_heif
    except ImportError:
        raise PictureError(
            f"{path.name} is a HEIC picture, and the part that reads those isn't installed",
            'run: pip install "trace2pop[heic]", or send the picture from the phone as JPEG',
        ) from None
    pi_heif.register_heif_opener()


def _refuse_size(path: Path, width: int, height: int) -> None:
    if width * height > limits.MAX_PIXELS.value:
        raise PictureError(
            f"{path.name} says it is {width} x {height} pixels, more than "
            f"{limits.MAX_PIXELS.value / 1e6:.0f} million",
            "scan at a lower resolution; 300 dots per inch are enough",
        )
    if min(width, height) < _SMALLEST_PX:
        raise PictureError(
            f"{path.name} is only {width} x {height} pixels",
            "give a picture at least some hundred pixels wide",
        )


def _pdf_page(path: Path, content: bytes, page_number: int) -> Image.Image:
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(content)
        count = len(document)
        if page_number > count:
            raise PictureError(
                f"{path.name} has {count} pages, no page {page_number}",
                "choose a page it has with --page-number",
            )
        page = document[page_number - 1]
        scale = _PDF_DPI / 72
        width, height = (round(side * scale) for side in page.get_size())
        _refuse_size(path, width, height)
        image: Image.Image = page.render(scale=scale).to_pil()
    except pypdfium2.PdfiumError as error:
        raise PictureError(
            f"{path.name} is a damaged or locked PDF ({_first_line(error)})",
            "export it again, or save the page as PNG",
        ) from None
    return image


def _decoded(image: Image.Image) -> Picture:
    source = image.size
    if image.format in ("JPEG", "MPO") and max(source) >= 2 * LONGEST_PX:
        image.draft("RGB" if image.mode == "RGB" else None, (LONGEST_PX, LONGEST_PX))
    tag = image.info.get("dpi")
    image.load()
    if image.format == "TIFF":  # Pillow sets TIFF pictures upright as it loads them
        source = image.size
    orientation = image.getexif().get(_ORIENTATION, 1)
    image = _to_srgb(image)
    longest = max(image.size)
    if longest > LONGEST_PX:
        factor = LONGEST_PX / longest
        size = tuple(max(1, round(side * factor)) for side in image.size)
        image = image.resize((size[0], size[1]), Image.Resampling.BOX, reducing_gap=2.0)
    if orientation in range(2, 9):
        image.getexif()[_ORIENTATION] = orientation
        image = ImageOps.exif_transpose(image)
    turned = orientation in (5, 6, 7, 8)
    size = (source[1], source[0]) if turned else source
    array = np.asarray(image)
    alpha = np.ascontiguousarray(array[..., 3]) if image.mode == "RGBA" else None
    return Picture(
        rgb=np.ascontiguousarray(array[..., :3]),
        alpha=alpha,
        size=size,
        reduction=size[0] / array.shape[1],
        dpi_tag=_dpi(tag),
    )


def _dpi(tag: object) -> float | None:
    try:
        value = float(tag[0])  # type: ignore[index]  # whatever the file holds
    except (TypeError, ValueError, IndexError, ZeroDivisionError):
        return None
    return value if np.isfinite(value) and value > 1 else None


def _to_srgb(image: Image.Image) -> Image.Image:
    """Return the picture as 8 bit RGB or RGBA in sRGB, its colour profile applied."""
    exif = image.getexif()
    profile = image.info.get("icc_profile")
    if image.mode.startswith(("I", "F")):
        image = _from_deep_grey(image)
    transparent = image.mode in ("LA", "PA", "RGBA", "La", "RGBa") or "transparency" in image.info
    if image.mode == "CMYK" and profile:
        converted = _profiled(image, profile)
        image = converted or image.convert("RGB")
    elif transparent:
        image = image.convert("RGBA")
    elif image.mode != "RGB":
        image = image.convert("RGB")
    if profile and image.mode in ("RGB", "RGBA"):
        image = _profiled(image, profile) or image
    image.info["exif"] = exif.tobytes() if len(exif) else b""
    return image


def _from_deep_grey(image: Image.Image) -> Image.Image:
    values: NDArray[Any] = np.asarray(image).astype(np.float64)
    top = 65535.0 if values.max(initial=0) > 255 or image.mode.startswith("I;16") else 255.0
    return Image.fromarray((np.clip(values / top, 0, 1) * 255 + 0.5).astype(np.uint8))


def _profiled(image: Image.Image, profile: bytes) -> Image.Image | None:
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        mode = "RGB" if image.mode == "CMYK" else image.mode
        return ImageCms.profileToProfile(
            image, source, ImageCms.createProfile("sRGB"), outputMode=mode
        )
    except (ImageCms.PyCMSError, OSError, ValueError):
        return None  # a damaged or mismatched profile: the plain values are the better guess


def _first_line(error: BaseException) -> str:
    return (str(error) or type(error).__name__).splitlines()[0][:100]
