"""What every printed sheet of the register shares: paper, letters, money."""

from __future__ import annotations

from datetime import UTC, date, datetime

from fpdf import FPDF
from fpdf.enums import XPos, YPos

from foible.output.typeface import CODING, written

__all__ = ["A4", "A6", "PITCH", "POINT", "Paper", "day_words", "money_words"]

A4, A6 = (210.0, 297.0), (105.0, 148.0)
"""Width and height of paper [mm] (ISO 216)."""
POINT = 25.4 / 72
"""A point [mm]."""
PITCH = 1.3
"""From line to line, in sizes of letters."""
FOOT_PT = 7.5
NO_DATE = datetime.fromtimestamp(0, UTC)
"""A sheet has no date of its own beside what it says: the same sheet is the same file, byte for byte."""
CAUTION = "Foible advises; the competition's own officials, the rulebook in force and qualified people decide."


class Paper(FPDF):
    """Pages of one size with a margin, a title, and our caution at their foot."""

    def __init__(self, title: str, *, size: tuple[float, float], margin: float) -> None:
        super().__init__(format=size)
        self.core_fonts_encoding = CODING
        self.set_margin(margin)
        self.set_auto_page_break(auto=True, margin=margin + 2 * FOOT_PT * POINT * PITCH)
        self.set_title(title)
        self.set_lang("en-GB")
        self.set_creator("Foible")
        self.set_creation_date(NO_DATE)

    def footer(self) -> None:
        """Write the foot of a page."""
        self.set_y(-self.b_margin + FOOT_PT * POINT)
        self.set_font("helvetica", size=FOOT_PT)
        self.multi_cell(0, FOOT_PT * POINT * PITCH, written(CAUTION), align="C")

    def write_down(self, text: str, size: float, *, bold: bool = False, width: float = 0) -> None:
        """Write a paragraph below what is there, in letters of a size [pt]; `width` ends it before the margin [mm]."""
        self.set_font("helvetica", "B" if bold else "", size)
        self.multi_cell(width, size * POINT * PITCH, written(text), align="L", new_x=XPos.LMARGIN, new_y=YPos.NEXT)


def day_words(when: date | datetime) -> str:
    """Return a day as people write it."""
    return f"{when.day} {when:%B %Y}"


def money_words(hundredths: int) -> str:
    """Return an amount as people write it."""
    return f"{hundredths // 100}.{hundredths % 100:02d}"
