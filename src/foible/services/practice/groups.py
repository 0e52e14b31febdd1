"""Groups, joined by a code; series of tasks; and who is stuck where, for whoever teaches."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.practice import Exercise, subject, subjects
from foible.records import practice as kept
from foible.records import practice_groups as rows
from foible.services.practice.progress import memory_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from sqlalchemy.orm import Session

    from foible.kit import Weapon
    from foible.records.practice import KeptCard, KeptResult, Learner
    from foible.records.practice_groups import Group, Series
    from foible.records.register import RegisterStore
    from foible.records.trail import Who

__all__ = ["Cell", "GroupView", "Groups", "Row", "Set", "Task", "drill_task", "page_task"]

LAST = 5
"""Results that a cell of the table shows."""
SINCE = timedelta(days=120)
"""How far back they reach."""
MOST_DRILLS = 100
QUESTIONS = 3
"""Questions of a lesson after which it counts as done: every lesson has as many."""


@dataclass(frozen=True)
class Task:
    """One thing to do: so many drills about an idea at a weapon, or a lesson or a hidden fault by its address."""

    words: str
    address: str
    exercise: str
    subject: str
    """The idea of drills; what the results of a lesson or a hidden fault are named by, up to their end."""
    weapon: str
    count: int

    def done_by(self, results: Sequence[KeptResult], since: datetime) -> int:
        """Return how much of it somebody has done since a moment, at most `count`."""
        mine = [each for each in results if each.at >= since and (each.exercise, each.weapon) == (self.exercise, self.weapon)]
        if self.exercise == Exercise.DRILL.value:
            return min(sum(each.subject == self.subject for each in mine), self.count)
        return min(len({each.name for each in mine if each.name.startswith(self.subject)}), self.count)


@dataclass(frozen=True)
class Set:
    """A series as its group sees it."""

    series: Series
    tasks: tuple[Task, ...]


@dataclass(frozen=True)
class Cell:
    """A learner's grasp of one idea, over all weapons."""

    last: str
    """The last results, the latest at the end: “✓” and “✗”."""
    stuck: str
    """In words why they are stuck, with the weapon; empty where they are not."""


@dataclass(frozen=True)
class Row:
    """One learner of the table."""

    learner: Learner
    cells: tuple[Cell, ...]
    """In the order of the ideas."""
    done: tuple[tuple[int, int], ...]
    """For each series that has not ended, how many tasks are done, of how many."""


@dataclass(frozen=True)
class GroupView:
    """A group as whoever teaches it sees it."""

    group: Group
    rows: tuple[Row, ...]
    series: tuple[Set, ...]


class Groups:
    """Everything a surface can do with groups. A call that changes something has saved it before it returns."""

    def __init__(self, store: RegisterStore) -> None:
        self.store = store

    def all(self) -> tuple[Group, ...]:
        """Return the groups."""
        return self.store.read(rows.groups_all)

    def one(self, code: str) -> Group:
        """Return a group. Raises NotFoundError."""
        return self.store.read(lambda session: rows.group_by_code(session, code))

    def of_learner(self, token: str) -> tuple[Group, Learner, tuple[tuple[Set, tuple[int, ...]], ...]] | None:
        """Return the group that a learner is in, the learner, and each series to be done with what is done of each task."""

        def look(session: Session) -> tuple[Group, Learner, tuple[tuple[Set, tuple[int, ...]], ...]] | None:
            learner = kept.learner_by_token(session, token)
            if learner is None or learner.group_id is None:
                return None
            group = next(each for each in rows.groups_all(session) if each.id == learner.group_id)
            running = [_set(each) for each in rows.series_of(session, group.id) if each.ended is None]
            since = min((each.series.set for each in running), default=self.store.clock())
            results = kept.results_by_learner(session, [learner.id], since=since)[learner.id]
            done = [tuple(task.done_by(results, each.series.set) for task in each.tasks) for each in running]
            return group, learner, tuple(zip(running, done, strict=True))

        return self.store.read(look)

    def view(self, code: str) -> GroupView:
        """Return who is in a group and who is stuck where. Raises NotFoundError."""
        now = self.store.clock()

        def look(session: Session) -> GroupView:
            group = rows.group_by_code(session, code)
            learners, series = (
                rows.learners_in(session, group.id),
                tuple(_set(each) for each in rows.series_of(session, group.id)),
            )
            ids = [each.id for each in learners]
            cards, results = kept.cards_of(session, ids), kept.results_by_learner(session, ids, since=now - SINCE)
            running = [each for each in series if each.series.ended is None]
            made = [_row(each, cards[each.id], results[each.id], running, now) for each in learners]
            return GroupView(group, tuple(made), series)

        return self.store.read(look)

    def make(self, name: str, *, by: Who, token: str | None = None) -> Group:
        """Make a group. Raises InputError."""
        return self.store.write(lambda turn: rows.add_group(turn, name, token=token), by=by, what="the group")

    def close(self, code: str, *, closed: bool, by: Who) -> None:
        """Close a group to newcomers, or open it again."""
        self.store.write(lambda turn: rows.close_group(turn, code, closed=closed), by=by, what="the group")

    def join(self, code: str, learner: str, nickname: str) -> Group:
        """Let a learner in who has the code. Raises NotFoundError and InputError."""
        at = self.store.clock()
        return self.store.database.write(lambda session: rows.join_group(session, code, learner, nickname, at), what="who joins")

    def leave(self, learner: str) -> None:
        """Take a learner out of their group, at their own wish, and forget their name."""

        def change(session: Session) -> None:
            if (known := kept.learner_by_token(session, learner)) is not None:
                rows.leave_group(session, known.id)

        self.store.database.write(change, what="who leaves")

    def remove(self, code: str, learner_id: int, *, by: Who) -> None:
        """Take a learner out of a group, and forget their name; what they have learnt stays theirs. Raises NotFoundError."""
        self.store.write(
            lambda turn: rows.leave_group(turn.session, learner_id, rows.group_by_code(turn.session, code).id),
            by=by,
            what="the group",
        )

    def set(  # noqa: PLR0913 — a series has this many sides
        self, code: str, title: str, tasks: Sequence[Task], due: date | None, *, by: Who, token: str | None = None
    ) -> Series:
        """Set a series for a group. Raises InputError and NotFoundError."""
        for task in tasks:
            _check(task)
        told = [asdict(task) for task in tasks]
        return self.store.write(
            lambda turn: rows.add_series(turn, code, title, told, due=due, token=token), by=by, what="the series"
        )

    def end(self, code: str, series_id: int, *, by: Who) -> None:
        """End a series."""
        self.store.write(lambda turn: rows.end_series(turn, code, series_id), by=by, what="the series")


def drill_task(weapon: Weapon, idea: str, count: int) -> Task:
    """Return so many drills about an idea at a weapon as a task. Raises UnknownNameError."""
    words = f"{count} drills: {subject(idea).title}, {weapon.name}"
    return Task(words, f"/practice/drills/{weapon.word}/{idea}", Exercise.DRILL.value, idea, weapon.name, count)


def page_task(address: str, weapons: Sequence[Weapon]) -> Task:
    """Return a lesson or a hidden fault as a task; its address may have a server's name before it. Raises InputError.

    A hidden fault's address may end in “new”: then any one of its level will do.
    """
    path = f"/practice/{address.partition('/practice/')[2]}".partition("?")[0]
    names = {weapon.word: weapon.name for weapon in weapons}
    match path.rstrip("/").split("/")[2:]:
        case ["lessons", word, name, *_] if word in names:
            words = f"lesson: {name.replace('-', ' ')}, {names[word]}"
            return Task(words, f"/practice/lessons/{word}/{name}", Exercise.LESSON.value, f"{name}/", names[word], QUESTIONS)
        case ["strip", word, level, number, *_] if word in names:
            any_of = number == "new"
            words = f"hidden fault: {level.replace('-', ' ')}{'' if any_of else f', {number}'}, {names[word]}"
            of = f"{level}/{'' if any_of else number}"
            return Task(words, f"/practice/strip/{word}/{level}/{number}", Exercise.HIDDEN.value, of, names[word], 1)
    remedy = "copy the address of a lesson, or of a hidden fault with its number"
    raise InputError(seen=f"“{address[:60]}” is no page to be set as a task", remedy=remedy)


def _check(task: Task) -> None:
    """Refuse a task that nobody could do. Raises InputError and UnknownNameError."""
    if task.exercise == Exercise.DRILL.value:
        subject(task.subject)
    if not 1 <= task.count <= MOST_DRILLS:
        raise InputError(seen=f"{task.count} drills are asked for", remedy=f"ask for 1 to {MOST_DRILLS}")


def _set(series: Series) -> Set:
    tasks = tuple(
        Task(**{key: value for key, value in each.items() if key in Task.__dataclass_fields__}) for each in series.tasks
    )
    return Set(series, tasks)


def _row(
    learner: Learner, cards: Sequence[KeptCard], results: Sequence[KeptResult], running: Sequence[Set], now: datetime
) -> Row:
    cells = []
    for idea in subjects():
        last = "".join("✓" if each.right else "✗" for each in results if each.subject == idea.name)[-LAST:]
        stuck = [(each.weapon, memory_of(each).stuck(now)) for each in cards if each.subject == idea.name]
        cells.append(Cell(last, "; ".join(f"{weapon}: {why}" for weapon, why in stuck if why)))
    done = [
        (sum(task.done_by(results, each.series.set) >= task.count for task in each.tasks), len(each.tasks)) for each in running
    ]
    return Row(learner, tuple(cells), tuple(done))
