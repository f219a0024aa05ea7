"""Every limit by name: value, unit, and where it comes from.

A limit the maker may set stands in ``model.settings`` instead.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Limit:
    """A number the program judges by."""

    value: float
    unit: str
    source: str


PRACTICE = "common practice, no published source"

CONFIDENCE = Limit(0.5, "", "set on the rendered test set, see docs/tracing.md")
MAX_PIXELS = Limit(250e6, "px", "keeps a picture and its working copies in 1.5 GB")
GLUE_FOLD_GAP = Limit(1.0, "mm", PRACTICE)
FILM_OVERLAP = Limit(5.0, "mm", PRACTICE)
FILM_LEAST_WIDTH = Limit(3.0, "mm", PRACTICE)
FILM_WIDTH = Limit(10.0, "mm", PRACTICE)
SLIT_EDGE_SHARE = Limit(0.1, "of base height", PRACTICE)
SLIT_EDGE = Limit(12.0, "mm", PRACTICE)
SLIT_LINE_SHARE = Limit(0.6, "of base height", PRACTICE)
HINGE_STRIP = Limit(15.0, "mm", PRACTICE)
SCORE_EDGE = Limit(1.0, "mm", PRACTICE)
MARK_HOLE = Limit(1.2, "mm", PRACTICE)
MARK_SMALL = Limit(1.0, "mm", "a hole where the larger has no room; " + PRACTICE)
MARK_PLAY = Limit(0.2, "mm", "hole of a beam wider than the pinhole it lies over; " + PRACTICE)
MARK_FIVE = Limit(2.5, "hole widths", "a slot that no one takes for a hole; " + PRACTICE)
MARK_GAP = Limit(0.8, "mm", "holes nearer than this are hard to count; " + PRACTICE)
MARK_FOLD = Limit(1.9, "mm", "fold to the middle of the nearest hole; " + PRACTICE)
HEAD_MARK = Limit(2.0, "mm", PRACTICE)
SPINE_FROM = Limit(3.0, "mm", "thickest closed card with one fold; " + PRACTICE)
BEAM_EDGE = Limit(5.0, "mm", "shortest straight edge of a flange; " + PRACTICE)
SPINE_STEP = Limit(0.5, "mm", "a spine is scored in steps a ruler shows; " + PRACTICE)
UNGLUED = Limit(5.0, "mm", "base beside the spine left unglued; derived in docs/mechanism.md")
GAUGE_TRUE = Limit(0.02, "mm", "a fifth of what a cutter can place")
GAUGE_FENCE = Limit(6.0, "mm", "bar of the gauge beside the motif's crease; " + PRACTICE)
GAUGE_CLEAR = Limit(1.0, "mm", "gauge to paper it must not touch; " + PRACTICE)
BEAM_CLEARANCE = Limit(0.01, "mm", "room left round a beam in planning, far below what hands place")
CENTRE_SPARE = Limit(1.0, "mm", "what the centre beam may be moved or longer; " + PRACTICE)
THIN_CROSSING = Limit(3.0, "mm", "shortest stretch of paper a crease should cross; " + PRACTICE)
BLEED = Limit(3.0, "mm", "printers ask for 3 mm or 1/8 in beyond the cut")
CROP_MARK = Limit(4.0, "mm", "crop marks begin outside the bleed; length: " + PRACTICE)
CONTACT_ANGLE = Limit(
    30.0, "degrees", "widest opening at which layers may begin to press; " + PRACTICE
)
TRAVEL_SPEED = Limit(100.0, "mm/s", "small cutters between cuts; " + PRACTICE)
LIFT_TIME = Limit(0.4, "s", "tool up and down once; " + PRACTICE)
BEAM_LONGEST = Limit(140.0, "mm", "two halves in line fit a 12 in or A4 sheet; " + PRACTICE)
SHEET_EDGE = Limit(6.0, "mm", "a sheet's edge a cutter may not reach; " + PRACTICE)
SLIT_SIDE = Limit(12.0, "mm", "slit to the base's fore edge; " + PRACTICE)
SLIT_APART = Limit(10.0, "mm", "slit to slit; " + PRACTICE)
SLOT_FROM = Limit(0.8, "mm", "doubled web from which a slit is a slot; " + PRACTICE)
SLOT_CLEARANCE = Limit(0.2, "mm", "slot wider than the doubled web; " + PRACTICE)
FLANGE_GAP = Limit(1.0, "mm", "flange to crease and to the next flange; " + PRACTICE)
GLUE_RUN_GAP = Limit(1.0, "mm", "flange to a hand-added part's glued run; " + PRACTICE)
FOLD_LENGTH = Limit(
    50.0,
    "mm",
    "a sheet's bending stiffness over its scored fold's: tens of mm, from memory; no value for "
    "scored cover stock was found",
)
FOLD_REST = Limit(
    10.0, "degrees", "how far a fold springs back after a night under a weight; assumed"
)
SHOWS_OFTEN = Limit(0.05, "", "one card in twenty: more than a maker should waste; set here")
STANDS = Limit(5.0, "times the tipping moment", "what folds must hold the layer with; set here")
ENVELOPE_EASE = Limit(1.0, "mm", "what an envelope must be larger to slide a card in; " + PRACTICE)
ENVELOPE_PAPER = Limit(0.12, "mm", "thickness of an envelope's paper; " + PRACTICE)
GAP_SHARE = Limit(0.6, "of the narrowest strip", "narrowest hole or gap; " + PRACTICE)
HOLE_THICKNESSES = Limit(
    1.5, "paper thicknesses", "narrowest hole; laser cutters' guides, see docs/fragile.md"
)
GLUE_LEAST = Limit(2.0, "mm", "shortest glued end that holds under a patch; " + PRACTICE)
GLUE_EDGE_GAP = Limit(0.5, "mm", "adhesive kept inside a flange's edge; " + PRACTICE)
ENVELOPE_FOLDS = Limit(
    2.0, "mm", "what an envelope folded by hand is larger than a bought one must be; " + PRACTICE
)
FORK_OVERLAP = Limit(5.0, "mm", "branch glued alongside a forked part's main line; " + PRACTICE)
MINUTES_CARD = Limit(30.0, "min", "creasing, motif and outer card; " + PRACTICE)
MINUTES_BEAM = Limit(5.0, "min", "a beam folded, taped and set; " + PRACTICE)
MINUTES_HAND_PART = Limit(3.0, "min", "a part cut, bent and glued; " + PRACTICE)
SHOULDER = Limit(1.5, "mm", "longer than the slit, so that it can't pass; " + PRACTICE)
WINDOW_RIM = Limit(8.0, "mm", "glued paper round a window in the outer card; " + PRACTICE)
WINDOW_CLEAR = Limit(2.0, "mm", "window to flanges and slits behind it; " + PRACTICE)
TILE_OVERLAP = Limit(10.0, "mm", PRACTICE)
HAND_SLACK = Limit(
    0.3, "mm", "what a part added by hand may take of the margin: wire comes in steps; " + PRACTICE
)
