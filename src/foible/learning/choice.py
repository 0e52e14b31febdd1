"""Mend or retire: what an item has cost, what others like it cost and what a new one costs in; the cheaper way and how sure, out.

Keeping an item costs λ c a year, with λ its own rate of jobs and c what a job costs. Replacing it costs price / life + λ₀ c, with
λ₀ the rate of items of its kind. Each of λ, λ₀ and c is known only so well: λ₀ ~ Gamma by the kind's jobs and years, λ ~ Gamma
around λ₀ by the item's own, c ~ Gamma around the mean by the number of jobs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["Choice", "KeptCost", "mend_or_retire"]

DRAWS = 20_000
SEED = 1995
ITEM_SHAPE = 2.0
"""Shape of the Gamma distribution of items' rates around that of their kind: 90 % within 0.18–2.4 ×; judgement, no source."""
COST_SHAPE = 2.0
"""Jobs that the cost of a job of the kind counts for beside the item's own."""
CLEAR = 0.8
"""From this probability on one way is called cheaper; judgement, no source."""
SURE = (0.05, 0.95)


@dataclass(frozen=True, slots=True)
class KeptCost:
    """What jobs came to: how many, over how many years of use, and what they cost together [hundredths of the currency]."""

    jobs: int
    years: float
    cost: float


@dataclass(frozen=True, slots=True)
class Choice:
    """What keeping and replacing cost a year, with intervals of 90 % [hundredths], and how probably replacing is cheaper."""

    keep: float
    keep_range: tuple[float, float]
    replace: float
    replace_range: tuple[float, float]
    replacing_cheaper: float

    @property
    def word(self) -> str:
        """“mend”, “retire”, or “open” where too little is known."""
        return "retire" if self.replacing_cheaper >= CLEAR else "mend" if self.replacing_cheaper <= 1 - CLEAR else "open"


def mend_or_retire(item: KeptCost, kind: KeptCost, *, price: float, life: float) -> Choice:
    """Return what is cheaper. `kind`: all items of its kind, this one among them; `life`: of a new one [years], above 0.

    Nothing is asked of the item's age: a rate that rises with it shows in its own jobs.
    """
    if price < 0 or life <= 0 or kind.years <= 0:
        msg = f"price {price}, life {life} years, {kind.years} years of use: give a price from 0 on, and times above 0"
        raise ValueError(msg)
    rng = np.random.default_rng(SEED)
    usual = rng.gamma(kind.jobs + 0.5, 1 / kind.years, DRAWS)
    own = rng.gamma(ITEM_SHAPE + item.jobs, 1.0, DRAWS) / (ITEM_SHAPE / np.maximum(usual, 1e-9) + item.years)
    mean = kind.cost / kind.jobs if kind.jobs else 0.0
    job = _job_cost(rng, mean, COST_SHAPE + item.jobs, (COST_SHAPE * mean + item.cost) / (COST_SHAPE + item.jobs))
    other = _job_cost(rng, mean, COST_SHAPE + kind.jobs, mean)
    keep, replace = own * job, price / life + usual * other
    return Choice(
        float(keep.mean()),
        _range(keep),
        float(replace.mean()),
        _range(replace),
        float((keep > replace).mean()),
    )


def _job_cost(rng: np.random.Generator, mean: float, shape: float, around: float) -> np.ndarray:
    """Return draws of what a job costs on average, Gamma distributed; all 0 where no job cost anything."""
    return rng.gamma(shape, around / shape, DRAWS) if mean > 0 or around > 0 else np.zeros(DRAWS)


def _range(values: np.ndarray) -> tuple[float, float]:
    low, high = np.quantile(values, SURE)
    return float(low), float(high)
