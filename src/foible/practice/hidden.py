"""A level and a number in; out, something that is wrong with a strip, or nothing, and what a fencer says of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np

from foible.diagnosis import Activity, StagedFault, StagedKit
from foible.errors import InputError, UnknownNameError
from foible.kit import SIDES
from foible.trials import LIT_BEFORE, NOTHING, load_catalogue, load_complaints, read_trial

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from numpy.random import Generator

    from foible.kit import Failure, Setup
    from foible.trials import Complaint, Look, Trial

__all__ = ["Hidden", "Level", "benched", "hidden", "level_named", "staged"]

EVENLY = 0.5
"""To what power the rate of a failure counts in drawing one: whoever practises meets the rare ones too; judgement, no source."""
TELLS = 0.2
"""A fencer complains of a fault that shows at least this often in what they do; judgement, no source."""
LATEST = 200
"""Draws until one is complained of; every kit has failures that are."""
KEPT = 256
"""Hidden faults that stay in memory."""
CONTROL = 0.35
"""How often a fault that nobody would complain of is kept, to be found when the kit is gone over; judgement, no source."""


HARDLY = 0.01
"""A complaint that comes about less often than this does not come about."""


class Level(Enum):
    """How hard it is made; the value is what addresses call it."""

    STEADY = "steady"
    COMES_AND_GOES = "comes-and-goes"
    TWO = "two"
    NOTHING = "nothing"
    TOLD_WRONGLY = "told-wrongly"

    @property
    def title(self) -> str:
        """What pages call it."""
        return _TITLES[self]


_TITLES = {
    Level.STEADY: "one fault, always there",
    Level.COMES_AND_GOES: "one fault that comes and goes",
    Level.TWO: "two faults at once",
    Level.NOTHING: "perhaps nothing at all",
    Level.TOLD_WRONGLY: "one fault, wrongly told",
}


def level_named(name: str) -> Level:
    """Return a level by what addresses call it. Raises UnknownNameError."""
    known = {level.value: level for level in Level}
    if name not in known:
        raise UnknownNameError(what="level", name=name, known=known, all_named=True)
    return known[name]


@dataclass(frozen=True)
class Hidden:
    """What is wrong with a strip, which whoever practises is to find."""

    setup: Setup = field(repr=False)
    level: Level
    faults: tuple[StagedFault, ...]
    complaint: Complaint | None
    """What the fencer says; None where nobody complains and `item` is gone over on the bench."""
    seed: int

    @property
    def item(self) -> str | None:
        """The item that lies on the bench; None at the piste."""
        return None if self.complaint or not self.faults else self.faults[0].failure.item

    @cached_property
    def kit(self) -> StagedKit:
        """The strip with what is wrong in it."""
        return StagedKit(self.setup, self.faults, self.seed)

    @cached_property
    def without_faults(self) -> StagedKit:
        """The same strip with nothing wrong."""
        return StagedKit(self.setup, (), self.seed)

    def left_by(self, put_right: Collection[str]) -> bool:
        """Return whether the complaint is still there once items, parts or jobs were put right; on the bench, any fault."""
        left = [
            fault for fault in self.faults if {fault.failure.item, fault.failure.part, fault.failure.job}.isdisjoint(put_right)
        ]
        if not left or self.complaint is None:
            return bool(left)
        trial = read_trial(self.setup, self.complaint.table)[0]
        return _chance(StagedKit(self.setup, left, self.seed), trial) > HARDLY

    @property
    def items(self) -> frozenset[str]:
        """The items with something wrong."""
        return frozenset(fault.failure.item for fault in self.faults)

    @property
    def parts(self) -> frozenset[str]:
        """The parts with something wrong."""
        return frozenset(fault.failure.part for fault in self.faults)


def hidden(setup: Setup, level: Level, seed: int) -> Hidden:
    """Return what a number stands for at a level: always the same with the same kit."""
    return _drawn(setup, level, seed)


@lru_cache(maxsize=KEPT)
def _drawn(setup: Setup, level: Level, seed: int) -> Hidden:
    rng = np.random.default_rng([seed, crc32(level.value.encode())])
    if level is Level.NOTHING and rng.random() < 0.5:  # noqa: PLR2004 — else everybody knows what “nothing” means
        may = [each for side in SIDES for each in load_complaints(setup, side) if read_trial(setup, each.table)[0].hearsay]
        return Hidden(setup, level, (), may[int(rng.integers(len(may)))], seed)
    for _ in range(LATEST):
        faults = _faults(setup, level, rng)
        fitting = list(_complaints(StagedKit(setup, faults, seed)))
        told = fitting[int(rng.integers(len(fitting)))] if fitting else None
        if told and level is Level.TOLD_WRONGLY:
            told = _wrongly(setup, told, fitting, rng)
        if told or (level is Level.STEADY and faults[0].failure.item in benched(setup) and rng.random() < CONTROL):
            return Hidden(setup, level, faults, told, seed)
    raise InputError(seen=f"nothing in this kit can be hidden at the level “{level.value}”", remedy="choose another level")


@lru_cache(maxsize=8)
def benched(setup: Setup) -> frozenset[str]:
    """Return the items that there are trials for on the bench."""
    return frozenset(idea.item for idea in load_catalogue(setup, overlays=setup.overlays) if idea.item)


def staged(setup: Setup, faults: Sequence[StagedFault], seed: int, level: Level | None = None) -> Hidden:
    """Return faults of somebody's own making as hidden ones, with a complaint that they give rise to where there is one.

    `level`: by default that of such faults.
    """
    rng = np.random.default_rng([seed, crc32(b"made")])
    fitting = list(_complaints(StagedKit(setup, faults, seed)))
    of_such = Level.TWO if len(faults) > 1 else Level.COMES_AND_GOES if any(map(_moving, faults)) else Level.STEADY
    return Hidden(setup, level or of_such, tuple(faults), fitting[int(rng.integers(len(fitting)))] if fitting else None, seed)


def _moving(fault: StagedFault) -> bool:
    return fault.activity is not Activity.STEADY


def _faults(setup: Setup, level: Level, rng: Generator) -> tuple[StagedFault, ...]:
    failures = [failure for failure in setup.failures.values() if failure.rate > 0]
    behaves = level is Level.COMES_AND_GOES
    failures = [each for each in failures if (each.intermittent > 0 if behaves else each.intermittent < 1)]
    weight = np.array([failure.rate**EVENLY for failure in failures])
    chosen: list[Failure] = []
    while len(chosen) < 1 + (level is Level.TWO):
        failure = failures[int(rng.choice(len(failures), p=weight / weight.sum()))]
        if failure.item not in {other.item for other in chosen}:
            chosen.append(failure)
    return tuple(StagedFault(each, _severity(each, rng), _activity(rng, moving=behaves)) for each in chosen)


def _severity(failure: Failure, rng: Generator) -> float:
    ohms, share = zip(*failure.ladder, strict=True) if failure.ladder else ((np.nan,), (1.0,))
    return float(ohms[int(rng.choice(len(ohms), p=np.array(share) / sum(share)))])


def _activity(rng: Generator, *, moving: bool) -> Activity:
    return (Activity.OFTEN if rng.random() < 0.5 else Activity.SELDOM) if moving else Activity.STEADY  # noqa: PLR2004 — either


def _complaints(kit: StagedKit) -> Iterator[Complaint]:
    """Yield what fencers say of a strip with something wrong: what they would see often enough in what they do."""
    for side in SIDES:
        for complaint in load_complaints(kit.setup, side):
            trial = read_trial(kit.setup, complaint.table)[0]
            if _chance(kit, trial) >= TELLS and all(_chance(kit, each) >= TELLS for each in complaint.unsaid):
                yield complaint


def _chance(kit: StagedKit, trial: Trial) -> float:
    """Return how often a trial shows what is told of it, with the faults of a strip there as often as they are."""
    total = 0.0
    for looks, share in _ways(kit.regimes(trial)):
        if share > 0:
            seen = kit.looks(trial, looks)
            total += share * all(_agrees(allowed, seen[key]) for key, allowed in (trial.seen.looks.items() if trial.seen else ()))
    return total


def _ways(regimes: Sequence[tuple[float, float]]) -> list[tuple[tuple[int, int], float]]:
    """Return which faults can be there in each of two looks, as bits, with the chance of each way."""
    ways = [((0, 0), 1.0)]
    for number, (shows, flickers) in enumerate(regimes):
        bit = 1 << number
        ways = [
            ((first | a, second | b), share * chance)
            for (first, second), share in ways
            for a, b, chance in (
                (bit, bit, shows * (1 - flickers)),
                (bit, 0, shows * flickers / 2),
                (0, bit, shows * flickers / 2),
                (0, 0, 1 - shows),
            )
        ]
    return ways


def _agrees(allowed: Collection[Look], seen: Look) -> bool:
    """Return whether what was seen is what is told; nobody tells whether white was lit before the press."""
    white = 1
    first, second = sorted(white if state == LIT_BEFORE else state for state in seen)
    return seen in allowed or ((first, second) in allowed and (first, second) != (NOTHING, NOTHING))


def _wrongly(setup: Setup, told: Complaint, fitting: Sequence[Complaint], rng: Generator) -> Complaint | None:
    """Return what a fencer says instead who mistakes what was seen: something else of the same side that is not so."""
    true = {(each.side, each.say) for each in fitting}
    others = [
        each
        for each in load_complaints(setup, told.side)
        if (each.side, each.say) not in true and read_trial(setup, each.table)[0].hearsay
    ]
    return others[int(rng.integers(len(others)))] if others else None
