"""Picture files opened, refused by their headers where they are too large."""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from PIL import (
    BmpImagePlugin,
    Image,
    JpegImagePlugin,
    PngImagePlugin,
    TiffImagePlugin,
    UnidentifiedImageError,
    WebPImagePlugin,
)

from trace2pop import limits
from trace2pop.errors import PictureError
from trace2pop.stages.capture.decoding import LONGEST_PX, Picture, decoded

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

_SMALLEST_PX = 16
_PDF_DPI = 300.0
_POINTS = 72.0
_HEIC_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")
_DAMAGE = (OSError, ValueError, SyntaxError, MemoryError, EOFError, OverflowError)

# The header check in _refuse_size takes the place of Pillow's own, which only warns at first.
Image.MAX_IMAGE_PIXELS = None


_HEAD = 65536


@contextmanager
def opened_file(path: Path) -> Iterator[BinaryIO]:
    """Yield a file open for reading.

    Raises:
        PictureError: where it is missing or can't be read.
    """
    try:
        with path.open("rb") as file:
            yield file
    except FileNotFoundError:
        raise PictureError(f"there is no file {path}", "check its name and folder") from None
    except IsADirectoryError:
        raise PictureError(
            f"{path} is a folder", "name a picture, or use trace2pop batch for a folder"
        ) from None
    except OSError as error:
        raise PictureError(
            f"{path} can't be read ({error.strerror or error})", "check that you may open it"
        ) from None


def head_of(file: BinaryIO) -> bytes:
    """Return the first 64 kB of a file, and go back to its start."""
    head = file.read(_HEAD)
    file.seek(0)
    return head


def read_picture(name: str, file: BinaryIO, page_number: int) -> Picture:
    """Return the picture in a file; ``page_number`` counts from 1.

    Raises:
        PictureError: where it is damaged, too large, too small or of no known kind.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # damaged tags beside a whole picture
            if head_of(file)[:1024].lstrip().startswith(b"%PDF-"):
                return decoded(_pdf_page(name, file, page_number))
            return decoded(_opened(name, file, page_number))
    except _DAMAGE as error:
        raise PictureError(
            f"{name} is damaged or cut short ({_first_line(error)})",
            "copy it again from the camera or scanner, or open it and save it as PNG",
        ) from None


def _opened(name: str, file: BinaryIO, page_number: int) -> Image.Image:
    formats = FORMATS
    head = head_of(file)
    if head[4:8] == b"ftyp" and head[8:12] in _HEIC_BRANDS:
        _enable_heic(name)
        formats = (*FORMATS, "HEIF")
    try:
        image = Image.open(file, formats=formats)
    except UnidentifiedImageError:
        kind = "no picture this program can read" if head else "empty"
        raise PictureError(
            f"{name} is {kind}", "give a JPEG, PNG, TIFF, WebP, BMP, HEIC, PDF or SVG file"
        ) from None
    _refuse_size(name, *image.size)
    if page_number > 1:
        try:
            image.seek(page_number - 1)
        except EOFError:
            raise _no_page(name, page_number, getattr(image, "n_frames", 1)) from None
        _refuse_size(name, *image.size)
    return image


def _no_page(name: str, page_number: int, count: int) -> PictureError:
    has = "only one page" if count == 1 else f"{count} pages"
    return PictureError(
        f"{name} has {has}, no page {page_number}", "choose a page it has with --page-number"
    )


def _enable_heic(name: str) -> None:
    try:
        import pi_heif
    except ImportError:
        raise PictureError(
            f"{name} is a HEIC picture, and the part that reads those isn't installed",
            'run: pip install "trace2pop[heic]", or send the picture from the phone as JPEG',
        ) from None
    pi_heif.register_heif_opener()


def _refuse_size(name: str, width: int, height: int) -> None:
    if width * height > limits.MAX_PIXELS.value:
        raise PictureError(
            f"{name} says it is {width} x {height} pixels, more than "
            f"{limits.MAX_PIXELS.value / 1e6:.0f} million",
            "scan at a lower resolution; 300 dots per inch are enough",
        )
    if min(width, height) < _SMALLEST_PX:
        raise PictureError(
            f"{name} is only {width} x {height} pixels",
            "give a picture at least some hundred pixels wide",
        )


def _pdf_page(name: str, file: BinaryIO, page_number: int) -> Image.Image:
    """Return a page drawn at the resolution of the scan it holds, 300 dpi where it holds none."""
    import pypdfium2

    try:
        with pypdfium2.PdfDocument(file) as document:
            if page_number > len(document):
                raise _no_page(name, page_number, len(document))
            page = document[page_number - 1]
            longest = max(page.get_size())
            scale = min(_pdf_density(page) / _POINTS, LONGEST_PX / max(longest, 1e-3))
            image: Image.Image = page.render(scale=scale).to_pil().convert("RGB")
    except pypdfium2.PdfiumError as error:
        raise PictureError(
            f"{name} is a damaged or locked PDF ({_first_line(error)})",
            "export it again without a password, or save the page as PNG",
        ) from None
    _refuse_size(name, *image.size)
    image.info["dpi"] = (scale * _POINTS, scale * _POINTS)
    return image


def _pdf_density(page: object) -> float:
    """Return the finest resolution of the pictures on a PDF page in dpi, or the usual one."""
    from pypdfium2 import raw

    finest = _PDF_DPI
    for item in page.get_objects(filter=(raw.FPDF_PAGEOBJ_IMAGE,)):  # type: ignore[attr-defined]  # untyped library
        left, bottom, right, top = item.get_bounds()
        sides = sorted((abs(right - left), abs(top - bottom)))
        pixels = sorted(item.get_px_size())
        if sides[0] > 0:
            finest = max(finest, pixels[1] / sides[1] * _POINTS)
    return finest


def _first_line(error: BaseException) -> str:
    return (str(error) or type(error).__name__).splitlines()[0][:100]
