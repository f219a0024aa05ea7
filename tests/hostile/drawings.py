"""SVG drawings that multiply, reach out, run, nest or measure beyond reason.

Entities: Extensible Markup Language 1.0 (W3C), section 4; what SVG may refer to and run: SVG 2
(W3C), sections 2.1 and 16; the classes of attack as the Python documentation lists them ("XML
vulnerabilities").
"""

import gzip

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
MM = HEAD + 'width="60mm" height="40mm" viewBox="0 0 60 40">'
GOOD = '<path d="M10 10H50V30H10z"/>'


def svg(body: str, head: str = MM) -> bytes:
    return f"{head}{body}</svg>".encode()


def declared(doctype: str, body: str) -> bytes:
    return f'<?xml version="1.0"?>\n<!DOCTYPE svg [{doctype}]>\n'.encode() + svg(body)


def laughs() -> bytes:
    entities = '<!ENTITY a "ha">' + "".join(
        f'<!ENTITY {name} "{f"&{before};" * 10}">'
        for before, name in zip("abcdefghi", "bcdefghij", strict=True)
    )
    return declared(entities, "<title>&j;</title>" + GOOD)


def long_entity() -> bytes:
    return declared(f'<!ENTITY a "{"x" * 100_000}">', f"<title>{'&a;' * 30_000}</title>{GOOD}")


def nested_uses() -> bytes:
    groups = '<g id="g0"><rect width="1" height="1"/></g>' + "".join(
        f'<g id="g{n}">{f"""<use href="#g{n - 1}"/>""" * 10}</g>' for n in range(1, 12)
    )
    return svg(f"<defs>{groups}</defs><use href='#g11'/>")


def nested_clips() -> bytes:
    """Return shapes that are each clipped by all the others."""
    shapes = "".join(
        f'<circle id="s{n}" cx="{n % 60}" cy="{n % 40}" r="9" clip-path="url(#c)"/>'
        for n in range(2000)
    )
    return svg(f'<clipPath id="c">{shapes}</clipPath>{shapes}')


def deep(levels: int) -> bytes:
    return svg("<g>" * levels + GOOD + "</g>" * levels)


def crossing_lines(count: int) -> bytes:
    """Return one path that crosses itself about ``count`` squared over three times."""
    step = 7919  # a prime, so that the points look scattered
    points = " ".join(f"{n * step % 6007 / 100} {n * n % 4001 / 100}" for n in range(count))
    return svg(f'<path fill-rule="evenodd" d="M{points}z"/>')


def many_shapes(count: int) -> bytes:
    return svg('<rect width="1" height="1"/>' * count)


def zipped_bomb() -> bytes:
    """Return a gzipped drawing of 100 MB, nearly all of it spaces."""
    return gzip.compress(MM.encode() + b" " * 100_000_000 + b"</svg>", 1)


def embedded_bomb() -> bytes:
    import base64

    from tests.hostile.pictures import png

    data = base64.b64encode(png(60_000, 60_000)).decode()
    return svg(f'<image width="60" height="40" href="data:image/png;base64,{data}"/>')
