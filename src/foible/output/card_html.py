"""The field card in, one page for a phone or for paper out: no script, nothing loaded from elsewhere."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from foible.output.card_words import STICKS

if TYPE_CHECKING:
    from jinja2 import Template

    from foible.output.card_text import Card

__all__ = ["card_html"]

LAMP = re.compile(r"(left|right|own|opponent&#39;s) (coloured|white|yellow|orange)\b")


def card_html(card: Card) -> str:
    """Return a card as a whole page."""
    before = {row.to: step.number for step in card.steps for row in step.rows if row.to is not None}
    return _template().render(card=card, before=before, sticks=STICKS)


@cache
def _template() -> Template:
    made = Environment(
        loader=PackageLoader("foible.output"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    made.filters["lamps"] = _lamps
    return made.get_template("card.html")


def _lamps(words: str) -> Markup:
    """Return what was seen, with a mark in its colour before the name of each lamp."""
    return Markup(LAMP.sub(_marked, escape(words)))  # noqa: S704 — escaped, and the marks are our own


def _marked(lamp: re.Match[str]) -> str:
    colour = {"left": "red", "right": "green"}.get(lamp[1], "either") if lamp[2] == "coloured" else lamp[2]
    return f'<span class="seen"><span class="lamp {colour}" aria-hidden="true"></span>{lamp[0]}</span>'
