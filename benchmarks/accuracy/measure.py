"""Runs of one weapon in all worlds, at the piste and on the bench, boiled down to figures."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from benchmarks.accuracy.play import Advised, Fixed, Played, Telling, best_order, play
from benchmarks.accuracy.world import WORLDS, Simulation, complaints, draw, on_the_bench
from foible.apparatus import load_profile
from foible.diagnosis import Reasoner
from foible.diagnosis.advice.aims import UNEXCHANGED_S
from foible.diagnosis.advice.lookahead import Chooser, exact, followed
from foible.kit import load_setup
from foible.situation import Mode, Situation
from foible.trials import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.random import Generator
    from numpy.typing import NDArray

    from benchmarks.accuracy.world import Case, World
    from foible.diagnosis.advice.adviser import Adviser

__all__ = ["BINS", "bench", "piste", "small_sets", "whole_program"]

BINS = 10
PISTE_TOOLS = ("spare",)
BENCH_TOOLS = ("meter", "box", "weight", "shims", "screwdriver")
SURE = 0.98
"""Certainty at which the plainer ways to choose stop; it brings about the program's own share right."""
TEST_S = 6.0
"""A test after an exchange, in the world that exchanges at random [s]."""


def usual_reasoner(weapon: str) -> Reasoner:
    """Return what reasons about a weapon fitted as usual."""
    setup = load_setup(weapon)
    return Reasoner(setup, load_profile(setup.profile), ideas=load_catalogue(setup))


def summary(runs: Sequence[Played]) -> dict[str, Any]:
    """Return the figures of some runs; shares right are of real faults, calibration is of all cases."""
    faults = [run for run in runs if not run.sound]
    steps = [step for run in runs for step in run.steps]
    stated, right = (np.array([step[i] for step in steps], dtype=float) for i in (0, 1))
    final, good = np.array([run.stated for run in runs]), np.array([run.right for run in runs], dtype=float)
    bins = np.minimum((stated * BINS).astype(int), BINS - 1)
    reliability = [
        [float(stated[bins == b].mean()), float(right[bins == b].mean()), int((bins == b).sum())]
        for b in range(BINS)
        if (bins == b).any()
    ]
    error = sum(abs(s - r) * n for s, r, n in reliability) / max(len(steps), 1)
    return {
        "cases": len(runs),
        "faults": len(faults),
        "right": float(np.mean([run.right for run in faults])),
        "trials": float(np.mean([run.trials for run in runs])),
        "seconds": float(np.mean([run.seconds for run in runs])),
        "median_s": float(np.median([run.seconds for run in runs])),
        "to_be_done_s": float(np.mean([run.seconds + run.lost for run in runs])),
        "stated": float(final.mean()),
        "ece": float(error),
        "ece_final": float(abs(final.mean() - good.mean())),
        "brier": float(np.mean((stated - right) ** 2)),
        "brier_final": float(np.mean((final - good) ** 2)),
        "reliability": reliability,
    }


def _cases(reasoner: Reasoner, world: World, count: int, rng: Generator, adviser: Adviser) -> tuple[Simulation, list[Case]]:
    """Return at least `count` cases, drawn in one go: between a third and a fifth of the faults is complained of."""
    simulation = Simulation(reasoner, world, draw(reasoner, world, count * 11 // 2, rng), rng)
    return simulation, complaints(simulation, adviser, rng)[:count]


def piste(weapon: str, count: int, seed: int) -> dict[str, Any]:
    """Return the figures of the piste for one weapon: all worlds by the program's advice, its own world by plainer ways too."""
    reasoner = usual_reasoner(weapon)
    adviser = reasoner.adviser()
    allowed = [i for i, idea in enumerate(adviser.ideas) if set(idea.needs) <= set(PISTE_TOOLS)]
    advised = Advised(adviser, allowed)
    found: dict[str, Any] = {"weapon": weapon, "worlds": {}}
    for number, world in enumerate(WORLDS):
        rng = np.random.default_rng([seed, number])
        simulation, cases = _cases(reasoner, world, count if number == 0 else count // 10, rng, adviser)
        found["worlds"][world.name] = summary(play(simulation, cases, adviser, advised, seed))
        if number == 0:
            greedy = Telling(adviser, allowed, SURE)
            found["greedy"] = summary(play(simulation, cases, adviser, greedy, seed))
            training = _cases(reasoner, world, 300, np.random.default_rng([seed, 99]), adviser)
            order = best_order(*training, adviser, allowed, SURE, MOST_FIXED)
            found["fixed"] = summary(play(simulation, cases, adviser, Fixed(adviser, order, SURE), seed))
            found["order"] = [adviser.ideas[i].say for i in order[:8]]
            found["swapping"] = _swapping(reasoner, simulation, cases)
            found["bound"] = _bound(adviser, allowed, cases)
    return found


MOST_FIXED = 40
FEW = 4
"""Outcomes of a trial in a small set."""


def bench(weapon: str, count: int, seed: int) -> dict[str, Any]:
    """Return the figures of the bench with a meter for one weapon; every item gets cases as often as it fails."""
    reasoner = usual_reasoner(weapon)
    on_strip = reasoner.adviser()
    items = [
        item
        for item in reasoner.setup.items
        if (item.startswith("left") or item == "piste") and any(idea.item == item for idea in reasoner.ideas)
    ]
    prior = reasoner.hypotheses.prior
    failures = reasoner.hypotheses.failures
    weight = {
        item: sum(
            float(prior[i]) for i, f in enumerate(reasoner.hypotheses.failure.tolist()) if f >= 0 and failures[f].item == item
        )
        for item in items
    }
    runs: dict[str, list[Played]] = {world.name: [] for world in WORLDS}
    share: dict[str, dict[str, float]] = {}
    for item in items:
        adviser = reasoner.adviser(Mode.BENCH, item)
        allowed = [i for i, idea in enumerate(adviser.ideas) if set(idea.needs) <= set(BENCH_TOOLS)]
        policy = Advised(adviser, allowed)
        for number, world in enumerate(WORLDS):
            wanted = max(int(count * weight[item] / sum(weight.values()) / (2 if number == 0 else 5)), 4)
            rng = np.random.default_rng([seed, number, len(item)])
            simulation = Simulation(reasoner, world, draw(reasoner, world, wanted * 4, rng, item=item), rng)
            cases = on_the_bench(simulation, on_strip, adviser, rng)[:wanted]
            own = play(simulation, cases, adviser, policy, seed)
            runs[world.name] += own
            if number == 0 and own:
                share[item] = {"cases": len(own), "right": float(np.mean([run.right for run in own]))}
    return {"weapon": weapon, "worlds": {name: summary(made) for name, made in runs.items()}, "items": share}


def small_sets(weapon: str, count: int, seed: int) -> dict[str, float]:
    """Return how the advice compares with the best plan on small sets cut from the weapon's own tables.

    A set has four trials, their three likeliest outcomes and the rest taken together, and twelve kinds of failure, with their
    real chances, costs and prices.
    """
    adviser = usual_reasoner(weapon).adviser()
    rng = np.random.default_rng([seed, 5])
    ratios, ours, best = [], 0.0, 0.0
    for _ in range(count):
        trials = rng.choice(len(adviser.ideas), 4, replace=False).tolist()
        kinds = sorted(rng.choice(len(adviser.prior), 12, replace=False, p=adviser.prior / adviser.prior.sum()).tolist())
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
    return np.concatenate([table[order[:3]], table[order[3:]].sum(axis=0, keepdims=True)]) if len(order) > FEW else table


def whole_program(weapon: str, count: int, seed: int) -> dict[str, Any]:
    """Return the figures of the program as it stands, pairs and all, in its own world and where two failures are frequent."""
    reasoner = usual_reasoner(weapon)
    adviser = reasoner.adviser()
    names = [aim.name for aim in adviser.aims]
    found = {}
    for number, world in enumerate(WORLDS):
        if world.name not in ("own", "two"):
            continue
        rng = np.random.default_rng([seed, 70 + number])
        simulation, cases = _cases(reasoner, world, count, rng, adviser)
        runs = [_whole(reasoner, adviser, simulation, case, seed, names) for case in cases]
        found[world.name] = summary(runs)
    return {"weapon": weapon, "worlds": found}


def _whole(reasoner: Reasoner, adviser: Adviser, simulation: Simulation, case: Case, seed: int, names: Sequence[str]) -> Played:
    """Diagnose one case by `Reasoner.find` and `decide`, trial by trial."""
    rng = np.random.default_rng([seed, case.fault])
    first = adviser.experiments[case.trial].outcomes[case.outcome].trial
    trials = [replace(first, sure=True)] if first else []
    truths = {adviser.names[i] for i in simulation.faults[case.fault].hypotheses} or {names[0]}
    number = {idea.say: i for i, idea in enumerate(adviser.ideas)}
    seconds, steps, made = 0.0, [], 0
    exchanged: tuple[str, ...] = ()
    while True:
        finding = reasoner.find(trials)
        decision = reasoner.decide(finding, Situation(tools=PISTE_TOOLS), trials)
        top = finding.item_order[0]
        stated = next(share.probability for share in finding.belief.by_item() if share.name == top)
        if made:
            steps.append((min(stated, 1.0), top in truths))
        if decision.enough or made >= 25:  # noqa: PLR2004 — a bout has to go on
            break
        trial = number[decision.advice[0].idea.say]
        idea = adviser.ideas[trial]
        exchanged = tuple(dict.fromkeys((*exchanged, *idea.trial.swapped)))
        healed = [adviser.names[i] in exchanged for i in simulation.faults[case.fault].hypotheses]
        outcome = simulation.show(case.fault, adviser.experiments[trial], rng, healed=healed)
        wasted = idea.trial.swapped and not set(idea.trial.swapped) & truths
        seconds += idea.seconds if wasted or not idea.trial.swapped else float(adviser.model.cost[trial])
        seen = adviser.experiments[trial].outcomes[outcome].trial
        made += 1
        if seen is not None:  # what is exchanged stays so
            trials.append(replace(seen, swapped=exchanged))
    right = top in truths
    return Played(right, min(stated, 1.0), made, seconds, truths == {names[0]}, tuple(steps), 0.0 if right else 1800.0)


def _swapping(reasoner: Reasoner, simulation: Simulation, cases: Sequence[Case]) -> dict[str, float]:
    """Return what exchanging one item after another at random takes, with a test after each that is taken to show it for sure."""
    hypotheses = reasoner.hypotheses
    items = {failure.item for failure in hypotheses.failures}
    cost = {item: (reasoner.setup.items[item].exchange_s or UNEXCHANGED_S) + TEST_S for item in items}
    seconds = []
    for case in cases:
        for i in simulation.faults[case.fault].hypotheses[:1]:
            own = hypotheses.failures[int(hypotheses.failure[i])].item
            seconds.append(cost[own] + (sum(cost.values()) - cost[own]) / 2)
    return {"seconds": float(np.mean(seconds))}


def _bound(adviser: Adviser, allowed: Sequence[int], cases: Sequence[Case]) -> dict[str, float]:
    """Return the bits to be gained and the least seconds that any choice of trials could gain them in.

    A trial gains no more bits than the capacity of its table of outcomes (Blahut 1972, Arimoto 1972).
    """
    shares = adviser.model.grouped(np.stack([case.start / case.start.sum() for case in cases]))
    bits = float(-(shares * np.log2(np.maximum(shares, 1e-30))).sum(axis=1).mean())
    rate = max(_capacity(adviser.model.tables[t]) / float(adviser.model.cost[t]) for t in allowed)
    return {"bits": bits, "bits_per_second": rate, "seconds": bits / rate}


def _capacity(table: NDArray[np.float32]) -> float:
    """Return the most bits that one outcome can carry about the kind of failure."""
    chance = np.unique(np.round(table.astype(np.float64), 4), axis=1)
    weight = np.full(chance.shape[1], 1 / chance.shape[1])
    gain = np.zeros(chance.shape[1])
    for _ in range(60):
        outcome = chance @ weight
        gain = (chance * np.log2(np.maximum(chance, 1e-30) / np.maximum(outcome, 1e-30)[:, None])).sum(axis=0)
        weight = weight * np.exp2(gain)
        weight /= weight.sum()
    return float(weight @ gain)
