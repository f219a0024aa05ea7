"""The summary of a batch: a table for a spreadsheet, and a contact sheet to look at."""

import csv
import html
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote

from trace2pop import data, units

MARK = "trace2pop batch"
"""By this the program knows its own contact sheet again."""

FACTS = ("width", "height", "beams", "by hand", "sag", "thickness", "findings")
_LENGTHS = ("width", "height", "sag", "thickness")
_FINDING = re.compile(r"([a-z-]+) \((.*)\)")
HEAD = ("card", "picture", "status", "code", *FACTS, "message")


@dataclass(frozen=True)
class Outcome:
    """What became of one card, and in how many ``seconds``.

    ``facts`` are the numbers the summary shows, empty on failure.
    """

    name: str
    source: str
    status: str
    code: int
    message: str
    facts: dict[str, str]
    seconds: float = 0.0


def summary_csv(outcomes: Sequence[Outcome]) -> str:
    """Return the table, one row a card."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(HEAD)
    for outcome in outcomes:
        facts = [outcome.facts.get(name, "") for name in FACTS]
        row = [outcome.name, outcome.source, outcome.status, outcome.code, *facts, outcome.message]
        table.writerow([_plain_cell(str(cell)) for cell in row])
    return text.getvalue()


def _plain_cell(text: str) -> str:
    """Keep a spreadsheet from taking a file's name for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@") and not _number(text) else text


def _number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def summary_html(outcomes: Sequence[Outcome]) -> str:
    """Return the contact sheet: a picture and the numbers of each card."""
    order = sorted(outcomes, key=lambda outcome: outcome.status != "failed")
    cards = "\n".join(_card(outcome) for outcome in order)
    failed = sum(outcome.status == "failed" for outcome in outcomes)
    count = f"{len(outcomes) - failed} of {len(outcomes)} cards made"
    told = f"{count}; first those that were not" if failed else count
    return f"""<!DOCTYPE html>
<html lang="en">
<meta charset="utf-8">
<meta name="generator" content="{MARK}">
<meta name="viewport" content="width=device-width">
<title>Cards</title>
<style>
  body {{ font: 16px/1.4 system-ui, sans-serif; margin: 1.5rem; color-scheme: light dark; }}
  main {{ display: grid; gap: 1rem; grid-template-columns: repeat(auto-fill, minmax(17rem, 1fr)); }}
  article {{ border: 1px solid; border-radius: .4rem; padding: .8rem; overflow-wrap: anywhere; }}
  img {{ width: 100%; }}
  h2 {{ font-size: 1rem; margin: 0 0 .4rem; }}
  dl {{ display: grid; grid-template-columns: max-content 1fr; gap: 0 .8rem; margin: 0; }}
  dd {{ margin: 0; }}
</style>
<h1>Cards</h1>
<p>{told}</p>
<main>
{cards}
</main>
</html>
"""


def _in_words(fact: str, value: str) -> str:
    """Return a number with its unit; findings by their titles, with their places."""
    if fact in _LENGTHS:
        return f"{value} mm"
    if fact != "findings":
        return value
    titles = data.table("findings")
    told = []
    for item in value.split("; "):
        found = _FINDING.fullmatch(item)
        if found and found[1] in titles:
            item = f"{titles[found[1]]['title']} ({units.in_words(found[2])})"
        told.append(item)
    return "; ".join(told)


def _card(outcome: Outcome) -> str:
    name, source = html.escape(outcome.name), html.escape(outcome.source)
    told = f"<p>{html.escape(outcome.message)}</p>" if outcome.message else ""
    if outcome.status == "failed":
        return f"<article><h2>{name}: not made</h2><p>{source}</p>{told}</article>"
    link = quote(outcome.name)
    rows = "".join(
        f"<dt>{html.escape(fact)}</dt><dd>{html.escape(_in_words(fact, value))}</dd>"
        for fact, value in outcome.facts.items()
        if value
    )
    return (
        f'<article><h2><a href="{link}/page.html">{name}</a>: {html.escape(outcome.status)}</h2>'
        f'<img src="{link}/preview.png" loading="lazy" alt="{name}, the card as it opens">'
        f"<p>{source}</p>{told}<dl>{rows}</dl></article>"
    )
