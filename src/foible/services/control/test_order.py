"""In which order a station best makes its tests: requirements and what tables have found in; out, the order and what it saves."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
from cachetools import TTLCache

from foible.control.failing import failure_chances
from foible.control.order import Spent, best_order, spent
from foible.control.timed import pick_up, timed, usual_chance
from foible.records.control import StationDoes, competition_by_id
from foible.records.control.times import found_by_test
from foible.rules.requirements import requirements
from foible.services.control.testing import in_order, what_to_test, work_of_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from sqlalchemy import Engine
    from sqlalchemy.orm import Session

    from foible.control.failing import BetaMixture
    from foible.control.order import TimedTest
    from foible.rules.requirements import Requirement
    from foible.services.control.testing import ToTest

    Places = dict[str, int]

__all__ = ["Chance", "StationOrder", "in_learnt_order", "learnt_chances", "orders_at"]

STANDS_S = 600.0
"""How long an order stands before what has been found since counts [s]: hands get used to it; judgement, no source."""
MOST_EDITIONS = 50
_KNOWN: WeakKeyDictionary[Engine, TTLCache[tuple[object, ...], OfLate]] = WeakKeyDictionary()
"""What is known of late, by database and then by edition."""
_KNOWING = Lock()


@dataclass(frozen=True)
class OfLate:
    """How often tests fail, as a table has it for a while, and the orders that follow from it."""

    means: Mapping[str, float]
    """By requirement."""
    places: dict[tuple[str, ...], Places] = field(default_factory=dict)
    """By what is to be tested: requirements in turn."""


@dataclass(frozen=True)
class Chance:
    """How often a test fails: the `mean`, between what with 90 %, and of how many `tested` items how many `failed` it so far."""

    mean: float
    low: float
    high: float
    tested: int
    failed: int


@dataclass(frozen=True)
class StationOrder:
    """The tests of one kind of item at one station: in the order that finds most for the time, and what items take in it.

    `by_clause`: what they take in the order of clauses. Both with tools taken up, in the program's seconds.
    """

    kind: str
    weapon: str | None
    does: StationDoes
    tests: tuple[tuple[Requirement, TimedTest, Chance], ...]
    takes: Spent
    by_clause: Spent

    @property
    def saves(self) -> float:
        """What part of the time until a failing item is known it saves [0 … 1]."""
        return 1 - self.takes.failing / self.by_clause.failing


def learnt_chances(session: Session, edition: str, *, overlays: Sequence[Path] = ()) -> dict[str, Chance]:
    """Return by requirement how often it fails, after what all competitions have found."""
    counts, belief = _learnt(session, edition, overlays)
    lines = zip(belief.mean.tolist(), *(bound.tolist() for bound in belief.interval()), counts.values(), strict=True)
    return {name: Chance(mean, low, high, *own) for name, (mean, low, high, own) in zip(counts, lines, strict=True)}


def _learnt(session: Session, edition: str, overlays: Sequence[Path]) -> tuple[dict[str, tuple[int, int]], BetaMixture]:
    """Return by requirement how many items were tested and failed, and what is believed of each."""
    wanted = {each.id: each for each in requirements(edition, overlays=overlays) if each.required}
    found = {each.requirement: each for each in found_by_test(session)}
    counts = {name: (found[name].tested, found[name].failed) if name in found else (0, 0) for name in wanted}
    tested, failed = (np.array(column, dtype=float) for column in zip(*counts.values(), strict=True))
    return counts, failure_chances(failed, tested, np.array([usual_chance(each) for each in wanted.values()]))


def in_learnt_order(
    session: Session, edition: str, to_make: Sequence[ToTest], *, overlays: Sequence[Path] = ()
) -> tuple[ToTest, ...]:
    """Return tests of an item in the order that finds most for the time at each station, after what all competitions found.

    An order stands for `STANDS_S`, so that tests do not change places under somebody's hands.
    """
    wanted = {each.requirement.id: each.requirement for each in to_make}
    late = _of_late(session, edition, overlays)
    known = late.places.get(tuple(wanted))
    if known is None:
        known = {each.id: place for place, each in enumerate(in_order(tuple(wanted.values()), chances=late.means))}
        late.places[tuple(wanted)] = known
    return tuple(sorted(to_make, key=lambda each: known[each.requirement.id]))


def _of_late(session: Session, edition: str, overlays: Sequence[Path]) -> OfLate:
    """Return how often tests fail. The first page of all asks, and every other one for a while has it from there."""
    engine, key = session.get_bind().engine, (edition, *overlays)
    with _KNOWING:
        late = _KNOWN.setdefault(engine, TTLCache(MOST_EDITIONS, STANDS_S)).get(key)
    if late is None:
        counts, belief = _learnt(session, edition, overlays)
        late = OfLate(dict(zip(counts, belief.mean.tolist(), strict=True)))
        with _KNOWING:
            _KNOWN[engine][key] = late
    return late


def orders_at(session: Session, number: int, *, overlays: Sequence[Path] = ()) -> tuple[StationOrder, ...]:
    """Return the best order of every kind of item at every station of a competition. Raises NotFoundError."""
    edition = competition_by_id(session, number).edition
    chances = learnt_chances(session, edition, overlays=overlays)
    found = []
    for kind, weapon in _kinds(edition, overlays):
        for does in (StationDoes.DIMENSIONS, StationDoes.ELECTRICS, StationDoes.MARKS):
            to_test = what_to_test(edition, kind, weapon, does, overlays=overlays)
            wanted = tuple({each.requirement.id: each.requirement for each in to_test}.values())
            if wanted:
                found.append(_order(kind, weapon, does, wanted, chances))
    return tuple(found)


def _order(
    kind: str, weapon: str | None, does: StationDoes, wanted: Sequence[Requirement], chances: Mapping[str, Chance]
) -> StationOrder:
    tests = timed(wanted, chances={each.id: chances[each.id].mean for each in wanted})
    best, took = best_order(tests, pick_up()), pick_up()
    of = {each.id: each for each in wanted}
    lines = tuple((of[test.name], test, chances[test.name]) for test in best)
    return StationOrder(kind, weapon, does, lines, spent(best, took), spent(tests, took))


def _kinds(edition: str, overlays: Sequence[Path]) -> list[tuple[str, str]]:
    """Return the kinds of item that fencers hand in, for each weapon that anything is required of."""
    every = requirements(edition, overlays=overlays)
    weapons = list(dict.fromkeys(weapon for each in every for weapon in each.weapons))
    return [
        (kind, weapon)
        for kind in work_of_table().hands_in
        for weapon in weapons
        if any(each.required and each.kind == kind and weapon in each.weapons for each in every)
    ]
