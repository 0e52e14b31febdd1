"""The database under all stores: its tables brought up to date, and each piece of work one transaction.

    store's method → Database.read or write → one Session, one transaction → plain values, or an error of ours

A store for another kind of record is a class over the same `Database`. It needs its rows in `tables.py`, a step in
`migrations/versions/`, and methods like these:

    def item(self, name: str) -> Item:
        return self._database.read(lambda session: _item(_row(session, name)))

    def retire(self, name: str) -> Item:
        def change(session: Session) -> Item:
            row = _row(session, name, lock=True)
            row.retired = self._clock()
            return _item(row)

        return self._database.write(change, what="the item")
"""

from __future__ import annotations

from contextlib import nullcontext
from threading import Lock
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import create_engine, event, text
from sqlalchemy.exc import DataError, DBAPIError, IntegrityError, NoSuchModuleError
from sqlalchemy.orm import Session

from foible.errors import FoibleError, InputError, KeepingError
from foible.records.migrating import migrate
from foible.records.on_file import OpenedFile, ReadingCopy, address_of, file_of
from foible.records.trouble import UNREADABLE, named, reason_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager

    from sqlalchemy.engine import URL, Engine

__all__ = ["Database"]

Made = TypeVar("Made")
BUSY_MS = 5000
"""How long a writer waits for another one [ms]."""
OPTIONS: dict[str, dict[str, Any]] = {"postgresql": {"pool_pre_ping": True, "connect_args": {"connect_timeout": 5}}}
"""How a server is reached: a connection that it has closed is opened again, and it has this long to answer [s]."""
KINDS = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
ATTEMPTS = 5
"""How often a change is attempted where another program's change interferes."""
CAME_BETWEEN = ("40001", "40P01")
"""SQL states that ask for another attempt: serialisation failure, deadlock (PostgreSQL documentation, appendix A)."""
SNAPSHOT = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
"""How PostgreSQL shows a reader a single moment; SQLite always does."""


class Database:
    """One database with all its stores; its tables are made, or brought up to date, when it is opened.

    Raises InputError where `url` names no database, or one that a later Foible has written, and KeepingError where it
    cannot be used. Records that cannot be written to are read in a copy.
    Inside a process one writer at a time changes an SQLite database; the others wait.
    """

    def __init__(self, url: str) -> None:
        address, path = _address(url), file_of(_address(url))
        self.path, self.place = path, str(path) if path else address.render_as_string()
        self._copy = ReadingCopy(path) if path and ReadingCopy.needed(path) else None
        self._engine = _engine(address.set(database=str(self._copy.path)) if self._copy else address)
        on_file = self._engine.dialect.name == "sqlite"
        self._writing: AbstractContextManager[Any] = Lock() if on_file else nullcontext()
        self._reader = self._engine if on_file else self._engine.execution_options(**SNAPSHOT)
        self._writer = self._engine.execution_options(immediate=True)
        try:
            migrate(self._engine)
        except FoibleError:
            self.dispose()
            raise
        except UNREADABLE as error:
            self.dispose()
            raise named(error, what=f"the records at {address.render_as_string()}", done="opened") from error
        self._file = OpenedFile(path) if path and not self._copy else None

    @property
    def read_only(self) -> bool:
        """Whether the file, or the folder that it is in, cannot be written to: then only what is there can be looked at."""
        return self._copy is not None

    @property
    def kind(self) -> str:
        """What keeps the records: SQLite or PostgreSQL."""
        name = self._engine.dialect.name
        return KINDS.get(name, name)

    def size(self) -> int:
        """Return the room that the records take [byte]. Raises KeepingError."""
        if self._engine.dialect.name == "postgresql":
            return self.read(lambda session: int(session.scalar(text("SELECT pg_database_size(current_database())")) or 0))
        beside = (self.path.with_name(f"{self.path.name}{end}") for end in ("", "-wal")) if self.path else ()
        return sum(path.stat().st_size for path in beside if path.exists())

    def takes_changes(self) -> bool:
        """Return whether a change would be taken in: one is begun and left again, nothing is written."""
        if self._copy:
            return False
        try:
            self._check()
            with self._writing, self._writer.connect() as connection, connection.begin() as turn:
                on_server = self._engine.dialect.name == "postgresql"
                standing_by = on_server and connection.scalar(text("SHOW transaction_read_only"))
                turn.rollback()
        except (KeepingError, *UNREADABLE):
            return False
        return standing_by in (False, "off")

    def read(self, work: Callable[[Session], Made], *, what: str = "the records") -> Made:
        """Return what `work` finds; everything it reads is from one moment. Raises KeepingError, which names `what`."""
        try:
            self._check()
            with Session(self._reader, expire_on_commit=False) as session:
                found = work(session)
                session.expunge_all()  # a reader changes nothing, whatever was done to its rows
                session.commit()  # on a rollback the driver forgets the statements that the server has prepared
                return found
        except UNREADABLE as error:
            raise named(error, what=what, done="read") from error

    def write(self, change: Callable[[Session], Made], *, what: str) -> Made:
        """Make a change as one transaction: all of it is saved, or nothing. Returns what `change` returns.

        Where another program's change interferes, `change` is called again in a new transaction. Raises KeepingError,
        and InputError where the database does not take a value; both name `what`.
        """
        if self._copy:
            remedy = "allow Foible to write to the file and to its folder, and restart it; until then cases can be looked at"
            raise KeepingError(what=what, reason="the records can only be read here", remedy=remedy)
        try:
            self._check()
            with self._writing:
                made = self._attempted(change)
        except DataError as error:
            seen = f"{what} cannot be saved as it is ({reason_of(error)})"
            raise InputError(seen=seen, remedy="shorten it, and leave out unusual characters") from error
        except UNREADABLE as error:
            raise named(error, what=what) from error
        self._check()  # what went into a file that is no longer there is not acknowledged
        return made

    def dispose(self) -> None:
        """Close all connections."""
        self._engine.dispose()
        if self._copy:
            self._copy.remove()

    def _check(self) -> None:
        if self._file:
            self._file.check()

    def _attempted(self, change: Callable[[Session], Made], attempts: int = ATTEMPTS) -> Made:
        try:
            with Session(self._writer, expire_on_commit=False) as session, session.begin():
                return change(session)
        except DBAPIError as error:
            between = isinstance(error, IntegrityError) or getattr(error.orig, "sqlstate", None) in CAME_BETWEEN
            if not between or attempts == 1:
                raise
        return self._attempted(change, attempts - 1)


def _address(url: str) -> URL:
    """Return a database's URL, with the driver that we bring where it names none. Raises InputError."""
    address = address_of(url)
    return address.set(drivername="postgresql+psycopg") if address.drivername in ("postgresql", "postgres") else address


def _engine(address: URL) -> Engine:
    kind = address.get_backend_name()
    try:
        engine = create_engine(address, **OPTIONS.get(kind, {}))
    except (ImportError, NoSuchModuleError) as error:
        seen = f"no driver for {address.drivername} is installed here ({error})"
        raise InputError(seen=seen, remedy="use SQLite or PostgreSQL; for the latter install foible[postgresql]") from error
    if kind == "sqlite":

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
