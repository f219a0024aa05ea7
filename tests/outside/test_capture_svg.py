"""Outlines of SVG drawings against a reference renderer: resvg, as typst carries it.

What resvg paints (opacity above one half) must be what the outlines enclose, feature by feature,
to 0.1 mm.
"""

from pathlib import Path

import cv2
import numpy as np
import pytest

from trace2pop.geometry import beziers
from trace2pop.geometry.crossing import sound
from trace2pop.model.settings import PictureSettings
from trace2pop.stages.capture import capture

ROOT = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
    'width="60mm" height="40mm" viewBox="0 0 60 40"{}>{}</svg>'
)
LEAF = "M10 20C10 8 24 4 30 20S50 30 50 20Q45 36 30 36T10 20z"
DRAWINGS = {
    "path with every command": '<path d="m5 5h10v5l5 5c4 0 8 4 8 8s4 6 8 2q4-4 8 0t6 4'
    'a6 3 30 1 0 4 4A10 10 0 0 1 30 38H8z"/>',
    "arcs, all flags": "".join(
        f'<path transform="translate({14 * number},0)" d="M4 15A6 4 25 {large} {sweep} 10 18z"/>'
        for number, (large, sweep) in enumerate([(0, 0), (0, 1), (1, 0), (1, 1)])
    ),
    "basic shapes": '<rect x="3" y="3" width="12" height="9" rx="3"/><circle cx="25" cy="9" r="6"/>'
    '<ellipse cx="45" cy="9" rx="10" ry="5"/><polygon points="5,20 20,22 12,38"/>'
    '<polyline points="25,20 40,24 30,36"/>'
    '<rect x="44" y="20" width="9" height="14" rx="2" ry="6"/>',
    "transforms": f'<g transform="translate(30 -5) rotate(25) scale(.8 .5)"><path d="{LEAF}"/>'
    '<g transform="matrix(.5 .2 -.1 .6 5 30) skewX(20)"><circle cx="20" cy="20" r="12"/></g>'
    '<g transform="rotate(30, 12, 9) skewY(-10)"><rect x="2" y="2" width="9" height="5"/></g></g>',
    "mirrored": f'<g transform="scale(-1 1) translate(-60 0)"><path d="{LEAF}"/></g>',
    "use and symbol": '<defs><g id="a"><circle r="4"/></g><symbol id="b" viewBox="0 0 10 20">'
    '<path d="M0 0L10 10L0 20z"/></symbol></defs><use href="#a" x="8" y="9"/>'
    '<use xlink:href="#a" transform="translate(25 10) scale(2 1)"/>'
    '<use href="#b" x="35" y="5" width="20" height="30"/>',
    "nested svg": '<svg x="5" y="5" width="20" height="30" viewBox="0 0 10 10">'
    '<circle cx="5" cy="5" r="5"/></svg><svg x="30" y="5" width="25" height="15" '
    'viewBox="0 0 10 10" preserveAspectRatio="xMaxYMin meet"><rect width="10" height="10"/></svg>'
    '<svg x="30" y="22" width="25" height="15" viewBox="0 0 10 10" preserveAspectRatio="none">'
    '<circle cx="5" cy="5" r="5"/></svg>',
    "fill rules": '<path fill-rule="evenodd" d="M15 2L24 36L2 14H28L6 36z"/>'
    '<path d="M45 2L54 36L32 14H58L36 36z"/>',
    "overlaps": f'<path d="{LEAF}"/><circle cx="30" cy="20" r="9"/>'
    '<rect x="2" y="17" width="56" height="4"/>',
    "lines": '<path fill="none" stroke="#000" stroke-width="2" d="M5 30Q15 2 25 20T55 10"/>'
    '<path stroke="#000" stroke-width="3" stroke-linejoin="round" d="M10 32L25 28L20 38z"/>'
    '<line x1="35" y1="30" x2="55" y2="36" stroke="#000" stroke-width="4" stroke-linecap="round"/>'
    '<polyline points="32,3 36,3 36,9" fill="none" stroke="#000" stroke-width="3" '
    'stroke-linecap="square"/>',
    "mitres": '<g fill="none" stroke="#000" stroke-width="3"><path d="M4 6L30 4L8 12"/>'
    '<path stroke-miterlimit="12" d="M4 22L30 20L8 28"/><path stroke-linejoin="bevel" '
    'd="M36 8L56 8L40 20l2 -6"/><path stroke-miterlimit="1" d="M36 28h18v8"/></g>',
    "styles": "<style>.off, #no {display: none} g.p {fill: none} rect {fill: red}"
    " .q{stroke:#000;stroke-width:3px}</style>"
    '<rect class="off" width="60" height="40"/><rect id="no" width="50" height="9"/>'
    '<g class="p"><circle cx="30" cy="20" r="19"/>'
    '<circle style="fill:blue" cx="9" cy="9" r="6"/></g>'
    '<circle class="q" fill="none" cx="40" cy="20" r="9"/><rect x="5" y="25" width="9" height="9"/>'
    '<rect fill-opacity="0" width="60" height="40"/>'
    '<rect visibility="hidden" width="9" height="40"/>'
    '<g opacity="0"><rect width="60" height="40"/></g>',
    "clip": f'<clipPath id="c"><circle cx="25" cy="20" r="12"/></clipPath><g clip-path="url(#c)">'
    f'<path d="{LEAF}"/></g><rect x="45" y="3" width="9" height="9" clip-path="url(#c)"/>'
    '<rect x="52" y="25" width="6" height="9"/>',
    "switch": '<switch><rect requiredExtensions="http://example.org/x" width="60" height="40"/>'
    '<circle cx="20" cy="20" r="12"/><rect width="60" height="40"/></switch>',
}


@pytest.mark.parametrize("name", DRAWINGS)
def test_outlines_enclose_what_is_painted(tmp_path: Path, name: str) -> None:
    path = tmp_path / "a.svg"
    path.write_text(ROOT.format("", DRAWINGS[name]))
    artwork = capture(path, PictureSettings())
    assert artwork.alpha is not None
    painted = artwork.alpha > 127
    enclosed = np.zeros(painted.shape, np.uint8)
    for outline in artwork.vectors:
        assert sound(outline)
        rings = [
            np.rint((beziers.flatten(ring) * artwork.px_per_mm - 0.5) * 256).astype(np.int32)
            for ring in (outline.outer, *outline.holes)
        ]
        cv2.fillPoly(enclosed, rings, 1, cv2.LINE_8, 8)
    # The edge's own pixels may fall on either side; a difference two pixels wide may not.
    differing = (painted != (enclosed > 0)).astype(np.uint8)
    assert painted.any()
    assert not cv2.morphologyEx(differing, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)).any()
