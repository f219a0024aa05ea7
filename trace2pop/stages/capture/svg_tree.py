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

MAX_BYTES = 40_000_000
_MOST_ELEMENTS = 200_000
_DEEPEST = 200
_LONGEST = 10_000
"""Characters of an attribute; those that may be longer, and drawing programs' own, excepted."""

_LONG_ONES = {"d", "points", "style", "href"}
_RUNS = {"script", "handler", "listener"}
_REACHES_OUT = re.compile(r"url\((?!\s*+['\"]?+\s*+#)|@import", re.IGNORECASE)
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
        _Gate(name).read(text)
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
                content = file.read(MAX_BYTES + 1)
        except (OSError, EOFError, zlib.error):
            raise PictureError(f"{name} is damaged or cut short", _SAVE_PLAIN) from None
    if len(content) > MAX_BYTES:
        raise _too_large(name, f"more than {MAX_BYTES // 1_000_000} million characters of SVG")
    return content


class _Gate:
    """Refuses a document that declares entities or is too large to keep as a tree, as it is read.

    The plain SVG document type is harmless.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        self._count = self._depth = 0

    def read(self, text: bytes) -> None:
        parser = expat.ParserCreate()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.StartDoctypeDeclHandler = self._doctype
        parser.EntityDeclHandler = self._entity
        parser.ProcessingInstructionHandler = self._instruction
        parser.Parse(text, True)

    def _start(self, _: str, attributes: dict[str, str]) -> None:
        self._count, self._depth = self._count + 1, self._depth + 1
        if self._count > _MOST_ELEMENTS or self._depth > _DEEPEST:
            what = f"more than {_MOST_ELEMENTS} elements or nests them too deep"
            raise _too_large(self._name, what)
        for key, value in attributes.items():
            if len(value) > _LONGEST and ":" not in key and key not in _LONG_ONES:
                what = f"more than {_LONGEST} characters in one attribute {key[:40]}"
                raise _too_large(self._name, what)

    def _end(self, _: str) -> None:
        self._depth -= 1

    def _doctype(self, *declared: object) -> None:
        if declared[3]:
            raise _refused(self._name, "declarations of its own (a DOCTYPE with entities)")

    def _entity(self, *_: object) -> None:
        raise _refused(self._name, "entities")

    def _instruction(self, target: str, _: str) -> None:
        if target == "xml-stylesheet":
            raise _refused(self._name, "a reference to a style sheet outside it")


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


def _too_large(name: str, what: str) -> PictureError:
    return PictureError(f"{name} holds {what}", "simplify the drawing, or save it as PNG")


def _refused(name: str, what: str) -> PictureError:
    return PictureError(f"{name} holds {what}, which is not taken", _SAVE_PLAIN)
