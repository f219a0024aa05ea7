"""Bad files, each with its name, its bytes and the exit code its refusal has."""

import gzip
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.hostile import drawings, papers, pictures

USAGE, PICTURE, TRACE = 2, 3, 4


@dataclass(frozen=True)
class Bad:
    """A file by its name and content, and the exit code of its refusal."""

    name: str
    content: Callable[[], bytes]
    code: int = PICTURE
    options: tuple[str, ...] = ()


def _toml(text: str) -> Bad:
    return Bad("card.toml", text.encode, USAGE)


def _svg(body: str, head: str = drawings.MM, code: int = PICTURE) -> Bad:
    return Bad("motif.svg", lambda: drawings.svg(body, head), code)


PICTURES = {
    "empty": Bad("a.png", lambda: b""),
    "text named jpg": Bad("a.jpg", lambda: b"this is not a picture\n" * 50),
    "program named png": Bad("a.png", lambda: b"MZ\x90\0" + bytes(4000)),
    "archive named tif": Bad("a.tif", lambda: b"PK\x03\x04" + bytes(4000)),
    "animation named png": Bad("a.png", lambda: pictures.encoded("GIF", pictures.GOOD)),
    "film named heic": Bad("a.heic", lambda: b"\0\0\0\x18ftypmp42" + bytes(4000)),
    "cut heic": Bad("a.heic", lambda: b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(400)),
    "cut jpeg": Bad("a.jpg", lambda: pictures.cut(pictures.encoded("JPEG"))),
    "cut png": Bad("a.png", lambda: pictures.cut(pictures.encoded("PNG"))),
    "cut tiff": Bad("a.tif", lambda: pictures.cut(pictures.encoded("TIFF"))),
    "cut packed tiff": Bad(
        "a.tif", lambda: pictures.cut(pictures.encoded("TIFF", compression="tiff_lzw"), 0.9)
    ),
    "cut webp": Bad("a.webp", lambda: pictures.cut(pictures.encoded("WEBP"))),
    "cut bmp": Bad("a.bmp", lambda: pictures.cut(pictures.encoded("BMP"))),
    "one pixel": Bad("a.png", lambda: pictures.encoded("PNG", np.zeros((1, 1, 3), np.uint8))),
    "one row": Bad("a.png", lambda: pictures.encoded("PNG", np.zeros((1, 9000, 3), np.uint8))),
    "png of no width": Bad("a.png", lambda: pictures.png(0, 100)),
    "png of 3.6 thousand million pixels": Bad("a.png", lambda: pictures.png(60_000, 60_000)),
    "png of the largest size": Bad("a.png", lambda: pictures.png(2**31 - 1, 2**31 - 1)),
    "png with less than it states": Bad("a.png", lambda: pictures.png(14_000, 14_000)),
    "png of white pixels": Bad("a.png", pictures.png_pixel_bomb, TRACE),
    "png text bomb": Bad("a.png", pictures.png_text_bomb),
    "png profile bomb": Bad("a.png", pictures.png_profile_bomb),
    "png of three bits": Bad("a.png", lambda: pictures.png(99, 99, depth=3)),
    "png of no colour type": Bad("a.png", lambda: pictures.png(99, 99, colour=5)),
    "png without palette": Bad("a.png", lambda: pictures.png(99, 99, colour=3), TRACE),
    "png with a wrong checksum": Bad(
        "a.png", lambda: pictures.png(99, 99, pictures.NOISE.tobytes()[: 99 * 298], crc=1)
    ),
    "png chunk longer than the file": Bad(
        "a.png", lambda: pictures.png(99, 99).replace(b"\0\0\0\x11IDAT", b"\x7f\xff\xff\xffIDAT")
    ),
    "jpeg of no height": Bad("a.jpg", lambda: pictures.jpeg(400, 0)),
    "jpeg of 4 thousand million pixels": Bad("a.jpg", lambda: pictures.jpeg(65_500, 65_500)),
    "jpeg of nine colour parts": Bad("a.jpg", lambda: pictures.jpeg(400, 300, 9)),
    "jpeg markers only": Bad("a.jpg", lambda: b"\xff\xd8" + b"\xff\xe0\0\x02" * 100_000),
    "tiff of 10 thousand million pixels": Bad("a.tif", lambda: pictures.tiff_file(10**5, 10**5)),
    "tiff of no size": Bad("a.tif", lambda: pictures.tiff_file(0, 0)),
    "tiff of seven bits": Bad("a.tif", lambda: pictures.tiff_file(99, 99, bits=7)),
    "tiff strip outside the file": Bad("a.tif", lambda: pictures.tiff_file(99, 99, strip=10**9)),
    "tiff strip bomb": Bad(
        "a.tif",
        lambda: pictures.tiff_file(99, 99, compression=8, data=pictures.swollen(100)),
        TRACE,
    ),
    "tiff of huge tiles": Bad("a.tif", lambda: pictures.tiff_tiles(2**30)),
    "tiff tag of 4 thousand million values": Bad(
        "a.tif", lambda: pictures.tiff_file(99, 99, more=((258, 3, 2**32 - 1, 8),)), TRACE
    ),
    "tiff directories in a circle": Bad(
        "a.tif", lambda: pictures.tiff_file(99, 99, after=8), options=("--page-number", "9000")
    ),
    "tiff of no numbers": Bad("a.tif", lambda: pictures.float_tiff(float("nan")), TRACE),
    "tiff of infinite numbers": Bad("a.tif", lambda: pictures.float_tiff(float("inf")), TRACE),
    "bmp of 4 thousand million pixels": Bad("a.bmp", lambda: pictures.bmp(65_000, 65_000)),
    "bmp of negative size": Bad("a.bmp", lambda: pictures.bmp(-400, -300)),
    "bmp of 5000 bits": Bad("a.bmp", lambda: pictures.bmp(400, 300, bits=5000)),
    "bmp packed and cut": Bad(
        "a.bmp", lambda: pictures.bmp(9000, 9000, bits=8, packing=1, data=b"\0\2\xff\xff" * 99)
    ),
    "webp of 268 million pixels": Bad("a.webp", lambda: pictures.webp(16_383, 16_383)),
    "webp of 16 million a side": Bad("a.webp", lambda: pictures.webp(2**24, 2**24)),
}

PAPERS = {
    "pdf header only": Bad("a.pdf", lambda: b"%PDF-1.7\n"),
    "pdf cut": Bad("a.pdf", lambda: pictures.cut(pictures.encoded("PDF"), 0.2)),
    "pdf named png": Bad("a.png", lambda: b"%PDF-1.7\n" + bytes(5000)),
    "pdf without pages": Bad(
        "a.pdf", lambda: papers.pdf(papers.CATALOG, b"<</Type/Pages/Kids[]/Count 0>>")
    ),
    "pdf page tree in a circle": Bad("a.pdf", papers.page_circle),
    "pdf locked": Bad("a.pdf", papers.locked),
    "pdf of no size": Bad("a.pdf", lambda: papers.page(b"", box=b"0 0 0 0"), TRACE),
    "pdf of a thousand million points": Bad(
        "a.pdf", lambda: papers.page(b"", box=b"0 0 1000000000 1000000000"), TRACE
    ),
    "pdf longer than wide, a million times": Bad(
        "a.pdf", lambda: papers.page(b"", box=b"0 0 1 1000000")
    ),
    "pdf of no numbers": Bad("a.pdf", lambda: papers.page(b"", box=b"NaN NaN 1e999 x"), TRACE),
    "pdf picture bomb": Bad("a.pdf", papers.image_bomb),
    "pdf picture bomb in a form": Bad("a.pdf", lambda: papers.image_bomb(within_form=True)),
    "pdf drawing without end": Bad("a.pdf", papers.content_bomb),
    "pdf deflated three times": Bad("a.pdf", papers.filter_chain, TRACE),
    "pdf forms in forms": Bad("a.pdf", papers.nested_forms),
    "pdf deep array": Bad("a.pdf", papers.deep_array, TRACE),
    "pdf that wants to run": Bad("a.pdf", papers.reaching_out, TRACE),
}

DRAWINGS = {
    "svg cut": Bad("a.svg", lambda: pictures.cut(drawings.svg(drawings.GOOD), 0.9)),
    "svg gzip cut": Bad(
        "a.svgz", lambda: pictures.cut(gzip.compress(drawings.svg(drawings.GOOD)), 0.8)
    ),
    "svg gzip bomb": Bad("a.svgz", drawings.zipped_bomb),
    "svg zipped twice": Bad(
        "a.svgz", lambda: gzip.compress(gzip.compress(drawings.svg(drawings.GOOD)))
    ),
    "svg is a web page": Bad("a.svg", lambda: b"<!DOCTYPE html><html><svg></svg></html>"),
    "svg entities in entities": Bad("a.svg", drawings.laughs),
    "svg long entity": Bad("a.svg", drawings.long_entity),
    "svg entity from a file": Bad(
        "a.svg",
        lambda: drawings.declared('<!ENTITY a SYSTEM "file:///etc/hostname">', "<text>&a;</text>"),
    ),
    "svg entity from a server": Bad(
        "a.svg",
        lambda: drawings.declared('<!ENTITY % a SYSTEM "http://example.invalid/a">%a;', ""),
    ),
    "svg picture of a file": _svg('<image href="file:///etc/hostname"/>' + drawings.GOOD),
    "svg picture of a server": _svg('<image xlink:href="http://example.invalid/a.png"/>'),
    "svg use of another file": _svg('<use href="other.svg#a"/>'),
    "svg style from a server": _svg("<style>@import 'http://example.invalid/a.css';</style>"),
    "svg font from a server": _svg(
        "<style>@font-face{font-family:a;src:url( http://example.invalid/a )}</style>"
    ),
    "svg paint from a server": _svg('<rect fill="url(http://example.invalid/#a)"/>'),
    "svg style sheet instruction": Bad(
        "a.svg", lambda: b'<?xml-stylesheet href="a.css"?>' + drawings.svg(drawings.GOOD)
    ),
    "svg script": _svg("<script>alert(1)</script>" + drawings.GOOD),
    "svg script on load": _svg('<g onload="alert(1)"/>' + drawings.GOOD),
    "svg script address": _svg('<a xlink:href=" javascript:alert(1)">' + drawings.GOOD + "</a>"),
    "svg uses in uses": Bad("a.svg", drawings.nested_uses),
    "svg use of itself": _svg('<g id="a"><use href="#a"/></g>'),
    "svg clips in clips": Bad("a.svg", drawings.nested_clips),
    "svg nested 200 deep": Bad("a.svg", lambda: drawings.deep(200)),
    "svg nested 200000 deep": Bad("a.svg", lambda: drawings.deep(200_000)),
    "svg of a million shapes": Bad("a.svg", lambda: drawings.many_shapes(1_000_000)),
    "svg crossing lines": Bad("a.svg", lambda: drawings.crossing_lines(6000)),
    "svg long path": _svg(f'<path d="M0 0{"h1v1" * 1_000_000}"/>'),
    "svg not a number": _svg('<path d="M NaN NaN L nan 5"/>'),
    "svg infinite": _svg('<path d="M1e999 0L0 1e999L5 5z"/>'),
    "svg 1e300": _svg('<path d="M0 0H1e300V1e300z"/>'),
    "svg scaled 1e300": _svg(f'<g transform="scale(1e300)">{drawings.GOOD}</g>'),
    "svg shape of no size": _svg('<path d="M5 5L5 5z"/>'),
    "svg of negative size": _svg("", drawings.HEAD + 'width="-5mm" height="-5mm">'),
    "svg of a thousand kilometres": _svg('<rect width="1e9" height="1e9"/>'),
    "svg view of no size": _svg(
        "", drawings.HEAD + 'width="60mm" height="40mm" viewBox="0 0 0 0">'
    ),
    "svg view of no numbers": _svg(
        "", drawings.HEAD + 'width="60mm" height="40mm" viewBox="a b c d">'
    ),
    "svg empty": _svg(""),
    "svg text only": _svg("<text>hello</text>"),
    "svg pixels only": Bad("a.svg", drawings.embedded_bomb),
    "svg style without end": _svg(f"<style>{'a' * 2_000_000}</style>"),
    "svg rules times shapes": _svg(
        f"<style>{''.join(f'.a{n}{{fill:red}}' for n in range(20_000))}</style>"
        + '<rect class="b"/>' * 20_000
    ),
    "svg blanks in an address": _svg(f'<rect fill="url({" " * 50_000}#a)"/>'),
    "svg brackets in a transform": _svg(f'<g transform="{"scale(" * 100_000}"/>'),
    "svg of unknown encoding": Bad(
        "a.svg", lambda: b'<?xml version="1.0" encoding="made-up"?>' + drawings.svg(drawings.GOOD)
    ),
    "svg of broken letters": Bad("a.svg", lambda: b"\xff\xfe" + drawings.svg(drawings.GOOD)),
    "svg null bytes": Bad("a.svg", lambda: drawings.svg("\0" + drawings.GOOD)),
}

SETTINGS = {
    "toml broken": _toml("[card]\nrise = "),
    "toml is a picture": Bad("card.toml", lambda: pictures.encoded("PNG"), USAGE),
    "toml empty": _toml(""),
    "toml unknown section": _toml("[cards]\n"),
    "toml unknown key": _toml('[card]\nrais = "2mm"\n'),
    "toml key twice": _toml('[card]\nrise = "20mm"\nrise = "21mm"\n'),
    "toml no section": _toml('card = "5x7in"\n'),
    "toml list of sections": _toml("[[card]]\n[[card]]\n"),
    "toml nested arrays": _toml(f"[card]\nrise = {'[' * 20_000}{']' * 20_000}\n"),
    "toml nested tables": _toml(f"[{'.'.join('a' * 5000)}]\n"),
    "toml long number": _toml(f"[picture]\nfile = 'a.png'\npage_number = {'9' * 9000}\n"),
    "toml infinite number": _toml("[picture]\nfile = 'a.png'\npage_number = inf\n"),
    "toml no number": _toml("[picture]\nfile = 'a.png'\ndpi = nan\n"),
    "toml length of no number": _toml('[picture]\nfile = "a.png"\n[card]\nrise = "nanmm"\n'),
    "toml length divided by nothing": _toml('[picture]\nfile = "a"\n[card]\nrise = "1/0in"\n'),
    "toml length of many digits": _toml(f'[picture]\nfile = "a"\n[card]\nrise = "{"9" * 9000}mm"'),
    "toml date": _toml("[picture]\nfile = 'a.png'\ndpi = 1979-05-27\n"),
    "toml size backwards": _toml('[picture]\nfile = "a"\n[card]\nsize = "x"\n'),
    "toml no picture": _toml('[card]\nrise = "20mm"\n'),
    "toml picture is a number": _toml("[picture]\nfile = 5\n"),
    "toml picture with a null": _toml('[picture]\nfile = "a\\u0000.png"\n'),
    "toml picture missing": Bad("card.toml", b'[picture]\nfile = "gone.png"\n'.strip, PICTURE),
    "toml picture is a folder": Bad("card.toml", b'[picture]\nfile = "."\n'.strip, PICTURE),
    "toml picture is itself": Bad("card.toml", b'[picture]\nfile = "card.toml"\n'.strip, PICTURE),
    "toml picture never ends": Bad("card.toml", b'[picture]\nfile = "/dev/zero"\n'.strip, PICTURE),
    "toml picture of a long name": Bad(
        "card.toml", lambda: f'[picture]\nfile = "{"a" * 5000}"\n'.encode(), PICTURE
    ),
    "toml of other letters": Bad(
        "card.toml", lambda: "[card]\nrise = '\xfc'".encode("utf-16"), USAGE
    ),
    "toml of ten megabytes": _toml("[card]\n" + "a = 1\n" * 1_700_000),
    "toml of many beams": _toml(
        '[picture]\nfile = "a"\n' + '[[supports.beam]]\nu = "x"\n' * 20_000
    ),
}

CORPUS = PICTURES | PAPERS | DRAWINGS | SETTINGS


def write(folder: Path) -> None:
    """Write the whole corpus, each file in a folder of its own, to look at or to use elsewhere."""
    for title, bad in CORPUS.items():
        place = folder / title.replace(" ", "-")
        place.mkdir(parents=True)
        (place / bad.name).write_bytes(bad.content())
