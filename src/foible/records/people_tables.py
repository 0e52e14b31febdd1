"""The tables of people and of the trail of changes."""

from __future__ import annotations

from datetime import datetime  # noqa: TC003 — SQLAlchemy reads the annotations
from typing import Any

from sqlalchemy import JSON, ForeignKey, Index, String, Text
from sqlalchemy.orm import Mapped, mapped_column

from foible.records.tables import Base, Moment, folded

__all__ = ["PersonRow", "SignInRow", "TrailRow"]


class PersonRow(Base):
    """Somebody who works here, or who owns kit: a person or a club. The only table with a name or an address in it.

    Whoever is erased keeps the row, emptied, so that what refers to it still does.
    """

    __tablename__ = "people"
    __table_args__ = (Index("uq_people_login", "login", unique=True), Index("uq_people_token", "token", unique=True))

    id: Mapped[int] = mapped_column(primary_key=True)
    kind: Mapped[str] = mapped_column(String(10), server_default="person")
    """“person” or “club”."""
    name: Mapped[str] = mapped_column(String(80))
    club: Mapped[str] = mapped_column(String(80), server_default="")
    contact: Mapped[str] = mapped_column(String(200), server_default="")
    login: Mapped[str | None] = mapped_column(String(40))
    """What they sign in by, folded; null for an owner without one."""
    role: Mapped[str | None] = mapped_column(String(10))
    """“look”, “work” or “manage”; null without a login."""
    secret: Mapped[str | None] = mapped_column(String(200))
    """Argon2id of the passphrase or PIN (RFC 9106)."""
    wrong: Mapped[int] = mapped_column(server_default="0")
    """Wrong guesses since the last right one."""
    locked: Mapped[datetime | None] = mapped_column(Moment)
    erased: Mapped[datetime | None] = mapped_column(Moment)
    version: Mapped[int] = mapped_column(default=1)
    changed: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))
    words: Mapped[str] = mapped_column(Text, server_default="")

    def make_searchable(self) -> None:
        """Update the text that a person is searched by."""
        self.words = folded(" ".join((self.name, self.club, self.login or "")))


class SignInRow(Base):
    """Somebody who is signed in on a device. Signing out removes it, so that a cookie kept from before opens nothing."""

    __tablename__ = "sign_ins"
    __table_args__ = (Index("uq_sign_ins_token", "token", unique=True),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    token: Mapped[str] = mapped_column(String(64))
    """SHA-256 of what the device’s session holds, in hexadecimal."""
    at: Mapped[datetime] = mapped_column(Moment)


class TrailRow(Base):
    """A change, once and for all: triggers of the database refuse to change or delete one. It holds ids, never names."""

    __tablename__ = "trail"
    __table_args__ = (Index("ix_trail_of", "kind", "ref", "id"), Index("ix_trail_by", "by_id", "id"))

    id: Mapped[int] = mapped_column(primary_key=True)
    at: Mapped[datetime] = mapped_column(Moment)
    by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    """Who; null for a device on which nobody had signed in."""
    device: Mapped[str] = mapped_column(String(40), server_default="")
    kind: Mapped[str] = mapped_column(String(10))
    """What was changed: “item”, “job”, “part”, “person” …"""
    ref: Mapped[int]
    """Its id."""
    did: Mapped[str] = mapped_column(String(20))
    """“made”, “changed”, “read”, “lent”, “erased” …"""
    what: Mapped[dict[str, Any]] = mapped_column(JSON)
    """By field: from what, to what; of a person's name and contact only that they changed."""
