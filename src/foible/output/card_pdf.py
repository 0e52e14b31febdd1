"""The field card in, a PDF on A4 out, in a typeface that every reader has."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, XPos, YPos

if TYPE_CHECKING:
    from foible.output.card_text import Card, Step

__all__ = ["card_pdf"]

CODING = "cp1252"
"""What the typefaces built into PDF can write."""
STAND_INS = {"Ω": "ohm", "→": ">", "−": "-", "≤": "at most", "≥": "at least"}
"""Stand-ins for characters that they cannot write."""
MARGIN, INDENT, STEP = 12.0, 9.0, 2.0
"""Page margin, where the sentences of a step begin, and the space between steps [mm]."""
LINE = 4.4
"""From line to line [mm]."""
SIZE, HEAD_SIZE, FOOT_SIZE = 9, 15, 7
"""Of letters [pt]."""
NO_DATE = datetime.fromtimestamp(0, UTC)
"""A card has no date of its own: the same card is the same file, byte for byte."""


class _Sheet(FPDF):
    """Pages with the card's name and the page number at the foot."""

    def __init__(self, card: Card) -> None:
        super().__init__(format="A4")
        self.core_fonts_encoding = CODING
        self.set_margin(MARGIN)
        self.set_auto_page_break(auto=True, margin=MARGIN + LINE)
        self._name = _written(card.title)
        self.set_title(card.title)
        self.set_lang("en-GB")
        self.set_creator("Foible")
        self.set_creation_date(NO_DATE)

    def footer(self) -> None:
        """Write the foot of a page."""
        self.set_y(-MARGIN)
        self.set_font("helvetica", size=FOOT_SIZE)
        self.cell(0, LINE, f"{self._name} · page {self.page_no()} of {{nb}}", align="R")

    def write_down(self, text: str, *, bold: bool = False, indent: float = 0.0, link: int | None = None) -> None:
        """Write a paragraph below what is there; the whole of it leads to `link`."""
        self.set_font("helvetica", "B" if bold else "", SIZE)
        self.set_x(self.l_margin + indent)
        self.multi_cell(0, LINE, _written(text), align="L", link=link or "", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def height_of(self, text: str, *, bold: bool = False, indent: float = 0.0) -> float:
        """Return the height of a paragraph [mm]."""
        self.set_font("helvetica", "B" if bold else "", SIZE)
        room = self.epw - indent
        found = self.multi_cell(room, LINE, _written(text), align="L", dry_run=True, output=MethodReturnValue.HEIGHT)
        return float(str(found))


def card_pdf(card: Card) -> bytes:
    """Return a card as a PDF file. Ω is written as “ohm” and an arrow as “>”."""
    sheet = _Sheet(card)
    sheet.add_page()
    sheet.set_font("helvetica", "B", HEAD_SIZE)
    sheet.multi_cell(0, 2 * LINE, _written(card.title), new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    for name, fact in card.facts:
        sheet.write_down(f"{name}: {fact}")
    sheet.ln(STEP)
    sheet.write_down(" ".join(card.reading))
    if card.outright:
        sheet.write_down(card.outright, bold=True)
    links = {step.number: sheet.add_link() for step in card.steps}
    for step in card.steps:
        _draw(sheet, step, links)
    sheet.ln(STEP)
    for caution in card.cautions:
        sheet.write_down(caution)
    return bytes(sheet.output())


def _draw(sheet: _Sheet, step: Step, links: dict[int, int]) -> None:
    """Draw a step, on a new page where the whole of it does not fit."""
    said = f"{step.said} · {step.lasts}"
    rows = [(f"{', or '.join(row.sees)} → {row.ends if row.to is None else row.to}", row.to) for row in step.rows]
    height = sheet.height_of(said, bold=True, indent=INDENT) + sum(sheet.height_of(text, indent=INDENT) for text, _ in rows)
    if sheet.will_page_break(height + 2 * STEP):
        sheet.add_page()
    else:
        sheet.ln(STEP)
        sheet.line(sheet.l_margin, sheet.y, sheet.w - sheet.r_margin, sheet.y)
        sheet.ln(STEP / 2)
    sheet.set_link(links[step.number], y=sheet.y)
    sheet.set_font("helvetica", "B", SIZE)
    sheet.cell(INDENT, LINE, str(step.number))
    sheet.write_down(said, bold=True, indent=INDENT)
    for text, to in rows:
        sheet.write_down(text, indent=INDENT, link=None if to is None else links[to])


def _written(text: str) -> str:
    """Return text in characters that the typeface has."""
    return "".join(_sign(sign) for sign in text)


def _sign(sign: str) -> str:
    if sign in STAND_INS:
        return STAND_INS[sign]
    for form in (sign, unicodedata.normalize("NFKD", sign)):
        writable = form.encode(CODING, "ignore").decode(CODING)
        if writable:
            return writable
    return "?"
