"""Ways to damage a card's folder, each as a maker, a program or a bad copy might."""

import json
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

SVG = "http://www.w3.org/2000/svg"
PAIR = re.compile(r"(-?[\d.]+),(-?[\d.]+)")
Element = ElementTree.Element
Move = Callable[[float, float], tuple[float, float]]

ElementTree.register_namespace("", SVG)


@contextmanager
def svg(folder: Path, file: str) -> Iterator[Element]:
    """Open a drawing for damage; it is written back afterwards."""
    tree = ElementTree.parse(folder / file)
    yield tree.getroot()
    tree.write(folder / file, encoding="utf-8", xml_declaration=True)


@contextmanager
def plan(folder: Path) -> Iterator[Any]:  # card.json holds anything
    """Open card.json for damage; it is written back afterwards."""
    document = json.loads((folder / "card.json").read_text("utf-8"))
    yield document
    (folder / "card.json").write_text(json.dumps(document, indent=1), "utf-8")


def path(root: Element, name: str) -> Element:
    """Return the path whose id ends in ``name``."""
    return next(e for e in root.iter(f"{{{SVG}}}path") if (e.get("id") or "").endswith(f".{name}"))


def parent(root: Element, child: Element) -> Element:
    return next(element for element in root.iter() if child in list(element))


def move(element: Element, by: Move) -> None:
    """Move every point of a path."""

    def moved(match: re.Match[str]) -> str:
        x, y = by(float(match[1]), float(match[2]))
        return f"{x:.4f},{y:.4f}"

    element.set("d", PAIR.sub(moved, element.get("d") or ""))


def move_all(root: Element, by: Move) -> None:
    for element in root.iter(f"{{{SVG}}}path"):
        move(element, by)


def shift(x: float, y: float) -> Move:
    return lambda px, py: (px + x, py + y)


def scale(factor: float) -> Move:
    return lambda px, py: (px * factor, py * factor)


def grow_page(root: Element, factor: float) -> None:
    """Scale width, height and viewBox."""
    sides = [
        float((root.get(name) or "").removesuffix("mm")) * factor for name in ("width", "height")
    ]
    root.set("width", f"{sides[0]:.4f}mm")
    root.set("height", f"{sides[1]:.4f}mm")
    root.set("viewBox", f"0 0 {sides[0]:.4f} {sides[1]:.4f}")


def add(root: Element, beside: str, name: str, data: str, **attributes: str) -> None:
    """Add a path to the group that holds the path ``beside``."""
    sibling = path(root, beside)
    group = (sibling.get("id") or "").removesuffix(beside)
    values = {"id": group + name, "d": data, **attributes}
    parent(root, sibling).append(Element(f"{{{SVG}}}path", values))


def beam_row(document: Any, part: str) -> Any:
    return next(row for row in document["supports"] if row["part"] == part)
