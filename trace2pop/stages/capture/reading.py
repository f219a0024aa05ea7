"""Picture files opened, refused by their headers where they are too large."""

import stat
import struct
import warnings
import zlib
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
from trace2pop.stages.capture.decoding import Picture, decoded
from trace2pop.stages.capture.pdf import no_page, pdf_page

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
_HEIC_BRANDS = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")
# What Pillow's readers raise for tags and lengths that make no sense; found by fuzzing.
_DAMAGE = (
    *(OSError, ValueError, SyntaxError, MemoryError, EOFError, ArithmeticError, struct.error),
    *(TypeError, LookupError, AttributeError, RuntimeError, zlib.error),
)

# The header check in _refuse_size takes the place of Pillow's own, which only warns at first.
Image.MAX_IMAGE_PIXELS = None


_HEAD = 65536
_MOST_BYTES = 4_000_000_000


@contextmanager
def opened_file(path: Path) -> Iterator[BinaryIO]:
    """Yield a file open for reading.

    Raises:
        PictureError: where it is missing or can't be read.
    """
    try:
        _refuse_place(path)
        with path.open("rb") as file:
            yield file
    except FileNotFoundError:
        raise PictureError(f"there is no file {path}", "check its name and folder") from None
    except OSError as error:
        raise PictureError(
            f"{path} can't be read ({error.strerror or error})", "check that you may open it"
        ) from None


def _refuse_place(path: Path) -> None:
    """Refuse what is no file: a pipe would be waited for, a device read without end."""
    found = path.stat()
    if stat.S_ISDIR(found.st_mode):
        own = path / "card.toml"
        advice = f"to make its card again name {own}" if own.is_file() else "name a picture"
        raise PictureError(f"{path} is a folder", f"{advice}, or use trace2pop batch for a folder")
    if not stat.S_ISREG(found.st_mode):
        raise PictureError(f"{path} is no file", "give a picture that is saved on the disk")
    if found.st_size > _MOST_BYTES:
        raise PictureError(
            f"{path} has {found.st_size / 1e9:.1f} GB, more than any picture this program takes",
            "scan at a lower resolution; 300 dots per inch are enough",
        )


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
                page = pdf_page(name, file, page_number)
                _refuse_size(name, *page.size)
                return decoded(page)
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
            raise no_page(name, page_number, getattr(image, "n_frames", 1)) from None
        _refuse_size(name, *image.size)
    return image


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


def _first_line(error: BaseException) -> str:
    return (str(error) or type(error).__name__).splitlines()[0][:100]
