"""Things to hang up or carry along: Foible's results, laid out for paper.

`card_pdf` is a module of its own, since drawing a PDF takes long to load.
"""

from foible.output.card_html import card_html
from foible.output.card_text import Branch, Card, Row, Step, card_of, card_text

__all__ = ["Branch", "Card", "Row", "Step", "card_html", "card_of", "card_text"]
