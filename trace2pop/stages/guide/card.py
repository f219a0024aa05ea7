"""What the guide's drawings need to know of one card, gathered once."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from trace2pop.geometry import beziers
from trace2pop.limits import GLUE_FOLD_GAP, HAND_SLACK, UNGLUED
from trace2pop.mechanism.beam import flange
from trace2pop.mechanism.marks import FIVE
from trace2pop.mechanism.spine import spine_of
from trace2pop.model.card import Beam, Card, CutMotif, HandPart
from trace2pop.model.outline import FloatArray
from trace2pop.model.pieces import Part, Sheets
from trace2pop.stages.guide.phrases import Phrases
from trace2pop.units import place_of

GUTTER = 5.0
"""Between drawings in a row, mm on the page."""
WIDE = 174.0
"""Room on the page from edge to edge of the text, mm; A4's, the narrower paper."""


@dataclass(frozen=True, eq=False)
class TheCard:
    """One card laid on sheets, and the language it is told in."""

    sheets: Sheets
    say: Phrases

    @cached_property
    def cut(self) -> CutMotif:
        """The motif as it is cut."""
        return self.sheets.parts.plan.cut

    @property
    def card(self) -> Card:
        """Its sizes."""
        return self.cut.placed.card

    @property
    def beams(self) -> tuple[Beam, ...]:
        """Its beams, in the plan's order."""
        return self.sheets.parts.plan.beams

    @cached_property
    def pieces(self) -> dict[str, Part]:
        """The card's own pieces by name; the mock-up's are left out."""
        return {part.name: part for part in self.sheets.parts.parts if part.set == "card"}

    @cached_property
    def numbers(self) -> dict[str, int]:
        """The number that marks each beam's piece and its slits."""
        return {name: n for n, name in enumerate(dict.fromkeys(b.part for b in self.beams), 1)}

    @cached_property
    def hand(self) -> tuple[HandPart, ...]:
        """Parts to be added by hand."""
        return tuple(part for part in self.cut.hand_parts if part.choice == "hand")

    @cached_property
    def motif(self) -> shapely.Polygon:
        """The cut motif in card coordinates."""
        return beziers.polygon(self.cut.outline, 0.02)

    @cached_property
    def spine(self) -> float:
        """Width of the outer card's spine panel, 0 for one fold."""
        return spine_of(self.sheets.parts)

    @cached_property
    def whole(self) -> shapely.Geometry:
        """The motif with its parts added by hand, in card coordinates."""
        lines = [line for part in self.hand for line in (part.path, *part.branches)]
        widths = [part.diameter / 2 for part in self.hand for _ in (0, *part.branches)]
        strands = [
            shapely.LineString(line).buffer(width, cap_style="flat")
            for line, width in zip(lines, widths, strict=True)
        ]
        return shapely.union_all([self.motif, *strands])

    @cached_property
    def bends(self) -> bool:
        """Whether parts added by hand reach out so far that they must bend when it closes."""
        left, _, right, _ = self.whole.bounds
        return bool(max(-left, right) > self.card.reach + HAND_SLACK.value)

    @cached_property
    def reach(self) -> float:
        """How far from the spine the closed card's motif comes, its stiff parts included."""
        left, _, right, _ = (self.motif if self.bends else self.whole).bounds
        return float(max(-left, right)) + self.card.web

    @property
    def rise(self) -> str:
        """The rise in words."""
        return self.say.mm(self.card.rise)

    @cached_property
    def narrow(self) -> tuple[tuple[float, float], ...]:
        """Places of the motif that are narrow for its paper, (u, v)."""
        weak = [finding for finding in self.cut.findings if finding.rule == "weak"]
        places = [place_of(finding.where) for finding in weak]
        return tuple(place for place in places if place is not None)

    @cached_property
    def window(self) -> shapely.Polygon:
        """The window in the front of the outer card, (u, v); empty where there is none."""
        for part in self.pieces.values():
            for stroke in part.strokes:
                if stroke.id == "window" and part.origin is not None:
                    return shapely.Polygon(beziers.flatten(stroke.line) + np.array(part.origin))
        return shapely.Polygon()

    @property
    def bare(self) -> float:
        """Distance from the base's crease within which nothing is glued to the outer card."""
        return self.spine + UNGLUED.value

    @property
    def gauge_left(self) -> float:
        """Where the gauge's left edge lies on the base: its right one is ``size`` further."""
        part = self.pieces["gauge"]
        # The gauge's fence ends at the motif's crease, its body one nib's width beyond.
        return self.card.web - _fence(part)

    def tape_of(self, beam: Beam) -> float:
        """Return the width of tape for a beam's flanges: whole mm, off the fold and the edge."""
        return float(max(1.0, np.floor(beam.flange - 2)))

    @cached_property
    def frame_tape(self) -> float:
        """Width of the tape between base and outer card: the widest there is anyway."""
        return max((self.tape_of(beam) for beam in self.stripped), default=6.0)

    @cached_property
    def centre(self) -> str:
        """The beams on the crease, in words."""
        return self.named([beam for beam in self.beams if beam.u == 0])

    def side(self, sign: int) -> str:
        """Return the beams on one half in words; empty where there are none."""
        return self.named([beam for beam in self.beams if beam.u * sign > 0])

    def named(self, beams: list[Beam]) -> str:
        """Return beams in words, by their numbers; empty where there are none."""
        marks = sorted({self.numbers[beam.part] for beam in beams})
        if not marks:
            return ""
        key = "mount.beams" if len(beams) == 1 else "mount.beams_many"
        return self.say(key, list=self.say.listed([str(mark) for mark in marks]))

    @property
    def taped(self) -> bool:
        """Whether flanges' adhesive is cut to shape, if not that of all beams."""
        return any(name.startswith("adhesive-") for name in self.pieces)

    @property
    def stripped(self) -> list[Beam]:
        """The beams whose flanges get strips of tape."""
        return [
            beam
            for beam in self.beams
            if f"adhesive-{self.numbers[beam.part]}-upper" not in self.pieces
        ]

    def half_motif(self, sign: int) -> shapely.Geometry:
        """Return one half of the motif in card coordinates."""
        far = sign * 1e4
        return self.motif.intersection(shapely.box(min(0, far), -1e4, max(0, far), 1e4))


def fold_lines(part: Part) -> list[tuple[str, FloatArray]]:
    """Return the folds of a piece as (sense, ends (2, 2)); dashed ones as one line."""
    runs: dict[str, list[FloatArray]] = {}
    senses: dict[str, str] = {}
    for stroke in part.strokes:
        if stroke.fold:
            name = stroke.id.split(".")[0]
            runs.setdefault(name, []).append(stroke.line[[0, -1], [0, 3]])
            senses[name] = stroke.fold
    return [(senses[name], np.array([run[0][0], run[-1][1]])) for name, run in runs.items()]


def _fence(gauge: Part) -> float:
    """Return the width of the gauge's fence: its lowest edge, beside the motif's crease."""
    outline = next(stroke.line for stroke in gauge.strokes if stroke.id == "outline")
    points = beziers.flatten(outline)
    low = points[points[:, 1] > points[:, 1].max() - 0.01]
    return float(low[:, 0].max() - points[:, 0].min())


def hole_places(part: Part, beam: Beam, web: float) -> list[tuple[float, float, float]]:
    """Return a beam's holes and slots: distance from the lower fold, ends from the head end.

    The ends are the middles of a slot's round ends; a round hole's are one place.
    """
    middle, fold = part.size[0] / 2, beam.flange + web
    places = []
    for left, top, right, bottom in _marks(part):
        half = (bottom - top) / 2
        places.append((top + half - fold, middle - right + half, middle - left - half))
    return places


def signs(part: Part) -> list[int]:
    """Return what the marks in a beam's flange count, from the head end: a slot five, a hole 1."""
    return [
        FIVE if right - left > 1.5 * (bottom - top) else 1
        for left, top, right, bottom in _marks(part)
    ]


def _marks(part: Part) -> list[tuple[float, float, float, float]]:
    return [
        beziers.bounds(stroke.line) for stroke in part.strokes if stroke.id.startswith("mark-left-")
    ]


def glue_area(beam: Beam, u: float, side: int) -> shapely.Geometry:
    """Return where a flange on the fold at ``u`` carries adhesive: off the fold and its edges."""
    panel = flange(u, beam.v0, beam.v1, beam.flange, beam.taper_deg, side)
    gap = GLUE_FOLD_GAP.value
    return panel.buffer(-gap, join_style="mitre")


def shown_beam(card: TheCard) -> Beam:
    """Return the beam that drawings for all of them show: one beside the crease, if there is."""
    beside = [beam for beam in card.beams if beam.u != 0]
    return max(beside or card.beams, key=lambda beam: (beam.flange, beam.v1 - beam.v0))
