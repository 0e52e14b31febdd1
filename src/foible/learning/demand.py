"""How many will be needed: a rate that is not known for sure in; out, the negative binomial demand and what is enough.

A rate λ ~ Gamma(shape, per) over a time (or a number of fencers and days) t gives the demand D ~ negative binomial,

    P(D = d) = Γ(shape + d) / (Γ(shape) d!) · (per / (per + t))^shape · (t / (per + t))^d,

which is Poisson as the shape grows.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, lgamma, log

__all__ = ["Demand", "enough"]

MOST = 100_000
"""More than this of anything is not counted out."""


@dataclass(frozen=True)
class Demand:
    """A demand: Gamma distributed rate with `shape` and inverse scale `per` [time], over `time` in the same unit."""

    shape: float
    per: float
    time: float

    @classmethod
    def seen(cls, count: float, over: float, time: float, *, usual: float, weight: float = 1.0) -> Demand:
        """Return the demand over `time` after `count` were needed `over` a time; `usual` a time unit would be no surprise.

        `weight`: how many of them that expectation is worth. `usual` must be above 0.
        """
        return cls(weight + count, weight / usual + over, time)

    @property
    def mean(self) -> float:
        """How many are expected."""
        return self.shape * self.time / self.per

    def chance(self, count: int) -> float:
        """Return the probability that exactly `count` are needed."""
        if self.time <= 0:
            return 1.0 if count == 0 else 0.0
        logs = lgamma(self.shape + count) - lgamma(self.shape) - lgamma(count + 1)
        return exp(logs + self.shape * log(self.per / (self.per + self.time)) + count * log(self.time / (self.per + self.time)))


def enough(demand: Demand, level: float) -> int:
    """Return the least number that suffices with the probability `level`, above 0 and below 1. Raises ValueError otherwise."""
    if not 0 < level < 1:
        msg = f"service level {level}: give a share above 0 and below 1, such as 0.95"
        raise ValueError(msg)
    total = 0.0
    for count in range(MOST):
        total += demand.chance(count)
        if total >= level:
            return count
    return MOST
