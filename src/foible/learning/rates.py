"""How often things fail: Gamma–Poisson, with partial pooling; counts and what was to be expected in, multipliers out.

A failure that was to be expected E times happened n times. Its multiplier m says by how much it is commoner here than expected:

    n ~ Poisson(E m),   m ~ Gamma(k, k)   (mean 1),   so m | n ~ Gamma(k + n, k + E).

The shape k says how alike rates are: with a large one nearly all m are 1 and counts move little, with a small one rates differ a
lot and the counts are believed. One k holds for all failures of a level and is itself unknown: `SPREADS` are weighed by `LIKELY`
beforehand, and then by the negative binomial chance of the counts. So three repairs lead nobody astray, an ordinary club
stays ordinary, and an odd one is soon known as odd. (Conjugate pair and pooling: Gelman et al., Bayesian Data Analysis, 3rd ed.,
2.6 and 5.)
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.learning.gammas import GammaMixture, log_gamma

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["ALIKE", "LIKELY", "SPREADS", "Learned", "multipliers", "normalised"]

SPREADS = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0)
"""Shapes k that are thought possible: from 90 % of rates within 0.004–3.8 × the usual to 90 % within 0.84–1.17 ×."""
LIKELY = (1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.5, 0.2, 0.1, 0.1)
"""How likely each is beforehand. Judgement; `benchmarks.learning` shows how often the intervals then hold the truth, and what an
ordinary club pays. Were clubs thought to be alike, the first few dozen repairs would be believed too little."""
ALIKE = (0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0)
"""The same between makes of a part, and between the items of one club: they are thought to be more alike than clubs are, so that
an item that came back three times is not yet condemned. Judgement, no source."""
SURE = (0.05, 0.95)


@dataclass(frozen=True)
class Learned:
    """What counts have taught of F multipliers: `count` and `expected`, and the `belief`; shape (F,) each.

    `scale` divides all of them: 1, or what makes them average 1 over the expected shares.
    """

    count: Floats
    expected: Floats
    belief: GammaMixture
    scale: float = 1.0

    def taken(self, places: Sequence[int]) -> Learned:
        """Return the same of some of the multipliers, in that order."""
        chosen = np.asarray(places, dtype=np.intp)
        belief = GammaMixture(self.belief.weight, self.belief.shape[:, chosen], self.belief.per[:, chosen])
        return Learned(self.count[chosen], self.expected[chosen], belief, self.scale)

    @property
    def mean(self) -> Floats:
        """The expected multiplier of each, shape (F,)."""
        return self.belief.mean / self.scale

    def interval(self, sure: tuple[float, float] = SURE) -> tuple[Floats, Floats]:
        """Return between what each multiplier lies, shape (F,) twice; usually with 90 %."""
        low, high = self.belief.quantile(*sure) / self.scale
        return low, high

    @property
    def spreads(self) -> dict[float, float]:
        """The probability of each of `SPREADS`."""
        return dict(zip(SPREADS, self.belief.weight.tolist(), strict=True))


def multipliers(count: Floats, expected: Floats, likely: Sequence[float] = LIKELY) -> Learned:
    """Return what `count` teaches where `expected` was to be expected, shape (F,) each, `expected` above 0.

    `likely`: how likely each of `SPREADS` is beforehand.

    Raises ValueError for shapes that differ, and counts or expectations that cannot be.
    """
    if count.shape != expected.shape or (count < 0).any() or not (expected > 0).all():
        msg = f"counts {count} and expected counts {expected}: give as many of each, counts from 0 on, expectations above 0"
        raise ValueError(msg)
    chances = zip(SPREADS, likely, strict=True)
    logs = np.array([_log_chance(count, expected, spread) if chance else -np.inf for spread, chance in chances])
    weight = np.asarray(likely) * np.exp(logs - logs.max())
    spreads = np.array(SPREADS)[:, None]
    return Learned(count, expected, GammaMixture(weight / weight.sum(), spreads + count, spreads + expected))


def normalised(count: Floats, share: Floats) -> Learned:
    """Return what `count` teaches of shares: multipliers of `share`, shape (F,) each, that keep its sum.

    How many failures there are in all says nothing about which are common, so as many were to be expected as there were.
    """
    share = share / share.sum()
    learned = multipliers(count, share * max(float(count.sum()), 1e-9))
    return Learned(count, learned.expected, learned.belief, float(share @ learned.belief.mean))


def _log_chance(count: Floats, expected: Floats, spread: float) -> float:
    """Return the logarithm of the negative binomial chance of the counts, but for what does not depend on `spread`."""
    shape = np.full_like(count, spread)
    logs = log_gamma(shape + count) - log_gamma(shape) + shape * np.log(spread / (spread + expected))
    return float((logs - count * np.log(spread + expected)).sum())
