"""Simulated clubs: how often things fail there, and what their jobs found."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from foible.learning.rates import LIKELY, SPREADS
from foible.services.club_rates import UNRECORDED, ClubRates, Found, club_rates, sideless

if TYPE_CHECKING:
    from foible.kit import Setup

__all__ = ["Club", "clubs", "clubs_as_believed"]


@dataclass(frozen=True)
class Club:
    """One club. `truth`: by how much each failure is commoner here than the kit files say, by its name without a side."""

    setup: Setup
    truth: dict[str, float]
    seed: int

    @property
    def kinds(self) -> frozenset[str]:
        """The kinds of item that it keeps a register of."""
        return frozenset(item.kind for item in self.setup.items.values()) - UNRECORDED

    @cached_property
    def usual(self) -> ClubRates:
        """What is believed before any job."""
        return club_rates(self.setup, Found({}, self.kinds))

    @cached_property
    def ratio(self) -> np.ndarray:
        """The truth as the program states it: each failure's share of all, against its usual one; shape (F,)."""
        own = np.array([self.truth[name] for name in self.usual.names])
        return own / float(self.usual.share @ own)

    def known(self) -> ClubRates:
        """Return what somebody believes who knows the truth."""
        exact = self.usual.learned.belief
        far = 1e9  # so many repairs that nothing is left to doubt
        shape = np.repeat(far * self.ratio[None], len(exact.weight), axis=0)
        belief = type(exact)(exact.weight, shape, np.full_like(shape, far))
        learned = type(self.usual.learned)(self.usual.learned.count, self.usual.learned.expected, belief)
        return ClubRates(self.usual.names, self.usual.kinds, self.usual.share, learned, 1.0)

    def after(self, jobs: int) -> ClubRates:
        """Return what is believed after some jobs, each of which found a failure; the first ones stay the same."""
        rng = np.random.default_rng([self.seed, 3])
        chance = self.usual.share * self.ratio
        found = rng.choice(len(chance), size=jobs, p=chance / chance.sum())
        count = np.bincount(found, minlength=len(chance)).astype(float)
        return club_rates(self.setup, Found(dict(zip(self.usual.names, count.tolist(), strict=True)), self.kinds))


def clubs(setup: Setup, number: int, seed: int, world: str) -> list[Club]:
    """Return clubs: “4 ×”, each failure four times as common or as rare as usual; “to 4 ×”, up to that; “ordinary”, as usual."""
    names = _names(setup)
    made = []
    for place in range(number):
        rng = np.random.default_rng([seed, place])
        power = {
            "4 ×": rng.choice([-1.0, 1.0], len(names)),
            "to 4 ×": rng.uniform(-1, 1, len(names)),
            "ordinary": np.zeros(len(names)),
        }[world]
        made.append(Club(setup, dict(zip(names, (4.0**power).tolist(), strict=True)), seed * 1000 + place))
    return made


def clubs_as_believed(setup: Setup, number: int, seed: int) -> list[Club]:
    """Return clubs whose rates differ as is believed beforehand: a spread by its chance, then each failure's rate by it."""
    names, chance = _names(setup), np.array(LIKELY) / sum(LIKELY)
    made = []
    for place in range(number):
        rng = np.random.default_rng([seed, place, 7])
        spread = rng.choice(SPREADS, p=chance)
        truth = np.maximum(rng.gamma(spread, 1 / spread, len(names)), 1e-12)
        made.append(Club(setup, dict(zip(names, truth.tolist(), strict=True)), seed * 1000 + place))
    return made


def _names(setup: Setup) -> list[str]:
    """Return the failures that a register can have, without a side."""
    return sorted({sideless(setup, f) for f in setup.failures.values() if setup.items[f.item].kind not in UNRECORDED})
