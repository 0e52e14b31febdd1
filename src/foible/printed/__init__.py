"""Things to hang up and to carry along: what Foible works out, laid out for paper.

`card_pdf` is a module of its own, since drawing a PDF takes long to load.
"""

from foible.printed.card_html import card_html
from foible.printed.card_text import Box, Card, Row, card_of, card_text

__all__ = ["Box", "Card", "Row", "card_html", "card_of", "card_text"]
