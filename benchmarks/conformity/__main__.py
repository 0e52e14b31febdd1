"""Probabilities of conformity against what items truly were, seeded; and the risks that were chosen against those that came.

    python -m benchmarks.conformity [DAYS]

prints the tables of docs/conformity.md. Calibration is counted over readings within 2 u of the limit only. Each day is
judged as it goes: ten readings of one wire in the morning, then a reading by what earlier ones have taught, learnt anew
each time they are a third more. The same days, five by five, are then seasons: what one day taught is there for the next.
"""

from __future__ import annotations

import sys
from itertools import pairwise

import numpy as np

from benchmarks.conformity.worlds import ITEMS, LIMIT, STATED_U, THOUGHT, WORLDS, Day, drawn
from foible.control.conformity import DecisionRule, Tolerance, probability
from foible.control.learnt import due, learnt
from foible.control.priors import GammaPrior, LognormalPrior, NormalPrior
from foible.control.repeats import Scatter, learnt_scatter
from foible.control.risks import RiskKind, accepted

DAYS = 60
BINS = 10
SEASON = 5
"""Days that teach each other."""
FACTORS = (0.75, 1.0, 1.25)
DRAWS = 2_000_000
TOLERANCE = Tolerance(upper=LIMIT)
OWN: dict[str, LognormalPrior | NormalPrior | GammaPrior] = {
    "lognormal": THOUGHT,
    "normal": NormalPrior(0.85, 0.12),
    "gamma": GammaPrior(9.0, 0.09),
}


def main(days: int) -> None:
    """Print both tables."""
    print("| items | true u | readings | nothing known | as thought | learnt | its second half | a season | its later days |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for name, prior in OWN.items():
        print(f"| own law, {name} | × 1 | {_own(prior)} |  |  |  |  |")
    for world in WORLDS:
        for factor in FACTORS:
            print(f"| {world} | × {factor:g} | {_row([drawn(world, factor, seed) for seed in range(days)])} |", flush=True)
    print("\n| rule | chosen risk | under the own law | off by |\n| --- | --- | --- | --- |")
    for name, prior in OWN.items():
        for rule in (DecisionRule.AGAINST_FALSE_PASS, DecisionRule.AGAINST_FALSE_FAIL):
            for kind, risk in ((RiskKind.SPECIFIC, 0.05), (RiskKind.GLOBAL, 0.01)):
                came = _came(prior, rule, kind, risk)
                print(f"| {rule}, {name} | {kind} {risk:g} | {came:.4f} | {100 * (came / risk - 1):+.1f} % |", flush=True)


def calibration_error(told: np.ndarray, right: np.ndarray) -> float:
    """Return the expected calibration error: |told − came| of each tenth, weighed by how many readings are in it."""
    bins = np.minimum((told * BINS).astype(int), BINS - 1)
    count = np.bincount(bins, minlength=BINS)
    gap = np.abs(np.bincount(bins, told, BINS) - np.bincount(bins, right, BINS))
    return float(gap.sum() / count.sum())


def _sample(prior: LognormalPrior | NormalPrior | GammaPrior, rng: np.random.Generator, count: int) -> np.ndarray:
    match prior:
        case LognormalPrior():
            return rng.lognormal(np.log(prior.median), prior.spread, count)
        case NormalPrior():
            return rng.normal(prior.mean, prior.spread, count)
    return rng.gamma(prior.shape, prior.scale, count)


def _own(prior: LognormalPrior | NormalPrior | GammaPrior) -> str:
    """Return the calibration where law and uncertainty are as told."""
    rng = np.random.default_rng(1)
    true = _sample(prior, rng, 1_000_000)
    readings = true + rng.normal(0, STATED_U, len(true))
    near = np.abs(readings - LIMIT) <= 2 * STATED_U
    right = true[near] <= LIMIT
    flat = calibration_error(probability(readings[near], STATED_U, TOLERANCE), right)
    told = probability(readings[near], STATED_U, TOLERANCE, prior=prior)
    return f"{near.sum():,} | {flat:.3f} | {calibration_error(told, right):.3f}"


def _row(days: list[Day]) -> str:
    right = np.concatenate([day.true[day.near] <= LIMIT for day in days])
    near = np.concatenate([day.first[day.near] for day in days])
    told = [probability(near, STATED_U, TOLERANCE), probability(near, STATED_U, TOLERANCE, prior=THOUGHT)]
    errors = [calibration_error(each, right) for each in told]
    late = np.concatenate([np.flatnonzero(day.near) >= ITEMS // 2 for day in days])
    errors += _errors(np.concatenate([_learnt([day]) for day in days]), right, late)
    seasons = [days[first : first + SEASON] for first in range(0, len(days), SEASON)]
    later = np.concatenate([np.full(day.near.sum(), place > 0) for season in seasons for place, day in enumerate(season)])
    errors += _errors(np.concatenate([_learnt(season) for season in seasons]), right, later)
    return f"{len(near):,} | " + " | ".join(f"{error:.3f}" for error in errors)


def _errors(told: np.ndarray, right: np.ndarray, some: np.ndarray) -> list[float]:
    return [calibration_error(told, right), calibration_error(told[some], right[some]) if some.any() else np.nan]


def _learnt(days: list[Day]) -> np.ndarray:
    """Return the probabilities of readings near the limit, each told by what came before it on its day and earlier ones."""
    told, scatter, items = [], Scatter(STATED_U), list[tuple[float, ...]]()
    for day in days:
        scatter, known = learnt_scatter(scatter, [tuple(day.morning)]), len(items)
        items += [(a, b) if twice else (a,) for a, b, twice in zip(day.first, day.second, day.near, strict=True)]
        blocks = sorted({known, *(due(count) for count in range(known + 1, len(items))), len(items)} - set(range(known)))
        for first, last in pairwise(blocks):
            now = slice(first - known, last - known)
            taught = learnt(items[:first], scatter, LIMIT, THOUGHT)
            told.append(taught.probability(day.first[now][day.near[now]], TOLERANCE))
    return np.concatenate(told)


def _came(prior: LognormalPrior | NormalPrior | GammaPrior, rule: DecisionRule, kind: RiskKind, risk: float) -> float:
    """Return the risk that came of a chosen one: of readings just accepted or just not, or of all items."""
    limits = accepted(STATED_U, TOLERANCE, rule=rule, risk=risk, kind=kind, prior=prior)
    rng = np.random.default_rng(2)
    true = _sample(prior, rng, DRAWS)
    readings = true + rng.normal(0, STATED_U, DRAWS)
    assert limits.upper is not None
    guarded_pass = rule is DecisionRule.AGAINST_FALSE_PASS
    wrong = true > LIMIT if guarded_pass else true <= LIMIT
    if kind is RiskKind.GLOBAL:
        return float(np.mean(wrong & ((readings <= limits.upper) == guarded_pass)))
    just = np.abs(readings - limits.upper) < STATED_U / 20
    return float(np.mean(wrong[just]))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else DAYS)
