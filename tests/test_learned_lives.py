"""Lives and the choice between mending and retiring: worked by hand, and against SciPy."""

from __future__ import annotations

from math import log
from typing import Any

import numpy as np
import pytest
from scipy import stats

from foible.learning import KeptCost, Life, fitted_weibull, mend_or_retire, product_limit

FAILED = (6, 6, 6, 7, 10, 13, 16, 22, 23)
LASTING = (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
"""Weeks of remission of 21 patients on 6-MP, over and still lasting: Freireich et al., Blood 21, 1963, as printed in textbooks of
survival analysis; from memory."""
LIVES = [*(Life(weeks, failed=True) for weeks in FAILED), *(Life(weeks, failed=False) for weeks in LASTING)]


def test_the_product_limit_of_a_published_data_set_worked_by_hand() -> None:
    """18/21, × 16/17, × 14/15, × 11/12, × 10/11, × 6/7, × 5/6."""
    survival = product_limit(LIVES)
    assert survival.age.tolist() == [6, 7, 10, 13, 16, 22, 23]
    assert survival.at_risk.tolist() == [21, 17, 15, 12, 11, 7, 6]
    assert survival.share == pytest.approx([0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482], abs=5e-5)
    assert survival.median == 23
    assert survival.at(9.5) == pytest.approx(0.8067, abs=5e-5)
    assert (survival.low < survival.share).all()
    assert (survival.share < survival.high).all()


def test_greenwood_s_variance_by_hand() -> None:
    """At 6 weeks var log S = 3 / (21 · 18); the interval is S^exp(± 1.645 √var / |log S|)."""
    survival = product_limit(LIVES)
    wide = 1.6449 * (3 / (21 * 18)) ** 0.5 / abs(log(18 / 21))
    assert survival.low[0] == pytest.approx((18 / 21) ** np.exp(wide), abs=1e-4)
    assert survival.high[0] == pytest.approx((18 / 21) ** np.exp(-wide), abs=1e-4)


def test_both_lives_are_those_of_scipy() -> None:
    failed = np.array([life.until for life in LIVES if life.failed])
    data: Any = stats.CensoredData(uncensored=failed, right=np.array([life.until for life in LIVES if not life.failed]))
    found, survival = fitted_weibull(LIVES), product_limit(LIVES)
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    assert found is not None
    assert (found.shape, found.scale) == pytest.approx((shape, scale), rel=1e-3)
    assert survival.share == pytest.approx(stats.ecdf(data).sf.evaluate(survival.age))
    assert found.median_range[0] < found.median < found.median_range[1]
    assert found.shape_range[0] < found.shape < found.shape_range[1]
    assert found.at(found.median) == pytest.approx(0.5)


def test_what_was_in_use_before_it_was_watched_is_at_risk_only_from_then() -> None:
    """Exponential lives forget: watched from any age on, failures / time watched is the rate, here 4 / 10."""
    late = product_limit([Life(3, failed=True, since=2), Life(1, failed=True), Life(4, failed=False)])
    assert late.at_risk.tolist() == [2, 2]
    rng = np.random.default_rng(4)
    lives = [Life(since + rng.weibull(1.0), failed=True, since=since) for since in rng.uniform(0, 2, 4000)]
    found = fitted_weibull(lives)
    assert found is not None
    assert found.shape == pytest.approx(1.0, abs=0.05)
    assert found.scale == pytest.approx(1.0, abs=0.08)


def test_the_interval_of_a_median_holds_the_truth_as_often_as_it_says() -> None:
    rng, held = np.random.default_rng(7), 0
    for _ in range(200):
        ages, watched = 3 * rng.weibull(1.8, 40), rng.uniform(1, 6, 40)
        found = fitted_weibull([Life(min(a, w), failed=bool(a <= w)) for a, w in zip(ages, watched, strict=True)])
        assert found is not None
        held += found.median_range[0] <= 3 * log(2) ** (1 / 1.8) <= found.median_range[1]
    assert 0.84 <= held / 200 <= 0.96


def test_too_few_failures_fit_nothing() -> None:
    assert fitted_weibull([Life(1, failed=True), Life(2, failed=True), Life(9, failed=False)]) is None
    assert fitted_weibull([Life(2, failed=True)] * 3) is None
    assert product_limit([Life(5, failed=False)]).median is None
    assert product_limit([Life(5, failed=True)]).share.tolist() == [0.0]


def test_a_cord_that_keeps_coming_back_is_retired_and_an_ordinary_one_mended() -> None:
    kind = KeptCost(jobs=40, years=100, cost=40 * 900)
    bad = mend_or_retire(KeptCost(9, 1.5, 9 * 900), kind, price=2500, life=5)
    usual = mend_or_retire(KeptCost(1, 2.5, 900), kind, price=9000, life=5)
    new = mend_or_retire(KeptCost(1, 0.3, 900), kind, price=2500, life=5)
    assert (bad.word, usual.word) == ("retire", "mend")
    assert bad.replacing_cheaper > new.replacing_cheaper > usual.replacing_cheaper
    assert bad.keep_range[0] < bad.keep < bad.keep_range[1]


def test_with_much_on_record_the_costs_are_those_of_plain_arithmetic() -> None:
    """0.5 jobs a year at 10.00 each: 5.00 a year; a new one for 30.00 that lasts 6 years: 5.00 more."""
    much = KeptCost(jobs=5000, years=10_000, cost=5_000_000)
    choice = mend_or_retire(much, much, price=3000, life=6)
    assert (choice.keep, choice.replace) == pytest.approx((500, 1000), rel=0.02)


@pytest.mark.parametrize(("price", "life"), [(-1, 5), (100, 0)])
def test_a_price_or_life_that_cannot_be_is_refused(price: float, life: float) -> None:
    with pytest.raises(ValueError, match="times above 0"):
        mend_or_retire(KeptCost(1, 1, 1), KeptCost(1, 1, 1), price=price, life=life)
