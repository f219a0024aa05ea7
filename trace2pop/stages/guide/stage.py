"""All of a card to the guide that builds it."""

import re
from collections.abc import Sequence
from pathlib import PurePath

from trace2pop.model.guide import Guide, Traded
from trace2pop.model.pieces import Sheets
from trace2pop.model.settings import GuideSettings
from trace2pop.stages.guide import facts, flat
from trace2pop.stages.guide.card import TheCard
from trace2pop.stages.guide.legend import legend
from trace2pop.stages.guide.phrases import Phrases
from trace2pop.stages.guide.steps import steps
from trace2pop.stages.guide.template import templates
from trace2pop.stages.guide.trade import trade


def guide(
    sheets: Sheets, settings: GuideSettings, adhesive: float, planned: Sequence[Traded] = ()
) -> Guide:
    """Return the guide of a card laid on sheets.

    ``adhesive`` is the tape's thickness, ``planned`` what the motif would be at other rises.

    Raises:
        UsageError: where there is no catalogue of the chosen language.
    """
    say = Phrases(settings.language)
    card = TheCard(sheets, say)
    pages = templates(card, settings.paper)
    return Guide(
        sheets=sheets,
        title=title(say, settings.title, card.cut.placed.motif.artwork.name),
        paper=settings.paper,
        language=settings.language,
        words=_words(say),
        facts=facts.facts(card),
        needs=facts.needs(card, adhesive, len(pages)),
        cautions=say.several("care.list"),
        legend=legend(say),
        pieces=flat.glance(card),
        steps=steps(card, pages),
        templates=pages,
        trouble=say.pairs(
            "trouble.rows", centre=card.centre, web=say.mm(card.card.web), rise=card.rise
        ),
        trade=trade(card, planned),
        reach=card.reach,
    )


_PLAIN = {"photo", "scan", "image", "img", "picture", "drawing", "motif", "dsc", "page", "art"}


def title(say: Phrases, given: str, picture: str) -> str:
    """Return the guide's title, by the card's given name or, if that says something, its file's."""
    if given.strip():
        return say("title", name=given.strip())
    words = re.sub(r"[\W_]+", " ", PurePath(picture).stem).strip()
    if not words or re.sub(r"[\d ]+", "", words).lower() in {"", *_PLAIN}:
        return say("title_plain")
    return say("title", name=words[0].upper() + words[1:])


def _words(say: Phrases) -> dict[str, str]:
    """Return what page and PDF say besides the guide's own text."""
    words = say.section("head") | {"decimal": say("decimal")}
    for section in ("template", "page", "picture"):
        words |= {f"{section}_{key}": text for key, text in say.section(section).items()}
    return words
