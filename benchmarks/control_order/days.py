"""Drawn days: items with what each would fail, by chances and seconds that the program is not given; NumPy only.

A day's chances have nothing to do with those the program begins with: each requirement's is lognormal about 1.5 %, nine in ten
within a factor of 7 either way. What a test really takes differs from the program's seconds by a factor of its own, nine in ten
within 0.6 … 1.6. On careless days (`together`) failures come together: an item in ten is neglected and fails everything six
times as often.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from foible.control.timed import usual_seconds
from foible.rules import requirements

if TYPE_CHECKING:
    from foible.rules import Requirement

__all__ = ["Bench", "Day", "benches", "drawn_day"]

SHARES = {
    ("weapon", "foil"): 2, ("weapon", "épée"): 2, ("weapon", "sabre"): 2,
    ("cord", "foil"): 2, ("cord", "épée"): 2, ("cord", "sabre"): 2,
    ("mask", "foil"): 1, ("mask", "épée"): 1, ("mask", "sabre"): 1,
    ("lamé", "foil"): 1, ("lamé", "sabre"): 1,
}  # fmt: skip
"""How many of each a fencer hands in; an épéeist two items fewer, so that the mean is about six."""
FENCERS = 300
MEDIAN, SPREAD, MOST = 0.015, 1.2, 0.35
TAKES = 0.3


@dataclass(frozen=True)
class Bench:
    """A station with one kind of item of one weapon: what is to be tested there."""

    kind: str
    weapon: str
    station: str
    wanted: tuple[Requirement, ...]


@dataclass(frozen=True)
class Day:
    """A day.

    `chance`, `seconds` [s]: of each requirement, in truth. `items`: kind and weapon, in the order they come. `fails`: what each
    of them fails, shape (items, requirements), by the order of `chance`.
    """

    chance: dict[str, float]
    seconds: dict[str, float]
    items: list[tuple[str, str]]
    fails: np.ndarray


@lru_cache
def benches() -> tuple[Bench, ...]:
    """Return every station for every kind of item that has more than one required test there."""
    found = []
    for kind, weapon in SHARES:
        for station in ("dimensions", "electrics", "marks"):
            wanted = tuple(each for each in requirements(kind=kind, weapon=weapon) if each.required and each.station == station)
            if len(wanted) > 1:
                found.append(Bench(kind, weapon, station, wanted))
    return tuple(found)


def drawn_day(rng: np.random.Generator, *, together: bool = False, spread: float = SPREAD) -> Day:
    """Return a day; with `together`, a careless one; `spread`: of the logarithm of chances."""
    usual = {each.id: usual_seconds(each) for bench in benches() for each in bench.wanted}
    names = sorted(usual)
    chance = np.minimum(MEDIAN * rng.lognormal(0, spread, len(names)), MOST)
    seconds = {name: usual[name] * float(rng.lognormal(0, TAKES)) for name in names}
    items = [item for weapon in rng.choice(("foil", "épée", "sabre"), FENCERS) for item in _bag(str(weapon))]
    worse = np.where(rng.random(len(items)) < 0.1, 6.0, 1.0) if together else np.ones(len(items))  # noqa: PLR2004 — one in ten
    fails = rng.random((len(items), len(names))) < np.minimum(worse[:, None] * chance, 0.9)
    return Day(dict(zip(names, chance.tolist(), strict=True)), seconds, items, fails)


def _bag(weapon: str) -> list[tuple[str, str]]:
    return [item for item, count in SHARES.items() if item[1] == weapon for _ in range(count)]
