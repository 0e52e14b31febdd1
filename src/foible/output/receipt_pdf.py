"""Job cards in, receipts out as a PDF, one to a page of A6: what was handed in, what was done, what the parts cost."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.output.labels_pdf import draw_code
from foible.output.sheets import A6, PITCH, POINT, Paper, day_words, money_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.services.paperwork import Receipt

__all__ = ["receipts_pdf"]

MARGIN, CODE = 8.0, 26.0
"""Of a page, and the side of its code [mm]."""
TITLE_PT, CODE_PT, TEXT_PT = 13.0, 20.0, 9.5


def receipts_pdf(receipts: Sequence[Receipt], scanned: Sequence[str]) -> bytes:
    """Return receipts as a PDF; `scanned` is what the code of each leads to."""
    pdf = Paper("Receipts", size=A6, margin=MARGIN)
    for receipt, text in zip(receipts, scanned, strict=True):
        pdf.add_page()
        _draw(pdf, receipt, text)
    return bytes(pdf.output())


def _draw(pdf: Paper, receipt: Receipt, scanned: str) -> None:
    draw_code(pdf, scanned, left=pdf.w - MARGIN - CODE, top=MARGIN / 2, side=CODE)
    beside = pdf.w - 2 * MARGIN - CODE
    pdf.write_down(f"Job {receipt.number}", TITLE_PT, bold=True, width=beside)
    pdf.set_font("courier", "B", CODE_PT)
    pdf.cell(beside, CODE_PT * POINT * PITCH, receipt.code, new_x="LMARGIN", new_y="NEXT")
    pdf.write_down(receipt.item, TEXT_PT, bold=True, width=beside)
    pdf.set_y(max(pdf.y, MARGIN / 2 + CODE) + 1)
    for name, text in _facts(receipt):
        _fact(pdf, name, text)


def _facts(receipt: Receipt) -> Iterator[tuple[str, str]]:
    yield "Owner", receipt.owner or "the club"
    yield "Handed in", day_words(receipt.opened)
    if receipt.complaint:
        yield "Complaint", receipt.complaint
    if receipt.done is None:
        if receipt.promised:
            yield "Promised for", day_words(receipt.promised)
        return
    yield receipt.state.capitalize(), day_words(receipt.done)
    if receipt.sound:
        yield "Found", "nothing: it was tried and is sound"
    for name, texts in (("Found", receipt.found), ("Done", receipt.repairs), ("Proved by", receipt.proof)):
        if texts:
            yield name, "; ".join(texts)
    for part in receipt.used:
        cost = "" if part.cost is None else f", {money_words(part.cost)}"
        yield "Part", f"{part.count} × {part.name}{cost}"
    if receipt.used:
        yield "Parts together", money_words(receipt.cost)


def _fact(pdf: Paper, name: str, text: str) -> None:
    pdf.set_font("helvetica", size=TEXT_PT - 2)
    pdf.cell(0, TEXT_PT * POINT, name, new_x="LMARGIN", new_y="NEXT")
    pdf.write_down(text, TEXT_PT)
    pdf.ln(0.8)
