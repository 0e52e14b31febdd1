"""Items and what was found in them in; out, how long items and their parts last."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

from foible.learning import Life, Survival, Weibull, fitted_weibull, product_limit

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from foible.records.experience import Find, ItemFacts

__all__ = ["PartLife", "item_lives", "lives_of_kind", "part_lives", "part_of"]

YEAR = timedelta(days=365.25)
MOST_PARTS = 5
"""Parts of a kind whose lives are shown: those that fail most."""
FEWEST = 3
"""Failures below which a life is not shown."""
GONE = frozenset({"retired"})
"""States in which an item's own life has ended; one that is lost was still good, as far as anybody knows."""


@dataclass(frozen=True)
class PartLife:
    """How long a part lasts, or an item as a whole, in years."""

    kind: str
    name: str
    lives: int
    failures: int
    survival: Survival
    weibull: Weibull | None
    """None where the ages leave its shape open."""


def part_of(failure: str) -> str:
    """Return the part that a failure is one of: “weapon point: dirty” is one of the “weapon point”."""
    return failure.partition(": ")[0]


def lives_of_kind(kind: str, items: Sequence[ItemFacts], finds: Sequence[Find], now: datetime) -> list[PartLife]:
    """Return the lives of items of a kind, and of the parts that fail most in them."""
    counts: dict[str, int] = {}
    for find in finds:
        counts[part_of(find.failure)] = counts.get(part_of(find.failure), 0) + 1
    most = sorted(counts, key=lambda part: (-counts[part], part))[:MOST_PARTS]
    found = [_life(kind, kind, item_lives(items, finds, now))]
    found += [_life(kind, part, part_lives(items, finds, part, now)) for part in most if counts[part] >= FEWEST]
    return [life for life in found if life.failures >= FEWEST]


def item_lives(items: Sequence[ItemFacts], finds: Sequence[Find], now: datetime) -> list[Life]:
    """Return the lives of items: until they were retired, or still in use."""
    first = _first_seen(finds)
    return [
        life
        for item in items
        if (life := _between(_start(item), _end(item, now), item, first, failed=item.state in GONE)) is not None
    ]


def part_lives(items: Sequence[ItemFacts], finds: Sequence[Find], part: str, now: datetime) -> list[Life]:
    """Return the lives of a part: from when its item came into use, or it was last mended, until it failed, or still lasting.

    A repair is taken to make it as new. What failed before the register began is not known: until then it was not watched.
    """
    first = _first_seen(finds)
    failures: dict[int, list[date]] = {}
    for find in finds:
        if part_of(find.failure) == part:
            failures.setdefault(find.item_id, []).append(find.done.date())
    lives: list[Life | None] = []
    for item in items:
        begun = _start(item)
        for failed in failures.get(item.id, []):
            lives.append(_between(begun, failed, item, first, failed=True))
            begun = max(begun, failed)
        lives.append(_between(begun, _end(item, now), item, first, failed=False))
    return [life for life in lives if life is not None]


def _life(kind: str, name: str, lives: Sequence[Life]) -> PartLife:
    failures = sum(life.failed for life in lives)
    return PartLife(kind, name, len(lives), failures, product_limit(lives), fitted_weibull(lives))


def _start(item: ItemFacts) -> date:
    return item.first_used or item.bought or item.opened.date()


def _end(item: ItemFacts, now: datetime) -> date:
    return item.retired or now.date()


def _first_seen(finds: Sequence[Find]) -> dict[int, date]:
    """Return for each item when it was first at the bench: jobs brought in from elsewhere are older than the register."""
    first: dict[int, date] = {}
    for find in finds:
        first.setdefault(find.item_id, find.done.date())
    return first


def _between(begun: date, ended: date, item: ItemFacts, first: dict[int, date], *, failed: bool) -> Life | None:
    """Return a life in years; None where there is nothing of it to watch."""
    watched = min(item.opened.date(), first.get(item.id, item.opened.date()))
    since, until = max((watched - begun) / YEAR, 0.0), (ended - begun) / YEAR
    if failed and until <= since:  # at the very start: on the day it came into use, or the register began
        until = since + 0.5 / 365.25
    return Life(until, failed, since) if until > since else None
