"""A world in; out, the cases that are complained of in it: what is wrong, and which of the program's complaints begins the case.

A fault is drawn as often as it occurs and one of the situations in which fencers complain, evenly. It makes a case where what is
seen then is what one of the complaints tells; the lamps of a complaint are not misread, so what is told without a cause has
nothing wrong behind it. So a fault that never shows makes no case, and one that shows often makes many.
All complaints come from the left: the strip is the same from either side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from benchmarks.accuracy.answers import Kit
from benchmarks.accuracy.faults import Fault, listed, unlisted
from benchmarks.accuracy.networks import Networks
from foible.apparatus import Lamp
from foible.diagnosis.shown.hypotheses import Activity, all_hypotheses
from foible.kit import SIDES
from foible.trials import LIT_BEFORE, STATE, Group, load_complaints, read_trial

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence

    from numpy.random import Generator

    from benchmarks.accuracy.readiness import Readiness
    from benchmarks.accuracy.world import World
    from foible.apparatus import Profile
    from foible.diagnosis import Rates
    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Complaint, Look, Trial

__all__ = ["Cases", "Told", "complained", "drawn", "faults_drawn", "told"]

LYING_ALONG = 0.3
"""How often, in a hit that a fencer tells of, the blade behind the point lay along the cloth; the program's own figure."""
PER_CASE = 24
"""Faults drawn for each case wanted: most show nothing in the situation drawn."""
HARDLY = 0.01
"""What is left of a complaint's chance once it counts as cured, as a share of one."""
NO_PISTE = "no metal piste"


class TooFewError(Exception):
    """Fewer faults are complained of than are wanted."""

    def __init__(self, found: int, wanted: int) -> None:
        super().__init__(f"{found} of the faults drawn are complained of, {wanted} are wanted: raise PER_CASE")


class Told(NamedTuple):
    """A complaint with the trial that it tells of."""

    complaint: Complaint
    trial: Trial
    unsaid: tuple[Trial, ...] = ()
    """What else is seen, though nobody says so: a fencer whose cuts to the mask give no light has seen others light."""


@dataclass(frozen=True)
class Cases:
    """Cases with their networks: for each its complaint, the trial as it happened, and how its faults behave."""

    networks: Networks
    told: tuple[Told, ...]
    happened: tuple[Trial, ...]
    ready: tuple[tuple[Readiness, ...], ...]

    def __len__(self) -> int:
        return len(self.told)


def told(setup: Setup) -> tuple[Told, ...]:
    """Return the complaints of a fencer on the left, those that tell of a metal piste among them."""
    return tuple(
        Told(entry, read_trial(setup, entry.table)[0], getattr(entry, "unsaid", ())) for entry in load_complaints(setup, SIDES[0])
    )


def drawn(setup: Setup, profile: Profile, world: World, count: int, seed: int, own: Rates | None = None) -> Cases:
    """Return `count` cases of a world, sound ones among them; `own`: a club's rates where they are not the kit's."""
    rng = np.random.default_rng([seed, 7])
    facts = () if world.piste else (NO_PISTE,)
    hypotheses = all_hypotheses(setup, (), facts, *([own] if own else []))  # earlier programs know no other rates than the kit's
    complaints = [entry for entry in told(setup) if world.piste or entry.trial.arrangement.on != "piste"]
    faults = faults_drawn(
        setup,
        hypotheses,
        (count + 20) * PER_CASE,
        rng,
        two=world.two,
        rates=world.rates,
        between=world.between,
        unknown=world.unlisted,
    )
    networks = Networks(setup, profile, [*faults, *[()] * count], seed, spread=world.spread, thresholds=world.thresholds)

    def behaving(case: Sequence[Fault]) -> tuple[Readiness, ...]:
        return tuple(world.readiness(setup, fault, rng) for fault in case)

    real = list(complained(networks, range(len(faults)), complaints, behaving, rng, piste=world.piste))
    sound = _sound(world, [entry for _, entry, _, _ in real], complaints, count, rng)
    wanted = count - len(sound)
    if len(real) < wanted:
        raise TooFewError(len(real), wanted)
    chosen = [*real[:wanted], *((len(faults) + i, entry, entry.trial, ()) for i, entry in enumerate(sound))]
    places, entries, happened, ready = zip(*chosen, strict=True)
    return Cases(networks.only(places), entries, happened, ready)


def faults_drawn(
    setup: Setup,
    hypotheses: Hypotheses,
    count: int,
    rng: Generator,
    *,
    two: float,
    rates: float = 1.0,
    between: bool = False,
    unknown: float = 0.0,
) -> list[tuple[Fault, ...]]:
    """Return what is wrong in `count` draws from the prior, one fault or two; the shares and factors are those of a `World`."""
    weight = hypotheses.prior.copy()
    weight[:2] = 0.0
    weight[2:] *= np.exp(rng.uniform(-1, 1, len(hypotheses.failures)) * np.log(rates))[hypotheses.failure[2:]]
    weight /= weight.sum()
    low, high = hypotheses.step_edges
    found = []
    for size in (1 + (rng.random(count) < two)).tolist():
        faults: list[Fault] = []
        for i in rng.choice(len(weight), size=size, p=weight).tolist():
            failure = hypotheses.failures[int(hypotheses.failure[i])]
            ohms = float(hypotheses.ohms[i])
            if between and np.isfinite(ohms) and high[i] > low[i]:
                ohms = float(np.exp(rng.uniform(np.log(low[i]), np.log(high[i]))))
            fault = listed(setup, failure, ohms, Activity(int(hypotheses.activity[i])))
            if unknown and rng.random() < unknown:
                fault = unlisted(setup, failure.item, rng) or fault
            if fault.part not in {other.part for other in faults}:
                faults.append(fault)
        found.append(tuple(faults))
    return found


def complained(
    networks: Networks,
    places: Iterable[int],
    complaints: Sequence[Told],
    behaving: Callable[[Sequence[Fault]], tuple[Readiness, ...]],
    rng: Generator,
    *,
    piste: bool = True,
    along: float = LYING_ALONG,
) -> Iterator[tuple[int, Told, Trial, tuple[Readiness, ...]]]:
    """Yield the cases that make a complaint: its place, the complaint, the trial as it happened and how the faults behave."""
    by_trial: dict[Trial, list[Told]] = {}
    for entry in complaints:
        by_trial.setdefault(entry.trial.unseen(), []).append(entry)
    situations = list(by_trial)
    for place in places:
        asked = situations[int(rng.integers(len(situations)))]
        happened = _lying(networks.setup, asked) if rng.random() < along else asked
        ready = behaving(networks.cases[place])
        kit = Kit(networks, place, ready, rng, misread=0.0, piste=piste)
        lit = kit.lit(happened)
        fitting = [entry for entry in by_trial[asked] if _agrees(entry.trial, lit)]
        chosen = fitting[int(rng.integers(len(fitting)))] if fitting else None
        if chosen is None:
            continue
        again = [(chosen.trial, happened)] * (chosen.trial.times - 1)
        if all(_agrees(trial, kit.lit(made)) for trial, made in (*again, *((each, each) for each in chosen.unsaid))):
            yield place, chosen, happened, ready


def _sound(world: World, real: Sequence[Told], complaints: Sequence[Told], count: int, rng: Generator) -> list[Told]:
    """Return the complaints with nothing wrong: so many of each that its file is right, or as many as the world has of all."""
    if world.nothing is not None:
        may = [entry for entry in complaints if entry.trial.hearsay]  # a lamp that is on all the time is on for everybody
        return [may[i] for i in rng.integers(len(may), size=round(count * world.nothing)).tolist()]
    share = np.array([entry.trial.hearsay for entry in real[:count]])
    also = np.flatnonzero(rng.random(len(share)) < share / (1 - share)).tolist()
    return [real[i] for i in also if i + len(also) < count]


def _lying(setup: Setup, trial: Trial) -> Trial:
    """Return a hit on cloth with the blade lying along it."""
    hit = trial.arrangement
    blade = f"{hit.press} weapon taped blade"
    if hit.on not in setup.cloth or blade not in setup.places:
        return trial
    return replace(trial, arrangement=replace(hit, touching=(*hit.touching, (blade, hit.on))))


def _agrees(trial: Trial, lit: Mapping[tuple[str, Group], Look]) -> bool:
    """Return whether what was seen is what a complaint tells."""
    assert trial.seen is not None
    return all(_tells(looks, lit[key]) for key, looks in trial.seen.looks.items())


def _tells(looks: Collection[Look], seen: Look) -> bool:
    """Return whether what a complaint tells of a group of lamps is what was seen; nobody tells whether white was lit before."""
    return seen in looks or _plain(seen) in looks


def _plain(look: Look) -> Look:
    white = STATE[Lamp.WHITE]
    first, second = (white if state == LIT_BEFORE else state for state in look)
    return (min(first, second), max(first, second))


def complains(cases: Cases, place: int, there: int) -> bool:
    """Return whether faults, as bits, can make what a case complains of, some or all of them there."""
    trial, seen = cases.happened[place], cases.told[place].trial.seen
    assert seen is not None
    ways = [each for each in range(1, 4) if each & ~there == 0]
    return any(_chance(cases.networks, place, trial, seen.looks, (way, other)) > HARDLY for way in ways for other in (way, 0))


def _chance(
    networks: Networks, place: int, trial: Trial, told_looks: Mapping[tuple[str, Group], frozenset[Look]], ways: tuple[int, int]
) -> float:
    """Return the chance that two looks with sets of faults there agree with what is told."""
    total = 1.0
    for (side, group), looks in told_looks.items():
        first, second = (networks.states(trial.arrangement, place, way, side)[group] for way in ways)
        total *= sum(
            first[a] * second[b] for a, b in product(range(len(first)), repeat=2) if _tells(looks, (min(a, b), max(a, b)))
        )
    return float(total)
