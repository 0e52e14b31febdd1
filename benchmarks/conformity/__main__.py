"""Probabilities of conformity against what items truly were, seeded; and the risks that were chosen against those that came.

    python -m benchmarks.conformity [DAYS]

prints two tables as they stand in docs/conformity.md. Calibration is counted over readings within 2 u of the limit only. Each day
is judged as it goes: a reading by what earlier ones have taught, with the prior learnt anew after 25, 75, 200 and 450.
"""

from __future__ import annotations

import sys
from itertools import pairwise

import numpy as np

from benchmarks.conformity.worlds import LIMIT, STATED_U, THOUGHT, WORLDS, Day, drawn
from foible.control.conformity import DecisionRule, Tolerance, probability
from foible.control.learnt import learnt_prior
from foible.control.priors import GammaPrior, LognormalPrior, NormalPrior
from foible.control.repeats import Scatter, learnt_scatter
from foible.control.risks import RiskKind, accepted

DAYS = 60
BINS = 10
BLOCKS = (0, 25, 75, 200, 450, 900)
"""After how many readings the prior is learnt anew."""
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
    print("| items | true u | readings | nothing known | as thought beforehand | learnt as the day goes | in its second half |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for name, prior in OWN.items():
        print(f"| own law, {name} | × 1 | {_own(prior)} |  |  |")
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
    learnt = np.concatenate([_learnt(day) for day in days])
    told = [probability(near, STATED_U, TOLERANCE), probability(near, STATED_U, TOLERANCE, prior=THOUGHT), learnt]
    late = np.concatenate([np.flatnonzero(day.near) >= BLOCKS[-2] for day in days])
    errors = [*(calibration_error(each, right) for each in told), calibration_error(learnt[late], right[late])]
    return f"{len(near):,} | " + " | ".join(f"{error:.3f}" for error in errors)


def _learnt(day: Day) -> np.ndarray:
    """Return the probabilities of a day's readings near the limit, each told by what came before it."""
    told = []
    for first, last in pairwise(BLOCKS):
        again = day.near[:first]
        scatter = learnt_scatter(Scatter(STATED_U), zip(day.first[:first][again], day.second[:first][again], strict=True))
        u, now = scatter.uncertainty(), day.near[first:last]
        prior = learnt_prior(day.first[:first], u, LIMIT, THOUGHT)
        readings = day.first[first:last][now]
        told.append(probability(readings, u, TOLERANCE, prior=prior, freedom=scatter.freedom()))
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
