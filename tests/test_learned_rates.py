"""Rates and demand, against closed forms, a textbook's example, Poisson tables and SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from foible.learning import SPREADS, Demand, GammaMixture, enough, multipliers, normalised
from foible.learning.rates import LIKELY


def test_the_textbook_s_deaths_from_asthma() -> None:
    """Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.6: prior Gamma(3, 5), 3 deaths in 200,000 people (from memory).

    Posterior Gamma(6, 7): mean 0.86, and 0.30 of it above 1. After ten years with 30 deaths Gamma(33, 25): 1.32 and 0.93.
    """
    one, ten = Demand.seen(3, 2.0, 1.0, usual=0.6, weight=3), Demand.seen(30, 20.0, 1.0, usual=0.6, weight=3)
    assert (one.shape, one.per, ten.shape, ten.per) == pytest.approx((6, 7, 33, 25))
    both = GammaMixture(np.array([1.0]), np.array([[6.0, 33.0]]), np.array([[7.0, 25.0]]))
    assert both.mean == pytest.approx([0.86, 1.32], abs=0.005)
    assert both.chance_above(1.0) == pytest.approx([0.30, 0.93], abs=0.005)


def test_a_multiplier_is_the_gamma_poisson_posterior_weighed_by_the_chance_of_the_counts() -> None:
    count, expected = np.array([6.0, 0.0, 1.0]), np.array([2.0, 1.5, 0.7])
    learned = multipliers(count, expected)
    spreads = np.array(SPREADS)
    chance = np.array([np.prod(stats.nbinom.pmf(count, k, k / (k + expected))) for k in SPREADS])
    weight = chance * LIKELY / (chance @ LIKELY)
    assert list(learned.spreads.values()) == pytest.approx(weight)
    assert learned.mean == pytest.approx([weight @ ((spreads + n) / (spreads + e)) for n, e in zip(count, expected, strict=True)])


def test_quantiles_are_those_of_scipy() -> None:
    shapes = np.array([[0.5, 3.0, 40.0]])
    mixture = GammaMixture(np.array([1.0]), shapes, shapes)
    for chance in (0.05, 0.5, 0.95):
        assert mixture.quantile(chance)[0] == pytest.approx(stats.gamma.ppf(chance, shapes[0], scale=1 / shapes[0]), rel=0.01)


def test_three_repairs_lead_nobody_astray_and_three_hundred_are_believed() -> None:
    share = np.full(60, 1 / 60)
    few, many = np.zeros(60), np.zeros(60)
    few[0], many[0], many[1:] = 3, 60, 4
    assert normalised(few, share).mean[0] < 5
    assert normalised(many, share).mean[0] > 7
    assert normalised(few, share).mean[1:] == pytest.approx(1.0, abs=0.1)


@given(st.lists(st.tuples(st.integers(0, 50), st.floats(0.01, 30)), min_size=1, max_size=12))
def test_multipliers_of_shares_leave_their_sum_as_it_is(seen: list[tuple[int, float]]) -> None:
    count, share = (np.array(column, dtype=float) for column in zip(*seen, strict=True))
    learned = normalised(count, share)
    assert (share / share.sum()) @ learned.mean == pytest.approx(1.0)
    low, high = learned.interval()
    assert (low <= high).all()
    assert (learned.mean > 0).all()


def test_counts_that_cannot_be_are_refused() -> None:
    with pytest.raises(ValueError, match="counts from 0 on, expectations above 0"):
        multipliers(np.array([-1.0]), np.array([1.0]))
    with pytest.raises(ValueError, match="share above 0 and below 1"):
        enough(Demand(1, 1, 1), 1.0)


def test_a_demand_is_negative_binomial() -> None:
    demand = Demand(2.5, 4.0, 3.0)
    chances = [demand.chance(count) for count in range(12)]
    assert chances == pytest.approx(stats.nbinom.pmf(np.arange(12), 2.5, 4 / 7))
    assert demand.mean == pytest.approx(stats.nbinom.mean(2.5, 4 / 7))
    assert Demand(1, 1, 0.0).chance(0) == 1


@pytest.mark.parametrize(("mean", "level", "number"), [(1, 0.95, 3), (2, 0.95, 5), (5, 0.95, 9), (5, 0.99, 11), (10, 0.95, 15)])
def test_a_rate_known_for_sure_gives_the_levels_of_poisson_tables(mean: float, level: float, number: int) -> None:
    """Cumulative Poisson tables: P(D ≤ 9 | 5) = 0.9682, P(D ≤ 8 | 5) = 0.9319; P(D ≤ 15 | 10) = 0.9513 and so on."""
    assert enough(Demand(1e7, 1e7, mean), level) == number


def test_a_rate_that_is_not_known_for_sure_needs_more() -> None:
    assert enough(Demand(1.0, 0.2, 1.0), 0.95) > enough(Demand(1e7, 2e6, 1.0), 0.95)
