"""A club's own rates for the reasoning: how often which failure was found in, multipliers of the kit files' rates out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis import PRIOR_SOUND, Rates
from foible.learning import Demand, Learned, normalised

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from foible.kit import Failure, Setup

__all__ = ["UNRECORDED", "ClubRates", "Found", "club_rates", "rounded", "sideless"]

UNRECORDED = frozenset({"handling", "tools"})
"""Kinds of item whose failures make no job: a weapon that rests on cloth is put right at the piste."""
SOUND_WEIGHT = 2.0
"""Items found sound that the usual chance of it counts for; judgement, no source."""
PLACES = 3
"""Significant digits of a multiplier: more would only make reasoners differ that say the same."""


@dataclass(frozen=True)
class Found:
    """What a club's jobs with one weapon found: how often each failure, by its name without a side, and how often nothing."""

    count: Mapping[str, float]
    kinds: Collection[str]
    """Kinds of item that the club keeps a register of: of any other, nothing is learnt."""
    sound: float = 0.0

    @property
    def jobs(self) -> float:
        """How many found something or were sound."""
        return sum(self.count.values()) + self.sound


@dataclass(frozen=True)
class ClubRates:
    """What was learned about F failures of a weapon's kit."""

    names: tuple[str, ...]
    """Failures by their name without a side."""
    kinds: tuple[str, ...]
    """The kind of item of each."""
    share: np.ndarray
    """Of all failures of registered kinds, the share that each has by the kit files, shape (F,)."""
    learned: Learned
    sound: float
    """The multiplier of the odds that nothing is wrong."""

    @cached_property
    def times(self) -> dict[str, float]:
        """The multiplier of each failure's rate, by its name without a side."""
        return dict(zip(self.names, self.learned.mean.tolist(), strict=True))

    def rates(self, setup: Setup) -> Rates:
        """Return the multipliers by the failures of a set-up, both sides alike; 1 where nothing was learned."""
        known = ((failure.id, self.times.get(sideless(setup, failure))) for failure in setup.failures.values())
        return Rates(tuple((name, rounded(times)) for name, times in known if times is not None), rounded(self.sound))


def sideless(setup: Setup, failure: Failure) -> str:
    """Return the name of a failure as a register has it, without a side: “weapon point: dirty”."""
    side = setup.items[failure.item].side
    return failure.id.removeprefix(f"{side} ") if side else failure.id


def club_rates(setup: Setup, found: Found) -> ClubRates:
    """Return what a club's jobs teach of the failures of a weapon's kit, those of registered kinds."""
    shares: dict[str, float] = {}
    kinds: dict[str, str] = {}
    for failure in setup.failures.values():
        kind, name = setup.items[failure.item].kind, sideless(setup, failure)
        if kind in found.kinds and kind not in UNRECORDED and failure.rate > 0:
            shares[name], kinds[name] = shares.get(name, 0.0) + failure.rate, kind
    names = tuple(shares)
    share = np.array([shares[name] for name in names])
    count = np.array([float(found.count.get(name, 0.0)) for name in names])
    sound = Demand.seen(found.sound, found.jobs, 1.0, usual=PRIOR_SOUND, weight=SOUND_WEIGHT).mean / PRIOR_SOUND
    return ClubRates(names, tuple(kinds.values()), share / share.sum(), normalised(count, share), sound)


def rounded(times: float) -> float:
    """Return a multiplier to as many digits as matter."""
    return float(f"{times:.{PLACES}g}")
