"""When the queue will be gone: the table as it stands in; out, the instant and its interval, by stage, and what more people save.

The rest of the day is simulated some hundred times over. Each draw has its own pace of every kind of item, its own factor of
each post, absences (`service_times`) and arrivals (`arrivals`); bags go through the stages one after another (`posts`). A further
post is tried on the very same draws (common random numbers), so that the difference is what the post is worth and not chance.

Bags are simulated, not items: what a bag takes is Gamma distributed with the mean and the variance of its items together.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from foible.control.arrivals import drawn_arrivals
from foible.control.posts import Closed, Work, done_with
from foible.control.service_times import LEAST_AWAY, Pace, Served, drawn_pace

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["DRAWS", "Day", "Forecast", "Further", "Post", "Queue", "Stage", "StageForecast", "forecast"]

DRAWS = 300
DRAWS_FURTHER = 100
"""Of the same draws, so far fewer are enough to tell what a post saves."""
SURE = (0.05, 0.5, 0.95)
AWAY_SHAPE = 3.0
"""Of the Gamma law of how long a post is away. Judgement."""


@dataclass(frozen=True)
class Post:
    """One place at a stage where somebody works. All times [s from now].

    `closed`: from when to when it is not there; the end may be infinite. `silent`: for how long nothing has been done there
    although somebody waited [s].
    """

    name: str
    closed: tuple[tuple[float, float], ...] = ()
    silent: float = 0.0


@dataclass(frozen=True)
class Stage:
    """A stage of the table, such as the electrical tests.

    `planned`: mean seconds of each of K kinds of item there [s], shape (K,); 0 for a kind that has nothing to do there.
    `served`: what was measured. `waiting`: items of each kind that each of B bags still has to do, shape (B, K).
    """

    name: str
    posts: tuple[Post, ...]
    planned: Floats
    served: Served
    waiting: Floats


@dataclass(frozen=True)
class Queue:
    """The table as it stands. Times [s from now], so what is past is negative.

    `bags`: items of each kind in every bag handed in so far, shape (A, K), done or not: what those to come are thought to bring;
    `usual_bag`: what is thought before there are any, shape (K,). `came`: when each was handed in, shape (A,). `hours`: from when
    to when things are handed in. `to_come`: how many fencers have not handed in yet.
    """

    stages: tuple[Stage, ...]
    bags: Floats
    usual_bag: Floats
    came: Floats
    hours: tuple[float, float]
    to_come: int = 0


@dataclass(frozen=True)
class StageForecast:
    """One stage: items `done` and `waiting`, its `posts`, and the mean `seconds` of an item that is to be done [s].

    `at`, `low`, `high`: when it is gone, with 90 %; None where no post is left to do the rest.
    """

    name: str
    done: int
    waiting: int
    posts: int
    seconds: float
    at: datetime | None
    low: datetime | None
    high: datetime | None


@dataclass(frozen=True)
class Further:
    """What more people save: one more post at each of `stages`; the mean, and within what it lies with 90 %."""

    stages: tuple[str, ...]
    saves: timedelta
    low: timedelta
    high: timedelta


@dataclass(frozen=True)
class Forecast:
    """When the queue is gone: as likely before `at` as after, between `low` and `high` with 90 %; None: never, with these."""

    now: datetime
    at: datetime | None
    low: datetime | None
    high: datetime | None
    to_come: int
    by_stage: tuple[StageForecast, ...]
    further: tuple[Further, ...] = field(default=())

    @property
    def bottleneck(self) -> StageForecast | None:
        """The stage that a further post shortens the day most at; the last to be gone where none does."""
        single = [further for further in self.further if len(further.stages) == 1 and further.saves > timedelta(0)]
        if single:
            best = max(single, key=lambda further: further.saves).stages[0]
            return next(stage for stage in self.by_stage if stage.name == best)
        return max((stage for stage in self.by_stage if stage.at), key=lambda stage: str(stage.at), default=None)


def forecast(queue: Queue, now: datetime, *, seed: int, draws: int = DRAWS) -> Forecast:
    """Return when the queue is gone, and what one more post at every stage, or at one of several, saves."""
    rng = np.random.default_rng(seed)
    day = Day(queue, rng, draws)
    everywhere = tuple(range(len(queue.stages)))
    more = [everywhere, *([(one,) for one in everywhere] if len(everywhere) > 1 else [])]
    base = day.ends([()], draws)[:, 0]
    at, low, high = _instants(base.max(axis=0), now)
    further: list[Further] = []
    if np.isfinite(base).all():
        tried = day.ends(more, DRAWS_FURTHER)
        saved = base[:, None, : tried.shape[2]].max(axis=0) - tried.max(axis=0)
        further = [
            Further(tuple(queue.stages[i].name for i in stages), *_saved(own)) for stages, own in zip(more, saved, strict=True)
        ]
    stages = tuple(day.told(number, base[number], now) for number in everywhere)
    return Forecast(now, at, low, high, queue.to_come, stages, tuple(further))


class Day:
    """The rest of the day in R draws: bags that wait and bags to come, with what they take at each stage."""

    def __init__(self, queue: Queue, rng: np.random.Generator, draws: int) -> None:
        self.queue, self.draws = queue, draws
        # Each has a stream of its own, so that more posts change nothing else.
        came, *streams = rng.spawn(1 + 2 * len(queue.stages))
        coming = drawn_arrivals(queue.came, queue.to_come, queue.hours, came, draws)
        open_bags = np.any([(stage.waiting * (stage.planned > 0)).any(axis=1) for stage in queue.stages], axis=0)
        self.ready = np.hstack([np.zeros((draws, int(open_bags.sum()))), coming])
        known = np.vstack([queue.bags, queue.usual_bag])
        pick = (
            came.integers(len(queue.bags), size=(draws, queue.to_come)) if len(queue.bags) else np.zeros(coming.shape, dtype=int)
        )
        self.paces: list[Pace] = []
        self.work: list[Work] = []
        for stage, own, items in zip(queue.stages, streams[::2], streams[1::2], strict=True):
            does = stage.planned > 0
            pace = drawn_pace(stage.served, np.where(does, stage.planned, 1.0), len(stage.posts) + 1, own, draws)
            mean, variance = (np.where(does, each, 0.0) for each in (pace.mean, pace.variance))
            taken = [np.hstack([_of(stage.waiting[open_bags], each), _picked(known, pick, each)]) for each in (mean, variance)]
            self.paces.append(pace)
            self.work.append(_work(taken[0], taken[1], pace, items))
        self.back = [_back(stage, pace, rng) for stage, pace in zip(queue.stages, self.paces, strict=True)]

    def through(self, more: Sequence[tuple[int, ...]], draws: int) -> Iterator[Floats]:
        """Yield, stage by stage, when each bag is through it [s from now], shape (scenarios · draws, bags): of the first draws.

        A scenario of `more` has one more post at each of some stages.
        """
        count, ready = len(more), np.tile(self.ready[:draws], (len(more), 1))
        for number, (stage, pace, work) in enumerate(zip(self.queue.stages, self.paces, self.work, strict=True)):
            factor = np.tile(pace.post[:draws], (count, 1))
            factor[:, -1] = np.where(np.repeat([number in each for each in more], draws), factor[:, -1], np.inf)
            closed = [Closed(place, *gap) for place, post in enumerate(stage.posts) for gap in post.closed]
            closed += [Closed(place, -np.inf, np.tile(end[:draws], count)) for place, end in self.back[number]]
            both = Work(*(np.tile(each[:draws], (count, 1)) for each in (work.seconds, work.away)))
            ready = done_with(ready, both, factor, closed)
            yield ready

    def ends(self, more: Sequence[tuple[int, ...]], draws: int) -> Floats:
        """Return when each stage is gone [s], shape (stages, scenarios, draws)."""
        draws, count = min(draws, self.draws), len(more)
        found = [
            np.where(np.tile(work.seconds[:draws] > 0, (count, 1)), done, 0.0).max(axis=1, initial=0.0)
            for work, done in zip(self.work, self.through(more, draws), strict=True)
        ]
        return np.array(found).reshape(len(found), count, draws)

    def told(self, number: int, ends: Floats, now: datetime) -> StageForecast:
        """Return one stage in figures."""
        stage, waiting = self.queue.stages[number], self.queue.stages[number].waiting
        does = stage.planned > 0
        weight = np.where(does, self.queue.bags.sum(axis=0) if len(self.queue.bags) else self.queue.usual_bag, 0.0)
        weight = weight if weight.any() else does.astype(float)
        seconds = float(self.paces[number].mean.mean(axis=0) @ weight / weight.sum()) if weight.any() else 0.0
        left = int(np.where(does, waiting, 0).sum())
        return StageForecast(stage.name, len(stage.served.seconds), left, len(stage.posts), seconds, *_instants(ends, now))


def _of(bags: Floats, per_item: Floats) -> Floats:
    return per_item @ bags.T


def _picked(known: Floats, pick: NDArray[np.intp], per_item: Floats) -> Floats:
    """Return what the picked bags take, shape (R, J): each draw has its own bags and its own seconds of an item."""
    return np.take_along_axis(_of(known, per_item), pick, axis=1)


def _work(mean: Floats, variance: Floats, pace: Pace, rng: np.random.Generator) -> Work:
    """Return draws of what bags take: Gamma by mean [s] and variance [s²], and absences that fall into it."""
    some = mean > 0
    shape = np.where(some, mean**2 / np.where(some, variance, 1.0), 1.0)
    seconds = np.where(some, rng.standard_gamma(shape) * np.where(some, variance / np.where(some, mean, 1.0), 0.0), 0.0)
    falls = rng.random(mean.shape) < -np.expm1(-pace.away[:, None] * seconds)
    away = np.where(falls, rng.standard_gamma(AWAY_SHAPE, mean.shape) * pace.away_for[:, None] / AWAY_SHAPE, 0.0)
    return Work(np.where(some, np.maximum(seconds, 1e-3), 0.0), away)


def _back(stage: Stage, pace: Pace, rng: np.random.Generator) -> list[tuple[int, Floats]]:
    """Return when posts that have been silent for long are back, in each draw [s from now], by their place."""
    return [
        (place, rng.exponential(pace.away_for))
        for place, post in enumerate(stage.posts)
        if post.silent > LEAST_AWAY and not any(start <= 0 < end for start, end in post.closed)
    ]


def _instants(ends: Floats, now: datetime) -> tuple[datetime | None, datetime | None, datetime | None]:
    """Return median and bounds as instants; None for one that is never."""
    low, at, high = (
        now + timedelta(seconds=float(each)) if np.isfinite(each) else None for each in np.quantile(ends, SURE, method="higher")
    )
    return at, low, high


def _saved(seconds: Floats) -> tuple[timedelta, timedelta, timedelta]:
    low, high = np.quantile(seconds, (SURE[0], SURE[2]))
    mean, low, high = (timedelta(seconds=float(each)) for each in (seconds.mean(), low, high))
    return mean, low, high
