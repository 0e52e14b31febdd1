"""The control table on paper: the reject form on A6, a fencer's sheet and the table's figures on A4."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.output.sheets import A4, A6, PITCH, POINT, Paper, day_words
from foible.output.typeface import written
from foible.output.words import percent

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.services.control.rejecting import RejectSheet
    from foible.services.control.reports import FencerSheet, SheetItem, Tally

__all__ = ["reject_pdf", "sheet_pdf", "tally_pdf"]

MARGIN = 8.0
"""Of a small page [mm]; a large one has twice as much."""
TITLE_PT, TEXT_PT, SMALL_PT = 13.0, 9.5, 7.5
BOX = 3.2
"""Side of a box to tick [mm]."""
SIGN = 9.0
"""Room to sign in [mm]."""


def reject_pdf(sheet: RejectSheet) -> bytes:
    """Return a reject form as a PDF."""
    pdf = Paper(f"Reject form {sheet.number}", size=A6, margin=MARGIN)
    pdf.add_page()
    pdf.write_down(f"Rejected: {sheet.item}", TITLE_PT, bold=True)
    whose = f"fencer {sheet.fencer_number}" + (f", {sheet.fencer}" if sheet.fencer else "")
    pdf.write_down(f"{whose}{f' ({sheet.club})' if sheet.club else ''}{f' · {sheet.code}' if sheet.code else ''}", TEXT_PT)
    again = f" · {sheet.attempt}. time over the table" if sheet.attempt > 1 else ""
    pdf.write_down(f"Form {sheet.number} · {sheet.competition}, {day_words(sheet.day)}{again}", SMALL_PT)
    pdf.ln(1)
    for reason in sheet.reasons:
        pdf.write_down(f"{reason.what}: {reason.found}", TEXT_PT, bold=True)
        said = f"demanded: {reason.demanded} ({reason.clause})"
        pdf.write_down("; ".join(filter(None, (said, reason.note, reason.doubt))), SMALL_PT + 1)
        pdf.ln(0.8)
    if sheet.words:
        pdf.write_down(sheet.words, TEXT_PT)
    for step in sheet.steps:
        _box(pdf, step.say, ticked=step.done is not None)
    for text in (sheet.caution, sheet.then):
        if text:
            pdf.write_down(text, TEXT_PT, bold=text == sheet.caution)
    pdf.ln(1)
    near = f" Readings near a limit: {sheet.decision}." if any(reason.doubt for reason in sheet.reasons) else ""
    pdf.write_down(f"{sheet.edition}.{near}", SMALL_PT)
    _signatures(pdf, ("for the table" + (f" ({sheet.by})" if sheet.by else ""), "presented by"))
    return bytes(pdf.output())


def sheet_pdf(sheet: FencerSheet) -> bytes:
    """Return a fencer's sheet as a PDF."""
    pdf = Paper(f"Fencer {sheet.number}", size=A4, margin=2 * MARGIN)
    pdf.add_page()
    pdf.write_down(f"{sheet.number}. {sheet.name}" + (f", {sheet.club}" if sheet.club else ""), TITLE_PT, bold=True)
    pdf.write_down(f"{sheet.competition.name}, {day_words(sheet.competition.day)} · {sheet.edition}", TEXT_PT)
    pdf.write_down(f"Readings near a limit: {sheet.decision}.", SMALL_PT)
    for over in sheet.over:
        pdf.write_down(f"Over quota: {over}", TEXT_PT, bold=True)
    for each in sheet.items:
        pdf.ln(1.5)
        _box(pdf, " · ".join(_of_item(each)), ticked=not each.item.state.in_the_room, bold=True)
        for test in each.tests:
            demanded = f", {test.demanded}" if test.demanded else ""
            note = f" — {test.note}" if test.note else ""
            pdf.write_down(f"{test.outcome.value}: {test.what}: {test.found}{demanded} ({test.clause}){note}", SMALL_PT + 1)
    _signatures(pdf, ("handed back by", "received by"))
    return bytes(pdf.output())


def tally_pdf(tally: Tally) -> bytes:
    """Return the figures of a table, or of several, as a PDF; there are no names in them."""
    pdf = Paper(f"Weapon control: {tally.title}", size=A4, margin=2 * MARGIN)
    pdf.add_page()
    pdf.write_down(f"Weapon control: {tally.title}", TITLE_PT, bold=True)
    days = " to ".join(dict.fromkeys(day_words(day) for day in (*tally.days[:1], *tally.days[-1:])))
    pdf.write_down(" · ".join(filter(None, (days, tally.edition, tally.decision))), SMALL_PT)
    said = (
        f"{tally.fencers} fencers handed in {tally.items} items; {tally.passed} passed at once, {tally.failed} failed, "
        f"{tally.passed_later} of those passed later."
    )
    pdf.write_down(said, TEXT_PT)
    for by, lines in tally.groups.items():
        pdf.ln(2)
        pdf.write_down(f"{by[:1].upper()}{by[1:]}", TEXT_PT + 1.5, bold=True)
        _table(pdf, ("", "tested", "failed", "share"), [
            (line.name, str(line.tested), str(line.failed), percent(line.share)) for line in lines
        ])  # fmt: skip
    return bytes(pdf.output())


def _of_item(each: SheetItem) -> Iterator[str]:
    yield f"{each.item.number}. {each.words}"
    yield each.item.state.value
    if each.item.attempt > 1:
        yield f"{each.item.attempt}. time over the table"
    yield from each.marks


def _box(pdf: Paper, text: str, *, ticked: bool, bold: bool = False) -> None:
    left, top = pdf.l_margin, pdf.y + 0.6
    pdf.rect(left, top, BOX, BOX)
    if ticked:
        pdf.line(left, top, left + BOX, top + BOX)
        pdf.line(left, top + BOX, left + BOX, top)
    pdf.set_font("helvetica", "B" if bold else "", TEXT_PT)
    pdf.set_x(left + BOX + 1.5)
    pdf.multi_cell(0, TEXT_PT * POINT * PITCH, written(text), align="L", new_x="LMARGIN", new_y="NEXT")


def _signatures(pdf: Paper, words: Sequence[str]) -> None:
    pdf.ln(SIGN)
    pdf.set_font("helvetica", size=SMALL_PT)
    width = (pdf.w - pdf.l_margin - pdf.r_margin) / len(words)
    for each in words:
        pdf.line(pdf.x, pdf.y, pdf.x + width - 4, pdf.y)
        pdf.cell(width, SMALL_PT * POINT * PITCH, written(each))
    pdf.ln()


def _table(pdf: Paper, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    pdf.set_font("helvetica", size=SMALL_PT + 0.5)
    pdf.set_x(pdf.l_margin)
    with pdf.table(col_widths=(70, 10, 10, 10), text_align=("LEFT", "RIGHT", "RIGHT", "RIGHT"), line_height=4.2) as table:
        for row in (heads, *rows):
            line = table.row()
            for cell in row:
                line.cell(written(cell))
