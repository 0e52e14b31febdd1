"""A simulated day at some instant in; out, what Foible would have on record of it by then."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from benchmarks.control_queue.days import KINDS
from foible.control.forecast import Post, Queue, Stage
from foible.control.service_times import Served, cycle_times

if TYPE_CHECKING:
    from benchmarks.control_queue.days import Day

__all__ = ["PLANNED", "queue_at"]

PLANNED = 40.0
"""Seconds of any item at any stage, as somebody might have planned who has seen none."""


def queue_at(day: Day, now: float) -> Queue:
    """Return the table as it stands at `now` [s]: who has come, what is done, and nothing of what is to be."""
    here = day.came <= now
    stages, first, ready = [], 0, day.came[here]
    for number, count in enumerate(day.law.posts):
        done = [each for each in day.done if each.stage == number and each.at <= now]
        bag = np.array([each.bag for each in done], dtype=int)
        at = np.array([each.at for each in done])
        left = day.items[here].astype(float)
        np.subtract.at(left, (bag, [each.kind for each in done]), 1)
        post = np.array([each.post for each in done], dtype=int) - first
        served = Served(np.array([each.kind for each in done], dtype=int), post, cycle_times(ready[bag], at, post))
        busy = bool((left.sum(axis=1) * (ready <= now)).any())
        last = [float(at[post == each].max(initial=-1e9)) for each in range(count)]
        posts = tuple(Post(f"{number}.{each}", silent=now - last[each] if busy else 0.0) for each in range(count))
        stages.append(Stage(str(number), posts, np.full(len(KINDS), PLANNED), served, left))
        first += count
        ready = np.array([at[bag == each].max() if not left[each].any() else np.inf for each in range(len(left))])
    return Queue(
        tuple(stages),
        day.items[here].astype(float),
        np.full(len(KINDS), 6 / len(KINDS)),
        day.came[here] - now,
        (-now, day.law.hours - now),
        int((~here).sum()),
    )
