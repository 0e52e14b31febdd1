"""A result in; out, when the same idea is asked again: spaced repetition by FSRS-6, graded by result and time.

Nobody rates himself. Wrong is “again”; right but slow is “hard”; right in time is “good”; right and quick is “easy”, except
on the same day. The scheduler is the library `fsrs`, an open algorithm (Open Spaced Repetition, “The Algorithm”), with its
default weights; it adds no random days here, so that the same results always give the same days.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from fsrs import Card, Rating, Scheduler, State

from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from foible.practice.ideas import Result

__all__ = ["Habits", "Memory", "chance", "grade_of", "habits", "reviewed"]

FILE = Path(str(files("foible.practice") / "data" / "memory.toml"))
WEIGHTS = (
    0.212, 1.2931, 2.3065, 8.2956, 6.4133, 0.8334, 3.0194, 0.001, 1.8722, 0.1666, 0.796,
    1.4835, 0.0614, 0.2629, 1.6483, 0.6014, 1.8729, 0.5425, 0.0912, 0.0658, 0.1542,
)  # fmt: skip
"""The default weights of FSRS-6, as its authors give them today; releases of the library differ in theirs."""
AGAIN, HARD, GOOD, EASY = 1, 2, 3, 4
"""Grades, as the scheduler counts them."""
RESTED = timedelta(hours=12)
"""A night, after which a quick answer is one from memory; judgement, no source."""


class Habits(Strict):
    """What is judgement about learning, as the file says it."""

    retention: float
    quick: float
    slow: float
    known_days: float
    known_reviews: int
    stuck_wrong: int
    stuck_overdue_days: int


@dataclass(frozen=True, slots=True)
class Memory:
    """What the scheduler knows of somebody's grasp of one idea at one weapon."""

    state: int
    """1 learning, 2 review, 3 relearning."""
    step: int | None
    stability: float
    """Days after which it is known with a probability of 0.9."""
    difficulty: float
    """From 1 to 10."""
    due: datetime
    last: datetime
    reviews: int
    wrong_run: int
    """Wrong ones in a row, up to the last."""

    @property
    def known(self) -> bool:
        """Whether it will be remembered for a good while, by more than a lucky guess, and the last one was right."""
        enough = self.reviews >= habits().known_reviews and self.stability >= habits().known_days
        return enough and self.wrong_run == 0

    def is_due(self, now: datetime) -> bool:
        """Return whether it is to be asked again."""
        return self.due <= now

    def stuck(self, now: datetime) -> str:
        """Return in words why somebody is stuck here; empty where they are not."""
        if self.wrong_run >= habits().stuck_wrong:
            return f"{self.wrong_run} wrong in a row"
        days = (now - self.due) // timedelta(days=1)
        return f"due for {days} days" if days >= habits().stuck_overdue_days else ""


@lru_cache(maxsize=1)
def habits() -> Habits:
    """Return what is judgement about learning."""
    return read_model(Habits, FILE)


def grade_of(result: Result, before: Memory | None, at: datetime) -> int:
    """Return the grade of a result: 1 again, 2 hard, 3 good, 4 easy. Only what was right and how long it took counts.

    Nothing is easy on the day on which it was practised before: what has just been read is quickly told, and soon forgotten.
    """
    if not result.right:
        return AGAIN
    share = result.seconds / result.usual_s if result.usual_s > 0 else 1.0
    if share > habits().slow:
        return HARD
    rested = before is not None and at - before.last >= RESTED
    return EASY if share <= habits().quick and rested else GOOD


def reviewed(before: Memory | None, result: Result, at: datetime) -> Memory:
    """Return what the scheduler knows after one more result; `at` is in UTC."""
    card, _ = _scheduler().review_card(_card(before, at), Rating(grade_of(result, before, at)), at)
    assert card.stability is not None  # noqa: S101 — every review gives both
    assert card.difficulty is not None  # noqa: S101
    wrong_run = 0 if result.right else (before.wrong_run if before else 0) + 1
    reviews = (before.reviews if before else 0) + 1
    return Memory(card.state.value, card.step, card.stability, card.difficulty, card.due, at, reviews, wrong_run)


def chance(memory: Memory, now: datetime) -> float:
    """Return the probability that it is known today, as the scheduler expects it; whole days count."""
    return float(_scheduler().get_card_retrievability(_card(memory, now), now))


@lru_cache(maxsize=1)
def _scheduler() -> Scheduler:
    return Scheduler(WEIGHTS, desired_retention=habits().retention, enable_fuzzing=False)


def _card(memory: Memory | None, now: datetime) -> Card:
    if memory is None:
        return Card(card_id=0, due=now)
    return Card(
        card_id=0,
        state=State(memory.state),
        step=memory.step,
        stability=memory.stability,
        difficulty=memory.difficulty,
        due=memory.due,
        last_review=memory.last,
    )
