"""Parts in stock: registered, used by jobs, brought in and counted. A part's count is always the sum of its moves."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import select

from foible.errors import ClashError, InputError, NotFoundError
from foible.records.register.codes import PART_LETTER, known_as, unused_code
from foible.records.register.job_values import Move, StockPart, Why
from foible.records.register.turn import change_row, made_by_token
from foible.records.register_tables import MoveRow, PartRow

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session

    from foible.records.register.job_values import NewPart
    from foible.records.register.turn import Turn

__all__ = ["add_part", "bring_in", "change_part", "counted", "moves_of", "part_by_code", "parts_in_stock", "put_back", "use"]

MOST_MOVES = 100
MOST_PARTS = 100_000
"""Pieces of one part: far beyond any bin, so that a slip of the finger is noticed."""


def part_by_code(session: Session, code: str) -> StockPart:
    """Return a part by its code. Raises NotFoundError."""
    return part_of(part_row(session, code))


def parts_in_stock(session: Session, *, short: bool = False) -> tuple[StockPart, ...]:
    """Return all parts by bin and name, or only those of which there are fewer than there should be."""
    chosen = select(PartRow).order_by(PartRow.bin, PartRow.name, PartRow.id)
    return tuple(part_of(row) for row in session.scalars(chosen.where(PartRow.count < PartRow.least) if short else chosen))


def moves_of(session: Session, part_id: int) -> tuple[Move, ...]:
    """Return the latest moves of a part, the latest first."""
    rows = session.scalars(select(MoveRow).where(MoveRow.part_id == part_id).order_by(MoveRow.id.desc()).limit(MOST_MOVES))
    return tuple(Move(row.id, row.change, Why(row.why), row.line_id, row.at, row.by_id) for row in rows)


def add_part(turn: Turn, new: NewPart) -> StockPart:
    """Register a part, with as many as there are; a known token makes no second. Raises InputError for a code in use."""
    known = made_by_token(turn, PartRow, new.token)
    if known:
        return part_of(known)
    _check_count(new.count)
    given = {each.name: getattr(new, each.name) for each in fields(new) if each.name not in {"code", "count"}}
    given["fits"] = list(new.fits)
    code = unused_code(turn, PartRow, PART_LETTER, new.code)
    row = PartRow(**given, code=code, count=0, version=1, changed=turn.at)
    turn.session.add(row)
    turn.session.flush()
    told = {key: [None, value] for key, value in given.items() if value and key != "token"}
    turn.note("part", row.id, "made", told | {"code": [None, code]})
    if new.count:
        _move(turn, row, new.count, Why.COUNTED)
    return part_of(row)


def change_part(turn: Turn, code: str, wanted: Mapping[str, Any], *, version: int | None) -> StockPart:
    """Change fields of a part, its count apart. Raises NotFoundError and ClashError."""
    row = part_row(turn.session, code, lock=True)
    changed = change_row(turn, row, wanted, version=version, what=f"part {row.code}")
    if changed:
        turn.note("part", row.id, "changed", changed)
    return part_of(row)


def bring_in(turn: Turn, code: str, count: int, *, token: str | None = None) -> StockPart:
    """Add what was bought; a known token adds it once. Raises InputError for a count that cannot be."""
    _check_count(count)
    row = part_row(turn.session, code, lock=True)
    if not made_by_token(turn, MoveRow, token):
        _move(turn, row, count, Why.IN, token=token)
    return part_of(row)


def counted(turn: Turn, code: str, count: int, *, version: int | None, token: str | None = None) -> StockPart:
    """Set the count to what somebody counted in the bin. Raises ClashError where it was changed since it was looked at."""
    _check_count(count)
    row = part_row(turn.session, code, lock=True)
    if made_by_token(turn, MoveRow, token):
        return part_of(row)
    if version is not None and version != row.version:
        raise ClashError(what=f"part {row.code}", version=row.version, now={"count": row.count}, wanted={"count": count})
    _move(turn, row, count - row.count, Why.COUNTED, token=token)
    return part_of(row)


def use(turn: Turn, code: str, count: int, line_id: int) -> int | None:
    """Take parts out for a line of a job and return what they cost; None where no price is known.

    The count may fall below nothing: what was used was there, so it is the count that is wrong, and the part is to be counted.
    """
    _check_count(count)
    row = part_row(turn.session, code, lock=True)
    _move(turn, row, -count, Why.USED, line_id=line_id)
    return None if row.price is None else row.price * count


def put_back(turn: Turn, code: str, count: int, line_id: int) -> None:
    """Put back what a line took out that was taken back."""
    _move(turn, part_row(turn.session, code, lock=True), count, Why.BACK, line_id=line_id)


def part_row(session: Session, code: str, *, lock: bool = False) -> PartRow:
    """Return the row of a part, held against other programs' changes with `lock`. Raises NotFoundError."""
    chosen = select(PartRow).where(PartRow.code == known_as(code))
    row = session.scalars(chosen.with_for_update() if lock else chosen).one_or_none()
    if row is None:
        raise NotFoundError(what="part in stock", name=code, known=session.scalars(select(PartRow.code)).all())
    return row


def part_of(row: PartRow) -> StockPart:
    """Return a part as a plain value."""
    return StockPart(**{each.name: getattr(row, each.name) for each in fields(StockPart)} | {"fits": tuple(row.fits)})


def _move(  # noqa: PLR0913 — what a move is
    turn: Turn, row: PartRow, change: int, why: Why, *, line_id: int | None = None, token: str | None = None
) -> None:
    before = row.count
    row.count += change
    row.version += 1
    row.changed = turn.at
    move = MoveRow(
        part_id=row.id, change=change, why=why.value, line_id=line_id, at=turn.at, by_id=turn.by.person_id, token=token
    )
    turn.session.add(move)
    turn.note("part", row.id, why.value, {"count": [before, row.count]})


def _check_count(count: int) -> None:
    if not 0 <= count <= MOST_PARTS:
        raise InputError(seen=f"a count of {count}", remedy=f"give a number from 0 to {MOST_PARTS}")
