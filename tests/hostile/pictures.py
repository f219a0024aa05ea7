"""Pictures that are damaged, lie about themselves or swell up when opened.

Byte layouts: PNG specification (W3C, third edition), TIFF 6.0, the BMP headers as Pillow documents
them, JPEG (ITU-T T.81, annex B), WebP container (RFC 9649).
"""

import io
import struct
import zlib
from functools import cache

import numpy as np
from PIL import Image

GOOD = np.full((300, 400, 3), 235, np.uint8)
GOOD[80:220, 100:300] = (30, 60, 120)
NOISE = np.random.default_rng(1).integers(0, 255, (300, 400, 3), np.uint8)


def encoded(kind: str, array: np.ndarray = NOISE, **options: object) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(array).save(buffer, kind, **options)
    return buffer.getvalue()


def cut(content: bytes, share: float = 0.4) -> bytes:
    return content[: int(len(content) * share)]


def chunk(kind: bytes, body: bytes, *, crc: int = 0) -> bytes:
    checksum = zlib.crc32(kind + body) ^ crc
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", checksum)


def png(
    width: int,
    height: int,
    data: bytes = b"\0" * 1000,
    *,
    depth: int = 8,
    colour: int = 2,
    before: bytes = b"",
    crc: int = 0,
) -> bytes:
    """Return a PNG that states a size and holds ``data``, whatever its length."""
    header = struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + before
        + chunk(b"IDAT", zlib.compress(data), crc=crc)
        + chunk(b"IEND", b"")
    )


@cache
def swollen(megabytes: int) -> bytes:
    """Return that many megabytes of zeros, deflated: a thousandth of it."""
    packer = zlib.compressobj(9)
    parts = [packer.compress(b"\0" * 1_000_000) for _ in range(megabytes)]
    return b"".join([*parts, packer.flush()])


def png_text_bomb() -> bytes:
    return png(64, 64, b"\0" * 64 * 193, before=chunk(b"zTXt", b"a\0\0" + swollen(100)))


def png_profile_bomb() -> bytes:
    return png(64, 64, b"\0" * 64 * 193, before=chunk(b"iCCP", b"a\0\0" + swollen(100)))


def png_pixel_bomb() -> bytes:
    """Return 14,000 x 14,000 white pixels in a quarter of a megabyte: large, but no lie."""
    row = b"\0" + b"\xff" * 1750
    packer = zlib.compressobj(9)
    data = b"".join([packer.compress(row * 14_000), packer.flush()])
    header = struct.pack(">IIBBBBB", 14_000, 14_000, 1, 0, 0, 0, 0)
    signature = b"\x89PNG\r\n\x1a\n"
    return signature + chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def tiff_file(
    width: int,
    height: int,
    *,
    bits: int = 8,
    compression: int = 1,
    strip: int | None = None,
    more: tuple[tuple[int, int, int, int], ...] = (),
    after: int = 0,
    data: bytes = b"\0" * 3000,
) -> bytes:
    tags = {
        256: (256, 4, 1, width),
        257: (257, 4, 1, height),
        258: (258, 3, 1, bits),
        259: (259, 3, 1, compression),
        262: (262, 3, 1, 1),
        277: (277, 3, 1, 1),
        278: (278, 4, 1, height),
        279: (279, 4, 1, len(data)),
    } | {tag[0]: tag for tag in more}
    count = len(tags) + (273 not in tags)
    start = 8 + 2 + 12 * count + 4
    tags.setdefault(273, (273, 4, 1, start if strip is None else strip))
    rows = b"".join(struct.pack("<HHII", *tags[key]) for key in sorted(tags))
    head = struct.pack("<2sHIH", b"II", 42, 8, count)
    return head + rows + struct.pack("<I", after) + data


def tiff_tiles(side: int) -> bytes:
    more = ((322, 4, 1, side), (323, 4, 1, side), (324, 4, 1, 200), (325, 4, 1, 1000))
    return tiff_file(400, 300, compression=8, more=more, data=zlib.compress(b"\0" * 9_000_000))


def bmp(width: int, height: int, *, bits: int = 24, packing: int = 0, data: bytes = b"") -> bytes:
    head = struct.pack("<2sIHHI", b"BM", 54 + len(data), 0, 0, 54)
    info = struct.pack("<IiiHHIIiiII", 40, width, height, 1, bits, packing, 0, 0, 0, 0, 0)
    return head + info + data


def jpeg(width: int, height: int, parts: int = 3) -> bytes:
    """Return a JPEG whose frame header is replaced: size and number of colour parts."""
    whole = encoded("JPEG", GOOD)
    at = whole.index(b"\xff\xc0")
    frame = whole[at + 10 :]
    return whole[: at + 5] + struct.pack(">HHB", height, width, parts) + frame


def webp(width: int, height: int) -> bytes:
    """Return an extended WebP whose canvas is stated larger than any picture in it."""
    canvas = (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    body = b"WEBP" + b"VP8X" + struct.pack("<I", 10) + b"\0\0\0\0" + canvas
    return b"RIFF" + struct.pack("<I", len(body) + 2000) + body


def float_tiff(value: float) -> bytes:
    return encoded("TIFF", np.full((300, 400), value, np.float32))
