"""Parts that run short in, the order list out: as CSV for a spreadsheet, and as a PDF to take to the shop."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from fpdf.enums import Align, TableBordersLayout
from fpdf.fonts import FontFace

from foible.output.sheets import A4, Paper, day_words, money_words
from foible.output.typeface import written
from foible.services.transfer.delimited import csv_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from foible.services.paperwork import Order

__all__ = ["order_csv", "order_pdf"]

HEADS = ("code", "part", "made by", "supplier", "bin", "in stock", "least", "order", "price", "together")
MARGIN, TITLE_PT, TEXT_PT = 15.0, 16.0, 9.5
WIDTHS = (16, 62, 30, 18, 18, 18, 18)
"""Of the columns of the PDF, in relation to each other."""
PRINTED = ("code", "part", "made by", "in stock", "order", "price", "together")


def order_csv(orders: Sequence[Order]) -> bytes:
    """Return the order list as CSV; no cell of it comes alive in a spreadsheet."""
    rows = (
        (
            each.code,
            each.name,
            each.made_by,
            each.supplier,
            each.bin,
            *map(str, (each.count, each.least, each.order)),
            *_money(each),
        )
        for each in orders
    )
    return csv_of(HEADS, rows)


def order_pdf(orders: Sequence[Order], *, today: date) -> bytes:
    """Return the order list as a PDF on A4, a table for each supplier."""
    pdf = Paper("Order list", size=A4, margin=MARGIN)
    pdf.add_page()
    pdf.write_down("Order list", TITLE_PT, bold=True)
    pdf.write_down(day_words(today), TEXT_PT)
    if not orders:
        pdf.ln(3)
        pdf.write_down("There is enough of everything.", TEXT_PT)
    for supplier, each in groupby(orders, key=lambda order: order.supplier):
        pdf.ln(4)
        pdf.write_down(supplier or "No supplier named", TEXT_PT + 2, bold=True)
        _table(pdf, [*each])
    return bytes(pdf.output())


def _table(pdf: Paper, orders: Sequence[Order]) -> None:
    pdf.set_font("helvetica", size=TEXT_PT)
    known = [each.cost for each in orders if each.cost is not None]
    right = (*(Align.L,) * 3, *(Align.R,) * 4)
    head = FontFace(emphasis="BOLD", fill_color=(232, 230, 240))
    with pdf.table(
        col_widths=WIDTHS,
        text_align=right,
        borders_layout=TableBordersLayout.HORIZONTAL_LINES,
        headings_style=head,
        line_height=6,
    ) as table:
        table.row(PRINTED)
        for each in orders:
            cells = (each.code, each.name, each.made_by, str(each.count), str(each.order), *_money(each))
            table.row([written(cell) for cell in cells])
        table.row(["", "together", "", "", "", "", money_words(sum(known))])
    if len(known) < len(orders):
        pdf.write_down(f"{len(orders) - len(known)} without a price are not in the sum.", TEXT_PT - 1)


def _money(order: Order) -> tuple[str, str]:
    return tuple("" if each is None else money_words(each) for each in (order.price, order.cost))  # type: ignore[return-value]  # two
