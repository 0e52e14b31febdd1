"""Cases kept in a database. Every call that writes is one transaction: all of it is kept, or nothing."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import Enum
from importlib.resources import files
from secrets import choice
from threading import Lock
from typing import TYPE_CHECKING, Any

from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine, event, func, select
from sqlalchemy.engine import make_url
from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session, sessionmaker

from foible.errors import KeepingError, NotFoundError, UnknownNameError
from foible.records.tables import CaseRow, EntryRow

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Mapping
    from datetime import datetime

    from sqlalchemy.engine import Engine

__all__ = ["Entry", "EntryKind", "KeptCase", "NewEntry", "Register"]

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""What case names are made of: no letter that is taken for another when read aloud."""
LENGTH = 6
BUSY_MS = 5000
"""How long a writer waits for another one [ms]."""


class EntryKind(Enum):
    """What was said."""

    TRIAL = "trial"
    SKIP = "skip"
    """A trial that cannot be made now."""
    BACK = "back"
    """What was exchanged is the fencer's own again."""


@dataclass(frozen=True)
class NewEntry:
    """Something said in a case. `token` is its own: the same one again, from a form sent twice, is taken once."""

    kind: EntryKind
    token: str
    say: str = ""
    trial: Mapping[str, Any] = field(default_factory=dict)
    by: str = ""


@dataclass(frozen=True)
class Entry:
    """Something that was said, with its number in the case."""

    number: int
    kind: EntryKind
    say: str
    trial: Mapping[str, Any]
    by: str
    at: datetime
    taken_back: bool


@dataclass(frozen=True)
class KeptCase:
    """A case as it is kept. `version` rises with every change."""

    id: str
    title: str
    weapon: str
    complaint: str
    place: str
    item: str | None
    tools: tuple[str, ...]
    version: int
    opened: datetime
    changed: datetime
    closed: bool
    entries: tuple[Entry, ...] = field(repr=False)

    @property
    def standing(self) -> tuple[Entry, ...]:
        """What was said and not taken back."""
        return tuple(entry for entry in self.entries if not entry.taken_back)


class Register:
    """The cases in one database. `clock` tells the time, in UTC."""

    def __init__(self, url: str, *, clock: Callable[[], datetime]) -> None:
        self._engine = _engine(url)
        self._clock = clock
        self._sessions = sessionmaker(self._engine, expire_on_commit=False)
        self._writers = sessionmaker(self._engine.execution_options(immediate=True), expire_on_commit=False)
        self._writing = Lock()
        try:
            _migrate(self._engine)
        except SQLAlchemyError as error:
            raise KeepingError(what=f"the register at {make_url(url).render_as_string()}", reason=_reason(error)) from error

    def open(
        self, *, weapon: str, title: str, complaint: str = "", tools: tuple[str, ...] = (), first: NewEntry | None = None
    ) -> KeptCase:
        """Keep a new case, at the piste, with its first entry where there is one.

        A first entry whose token began a case already, from a form sent twice, opens no second one.
        """
        now = self._clock()

        def write(session: Session) -> CaseRow:
            known = first and session.scalar(select(EntryRow).where(EntryRow.token == first.token, EntryRow.number == 1))
            if known:
                return known.case
            row = CaseRow(
                id=_unused(session), title=title, weapon=weapon, complaint=complaint, place="piste", tools=list(tools),
                version=1, opened=now, changed=now, entries=[],
            )  # fmt: skip
            session.add(row)
            if first:
                row.entries.append(_entry(first, 1, now))
            return row

        return self._write(write)

    def cases(self) -> list[KeptCase]:
        """Return all cases, the latest changed first."""
        with self._reading() as session:
            rows = session.scalars(select(CaseRow).order_by(CaseRow.changed.desc(), CaseRow.id)).unique().all()
            return [_kept(row) for row in rows]

    def case(self, name: str) -> KeptCase:
        """Return a case. Raises NotFoundError."""
        with self._reading() as session:
            return _kept(_row(session, name))

    def versions(self, names: Collection[str]) -> dict[str, int]:
        """Return the version of each case out of `names` that there is."""
        with self._reading() as session:
            rows = session.execute(select(CaseRow.id, CaseRow.version).where(CaseRow.id.in_(names)))
            return {row.id: row.version for row in rows}

    def add(self, name: str, entry: NewEntry) -> KeptCase:
        """Keep something said in a case; an entry whose token is there already changes nothing."""

        def write(session: Session) -> CaseRow:
            row = _row(session, name)
            if all(known.token != entry.token for known in row.entries):
                row.entries.append(_entry(entry, len(row.entries) + 1, self._clock()))
                self._touch(row)
            return row

        return self._write(write)

    def take_back(self, name: str, number: int) -> KeptCase:
        """Mark an entry as taken back; one that is so already stays so. Raises UnknownNameError."""

        def write(session: Session) -> CaseRow:
            row = _row(session, name)
            found = next((entry for entry in row.entries if entry.number == number), None)
            if found is None:
                raise UnknownNameError(what="entry", name=str(number), known=[str(entry.number) for entry in row.entries])
            if found.taken_back is None:
                found.taken_back = self._clock()
                self._touch(row)
            return row

        return self._write(write)

    def move(self, name: str, *, place: str, item: str | None, tools: tuple[str, ...]) -> KeptCase:
        """Change where a case is worked on, and with what."""

        def write(session: Session) -> CaseRow:
            row = _row(session, name)
            if (row.place, row.item, tuple(row.tools)) != (place, item, tools):
                row.place, row.item, row.tools = place, item, list(tools)
                self._touch(row)
            return row

        return self._write(write)

    def close(self, name: str, *, closed: bool) -> KeptCase:
        """Put a case away, or take it out again."""

        def write(session: Session) -> CaseRow:
            row = _row(session, name)
            if (row.closed is not None) != closed:
                row.closed = self._clock() if closed else None
                self._touch(row)
            return row

        return self._write(write)

    def dispose(self) -> None:
        """Close all connections."""
        self._engine.dispose()

    @contextmanager
    def _reading(self) -> Iterator[Session]:
        try:
            with self._sessions() as session:
                yield session
        except SQLAlchemyError as error:
            raise KeepingError(what="the register", reason=_reason(error), done="read") from error

    def _touch(self, row: CaseRow) -> None:
        row.version += 1
        row.changed = self._clock()

    def _write(self, change: Callable[[Session], CaseRow]) -> KeptCase:
        """Make one change as one transaction; writers wait for each other, so that numbers never meet."""
        try:
            with self._writing, self._writers.begin() as session:
                row = change(session)
                session.flush()
                return _kept(row)
        except SQLAlchemyError as error:
            raise KeepingError(what="the answer", reason=_reason(error)) from error


def _engine(url: str) -> Engine:
    engine = create_engine(url)
    if engine.dialect.name == "sqlite":

        @event.listens_for(engine, "connect")
        def _prepare(connection: Any, _: object) -> None:  # noqa: ANN401 — a driver's own connection
            connection.isolation_level = None  # the driver's own transactions start too late; `begin` starts them
            for pragma in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", f"busy_timeout = {BUSY_MS}"):
                connection.execute(f"PRAGMA {pragma}")

        @event.listens_for(engine, "begin")
        def _begin(connection: Any) -> None:  # noqa: ANN401 — as above
            writes = connection.get_execution_options().get("immediate", False)
            connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


def _migrate(engine: Engine) -> None:
    """Bring the tables up to date."""
    config = Config()
    config.set_main_option("script_location", str(files("foible.records") / "migrations"))
    with engine.connect() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")


def _row(session: Session, name: str) -> CaseRow:
    row = session.get(CaseRow, name.strip().lower())
    if row is None:
        raise NotFoundError(what="case", name=name, known=session.scalars(select(CaseRow.id)).all())
    return row


def _unused(session: Session) -> str:
    """Return a name that no case has."""
    while True:
        name = "".join(choice(LETTERS) for _ in range(LENGTH))
        if not session.scalar(select(func.count()).where(CaseRow.id == name)):
            return name


def _entry(new: NewEntry, number: int, at: datetime) -> EntryRow:
    return EntryRow(
        number=number, kind=new.kind.value, say=new.say, trial=dict(new.trial), token=new.token, by=new.by, at=at, taken_back=None
    )


def _kept(row: CaseRow) -> KeptCase:
    return KeptCase(
        id=row.id,
        title=row.title,
        weapon=row.weapon,
        complaint=row.complaint,
        place=row.place,
        item=row.item,
        tools=tuple(row.tools),
        version=row.version,
        opened=row.opened,
        changed=row.changed,
        closed=row.closed is not None,
        entries=tuple(
            Entry(
                entry.number,
                EntryKind(entry.kind),
                entry.say,
                entry.trial,
                entry.by,
                entry.at,
                entry.taken_back is not None,
            )
            for entry in row.entries
        ),
    )


def _reason(error: SQLAlchemyError) -> str:
    return str(getattr(error, "orig", None) or error).splitlines()[0]
