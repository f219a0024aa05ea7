"""The part of SVG's styling that decides what is seen: paint, lines, rules, display."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from xml.etree import ElementTree

from trace2pop.stages.capture.svg_bounds import Tally
from trace2pop.stages.capture.svg_tree import local

INHERITED = {
    "fill": "black",
    "fill-rule": "nonzero",
    "clip-rule": "nonzero",
    "fill-opacity": "1",
    "stroke": "none",
    "stroke-width": "1",
    "stroke-opacity": "1",
    "stroke-linejoin": "miter",
    "stroke-linecap": "butt",
    "stroke-miterlimit": "4",
    "visibility": "visible",
    "color": "black",
}
"""Properties handed down, with what they start as (SVG 2, section 13 and property index)."""

_OWN = {"display": "inline", "opacity": "1", "clip-path": "none", "mask": "none"}
_SELECTOR = re.compile(r"(\*|[A-Za-z][\w-]*)?((?:[.#][\w-]+)*)")
_UNSEEN = re.compile(
    r"none|transparent|(?:rgba|hsla)\([^)]*[,/]\s*0(?:\.0*)?%?\s*\)|#[0-9a-f]{3}0|#[0-9a-f]{6}00"
)
_LONGEST_PAINT = 100

Style = Mapping[str, str]


@dataclass(frozen=True)
class _Rule:
    tag: str
    marks: frozenset[str]
    weight: tuple[int, int, int, int]
    values: Style


class StyleSheet:
    """The style elements' rules with simple selectors: names, classes and ids, no combinators."""

    def __init__(self, root: ElementTree.Element, tally: Tally) -> None:
        self._tally = tally
        text = "\n".join(
            "".join(element.itertext()) for element in root.iter() if local(element) == "style"
        )
        rules = []
        for order, (selectors, body) in enumerate(_blocks(text)):
            for selector in selectors.split(","):
                match = _SELECTOR.fullmatch(selector.strip())
                if not match or not selector.strip():
                    continue
                marks = frozenset(re.findall(r"[.#][\w-]+", match[2]))
                ids = sum(mark[0] == "#" for mark in marks)
                tag = match[1] or "*"
                weight = (ids, len(marks) - ids, int(tag != "*"), order)
                rules.append(_Rule(tag, marks, weight, _declared(body)))
        self._rules: dict[str, list[_Rule]] = {}
        for rule in rules:
            self._rules.setdefault(min(rule.marks, default=rule.tag), []).append(rule)

    def style_of(self, element: ElementTree.Element, parent: Style) -> dict[str, str]:
        """Return an element's properties, given its parent's."""
        known = INHERITED | _OWN
        style = {key: parent[key] for key in INHERITED} | _OWN
        given = {key: value for key, value in element.attrib.items() if key in known}
        marks = {f".{word}" for word in element.get("class", "").split()}
        marks.add(f"#{element.get('id')}")
        near = [rule for key in (*marks, local(element), "*") for rule in self._rules.get(key, ())]
        self._tally.rules(len(near))
        for rule in sorted(near, key=lambda rule: rule.weight):
            if rule.tag in ("*", local(element)) and rule.marks <= marks:
                given |= rule.values
        given |= _declared(element.get("style", ""))
        for key, value in given.items():
            if key in known and value.strip() != "inherit":
                style[key] = value.strip()
        return style


def _blocks(text: str) -> list[tuple[str, str]]:
    """Return (selectors, declarations) of each rule, those within an @ rule too.

    Taken apart at the brackets in one pass: a search for whole rules never ends on broken ones.
    """
    first, *others = text.split("/*")
    text = "".join([first, *(part.partition("*/")[2] for part in others)])
    text = text.replace("<!--", "").replace("-->", "")
    found = []
    for piece in text.split("}"):
        head, bracket, body = piece.rpartition("{")
        if bracket:
            found.append((head.rpartition("{")[2], body))
    return found


def _declared(body: str) -> dict[str, str]:
    pairs = (part.partition(":") for part in body.split(";"))
    return {
        key.strip().lower(): value.replace("!important", "").strip()
        for key, colon, value in pairs
        if colon
    }


def painted(style: Style, what: str) -> bool:
    """Whether ``what`` ("fill" or "stroke") is seen."""
    paint = style[what].lower()
    if paint == "currentcolor":
        paint = style["color"].lower()
    opaque = _share(style[f"{what}-opacity"]) > 0
    return opaque and _UNSEEN.fullmatch(paint[:_LONGEST_PAINT]) is None


def displayed(style: Style) -> bool:
    """Whether an element and all in it is drawn at all."""
    return style["display"] != "none" and _share(style["opacity"]) > 0


def _share(text: str) -> float:
    try:
        return float(text.rstrip("%"))
    except ValueError:
        return 1.0
