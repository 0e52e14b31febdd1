"""A prior, an uncertainty and limits in; out, the global risks of a rule, and the readings accepted under a chosen risk.

Of all items that come, some break the limit and pass (the consumer's risk R_C), some keep it and fail (the producer's, R_P):

    R_C = P(the item breaks the limit, its reading is accepted),    R_P = P(the item keeps it, its reading is not accepted)

(JCGM 106:2012, 9.5). A specific risk is that of one item given its reading (9.3). Between a limit and the limit of acceptance is
a guard band (8.3). With a normal prior both global risks are chances of two correlated normal variables, by Owen's T function;
with another they are the integral over the items of the chance that one is read inside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy import integrate, optimize, special

from foible.control.conformity import DecisionRule, Tolerance, probability
from foible.control.priors import FlatPrior, NormalPrior
from foible.errors import InputError

if TYPE_CHECKING:
    from foible.control.conformity import Outcome
    from foible.control.priors import Prior

__all__ = ["Accepted", "RiskKind", "accepted", "global_risks", "outcome_within"]

FURTHEST = 12.0
"""How wide a guard band can be [u]; further than that every reading is as good as sure."""


class RiskKind(StrEnum):
    """What a chosen risk is of."""

    SPECIFIC = "specific"
    """Of this item, given its reading."""
    GLOBAL = "global"
    """Of any item that comes, before it is read."""


@dataclass(frozen=True)
class Accepted:
    """The readings that are accepted; None where there is no such limit."""

    lower: float | None
    upper: float | None
    guard: float
    """The width of the guard band: above zero where fewer readings are accepted than keep the limit, below where more are."""


# long: seven parameters, and two kinds of risk
def accepted(  # noqa: PLR0913 — the reading's law, the limit, and how to decide
    uncertainty: float,
    tolerance: Tolerance,
    *,
    rule: DecisionRule,
    risk: float = 0.05,
    kind: RiskKind = RiskKind.SPECIFIC,
    prior: Prior | None = None,
    freedom: float = math.inf,
) -> Accepted:
    """Return which readings the rule accepts so that its risk is `risk`: of false pass or of false fail.

    With a specific risk, that of the reading which is just accepted, or just not; with a global one, R_C or R_P, for which it
    takes a prior. All in the unit of the limit. Raises InputError for a global risk without a prior, and where no guard band
    keeps the risk.
    """
    if rule is DecisionRule.PLAIN:
        return Accepted(tolerance.lower, tolerance.upper, 0.0)
    if kind is RiskKind.GLOBAL and (prior is None or isinstance(prior, FlatPrior)):
        raise InputError(seen="a global risk without a prior", remedy="say what is known of the items, or choose a specific risk")
    sign = 1.0 if rule is DecisionRule.AGAINST_FALSE_PASS else -1.0

    def over(guard: float) -> float:
        limits = _guarded(tolerance, sign * guard)
        if kind is RiskKind.GLOBAL and prior is not None:
            false_pass, false_fail = global_risks(uncertainty, tolerance, limits, prior)
            return (false_pass if sign > 0 else false_fail) - risk
        ends = [end for end in (limits.lower, limits.upper) if end is not None]
        conforms = probability(ends, uncertainty, tolerance, prior=prior, freedom=freedom)
        return float(((1 - conforms) if sign > 0 else conforms).max()) - risk

    widest = FURTHEST * uncertainty
    if sign > 0 and tolerance.lower is not None and tolerance.upper is not None:
        widest = min(widest, (tolerance.upper - tolerance.lower) / 2)
    first = -widest if kind is RiskKind.SPECIFIC and prior is not None else 0.0
    if over(first) <= 0:
        return _guarded(tolerance, sign * first)
    if over(widest) > 0:
        seen = f"no guard band keeps a {kind.value} risk of {risk:g}"
        raise InputError(seen=seen, remedy="measure with a smaller uncertainty, or choose a higher risk")
    return _guarded(tolerance, sign * float(optimize.brentq(over, first, widest, xtol=uncertainty * 1e-9)))


def global_risks(uncertainty: float, tolerance: Tolerance, limits: Accepted, prior: Prior) -> tuple[float, float]:
    """Return R_C and R_P of accepting readings within some limits, items being drawn from the prior (JCGM 106:2012, 9.5)."""
    low = -math.inf if limits.lower is None else limits.lower
    high = math.inf if limits.upper is None else limits.upper
    low = min(low, high)
    if isinstance(prior, NormalPrior):
        both = _chance(prior, uncertainty, (tolerance.low, tolerance.high), (low, high))
        conforming = float(np.diff(special.ndtr((np.array([tolerance.low, tolerance.high]) - prior.mean) / prior.spread))[0])
        total = math.hypot(prior.spread, uncertainty)
        passed = float(np.diff(special.ndtr((np.array([low, high]) - prior.mean) / total))[0])
        return max(passed - both, 0.0), max(conforming - both, 0.0)
    return _by_quadrature(uncertainty, tolerance, (low, high), prior)


def outcome_within(reading: float, tolerance: Tolerance, limits: Accepted) -> Outcome:
    """Return what a reading comes to where acceptance has limits of its own; between these and the tolerance it is too close."""
    kept = tolerance.kept(reading)
    taken = (limits.lower is None or reading >= limits.lower) and (limits.upper is None or reading <= limits.upper)
    if kept == taken or not limits.guard:
        return "pass" if kept else "fail"
    return "too close to call"


def _guarded(tolerance: Tolerance, guard: float) -> Accepted:
    lower = None if tolerance.lower is None else tolerance.lower + guard
    upper = None if tolerance.upper is None else tolerance.upper - guard
    return Accepted(lower, upper, guard)


def _chance(prior: NormalPrior, uncertainty: float, items: tuple[float, float], readings: tuple[float, float]) -> float:
    """Return the chance that an item and its reading both lie in an interval of their own."""
    total = math.hypot(prior.spread, uncertainty)
    a, b = ((end - prior.mean) / prior.spread for end in items)
    c, d = ((end - prior.mean) / total for end in readings)
    related = prior.spread / total
    return _below(b, d, related) - _below(a, d, related) - _below(b, c, related) + _below(a, c, related)


def _below(h: float, k: float, related: float) -> float:
    """Return Φ₂(h, k; ρ), by Owen's T (Owen, Annals of Mathematical Statistics 27, 1956, 1075–1090, equation 2.1)."""
    if math.isinf(h) or math.isinf(k):
        return 0.0 if min(h, k) == -math.inf else float(special.ndtr(min(h, k)))
    h, k = (value or 1e-300 for value in (h, k))
    away = math.sqrt(1 - related**2)
    first = special.owens_t(h, (k / h - related) / away)
    second = special.owens_t(k, (h / k - related) / away)
    apart = 0.5 if h * k < 0 else 0.0
    return float((special.ndtr(h) + special.ndtr(k)) / 2 - first - second - apart)


def _by_quadrature(
    uncertainty: float, tolerance: Tolerance, accepted_in: tuple[float, float], prior: Prior
) -> tuple[float, float]:
    """Return R_C and R_P as integrals over the items, with the limits and what lies within 9 u of them as panels."""

    def share(value: float, *, read_inside: bool) -> float:
        inside = float(np.diff(special.ndtr((np.array(accepted_in) - value) / uncertainty))[0])
        density = math.exp(float(prior.log_density(np.asarray(value))))
        return density * (inside if read_inside else 1 - inside)

    def mass(first: float, last: float, *, read_inside: bool) -> float:
        near = {end + k * uncertainty for end in (tolerance.low, tolerance.high) if math.isfinite(end) for k in (-9, -3, 3, 9)}
        ends = sorted({first, last, *(end for end in near if first < end < last)})
        pieces = [
            integrate.quad(lambda value: share(value, read_inside=read_inside), a, b, limit=200)[0] for a, b in pairwise(ends)
        ]
        return math.fsum(pieces)

    outside = [(-math.inf, tolerance.low)] if tolerance.lower is not None else []
    outside += [(tolerance.high, math.inf)] if tolerance.upper is not None else []
    false_pass = math.fsum(mass(first, last, read_inside=True) for first, last in outside)
    return false_pass, mass(tolerance.low, tolerance.high, read_inside=False)
