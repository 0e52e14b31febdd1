"""The table of filled-in sheets: masks, blades, reels, floor cables, pistes, apparatus."""

from __future__ import annotations

from datetime import datetime  # noqa: TC003 — SQLAlchemy reads the annotations
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from foible.records.tables import Base, Moment

__all__ = ["SheetRow"]


class SheetRow(Base):
    """A sheet that somebody filled in, once and for all: whoever looks again fills in another one."""

    __tablename__ = "control_sheets"
    __table_args__ = (
        UniqueConstraint("token", name="uq_control_sheets_token"),
        Index("ix_control_sheets_sheet", "sheet", "id"),
        Index("ix_control_sheets_item_id", "item_id", "id"),
        Index("ix_control_sheets_competition_id", "competition_id", "id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    sheet: Mapped[str] = mapped_column(String(40))
    """Which sheet, by its name in the services' data."""
    weapon: Mapped[str | None] = mapped_column(String(20))
    item_id: Mapped[int | None] = mapped_column(ForeignKey("items.id"))
    """What it is about, where the register has it."""
    competition_id: Mapped[int | None] = mapped_column(ForeignKey("competitions.id"))
    about: Mapped[str] = mapped_column(String(120), server_default="")
    """What it is about, in words: a number on a blade, a piste."""
    edition: Mapped[str] = mapped_column(String(40))
    decision: Mapped[str] = mapped_column(String(40))
    """How a reading near a limit was decided."""
    found: Mapped[dict[str, Any]] = mapped_column(JSON)
    """By row and line: what was read or seen, its verdict, how it was worded."""
    outcome: Mapped[str] = mapped_column(String(20))
    """“pass”, “fail”, “too close to call”, or “not all of it”."""
    note: Mapped[str] = mapped_column(Text, server_default="")
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    token: Mapped[str | None] = mapped_column(String(40))
