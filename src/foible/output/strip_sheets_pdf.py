"""Sheets of the control table on paper: the morning of the event to tick, a sheet to fill in, one as it was filled in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fpdf.enums import TableBordersLayout
from fpdf.fonts import FontFace

from foible.output.sheets import A4, Paper, day_words
from foible.output.typeface import written
from foible.output.words import percent

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.services.control.filled_sheets import ToldSheet
    from foible.services.control.morning_list import Morning
    from foible.services.control.sheets import Sheet

__all__ = ["MOST_PISTES", "empty_sheet_pdf", "filled_sheet_pdf", "morning_pdf"]

MARGIN, TITLE_PT, TEXT_PT, SMALL_PT = 13.0, 15.0, 9.0, 8.0
MOST_PISTES = 10
"""Columns to tick on one page."""
HEAD = FontFace(emphasis="BOLD", fill_color=(232, 230, 240))
ROOM = 30
"""Share of the width of a page that a figure is written in, of 100."""
UNLISTED = 8
"""Failures that the paper names; the page has all."""


def morning_pdf(morning: Morning, pistes: int) -> bytes:
    """Return the list for some pistes, a column to tick for each, and below it what it cannot show."""
    pdf = Paper(f"The morning of the event, {morning.weapon}", size=A4, margin=MARGIN)
    for first in range(0, pistes, MOST_PISTES):
        pdf.add_page()
        pdf.write_down(f"The morning of the event, {morning.weapon}", TITLE_PT, bold=True)
        place = ", ".join(morning.facts)
        said = f"Two people, two weapons with their cords that are known to be good{f'; {place}' if place else ''}."
        pdf.write_down(f"{said} {told_certainty(morning)}", SMALL_PT)
        pdf.ln(2)
        columns = [str(number + 1) for number in range(first, min(first + MOST_PISTES, pistes))]
        _table(pdf, ("do", "must show", *columns), (62, 22, *(5 for _ in columns)), (
            (f"{number}. {line.say}" + (f" ({line.times} times)" if line.times > 1 else ""), line.shows, *("" for _ in columns))
            for number, line in enumerate(morning.lines, start=1)
        ))  # fmt: skip
        pdf.ln(2)
        pdf.write_down(
            "A line that comes out otherwise: stop, exchange what is suspect or open a case, then the list again.", TEXT_PT
        )
        pdf.write_down(_cannot_show(morning), SMALL_PT)
    return bytes(pdf.output())


def told_certainty(morning: Morning) -> str:
    """Return what the list proves, in a sentence."""
    said = f"After it nothing is wrong that these trials could show with {percent(morning.certain)}"
    return f"{said}, nothing at all with {percent(morning.sound)}; before it {percent(morning.before)}."


def _cannot_show(morning: Morning) -> str:
    left = ", ".join(dict.fromkeys(f"{each.failure} ({each.why})" for each in morning.left[:UNLISTED]))
    parts = [f"What may be wrong all the same: {left}." if left else ""]
    if morning.left_out:
        parts.append(f"Not in the list: {'; '.join(morning.left_out)}.")
    if morning.never_shown:
        parts.append(f"No trial here shows: {', '.join(morning.never_shown)}.")
    parts.append("Joints of a few ohms light every lamp right: they want a meter, on the sheets for reels, cables and pistes.")
    return " ".join(filter(None, parts))


def empty_sheet_pdf(sheet: Sheet) -> bytes:
    """Return a sheet to fill in by hand."""
    pdf = _begun(sheet.title, sheet.table.clause, sheet.table.cautions)
    pdf.write_down(f"{sheet.table.about}: ______________________   date: ______________   by: ______________________", TEXT_PT)
    pdf.ln(2)
    protocol = any(field.row.set for field in sheet.fields)
    _table(pdf, ("set" if protocol else "what", "expect" if protocol else "limit", "found"), (48, 52 - ROOM // 2, ROOM), (
        (
            f"{field.words}" + (f": {field.row.set}" if field.row.set else ""),
            " ".join(filter(None, (field.row.expect, field.limit, f"({field.row.gap})" if field.row.gap else ""))),
            f"              {field.unit}" if field.unit else "good / bad",
        )
        for field in sheet.fields
    ))  # fmt: skip
    return bytes(pdf.output())


def filled_sheet_pdf(told: ToldSheet) -> bytes:
    """Return a sheet as it was filled in."""
    pdf = _begun(told.sheet.title, told.sheet.table.clause, told.sheet.table.cautions)
    pdf.write_down(f"{told.which} · {day_words(told.at)}{f' · {told.by}' if told.by else ''}", TEXT_PT)
    pdf.write_down(f"{told.outcome} · readings near a limit: {told.decision}", TEXT_PT, bold=True)
    if told.warning:
        pdf.write_down(told.warning, TEXT_PT, bold=True)
    pdf.ln(2)
    rows = ((each.words, each.limit, each.found, each.outcome) for each in told.rows)
    _table(pdf, ("what", "limit", "found", ""), (46, 24, 16, 14), rows)
    if told.note:
        pdf.write_down(told.note, TEXT_PT)
    return bytes(pdf.output())


def _begun(title: str, clause: str, cautions: Sequence[str]) -> Paper:
    pdf = Paper(title, size=A4, margin=MARGIN)
    pdf.add_page()
    pdf.write_down(title, TITLE_PT, bold=True)
    pdf.write_down(clause, SMALL_PT)
    for caution in cautions:
        pdf.write_down(caution, TEXT_PT, bold=True)
    pdf.ln(1)
    return pdf


def _table(pdf: Paper, heads: Sequence[str], widths: Sequence[int], rows: Iterable[Sequence[str]]) -> None:
    pdf.set_font("helvetica", size=SMALL_PT)
    with pdf.table(
        col_widths=tuple(widths), borders_layout=TableBordersLayout.ALL, headings_style=HEAD, line_height=5, text_align="LEFT"
    ) as table:
        for row in (heads, *rows):
            table.row([written(cell) for cell in row])
