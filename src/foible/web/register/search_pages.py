"""Requests to find something in the register in, as one types; the items found, and what needs attention, out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

from fastapi import APIRouter, Query, Request
from sqlalchemy import func, or_, select
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import NotFoundError
from foible.records import ItemRow, LoanRow, PartRow
from foible.records.people import names_of
from foible.records.register import (
    LATEST,
    ItemState,
    QueueQuery,
    among_latest,
    item_by_code,
    item_ids,
    items_by_ids,
    known_as,
    part_by_code,
    queue,
)
from foible.records.tables import folded
from foible.web.lanes import looks_up
from foible.web.register.asking import register_of, show
from foible.web.shared import redirect

if TYPE_CHECKING:
    from datetime import date

    from sqlalchemy.orm import Session

    from foible.records.register import RegisteredItem

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Words = Annotated[str, Query(max_length=100)]
FOUND, SHOWN = 20, 8
"""Items that a search shows, and lines of each list on the first page."""


class _Found(NamedTuple):
    items: tuple[RegisteredItem, ...]
    parts: tuple[PartRow, ...]
    owners: dict[int, str]
    more: bool
    latest: int | None
    """Among how many items, those changed last, they were sought; None among all."""


@router.get("/register")
@looks_up
def register_home(request: Request, words: Words = "") -> Response:
    """Show the search, the head of the queue and what needs attention; a whole code leads to what has it."""
    store = register_of(request)
    if words.strip():
        address = store.read(lambda session: _address(session, words))
        if address:
            return redirect(request, address)
    today = store.clock().astimezone().date()
    values = store.read(lambda session: _first_page(session, today))
    found = store.read(lambda session: _found(session, words)) if words.strip() else None
    return show(request, "home.html", words=words, found=found, today=today, **values)


@router.get("/register/found")
@looks_up
def register_found(request: Request, words: Words = "") -> HTMLResponse:
    """Show what is found by the words so far, as a part of a page."""
    found = register_of(request).read(lambda session: _found(session, words)) if words.strip() else None
    return show(request, "_found.html", words=words, found=found)


@router.get("/i/{code}")
@looks_up
def register_label(request: Request, code: str) -> Response:
    """Lead from a label to the page of what bears it."""
    address = register_of(request).read(lambda session: _address(session, code))
    if address is None:
        raise NotFoundError(what="item", name=code, known=())
    return redirect(request, address)


def _address(session: Session, code: str) -> str | None:
    """Return the page of the item or part that has a code; None where nothing has it."""
    known = known_as(code)
    if session.scalar(select(ItemRow.id).where(ItemRow.code == known)):
        return f"/register/items/{item_by_code(session, known).code}"
    if session.scalar(select(PartRow.id).where(PartRow.code == known)):
        return f"/register/parts/{part_by_code(session, known).code}"
    return None


def _found(session: Session, words: str) -> _Found:
    ids = item_ids(session, words, limit=FOUND + 1)
    items = items_by_ids(session, ids[:FOUND])
    said = [func.lower(PartRow.name).contains(word, autoescape=True) for word in folded(words).split()]
    parts = session.scalars(select(PartRow).where(*said).order_by(PartRow.name).limit(SHOWN)).all()
    names = names_of(session, (item.owner_id for item in items.values()))
    more = len(ids) > FOUND
    latest = LATEST if not more and among_latest(session, words) else None
    return _Found(tuple(items[each] for each in ids[:FOUND]), tuple(parts), names, more, latest)


def _first_page(session: Session, today: date) -> dict[str, Any]:
    late = (
        select(ItemRow, LoanRow).join(LoanRow, LoanRow.item_id == ItemRow.id).where(LoanRow.back.is_(None), LoanRow.until < today)
    )
    due = select(ItemRow).where(ItemRow.check_due <= today, or_(*(ItemRow.state == each.value for each in _HERE)))
    failed = select(ItemRow).where(ItemRow.state == ItemState.FAILED.value).order_by(ItemRow.changed.desc())
    waiting = queue(session, QueueQuery(), limit=SHOWN)
    lent = session.execute(late.order_by(LoanRow.until).limit(SHOWN)).all()
    broken = session.scalars(failed.limit(SHOWN)).all()
    people = *(item.owner_id for _, item in waiting), *(loan.to_id for _, loan in lent), *(item.owner_id for item in broken)
    return {
        "queue": waiting,
        "late": lent,
        "due": session.scalars(due.order_by(ItemRow.check_due).limit(SHOWN)).all(),
        "failed": broken,
        "short": session.scalars(select(PartRow).where(PartRow.count < PartRow.least).order_by(PartRow.name).limit(SHOWN)).all(),
        "empty": session.scalar(select(ItemRow.id).limit(1)) is None,
        "owners": names_of(session, people),
    }


_HERE = tuple(state for state in ItemState if not state.gone)
