"""What lies beside the motif and isn't taken is told, with its size, place and distance."""

import numpy as np
import pytest
import render

from trace2pop.errors import TraceError
from trace2pop.model.artwork import Artwork, Motif, Scale
from trace2pop.model.finding import Finding
from trace2pop.model.settings import TraceSettings
from trace2pop.stages.trace import trace

PX_PER_MM = 8.0
HEAD = '<ellipse cx="60" cy="70" rx="30" ry="40"/>'
PLUME = '<path d="M88 40q12 2 24 14" fill="none" stroke="#222" stroke-width="0.7"/>'


def traced(body: str, **settings: object) -> Motif:
    svg = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="148mm" height="140mm" '
        f'viewBox="0 0 148 140"><g fill="#222">{body}</g></svg>'
    )
    rgb = np.ascontiguousarray(render.page_svg(svg, PX_PER_MM)[..., :3])
    size = rgb.shape[1], rgb.shape[0]
    artwork = Artwork("a.png", rgb, None, PX_PER_MM, Scale("dpi", 0.1, 0), np.eye(3), size)
    return trace(artwork, TraceSettings(**settings))  # type: ignore[arg-type]  # one of many types


def told(motif: Motif, rule: str) -> list[Finding]:
    return [finding for finding in motif.findings if finding.rule == rule]


def test_a_thin_plume_off_the_head_is_told_with_size_place_and_distance() -> None:
    """A hundred and fiftieth of the head's area; its root lies 5.4 mm off the ellipse."""
    motif = traced(HEAD + PLUME)
    (finding,) = told(motif, "other-things")
    assert finding.severity == "warning"
    assert "thing 2, 24 x 14 mm" in finding.advice or "thing 2, 25 x 15 mm" in finding.advice
    assert "near 100 mm from the left, 47 mm from the top" in finding.advice
    t = np.linspace(0, 2 * np.pi, 20001)
    edge = np.column_stack([60 + 30 * np.cos(t), 70 + 40 * np.sin(t)])
    s = np.linspace(0, 1, 201)[:, None]
    ways = (1 - s) ** 2 * [88, 40] + 2 * s * (1 - s) * [100, 42] + s**2 * [112, 54]
    apart = np.hypot(*np.moveaxis(edge[None] - ways[:, None], 2, 0)).min() - 0.35
    said = float(finding.advice.split(" mm off the motif")[0].split()[-1])
    assert abs(said - apart) < 0.2


def test_what_is_advised_joins_a_plume_close_by() -> None:
    motif = traced(HEAD + PLUME.replace("M88", "M84.5"))
    (finding,) = told(motif, "other-things")
    words = finding.advice.split("--take 1,2 --offset ")[1]
    joined = traced(
        HEAD + PLUME.replace("M88", "M84.5"), take="1,2", offset=float(words.split("mm")[0])
    )
    assert not told(joined, "other-things")
    assert joined.outline.outer[..., 0].max() > 108


def test_a_speck_is_noted_where_it_lies_close() -> None:
    motif = traced(HEAD + '<circle cx="96" cy="70" r="0.9"/><circle cx="140" cy="130" r="0.9"/>')
    (finding,) = told(motif, "specks-left-out")
    assert finding.severity == "note" and finding.where.startswith("near 96 mm from the left, 70")
    assert finding.measured is not None and abs(finding.measured - 1.8) < 0.5
    assert not told(traced(HEAD), "specks-left-out")


def test_a_limb_joined_over_a_gap_is_told() -> None:
    """A link adds next to no area, but a plume to the motif."""
    line = (
        '<g fill="none" stroke="#222" stroke-width="1"><ellipse cx="60" cy="70" rx="30" ry="40"/>'
    )
    near = f'{line}<path d="M91.6 70h30"/></g>'
    motif = traced(near)
    assert motif.outline.outer[..., 0].max() > 120
    (finding,) = told(motif, "pen-gap")
    assert finding.measured is not None and abs(finding.measured - 1.1) < 0.5


def test_a_tail_over_the_edge_is_closed_there_where_it_is_asked_for() -> None:
    """A tail 8 mm wide runs out at the right; a body half off the page stays in doubt."""
    tail = '<path d="M80 70q40 20 80 0" fill="none" stroke="#222" stroke-width="8"/>'
    with pytest.raises(TraceError, match="touches the edge") as refused:
        traced(HEAD + tail)
    assert "--take 1" in refused.value.advice
    motif = traced(HEAD + tail, take="1")
    (finding,) = told(motif, "closed-at-edge")
    assert finding.severity == "warning" and finding.where.startswith("near 148 mm from the left")
    # Where x = 148, t = 0.85 and the tail falls by 40 - 80 t = 28 mm in 80: 8 / cos wide.
    assert finding.measured == pytest.approx(8 * np.hypot(1, 28 / 80), abs=0.6)
    with pytest.raises(TraceError, match=r"doubtful.*edge of the picture"):
        traced('<ellipse cx="140" cy="70" rx="40" ry="40"/>', take="1")


def test_white_places_in_colour_are_told_until_the_kind_is_named() -> None:
    """A red disc with an opening of 12 mm: paint round white, or a silhouette? It is asked."""
    red = '<path fill="#b22" fill-rule="evenodd" d="M25 70a35 40 0 0 1 70 0a35 40 0 0 1-70 0z'
    ring = f'{red}M54 60a6 6 0 0 1 12 0a6 6 0 0 1-12 0z"/>'
    motif = traced(ring)
    (finding,) = told(motif, "holes-filled")
    assert not motif.outline.holes
    assert finding.where.startswith("near 60 mm from the left, 60 mm from the top")
    assert finding.measured == pytest.approx(np.pi * 36, rel=0.1)
    cut = traced(ring, kind="solid")
    assert len(cut.outline.holes) == 1 and not told(cut, "holes-filled")
    assert not told(traced(ring, kind="colour"), "holes-filled")
    assert not told(traced(f'{red}"/>'), "holes-filled")
