"""What the scheduler knows of a learner in; out, by idea and weapon, how it stands, in words, and what comes next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from foible.practice import subjects
from foible.practice.drills import drilled_ideas
from foible.practice.memory import chance

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Sequence
    from datetime import datetime

    from foible.kit import Weapon
    from foible.practice.memory import Memory
    from foible.records.practice import KeptResult

__all__ = ["Standing", "Week", "next_of", "standings", "weeks_of"]

DAY = timedelta(days=1)
MANY = 15
"""From so many days on, weeks are told."""
WEEKS = 8
"""Weeks that a plot shows."""


@dataclass(frozen=True)
class Standing:
    """How one idea stands at one weapon."""

    subject: str
    title: str
    weapon: str
    word: str
    """The weapon's word in addresses."""
    memory: Memory | None
    state: str
    """“not begun”, “stuck”, “due”, “known” or “learning”."""
    say: str
    """The same in a sentence."""
    chance: float | None
    """The probability that it is still known; None on the day on which it was practised, or where nothing was."""

    @property
    def due(self) -> bool:
        """Whether it is to be practised now."""
        return self.state in ("stuck", "due")


@dataclass(frozen=True)
class Week:
    """What was answered in a week."""

    ago: int
    """Weeks ago; 0 is the last seven days."""
    right: int
    wrong: int


def standings(cards: Iterable[tuple[str, str, Memory]], weapons: Sequence[Weapon], now: datetime) -> tuple[Standing, ...]:
    """Return how every idea stands at every weapon with drills; `cards`: idea, weapon and what the scheduler knows."""
    known = {(idea, weapon): memory for idea, weapon, memory in cards}
    return tuple(
        _standing(each.name, each.title, weapon, known.get((each.name, weapon.name)), now)
        for weapon in weapons
        for each in subjects()
        if each.name in drilled_ideas(weapon.name) or (each.name, weapon.name) in known
    )


def next_of(found: Sequence[Standing], taught: Container[tuple[str, str]]) -> Standing | None:
    """Return what to practise next: what is due and least likely to be known, else what has not begun; None where nothing is.

    What has not begun is taken in order, where a lesson about it was taken (`taught`: ideas with weapons), and at a weapon that
    was practised before, where there is one.
    """
    due = [each for each in found if each.due]
    if due:
        return min(due, key=lambda each: 1.0 if each.chance is None else each.chance)
    practised = {each.weapon for each in found if each.memory}
    new = [each for each in found if each.memory is None and (each.subject, each.weapon) in taught]
    return next((each for each in new if each.weapon in practised), new[0] if new else None)


def weeks_of(results: Iterable[KeptResult], now: datetime) -> tuple[Week, ...]:
    """Return what was answered in the last weeks, the oldest first."""
    counts = [[0, 0] for _ in range(WEEKS)]
    for each in results:
        ago = (now - each.at) // (7 * DAY)
        if 0 <= ago < WEEKS:
            counts[ago][0 if each.right else 1] += 1
    return tuple(Week(ago, *counts[ago]) for ago in reversed(range(WEEKS)))


def _standing(subject: str, title: str, weapon: Weapon, memory: Memory | None, now: datetime) -> Standing:
    if memory is None:
        return Standing(subject, title, weapon.name, weapon.word, None, "not begun", "not begun", None)
    stuck, likely = memory.stuck(now), chance(memory, now)
    if stuck:
        state, say = "stuck", f"stuck: {stuck}"
    elif memory.is_due(now):
        state, say = "due", "to be asked again now"
    elif memory.known:
        state, say = "known", f"remembered for days; asked again {_when(memory.due, now)}, before it is likely to slip"
    else:
        state, say = "learning", f"new to you; asked again {_when(memory.due, now)}, before it is likely to slip"
    fresh = now - memory.last < DAY
    return Standing(subject, title, weapon.name, weapon.word, memory, state, say, None if fresh else likely)


def _when(due: datetime, now: datetime) -> str:
    days = (due - now + DAY / 2) // DAY
    if days < 1:
        return "today"
    return "tomorrow" if days == 1 else f"in {days} days" if days < MANY else f"in about {round(days / 7)} weeks"
