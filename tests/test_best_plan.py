"""Time and points of an attempt beside the least that is possible, by dynamic programming over small sets of faults and trials.

The programme knows nothing of plans: it has what each trial of a small set shows with each of a few faults, what a step takes,
and the rules of the exercise: who names a fault has it put right, and it is proved by a trial that failed and now passes.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import pytest

from foible.diagnosis import StagedFault, asking_s
from foible.practice import Attempt, Deed, Step, judged, points, staged
from foible.services.practice.plans import following_advice, knowing, told_again
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.practice import Hidden

pytestmark = pytest.mark.once

SMALL = 4
"""Faults of a set that somebody looks for; each more makes twice as many sets that are still possible."""
EASING_S = 20.0
"""What it takes to put right what is not exchanged, as the exercise counts it [s]."""
AT_THE_PISTE = (
    "left weapon wire at the point: broken under the barrel",
    "left cord B wire, middle: broken in the middle",
    "left cord C wire at the weapon plug: broken where it leaves the plug",
    "left reel B slip ring: dirty ring or worn brush",
    "left floor cable C wire in the plug at the apparatus: end loose in the plug",
    "left weapon contact cup: short inside the point",
    "right cord clip bite: come off, or never put on",
)
"""Steady faults that an armourer meets; whether each is at its usual severity is the kit's word."""


def made(weapon: str, name: str) -> Hidden:
    setup = REASONING.setup(weapon)
    failure = setup.failures[name]
    return staged(setup, [StagedFault(failure, failure.usual_ohms)], 3)


def naming(hidden: Hidden) -> tuple[Step, float]:
    """Return the step that names the fault, with what it takes to put right what is named [s]."""
    setup, failure = hidden.setup, hidden.faults[0].failure
    step = Step(Deed.NAME, list(setup.items).index(failure.item) + 1, list(setup.parts).index(failure.part))
    exchange = setup.items[failure.item].exchange_s
    return step, EASING_S if exchange is None else exchange


def shortest(hidden: Hidden, trials: Sequence[int]) -> float:
    """Return the least time in which somebody who knows the fault can put it right and prove it, over every order of steps [s].

    V(failed, right) is the least time yet to come once some trials have failed and the fault may have been put right:
    a trial takes its time and fails or not; once right, one that had failed ends it.
    """
    ideas = REASONING.ideas(hidden.setup)
    took = {place: ideas[place].seconds + asking_s(ideas[place]) for place in trials}
    sound = {place: hidden.without_faults.answer(ideas[place].trial, 0).told for place in trials}
    fails = {place for place in trials if hidden.kit.answer(ideas[place].trial, 0).told != sound[place]}
    told = told_again(hidden, ideas)

    @cache
    def left(failed: frozenset[int], *, right: bool) -> float:
        if right:
            return min((took[place] for place in failed), default=math.inf)
        sooner = (took[place] + left(failed | {place}, right=False) for place in fails - failed)
        return min(naming(hidden)[1] + left(failed, right=True), *sooner, math.inf)

    return left(frozenset() if told is None else frozenset({told}), right=False)


@pytest.mark.parametrize("name", AT_THE_PISTE)
def test_the_best_plan_of_the_talk_takes_the_least_time_that_is_possible(name: str) -> None:
    hidden = made("foil", name)
    ideas = REASONING.ideas(hidden.setup)
    best = knowing(hidden, ideas)
    plain = [place for place, idea in enumerate(ideas) if idea.item is None and not idea.trial.swapped and not idea.repair]
    cheap = sorted(plain, key=lambda place: ideas[place].seconds + asking_s(ideas[place]))[:6]
    again = told_again(hidden, ideas)
    assert again is not None
    least = shortest(hidden, sorted({*cheap, again}))
    assert best.seconds == pytest.approx(least)
    result = judged(best)
    assert result.right
    assert result.part
    assert result.proved
    assert points(result, best.seconds, least) == 100


def test_on_the_bench_the_best_plan_makes_the_quickest_trial_that_shows_the_fault() -> None:
    """Nobody complains of it, so it has to be seen to fail first; every trial at the item stands in the programme."""
    hidden = made("foil", "left weapon guard surface: oxidised, dirty or lacquered")
    ideas = REASONING.ideas(hidden.setup)
    assert hidden.item == "left weapon"
    best = knowing(hidden, ideas)
    here = [place for place, idea in enumerate(ideas) if idea.item == hidden.item and not idea.repair and idea.seconds < 15]
    assert best.seconds == pytest.approx(shortest(hidden, here))
    assert judged(best).proved


# --- who does not know which it is ------------------------------------------------------------------------------------


def least_expected(cases: Sequence[Hidden], steps: Sequence[Step]) -> float:
    """Return the least expected time to find which of equally likely faults it is, to name it and to put it right [s].

    V(S, done) over the set S of faults that are still possible and the exchanges made: any step is made and splits S by what it
    shows, or what is left is named where it is one item.
    """
    ideas = REASONING.ideas(cases[0].setup)

    @cache
    def shown(number: int, done: frozenset[Step], step: Step) -> object:
        table = Attempt(cases[number], ideas, (*sorted(done, key=str), step)).done[-1].table
        return table and (table.saw, table.reads, table.found)

    @cache
    def takes(step: Step, done: frozenset[Step]) -> float:
        return Attempt(cases[0], ideas, (*sorted(done, key=str), step)).done[-1].seconds

    @cache
    def left(possible: frozenset[int], done: frozenset[Step]) -> float:
        items = {cases[number].faults[0].failure.item for number in possible}
        best = math.inf
        if len(items) == 1:
            item = items.pop()
            out = any(list(cases[0].setup.items)[step.number] == item for step in done)
            best = 0.0 if out else naming(cases[next(iter(possible))])[1]
        for step in steps:
            if step.deed is Deed.EXCHANGE:
                if step not in done and len(done) < 2:
                    best = min(best, takes(step, done) + left(possible, done | {step}))
                continue
            split: dict[object, set[int]] = {}
            for number in possible:
                split.setdefault(shown(number, done, step), set()).add(number)
            if len(split) > 1:
                onward = sum(len(part) / len(possible) * left(frozenset(part), done) for part in split.values())
                best = min(best, takes(step, done) + onward)
        return best

    return left(frozenset(range(len(cases))), frozenset())


@pytest.mark.slow
def test_a_master_takes_no_less_than_the_best_strategy_and_that_no_less_than_who_knows() -> None:
    """The master reckons with all that the kit can have, the programme with these few faults and the master’s own steps."""
    cases = [made("foil", name) for name in AT_THE_PISTE[:SMALL]]
    ideas = REASONING.ideas(cases[0].setup)
    masters = [following_advice(REASONING, each, ideas) for each in cases]
    assert all(judged(each).right for each in masters)
    steps = {step for each in masters for step in each.steps if step.deed in (Deed.TRIAL, Deed.EXCHANGE)}
    least = least_expected(cases, sorted(steps, key=str))
    bare = [naming(each)[1] for each in cases]
    took = sum(each.seconds for each in masters) / len(masters)
    assert sum(bare) / len(bare) <= least <= took + 1e-9
    for each, master in zip(cases, masters, strict=True):
        best = knowing(each, ideas)
        assert points(judged(master), master.seconds, best.seconds) <= points(judged(best), best.seconds, best.seconds) == 100
