"""What learners have shown: the scheduler's published recurrence by hand, grades by result and time, and what is kept of whom."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from foible.errors import InputError, UnknownNameError
from foible.practice import Exercise, Result
from foible.practice.memory import Memory, chance, grade_of, reviewed
from foible.records import Database
from foible.services.practice.progress import Progress

if TYPE_CHECKING:
    from collections.abc import Iterator

START = datetime(2026, 10, 3, 18, 0, tzinfo=UTC)
DAY = timedelta(days=1)
ANN, BO = "learner-ann", "learner-bo"

W = (
    0.212, 1.2931, 2.3065, 8.2956, 6.4133, 0.8334, 3.0194, 0.001, 1.8722, 0.1666, 0.796,
    1.4835, 0.0614, 0.2629, 1.6483, 0.6014, 1.8729, 0.5425, 0.0912, 0.0658, 0.1542,
)  # fmt: skip
"""The default weights of FSRS-6 (Open Spaced Repetition, free-spaced-repetition-scheduler, “The Algorithm”; from memory)."""


def result(*, right: bool = True, seconds: float = 10, usual: float = 10, subject: str = "loop", weapon: str = "foil") -> Result:
    return Result(subject, weapon, Exercise.DRILL, "which lamp lights 1", right, seconds, usual)


SECONDS = {1: 10.0, 2: 16.0, 3: 10.0, 4: 5.0}
"""What takes so long of usually ten seconds gets this grade, by the thresholds of data/memory.toml; 1 is wrong, however long."""
REVIEWS = ((0, 3), (0, 3), (2, 3), (5, 4), (30, 2), (40, 1), (0, 3), (3, 3), (9, 4), (4, 2))
"""Ten reviews: days since the one before (0: the same evening), and the grade. Of “hard” on the same evening releases differ."""


def by_hand(reviews: tuple[tuple[int, int], ...]) -> list[tuple[float, float]]:
    """Return stability [days] and difficulty after each review.

    The published recurrence of FSRS-6 (source as for `W`, from memory), with D₀(G) = w₄ − e^(w₅(G−1)) + 1:
    first review: S = w_(G−1), D = D₀(G) within 1 … 10.
    Later D′ = w₇·D₀(4) + (1 − w₇)·(D − w₆(G − 3)(10 − D)/9), within 1 … 10.
    On the same day: S′ = S·e^(w₁₇(G − 3 + w₁₈))·S^(−w₁₉), a factor not below 1 for G ≥ 3.
    Retrievability after t days: R = (1 + F·t/S)^(−w₂₀), F = 0.9^(−1/w₂₀) − 1, so that R = 0.9 at t = S.
    Recalled: S′ = S(1 + e^w₈(11 − D)S^(−w₉)(e^(w₁₀(1−R)) − 1)·(w₁₅ if hard)·(w₁₆ if easy)).
    Forgotten: S′ = min(w₁₁·D^(−w₁₂)((S + 1)^w₁₃ − 1)e^(w₁₄(1−R)), S/e^(w₁₇w₁₈)).
    Stability takes the difficulty from before the review.
    """

    def first_difficulty(grade: int) -> float:
        return W[4] - math.exp(W[5] * (grade - 1)) + 1

    found: list[tuple[float, float]] = []
    for days, grade in reviews:
        if not found:
            found.append((W[grade - 1], min(max(first_difficulty(grade), 1), 10)))
            continue
        s, d = found[-1]
        r = (1 + (0.9 ** (-1 / W[20]) - 1) * days / s) ** -W[20]
        if days == 0:
            factor = math.exp(W[17] * (grade - 3 + W[18])) * s ** -W[19]
            after = s * (max(factor, 1) if grade > 2 else factor)
        elif grade == 1:
            forgotten = W[11] * d ** -W[12] * ((s + 1) ** W[13] - 1) * math.exp(W[14] * (1 - r))
            after = min(forgotten, s / math.exp(W[17] * W[18]))
        else:
            gain = math.exp(W[8]) * (11 - d) * s ** -W[9] * (math.exp(W[10] * (1 - r)) - 1)
            after = s * (1 + gain * (W[15] if grade == 2 else 1) * (W[16] if grade == 4 else 1))
        moved = W[7] * first_difficulty(4) + (1 - W[7]) * (d - W[6] * (grade - 3) * (10 - d) / 9)
        found.append((after, min(max(moved, 1), 10)))
    return found


def test_ten_reviews_follow_the_published_recurrence() -> None:
    memory: Memory | None = None
    now = START
    for (days, grade), (stability, difficulty) in zip(REVIEWS, by_hand(REVIEWS), strict=True):
        now += days * DAY + timedelta(minutes=5)
        shown = result(right=grade > 1, seconds=SECONDS[grade])
        assert grade_of(shown, memory, now) == grade
        memory = reviewed(memory, shown, now)
        assert memory.stability == pytest.approx(stability, rel=1e-9)
        assert memory.difficulty == pytest.approx(difficulty, rel=1e-9)
    assert memory is not None
    assert memory.reviews == 10
    assert chance(memory, now + round(memory.stability) * DAY) == pytest.approx(0.9, abs=0.01), "stability is where it is 0.9"
    assert (memory.due - memory.last).days == round(memory.stability), "so it is asked again then"


@given(st.booleans(), st.floats(0, 1e6), st.floats(0.1, 1e4))
def test_nobody_grades_himself_and_wrong_is_never_told_as_right(right: bool, seconds: float, usual: float) -> None:  # noqa: FBT001 — hypothesis gives it
    before = reviewed(None, result(), START)
    grade = grade_of(result(right=right, seconds=seconds, usual=usual), before, START + DAY)
    assert (grade == 1) is not right
    if right:
        assert grade_of(result(seconds=seconds * 2, usual=usual), before, START + DAY) <= grade, "longer is never better"


def test_what_is_quickly_told_on_the_first_day_is_not_taken_for_remembered() -> None:
    """Ten quick answers in ten minutes: asked again within days, and taken for known only another day."""
    memory: Memory | None = None
    for minute in range(10):
        quick, now = result(seconds=3), START + timedelta(minutes=minute)
        assert grade_of(quick, memory, now) == 3
        memory = reviewed(memory, quick, now)
    assert memory
    assert DAY < memory.due - now <= 7 * DAY
    assert not memory.known
    assert grade_of(result(seconds=3), memory, now + DAY) == 4


@pytest.fixture
def progress(database_url: str) -> Iterator[Progress]:
    made = Progress(Database(database_url))
    yield made
    made.database.dispose()


def test_results_are_kept_by_learner_idea_and_weapon_and_stay(progress: Progress) -> None:
    for right in (True, False, False, False):
        progress.note(ANN, result(right=right), START)
    progress.note(ANN, result(weapon="épée"), START)
    progress.note(BO, result(), START, token="form-1")
    progress.note(BO, result(right=False), START, token="form-1")
    assert [(card.subject, card.weapon, card.memory.reviews) for card in progress.cards(ANN)] == [
        ("loop", "foil", 4),
        ("loop", "épée", 1),
    ]
    assert progress.cards(ANN)[0].memory.stuck(START) == "3 wrong in a row"
    (bo,) = progress.cards(BO)
    assert (bo.memory.reviews, bo.memory.wrong_run) == (1, 0), "the same form brings one result: the first answer counts"
    assert bo.memory.stuck(bo.memory.due + 13 * DAY) == ""
    assert bo.memory.stuck(bo.memory.due + 14 * DAY) == "due for 14 days"
    assert progress.cards("nobody") == ()
    for change in ("UPDATE practice_results SET seconds = 1", "DELETE FROM practice_results"):
        with pytest.raises(Exception, match="a result stays as it is") as refused:
            progress.database.write(lambda session, change=change: session.execute(text(change)), what="a result")  # type: ignore[misc]
        assert isinstance(refused.value.__cause__ or refused.value, DBAPIError)


def test_what_is_no_result_is_refused_and_nothing_is_kept(progress: Progress) -> None:
    with pytest.raises(UnknownNameError, match="luck"):
        progress.note(ANN, result(subject="luck"), START)
    for seconds, usual in ((-1, 10), (math.inf, 10), (math.nan, 10), (10, 0), (10, -5)):
        with pytest.raises(InputError, match="is no time"):
            progress.note(ANN, result(seconds=seconds, usual=usual), START)
    assert progress.cards(ANN) == ()
