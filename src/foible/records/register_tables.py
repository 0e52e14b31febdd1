"""The tables of the register: items, loans, readings, jobs and their lines, parts in stock and what became of them."""

from __future__ import annotations

from datetime import date, datetime  # noqa: TC003 — SQLAlchemy reads the annotations
from typing import Any

from sqlalchemy import JSON, Double, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from foible.records.tables import Base, Moment

__all__ = [
    "ChoiceRow",
    "ItemPhotoRow",
    "ItemRow",
    "ItemWordRow",
    "JobLineRow",
    "JobRow",
    "LoanRow",
    "MoveRow",
    "PartRow",
    "ReadingRow",
]


IN_BYTE_ORDER = String(40).with_variant(String(40, collation="C"), "postgresql")
"""Words sorted by their bytes, as SQLite does by itself: then all that begin alike stand together in the index."""


class ItemRow(Base):
    """A weapon, a cord, a lamé, a reel, a test weight … with a code of its own. Money in hundredths of the club's currency."""

    __tablename__ = "items"
    __table_args__ = (
        Index("uq_items_code", "code", unique=True),
        Index("uq_items_token", "token", unique=True),
        Index("ix_items_state", "state", "changed"),
        Index("ix_items_owner", "owner_id", "id"),
        Index("ix_items_check_due", "check_due"),
        Index("ix_items_changed", "changed", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    code: Mapped[str] = mapped_column(String(12))
    kind: Mapped[str] = mapped_column(String(40))
    """What it is: the kit's own kind (“weapon”, “body cord” …), or a kind of tool (“test weight”, “gauge”, “meter” …)."""
    weapon: Mapped[str | None] = mapped_column(String(20))
    name: Mapped[str] = mapped_column(String(120), server_default="")
    fitted: Mapped[dict[str, str]] = mapped_column(JSON, server_default="{}")
    """What is fitted to it, as in a case: model by slot, in the kit's own names."""
    made_by: Mapped[dict[str, str]] = mapped_column(JSON, server_default="{}")
    """Makes of its parts, by slot, as the club calls them."""
    owner_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    """Whose it is; null: the club's own."""
    state: Mapped[str] = mapped_column(String(20), server_default="in use")
    """“in use”, “at the bench”, “failed”, “lent”, “retired”, “lost”."""
    bought: Mapped[date | None]
    first_used: Mapped[date | None]
    retired: Mapped[date | None]
    price: Mapped[int | None]
    check_due: Mapped[date | None]
    """When a weight, gauge or meter is to be checked."""
    notes: Mapped[str] = mapped_column(Text, server_default="")
    version: Mapped[int] = mapped_column(default=1)
    opened: Mapped[datetime] = mapped_column(Moment)
    changed: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class ItemPhotoRow(Base):
    """A photo of an item; its files lie beside the database, as those of cases."""

    __tablename__ = "item_photos"
    __table_args__ = (Index("uq_item_photos_token", "token", unique=True),)

    id: Mapped[int] = mapped_column(primary_key=True)
    item_id: Mapped[int] = mapped_column(ForeignKey("items.id"), index=True)
    photo: Mapped[str] = mapped_column(String(40))
    """The name that it is kept under, outside the database."""
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    token: Mapped[str | None] = mapped_column(String(40))


class ItemWordRow(Base):
    """A word that an item is found by. Whose it is stands in `people` alone, which is searched besides."""

    __tablename__ = "item_words"
    __table_args__ = (Index("ix_item_words_item", "item_id", "word"),)

    word: Mapped[str] = mapped_column(IN_BYTE_ORDER, primary_key=True)
    item_id: Mapped[int] = mapped_column(ForeignKey("items.id"), primary_key=True)


class LoanRow(Base):
    """An item that was lent: to whom, until when, and how it came back."""

    __tablename__ = "loans"
    __table_args__ = (Index("uq_loans_token", "token", unique=True),)

    id: Mapped[int] = mapped_column(primary_key=True)
    item_id: Mapped[int] = mapped_column(ForeignKey("items.id"), index=True)
    to_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    out: Mapped[datetime] = mapped_column(Moment)
    until: Mapped[date | None]
    back: Mapped[datetime | None] = mapped_column(Moment)
    back_state: Mapped[str] = mapped_column(Text, server_default="")
    token: Mapped[str | None] = mapped_column(String(40))


class ReadingRow(Base):
    """A value measured on an item: in ohms, grams, millimetres; a lamé's map as a list of rows besides its worst."""

    __tablename__ = "readings"
    __table_args__ = (Index("ix_readings_item", "item_id", "quantity", "at"), Index("uq_readings_token", "token", unique=True))

    id: Mapped[int] = mapped_column(primary_key=True)
    item_id: Mapped[int] = mapped_column(ForeignKey("items.id"))
    job_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id"), index=True)
    quantity: Mapped[str] = mapped_column(String(60))
    """The quantity as `rules/` names it."""
    line: Mapped[str] = mapped_column(String(10), server_default="")
    """Which of the lines of a cord, reel or cable it was measured on."""
    value: Mapped[float] = mapped_column(Double)
    unit: Mapped[str] = mapped_column(String(10))
    clause: Mapped[str] = mapped_column(String(40), server_default="")
    """The clause it was held against, with its edition."""
    passed: Mapped[bool | None]
    map: Mapped[list[list[float]] | None] = mapped_column(JSON(none_as_null=True))
    instrument_id: Mapped[int | None] = mapped_column(ForeignKey("items.id"))
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    token: Mapped[str | None] = mapped_column(String(40))


class JobRow(Base):
    """A job card: what is to be done to an item, and what was."""

    __tablename__ = "jobs"
    __table_args__ = (
        Index("uq_jobs_token", "token", unique=True),
        Index("ix_jobs_item", "item_id", "id"),
        Index("ix_jobs_queue", "state", "promised", "id"),
        Index("ix_jobs_case", "case_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    item_id: Mapped[int] = mapped_column(ForeignKey("items.id"))
    case_id: Mapped[str | None] = mapped_column(ForeignKey("cases.id"))
    kind: Mapped[str] = mapped_column(String(40))
    """“mend”, “check”, or a kind of making up new: “rewire”, “new blade”, “new cord”, “set up”."""
    complaint: Mapped[str] = mapped_column(Text, server_default="")
    evidence: Mapped[dict[str, Any] | None] = mapped_column(JSON(none_as_null=True))
    """What a case brought along when it was handed over: trials in words, suspects with their probabilities, proof."""
    state: Mapped[str] = mapped_column(String(20), server_default="waiting")
    """“waiting”, “in hand”, “done”, “handed back”, “given up”."""
    sound: Mapped[bool | None]
    """Whether nothing was found; null while it is open."""
    minutes: Mapped[float | None] = mapped_column(Double)
    promised: Mapped[date | None]
    opened: Mapped[datetime] = mapped_column(Moment)
    changed: Mapped[datetime] = mapped_column(Moment, index=True)
    done: Mapped[datetime | None] = mapped_column(Moment, index=True)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    version: Mapped[int] = mapped_column(default=1)
    token: Mapped[str | None] = mapped_column(String(40))


class JobLineRow(Base):
    """A line of a job card. Nothing is deleted: what is taken back is marked so."""

    __tablename__ = "job_lines"
    __table_args__ = (
        UniqueConstraint("job_id", "number"),
        Index("ix_job_lines_ref", "kind", "ref"),
        Index("uq_job_lines_token", "token", unique=True),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"))
    number: Mapped[int]
    kind: Mapped[str] = mapped_column(String(10))
    """“found” (a failure), “repair”, “part” (from stock), “step” (of making up), “proof”, “note”."""
    ref: Mapped[str] = mapped_column(String(120), server_default="")
    """The kit's own name of failure, repair or step; of a part its code."""
    text: Mapped[str] = mapped_column(Text, server_default="")
    count: Mapped[float | None] = mapped_column(Double)
    """How many parts, or the value measured."""
    cost: Mapped[int | None]
    """What the parts cost then, in hundredths."""
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    taken_back: Mapped[datetime | None] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class PartRow(Base):
    """A kind of part in stock, in one bin."""

    __tablename__ = "parts"
    __table_args__ = (Index("uq_parts_code", "code", unique=True), Index("uq_parts_token", "token", unique=True))

    id: Mapped[int] = mapped_column(primary_key=True)
    code: Mapped[str] = mapped_column(String(12))
    name: Mapped[str] = mapped_column(String(120))
    fits: Mapped[list[str]] = mapped_column(JSON, server_default="[]")
    """The kit's own names of the parts it replaces, as “weapon/part”."""
    made_by: Mapped[str] = mapped_column(String(60), server_default="")
    bin: Mapped[str] = mapped_column(String(20), server_default="")
    count: Mapped[int] = mapped_column(server_default="0")
    least: Mapped[int] = mapped_column(server_default="0")
    """As many as should always be there."""
    price: Mapped[int | None]
    supplier: Mapped[str] = mapped_column(String(80), server_default="")
    version: Mapped[int] = mapped_column(default=1)
    changed: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class ChoiceRow(Base):
    """What this club has chosen for the whole of its records, such as whether the reasoning learns from them."""

    __tablename__ = "choices"

    name: Mapped[str] = mapped_column(String(40), primary_key=True)
    value: Mapped[Any] = mapped_column(JSON)
    version: Mapped[int] = mapped_column(default=1)
    changed: Mapped[datetime] = mapped_column(Moment)


class MoveRow(Base):
    """Parts that came in, were used, or were counted; `count` of a part is the sum of its moves."""

    __tablename__ = "moves"
    __table_args__ = (Index("uq_moves_token", "token", unique=True),)

    id: Mapped[int] = mapped_column(primary_key=True)
    part_id: Mapped[int] = mapped_column(ForeignKey("parts.id"), index=True)
    change: Mapped[int]
    why: Mapped[str] = mapped_column(String(10))
    """“in”, “used”, “back”, “counted”."""
    line_id: Mapped[int | None] = mapped_column(ForeignKey("job_lines.id"), index=True)
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    token: Mapped[str | None] = mapped_column(String(40))
