"""Tests of items as they are entered: kept once, never changed, and where two stations differ both stand until one is chosen."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import insert, select

from foible.errors import InputError
from foible.records.control.handed import handed_in_row
from foible.records.control.values import ControlEntry, EntryOutcome, HandedInState
from foible.records.control_tables import ControlEntryRow, HandedInRow, WithdrawalRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime

    from sqlalchemy import Select
    from sqlalchemy.orm import Session

    from foible.records.control.values import NewControlEntry
    from foible.records.register.turn import Turn

__all__ = ["add_entries", "choose_entry", "clashes", "entries_at", "entries_of", "entries_of_items", "standing"]

ENTRY_FIELDS = tuple(each.name for each in fields(ControlEntry) if each.name not in {"outcome", "withdrawn"})
CHOSEN = select(*(getattr(ControlEntryRow, name) for name in ENTRY_FIELDS), ControlEntryRow.outcome, WithdrawalRow.id).outerjoin(
    WithdrawalRow, WithdrawalRow.entry_id == ControlEntryRow.id
)
"""The columns of entries, and what has withdrawn each: plain rows, of which a table has many."""
AT_A_TIME = 500
"""Items that one statement asks for: below what any database takes."""
MOST_ENTRIES = 400
"""Entries of one attempt of one item: far above what any rulebook has tested."""


def add_entries(  # noqa: PLR0913 — what an entry is told with
    turn: Turn,
    number: int,
    new: Sequence[NewControlEntry],
    *,
    seen: int,
    began: datetime,
    token: str,
    station_id: int | None = None,
    there: Sequence[ControlEntry] | None = None,
) -> tuple[ControlEntry, ...]:
    """Keep tests of an item, as one change of it; what a known token has brought is there already. Returns what counts now.

    `seen` is the version of the item that whoever tested had before them, `there` the entries of this attempt where they are
    known already. An entry withdraws what stood for the same test by then. What another station has entered since stays beside
    it: `clashes` finds where the two say different things. Raises NotFoundError, and InputError where the item is no longer at
    the table.
    """
    row = handed_in_row(turn.session, number, lock=True)
    there = entries_of(turn.session, number, attempt=row.attempt) if there is None else there
    if _brought(turn.session, token):
        return standing(there)
    _check_in_room(row)
    if len(there) + len(new) > MOST_ENTRIES:
        raise InputError(seen=f"this item has {len(there)} entries already", remedy="decide about it, and hand it in again")
    common: dict[str, Any] = {"station_id": station_id, "began": began, "at": turn.at, "by_id": turn.by.person_id}
    common |= {"control_item_id": number, "attempt": row.attempt, "device": turn.by.device}
    common |= {"competition_id": row.competition_id, "seen": seen, "made": row.version + 1}
    own = ({"outcome": each.outcome.value, "token": f"{token}-{place}"} for place, each in enumerate(new))
    told = [asdict(each) | common | more for each, more in zip(new, own, strict=True)]
    with turn.session.no_autoflush:
        turn.session.execute(insert(ControlEntryRow), told)
        mine = CHOSEN.where(ControlEntryRow.control_item_id == number, ControlEntryRow.made == row.version + 1)
        made = tuple(_entries(turn.session, mine.order_by(ControlEntryRow.id)))
        counts = _withdrawn(turn, there, made, seen)
    row.version += 1
    row.changed = turn.at
    if row.state == HandedInState.HANDED_IN.value:
        row.state = HandedInState.AT_TABLE.value
    return (*counts, *made)


def _withdrawn(turn: Turn, there: Iterable[ControlEntry], made: Iterable[ControlEntry], seen: int) -> tuple[ControlEntry, ...]:
    """Have what was there make way for what was made, as far as whoever made it had seen that; return what is left of it."""
    by_test = {each.test: each for each in made}
    gone = [old for old in standing(there) if old.test in by_test and old.made <= seen]
    rows = [{"entry_id": old.id, "for_id": by_test[old.test].id, "at": turn.at, "by_id": turn.by.person_id} for old in gone]
    if rows:
        turn.session.execute(insert(WithdrawalRow), rows)
    return tuple(old for old in standing(there) if old not in gone)


def choose_entry(turn: Turn, number: int, entry_id: int) -> tuple[ControlEntry, ...]:
    """Let one entry count where two stations have entered different ones. Returns what counts now. Raises InputError."""
    row = handed_in_row(turn.session, number, lock=True)
    there = standing(entries_of(turn.session, number, attempt=row.attempt))
    chosen = next((each for each in there if each.id == entry_id), None)
    if chosen is None:
        raise InputError(seen="that entry does not count any more", remedy="look at the item again, and choose among those shown")
    _check_in_room(row)
    others = [each for each in there if each.test == chosen.test and each.id != entry_id]
    if others:
        row.version += 1
        row.changed = turn.at
    for each in others:
        turn.session.add(WithdrawalRow(entry_id=each.id, for_id=entry_id, at=turn.at, by_id=turn.by.person_id))
        turn.note("kit", number, "withdrawn", {"entry": each.id, "for": entry_id})
    turn.session.flush()
    return tuple(each for each in there if each not in others)


def entries_of(session: Session, number: int, *, attempt: int | None = None) -> tuple[ControlEntry, ...]:
    """Return the entries of an item in the order in which they were kept, withdrawn ones among them."""
    chosen = CHOSEN.where(ControlEntryRow.control_item_id == number).order_by(ControlEntryRow.id)
    if attempt is not None:
        chosen = chosen.where(ControlEntryRow.attempt == attempt)
    return tuple(_entries(session, chosen))


def entries_at(session: Session, competition: int | None = None) -> tuple[ControlEntry, ...]:
    """Return every entry of a competition, of all competitions where none is named, withdrawn ones among them."""
    chosen = CHOSEN.order_by(ControlEntryRow.id)
    if competition is not None:
        chosen = chosen.where(ControlEntryRow.competition_id == competition)
    return tuple(_entries(session, chosen))


def entries_of_items(session: Session, numbers: Iterable[int]) -> dict[int, tuple[ControlEntry, ...]]:
    """Return the entries of some items, by item."""
    found: dict[int, list[ControlEntry]] = {each: [] for each in numbers}
    wanted = list(found)
    for start in range(0, len(wanted), AT_A_TIME):
        chosen = CHOSEN.where(ControlEntryRow.control_item_id.in_(wanted[start : start + AT_A_TIME]))
        for each in _entries(session, chosen.order_by(ControlEntryRow.id)):
            found[each.control_item_id].append(each)
    return {number: tuple(those) for number, those in found.items()}


def standing(entries: Iterable[ControlEntry]) -> tuple[ControlEntry, ...]:
    """Return the entries that count."""
    return tuple(each for each in entries if not each.withdrawn)


def clashes(entries: Iterable[ControlEntry]) -> tuple[tuple[ControlEntry, ...], ...]:
    """Return where several entries that count say different things of one test, each time all of them."""
    by_test: dict[tuple[int, str, str], list[ControlEntry]] = {}
    for each in standing(entries):
        by_test.setdefault((each.attempt, *each.test), []).append(each)
    return tuple(tuple(those) for those in by_test.values() if any(not those[0].says_the_same(each) for each in those))


def _check_in_room(row: HandedInRow) -> None:
    state = HandedInState(row.state)
    if state in {HandedInState.HANDED_BACK, HandedInState.KEPT_BACK}:
        raise InputError(seen=f"this item is no longer at the table: it was {state.value}", remedy="hand it in again first")


def _brought(session: Session, token: str) -> bool:
    return session.scalar(select(ControlEntryRow.id).where(ControlEntryRow.token == f"{token}-0")) is not None


def _entries(session: Session, chosen: Select[Any]) -> Iterator[ControlEntry]:
    for *given, outcome, withdrawn in session.execute(chosen):
        known: dict[str, Any] = dict(zip(ENTRY_FIELDS, given, strict=True))
        yield ControlEntry(**known, outcome=EntryOutcome(outcome), withdrawn=withdrawn is not None)
