"""The field card in, a PDF on A4 out: one sheet, both sides, three columns, in a typeface that every reader has.

The letters are as large as the sheet allows, and never smaller than can be read at the piste.
"""

from __future__ import annotations

from bisect import bisect_left
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from fpdf import FPDF
from fpdf.enums import MethodReturnValue, XPos, YPos

from foible.output.typeface import CODING, written

if TYPE_CHECKING:
    from foible.output.card_text import Branch, Card, Step

__all__ = ["card_pdf"]

MARGIN, INDENT, GAP = 9.0, 5.5, 4.0
"""Page margin, where the sentences of a step begin, and the space between columns [mm]."""
COLUMNS, SHEET = 3, 2
"""Columns of a page, and pages of a sheet."""
PITCH = 0.385
"""From line to line, per size of letters [mm/pt]."""
SIZES = (11.0, 10.5, 10.0, 9.5, 9.0, 8.75, 8.5, 8.25, 8.0)
"""Sizes of letters, the largest that fits is taken [pt]."""
HEAD_SIZE, FOOT_SIZE = 14.0, 8.0
"""Of the title and of the foot of a page [pt]."""
FOOT = 5.0
"""Height of the foot of a page [mm]."""
NO_DATE = datetime.fromtimestamp(0, UTC)
"""A card has no date of its own: the same card is the same file, byte for byte."""


class _Sheet(FPDF):
    """Pages of columns with the card's name and the page number at the foot."""

    def __init__(self, card: Card, size: float) -> None:
        super().__init__(format="A4")
        self.core_fonts_encoding = CODING
        self.set_margin(MARGIN)
        self.set_auto_page_break(auto=False)
        self.size, self.pitch, self.column = size, PITCH * size, 0
        self._top = MARGIN
        self._name = written(card.title)
        self.set_title(card.title)
        self.set_lang("en-GB")
        self.set_creator("Foible")
        self.set_creation_date(NO_DATE)
        self.add_page()

    @property
    def across(self) -> float:
        """The width of a column [mm]."""
        return (self.w - 2 * MARGIN - (COLUMNS - 1) * GAP) / COLUMNS

    def footer(self) -> None:
        """Write the foot of a page."""
        self.set_xy(MARGIN, self.h - MARGIN - FOOT / 2)
        self.set_font("helvetica", size=FOOT_SIZE)
        self.cell(self.w - 2 * MARGIN, FOOT, f"{self._name} · page {self.page_no()} of {{nb}}", align="R")

    def begin_below(self) -> None:
        """Let the columns of this page begin below what is there."""
        self._top = self.y

    def make_room(self, height: float) -> None:
        """Go on in the next column where what is to come does not fit [mm]."""
        if self.y + height <= self.h - MARGIN - FOOT or self.y <= self._top:
            return
        self.column += 1
        if self.column == COLUMNS:
            self.add_page()
            self.column, self._top = 0, MARGIN
        self.set_y(self._top)

    def write_down(self, text: str, *, bold: bool = False, indent: float = 0.0, link: int | None = None) -> None:
        """Write a paragraph below what is there; the whole of it leads to `link`."""
        self.set_font("helvetica", "B" if bold else "", self.size)
        self.set_x(MARGIN + self.column * (self.across + GAP) + indent)
        width = self.across - indent
        self.multi_cell(width, self.pitch, written(text), align="L", link=link or "", new_x=XPos.LMARGIN, new_y=YPos.NEXT)

    def height_of(self, text: str, *, bold: bool = False, indent: float = 0.0) -> float:
        """Return the height of a paragraph [mm]."""
        self.set_font("helvetica", "B" if bold else "", self.size)
        width = self.across - indent
        found = self.multi_cell(width, self.pitch, written(text), align="L", dry_run=True, output=MethodReturnValue.HEIGHT)
        return float(str(found))


def card_pdf(card: Card) -> bytes:
    """Return a card as a PDF file. Ω is written as “ohm” and an arrow as “>”."""
    fitting = bisect_left(SIZES, True, key=lambda size: _laid_out(card, size).pages_count <= SHEET)  # noqa: FBT003 — false, then true
    return bytes(_laid_out(card, SIZES[min(fitting, len(SIZES) - 1)]).output())


def _laid_out(card: Card, size: float) -> _Sheet:
    sheet = _Sheet(card, size)
    sheet.set_font("helvetica", "B", HEAD_SIZE)
    sheet.multi_cell(0, PITCH * HEAD_SIZE, written(card.title), new_x=XPos.LMARGIN, new_y=YPos.NEXT)
    sheet.ln(sheet.pitch / 3)
    sheet.begin_below()
    for name, fact in card.facts:
        sheet.write_down(f"{name}: {fact}")
    sheet.ln(sheet.pitch / 2)
    for sentence in card.reading:
        sheet.write_down(sentence)
    links = {step.number: sheet.add_link() for step in card.steps}
    if card.contents:
        sheet.ln(sheet.pitch / 2)
        sheet.write_down("The fencer says", bold=True)
    for said, turned, to in card.contents:
        line = f"“{said}”{f' ({turned})' if turned else ''}{f' → {to}' if to else ''}"
        sheet.write_down(line, link=links[to] if to else None)
    for branch in card.branches:
        _draw_branch(sheet, branch, links)
    sheet.ln(sheet.pitch / 2)
    sheet.make_room(sum(sheet.height_of(caution) for caution in card.cautions))
    for caution in card.cautions:
        sheet.write_down(caution)
    return sheet


def _draw_branch(sheet: _Sheet, branch: Branch, links: dict[int, int]) -> None:
    said = [f"“{branch.said}”"] if branch.said else []
    head = sum(sheet.height_of(text, bold=True) for text in said) + 2.5 * sheet.pitch
    first = branch.steps[0] if branch.steps else None
    sheet.make_room(head + (_height(sheet, first) if first else sheet.height_of(branch.outright)))
    if sheet.y > MARGIN + sheet.pitch:
        sheet.ln(sheet.pitch / 2)
    left = MARGIN + sheet.column * (sheet.across + GAP)
    for text in said:
        height = sheet.height_of(text, bold=True)
        sheet.set_fill_color(225)
        sheet.rect(left, sheet.y, sheet.across, height + 0.6, style="F")
        sheet.set_y(sheet.y + 0.3)
        sheet.write_down(text, bold=True)
        sheet.set_y(sheet.y + 0.3)
    if branch.outright:
        sheet.write_down(branch.outright)
    for step in branch.steps:
        _draw(sheet, step, links)


def _parts(step: Step) -> tuple[str, list[tuple[str, int | None]]]:
    rows = [(f"{', or '.join(row.sees)} → {row.ends if row.to is None else row.to}", row.to) for row in step.rows]
    return f"{step.said} · {step.lasts}", rows


def _height(sheet: _Sheet, step: Step) -> float:
    said, rows = _parts(step)
    of_rows = sum(sheet.height_of(text, indent=INDENT) for text, _ in rows)
    return sheet.height_of(said, bold=True, indent=INDENT) + of_rows + sheet.pitch / 2


def _draw(sheet: _Sheet, step: Step, links: dict[int, int]) -> None:
    """Draw a step, in the next column where the whole of it does not fit."""
    said, rows = _parts(step)
    sheet.make_room(_height(sheet, step))
    sheet.ln(sheet.pitch / 4)
    left = MARGIN + sheet.column * (sheet.across + GAP)
    sheet.set_draw_color(150)
    sheet.line(left, sheet.y, left + sheet.across, sheet.y)
    sheet.ln(sheet.pitch / 8)
    sheet.set_link(links[step.number], y=sheet.y)
    sheet.set_font("helvetica", "B", sheet.size)
    sheet.set_x(left)
    sheet.cell(INDENT, sheet.pitch, str(step.number))
    sheet.write_down(said, bold=True, indent=INDENT)
    for text, to in rows:
        sheet.write_down(text, indent=INDENT, link=None if to is None else links[to])
