"""Groups of learners in, with the series of tasks that are set for them: functions of one transaction, noted in the trail."""

from __future__ import annotations

from dataclasses import dataclass
from secrets import choice
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from foible.errors import InputError, NotFoundError
from foible.records.cases import LETTERS
from foible.records.practice import Learner, learner_made
from foible.records.practice_tables import GroupRow, LearnerRow, SeriesRow
from foible.records.register.turn import made_by_token

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from sqlalchemy.orm import Session

    from foible.records.register.turn import Turn

__all__ = [
    "Group", "Series", "add_group", "add_series", "close_group", "end_series", "group_by_code", "groups_all", "join_group",
    "learners_in", "leave_group", "series_of",
]  # fmt: skip

CODE_LENGTH = 6
"""Characters of a code: a billion of them, so that nobody joins a group by guessing."""
MOST_TASKS = 20


@dataclass(frozen=True)
class Group:
    """Learners whom somebody teaches."""

    id: int
    code: str
    name: str
    owner_id: int | None
    opened: datetime
    closed: datetime | None
    count: int
    """How many learners are in it."""


@dataclass(frozen=True)
class Series:
    """Tasks for a group, in order."""

    id: int
    title: str
    tasks: tuple[dict[str, Any], ...]
    due: date | None
    set: datetime
    ended: datetime | None


def groups_all(session: Session) -> tuple[Group, ...]:
    """Return the groups, open ones first, the latest of them first."""
    rows = session.scalars(select(GroupRow).order_by(GroupRow.closed.is_not(None), GroupRow.id.desc()))
    return tuple(_group(session, row) for row in rows)


def group_by_code(session: Session, code: str) -> Group:
    """Return a group, however its code was typed. Raises NotFoundError, which names no code: whoever has it was told it."""
    return _group(session, _row(session, code))


def learners_in(session: Session, group_id: int) -> tuple[Learner, ...]:
    """Return the learners of a group by their names."""
    rows = session.scalars(select(LearnerRow).where(LearnerRow.group_id == group_id).order_by(LearnerRow.nickname, LearnerRow.id))
    return tuple(Learner(row.id, row.token, row.nickname, row.group_id, row.person_id, row.began) for row in rows)


def series_of(session: Session, group_id: int) -> tuple[Series, ...]:
    """Return the series of a group, the latest first."""
    rows = session.scalars(select(SeriesRow).where(SeriesRow.group_id == group_id).order_by(SeriesRow.id.desc()))
    return tuple(Series(row.id, row.title, tuple(row.tasks), row.due, row.set, row.ended) for row in rows)


def add_group(turn: Turn, name: str, *, token: str | None = None) -> Group:
    """Add a group of whoever asks; the same token adds no second one. Raises InputError."""
    known = made_by_token(turn, GroupRow, token)
    if known:
        return _group(turn.session, known)
    while turn.session.scalar(select(GroupRow.id).where(GroupRow.code == (code := _made_code()))) is not None:
        pass
    row = GroupRow(name=_words(name, "the name"), code=code, owner_id=turn.by.person_id, opened=turn.at, token=token)
    turn.session.add(row)
    turn.session.flush()
    turn.note("group", row.id, "made", {"code": [None, code]})
    return _group(turn.session, row)


def close_group(turn: Turn, code: str, *, closed: bool) -> None:
    """Close a group, so that nobody joins any more, or open it again; what was learnt stays."""
    row = _row(turn.session, code)
    if (row.closed is not None) is closed:
        return
    row.closed = turn.at if closed else None
    turn.note("group", row.id, "changed", {"closed": [not closed, closed]})


def join_group(session: Session, code: str, token: str, nickname: str, at: datetime) -> Group:
    """Let a learner into a group under a name, whatever group they were in before. Raises NotFoundError and InputError."""
    group = _row(session, code)
    if group.closed is not None:
        raise InputError(seen="this group is closed", remedy="ask whoever teaches it for another code")
    learner = learner_made(session, token, at)
    learner.nickname, learner.group_id = _words(nickname, "the name"), group.id
    session.flush()
    return _group(session, group)


def leave_group(session: Session, learner_id: int, group_id: int | None = None) -> bool:
    """Take a learner out of their group and empty their name; what they have learnt stays theirs. Return whether they were in.

    With `group_id` only out of that one.
    """
    row = session.get(LearnerRow, learner_id)
    if row is None or (group_id is not None and row.group_id != group_id):
        return False
    row.group_id, row.nickname = None, ""
    return True


def add_series(  # noqa: PLR0913 — a series has this many sides
    turn: Turn, code: str, title: str, tasks: Sequence[dict[str, Any]], *, due: date | None, token: str | None
) -> Series:
    """Set a series for a group; the same token sets no second one. Raises InputError and NotFoundError."""
    row = made_by_token(turn, SeriesRow, token)
    if row is None:
        group = _row(turn.session, code)
        if not tasks or len(tasks) > MOST_TASKS:
            raise InputError(seen=f"the series has {len(tasks)} tasks", remedy=f"give it one to {MOST_TASKS}")
        row = SeriesRow(group_id=group.id, title=_words(title, "the title"), tasks=[*tasks], due=due, set=turn.at, token=token)
        turn.session.add(row)
        turn.session.flush()
        turn.note("group", group.id, "set", {"series": row.id, "tasks": len(tasks)})
    return Series(row.id, row.title, tuple(row.tasks), row.due, row.set, row.ended)


def end_series(turn: Turn, code: str, series_id: int) -> None:
    """End a series of a group: nobody is asked to do it any more."""
    group, row = _row(turn.session, code), turn.session.get(SeriesRow, series_id)
    if row is None or row.group_id != group.id:
        raise NotFoundError(what="series", name=str(series_id), known=[])
    if row.ended is None:
        row.ended = turn.at
        turn.note("group", group.id, "ended", {"series": row.id})


def _made_code() -> str:
    return "".join(choice(LETTERS) for _ in range(CODE_LENGTH))


def _row(session: Session, code: str) -> GroupRow:
    bare = "".join(char for char in code.casefold() if char.isalnum())
    row = session.scalars(select(GroupRow).where(GroupRow.code == bare)).one_or_none() if len(bare) == CODE_LENGTH else None
    if row is None:
        raise NotFoundError(what="group", name=code[:20], known=[])
    return row


def _words(text: str, what: str) -> str:
    words = " ".join(text.split())
    if not words or not words.isprintable():
        raise InputError(seen=f"{what} is empty" if not words else f"{what} cannot be shown", remedy="give a few letters")
    return words


def _group(session: Session, row: GroupRow) -> Group:
    count = session.scalar(select(func.count()).select_from(LearnerRow).where(LearnerRow.group_id == row.id)) or 0
    return Group(row.id, row.code, row.name, row.owner_id, row.opened, row.closed, count)
