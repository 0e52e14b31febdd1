"""Items registered, changed, lent and given back, and what was measured on them."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from foible.errors import InputError, NotFoundError
from foible.records.people_tables import PersonRow
from foible.records.register.codes import known_as, unused_code
from foible.records.register.turn import change_row, made_by_token
from foible.records.register.values import ItemState, Loan, Reading, RegisteredItem
from foible.records.register.words import index_item
from foible.records.register_tables import ItemRow, LoanRow, ReadingRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date

    from sqlalchemy.orm import Session

    from foible.records.register.turn import Turn
    from foible.records.register.values import NewItem, NewReading

__all__ = [
    "add_item", "add_reading", "change_item", "give_back", "item_by_code", "items_by_ids", "lend", "loans_of", "readings_of",
]  # fmt: skip

NEAR = 200
"""Most recently changed items among which the nearest to a wrong code is sought."""
MOST_READINGS = 500
"""Readings of one item that are read at once, the latest."""
ITEM_FIELDS = tuple(each.name for each in fields(RegisteredItem) if each.name != "state")


def item_by_code(session: Session, code: str) -> RegisteredItem:
    """Return an item by its code. Raises NotFoundError."""
    return item_of(item_row(session, code))


def items_by_ids(session: Session, ids: Iterable[int]) -> dict[int, RegisteredItem]:
    """Return those of these items that exist, by ID."""
    return {row.id: item_of(row) for row in session.scalars(select(ItemRow).where(ItemRow.id.in_(set(ids))))}


def add_item(turn: Turn, new: NewItem) -> RegisteredItem:
    """Register an item; a token that has made one before makes no second. Raises InputError for a code that is in use."""
    known = made_by_token(turn, ItemRow, new.token)
    if known:
        return item_of(known)
    _check_person(turn, new.owner_id)
    given = {each.name: getattr(new, each.name) for each in fields(new) if each.name not in {"letter", "code", "state"}}
    given |= {"fitted": dict(new.fitted), "made_by": dict(new.made_by), "state": new.state.value}
    code = unused_code(turn, ItemRow, new.letter, new.code)
    row = ItemRow(**given, code=code, version=1, opened=turn.at, changed=turn.at)
    turn.session.add(row)
    turn.session.flush()
    index_item(turn.session, row)
    told = {key: [None, value] for key, value in given.items() if value and key != "token"}
    turn.note("item", row.id, "made", told | {"code": [None, code]})
    return item_of(row)


def change_item(turn: Turn, code: str, wanted: Mapping[str, Any], *, version: int | None) -> RegisteredItem:
    """Change fields of an item, which has the version that was seen. Raises NotFoundError and ClashError."""
    row = item_row(turn.session, code, lock=True)
    given = dict(wanted)
    if isinstance(given.get("state"), ItemState):
        given["state"] = given["state"].value
    if given.get("owner_id") != row.owner_id:
        _check_person(turn, given.get("owner_id"))
    changed = change_row(turn, row, given, version=version, what=f"item {row.code}")
    if changed:
        index_item(turn.session, row)
        turn.note("item", row.id, "changed", changed)
    return item_of(row)


def set_state(turn: Turn, row: ItemRow, state: ItemState) -> None:
    """Put an item into a state that follows from something else: a job, a loan."""
    changed = change_row(turn, row, {"state": state.value}, version=None, what=f"item {row.code}")
    if changed:
        index_item(turn.session, row)
        turn.note("item", row.id, "changed", changed)


def lend(  # noqa: PLR0913 — what a loan is
    turn: Turn, code: str, to_id: int, *, until: date | None, version: int | None, token: str | None = None
) -> Loan:
    """Lend an item. Raises ClashError, and InputError where it is lent already, or gone."""
    known = made_by_token(turn, LoanRow, token)
    if known:
        return _loan(known)
    row = item_row(turn.session, code, lock=True)
    if row.state == ItemState.LENT.value or ItemState(row.state).gone:
        raise InputError(seen=f"item {row.code} is {row.state}", remedy="take it back first, or lend another")
    _check_person(turn, to_id)
    changed = change_row(turn, row, {"state": ItemState.LENT.value}, version=version, what=f"item {row.code}")
    loan = LoanRow(item_id=row.id, to_id=to_id, out=turn.at, until=until, back=None, back_state="", token=token)
    turn.session.add(loan)
    turn.session.flush()
    index_item(turn.session, row)
    turn.note("item", row.id, "changed", changed)
    turn.note("loan", loan.id, "lent", {"item": row.id, "to": [None, to_id], "until": [None, until]})
    return _loan(loan)


def give_back(turn: Turn, code: str, *, back_state: str = "", state: ItemState = ItemState.IN_USE) -> RegisteredItem:
    """Take a lent item back, in a state that somebody describes; one that is not lent stays as it is."""
    row = item_row(turn.session, code, lock=True)
    loan = turn.session.scalars(select(LoanRow).where(LoanRow.item_id == row.id, LoanRow.back.is_(None))).first()
    if loan is not None:
        loan.back, loan.back_state = turn.at, back_state
        changed = change_row(turn, row, {"state": state.value}, version=None, what=f"item {row.code}")
        index_item(turn.session, row)
        turn.note("item", row.id, "changed", changed)
        turn.note("loan", loan.id, "given back", {"item": row.id, "from": [loan.to_id, None], "back_state": back_state})
    return item_of(row)


def loans_of(session: Session, item_id: int) -> tuple[Loan, ...]:
    """Return the loans of an item, the latest first."""
    return tuple(map(_loan, session.scalars(select(LoanRow).where(LoanRow.item_id == item_id).order_by(LoanRow.id.desc()))))


def add_reading(turn: Turn, item_id: int, new: NewReading, *, job_id: int | None = None) -> Reading:
    """Keep a value measured on an item; a known token keeps it once."""
    known = made_by_token(turn, ReadingRow, new.token)
    if known:
        return _reading(known)
    given = {each.name: getattr(new, each.name) for each in fields(new)}
    given["map"] = [list(line) for line in new.map] if new.map else None
    row = ReadingRow(**given, item_id=item_id, job_id=job_id, at=turn.at, by_id=turn.by.person_id)
    turn.session.add(row)
    turn.session.flush()
    turn.note("item", item_id, "measured", {"quantity": new.quantity, "line": new.line, "value": [None, new.value]})
    return _reading(row)


def readings_of(session: Session, item_id: int, *, job_id: int | None = None) -> tuple[Reading, ...]:
    """Return the latest readings of an item, or of one of its jobs, in the order of their dates."""
    chosen = select(ReadingRow).where(ReadingRow.item_id == item_id)
    if job_id is not None:
        chosen = chosen.where(ReadingRow.job_id == job_id)
    rows: Sequence[ReadingRow] = session.scalars(chosen.order_by(ReadingRow.at.desc()).limit(MOST_READINGS)).all()
    return tuple(_reading(row) for row in reversed(rows))


def item_row(session: Session, code: str, *, lock: bool = False) -> ItemRow:
    """Return the row of an item, held against other programs' changes with `lock`. Raises NotFoundError."""
    chosen = select(ItemRow).where(ItemRow.code == known_as(code))
    row = session.scalars(chosen.with_for_update() if lock else chosen).one_or_none()
    if row is None:
        known = session.scalars(select(ItemRow.code).order_by(ItemRow.changed.desc()).limit(NEAR)).all()
        raise NotFoundError(what="item", name=code, known=known)
    return row


def _check_person(turn: Turn, person_id: int | None) -> None:
    """Refuse an owner, or whom something is lent to, that there is not, or not any more. Raises InputError."""
    person = None if person_id is None else turn.session.get(PersonRow, person_id)
    if person_id is not None and (person is None or person.erased is not None):
        raise InputError(seen=f"nobody here has the number {person_id}", remedy="name one of the people and clubs")


def item_of(row: ItemRow) -> RegisteredItem:
    """Return an item as a plain value."""
    return RegisteredItem(**{name: getattr(row, name) for name in ITEM_FIELDS}, state=ItemState(row.state))


def _loan(row: LoanRow) -> Loan:
    return Loan(**{each.name: getattr(row, each.name) for each in fields(Loan)})


def _reading(row: ReadingRow) -> Reading:
    given = {each.name: getattr(row, each.name) for each in fields(Reading)}
    given["map"] = tuple(tuple(line) for line in row.map) if row.map else None
    return Reading(**given)
