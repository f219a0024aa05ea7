"""PDF files that are cut short, locked, endless or swell up when opened.

Syntax: ISO 32000-1:2008, sections 7.3 (objects), 7.5 (file structure), 7.7.3 (page tree), 8.10
(forms), 8.9.5 (images).
"""

import zlib

from tests.hostile.pictures import swollen


def pdf(*objects: bytes, root: int = 1, trailer: bytes = b"") -> bytes:
    """Return a PDF of numbered objects, 1 first, with a correct cross-reference table."""
    out = b"%PDF-1.7\n"
    places = []
    for number, body in enumerate(objects, start=1):
        places.append(len(out))
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    table = b"xref\n0 %d\n0000000000 65535 f \n" % (len(objects) + 1)
    table += b"".join(b"%010d 00000 n \n" % place for place in places)
    end = b"trailer\n<</Size %d/Root %d 0 R%s>>\nstartxref\n%d\n%%%%EOF\n"
    return out + table + end % (len(objects) + 1, root, trailer, len(out))


def stream(content: bytes, more: bytes = b"") -> bytes:
    return b"<</Length %d%s>>stream\n%s\nendstream" % (len(content), more, content)


CATALOG = b"<</Type/Catalog/Pages 2 0 R>>"
PAGES = b"<</Type/Pages/Kids[3 0 R]/Count 1>>"


def page(content: bytes, resources: bytes = b"", box: bytes = b"0 0 200 200") -> bytes:
    return pdf(
        CATALOG,
        PAGES,
        b"<</Type/Page/Parent 2 0 R/MediaBox[%s]/Contents 4 0 R/Resources<<%s>>>>"
        % (box, resources),
        stream(content),
    )


def with_image(width: int, height: int, data: bytes, *, within_form: bool = False) -> bytes:
    image = stream(
        data,
        b"/Type/XObject/Subtype/Image/Width %d/Height %d/BitsPerComponent 8/ColorSpace/DeviceRGB"
        b"/Filter/FlateDecode" % (width, height),
    )
    form = stream(
        b"200 0 0 200 0 0 cm /X Do",
        b"/Type/XObject/Subtype/Form/BBox[0 0 200 200]/Resources<</XObject<</X 5 0 R>>>>",
    )
    name = b"6" if within_form else b"5"
    return pdf(
        CATALOG,
        PAGES,
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]/Contents 4 0 R"
        b"/Resources<</XObject<</I %s 0 R>>>>>>" % name,
        stream(b"/I Do" if within_form else b"q 200 0 0 200 0 0 cm /I Do Q"),
        image,
        form,
    )


def image_bomb(*, within_form: bool = False) -> bytes:
    """Return a page with a picture of 3.6 thousand million pixels, a hundred megabytes of it."""
    return with_image(60_000, 60_000, swollen(100), within_form=within_form)


def content_bomb() -> bytes:
    """Return a page that draws for ever: 300 MB of instructions in 300 kB."""
    packer = zlib.compressobj(9)
    part = b"0 0 m 200 200 l 0 200 l f\n" * 40_000
    data = b"".join([*(packer.compress(part) for _ in range(300)), packer.flush()])
    return pdf(
        CATALOG,
        PAGES,
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]/Contents 4 0 R>>",
        stream(data, b"/Filter/FlateDecode"),
    )


def nested_forms() -> bytes:
    """Return forms that each draw the one before ten times, twelve deep."""
    forms = [
        stream(
            b"0 0 5 5 re f" if n == 0 else b"/F Do " * 10,
            b"/Type/XObject/Subtype/Form/BBox[0 0 200 200]"
            + (b"" if n == 0 else b"/Resources<</XObject<</F %d 0 R>>>>" % (4 + n)),
        )
        for n in range(12)
    ]
    return pdf(
        CATALOG,
        PAGES,
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]/Contents 4 0 R"
        b"/Resources<</XObject<</F 16 0 R>>>>>>",
        stream(b"/F Do"),
        *forms,
    )


def page_circle() -> bytes:
    return pdf(CATALOG, b"<</Type/Pages/Kids[2 0 R]/Count 1/Parent 2 0 R>>")


def filter_chain() -> bytes:
    """Return a content stream deflated three times over: two megabytes for each byte."""
    data = swollen(100)
    for _ in range(2):
        data = zlib.compress(data, 9)
    names = b"/Filter[/FlateDecode/FlateDecode/FlateDecode]"
    return pdf(
        CATALOG,
        PAGES,
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]/Contents 4 0 R>>",
        stream(data, names),
    )


def deep_array() -> bytes:
    deep = b"[" * 200_000 + b"]" * 200_000
    return pdf(CATALOG, PAGES, b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 50 50]/A " + deep + b">>")


def locked() -> bytes:
    """Return a file that asks for a password (section 7.6.3): its keys open with none."""
    keys = b"/Encrypt<</Filter/Standard/V 1/R 2/P -4/O<%s>/U<%s>>>/ID[<00><00>]"
    return pdf(
        CATALOG,
        PAGES,
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]>>",
        trailer=keys % (b"11" * 32, b"22" * 32),
    )


def reaching_out() -> bytes:
    """Return a page that wants to start a program, run a script and open an address."""
    return pdf(
        b"<</Type/Catalog/Pages 2 0 R/OpenAction<</S/Launch/F(/bin/sh)>>"
        b"/Names<</JavaScript<</Names[(a)<</S/JavaScript/JS(app.alert(1))>>]>>>>>>",
        PAGES,
        b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 50 50]"
        b"/AA<</O<</S/URI/URI(http://example.invalid/)>>>>>>",
    )
