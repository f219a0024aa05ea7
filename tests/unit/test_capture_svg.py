"""SVG drawings: size, exact curves, what is refused and what is passed over."""

import gzip
from pathlib import Path

import numpy as np
import pytest
import shapely
from svgpathtools import Path as Curve
from svgpathtools import parse_path

from trace2pop.errors import PictureError
from trace2pop.geometry import beziers
from trace2pop.model.artwork import Artwork
from trace2pop.model.outline import FloatArray
from trace2pop.model.settings import PictureSettings
from trace2pop.stages.capture import capture

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
MM = HEAD + 'width="60mm" height="40mm" viewBox="0 0 60 40">'


def taken(tmp_path: Path, text: str | bytes, **settings: float) -> Artwork:
    path = tmp_path / "a.svg"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return capture(path, PictureSettings(**settings))


def box(artwork: Artwork, number: int = 0) -> tuple[float, ...]:
    return beziers.bounds(artwork.vectors[number].outer)


def rules(artwork: Artwork) -> list[str]:
    return [finding.rule for finding in artwork.findings]


# CSS Values 3, section 5.2: 1in = 2.54cm = 25.4mm = 101.6Q = 6pc = 72pt = 96px.
SIZES = [
    ('width="60mm" height="40mm"', 1.0),
    ('width="6cm" height="4cm"', 1.0),
    ('width="6in" height="4in"', 2.54),
    ('width="60pt" height="40pt"', 25.4 / 72),
    ('width="60pc" height="40pc"', 25.4 / 6),
    ('width="60Q" height="40Q"', 0.25),
    ('width="60mm"', 1.0),
    ('height="40mm"', 1.0),
]


@pytest.mark.parametrize(("size", "factor"), SIZES)
def test_stated_sizes(tmp_path: Path, size: str, factor: float) -> None:
    text = f'{HEAD}{size} viewBox="0 0 60 40"><rect x="10" y="5" width="30" height="20"/></svg>'
    artwork = taken(tmp_path, text)
    assert box(artwork) == pytest.approx(np.array([10, 5, 40, 25]) * factor)
    assert artwork.scale.source == "vector"
    assert artwork.rgb.shape[1] / artwork.px_per_mm == pytest.approx(60 * factor, rel=2e-3)


def test_a_size_without_viewbox_counts_css_pixels(tmp_path: Path) -> None:
    text = f'{HEAD}width="2in" height="1in"><rect x="96" width="48" height="48"/></svg>'
    assert box(taken(tmp_path, text)) == pytest.approx((25.4, 0, 38.1, 12.7))


@pytest.mark.parametrize(
    "size",
    [
        'width="600" height="400" viewBox="0 0 600 400"',
        'viewBox="0 0 600 400"',
        'width="600px" height="400px"',
    ],
)
def test_pixels_are_no_size(tmp_path: Path, size: str) -> None:
    text = f'{HEAD}{size}><rect x="60" y="60" width="300" height="200"/></svg>'
    artwork = taken(tmp_path, text)
    assert artwork.scale.source == "none"
    assert artwork.scale.mm_per_px is None
    assert rules(artwork) == ["drawn-size-unknown"]
    assert box(artwork) == pytest.approx((20, 20, 120, 200 / 3 + 20))
    if "width" in size:
        stated = taken(tmp_path, text, dpi=72)
        assert stated.scale.source == "dpi"
        assert box(stated)[2] - box(stated)[0] == pytest.approx(300 / 72 * 25.4)


def test_no_size_at_all(tmp_path: Path) -> None:
    artwork = taken(tmp_path, '<svg><circle cx="-70" cy="3" r="5"/></svg>')
    assert box(artwork) == pytest.approx((0, 0, 200, 200), abs=0.01)


def test_curves_are_kept_to_the_last_digit(tmp_path: Path) -> None:
    data = "M10 20C10 5 30 5 30 20S50 35 50 20Q58 38 30 38L10 38z"
    (outline,) = taken(tmp_path, f'{MM}<path d="{data}"/></svg>').vectors
    kept = (
        outline.outer
        if beziers.flatten(outline.outer)[1, 1] < 20
        else beziers.reverse(outline.outer)
    )
    start = int(np.argmin(np.abs(kept[:, 0] - [10, 20]).sum(axis=1)))
    kept = np.roll(kept, -start, axis=0)
    assert len(kept) == 5
    assert kept[0] == pytest.approx(np.array([[10, 20], [10, 5], [30, 5], [30, 20]]))
    assert kept[1] == pytest.approx(np.array([[30, 20], [30, 35], [50, 35], [50, 20]]))
    # A quadratic raised to a cubic: handles two thirds of the way to its own.
    assert kept[2, 1] == pytest.approx([50 + 2 / 3 * 8, 20 + 2 / 3 * 18])


def test_curves_outside_an_overlap_are_kept(tmp_path: Path) -> None:
    text = f'{MM}<circle cx="20" cy="20" r="12"/><rect x="25" y="15" width="30" height="10"/></svg>'
    (outline,) = taken(tmp_path, text).vectors
    steps = np.linalg.norm(outline.outer[:, 3] - outline.outer[:, 0], axis=1)
    curved = np.array([not beziers.is_straight(segment) for segment in outline.outer])
    assert 7 <= curved.sum() <= 9
    # Three sides of the bar, and where they meet the circle at most one short step each.
    assert np.sort(steps[~curved])[-3:] == pytest.approx([10, 55 - 30.909, 55 - 30.909], abs=0.01)
    assert (steps[~curved] > 0.3).sum() == 3
    # Circle and bar by hand: the bar's head meets the circle at x = 20 + sqrt(144 - 25).
    meets = 20 + np.sqrt(144 - 25)
    overlap = (12**2 * np.arcsin(5 / 12) + 5 * np.sqrt(12**2 - 25)) - 5 * 10
    assert np.abs(outline.outer[:, 0] - [meets, 15]).sum(axis=1).min() < 0.01
    area = beziers.polygon(outline, 0.0002).area
    assert area == pytest.approx(np.pi * 144 + 300 - overlap, abs=0.05)


def test_fill_rules(tmp_path: Path) -> None:
    """SVG 2, section 13.4.2: two rings run the same way, one inside the other."""
    data = "M5 5H45V35H5zM15 12H35V28H15z"
    (whole,) = taken(tmp_path, f'{MM}<path d="{data}"/></svg>').vectors
    assert not whole.holes
    (holed,) = taken(tmp_path, f'{MM}<path fill-rule="evenodd" d="{data}"/></svg>').vectors
    assert len(holed.holes) == 1
    against = data.replace("H35V28H15z", "V28H35V12z")
    (holed,) = taken(tmp_path, f'{MM}<path d="{against}"/></svg>').vectors
    assert beziers.polygon(holed).area == pytest.approx(40 * 30 - 20 * 16)


def test_lines_without_fill_are_filled_to_their_outer_side(tmp_path: Path) -> None:
    ring = '<circle cx="30" cy="20" r="10" fill="none" stroke="#000" stroke-width="{}"/>'
    artwork = taken(tmp_path, f"{MM}{ring.format(2)}</svg>")
    assert beziers.polygon(artwork.vectors[0]).area == pytest.approx(np.pi * 121, rel=2e-3)
    assert not artwork.vectors[0].holes
    assert rules(artwork) == ["drawing-lines-filled", "drawing-lines-wide"]
    thin = taken(tmp_path, f"{MM}{ring.format(0.1)}</svg>")
    assert beziers.polygon(thin.vectors[0]).area == pytest.approx(np.pi * 100, rel=2e-3)
    assert len(thin.vectors[0].outer) == 8


FROG = (
    '<g fill="none" stroke="#5a2" stroke-width="7" stroke-linecap="round" stroke-linejoin="round">'
    '<path d="M12 22C16 4 34 2 40 14S24 30 30 20l9 3"/>'
    '<path stroke-width="1.1" d="M40 14l12-6M40 14q9 1 10 9M39 23c9 5 6 6 15 8"/></g>'
)


def test_lines_become_few_curves_that_keep_their_distance(tmp_path: Path) -> None:
    """With round ends and joins, a line's edge is what lies half its width from its middle."""
    artwork = taken(tmp_path, f"{MM}{FROG}</svg>")
    (outline,) = artwork.vectors
    chains = (outline.outer, *outline.holes)
    assert sum(map(len, chains)) < 70
    points = shapely.points(np.vstack([beziers.flatten(chain, 1e-4) for chain in chains]))
    thick, thin = (
        shapely.MultiLineString(
            [np.column_stack([part.real, part.imag]) for part in map(polyline, paths)]
        )
        for paths in (
            [parse_path("M12 22C16 4 34 2 40 14S24 30 30 20l9 3")],
            [
                parse_path(f"M{path}")
                for path in ("40 14l12-6", "40 14q9 1 10 9", "39 23c9 5 6 6 15 8")
            ],
        )
    )
    away = [shapely.distance(thick, points) - 3.5, shapely.distance(thin, points) - 0.55]
    off = np.abs(np.minimum(*away))
    assert off.max() < 0.006
    (told,) = (item for item in artwork.findings if item.rule == "drawing-lines-wide")
    assert told.measured == pytest.approx(off.max(), abs=1.5e-3)
    assert "1.1 to 7 mm" in told.advice


def polyline(path: Curve) -> FloatArray:
    """Return points of a path as complex numbers, by svgpathtools' own evaluation."""
    return np.concatenate([[part.point(t) for t in np.linspace(0, 1, 2001)] for part in path])


def test_bends_tighter_than_the_pen(tmp_path: Path) -> None:
    """Renderers cut corners there; what is painted is still what lies half the width away."""
    bend = "M5 30C20 -5 20 -5 30 30S40 -20 55 34"
    text = f'{MM}<path fill="none" stroke="#000" stroke-width="5" d="{bend}"/></svg>'
    (outline,) = taken(tmp_path, text).vectors
    points = beziers.flatten(outline.outer, 1e-4)
    curve = polyline(parse_path(bend))
    middle = shapely.LineString(np.column_stack([curve.real, curve.imag]))
    far = shapely.distance(middle, shapely.points(points)) - 2.5
    assert far.max() < 0.006
    ends = np.column_stack([curve.real, curve.imag])[[0, -1]]
    inner = np.hypot(*np.moveaxis(points[:, None] - ends, 2, 0)).min(axis=1) > 2.6
    assert far[inner].min() > -0.006
    assert inner.mean() > 0.8


def test_what_thin_lines_go_round_is_filled(tmp_path: Path) -> None:
    halves = '<path d="M10 20A15 15 0 0 1 40 20"/><path d="M40 20A15 15 0 0 1 10 20"/>'
    thin = f'<g fill="none" stroke="#000" stroke-width="{{}}">{halves}</g>'
    (outline,) = taken(tmp_path, f"{MM}{thin.format(1)}</svg>").vectors
    assert not outline.holes
    assert beziers.polygon(outline).area == pytest.approx(np.pi * 15.5**2, rel=1e-3)
    (ring,) = taken(tmp_path, f"{MM}{thin.format(9)}</svg>").vectors
    assert len(ring.holes) == 1


def test_hairlines_that_stick_out_are_told(tmp_path: Path) -> None:
    hair = '<path fill="none" stroke="#000" stroke-width="{}" d="M20 20L50 20"/>'
    disc = '<circle cx="20" cy="20" r="12"/>'
    artwork = taken(tmp_path, f"{MM}{disc}{hair.format(0.2)}</svg>")
    (told,) = artwork.findings
    assert (told.rule, told.severity) == ("drawing-hairline", "warning")
    assert told.measured == pytest.approx(18, abs=0.01)
    within = f"{MM}{disc}{hair.format(0.2).replace('50', '30')}</svg>"
    assert not rules(taken(tmp_path, within))
    assert "drawing-hairline" not in rules(taken(tmp_path, f"{MM}{disc}{hair.format(0.5)}</svg>"))


def test_the_ground_is_no_motif(tmp_path: Path) -> None:
    ground = '<rect width="100%" height="100%" fill="white"/>'
    artwork = taken(tmp_path, f'{MM}{ground}<rect x="9" y="9" width="5" height="5"/></svg>')
    assert box(artwork) == pytest.approx((9, 9, 14, 14))
    assert rules(artwork) == ["drawing-ground"]
    assert box(taken(tmp_path, f"{MM}{ground}</svg>")) == pytest.approx((0, 0, 60, 40))


def test_what_sticks_out_of_the_canvas_is_kept(tmp_path: Path) -> None:
    artwork = taken(tmp_path, f'{MM}<rect x="-10" y="5" width="40" height="10" fill="red"/></svg>')
    assert box(artwork) == pytest.approx((0, 5, 40, 15))
    assert artwork.rgb.shape[1] / artwork.px_per_mm == pytest.approx(70, abs=0.1)
    row, col = (round(value * artwork.px_per_mm) for value in (10, 1))
    assert artwork.alpha is not None
    assert artwork.alpha[row, col] == 255
    assert tuple(artwork.rgb[row, col]) == (255, 0, 0)


def test_text_and_pictures_are_told(tmp_path: Path) -> None:
    inside = (
        '<text y="9">pond</text><image href="data:image/png;base64,AAAA" width="9" height="9"/>'
        '<rect width="5" height="5"/>'
    )
    artwork = taken(tmp_path, f"{MM}{inside}</svg>")
    assert rules(artwork) == ["drawing-left-out", "drawing-left-out"]
    with pytest.raises(PictureError, match="no shape but text"):
        taken(tmp_path, f'{MM}<text y="9">pond</text></svg>')
    with pytest.raises(PictureError, match="picture of pixels"):
        taken(tmp_path, f'{MM}<image href="data:image/png;base64,AAAA"/></svg>')


def test_zipped_and_with_its_usual_document_type(tmp_path: Path) -> None:
    kind = (
        '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/"'
    )
    text = f'\ufeff<?xml version="1.0" encoding="UTF-8"?>\n{kind}>{MM}{SHAPE}</svg>'
    assert box(taken(tmp_path, text)) == pytest.approx((0, 0, 5, 5))
    assert box(taken(tmp_path, gzip.compress(text.encode()))) == pytest.approx((0, 0, 5, 5))


SHAPE = '<rect width="5" height="5"/>'
REFUSED = {
    "script": f"{MM}<script>alert(1)</script>{SHAPE}</svg>",
    "handler": f'{MM}<rect width="5" height="5" onload="go()"/></svg>',
    "link that runs": f'{MM}<a xlink:href="javascript:go()">{SHAPE}</a></svg>',
    "outside picture": f'{MM}<image xlink:href="http://example.org/a.png"/>{SHAPE}</svg>',
    "outside file": f'{MM}<image href="file:///etc/passwd"/>{SHAPE}</svg>',
    "outside use": f'{MM}<use href="other.svg#a"/>{SHAPE}</svg>',
    "outside paint": f'{MM}<rect width="5" height="5" fill="url(http://example.org/a#b)"/></svg>',
    "outside style": f"{MM}<style>@import 'a.css';</style>{SHAPE}</svg>",
    "outside font": f"{MM}<style>@font-face {{src: url(a.ttf)}}</style>{SHAPE}</svg>",
    "style sheet": f'<?xml-stylesheet href="a.css"?>{MM}{SHAPE}</svg>',
    "entities": f'<!DOCTYPE svg [<!ENTITY a "b">]>{MM}{SHAPE}</svg>',
    "outside entity": f'<!DOCTYPE svg [<!ENTITY a SYSTEM "file:///etc/passwd">]>{MM}&a;</svg>',
    "uses itself": f'{MM}<g id="a"><use href="#a"/></g></svg>',
    "use bomb": MM
    + '<g id="a0"><rect width="1" height="1"/></g>'
    + "".join(f'<g id="a{n + 1}">{f"""<use href="#a{n}"/>""" * 10}</g>' for n in range(9))
    + "</svg>",
    "deep": MM + "<g>" * 2000 + SHAPE + "</g>" * 2000 + "</svg>",
    "cut short": f"{MM}{SHAPE}",
    "empty": f"{MM}</svg>",
    "other root": '<html xmlns="http://www.w3.org/1999/xhtml"><svg></svg></html>',
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(PictureError) as caught:
        taken(tmp_path, REFUSED[name])
    assert "\n" not in str(caught.value)
    assert caught.value.advice


def test_a_zip_bomb_is_refused(tmp_path: Path) -> None:
    bomb = gzip.compress(MM.encode() + b" " * 60_000_000)
    with pytest.raises(PictureError, match="40 million"):
        taken(tmp_path, bomb)
