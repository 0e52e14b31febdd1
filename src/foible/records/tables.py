"""The tables. `migrations/` makes them; a test holds both against each other."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sqlalchemy import JSON, DateTime, ForeignKey, MetaData, String, Text, TypeDecorator, UniqueConstraint
from sqlalchemy.engine import Dialect  # noqa: TC002 — SQLAlchemy reads the annotations
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column, relationship

__all__ = ["Base", "CaseRow", "EntryRow", "Moment"]


class Moment(TypeDecorator[datetime]):
    """A time in UTC; SQLite keeps no time zone, so it is put back when read."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what the database keeps."""
        del dialect
        return value and value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return what was kept, in UTC."""
        del dialect
        return value and value.replace(tzinfo=UTC)


class Base(DeclarativeBase):
    """The tables of the register."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class CaseRow(Base):
    """A case: what it is about, and where it is worked on. What was answered stands in `entries`."""

    __tablename__ = "cases"

    id: Mapped[str] = mapped_column(String(12), primary_key=True)
    title: Mapped[str] = mapped_column(String(200))
    weapon: Mapped[str] = mapped_column(String(20))
    complaint: Mapped[str] = mapped_column(Text, default="")
    place: Mapped[str] = mapped_column(String(10), default="piste")
    item: Mapped[str | None] = mapped_column(String(80))
    tools: Mapped[list[str]] = mapped_column(JSON)
    version: Mapped[int] = mapped_column(default=1)
    opened: Mapped[datetime] = mapped_column(Moment)
    changed: Mapped[datetime] = mapped_column(Moment, index=True)
    closed: Mapped[datetime | None] = mapped_column(Moment)
    entries: Mapped[list[EntryRow]] = relationship(
        back_populates="case", order_by="EntryRow.number", cascade="all, delete-orphan", lazy="joined"
    )


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
    at: Mapped[datetime] = mapped_column(Moment)
    taken_back: Mapped[datetime | None] = mapped_column(Moment)
    case: Mapped[CaseRow] = relationship(back_populates="entries")
