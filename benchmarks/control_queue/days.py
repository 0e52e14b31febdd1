"""Days of weapon control as SimPy runs them; no line of Foible's own is in here, and Foible is told none of these laws.

300 fencers hand in 4 to 8 items each, in groups that come together, over some hours. Four stations serve them: all alike, or
two with gauges and two with meters behind them. An item's time is lognormal, gamma or bimodal by the day, kinds and stations
differ, and one station is away for 20 minutes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import simpy

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = ["KINDS", "Day", "Done", "Law", "drawn_law", "run"]

KINDS = ("weapon", "cord", "lamé", "mask", "glove")
SHARE = (0.35, 0.25, 0.15, 0.15, 0.1)
FENCERS = 300
AWAY = 20 * 60.0
LAYOUTS = ((4,), (2, 2))
FAMILIES = ("lognormal", "gamma", "bimodal")


@dataclass(frozen=True)
class Law:
    """What a day is drawn by.

    `posts`: of each stage. `means`: of each kind at each stage [s], (stages, kinds). `family`: of an item's time, whose standard
    deviation is `variation` of its mean. `speed`: of each post, in all stages. `hours`: of handing in [s]. `waves`: when groups
    come, as a share of the hours: the parameters of Beta laws, one drawn for each group. `drift`: by how much the last hour is
    slower than the first. `away`: which post, and when [s].
    """

    posts: tuple[int, ...]
    means: np.ndarray
    family: str
    variation: float
    speed: np.ndarray
    hours: float
    waves: tuple[tuple[float, float], ...]
    group: float
    drift: float
    away: tuple[int, float]


@dataclass(frozen=True)
class Done:
    """An item done at a stage: its bag, kind and post, as places, and the instant [s]."""

    stage: int
    bag: int
    kind: int
    post: int
    at: float


@dataclass(frozen=True)
class Day:
    """What came to pass: when each bag `came` [s], its `items` by kind, and everything `done`, in order."""

    law: Law
    came: np.ndarray
    items: np.ndarray
    done: list[Done] = field(default_factory=list)

    @property
    def end(self) -> float:
        """When the last item was done [s]."""
        return self.done[-1].at

    def half(self) -> float:
        """When half of the items were through their last stage [s]."""
        last = [each.at for each in self.done if each.stage == len(self.law.posts) - 1]
        return last[len(last) // 2 - 1]


def drawn_law(rng: np.random.Generator, number: int, *, drift: float = 0.0) -> Law:
    """Return the law of one day; layouts and families of service times take turns by its number."""
    posts = LAYOUTS[number % len(LAYOUTS)]
    busy = rng.uniform(3.5, 7.0) * 3600  # of each post, if all work all the time
    means = rng.lognormal(0, 0.4, (len(posts), len(KINDS)))
    per_stage = means @ np.array(SHARE) * FENCERS * 6 / np.array(posts)
    means *= (busy / per_stage * rng.uniform(0.75, 1.0, len(posts)))[:, None]
    waves = [(rng.uniform(0.8, 3), rng.uniform(0.8, 3))] if rng.random() < 0.5 else _waves(rng)  # noqa: PLR2004 — every other day
    return Law(
        posts,
        means,
        FAMILIES[number // len(LAYOUTS) % len(FAMILIES)],
        rng.uniform(0.4, 0.9),
        rng.lognormal(0, 0.15, sum(posts)),
        busy * rng.uniform(0.5, 1.0),
        tuple(waves),
        rng.uniform(3, 10),
        rng.uniform(-drift, drift),
        (int(rng.integers(sum(posts))), rng.uniform(0.1, 0.85) * busy),
    )


def _waves(rng: np.random.Generator) -> list[tuple[float, float]]:
    """Return two or three rushes, such as when the doors open, after the trains, at the end."""
    return [(40 * middle, 40 * (1 - middle)) for middle in rng.uniform(0.05, 0.9, rng.integers(2, 4))]


def run(law: Law, rng: np.random.Generator) -> Day:
    """Return the day of a law."""
    came = _arrivals(law, rng)
    items = np.array([rng.multinomial(rng.integers(4, 9), SHARE) for _ in came])
    day, world = Day(law, came, items), simpy.Environment()
    queues = [simpy.Store(world) for _ in law.posts]
    first = 0
    for stage, count in enumerate(law.posts):
        for post in range(first, first + count):
            world.process(_post(world, day, (stage, post), queues, _times(law, stage, rng)))
        first += count
    world.process(_fencers(world, came, queues[0]))
    world.run()
    return day


def _arrivals(law: Law, rng: np.random.Generator) -> np.ndarray:
    """Return when bags are handed in, in order: groups by the waves of the day, their members behind each other."""
    times: list[float] = []
    while len(times) < FENCERS:
        start = law.hours * rng.beta(*law.waves[rng.integers(len(law.waves))])
        times += (start + np.cumsum(rng.exponential(40, rng.geometric(1 / law.group)))).tolist()
    return np.sort(times[:FENCERS])


def _fencers(world: simpy.Environment, came: np.ndarray, queue: simpy.Store) -> Iterator[simpy.Event]:
    for bag, at in enumerate(came):
        yield world.timeout(at - world.now)
        yield queue.put(bag)


def _post(
    world: simpy.Environment, day: Day, where: tuple[int, int], queues: list[simpy.Store], time: Callable[[int], float]
) -> Iterator[simpy.Event]:
    """Work through bags, item by item, and pass each on; be away once, between two items or two bags."""
    due, (who, when), (stage, post) = True, day.law.away, where
    while True:
        bag = yield queues[stage].get()
        for kind in np.repeat(np.arange(len(KINDS)), day.items[bag]):
            if due and post == who and world.now >= when:
                due = False
                yield world.timeout(AWAY)
            pace = day.law.speed[post] * (1 + day.law.drift * world.now / day.law.hours)
            yield world.timeout(time(kind) * pace)
            day.done.append(Done(stage, bag, int(kind), post, world.now))
        if stage + 1 < len(queues):
            yield queues[stage + 1].put(bag)


def _times(law: Law, stage: int, rng: np.random.Generator) -> Callable[[int], float]:
    """Return what draws the time of an item of a kind [s]."""
    means, cv = law.means[stage], law.variation
    match law.family:
        case "lognormal":
            sigma = np.sqrt(np.log1p(cv**2))
            return lambda kind: float(means[kind] * rng.lognormal(-(sigma**2) / 2, sigma))
        case "gamma":
            return lambda kind: float(rng.gamma(1 / cv**2, means[kind] * cv**2))
    # One item in eight is trouble: with it the standard deviation is about that much of the mean too.
    long = 1 + cv * np.sqrt(7)
    short = (8 - long) / 7
    return lambda kind: float(means[kind] * (long if rng.random() < 1 / 8 else short) * rng.uniform(0.8, 1.2))
