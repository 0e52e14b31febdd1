"""The tables of the database, as `migrations/` makes them; a test compares the two."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, ForeignKey, Index, MetaData, String, Text, TypeDecorator, UniqueConstraint, event
from sqlalchemy.engine import Dialect  # noqa: TC002 — SQLAlchemy reads the annotations
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

from foible.errors import InputError

__all__ = ["Base", "CaseRow", "EntryRow", "Moment", "folded"]

SHOWN = 40
"""Characters of a text that a message repeats."""


def folded(text: str) -> str:
    """Return `text` as it is searched: lower case, without accents, single-spaced, printable."""
    bare = "".join(char for char in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(char))
    return " ".join("".join(char if char.isprintable() else " " for char in bare.casefold()).split())


class Moment(TypeDecorator[datetime]):
    """A time in UTC; SQLite stores no time zone, so it is added again when read."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what the database stores."""
        del dialect
        return value and value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what was stored, in UTC."""
        del dialect
        return value and value.replace(tzinfo=UTC)


class Base(DeclarativeBase):
    """The tables of all stores. A text that is too long for its column, or that a database cannot hold, is an InputError."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


@event.listens_for(Base, "attribute_instrument", propagate=True)
def _check_texts(_: type[Base], key: str, attribute: Any) -> None:  # noqa: ANN401 — whatever SQLAlchemy instruments
    """Have every text checked when it is set: SQLite would store any length, and PostgreSQL refuses character 0."""
    columns = getattr(attribute.property, "columns", ())
    if columns and isinstance(columns[0].type, String):
        most = columns[0].type.length
        event.listen(attribute, "set", lambda _row, value, *_: _check(key, value, most))


def _check(key: str, value: str | None, most: int | None) -> None:
    if value is None:
        return
    if most is not None and len(value) > most:
        seen = f"{key} “{value[:SHOWN]}…” has {len(value)} characters"
        raise InputError(seen=seen, remedy=f"shorten it to at most {most}")
    if any(char == "\0" or "\ud800" <= char <= "\udfff" for char in value):
        raise InputError(seen=f"{key} {value[:SHOWN]!r} has characters that cannot be saved", remedy="leave them out")


class CaseRow(Base):
    """A case: what it is about, and where it is worked on. What was answered stands in `entries`."""

    __tablename__ = "cases"
    __table_args__ = (Index("uq_cases_token", "token", unique=True), Index("ix_cases_closed", "closed", "changed"))

    id: Mapped[str] = mapped_column(String(12), primary_key=True)
    title: Mapped[str] = mapped_column(String(200))
    piste: Mapped[str] = mapped_column(String(40), server_default="")
    """Which one, as people call it."""
    fencer: Mapped[str] = mapped_column(String(80), server_default="")
    """Whose kit it is, as free text."""
    weapon: Mapped[str] = mapped_column(String(20))
    complaint: Mapped[str] = mapped_column(Text, default="")
    place: Mapped[str] = mapped_column(String(10), default="piste")
    item: Mapped[str | None] = mapped_column(String(80))
    tools: Mapped[list[str]] = mapped_column(JSON)
    version: Mapped[int] = mapped_column(default=1)
    opened: Mapped[datetime] = mapped_column(Moment)
    changed: Mapped[datetime] = mapped_column(Moment, index=True)
    closed: Mapped[datetime | None] = mapped_column(Moment)
    ending: Mapped[str | None] = mapped_column(String(40))
    """How it ended, as `endings` names it; null where it was closed without an ending."""
    ended_with: Mapped[list[str]] = mapped_column(JSON, server_default="[]")
    token: Mapped[str | None] = mapped_column(String(40))
    """The token it was opened with; the same one opens no second case."""
    fitted: Mapped[dict[str, dict[str, str]]] = mapped_column(JSON, server_default="{}")
    known_good: Mapped[list[str]] = mapped_column(JSON, server_default="[]")
    facts: Mapped[list[str]] = mapped_column(JSON, server_default="[]")
    """What is known of the place and the kit."""
    profile: Mapped[str | None] = mapped_column(Text)
    source: Mapped[str] = mapped_column(Text, server_default="")
    expect: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    words: Mapped[str] = mapped_column(Text, server_default="")
    """The text it is searched by, folded; the database's own lower-casing does not know É."""
    entries: Mapped[list[EntryRow]] = relationship(
        back_populates="case", order_by="EntryRow.number", cascade="all, delete-orphan"
    )

    def make_searchable(self) -> None:
        """Update the text that the case is searched by."""
        said = (self.id, self.title, self.piste, self.fencer, self.complaint, self.source, self.weapon, self.item, self.ending)
        self.words = folded(" ".join(filter(None, (*said, *self.ended_with))))


class EntryRow(Base):
    """One thing that somebody said in a case. Nothing is deleted: what is taken back is marked so."""

    __tablename__ = "entries"
    __table_args__ = (UniqueConstraint("case_id", "number"), UniqueConstraint("case_id", "token", name="uq_entries_token"))

    id: Mapped[int] = mapped_column(primary_key=True)
    case_id: Mapped[str] = mapped_column(ForeignKey("cases.id", ondelete="CASCADE"))
    number: Mapped[int]
    kind: Mapped[str] = mapped_column(String(10))
    say: Mapped[str] = mapped_column(Text, default="")
    trial: Mapped[dict[str, Any]] = mapped_column(JSON)
    token: Mapped[str] = mapped_column(String(40))
    by: Mapped[str] = mapped_column(String(40), default="")
    names: Mapped[int] = mapped_column(server_default="0")
    """The version of the kit's names in `trial`; 0 is from before names had versions."""
    photo: Mapped[str] = mapped_column(String(40), server_default="")
    """The name that a photo is kept under, outside the database."""
    at: Mapped[datetime] = mapped_column(Moment)
    taken_back: Mapped[datetime | None] = mapped_column(Moment)
    case: Mapped[CaseRow] = relationship(back_populates="entries")
