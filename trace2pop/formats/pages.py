"""Pages at true size: SVG and pictures set on PDF pages, or drawn as PNG, by typst."""

from collections.abc import Sequence
from dataclasses import dataclass

from trace2pop.units import MM_PER_INCH


@dataclass(frozen=True)
class Page:
    """One page in mm: layers of SVG over one another, each of the page's size.

    ``window`` (x0, y0, x1, y1) clips the first layer. ``stretch`` and ``shift`` (right, down; mm)
    make up for a printer that is off.
    """

    size: tuple[float, float]
    layers: tuple[bytes, ...]
    window: tuple[float, float, float, float] | None = None
    stretch: tuple[float, float] = (1.0, 1.0)
    shift: tuple[float, float] = (0.0, 0.0)


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """Return a PDF with those pages; the same pages always give the same bytes."""
    import typst  # loads its fonts: only where pages are made

    source, inputs = _document(pages, title)
    return typst.compile(source, format="pdf", ignore_system_fonts=True, sys_inputs=inputs)


def png(page: Page, dpi: float) -> bytes:
    """Return one page as PNG."""
    import typst  # loads its fonts: only where pages are made

    source, inputs = _document([page], "")
    return typst.compile(source, format="png", ppi=dpi, ignore_system_fonts=True, sys_inputs=inputs)


def pixels(mm: float, dpi: float) -> int:
    """Return how many pixels a length takes."""
    return max(1, round(mm / MM_PER_INCH * dpi))


def _document(pages: Sequence[Page], title: str) -> tuple[bytes, dict[str, str]]:
    """Return typst source and its inputs. Text from outside is an input, never source."""
    inputs = {"title": title}
    lines = ["#set document(title: sys.inputs.title, date: none)"]
    for number, page in enumerate(pages):
        width, height = page.size
        lines.append(f"#page(width: {width:.4f}mm, height: {height:.4f}mm, margin: 0mm)[")
        for layer, svg in enumerate(page.layers):
            name = f"layer-{number}-{layer}"
            inputs[name] = svg.decode()
            across, down = width * page.stretch[0], height * page.stretch[1]
            size = f'width: {across:.4f}mm, height: {down:.4f}mm, fit: "stretch"'
            drawn = f'image(bytes(sys.inputs.at("{name}")), format: "svg", {size})'
            clip = page.window if layer == 0 else None
            lines.append(_clipped(drawn, clip) if clip else _place(*page.shift, drawn))
        lines.append("]")
    return "\n".join(lines).encode(), inputs


def _place(x: float, y: float, content: str) -> str:
    return f"#place(top + left, dx: {x:.4f}mm, dy: {y:.4f}mm, {content})"


def _clipped(content: str, window: tuple[float, float, float, float]) -> str:
    x0, y0, x1, y1 = window
    inner = f"place(top + left, dx: {-x0:.4f}mm, dy: {-y0:.4f}mm, {content})"
    box = f"box(width: {x1 - x0:.4f}mm, height: {y1 - y0:.4f}mm, clip: true, {inner})"
    return _place(x0, y0, box)
