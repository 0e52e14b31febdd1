"""The probability that an item conforms, against JCGM 106:2012, Student's t and adaptive quadrature; verdicts at the limits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import integrate, stats

from foible.control.conformity import DecisionRule, Tolerance, conformity, probability
from foible.control.priors import GammaPrior, LognormalPrior, NormalPrior
from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

LIMIT = Tolerance(upper=1.0)
"""One wire of a body cord, ≤ 1 Ω: FIE Material Rules, August 2026, m.29.1.c."""


@pytest.mark.parametrize(
    ("reading", "uncertainty", "tolerance", "expected"),
    [
        (509.7, 8.6, Tolerance(lower=490.0), 0.99),  # burst strength of a container [kPa], JCGM 106:2012, 7.3.2, example 1
        (-5.47, 0.05, Tolerance(upper=-5.40), 0.92),  # breakdown voltage of a Zener diode [V], 7.3.2, example 2
        (13.6, 1.8, Tolerance(lower=12.5, upper=16.3), 0.66),  # viscosity of motor oil [mm²/s], 7.4, example
    ],
)
def test_the_worked_examples_of_jcgm_106_come_out(
    reading: float, uncertainty: float, tolerance: Tolerance, expected: float
) -> None:
    # The figures of the examples, and their results to two digits, are from memory.
    assert round(float(probability(reading, uncertainty, tolerance)), 2) == expected


@pytest.mark.parametrize(("freedom", "error"), [(3, 3e-4), (5, 2e-5), (8, 1e-6), (20, 1e-9), (299, 1e-9)])
def test_an_uncertainty_in_doubt_gives_student_s_t(freedom: float, error: float) -> None:
    readings = np.linspace(-4, 4, 41)
    found = probability(readings, 1.0, Tolerance(upper=0.0), freedom=freedom)
    assert found == pytest.approx(stats.t.cdf(-readings, freedom), abs=error)


@pytest.mark.parametrize(
    ("prior", "density"),
    [
        (NormalPrior(0.7, 0.2), stats.norm(0.7, 0.2).pdf),
        (LognormalPrior(0.5, 0.4), stats.lognorm(0.4, scale=0.5).pdf),
        (GammaPrior(2.0, 0.25), stats.gamma(2.0, scale=0.25).pdf),
        (GammaPrior(0.6, 0.5), stats.gamma(0.6, scale=0.5).pdf),
    ],
    ids=["normal", "lognormal", "gamma", "gamma without a mode"],
)
@pytest.mark.parametrize("uncertainty", [0.005, 0.03, 0.3])
@pytest.mark.parametrize("reading", [0.9, 1.0, 1.02, 1.3])
def test_a_prior_is_weighed_as_adaptive_quadrature_does(
    prior: NormalPrior | LognormalPrior | GammaPrior, density: Callable[[float], float], uncertainty: float, reading: float
) -> None:
    def both(value: float) -> float:
        return float(density(value) * stats.norm.pdf(reading, value, uncertainty))

    low = -3.0 if isinstance(prior, NormalPrior) else 0.0
    mass = [
        integrate.quad(both, a, b, limit=800, epsabs=0, points=np.linspace(a, b, 12)[1:-1])[0]
        for a, b in ((low, 1.0), (1.0, 4.0))
    ]
    assert probability(reading, uncertainty, LIMIT, prior=prior) == pytest.approx(mass[0] / sum(mass), abs=1e-6)


@pytest.mark.parametrize(
    ("reading", "rule", "outcome"),
    [
        (0.94, DecisionRule.PLAIN, "pass"),
        (1.00, DecisionRule.PLAIN, "pass"),
        (1.01, DecisionRule.PLAIN, "fail"),
        (0.94, DecisionRule.AGAINST_FALSE_PASS, "pass"),
        (0.96, DecisionRule.AGAINST_FALSE_PASS, "too close to call"),
        (1.01, DecisionRule.AGAINST_FALSE_PASS, "fail"),
        (1.00, DecisionRule.AGAINST_FALSE_FAIL, "pass"),
        (1.04, DecisionRule.AGAINST_FALSE_FAIL, "too close to call"),
        (1.06, DecisionRule.AGAINST_FALSE_FAIL, "fail"),
    ],
)
def test_the_rule_decides_what_a_reading_near_the_limit_comes_to(reading: float, rule: DecisionRule, outcome: str) -> None:
    # u = 0.03 Ω and a risk of 5 %: the guard band is 1.645 u = 0.049 Ω (JCGM 106:2012, 8.3; normal quantile).
    assert conformity(reading, 0.03, LIMIT, rule=rule).outcome == outcome


def test_a_limit_that_is_open_is_not_kept_by_a_reading_on_it() -> None:
    # Mass of a foil: < 500 g, FIE Material Rules, August 2026, m.6.
    mass = Tolerance(upper=500.0, upper_open=True)
    assert conformity(500.0, 1.0, mass, rule=DecisionRule.PLAIN).outcome == "fail"
    assert conformity(499.9, 1.0, mass, rule=DecisionRule.PLAIN).outcome == "pass"


def test_the_risks_to_either_side_are_those_of_the_probability() -> None:
    found = conformity(1.02, 0.03, LIMIT, rule=DecisionRule.PLAIN)
    assert (found.false_pass, found.false_fail) == pytest.approx((1 - found.conforms, found.conforms))
    assert found.conforms == pytest.approx(stats.norm.cdf(-0.02 / 0.03))


@pytest.mark.parametrize(
    "wrong", [{"uncertainty": 0.0}, {"reading": math.nan}, {"reading": math.inf}, {"risk": 0.5}, {"freedom": 2.0}]
)
def test_what_cannot_be_is_refused_with_what_to_do(wrong: dict[str, float]) -> None:
    given: dict[str, float] = {"reading": 1.0, "uncertainty": 0.03} | wrong
    with pytest.raises(InputError, match="give"):
        conformity(
            given["reading"],
            given["uncertainty"],
            LIMIT,
            rule=DecisionRule.PLAIN,
            risk=given.get("risk", 0.05),
            freedom=given.get("freedom", math.inf),
        )
