"""The table before the event: fencers, what they hand in, hours and teams in; when it is done and how long fencers wait, out.

A day is simulated as `forecast` does it, from the plan alone: nobody has come, nothing has been measured. A team is one post
at each stage (m.43 has three people to a team: gauges, electrical tests, marks; and at least three teams).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np

from foible.control.forecast import Day, Post, Queue, Stage
from foible.control.service_times import Served

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["MOST_FENCERS", "MOST_TEAMS", "Plan", "Teams", "planned"]

MOST_FENCERS, MOST_TEAMS = 2000, 30
DRAWS = 60
SURE = 0.9
NOTHING = Served(np.zeros(0, dtype=np.intp), np.zeros(0, dtype=np.intp), np.zeros(0))


@dataclass(frozen=True)
class Plan:
    """What is planned. `seconds`: of one item [s], by stage and kind; `bag`: how many of each kind a fencer hands in on the mean.

    `hours`: from when to when things are handed in. Raises ValueError for what cannot be planned with.
    """

    fencers: int
    seconds: Mapping[str, Mapping[str, float]]
    bag: Mapping[str, float]
    hours: tuple[datetime, datetime]

    def __post_init__(self) -> None:
        if not 1 <= self.fencers <= MOST_FENCERS:
            msg = f"{self.fencers} fencers: give from 1 to {MOST_FENCERS}"
            raise ValueError(msg)
        if self.hours[0] >= self.hours[1]:
            msg = f"handing in from {self.hours[0]:%H:%M} to {self.hours[1]:%H:%M}: give an end after the beginning"
            raise ValueError(msg)
        if not self.bag or min(self.bag.values()) < 0 or not any(self.load.values()):
            msg = f"a bag of {dict(self.bag)} leaves nothing to do: give at least one item that takes time"
            raise ValueError(msg)

    @property
    def load(self) -> dict[str, float]:
        """Seconds of work for each fencer, by stage [s]."""
        return {stage: sum(own.get(kind, 0.0) * count for kind, count in self.bag.items()) for stage, own in self.seconds.items()}


@dataclass(frozen=True)
class Teams:
    """What comes of so many teams.

    `at`, `surely`: when the last bag is done, as likely before as after, and with 90 %. `wait`, `long_wait`: from handing in to
    done, the mean, and what nine in ten do not exceed. `busy`: the busiest stage, until then [0 … 1].
    """

    teams: int
    at: datetime
    surely: datetime
    wait: timedelta
    long_wait: timedelta
    busy: float


def planned(plan: Plan, teams: Sequence[int], *, seed: int, draws: int = DRAWS) -> tuple[Teams, ...]:
    """Return what comes of each number of teams, all on the same days drawn. Raises ValueError for numbers that cannot be."""
    if not teams or min(teams) < 1 or max(teams) > MOST_TEAMS:
        msg = f"{', '.join(map(str, teams)) or 'no number of'} teams: give numbers from 1 to {MOST_TEAMS}"
        raise ValueError(msg)
    return tuple(_with(plan, count, seed, draws) for count in teams)


def _with(plan: Plan, teams: int, seed: int, draws: int) -> Teams:
    opening = plan.hours[0]
    day = Day(_queue(plan, teams), np.random.default_rng(seed), draws)
    *_, done = day.through([()], draws)
    wait = (done - day.ready).ravel()
    end = done.max(axis=1)
    work = max(float(each.seconds.sum(axis=1).mean()) for each in day.work) / teams
    at, surely = (opening + timedelta(seconds=float(each)) for each in np.quantile(end, (0.5, SURE)))
    long_wait = timedelta(seconds=float(np.quantile(wait, SURE)))
    return Teams(teams, at, surely, timedelta(seconds=float(wait.mean())), long_wait, min(1.0, work / float(end.mean())))


def _queue(plan: Plan, teams: int) -> Queue:
    """Return the table as the hours begin."""
    kinds = list(plan.bag)
    none = np.zeros((0, len(kinds)))
    stages = tuple(
        Stage(
            name,
            tuple(Post(f"{name} {number + 1}") for number in range(teams)),
            np.array([own.get(kind, 0.0) for kind in kinds]),
            NOTHING,
            none,
        )
        for name, own in plan.seconds.items()
    )
    hours = (0.0, (plan.hours[1] - plan.hours[0]).total_seconds())
    return Queue(stages, none, np.array(list(plan.bag.values())), np.zeros(0), hours, plan.fencers)
