"""Which test comes first: the ratio rule and the shared tools against all orders; chances to fail against enumeration."""

from __future__ import annotations

from itertools import pairwise, permutations
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.special import betaln

from foible.control.failing import LEVEL_LIKELY, LEVELS, LIKELY, failure_chances
from foible.control.order import MOST_EXACT, TimedTest, best_order, exact_order, spent
from foible.learning.rates import SPREADS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

NAMES = "abcdefghijklmnopqrst"
TOOLS = ("meter", "gauge", "eye")
PICK_UP = {"meter": 4.0, "gauge": 6.0}
seconds, chances = st.floats(1, 60), st.floats(0, 0.5)


@st.composite
def some_tests(draw: st.DrawFn, *, most: int = 6, waiting: bool = False) -> list[TimedTest]:
    count = draw(st.integers(1, most))
    return [
        TimedTest(
            NAMES[i],
            draw(seconds),
            draw(chances),
            tuple(draw(st.sets(st.sampled_from(NAMES[:i])))) if waiting and i else (),
            draw(st.sampled_from(TOOLS)),
        )
        for i in range(count)
    ]


def allowed(order: Sequence[TimedTest]) -> bool:
    return all(set(test.after) <= {each.name for each in order[:place]} for place, test in enumerate(order))


def blocks(order: Sequence[TimedTest]) -> int:
    """Return how often a tool that takes time is taken up."""
    hands = ["", *(test.tool for test in order)]
    return sum(tool != hand and tool in PICK_UP for hand, tool in pairwise(hands))


def by_hand(order: Sequence[TimedTest], pick_up: Mapping[str, float]) -> tuple[float, float, float]:
    """Return what a sound, a failing and any item takes, every pattern of tests failed gone through by itself."""
    sound = failing = fails = 0.0
    for pattern in range(1 << len(order)):
        chance, time, hand, out = 1.0, 0.0, "", False
        for place, test in enumerate(order):
            bad = bool(pattern >> place & 1)
            chance *= test.fails if bad else 1 - test.fails
            if not out:
                time += test.seconds + (pick_up.get(test.tool, 0) if test.tool != hand else 0)
                hand, out = test.tool, bad
        if pattern:
            failing, fails = failing + chance * time, fails + chance
        else:
            sound = time
    drawn = failing + (1 - fails) * sound
    return sound, (failing / fails if fails else sound), drawn


@given(some_tests())
@settings(max_examples=40, deadline=None)
def test_what_items_take_is_as_counted_over_every_pattern_of_failures(tests: list[TimedTest]) -> None:
    found = spent(tests, PICK_UP)
    sound, failing, drawn = by_hand(tests, PICK_UP)
    assert found.sound == pytest.approx(sound)
    assert found.drawn == pytest.approx(drawn)
    if found.fails > 1e-6:
        assert found.failing == pytest.approx(failing, rel=1e-6)


@given(some_tests())
@settings(max_examples=40, deadline=None)
def test_the_ratio_rule_is_the_best_of_all_orders(tests: list[TimedTest]) -> None:
    best = min(by_hand(order, {})[2] for order in permutations(tests))
    assert spent(best_order(tests)).drawn == pytest.approx(best)


def test_seconds_over_chance_by_hand() -> None:
    """10 s at 10 % (100), 4 s at 2 % (200), 30 s at 50 % (60): the long test comes first."""
    tests = [TimedTest("weight", 10, 0.1), TimedTest("label", 4, 0.02), TimedTest("wire", 30, 0.5)]
    assert [test.name for test in best_order(tests)] == ["wire", "weight", "label"]
    # 30 + 0.5 · 10 + 0.5 · 0.9 · 4
    assert spent(best_order(tests)).drawn == pytest.approx(36.8)


@given(some_tests())
@settings(max_examples=40, deadline=None)
def test_with_shared_tools_it_is_the_best_of_all_orders_that_take_up_each_once(tests: list[TimedTest]) -> None:
    least = min(spent(order, PICK_UP).sound for order in permutations(tests))
    once = [order for order in permutations(tests) if spent(order, PICK_UP).sound <= least + 1e-9]
    found = spent(best_order(tests, PICK_UP), PICK_UP)
    assert found.sound == pytest.approx(least)
    assert found.drawn == pytest.approx(min(spent(order, PICK_UP).drawn for order in once))


@given(some_tests(waiting=True))
@settings(max_examples=40, deadline=None)
def test_with_tools_and_tests_that_wait_dynamic_programming_finds_the_best_of_all_orders(tests: list[TimedTest]) -> None:
    best = min(by_hand(order, PICK_UP)[2] for order in permutations(tests) if allowed(order))
    order = exact_order(tests, PICK_UP)
    assert allowed(order)
    assert spent(order, PICK_UP).drawn == pytest.approx(best)
    assert spent(best_order(tests)).drawn == pytest.approx(spent(exact_order(tests)).drawn)


@given(some_tests(waiting=True))
@settings(max_examples=40, deadline=None)
def test_with_both_each_tool_is_taken_up_once_where_that_can_be(tests: list[TimedTest]) -> None:
    possible = [order for order in permutations(tests) if allowed(order)]
    taken_up = {test.tool for test in tests}
    once = [order for order in possible if blocks(order) == len(taken_up & PICK_UP.keys())]
    order = best_order(tests, PICK_UP)
    assert allowed(order)
    if once:
        assert spent(order, PICK_UP).drawn == pytest.approx(min(spent(each, PICK_UP).drawn for each in once))
    else:
        assert spent(order, PICK_UP).drawn == pytest.approx(spent(exact_order(tests, PICK_UP), PICK_UP).drawn)


@given(st.permutations(range(18)), st.lists(st.tuples(seconds, chances), min_size=18, max_size=18))
@settings(max_examples=6, deadline=None)
def test_chains_too_long_for_it_are_still_ordered_best(numbers: list[int], drawn: list[tuple[float, float]]) -> None:
    """Six chains of three; the reference is the same dynamic programme, which here looks through 2¹⁸ subsets."""
    tests = [TimedTest(NAMES[i], *drawn[number], after=(NAMES[i - 1],) if i % 3 else ()) for i, number in enumerate(numbers)]
    assert len(tests) > MOST_EXACT
    order = best_order(tests)
    assert allowed(order)
    assert spent(order).drawn == pytest.approx(spent(exact_order(tests)).drawn)


@given(some_tests(most=8, waiting=True))
@settings(max_examples=40, deadline=None)
def test_nothing_is_left_out_and_nothing_added(tests: list[TimedTest]) -> None:
    for order in (best_order(tests), best_order(tests, PICK_UP)):
        assert sorted(test.name for test in order) == sorted(test.name for test in tests)


def test_what_cannot_be_ordered_is_refused() -> None:
    with pytest.raises(ValueError, match="a, b wait for each other"):
        best_order([TimedTest("a", 1, 0, ("b",)), TimedTest("b", 1, 0, ("a",))])
    with pytest.raises(ValueError, match="“a” waits for “z”"):
        best_order([TimedTest("a", 1, 0, ("z",))])
    with pytest.raises(ValueError, match="“a” stands twice"):
        exact_order([TimedTest("a", 1, 0), TimedTest("a", 2, 0)])
    with pytest.raises(ValueError, match="seconds above 0"):
        TimedTest("a", 0, 0.1)
    with pytest.raises(ValueError, match="at most 20"):
        exact_order([TimedTest(str(number), 1, 0.1) for number in range(21)])


class TestChancesToFail:
    usual = np.array([0.02, 0.05, 0.01])

    def test_one_shape_and_level_is_the_conjugate_formula(self) -> None:
        """Beta(k, k (1 − μ) / μ) and f of n: mean (k + f) / (k / μ + n), component by component."""
        found = failure_chances(np.array([3.0, 0.0, 1.0]), np.array([40.0, 10.0, 0.0]) + 1, self.usual)
        place = SPREADS.index(2.0) * len(LEVELS) + LEVELS.index(1.0)
        assert (found.a / (found.a + found.b))[place] == pytest.approx([5 / (100 + 41), 2 / (40 + 11), 3 / (200 + 1)])

    def test_the_weights_are_those_of_the_beta_binomial_law(self) -> None:
        failed, tested = np.array([3.0, 0.0, 1.0]), np.array([41.0, 11.0, 2.0])
        chance = np.array([
            likely * often * np.prod(stats.betabinom.pmf(failed, tested, k, k * (1 - level * self.usual) / (level * self.usual)))
            for k, likely in zip(SPREADS, LIKELY, strict=True)
            for level, often in zip(LEVELS, LEVEL_LIKELY, strict=True)
        ])  # fmt: skip
        assert failure_chances(failed, tested, self.usual).weight == pytest.approx(chance / chance.sum())

    def test_the_mean_is_that_of_all_outcomes_gone_through(self) -> None:
        """Before anything is seen, the chance that 2 of 3 fail, summed over outcomes, gives the mean: the tower rule."""
        usual, three = np.array([0.05]), np.array([3.0])
        prior = failure_chances(np.array([0.0]), np.array([0.0]), usual)
        a, b = prior.a[:, 0], prior.b[:, 0]
        total = 0.0
        for failed in range(4):
            chance = float(prior.weight @ stats.betabinom.pmf(failed, 3, a, b))
            total += chance * float(failure_chances(np.array([float(failed)]), three, usual).mean[0])
        assert total == pytest.approx(float(prior.mean[0]))

    def test_intervals_are_those_of_the_mixture(self) -> None:
        found = failure_chances(np.array([3.0, 0.0, 9.0]), np.array([41.0, 11.0, 30.0]), self.usual)
        for chance, bounds in zip((0.05, 0.95), found.interval(), strict=True):
            below = [found.weight @ stats.beta.cdf(bound, found.a[:, i], found.b[:, i]) for i, bound in enumerate(bounds)]
            assert below == pytest.approx([chance] * 3, abs=2e-3)

    def test_many_results_speak_for_themselves_and_few_are_drawn_to_the_usual(self) -> None:
        many = failure_chances(np.array([300.0]), np.array([1000.0]), np.array([0.01])).mean[0]
        few = failure_chances(np.array([1.0]), np.array([2.0]), np.array([0.01])).mean[0]
        assert many == pytest.approx(0.3, rel=0.02)
        assert few < 0.2

    def test_a_bad_day_raises_what_has_not_been_tested_yet(self) -> None:
        usual = np.full(20, 0.02)
        tested = np.array([50.0] * 19 + [0.0])
        good, bad = (failure_chances(rate * tested, tested, usual).mean[-1] for rate in (0.02, 0.1))
        assert bad > 1.5 * good

    def test_counts_that_cannot_be_are_refused(self) -> None:
        with pytest.raises(ValueError, match="no more failed than tested"):
            failure_chances(np.array([2.0]), np.array([1.0]), np.array([0.1]))
        with pytest.raises(ValueError, match="above 0 and below 1"):
            failure_chances(np.array([0.0]), np.array([1.0]), np.array([0.0]))

    def test_the_beta_function_is_the_libraries(self) -> None:
        found = failure_chances(np.array([4.0]), np.array([9.0]), np.array([0.1]))
        a, b = found.a[:, 0] - 4, found.b[:, 0] - 5
        logs = betaln(a + 4, b + 5) - betaln(a, b)
        assert np.log(found.weight / found.weight.max()) == pytest.approx(
            (logs + np.log(np.outer(LIKELY, LEVEL_LIKELY).ravel()))
            - np.max(logs + np.log(np.outer(LIKELY, LEVEL_LIKELY).ravel()))
        )
