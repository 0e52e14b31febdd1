"""The store of cases: opened, added to, looked up one by one, and listed by their heads."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, time
from secrets import choice
from typing import TYPE_CHECKING

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import joinedload, selectinload

from foible.errors import InputError, NotFoundError, UnknownNameError
from foible.records.case import CaseQuery, CaseState, EntryKind, Heads
from foible.records.rows import HEAD, head_of, kept_of
from foible.records.tables import CaseRow, EntryRow, folded

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence
    from datetime import date, tzinfo

    from sqlalchemy import ColumnElement
    from sqlalchemy.orm import Session

    from foible.endings import CaseEnding
    from foible.records.case import KeptCase, NewCase, NewEntry
    from foible.records.database import Database

__all__ = ["CHANGES", "CaseStore"]

CHANGES = logging.getLogger("foible.changes")
"""Hears of each change once it is saved: which case, what kind of change, and which device made it; nothing that was said."""

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""The letters of case names: none that is mistaken for another when read aloud."""
LENGTH = 6
NEAR = 200
"""Most recently changed cases among which the nearest to a wrong name is sought: a misread name is mostly one of today's."""
ALL_CASES = CaseQuery()
ONE = select(CaseRow).where(CaseRow.id == bindparam("name"))
WHOLE = ONE.options(joinedload(CaseRow.entries))
"""A case with its entries."""
LOCKED = ONE.options(selectinload(CaseRow.entries)).with_for_update()
"""The same, held against other programs: only a statement after the lock shows the entries that one of them has just added."""
HELD = {"sqlite": WHOLE}
"""How a case is read for a change where the database needs no lock on it: a change to SQLite holds all of it from its start."""
MOST_ENTRIES = 500
"""Lines in a case, those that were taken back among them: far beyond what anybody says in one, so that nobody fills a disk."""
STRETCH = 50
"""Cases in one stretch of a list, by default."""


class CaseStore:
    """The cases in a database. `clock` tells the time, in UTC. Every call that writes is one transaction."""

    def __init__(self, database: Database, *, clock: Callable[[], datetime]) -> None:
        self.database = database
        self._clock = clock

    # --- looking up -----------------------------------------------------------------------------------------------

    def case(self, name: str) -> KeptCase:
        """Return a case with everything said in it. Raises NotFoundError."""
        return self.database.read(lambda session: kept_of(_row(session, name)))

    def heads(self, query: CaseQuery = ALL_CASES, *, limit: int = STRETCH, offset: int = 0) -> Heads:
        """Return one stretch of the cases that match `query`, the most recently changed first, and how many there are in all."""
        conditions = _conditions(query)
        chosen = select(*HEAD).where(*conditions).order_by(CaseRow.changed.desc(), CaseRow.id).limit(limit).offset(offset)

        def look(session: Session) -> Heads:
            rows = session.execute(chosen).all()
            trials = _trials(session, [row.id for row in rows])
            return Heads(tuple(head_of(row, trials.get(row.id, 0)) for row in rows), _count(session, conditions))

        return self.database.read(look)

    def count(self, query: CaseQuery = ALL_CASES) -> int:
        """Return how many cases match `query`."""
        return self.database.read(lambda session: _count(session, _conditions(query)))

    def versions(self, names: Collection[str]) -> dict[str, int]:
        """Return the version of each case in `names` that exists."""
        chosen = select(CaseRow.id, CaseRow.version).where(CaseRow.id.in_(names))
        return self.database.read(lambda session: {row.id: row.version for row in session.execute(chosen)})

    # --- changing -------------------------------------------------------------------------------------------------

    def open(self, new: NewCase, entries: Sequence[NewEntry] = ()) -> KeptCase:
        """Keep a new case with what is known so far; one with an ending is closed from the start.

        If its token has opened a case already, that one is returned.
        """
        now = self._clock()

        def change(session: Session) -> CaseRow:
            known = new.token and session.scalar(select(CaseRow).where(CaseRow.token == new.token))
            if known:
                return known
            row = CaseRow(
                id=_unused(session), title=new.title, weapon=new.weapon, complaint=new.complaint,
                piste=new.piste, fencer=new.fencer, place=new.place, item=new.item,
                tools=list(new.tools), version=1, opened=now, changed=now, token=new.token,
                fitted={side: dict(slots) for side, slots in new.fitted.items()}, known_good=list(new.known_good),
                facts=list(new.facts), profile=new.profile, source=new.source, expect=new.expect and dict(new.expect),
                closed=now if new.ending else None, ending=new.ending and new.ending.value, ended_with=list(new.ended_with),
                entries=[_entry(entry, number, now) for number, entry in enumerate(entries, start=1)],
            )  # fmt: skip
            session.add(row)
            return row

        return self._write(change, "opened", what="the case")

    def add(self, name: str, *entries: NewEntry) -> KeptCase:
        """Add what was said to a case, all of it or nothing; an entry whose token is there already changes nothing.

        Raises UnknownNameError, and InputError where the case has `MOST_ENTRIES`.
        """

        def change(session: Session) -> CaseRow:
            row = _row(session, name, lock=True)
            said = {known.token for known in row.entries}
            if len(row.entries) + len(entries) > MOST_ENTRIES:
                raise InputError(seen=f"case {name} has {len(row.entries)} lines already", remedy="open another case")
            for entry in entries:
                if entry.token not in said:
                    row.entries.append(_entry(entry, len(row.entries) + 1, self._clock()))
            if len(row.entries) > len(said):
                self._touch(row)
            return row

        kinds = ", ".join(dict.fromkeys(entry.kind.value for entry in entries))
        return self._write(change, kinds, by=entries[-1].by if entries else "")

    def take_back(self, name: str, number: int) -> KeptCase:
        """Mark an entry as taken back; doing so again changes nothing. Raises UnknownNameError."""

        def change(session: Session) -> CaseRow:
            row = _row(session, name, lock=True)
            found = next((entry for entry in row.entries if entry.number == number), None)
            if found is None:
                raise UnknownNameError(what="entry", name=str(number), known=[str(entry.number) for entry in row.entries])
            if found.taken_back is None:
                found.taken_back = self._clock()
                if found.kind == EntryKind.END.value:
                    _open_again(row)
                self._touch(row)
            return row

        return self._write(change, "taken back")

    def move(
        self, name: str, *, place: str, item: str | None, tools: tuple[str, ...], facts: tuple[str, ...] | None = None
    ) -> KeptCase:
        """Change where a case is worked on, with what, and what is known of the place; facts that are None stay as they are.

        Raises UnknownNameError.
        """

        def change(session: Session) -> CaseRow:
            row = _row(session, name, lock=True)
            known = tuple(row.facts) if facts is None else facts
            if (row.place, row.item, tuple(row.tools), tuple(row.facts)) != (place, item, tools, known):
                row.place, row.item, row.tools, row.facts = place, item, list(tools), list(known)
                self._touch(row)
            return row

        return self._write(change, "moved")

    def describe(
        self,
        name: str,
        *,
        title: str | None = None,
        piste: str | None = None,
        fencer: str | None = None,
        fitted: Mapping[str, Mapping[str, str]] | None = None,
    ) -> KeptCase:
        """Change what a case is called, on which piste it is, whose kit it is, or what is fitted; what is None stays.

        `fitted` is the model by side and slot, of all that is not fitted as usual. Raises UnknownNameError.
        """
        whole = None if fitted is None else {side: dict(slots) for side, slots in fitted.items()}
        told = {"title": title, "piste": piste, "fencer": fencer, "fitted": whole}
        given = {key: value for key, value in told.items() if value is not None}

        def change(session: Session) -> CaseRow:
            row = _row(session, name, lock=True)
            if any(getattr(row, key) != value for key, value in given.items()):
                for key, value in given.items():
                    setattr(row, key, value)
                self._touch(row)
            return row

        return self._write(change, "described")

    def close(self, name: str, *, closed: bool) -> KeptCase:
        """Close a case without an ending, or open it again. Raises UnknownNameError."""

        def change(session: Session) -> CaseRow:
            row = _row(session, name, lock=True)
            if (row.closed is not None) != closed:
                _take_ending_back(row, self._clock())
                _open_again(row)
                row.closed = self._clock() if closed else None
                self._touch(row)
            return row

        return self._write(change, "closed" if closed else "reopened")

    def end(self, name: str, entry: NewEntry, ending: CaseEnding, things: Sequence[str] = ()) -> KeptCase:
        """Close a case with an ending, in place of an earlier one; `things` are the items and repairs that it is about.

        `entry` says so in the case; one whose token is there already changes nothing. Raises UnknownNameError.
        """

        def change(session: Session) -> CaseRow:
            row, now = _row(session, name, lock=True), self._clock()
            if all(known.token != entry.token for known in row.entries):
                _take_ending_back(row, now)
                row.entries.append(_entry(entry, len(row.entries) + 1, now))
                row.closed, row.ending, row.ended_with = now, ending.value, list(things)
                self._touch(row)
            return row

        return self._write(change, "ended", by=entry.by)

    def _touch(self, row: CaseRow) -> None:
        row.version += 1
        row.changed = self._clock()

    def _write(self, change: Callable[[Session], CaseRow], kind: str, *, by: str = "", what: str = "the answer") -> KeptCase:
        def work(session: Session) -> tuple[KeptCase, bool]:
            row = change(session)
            changed = row in session.new or session.is_modified(row)
            row.make_searchable()
            return kept_of(row), changed

        kept, changed = self.database.write(work, what=what)
        if changed:
            CHANGES.info("change", extra={"line": {"case": kept.id, "kind": kind, "version": kept.version, "device": by or None}})
        return kept


def _row(session: Session, name: str, *, lock: bool = False) -> CaseRow:
    """Return the row of a case with its entries; with `lock`, other programs that would change it wait until this one is done."""
    known_as = "".join(char for char in name.strip().lower() if char.isprintable())
    chosen = HELD.get(session.get_bind().dialect.name, LOCKED) if lock else WHOLE
    row = session.scalars(chosen, {"name": known_as}).unique().one_or_none()
    if row is None:
        known = session.scalars(select(CaseRow.id).order_by(CaseRow.changed.desc()).limit(NEAR)).all()
        raise NotFoundError(what="case", name=name, known=known)
    return row


def _take_ending_back(row: CaseRow, now: datetime) -> None:
    """Mark what was said of an ending as taken back: the case goes on, or ends otherwise."""
    for entry in row.entries:
        if entry.kind == EntryKind.END.value and entry.taken_back is None:
            entry.taken_back = now


def _open_again(row: CaseRow) -> None:
    row.closed, row.ending, row.ended_with = None, None, []


def _unused(session: Session) -> str:
    """Return a name that no case has."""
    while True:
        name = "".join(choice(LETTERS) for _ in range(LENGTH))
        if not session.scalar(select(func.count()).where(CaseRow.id == name)):
            return name


def _conditions(query: CaseQuery) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = [CaseRow.words.contains(word, autoescape=True) for word in folded(query.words).split()]
    if query.weapon is not None:
        found.append(CaseRow.weapon == query.weapon)
    if query.state is not CaseState.ALL:
        found.append(CaseRow.closed.is_(None) if query.state is CaseState.OPEN else CaseRow.closed.is_not(None))
    if query.since:
        found.append(CaseRow.changed >= _moment(query.since, time.min, query.zone))
    if query.until:
        found.append(CaseRow.changed <= _moment(query.until, time.max, query.zone))
    return found


def _moment(day: date, at: time, zone: tzinfo | None) -> datetime:
    """Return a time of a day in a time zone, None being that of this machine, as a moment in UTC."""
    try:
        return datetime.combine(day, at, zone).astimezone(UTC)
    except (OverflowError, ValueError):  # the first or the last day that there is: no zone makes it any earlier or later
        return datetime.combine(day, at, UTC)


def _count(session: Session, conditions: Sequence[ColumnElement[bool]]) -> int:
    return session.scalar(select(func.count()).select_from(CaseRow).where(*conditions)) or 0


def _entry(new: NewEntry, number: int, at: datetime) -> EntryRow:
    return EntryRow(
        number=number, kind=new.kind.value, say=new.say, trial=dict(new.trial), token=new.token, by=new.by, names=new.names,
        at=at, taken_back=None, photo=new.photo,
    )  # fmt: skip


def _trials(session: Session, cases: Sequence[str]) -> dict[str, int]:
    """Return how many trials stand in each of these cases; one without any is left out."""
    standing = (EntryRow.case_id.in_(cases), EntryRow.kind == EntryKind.TRIAL.value, EntryRow.taken_back.is_(None))
    counted = select(EntryRow.case_id, func.count().label("trials")).where(*standing).group_by(EntryRow.case_id)
    return {row.case_id: row.trials for row in session.execute(counted)}
