"""How the advice compares with the best plan there is, on sets of trials so small that the best plan can be worked out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import load_profile
from foible.diagnosis import Reasoner
from foible.diagnosis.advice.lookahead import Chooser, exact, followed
from foible.kit import load_setup
from foible.trials import load_catalogue

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["small_sets"]

TRIALS, KINDS, OUTCOMES = 4, 12, 4
"""Trials of a set, kinds of failure in it, and outcomes of a trial."""


def small_sets(weapon: str, count: int, seed: int) -> dict[str, float]:
    """Return how the advice compares with the best plan on small sets cut from the weapon's own tables.

    A set has four trials, their three likeliest outcomes and the rest taken together, and twelve kinds of failure, with their
    real chances, costs and prices.
    """
    setup = load_setup(weapon)
    adviser = Reasoner(setup, load_profile(setup.profile), ideas=load_catalogue(setup)).adviser()
    rng = np.random.default_rng([seed, 5])
    ratios, ours, best = [], 0.0, 0.0
    for _ in range(count):
        trials = rng.choice(len(adviser.ideas), TRIALS, replace=False).tolist()
        kinds = sorted(rng.choice(len(adviser.prior), KINDS, replace=False, p=adviser.prior / adviser.prior.sum()).tolist())
        weight = adviser.prior[kinds] / adviser.prior[kinds].sum()
        whole = adviser.model.only(trials, kinds)
        model = replace(whole, tables=tuple(_fewer(table, weight) for table in whole.tables))
        made, least = followed(Chooser(model), weight), exact(model, weight)
        ratios.append(made / least)
        ours, best = ours + made, best + least
    return {"sets": count, "mean_ratio": float(np.mean(ratios)), "worst_ratio": float(np.max(ratios)), "total_ratio": ours / best}


def _fewer(table: NDArray[np.float32], weight: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return a table of outcomes with all but the three likeliest taken together."""
    order = np.argsort(-(table @ weight))
    few = OUTCOMES - 1
    return np.concatenate([table[order[:few]], table[order[few:]].sum(axis=0, keepdims=True)]) if len(order) > OUTCOMES else table
