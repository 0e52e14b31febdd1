"""Learners in, with what each exercise has shown of them and what the scheduler knows: functions of one transaction."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from sqlalchemy import select

from foible.records.practice_tables import CardRow, LearnerRow, ResultRow

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from sqlalchemy.orm import Session

__all__ = [
    "KeptCard", "KeptResult", "Learner", "add_result", "card_of", "cards_of", "keep_card", "learner_by_token",
    "learner_made", "learner_of_person", "result_was_kept", "results_by_learner", "results_of",
]  # fmt: skip


@dataclass(frozen=True)
class Learner:
    """Somebody who practises."""

    id: int
    token: str
    nickname: str
    group_id: int | None
    person_id: int | None
    began: datetime


@dataclass(frozen=True)
class KeptResult:
    """What one question, drill or hidden fault has shown."""

    subject: str
    weapon: str
    exercise: str
    name: str
    right: bool
    seconds: float
    usual: float
    grade: int
    at: datetime


@dataclass(frozen=True)
class KeptCard:
    """What the scheduler knows of a learner's grasp of one idea at one weapon."""

    subject: str
    weapon: str
    state: int
    step: int | None
    stability: float
    difficulty: float
    due: datetime
    last: datetime
    reviews: int
    wrong_run: int


RESULT = tuple(getattr(ResultRow, name) for name in KeptResult.__dataclass_fields__)
CARD = tuple(getattr(CardRow, name) for name in KeptCard.__dataclass_fields__)


def learner_by_token(session: Session, token: str) -> Learner | None:
    """Return a learner; None where nothing has been kept of them yet."""
    return _learner(session.scalars(select(LearnerRow).where(LearnerRow.token == token)).one_or_none())


def learner_of_person(session: Session, person_id: int) -> Learner | None:
    """Return the learner that a person is; None where they have not practised under their name."""
    return _learner(session.scalars(select(LearnerRow).where(LearnerRow.person_id == person_id)).one_or_none())


def learner_made(session: Session, token: str, at: datetime) -> LearnerRow:
    """Return the row of a learner, locked until the transaction ends; it is made where there is none."""
    row = session.scalars(select(LearnerRow).where(LearnerRow.token == token).with_for_update()).one_or_none()
    if row is None:
        row = LearnerRow(token=token, nickname="", began=at)
        session.add(row)
        session.flush()
    return row


def result_was_kept(session: Session, token: str | None) -> bool:
    """Return whether the form with this token has brought its result already."""
    return bool(token) and session.scalar(select(ResultRow.id).where(ResultRow.token == token)) is not None


def add_result(session: Session, learner_id: int, result: KeptResult, *, token: str | None = None) -> None:
    """Add a result; it stays as it is."""
    session.add(ResultRow(learner_id=learner_id, token=token, **asdict(result)))


def results_of(session: Session, learner_id: int, *, since: datetime | None = None, limit: int = 500) -> tuple[KeptResult, ...]:
    """Return a learner's results, the latest first."""
    chosen = select(*RESULT).where(ResultRow.learner_id == learner_id).order_by(ResultRow.id.desc()).limit(limit)
    if since is not None:
        chosen = chosen.where(ResultRow.at >= since)
    return tuple(KeptResult(*row) for row in session.execute(chosen))


def results_by_learner(session: Session, learners: Iterable[int], *, since: datetime) -> dict[int, tuple[KeptResult, ...]]:
    """Return the results of some learners from a moment on, by their ids, the oldest first."""
    found: dict[int, list[KeptResult]] = {each: [] for each in learners}
    chosen = select(ResultRow.learner_id, *RESULT).where(ResultRow.learner_id.in_(found), ResultRow.at >= since)
    for learner, *values in session.execute(chosen.order_by(ResultRow.id)):
        found[learner].append(KeptResult(*values))
    return {learner: tuple(results) for learner, results in found.items()}


def card_of(session: Session, learner_id: int, subject: str, weapon: str) -> KeptCard | None:
    """Return what the scheduler knows of one idea at one weapon."""
    chosen = select(*CARD).where(CardRow.learner_id == learner_id, CardRow.subject == subject, CardRow.weapon == weapon)
    row = session.execute(chosen).one_or_none()
    return KeptCard(*row) if row else None


def cards_of(session: Session, learners: Iterable[int]) -> dict[int, tuple[KeptCard, ...]]:
    """Return what the scheduler knows of some learners, by their ids."""
    found: dict[int, list[KeptCard]] = {each: [] for each in learners}
    chosen = select(CardRow.learner_id, *CARD).where(CardRow.learner_id.in_(found)).order_by(CardRow.id)
    for learner, *values in session.execute(chosen):
        found[learner].append(KeptCard(*values))
    return {learner: tuple(cards) for learner, cards in found.items()}


def keep_card(session: Session, learner_id: int, card: KeptCard) -> None:
    """Keep what the scheduler knows now in the place of what it knew."""
    chosen = select(CardRow).where(
        CardRow.learner_id == learner_id, CardRow.subject == card.subject, CardRow.weapon == card.weapon
    )
    row = session.scalars(chosen).one_or_none()
    if row is None:
        session.add(CardRow(learner_id=learner_id, **asdict(card)))
        return
    for key, value in asdict(card).items():
        setattr(row, key, value)


def _learner(row: LearnerRow | None) -> Learner | None:
    return Learner(row.id, row.token, row.nickname, row.group_id, row.person_id, row.began) if row else None
