"""The rules a folder is judged by: what each means to the maker, and what to do when it fails."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Rule:
    """A rule's short title, the unit of its numbers, and the next step where it fails."""

    title: str
    unit: str
    advice: str


_AGAIN = "run trace2pop make again and cut from the new folder"
_SMALLER = "make the motif smaller, the rise lower or the card larger, and run trace2pop make again"
_HAND = "if you changed this file by hand, undo that; otherwise " + _AGAIN

RULES = {
    "files": Rule("files are there", "", _AGAIN),
    "plan": Rule("plan is whole", "", _AGAIN),
    "units": Rule("true size: units", "mm", _HAND),
    "viewbox": Rule("true size: viewBox", "mm", _HAND),
    "paths": Rule("plain paths", "", _HAND),
    "coordinates": Rule("coordinates are numbers", "", _HAND),
    "closed": Rule("contours closed", "mm", _HAND),
    "crossing": Rule("no line crosses itself", "", _HAND),
    "doubled": Rule("nothing cut twice", "", _HAND),
    "nesting": Rule("cuts inside their piece", "mm", _HAND),
    "size": Rule("piece fills its drawing", "mm", _HAND),
    "width": Rule(
        "nothing too thin", "mm", "draw it bolder, or take it off with --spurs hand, and run again"
    ),
    "folds": Rule("folds and their senses", "mm", _HAND),
    "placed": Rule("sheet shows the piece", "mm", _HAND),
    "stray": Rule("no cut without a piece", "", _HAND),
    "on-sheet": Rule("pieces within the cutter", "mm", _AGAIN),
    "apart": Rule("pieces clear of each other", "mm", _AGAIN),
    "quantity": Rule("every copy laid out", "", _AGAIN),
    "slits": Rule("slits take their beams", "mm", _AGAIN),
    "slit-paper": Rule("paper left round slits", "mm", _AGAIN),
    "crease": Rule("crease in its place", "mm", _AGAIN),
    "beams": Rule("beams as planned", "mm", _AGAIN),
    "marks": Rule("marks over each other", "mm", _AGAIN),
    "insertion": Rule(
        "wrong insertions blocked or seen", "", "run trace2pop make again with --keyed"
    ),
    "flanges-hidden": Rule("upper flanges hidden", "mm", _AGAIN),
    "flanges-half": Rule("flanges on their own half", "mm", _AGAIN),
    "flanges-apart": Rule("flanges clear of each other", "mm", _AGAIN),
    "flanges-base": Rule("lower flanges on the base", "mm", _AGAIN),
    "closing": Rule("nothing sticks out, closed", "mm", _SMALLER),
    "moving": Rule("nothing collides on the way", "", _SMALLER),
    "outer": Rule("outer card fits", "mm", _AGAIN),
    "window": Rule("window shows no works", "mm", _AGAIN),
    "mock-up": Rule("mock-up is like the card", "mm", _AGAIN),
    "gauge": Rule("gauge stops the motif", "mm", _AGAIN),
    "hand-parts": Rule("hand-added parts join", "mm", _AGAIN),
    "numbers": Rule("plan says what the pieces are", "mm", _AGAIN),
    "formats": Rule("all file kinds agree", "mm", _HAND),
}
