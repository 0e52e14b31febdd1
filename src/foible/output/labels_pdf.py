"""Labels in, sheets of them as a PDF out: the code to scan, the same code to read aloud, and what the thing is.

The squares of the code are drawn as they are, so that it is sharp at any size. A label loses a quarter of its code to dirt and
solder, and is still read (ISO/IEC 18004, error correction level Q).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby
from typing import TYPE_CHECKING

import segno
from fpdf import FPDF

from foible.errors import InputError
from foible.output.typeface import CODING, written

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.output.label_sheets import LabelSheet

__all__ = ["MOST_LABELS", "Label", "draw_code", "labels_pdf"]

MOST_LABELS = 2000
"""Labels in one PDF."""
PADDING = 3.5
"""From the edge of a label to what stands on it: printers shift the paper, and leave an edge white [mm]."""
QUIET = 4
"""White squares that a code needs around it (ISO/IEC 18004)."""
LARGEST_CODE = 28.0
"""A code need not be larger than this to be read at arm's length [mm]."""
POINT = 25.4 / 72
"""A point [mm]."""
CODE_PT, LINE_PT, SMALLEST_PT = 20.0, 9.0, 6.0
"""Letters of the code, of the lines beside it, and the smallest that either may become [pt]."""
PITCH = 1.25
"""From line to line, in sizes of letters."""
ROUNDING = 1e-6
"""Of a line's height: a line that fits exactly does."""
NO_DATE = datetime.fromtimestamp(0, UTC)
"""Labels have no date of their own: the same labels are the same file, byte for byte."""


@dataclass(frozen=True)
class Label:
    """What stands on one label."""

    code: str
    """The thing's code, to be read aloud and typed."""
    scanned: str
    """What a scanner reads: an address that leads to the thing, or its code alone."""
    lines: tuple[str, ...] = ()
    """What it is and whose, the most important first; what does not fit is left out."""


def labels_pdf(labels: Sequence[Label], sheet: LabelSheet, *, first: int = 1, outlines: bool = False) -> bytes:
    """Return labels on sheets of A4 as a PDF, from the `first` free label of a sheet on, counted row by row.

    `outlines` draws the edge of each label, to try the measures on plain paper. Raises InputError for too many labels, none, or
    a first label that the sheet does not have.
    """
    if not labels:
        raise InputError(seen="there is nothing to label", remedy="name at least one item or part")
    if len(labels) > MOST_LABELS:
        seen = f"{len(labels):,} labels are too many for one file"
        raise InputError(seen=seen, remedy=f"print at most {MOST_LABELS:,} at a time")
    if not 1 <= first <= sheet.count:
        raise InputError(seen=f"the sheet has no label {first}", remedy=f"give a number from 1 to {sheet.count}")
    pdf = _paper()
    for place, label in enumerate(labels, start=first - 1):
        if place == first - 1 or place % sheet.count == 0:
            pdf.add_page()
        _draw(pdf, label, sheet, sheet.corner(place), outlined=outlines)
    return bytes(pdf.output())


def draw_code(pdf: FPDF, text: str, *, left: float, top: float, side: float) -> None:
    """Draw a QR code as large as `side` with the white that it needs around it [mm]."""
    rows = [list(row) for row in segno.make_qr(text, error="q").matrix]
    square = side / (len(rows) + 2 * QUIET)
    pdf.set_fill_color(0)
    for number, row in enumerate(rows, start=QUIET):
        start = QUIET
        for dark, run in groupby(row):
            length = len(list(run))
            if dark:
                pdf.rect(left + start * square, top + number * square, length * square, square, style="F")
            start += length


def _paper() -> FPDF:
    pdf = FPDF(format="A4")
    pdf.core_fonts_encoding = CODING
    pdf.set_auto_page_break(auto=False)
    pdf.set_margin(0)
    pdf.c_margin = 0
    pdf.set_title("Labels")
    pdf.set_lang("en-GB")
    pdf.set_creator("Foible")
    pdf.set_creation_date(NO_DATE)
    return pdf


def _draw(pdf: FPDF, label: Label, sheet: LabelSheet, corner: tuple[float, float], *, outlined: bool) -> None:
    left, top = corner
    if outlined:
        pdf.set_draw_color(160)
        pdf.rect(left, top, sheet.width_mm, sheet.height_mm)
    side = min(sheet.height_mm - PADDING, sheet.width_mm / 2, LARGEST_CODE)
    # The white around the code is part of `side`, and reaches into the padding.
    draw_code(pdf, label.scanned, left=left + PADDING / 2, top=top + (sheet.height_mm - side) / 2, side=side)
    beside = left + PADDING / 2 + side
    size = (left + sheet.width_mm - PADDING - beside, sheet.height_mm - 2 * PADDING)
    _write(pdf, label, (beside, top + PADDING), size)


def _write(pdf: FPDF, label: Label, corner: tuple[float, float], size: tuple[float, float]) -> None:
    """Write the code large, and below it as many of the lines as there is room for."""
    (left, top), (width, height) = corner, size
    letters = _fitting(pdf, label.code, "courier", CODE_PT, width)
    y = _line(pdf, label.code, at=(left, top), size=letters)
    pdf.set_font("helvetica", size=LINE_PT)
    room = int((top + height - y) / (LINE_PT * PITCH * POINT) + ROUNDING)
    for text in _folded(pdf, label.lines, width)[:room]:
        y = _line(pdf, text, at=(left, y), size=LINE_PT)


def _fitting(pdf: FPDF, text: str, family: str, size: float, width: float) -> float:
    """Set the largest letters up to `size` in which a text fits the width, and return their size [pt]."""
    pdf.set_font(family, "B", size)
    fits = max(SMALLEST_PT, min(size, size * width / max(pdf.get_string_width(text), 0.1)))
    pdf.set_font(family, "B", fits)
    return fits


def _line(pdf: FPDF, text: str, *, at: tuple[float, float], size: float) -> float:
    """Write a line, and return where the next one begins [mm]."""
    pitch = size * PITCH * POINT
    pdf.set_xy(*at)
    pdf.cell(h=pitch, text=text)
    return at[1] + pitch


def _folded(pdf: FPDF, lines: Sequence[str], width: float) -> list[str]:
    """Return lines as they fit the width, word by word; a word that is too long for a line is cut."""
    found: list[str] = []
    for line in lines:
        row = ""
        for word in written(line).split():
            longer = f"{row} {word}".strip()
            if row and pdf.get_string_width(longer) > width:
                found.append(row)
                longer = word
            row = _cut(pdf, longer, width)
        found += [row] if row else []
    return found


def _cut(pdf: FPDF, text: str, width: float) -> str:
    while len(text) > 1 and pdf.get_string_width(text) > width:
        text = text[:-1]
    return text
