"""Things to hang up and to carry along: what Foible works out, laid out for paper."""

from foible.printed.card_html import card_html
from foible.printed.card_pdf import card_pdf
from foible.printed.card_text import Box, Card, Row, card_of, card_text

__all__ = ["Box", "Card", "Row", "card_html", "card_of", "card_pdf", "card_text"]
