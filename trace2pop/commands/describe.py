"""One line for the maker on what each stage found."""

from functools import singledispatch

from trace2pop.model.artwork import Artwork, Motif
from trace2pop.model.card import CardPlan, CutMotif, PlacedMotif
from trace2pop.model.pieces import Parts, Sheets


@singledispatch
def describe(value: object) -> tuple[str, str]:
    """Return the stage's name and what it found."""
    raise TypeError(f"no stage makes a {type(value).__name__}")


@describe.register
def _(artwork: Artwork) -> tuple[str, str]:
    width, height = artwork.source_size_px
    sources = {
        "none": "drawn size not known",
        "dpi": "drawn size by the resolution you gave",
        "length": "drawn size by the width you gave",
        "page": "drawn size by the sheet of paper",
        "frame": "drawn size by the capture frame",
        "vector": "a vector drawing at its own size",
    }
    known = sources[artwork.scale.source]
    for finding in artwork.findings:
        if finding.rule == "page-not-found":
            known, _, _ = finding.advice.partition(";")
    return "picture", f"{width} x {height} px, {known}"


@describe.register
def _(motif: Motif) -> tuple[str, str]:
    outline = motif.outline
    curves = len(outline.outer) + sum(len(hole) for hole in outline.holes)
    mirrored = "with a mirror axis" if motif.axis else "no mirror axis"
    if motif.axis and motif.axis.lies:
        mirrored += " that lies across"
    return "outline", (
        f"{motif.kind}, {curves} curves, {len(outline.holes)} holes, {mirrored}, "
        f"sure to {motif.confidence:.0%}"
    )


@describe.register
def _(placed: PlacedMotif) -> tuple[str, str]:
    width, height = placed.card.window
    why = f"stopped by {' and '.join(placed.limited_by)}" if placed.limited_by else "as asked for"
    return "size", f"window {width:.1f} x {height:.1f} mm, {why}"


@describe.register
def _(cut: CutMotif) -> tuple[str, str]:
    off = sum(part.choice == "hand" for part in cut.hand_parts) + len(cut.islands)
    return (
        "thin",
        f"{off} part{'s' * (off > 1)} to add by hand" if off else "nothing too thin to cut",
    )


@describe.register
def _(plan: CardPlan) -> tuple[str, str]:
    return "beams", (
        f"{len(plan.beams)}, sag {plan.sag.max:.2f} of {plan.sag.limit:.2f} mm, "
        f"closed {plan.closed.thickness:.1f} mm thick"
    )


@describe.register
def _(parts: Parts) -> tuple[str, str]:
    return "pieces", str(sum(part.quantity for part in parts.parts))


@describe.register
def _(sheets: Sheets) -> tuple[str, str]:
    return "sheets", str(len(sheets.sheets))
