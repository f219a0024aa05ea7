"""Artwork to motif."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from trace2pop import limits
from trace2pop.errors import TraceError
from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import uncrossed
from trace2pop.geometry.even import evened_outline
from trace2pop.geometry.mirror import mirror_axis
from trace2pop.model.artwork import Artwork, Candidate, Kind, MirrorAxis, Motif, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.outline import Outline
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace.cut_off import closed_at_edge, cut_of
from trace2pop.stages.trace.islands import in_holes, lies_in_hole, within
from trace2pop.stages.trace.judge import Verdict, judge
from trace2pop.stages.trace.locate import on_page, page_of, region_of
from trace2pop.stages.trace.others import left_out, paper_inside, specks
from trace2pop.stages.trace.outlining import one_piece, outline_of, pieces_of
from trace2pop.stages.trace.ragged import ragged_edge
from trace2pop.stages.trace.things import Thing, chosen, numbered, things_on, together

SYMMETRIC = 0.94
"""Overlap with its mirror image from which a motif counts as drawn symmetric."""

_NEARLY = 0.80
"""Overlap from which a motif can be made symmetric."""


@dataclass(frozen=True, eq=False)
class _Traced:
    """Pieces in drawn mm, largest first, what they are and how sure they are.

    ``loose`` are pieces that may lie in their holes.
    """

    pieces: list[shapely.Polygon]
    kind: Kind
    verdict: Verdict
    findings: tuple[Finding, ...] = ()
    loose: tuple[shapely.Polygon, ...] = ()


def trace(artwork: Artwork, settings: TraceSettings, *, drawn_width: float | None = None) -> Motif:
    """Return the motif in an artwork. ``drawn_width`` in mm sets its scale.

    Raises:
        TraceError: where there is no motif, or one too doubtful to go on with.
    """
    if artwork.vectors:
        return _vector(artwork, settings, drawn_width)
    found = _from_alpha(artwork, settings) if _has_alpha(artwork) else _from_ink(artwork, settings)
    verdict = found.verdict
    if verdict.confidence < limits.CONFIDENCE.value and not settings.trust:
        doubt = verdict.findings[0]
        raise TraceError(
            f"the outline is doubtful ({verdict.confidence:.0%} sure): {doubt.where}: "
            f"{doubt.advice}",
            "or say --trust to go on with the outline as it is",
        )
    pieces = found.pieces
    loose = [piece for piece in found.loose if lies_in_hole(piece, pieces[0])]
    if drawn_width is not None:
        left, _, right, _ = pieces[0].bounds
        factor = drawn_width / (right - left)
        pieces, loose = ([_scaled(piece, factor) for piece in some] for some in (pieces, loose))
        artwork = _with_width(artwork, factor, drawn_width)
    piece = one_piece(pieces, settings.offset)
    outline, *others = (
        outline_of(each, artwork.px_per_mm, settings.tolerance)
        for each in (piece, *(one_piece([one], settings.offset) for one in loose))
    )
    return _motif(artwork, outline, found, settings, others)


def candidates(artwork: Artwork, settings: TraceSettings) -> tuple[Candidate, ...]:
    """Return the things on the page with the numbers ``settings.take`` goes by.

    Raises:
        TraceError: where there is nothing on the page.
    """
    if artwork.vectors:
        taken = _taken_vectors(artwork, settings.take)
        return tuple(
            Candidate(number, beziers.flatten(outline.outer), False, outline in taken)
            for number, outline in enumerate(_by_area(artwork.vectors), start=1)
        )
    if _has_alpha(artwork):
        things, px_per_mm = _alpha_things(artwork), artwork.px_per_mm
    else:
        page = page_of(artwork, settings.gap)
        things, px_per_mm = page.things, page.px_per_mm
    picked = chosen(things, settings.take or "1")
    return tuple(
        Candidate(number, outer, thing.cut_off, thing in picked)
        for number, thing in enumerate(things, start=1)
        for outer in [_rough(thing, px_per_mm)]
    )


def _rough(thing: Thing, px_per_mm: float) -> np.ndarray:
    """Return a thing's outer polygon in mm, closely enough to point it out."""
    pieces = pieces_of(thing.mask.astype(np.float32), px_per_mm)
    if pieces:
        return np.asarray(pieces[0].exterior.coords)
    x, y, width, height = (value / px_per_mm for value in thing.box)
    return np.asarray(shapely.box(x, y, x + width, y + height).exterior.coords)


def _has_alpha(artwork: Artwork) -> bool:
    """Whether the picture's own transparency cuts the motif out."""
    if artwork.alpha is None:
        return False
    alpha = artwork.alpha
    rim = np.concatenate([alpha[0], alpha[-1], alpha[:, 0], alpha[:, -1]])
    return bool((alpha < 250).mean() > 0.01 and (rim < 128).mean() > 0.5)


def _alpha_things(artwork: Artwork) -> list[Thing]:
    if artwork.alpha is None:
        raise ValueError("the picture has no transparency")
    return numbered(things_on(artwork.alpha > 127))


def _from_alpha(artwork: Artwork, settings: TraceSettings) -> _Traced:
    """Trace the edge of the picture's transparency; a motif may run up to the picture's edge."""
    import cv2

    things = _alpha_things(artwork)
    taken = chosen(things, settings.take or "1")
    alpha = artwork.alpha

    def traced(mask: np.ndarray) -> list[shapely.Polygon]:
        near = cv2.dilate(mask.astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
        cover = np.where(near, alpha, 0).astype(np.float32) / 255 if alpha is not None else mask
        return pieces_of(np.asarray(cover, np.float32), artwork.px_per_mm)

    pieces = traced(together(taken).mask)
    if not settings.take:
        pieces = pieces[:1]
    inner = within(taken, things)
    loose = tuple(piece for thing in inner for piece in traced(thing.mask)[:1])
    kept = [*taken, *inner]
    others = left_out(things, kept, together(taken).mask, artwork.px_per_mm)
    return _Traced(pieces, "alpha", Verdict(1.0, (), ()), others, loose)


def _from_ink(artwork: Artwork, settings: TraceSettings) -> _Traced:
    page = page_of(artwork, settings.gap)
    taken = chosen(page.things, settings.take)
    region = region_of(artwork, page, together(taken), settings)
    pieces = [
        shapely.transform(
            piece, lambda points: points + np.array([region.left, region.top]) / artwork.px_per_mm
        )
        for piece in pieces_of(region.cover, artwork.px_per_mm)
    ]
    if not pieces:
        raise TraceError(
            "what is drawn is too small to be a motif",
            "give a picture in which the motif is larger",
        )
    lost = [piece for piece in pieces[1:] if not lies_in_hole(piece, pieces[0])]
    verdict = judge(
        region,
        page,
        taken,
        artwork.px_per_mm,
        lost if len(taken) == 1 else [],
        named=bool(settings.take.strip()),
    )
    motif = on_page(region.whole, region.left, region.top, page)
    others = (
        *closed_at_edge(cut_of(taken, page.px_per_mm)),
        *paper_inside(region, artwork.px_per_mm, named=settings.kind != "auto"),
        *left_out(page.things, taken, motif, page.px_per_mm),
        *specks(page.ink.mask, page.things, motif, page.px_per_mm),
    )
    if len(taken) > 1:
        return _Traced(pieces, region.kind, verdict, others)
    # Of one thing all but the largest piece are scraps along its edge, or lie in its holes.
    return _Traced(pieces[:1], region.kind, verdict, others, tuple(pieces[1:]))


def _apart(shapes: list[Outline]) -> tuple[Finding, ...]:
    """Tell of a vector drawing's shapes that don't touch the motif, and where the largest lies."""
    if not shapes:
        return ()
    left, top, right, bottom = beziers.bounds(shapes[0].outer)
    count = len(shapes)
    several = "s that don't touch the motif were" if count > 1 else " that doesn't touch it was"
    size = f"{right - left:.0f} x {bottom - top:.0f} mm"
    advice = (
        f"{count} shape{several} left out, the largest {size}; trace2pop trace shows what was, "
        "numbered: draw it so that it overlaps the motif, say --take 2 if it is the motif, or "
        "--take 1,2 --offset 1mm to join both by a margin"
    )
    where = (
        f"near {(left + right) / 2:.0f} mm from the left, {(top + bottom) / 2:.0f} mm from the top"
    )
    return (Finding("other-things", "warning", where, float(count), None, advice),)


def _axis_of(outline: Outline, least: float) -> MirrorAxis:
    """Return the best mirror axis: the one nearest upright if it scores ``least``, else any."""
    shape = beziers.polygon(outline, 0.05)
    upright = MirrorAxis(*mirror_axis(shape))
    if upright.score >= least:
        return upright
    lying = MirrorAxis(*mirror_axis(shape, near=90.0))
    return max(upright, lying, key=lambda axis: axis.score)


def _scaled(piece: shapely.Polygon, factor: float) -> shapely.Polygon:
    return shapely.transform(piece, lambda points: points * factor)


def _with_width(artwork: Artwork, factor: float, width: float) -> Artwork:
    """Return the artwork ``factor`` times as large in drawn mm, its scale known from a width."""
    px_per_mm = artwork.px_per_mm / factor
    per_px = np.hypot(*artwork.to_source[:2, 0]) if artwork.page is None else 1.0
    scale = Scale("length", 1 / (px_per_mm * float(per_px)), 0.5 / width)
    page = None if artwork.page is None else artwork.page * factor
    vectors = tuple(
        beziers.transform_outline(outline, np.array([[factor, 0, 0], [0, factor, 0]]))
        for outline in artwork.vectors
    )
    return replace(artwork, px_per_mm=px_per_mm, scale=scale, page=page, vectors=vectors)


def _by_area(outlines: tuple[Outline, ...]) -> list[Outline]:
    return sorted(outlines, key=lambda outline: -beziers.polygon(outline).area)


def _taken_vectors(artwork: Artwork, take: str) -> list[Outline]:
    ordered = _by_area(artwork.vectors)
    things = [
        Thing(np.zeros((1, 1), bool), number, (0, 0, 0, 0), 0) for number in range(len(ordered))
    ]
    return [ordered[thing.area] for thing in chosen(things, take)]


def _vector(artwork: Artwork, settings: TraceSettings, drawn_width: float | None) -> Motif:
    """Return the motif of a picture that was a vector already: its curves as they are."""
    if drawn_width is not None:
        left, _, right, _ = beziers.bounds(_taken_vectors(artwork, settings.take)[0].outer)
        artwork = _with_width(artwork, drawn_width / (right - left), drawn_width)
    taken = _taken_vectors(artwork, settings.take)
    outline = taken[0]
    if settings.offset > 0 or len(taken) > 1:
        piece = one_piece([beziers.polygon(each) for each in taken], settings.offset)
        outline = outline_of(piece, 20.0, settings.tolerance)
    others = [each for each in artwork.vectors if not any(each is one for one in taken)]
    loose = in_holes(outline, others)
    apart = [each for each in others if not any(each is one for one in loose)]
    found = _Traced([], "vector", Verdict(1.0, (), ()), _apart(apart))
    return _motif(artwork, outline, found, settings, others)


def _motif(
    artwork: Artwork,
    outline: Outline,
    found: _Traced,
    settings: TraceSettings,
    others: Sequence[Outline],
) -> Motif:
    axis = _axis_of(outline, _NEARLY if settings.even else SYMMETRIC)
    if settings.even:
        if axis.score < _NEARLY:
            raise TraceError(
                f"the motif's halves agree on {axis.score:.0%} only, too little to make it "
                "symmetric",
                "leave out --even",
            )
        outline = evened_outline(outline, axis, settings.tolerance)
        if not uncrossed(outline):
            raise TraceError(
                "made symmetric, the outline crosses itself, so it can't be cut",
                "leave out --even, or smooth the outline: --tolerance 0.3mm",
            )
        axis = replace(axis, score=1.0)
    rough = () if found.kind == "vector" else ragged_edge(outline)
    return Motif(
        artwork=artwork,
        outline=outline,
        kind=found.kind,
        confidence=found.verdict.confidence,
        axis=axis if axis.score >= SYMMETRIC else None,
        findings=(*found.verdict.findings, *found.findings, *rough),
        doubts=found.verdict.places,
        islands=in_holes(outline, others),
    )
