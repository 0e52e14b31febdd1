"""Choosing trials: by hand, against a table of all histories, and against the rule for repairs by Heckerman, Breese & Rommelse.

David Heckerman, John S. Breese and Koos Rommelse, “Decision-theoretic troubleshooting”, Communications of the ACM 38(3), 1995;
Joseph B. Kadane and Herbert A. Simon, “Optimal strategies for a class of constrained sequential problems”, Annals of Statistics
5(2), 1977. Both from memory. The random problems are invented; how far a rule of thumb may stay behind is judgement, no source.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.stats import entropy

from foible.diagnosis.advice.lookahead import Chooser, exact, followed, repair_order
from foible.diagnosis.advice.model import DecisionModel
from strip import strip

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

WITHIN = 1.15
"""How many times the least expected cost following the advice may cost, on average."""
FOR_SURE = 1e9
"""A wrong name that costs so much that nobody stops before all is known [s]."""


def problem(
    tables: Sequence[Sequence[Sequence[float]]],
    cost: Sequence[float],
    *,
    group: Sequence[int],
    naming: Sequence[float] | None = None,
    wrong: float = 100.0,
) -> DecisionModel:
    """Return a problem; `tables` are outcome by state for every trial."""
    groups = max(group) + 1
    return DecisionModel(
        tables=tuple(np.array(table, dtype=np.float32) for table in tables),
        cost=np.array(cost, dtype=np.float64),
        group=np.array(group, dtype=np.intp),
        naming=np.array(naming if naming is not None else [0.0] * groups),
        wrong=wrong,
    )


def random_problem(seed: int, trials: int) -> tuple[DecisionModel, Floats]:
    """Return a random model of three outcomes a trial, six to ten states in three or four groups, and a belief.

    About half of the problems have trials that act on a group to see whether that helps.
    """
    rng = np.random.default_rng([1995, seed])
    groups, states = int(rng.integers(3, 5)), int(rng.integers(6, 11))
    group = np.sort(np.concatenate([np.arange(groups), rng.integers(groups, size=states - groups)]))
    tables = tuple(rng.dirichlet(np.full(3, 0.3), size=states).T.astype(np.float32) for _ in range(trials))
    mends = rng.integers(-1, groups, size=trials) if seed % 2 else None
    made = DecisionModel(tables, rng.uniform(5, 60, trials), group, rng.uniform(0, 300, groups), 900.0, mends)
    return made, rng.dirichlet(np.ones(states))


def least_cost(given: DecisionModel, belief: Floats) -> float:
    """Return the least expected cost to be done from a table of all histories: the outcome of each trial, or “not made” [s].

    A second way to `exact`: from the histories with most trials made to those with fewer, without recursion.
    """
    weight = belief.astype(np.float64)
    for trial, table in enumerate(given.tables):
        rows = np.concatenate([table.astype(np.float64), np.ones((1, len(belief)))])  # the last row is “not made”
        weight = weight[..., None, :] * rows.reshape((1,) * trial + rows.shape)
    total = weight.sum(axis=-1)
    members = (given.group == np.arange(len(given.naming))[:, None]).astype(np.float64)
    elsewhere = total[..., None] - weight @ members.T
    loss = given.naming + given.wrong
    spared = np.zeros((len(loss), len(loss)))  # what is put right along with another group loses only the dearer act
    for group, others in given.covered:
        spared[list(others), group] = loss[list(others)]
    cost = np.asarray((elsewhere * loss - weight @ members.T @ spared).min(axis=-1))
    every = range(len(given.tables))
    for made in sorted(range(2 ** len(given.tables)), key=int.bit_count, reverse=True):
        here = tuple(slice(0, -1) if made >> trial & 1 else slice(-1, None) for trial in every)
        for trial in every:
            if not made >> trial & 1:
                there = (*here[:trial], slice(0, -1), *here[trial + 1 :])
                onward = given.cost[trial] * total[here] + cost[there].sum(axis=trial, keepdims=True)
                if given.mends is not None and given.mends[trial] >= 0:  # acting on a group is lost where it is another
                    onward = onward + given.naming[given.mends[trial]] * elsewhere[here][..., given.mends[trial]]
                cost[here] = np.minimum(cost[here], onward)
    return float(cost[(-1,) * len(given.tables)])


# --- worked out by hand -------------------------------------------------------------------------------------------------

SURE, HINT = 0, 1
TWO_TRIALS = problem([[[1, 0], [0, 1]], [[1, 0.5], [0, 0.5]]], [20, 4], group=[0, 1])
"""Two groups alike likely; naming the wrong one loses 100 s. The sure trial costs 20 s and tells them apart. The hint costs 4 s:
it says “yes” always in the first group, and half the time in the second.
"""
EVEN = np.array([0.5, 0.5])


def test_two_trials_worked_by_hand() -> None:
    """Stopping at once loses 100 · ½ = 50 s, the sure trial costs 20 s.

    After the hint, “no” (¼) leaves no doubt. After “yes” (¾) the second group still has ⅓, so that stopping loses 33⅓ s and
    the sure trial costs 20 s. Hint and stop: 4 + ¾ · 33⅓ = 29 s. Hint, and the sure trial after “yes”: 4 + ¾ · 20 = 19 s.
    """
    assert exact(TWO_TRIALS, EVEN, frozenset()) == pytest.approx(50)
    assert exact(TWO_TRIALS, EVEN, frozenset({SURE})) == pytest.approx(20)
    assert exact(TWO_TRIALS, EVEN, frozenset({HINT})) == pytest.approx(29)
    assert exact(TWO_TRIALS, EVEN) == pytest.approx(19)
    assert least_cost(TWO_TRIALS, EVEN) == pytest.approx(19)


def test_the_advice_makes_the_cheap_trial_first_and_the_sure_one_only_where_doubt_is_left() -> None:
    chooser = Chooser(TWO_TRIALS)
    assert chooser.choices(EVEN)[0].trial == HINT
    assert chooser.choices(np.array([0.5, 0.25]), [SURE])[0].trial == SURE
    assert chooser.choices(np.array([0.0, 0.25]), [SURE])[0].trial is None
    assert followed(chooser, EVEN) == pytest.approx(19)


def test_what_acting_on_a_group_costs_decides_what_to_name() -> None:
    """At ½ : ½ and 100 s for a wrong name, a group whose repair costs 20 s is not named: 120 · ½ = 60 s against 50 s."""
    dear = replace(TWO_TRIALS, naming=np.array([20.0, 0.0]))
    assert dear.named(EVEN) == 1
    assert exact(dear, EVEN, frozenset()) == pytest.approx(50)
    assert dear.named(np.array([0.6, 0.4])) == 0  # 120 · 0.4 = 48 s against 100 · 0.6 = 60 s
    assert exact(dear, np.array([0.6, 0.4]), frozenset()) == pytest.approx(48)


def test_a_trial_that_acts_on_a_group_loses_what_acting_costs_only_where_it_was_another() -> None:
    """Acting on the first group takes 5 s to do, and 20 s are lost in the half of cases in which it was the second: 15 s.

    The cost of acting on the right one has to be paid anyway.
    """
    made = replace(TWO_TRIALS.only([SURE], [0, 1]), cost=np.array([5.0]), naming=np.array([20.0, 20.0]), mends=np.array([0]))
    assert exact(made, EVEN) == pytest.approx(5 + 20 / 2)
    assert least_cost(made, EVEN) == pytest.approx(15)
    assert followed(Chooser(made), EVEN) == pytest.approx(15)
    assert exact(replace(made, mends=np.array([-1])), EVEN) == pytest.approx(5)


def test_bits_of_the_two_trials_worked_by_hand() -> None:
    """The sure trial: 1 bit. The hint: 1 − ¾ · H(⅓) = 1 − ¾ · 0.9183 = 0.3113 bit."""
    bits = {choice.trial: choice.bits for choice in Chooser(TWO_TRIALS).choices(EVEN)}
    assert bits[SURE] == pytest.approx(1, abs=1e-6)
    assert bits[HINT] == pytest.approx(0.3113, abs=1e-4)


# --- repairs that show for sure whether they helped: p/c ---------------------------------------------------------------


def repairs(seed: int, count: int = 5) -> tuple[DecisionModel, Floats, Floats]:
    """Return `count` trials of random cost that each show for sure whether their own group is it, a belief, and their chances.

    Group 0 is what none of them shows, so that none is spared because the others are ruled out.
    """
    rng = np.random.default_rng([1977, seed])
    helped = [[float(state == own) for state in range(count + 1)] for own in range(1, count + 1)]
    belief = rng.dirichlet(np.ones(count + 1))
    made = problem(
        [[row, [1 - it for it in row]] for row in helped],
        rng.uniform(5, 120, count).tolist(),
        group=range(count + 1),
        wrong=FOR_SURE,
    )
    return made, belief, belief[1:]


def closed_form(order: Sequence[int], chance: Floats, cost: Floats) -> float:
    """Return Σ cᵢ (1 − Σ pⱼ of those before): each repair is made unless one before it helped [s]."""
    return sum(float(cost[i] * (1 - sum(chance[j] for j in order[:place]))) for place, i in enumerate(order))


@pytest.mark.parametrize("seed", range(12))
def test_the_best_order_of_repairs_goes_by_falling_chance_over_cost(seed: int) -> None:
    """Heckerman, Breese & Rommelse 1995; all 120 orders tried out, and the dynamic programme."""
    made, belief, chance = repairs(seed)
    order = repair_order(chance.tolist(), made.cost.tolist())
    best = closed_form(order, chance, made.cost)
    assert best == pytest.approx(min(closed_form(each, chance, made.cost) for each in permutations(range(5))), rel=1e-12)
    assert exact(made, belief) == pytest.approx(best, rel=1e-6)
    assert least_cost(made, belief) == pytest.approx(best, rel=1e-6)


def test_three_repairs_worked_by_hand() -> None:
    """Chances 0.5, 0.3, 0.2 at 60, 10 and 20 s: p/c is 0.0083, 0.03 and 0.01, so 10 + 0.7 · 20 + 0.5 · 60 = 54 s."""
    chance, cost = np.array([0.5, 0.3, 0.2]), np.array([60.0, 10.0, 20.0])
    assert repair_order(chance.tolist(), cost.tolist()) == [1, 2, 0]
    assert closed_form([1, 2, 0], chance, cost) == pytest.approx(54)
    assert closed_form([0, 1, 2], chance, cost) == pytest.approx(60 + 0.5 * 10 + 0.2 * 20)


def test_the_advice_keeps_to_chance_over_cost() -> None:
    """First trial and expected cost over sixty sets of repairs.

    The advice looks two trials ahead, so it may take another first now and then; on the whole it must lose next to nothing.
    """
    first, ratio = [], []
    for seed in range(60):
        made, belief, chance = repairs(seed)
        order = repair_order(chance.tolist(), made.cost.tolist())
        chooser = Chooser(made)
        first.append(chooser.choices(belief)[0].trial == order[0])
        ratio.append(followed(chooser, belief) / closed_form(order, chance, made.cost))
    assert min(ratio) >= 1 - 1e-6, "nothing is cheaper than the best order"
    assert np.mean(first) >= 0.9
    assert np.mean(ratio) <= 1.03
    assert max(ratio) <= 1.5


@pytest.mark.parametrize("seed", range(12))
def test_where_trials_cost_the_same_the_advice_tries_the_likeliest_first(seed: int) -> None:
    made, belief, chance = repairs(seed)
    even = replace(made, cost=np.full(5, 30.0))
    assert followed(Chooser(even), belief) == pytest.approx(
        closed_form(np.argsort(-chance).tolist(), chance, even.cost), rel=1e-6
    )


# --- random problems ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(20))
def test_the_dynamic_programme_agrees_with_the_table_of_all_histories(seed: int) -> None:
    given, belief = random_problem(seed, trials=3)
    assert exact(given, belief) == pytest.approx(least_cost(given, belief), rel=1e-6)
    assert exact(given, 7 * belief) == pytest.approx(7 * exact(given, belief), rel=1e-6)


def test_following_the_advice_costs_little_more_than_the_best_plan() -> None:
    """Sixty seeded problems of four or five trials; never cheaper than the best plan."""
    ratio = []
    for seed in range(60):
        given, belief = random_problem(seed, trials=4 + seed % 2)
        ratio.append(followed(Chooser(given), belief) / least_cost(given, belief))
    assert min(ratio) >= 1 - 1e-5
    assert np.mean(ratio) <= WITHIN


@pytest.mark.parametrize("seed", range(20))
def test_bits_are_the_mutual_information_of_outcome_and_group(seed: int) -> None:
    """H(group) + H(outcome) − H(both), by SciPy's entropy; never negative, never more than the doubt about the group."""
    given, belief = random_problem(seed, trials=5)
    groups = np.array([belief[given.group == g].sum() for g in range(len(given.naming))])
    choices = [choice for choice in Chooser(given).choices(belief) if choice.trial is not None]
    assert sorted(choice.trial for choice in choices if choice.trial is not None) == list(range(5))
    for choice in choices:
        assert choice.trial is not None
        weight = given.tables[choice.trial] * belief
        joint = np.array([weight[:, given.group == g].sum(axis=1) for g in range(len(groups))])
        told = entropy(groups, base=2) + entropy(joint.sum(axis=0), base=2) - entropy(joint.ravel(), base=2)
        assert choice.bits == pytest.approx(float(told), abs=1e-5)
        assert 0 <= choice.bits <= float(entropy(groups, base=2)) + 1e-5


@pytest.mark.parametrize("seed", range(20))
def test_bits_are_never_negative_though_belief_is_all_but_certain(seed: int) -> None:
    given, belief = random_problem(seed, trials=5)
    for certain in (1e-3, 1e-6, 1e-9, 0.0):
        sure = belief * certain
        sure[int(np.argmax(belief))] = 1.0
        assert all(choice.bits >= 0 for choice in Chooser(given).choices(sure))
        assert all(choice.cost >= 0 for choice in Chooser(given).choices(sure))


@pytest.mark.parametrize("seed", range(20))
def test_a_dearer_trial_never_makes_anything_cheaper(seed: int) -> None:
    """Neither the best plan nor what the advice expects of any trial; and the best plan pays at most the rise."""
    given, belief = random_problem(seed, trials=3)
    before = {choice.trial: choice.cost for choice in Chooser(given).choices(belief)}
    for trial in range(3):
        dearer = replace(given, cost=given.cost + 25.0 * (np.arange(3) == trial))
        assert exact(given, belief) - 1e-6 <= exact(dearer, belief) <= exact(given, belief) + 25 + 1e-6
        after = {choice.trial: choice.cost for choice in Chooser(dearer).choices(belief)}
        assert after[None] == before[None]
        assert all(after[each] >= before[each] - 1e-3 for each in before)


@pytest.mark.parametrize("seed", range(20))
def test_a_trial_that_tells_nothing_stands_behind_stopping(seed: int) -> None:
    """A coin: the same chances in every state. Alone it is never worth its cost, and beside others it comes first nowhere."""
    given, belief = random_problem(seed, trials=3)
    coin = np.repeat(np.array([[0.6], [0.4]], dtype=np.float32), len(belief), axis=1)
    alone = Chooser(replace(given, tables=(coin,), cost=np.array([1.0]), mends=None))
    assert alone.bits(belief, [0]) == pytest.approx([0], abs=1e-6)
    assert [choice.trial for choice in alone.choices(belief)] == [None]
    mends = None if given.mends is None else np.append(-1, given.mends)
    beside = replace(given, tables=(coin, *given.tables), cost=np.append(1.0, given.cost), mends=mends)
    assert Chooser(beside).choices(belief)[0].trial != 0
    assert exact(beside, belief) == pytest.approx(exact(given, belief), rel=1e-6)


def test_with_nothing_left_to_try_one_stops() -> None:
    assert [choice.trial for choice in Chooser(TWO_TRIALS).choices(EVEN, [])] == [None]
    assert {choice.trial for choice in Chooser(TWO_TRIALS).choices(EVEN, [HINT])} == {None, HINT}


# --- problems cut from the tables of the three weapons --------------------------------------------------------------------

TRIALS, STATES, OUTCOMES = 5, 12, 4


def cut(whole: DecisionModel, prior: Floats, rng: np.random.Generator) -> tuple[DecisionModel, Floats]:
    """Return five trials and twelve states of a weapon's model, drawn by what they say and weigh, and a belief over them.

    Of each trial the four likeliest outcomes stay and the rest is one, so that all histories fit into a table.
    """
    share = prior / prior.sum()
    states = np.sort(rng.choice(len(share), STATES, replace=False, p=share))
    belief = share[states] / share[states].sum()
    alone = np.zeros(len(share))
    alone[states] = belief
    telling = Chooser(whole).bits(alone, range(len(whole.tables)))
    trials = rng.choice(len(telling), TRIALS, replace=False, p=telling / telling.sum())
    small = whole.only(trials.tolist(), states.tolist())
    return replace(small, tables=tuple(coarse(table, belief) for table in small.tables)), belief


def coarse(table: NDArray[np.float32], belief: Floats) -> NDArray[np.float32]:
    order = np.argsort(-(table @ belief), kind="stable")
    return np.concatenate([table[order[:OUTCOMES]], table[order[OUTCOMES:]].sum(axis=0, keepdims=True)])


@pytest.mark.slow
@pytest.mark.parametrize("weapon", ["foil", "épée", "sabre"])
def test_following_the_advice_at_the_piste_costs_little_more_than_the_best_plan(weapon: str) -> None:
    """Sixteen seeded cuts a weapon, at the prices of the piste."""
    adviser = strip(weapon).reasoner.adviser()
    ratio = []
    for seed in range(16):
        given, belief = cut(adviser.model, adviser.prior, np.random.default_rng([2026, seed]))
        assert np.allclose([table.sum(axis=0) for table in given.tables], 1, atol=1e-4)
        ratio.append(followed(Chooser(given), belief) / least_cost(given, belief))
    assert min(ratio) >= 1 - 1e-4
    assert np.mean(ratio) <= WITHIN


def test_where_there_is_nothing_to_try_acting_on_a_group_changes_nothing() -> None:
    nothing = TWO_TRIALS.only([], [0, 1])
    assert nothing.healed([0], 1) is nothing
    assert [choice.trial for choice in Chooser(nothing.healed([0], 1)).choices(EVEN)] == [None]
