"""The tables of the practice strip: learners, what each exercise has shown, what the scheduler knows, groups and their series."""

from __future__ import annotations

from datetime import date, datetime  # noqa: TC003 — SQLAlchemy reads the annotations
from typing import Any

from sqlalchemy import JSON, Double, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from foible.records.tables import Base, Moment

__all__ = ["CardRow", "GroupRow", "LearnerRow", "ResultRow", "SeriesRow"]


class GroupRow(Base):
    """Learners whom somebody teaches; whoever has the code joins."""

    __tablename__ = "practice_groups"
    __table_args__ = (
        Index("uq_practice_groups_code", "code", unique=True),
        Index("uq_practice_groups_token", "token", unique=True),
        Index("ix_practice_groups_owner_id", "owner_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    code: Mapped[str] = mapped_column(String(12))
    owner_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    """Who teaches it; null where nobody had signed in."""
    opened: Mapped[datetime] = mapped_column(Moment)
    closed: Mapped[datetime | None] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))


class LearnerRow(Base):
    """Somebody who practises, with an account or without; whoever has the token is this learner.

    The nickname is the only thing that may tell who it is, besides the person; it is emptied when either is erased.
    """

    __tablename__ = "learners"
    __table_args__ = (
        Index("uq_learners_token", "token", unique=True),
        Index("uq_learners_person_id", "person_id", unique=True),
        Index("ix_learners_group_id", "group_id"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    token: Mapped[str] = mapped_column(String(40))
    nickname: Mapped[str] = mapped_column(String(40), server_default="")
    group_id: Mapped[int | None] = mapped_column(ForeignKey("practice_groups.id"))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    """Who they are, where they have signed in."""
    began: Mapped[datetime] = mapped_column(Moment)


class ResultRow(Base):
    """What one question, drill or hidden fault has shown; triggers of the database refuse to change or delete one."""

    __tablename__ = "practice_results"
    __table_args__ = (
        Index("ix_practice_results_of", "learner_id", "id"),
        Index("uq_practice_results_token", "token", unique=True),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    learner_id: Mapped[int] = mapped_column(ForeignKey("learners.id"))
    subject: Mapped[str] = mapped_column(String(40))
    """The idea it is about."""
    weapon: Mapped[str] = mapped_column(String(20))
    exercise: Mapped[str] = mapped_column(String(20))
    """“lesson”, “drill” or “hidden fault”."""
    name: Mapped[str] = mapped_column(String(120))
    right: Mapped[bool]
    seconds: Mapped[float] = mapped_column(Double)
    usual: Mapped[float] = mapped_column(Double)
    """What somebody who knows takes [s]."""
    grade: Mapped[int]
    """As the scheduler has it: 1 again, 2 hard, 3 good, 4 easy."""
    at: Mapped[datetime] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(60))
    """The form that brought it; the same one brings no second result."""


class CardRow(Base):
    """What the scheduler knows of a learner's grasp of one idea at one weapon."""

    __tablename__ = "practice_cards"
    __table_args__ = (
        UniqueConstraint("learner_id", "subject", "weapon", name="uq_practice_cards_learner_id"),
        Index("ix_practice_cards_due", "learner_id", "due"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    learner_id: Mapped[int] = mapped_column(ForeignKey("learners.id"))
    subject: Mapped[str] = mapped_column(String(40))
    weapon: Mapped[str] = mapped_column(String(20))
    state: Mapped[int]
    """1 learning, 2 review, 3 relearning."""
    step: Mapped[int | None]
    stability: Mapped[float] = mapped_column(Double)
    """Days after which it is still known with a probability of 0.9."""
    difficulty: Mapped[float] = mapped_column(Double)
    due: Mapped[datetime] = mapped_column(Moment)
    last: Mapped[datetime] = mapped_column(Moment)
    reviews: Mapped[int]
    wrong_run: Mapped[int]
    """Wrong ones in a row, up to the last."""


class SeriesRow(Base):
    """Tasks for a group, in order, until a day."""

    __tablename__ = "practice_series"
    __table_args__ = (
        Index("ix_practice_series_group_id", "group_id", "id"),
        Index("uq_practice_series_token", "token", unique=True),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    group_id: Mapped[int] = mapped_column(ForeignKey("practice_groups.id"))
    title: Mapped[str] = mapped_column(String(120))
    tasks: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    """Each by what is done and where: exercise, idea, weapon, how many, and the address of a lesson or a hidden fault."""
    due: Mapped[date | None]
    set: Mapped[datetime] = mapped_column(Moment)
    ended: Mapped[datetime | None] = mapped_column(Moment)
    token: Mapped[str | None] = mapped_column(String(40))
