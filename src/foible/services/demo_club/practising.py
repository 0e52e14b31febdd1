"""An evening a week of invented learners in, a group with progress out; the same seed and the same day make the same ones."""

from __future__ import annotations

from dataclasses import asdict
from datetime import timedelta
from importlib.resources import files
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from foible.practice import Exercise, Result
from foible.records.practice_groups import add_group, add_series, groups_all, join_group
from foible.records.trail import Who
from foible.services.practice.groups import drill_task
from foible.services.practice.progress import new_token, noted_all
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from foible.records.register import RegisterStore, Turn
    from foible.services.reasoning import Reasoning

__all__ = ["fill_practice"]

SEED = 3141
USUAL_S = 22.0
"""What a drill takes somebody who knows [s]."""
BEST = 0.97
"""Nobody gets more than this right."""


class DrillTable(Strict):
    """Drills of a series."""

    idea: str
    weapon: str
    count: int


class SeriesTable(Strict):
    """A series that was set for the group."""

    title: str
    weeks_ago: int
    due_days: int
    drills: tuple[DrillTable, ...]


class LearnerTable(Strict):
    """A learner."""

    name: str
    weapons: tuple[str, ...]
    evenings: float
    """The share of the evenings that they came to."""
    gains: float
    grasp: dict[str, float]


class PracticeFile(Strict):
    """The group."""

    group: str
    weeks: int
    drills: int
    series: tuple[SeriesTable, ...]
    learner: tuple[LearnerTable, ...]


def fill_practice(store: RegisterStore, reasoning: Reasoning, now: datetime, seed: int = SEED) -> bool:
    """Keep the invented learners where there is no group yet, and return whether they were; all of it or nothing."""
    file = read_model(PracticeFile, Path(str(files("foible.services.demo_club") / "data" / "practice.toml")))
    rng = Random(seed)  # noqa: S311 — nothing here is a secret
    evenings = {each.name: tuple(_evenings(file, each, rng, now)) for each in file.learner}
    began = now - timedelta(weeks=file.weeks)

    def change(turn: Turn) -> bool:
        if groups_all(turn.session):
            return False
        group = add_group(turn.dated(began), file.group)
        for name, results in evenings.items():
            token = new_token()
            join_group(turn.session, group.code, token, name, began)
            noted_all(turn.session, token, results)
        for each in file.series:
            tasks = [asdict(drill_task(reasoning.weapon(drill.weapon), drill.idea, drill.count)) for drill in each.drills]
            set_at, due = turn.dated(now - timedelta(weeks=each.weeks_ago)), (now + timedelta(days=each.due_days)).date()
            add_series(set_at, group.code, each.title, tasks, due=due, token=None)
        return True

    return store.write(change, by=Who(), what="the demo")


def _evenings(file: PracticeFile, learner: LearnerTable, rng: Random, now: datetime) -> Iterator[tuple[Result, datetime]]:
    """Yield what a learner has shown, the oldest first."""
    for week in range(file.weeks):
        if rng.random() > learner.evenings:
            continue
        at = now - timedelta(weeks=file.weeks - week - 1, hours=rng.uniform(20, 30))
        ideas = rng.sample(sorted(learner.grasp), 3)
        for number in range(file.drills):
            idea = ideas[number % len(ideas)]
            right = rng.random() < min(learner.grasp[idea] + week * learner.gains, BEST)
            seconds = round(rng.lognormvariate(2.9 if right else 3.2, 0.4), 1)
            at += timedelta(seconds=seconds + 15)
            name = f"demo {week}-{number}"
            yield Result(idea, rng.choice(learner.weapons), Exercise.DRILL, name, right, seconds, USUAL_S), at
