"""The shortest list of tests, checked by trying every list there is."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from foible.control.shortest import Battery, short_list


def battery(seed: int, tests: int = 6, faults: int = 9) -> Battery:
    """Return tests that each catch some of the faults, drawn."""
    rng = np.random.default_rng(seed)
    passing = np.where(
        rng.random((tests, faults)) < 0.4, rng.choice([0.02, 0.3], (tests, faults)), rng.choice([1.0, 0.7], (tests, faults))
    )
    cost = rng.integers(3, 30, tests).astype(float)
    return Battery(cost, np.full(tests, 2), rng.uniform(0.001, 0.1, faults), passing, rng.random(faults) < 0.5)


def every_list(made: Battery, doubt: float) -> float:
    """Return the least cost of any list that is good enough, by trying all of them."""
    caught = made.passing <= 0.5
    must = made.must & caught.any(axis=0)
    best = np.inf
    for counts in product(range(3), repeat=len(made.cost)):
        n = np.array(counts)
        left = sum(w * np.prod(r**n) for w, r in zip(made.odds, made.passing.T, strict=True))
        if left <= doubt and caught[n > 0][:, must].any(axis=0).all():
            best = min(best, float(made.cost @ n))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_no_list_at_all_is_cheaper_than_the_one_found(seed: int) -> None:
    """Second method: all 729 lists of six tests, each made up to twice."""
    made = battery(seed)
    floor = made.doubt(made.most)
    doubt = float(np.sqrt(floor * made.odds.sum()))
    found = short_list(made, doubt)
    assert found.enough
    assert found.doubt <= doubt
    assert found.cost == pytest.approx(every_list(made, doubt))
    assert found.cheapest


@pytest.mark.parametrize("seed", range(6))
def test_with_many_tests_the_bound_is_below_and_the_list_near_it(seed: int) -> None:
    """No list beats a bound from a relaxation, so a cost near it is near the best."""
    made = battery(seed, tests=40, faults=60)
    floor = made.doubt(made.most)
    found = short_list(made, floor**0.25 * float(made.odds.sum()) ** 0.75)
    assert found.enough
    assert found.least <= found.cost <= 1.5 * found.least


def test_a_doubt_that_no_list_removes_is_told() -> None:
    """One fault passes every test: the list still catches the other."""
    made = Battery(np.array([5.0]), np.array([2]), np.array([0.1, 0.1]), np.array([[0.02, 1.0]]), np.array([True, True]))
    found = short_list(made, 0.01)
    assert not found.enough
    assert found.counts.tolist() == [1]
    assert found.doubt == pytest.approx(0.1 * 0.02 + 0.1)
