"""Random cards as a maker could ask for them: a motif, choices, and what only a card.toml can say.

A case is all of its seed: the same seed gives the same case, here and elsewhere.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from random import Random

from tests.cli.random_motifs import MIDDLE, Elements, motif
from trace2pop import data
from trace2pop.choices import choices, words
from trace2pop.model.settings import Choice

SHEET = 2 * MIDDLE

OWN = ("card", "rise", "dpi", "page-number", "paper", "take", "kind", "trade", "copies")
"""Choices that are not drawn with the others: they have a way of their own, or fit no drawing."""

USUAL: dict[str, tuple[float, float]] = {
    "margin": (0, 12),
    "border": (0, 10),
    "width": (30, 240),
    "height": (30, 240),
    "scale": (0.4, 3),
    "drawn-width": (20, 300),
    "min-width": (0.3, 3),
    "min-gap": (0.2, 3),
    "inset": (0, 6),
    "handling-load": (1, 40),
    "sag-limit": (0.2, 5),
    "flanges": (4, 14),
    "supports": (3, 8),
    "offset": (0, 4),
    "tolerance": (0.01, 0.2),
    "corner-radius": (0, 15),
    "piece-gap": (0.5, 10),
    "cover-window": (10, 100),
    "cutter-area": (180, 700),
    "cutter-inset": (0, 15),
    "cutter-strip": (0.3, 2.5),
    "adhesive": (0, 0.3),
}
"""Where a choice is mostly made; one in five is from anywhere in its range."""

TITLES = ("", "Spring fair", "Teich & <Lilie> \u201e7\u201c", "-x", "#[link]", "池の春")


@dataclass(frozen=True)
class Case:
    """A motif and what is asked for. ``rows`` are lines of card.toml; ``dpi`` makes it a scan.

    ``whole`` says that every file is made, also those that only show the card.
    """

    elements: Elements
    head: str
    options: dict[str, str | bool]
    rows: tuple[str, ...] = ()
    dpi: int | None = None
    whole: bool = False

    @property
    def svg(self) -> str:
        """The drawing as the text of an SVG file."""
        return f"{self.head}{''.join(self.elements)}</g></svg>"


def case(seed: int, *, ordinary: bool = False) -> Case:
    """Return the case of ``seed``.

    An ``ordinary`` one is of a small motif on a small card, quick to plan, and makes only what the
    check reads. Of the others three in five are as small, one in ten is made whole, one in ten is a
    scan.
    """
    random = Random(seed)
    small = ordinary or random.random() < 0.6
    size = random.uniform(12, 38) if small else random.choice((25.0, 45.0, 65.0, 95.0))
    elements = motif(random, size * random.uniform(0.7, 1.0))
    head = _head(random)
    sides = _sides(random, small=small)
    options = {"card": f"{sides[0]:.2f}x{sides[1]:.2f}mm"} | _options(random, sides)
    rows = _rows(random, max(sides) / 2) if random.random() < 0.15 else ()
    if ordinary:
        return Case(elements, head, {"motif-paper": "plain"} | options, rows)
    if random.random() < 0.05:
        options["trade"] = True
    dpi = random.choice((100, 200, 300)) if random.random() < 0.1 else None
    whole = random.random() < 0.1
    plain = {} if whole else {"motif-paper": "plain"}
    return Case(elements, head, plain | options, rows, dpi, whole)


def simpler(given: Case) -> Iterator[Case]:
    """Yield cases with one thing less each."""
    if given.dpi is not None:
        yield replace(given, dpi=None)
    for number in range(len(given.elements)):
        less = given.elements[:number] + given.elements[number + 1 :]
        if less:
            yield replace(given, elements=less)
    for name in given.options:
        yield replace(given, options={k: v for k, v in given.options.items() if k != name})
    for number in range(len(given.rows)):
        yield replace(given, rows=given.rows[:number] + given.rows[number + 1 :])


def _head(random: Random) -> str:
    """Return the beginning of the drawing: how it states its size, and how it lies."""
    whole = f"{SHEET:g}"
    stated = random.choice(
        (
            *[f'width="{whole}mm" height="{whole}mm"'] * 6,
            f'width="{SHEET / 25.4:.4f}in" height="{SHEET / 25.4:.4f}in"',
            f'width="{whole}" height="{whole}"',
            "",
        )
    )
    laid = random.choice(
        (
            *["<g>"] * 7,
            f'<g transform="rotate({random.uniform(-180, 180):.1f} {MIDDLE:g} {MIDDLE:g})">',
            f'<g transform="skewX({random.uniform(-30, 30):.1f})">',
            f'<g transform="scale({random.uniform(0.05, 4):.3f} {random.uniform(0.05, 4):.3f})">',
        )
    )
    return f'<svg xmlns="http://www.w3.org/2000/svg" {stated} viewBox="0 0 {whole} {whole}">{laid}'


def _options(random: Random, sides: tuple[float, float]) -> dict[str, str | bool]:
    """Return the rise and up to six other options of the command line."""
    options: dict[str, str | bool] = {}
    if random.random() < 0.8:
        rise = min(sides) * random.triangular(0.04, 0.5, 0.12)
        options["rise"] = f"{max(rise, 5):.1f}mm"
    if random.random() < 0.1:
        options["copies"] = str(random.randint(2, 4))
    rows = [choice for _, _, choice in choices() if choice.form != "rows"]
    rows = [choice for choice in rows if choice.option not in OWN]
    for choice in random.sample(rows, random.choice((0, 1, 2, 3, 4, 6))):
        options[choice.option] = _written(random, choice)
    return options


def _sides(random: Random, *, small: bool) -> tuple[float, float]:
    """Return a closed card's sides: of a size with a name, or of any."""
    if small:
        return random.uniform(75, 110), random.uniform(90, 150)
    if random.random() < 0.6:
        return random.choice([row.size for row in data.cards().values()])
    return random.uniform(60, 260), random.uniform(60, 260)


def _written(random: Random, choice: Choice) -> str | bool:
    known = words(choice)
    if choice.option == "title":
        return random.choice(TITLES)
    if choice.option == "formats":
        return ",".join(random.sample(known, random.randint(1, len(known))))
    if choice.form == "flag":
        return random.random() < 0.7
    if choice.form in ("word", "text"):
        return random.choice(known)
    if choice.form in ("angle", "number") and known and random.random() < 0.5:
        return random.choice(known)
    number = _number(random, choice)
    if choice.form in ("angle", "number"):
        return f"{number:.2f}"
    if choice.form == "count":
        return str(round(number))
    if choice.form == "size":
        return f"{number:.2f}x{_number(random, choice):.2f}mm"
    if choice.form == "lengths":
        count = random.randint(1, 3)
        return ", ".join(f"{_number(random, choice):.2f}mm" for _ in range(count))
    return f"{number:.3f}mm"


def _number(random: Random, choice: Choice) -> float:
    low, high = choice.low or 0.0, choice.high or 0.0
    if choice.option in USUAL and random.random() < 0.8:
        low, high = USUAL[choice.option]
    return random.choice((low, high)) if random.random() < 0.1 else random.uniform(low, high)


def _rows(random: Random, middle: float) -> tuple[str, ...]:
    """Return tables of a card.toml: beams put by hand, forbidden places, a paper of one's own.

    ``middle`` is half the length of the crease, near which beams may stand.
    """
    kinds = random.sample(("beam", "forbid", "paper"), random.randint(1, 2))
    return tuple(row for kind in kinds for row in _tables(random, kind, middle))


def _tables(random: Random, kind: str, middle: float) -> list[str]:
    if kind == "paper":
        return [
            '[[stock.paper]]\nname = "cover-216"\n'
            f"grammage = {random.uniform(80, 350):.0f}\n"
            f'thickness = "{random.uniform(0.1, 0.5):.2f}mm"\n'
            f'sheet = "{random.uniform(200, 500):.0f}x{random.uniform(200, 500):.0f}mm"\n'
        ]
    tables = []
    for _ in range(random.randint(1, 2)):
        u, wide, long = (random.uniform(*span) for span in ((-40, 40), (5, 30), (8, 40)))
        v = middle + random.uniform(-15, 15) - long / 2
        if kind == "forbid":
            tables.append(
                f'[[supports.forbid]]\nu0 = "{u:.1f}mm"\nu1 = "{u + wide:.1f}mm"\n'
                f'v0 = "{v:.1f}mm"\nv1 = "{v + long:.1f}mm"\n'
            )
            continue
        u = random.choice((0.0, u))  # on the crease as often as not
        tables.append(
            f'[[supports.beam]]\nu = "{u:.1f}mm"\nv0 = "{v:.1f}mm"\nv1 = "{v + long:.1f}mm"\n'
        )
    return tables
