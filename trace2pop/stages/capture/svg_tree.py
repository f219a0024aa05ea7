"""SVG text to an element tree, nothing in it that runs, reaches out or multiplies."""

import gzip
import io
import re
import zlib
from xml.etree import ElementTree
from xml.parsers import expat

from trace2pop.errors import PictureError

SVG = "{http://www.w3.org/2000/svg}"
XLINK_HREF = "{http://www.w3.org/1999/xlink}href"

_MAX_BYTES = 40_000_000
_RUNS = {"script", "handler", "listener"}
_REACHES_OUT = re.compile(r"url\(\s*['\"]?\s*(?!['\"]?\s*#)|@import", re.IGNORECASE)
_GZIP = b"\x1f\x8b"
_MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")
_SAVE_PLAIN = "open it in a drawing program and save it as plain SVG"


def is_svg(head: bytes) -> bool:
    """Whether a file that starts with ``head`` is SVG, gzipped or not, by its first element."""
    if head.startswith(_GZIP):
        try:
            head = zlib.decompressobj(31).decompress(head, len(head))
        except zlib.error:
            return False
    if head.startswith(_MARKS[1:]):
        head = head.decode("utf-16", "ignore").encode()
    head = head.removeprefix(_MARKS[0]).lstrip()
    return head.startswith(b"<") and re.search(rb"<(?:[\w.-]+:)?svg[\s>/]", head) is not None


def svg_root(name: str, content: bytes) -> ElementTree.Element:
    """Return the root element of an SVG file.

    Raises:
        PictureError: where it is damaged, or holds a script, an entity or an outside reference.
    """
    text = _unzipped(name, content)
    try:
        _refuse_entities(name, text)
        root = ElementTree.fromstring(text)  # no entity is left to expand
    except (expat.ExpatError, ElementTree.ParseError, ValueError, LookupError) as error:
        raise PictureError(f"{name} is damaged ({str(error)[:100]})", _SAVE_PLAIN) from None
    if root.tag == "svg":  # hand-written files forget the namespace
        for element in root.iter():
            if isinstance(element.tag, str) and not element.tag.startswith("{"):
                element.tag = SVG + element.tag
    if root.tag != SVG + "svg":
        raise PictureError(f"{name} is no SVG drawing", _SAVE_PLAIN)
    for element in root.iter():
        _refuse_element(name, element)
    return root


def local(element: ElementTree.Element) -> str:
    """Return an element's SVG name, "" for one that isn't SVG's."""
    tag = element.tag
    return tag[len(SVG) :] if isinstance(tag, str) and tag.startswith(SVG) else ""


def reference(element: ElementTree.Element) -> str | None:
    """Return what an element refers to."""
    return element.get("href") or element.get(XLINK_HREF)


def _unzipped(name: str, content: bytes) -> bytes:
    if content.startswith(_GZIP):
        try:
            with gzip.open(io.BytesIO(content)) as file:
                content = file.read(_MAX_BYTES + 1)
        except (OSError, EOFError, zlib.error):
            raise PictureError(f"{name} is damaged or cut short", _SAVE_PLAIN) from None
    if len(content) > _MAX_BYTES:
        raise PictureError(
            f"{name} holds more than {_MAX_BYTES // 1_000_000} million characters of SVG",
            "simplify the drawing, or save it as PNG",
        )
    return content


def _refuse_entities(name: str, text: bytes) -> None:
    """Refuse a document that declares entities; the plain SVG document type is harmless."""

    def doctype(*declared: object) -> None:
        if declared[3]:
            raise _refused(name, "declarations of its own (a DOCTYPE with entities)")

    def instruction(target: str, _: str) -> None:
        if target == "xml-stylesheet":
            raise _refused(name, "a reference to a style sheet outside it")

    def entity(*_: object) -> None:
        raise _refused(name, "entities")

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = doctype
    parser.EntityDeclHandler = entity
    parser.ProcessingInstructionHandler = instruction
    parser.Parse(text, True)


def _refuse_element(name: str, element: ElementTree.Element) -> None:
    kind = local(element)
    if kind in _RUNS:
        raise _refused(name, f"a <{kind}> element")
    for key, value in element.attrib.items():
        bare = key.rpartition("}")[2].lower()
        if bare.startswith("on") or value.lstrip().lower().startswith("javascript:"):
            raise _refused(name, f"a script (attribute {bare})")
        if bare == "href" and kind != "a" and not _stays_inside(kind, value):
            raise _refused(name, f"a reference to something outside it ({value[:40]})")
        if _REACHES_OUT.search(value):
            raise _refused(name, "a reference to something outside it (url)")
    if kind == "style" and _REACHES_OUT.search("".join(element.itertext())):
        raise _refused(name, "a reference to something outside it (style)")


def _stays_inside(kind: str, value: str) -> bool:
    value = value.strip().lower()
    return value.startswith("#") or (kind in ("image", "feImage") and value.startswith("data:"))


def _refused(name: str, what: str) -> PictureError:
    return PictureError(f"{name} holds {what}, which is not taken", _SAVE_PLAIN)
