"""Results in; out, what a learner knows, what is due and what comes next, by idea and weapon."""

from __future__ import annotations

import secrets
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.practice import Result, subject
from foible.practice.memory import Memory, grade_of, reviewed
from foible.records import practice as kept

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.database import Database

__all__ = ["LONGEST_S", "Card", "Progress", "memory_of", "new_token", "noted_all"]

LONGEST_S = 24 * 3600.0
"""No exercise takes longer [s]; a page that stood open over night says nothing about anybody."""


@dataclass(frozen=True)
class Card:
    """A learner's grasp of one idea at one weapon."""

    subject: str
    weapon: str
    memory: Memory


def new_token() -> str:
    """Return a token for somebody who has none: whoever has it is that learner, so it cannot be guessed."""
    return secrets.token_urlsafe(18)


class Progress:
    """What learners have shown. A call that changes something has saved it before it returns."""

    def __init__(self, database: Database) -> None:
        self.database = database

    def note(self, learner: str, result: Result, now: datetime, *, token: str | None = None) -> None:
        """Note a result of a learner, made where there is none yet, and when the idea is asked again: one transaction.

        `now` is in UTC; the same `token` notes no second result. Raises UnknownNameError, InputError and KeepingError.
        """
        subject(result.subject)
        if not 0 <= result.seconds < float("inf") or not 0 < result.usual_s < float("inf"):
            seen = f"{result.seconds:g} s of usually {result.usual_s:g} s is no time"
            raise InputError(seen=seen, remedy="give seconds from 0 on, and a usual time above 0")

        def change(session: Session) -> None:
            if not kept.result_was_kept(session, token):
                noted_all(session, learner, [(result, now)], token=token)

        self.database.write(change, what="what you have learnt")

    def cards(self, learner: str) -> tuple[Card, ...]:
        """Return what is known of a learner's grasp, an idea at a weapon each; nothing of somebody who has not begun."""

        def look(session: Session) -> tuple[Card, ...]:
            found = kept.learner_by_token(session, learner)
            cards = kept.cards_of(session, [found.id])[found.id] if found else ()
            return tuple(Card(each.subject, each.weapon, memory_of(each)) for each in cards)

        return self.database.read(look, what="what you have learnt")

    def results(self, learner: str, since: datetime) -> tuple[kept.KeptResult, ...]:
        """Return what a learner has shown from a moment on, the latest first."""

        def look(session: Session) -> tuple[kept.KeptResult, ...]:
            found = kept.learner_by_token(session, learner)
            return kept.results_of(session, found.id, since=since) if found else ()

        return self.database.read(look, what="what you have learnt")

    def knows(self, learner: str) -> bool:
        """Return whether anything is kept of a learner with this token."""
        return self.database.read(lambda session: kept.learner_by_token(session, learner) is not None)

    def of_person(self, person_id: int, own: str | None, now: datetime) -> str:
        """Return the token of the learner that a person is; the first time, they become the device's `own` learner."""

        def look(session: Session) -> str | None:
            found = kept.learner_of_person(session, person_id)
            return found.token if found else None

        def change(session: Session) -> str:
            if (found := look(session)) is not None:
                return found
            row = kept.learner_made(session, own or new_token(), now)
            if row.person_id is not None:  # it is somebody else's
                row = kept.learner_made(session, new_token(), now)
            row.person_id = person_id
            return row.token

        return self.database.read(look) or self.database.write(change, what="who practises here")


def noted_all(session: Session, learner: str, results: Iterable[tuple[Result, datetime]], *, token: str | None = None) -> None:
    """Note results of a learner, the oldest first, in one transaction; a `token` is for a single one."""
    row, memories = None, dict[tuple[str, str], Memory]()
    for result, at in results:
        row = row or kept.learner_made(session, learner, at)
        seconds, about = min(result.seconds, LONGEST_S), (result.subject, result.weapon)
        if about not in memories and (card := kept.card_of(session, row.id, *about)):
            memories[about] = memory_of(card)
        grade = grade_of(result, memories.get(about), at)
        shown = (*about, result.exercise.value, result.name, result.right, seconds, result.usual_s)
        kept.add_result(session, row.id, kept.KeptResult(*shown, grade, at), token=token)
        memories[about] = reviewed(memories.get(about), result, at)
    for about, memory in memories.items():
        assert row is not None  # noqa: S101 — whoever has a card has a row
        kept.keep_card(session, row.id, kept.KeptCard(*about, **asdict(memory)))


def memory_of(card: kept.KeptCard) -> Memory:
    """Return what the scheduler knows, as it was kept."""
    values = asdict(card)
    return Memory(**{key: value for key, value in values.items() if key not in ("subject", "weapon")})
