"""Global risks and guard bands against simulation and quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, stats

from foible.control.conformity import DecisionRule, Tolerance
from foible.control.priors import GammaPrior, LognormalPrior, NormalPrior
from foible.control.risks import Accepted, RiskKind, accepted, global_risks, outcome_within
from foible.errors import InputError

RESISTORS = NormalPrior(1500.0, 0.12)
RESISTOR = Tolerance(1499.8, 1500.2)
"""Resistors of 1500 Ω ± 0.2 Ω with a spread of 0.12 Ω, read with u = 0.04 Ω: JCGM 106:2012, 9.5, example; figures from memory."""
LIMIT = Tolerance(upper=1.0)
GUARDED = (DecisionRule.AGAINST_FALSE_PASS, DecisionRule.AGAINST_FALSE_FAIL)


def test_the_prior_of_the_standard_s_resistors_has_ninety_per_cent_conforming() -> None:
    """JCGM 106:2012, 9.5, example: about 90 % conform (from memory); 2 Φ(0.2/0.12) − 1 by hand."""
    everything = Accepted(None, None, 0.0)
    false_pass, false_fail = global_risks(0.04, RESISTOR, everything, RESISTORS)
    assert (false_pass, false_fail) == pytest.approx((1 - 0.9044, 0.0), abs=5e-5)


@pytest.mark.parametrize("guard", [-0.05, 0.0, 0.05, 0.3])
def test_closed_form_and_quadrature_and_simulation_agree_on_global_risks(guard: float) -> None:
    limits = Accepted(1499.8 + guard, 1500.2 - guard, guard)
    found = global_risks(0.04, RESISTOR, limits, RESISTORS)

    def passed(value: float) -> float:
        read = stats.norm(value, 0.04)
        return float(max(read.cdf(1500.2 - guard) - read.cdf(1499.8 + guard), 0.0) * stats.norm.pdf(value, 1500.0, 0.12))

    outside = [integrate.quad(passed, a, b, epsabs=1e-12, limit=200)[0] for a, b in ((1499.0, 1499.8), (1500.2, 1501.0))]
    inside = integrate.quad(passed, 1499.8, 1500.2, epsabs=1e-12, limit=200)[0]
    conforming = math.erf(0.2 / 0.12 / math.sqrt(2))
    assert found == pytest.approx((sum(outside), conforming - inside), abs=1e-9)
    rng = np.random.default_rng(3)
    true = rng.normal(1500.0, 0.12, 400_000)
    reading = true + rng.normal(0, 0.04, len(true))
    kept, taken = np.abs(true - 1500) <= 0.2, np.abs(reading - 1500) <= 0.2 - guard
    assert found == pytest.approx((np.mean(~kept & taken), np.mean(kept & ~taken)), abs=0.001)


@pytest.mark.parametrize("prior", [LognormalPrior(0.75, 0.25), GammaPrior(9.0, 0.09)], ids=["lognormal", "gamma"])
def test_a_prior_without_a_closed_form_has_the_risks_of_a_simulation(prior: LognormalPrior | GammaPrior) -> None:
    rng = np.random.default_rng(4)
    true = rng.lognormal(math.log(0.75), 0.25, 400_000) if isinstance(prior, LognormalPrior) else rng.gamma(9.0, 0.09, 400_000)
    reading = true + rng.normal(0, 0.05, len(true))
    found = global_risks(0.05, LIMIT, Accepted(None, 0.95, 0.05), prior)
    expected = np.mean((true > 1) & (reading <= 0.95)), np.mean((true <= 1) & (reading > 0.95))
    assert found == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize(("rule", "sign"), [(GUARDED[0], 1), (GUARDED[1], -1)])
def test_a_specific_risk_of_five_per_cent_takes_a_guard_band_of_1645_u(rule: DecisionRule, sign: int) -> None:
    """JCGM 106:2012, 8.3: with nothing known the guard band is the quantile of the normal law, 1.645 at 5 % (any table)."""
    limits = accepted(0.03, LIMIT, rule=rule)
    assert limits.upper == pytest.approx(1 - sign * 1.6449 * 0.03, abs=1e-5)
    assert limits.guard == pytest.approx(sign * 1.6449 * 0.03, abs=1e-5)


@pytest.mark.parametrize("rule", GUARDED)
@pytest.mark.parametrize("kind", list(RiskKind))
def test_the_risk_that_was_chosen_is_kept_within_a_tenth_under_its_own_law(rule: DecisionRule, kind: RiskKind) -> None:
    """The line of acceptance; `benchmarks.conformity` has the same with ten times the draws and three laws."""
    prior, u, risk = NormalPrior(0.85, 0.12), 0.05, 0.05 if kind is RiskKind.SPECIFIC else 0.01
    limits = accepted(u, LIMIT, rule=rule, risk=risk, kind=kind, prior=prior)
    assert limits.upper is not None
    rng = np.random.default_rng(5)
    true = rng.normal(0.85, 0.12, 1_000_000)
    reading = true + rng.normal(0, u, len(true))
    passing = rule is DecisionRule.AGAINST_FALSE_PASS
    wrong = (true > 1) if passing else (true <= 1)
    if kind is RiskKind.GLOBAL:
        came = np.mean(wrong & ((reading <= limits.upper) == passing))
    else:
        came = np.mean(wrong[np.abs(reading - limits.upper) < u / 10])
    assert came == pytest.approx(risk, rel=0.1)


def test_a_global_risk_needs_a_prior_and_plain_limits_need_none() -> None:
    with pytest.raises(InputError, match="say what is known"):
        accepted(0.05, LIMIT, rule=GUARDED[0], kind=RiskKind.GLOBAL)
    assert accepted(0.05, LIMIT, rule=DecisionRule.PLAIN) == Accepted(None, 1.0, 0.0)


def test_no_guard_band_helps_where_the_uncertainty_is_wider_than_the_tolerance() -> None:
    with pytest.raises(InputError, match="smaller uncertainty"):
        accepted(1.0, Tolerance(0.0, 1.0), rule=GUARDED[0])


@pytest.mark.parametrize(("reading", "outcome"), [(0.89, "pass"), (0.95, "too close to call"), (1.05, "fail")])
def test_between_limit_and_limit_of_acceptance_it_is_too_close(reading: float, outcome: str) -> None:
    assert outcome_within(reading, LIMIT, Accepted(None, 0.9, 0.1)) == outcome
