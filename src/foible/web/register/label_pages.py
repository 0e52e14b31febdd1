"""Requests for labels in, sheets of them as a PDF out; receipts and the order list likewise."""

from __future__ import annotations

from datetime import datetime, time
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from sqlalchemy import select
from starlette.responses import HTMLResponse, Response

from foible.errors import InputError
from foible.output.label_sheets import LabelSheet, label_sheets, own_sheet, sheet_named
from foible.records import ItemRow
from foible.records.register import ItemState
from foible.services.paperwork import MOST_NAMED, named_things, orders, receipt_of
from foible.web.lanes import looks_up
from foible.web.register.asking import Number, day_in, number_in, register_of, show
from foible.web.register.transfer_pages import desk_of
from foible.web.shared import in_address

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from foible.services.paperwork import Named

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/register")
PDF = "application/pdf"
OWN = "own"
Measure = Annotated[str, Field(max_length=12)]
MEASURES = {
    "columns": "Columns", "rows": "Rows", "width_mm": "Width of a label (mm)", "height_mm": "Height of a label (mm)",
    "left_mm": "From the left edge (mm)", "top_mm": "From the top edge (mm)", "across_mm": "Between two columns (mm)",
    "down_mm": "Between two rows (mm)",
}  # fmt: skip
"""What a sheet of one's own is told by, in the order of the form."""


class Asked(BaseModel):
    """Which labels, on which sheet."""

    codes: Annotated[str, Field(max_length=20_000)] = ""
    since: Annotated[str, Field(max_length=10)] = ""
    """All items registered on this day or after it; only where no code is named."""
    imported: Annotated[str, Field(max_length=24)] = ""
    """Items of an import, by its file."""
    sheet: Annotated[str, Field(max_length=40)] = ""
    first: Annotated[str, Field(max_length=4)] = "1"
    address: Annotated[str, Field(max_length=100)] = ""
    outlines: bool = False
    columns: Measure = ""
    rows: Measure = ""
    width_mm: Measure = ""
    height_mm: Measure = ""
    left_mm: Measure = ""
    top_mm: Measure = ""
    across_mm: Measure = ""
    down_mm: Measure = ""

    def on_sheet(self) -> LabelSheet:
        """Return the sheet. Raises InputError."""
        if self.sheet != OWN:
            return sheet_named(self.sheet or label_sheets()[0].name)
        told = {name: number_in(getattr(self, name), words) for name, words in MEASURES.items()}
        return own_sheet(**{name: value for name, value in told.items() if value is not None})

    def first_place(self) -> int:
        """Return the number of the first free label. Raises InputError."""
        if not self.first.strip().isdecimal():
            raise InputError(seen=f"the first free label is “{self.first}”", remedy="count the labels row by row: 1, 2 …")
        return int(self.first)


@router.get("/labels")
@looks_up
def labels_page(request: Request, asked: Annotated[Asked, Query()]) -> HTMLResponse:
    """Ask which labels, on which sheet."""
    return _ask(request, asked)


@router.get("/labels.pdf")
@looks_up
def labels_file(request: Request, asked: Annotated[Asked, Query()]) -> Response:
    """Return labels as a PDF; where something is wrong, the form again with all that was said."""
    from foible.output.labels_pdf import Label, labels_pdf  # noqa: PLC0415 — drawing a PDF takes long to load

    try:
        things = register_of(request).read(lambda session: _things(request, session, asked))
        labels = [Label(each.code, _scanned(request, asked.address, each.code), each.lines) for each in things]
        pdf = labels_pdf(labels, asked.on_sheet(), first=asked.first_place(), outlines=asked.outlines)
    except InputError as error:
        return _ask(request, asked, error)
    return Response(pdf, media_type=PDF, headers={"Content-Disposition": 'inline; filename="labels.pdf"'})


@router.get("/jobs/{number}/receipt.pdf")
@looks_up
def receipt_file(request: Request, number: Number) -> Response:
    """Return the receipt of a job as a PDF."""
    from foible.output.receipt_pdf import receipts_pdf  # noqa: PLC0415 — drawing a PDF takes long to load

    with in_address():
        receipt = register_of(request).read(lambda session: receipt_of(session, number))
    pdf = receipts_pdf([receipt], [_scanned(request, "", receipt.code)])
    return Response(pdf, media_type=PDF, headers={"Content-Disposition": f'inline; filename="receipt-{number}.pdf"'})


@router.get("/order-list")
@looks_up
def order_page(request: Request) -> HTMLResponse:
    """Show what to order."""
    found = register_of(request).read(orders)
    return show(request, "order_list.html", orders=found, together=sum(each.cost or 0 for each in found))


@router.get("/order-list.csv")
@looks_up
def order_table(request: Request) -> Response:
    """Return the order list for a spreadsheet."""
    from foible.output.order_list import order_csv  # noqa: PLC0415 — drawing a PDF takes long to load

    headers = {"Content-Disposition": 'attachment; filename="order-list.csv"'}
    return Response(order_csv(register_of(request).read(orders)), media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/order-list.pdf")
@looks_up
def order_file(request: Request) -> Response:
    """Return the order list as a PDF."""
    from foible.output.order_list import order_pdf  # noqa: PLC0415 — drawing a PDF takes long to load

    store = register_of(request)
    pdf = order_pdf(store.read(orders), today=store.clock().astimezone().date())
    return Response(pdf, media_type=PDF, headers={"Content-Disposition": 'inline; filename="order-list.pdf"'})


def _ask(request: Request, asked: Asked, error: InputError | None = None) -> HTMLResponse:
    codes = asked.codes
    if asked.imported and not codes:
        codes = " ".join(desk_of(request).look(asked.imported).codes)
    values = {"codes": codes, "address": asked.address or str(request.base_url).rstrip("/")}
    status = error.http_status if error else 200
    return show(
        request, "labels.html", status, asked=asked, sheets=label_sheets(), measures=MEASURES, error=error, own=OWN, **values
    )


def _things(request: Request, session: Session, asked: Asked) -> tuple[Named, ...]:
    """Return what is to be labelled. Raises InputError."""
    codes = asked.codes.replace(",", " ").split()
    since = day_in(asked.since, "the day")
    if not codes and asked.imported:
        codes = desk_of(request).look(asked.imported).codes
    elif not codes and since:
        gone = [state.value for state in ItemState if state.gone]
        chosen = (
            select(ItemRow.code)
            .where(ItemRow.opened >= datetime.combine(since, time.min).astimezone(), ItemRow.state.not_in(gone))
            .order_by(ItemRow.id)
        )
        codes = [*session.scalars(chosen.limit(MOST_NAMED + 1))]
    return named_things(session, codes)


def _scanned(request: Request, address: str, code: str) -> str:
    """Return what the code of a label leads to: the page of what bears it, at the address that phones know."""
    base = address.strip().rstrip("/") or str(request.base_url).rstrip("/")
    if not base.startswith(("http://", "https://")):
        raise InputError(seen=f"“{base}” is no address", remedy="give the one at which phones find Foible: http://…")
    return f"{base}/i/{code}"
