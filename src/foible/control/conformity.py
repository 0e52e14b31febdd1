"""A reading and its uncertainty in; out, the probability that the item conforms, the verdict, and the risk to either side.

The probability is that of JCGM 106:2012 (7.2.1): what the reading leaves of the prior inside the tolerance. Where nothing is
known of the item it is Φ((upper − r)/u) − Φ((lower − r)/u). An uncertainty that is itself in doubt has degrees of freedom ν
(JCGM 100:2008, G.4.2: one that is good to a quarter has ν = ½ (¼)⁻² = 8); its law is then Student's t, done here as what it is:
normal laws of many widths. The verdict follows a rule that is chosen once for a competition.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import special

from foible.control.priors import FlatPrior
from foible.errors import InputError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from foible.control.priors import Floats, Prior

__all__ = ["Conformity", "DecisionRule", "Outcome", "Tolerance", "conformity", "decided", "probability"]

Outcome = Literal["pass", "fail", "too close to call"]
LEAST_FREEDOM, MOST_FREEDOM = 3.0, 300.0
"""Degrees of freedom that can be given, and from which on Student's t is the normal law to 0.0005."""
WIDTHS = 24
"""Normal laws that make up one Student's t, right to 0.0003 with three degrees of freedom and 10⁻⁶ with eight."""


class DecisionRule(StrEnum):
    """What a reading close to a limit comes to (JCGM 106:2012, 8.2 and 8.3)."""

    PLAIN = "plain limits"
    AGAINST_FALSE_PASS = "guarded against false pass"  # noqa: S105 — of a test, not a password
    AGAINST_FALSE_FAIL = "guarded against false fail"

    @property
    def say(self) -> str:
        """What the rule does, in a sentence for a sheet."""
        return _SAY[self]


_SAY = {
    DecisionRule.PLAIN: "the figure read decides, whatever its uncertainty; the risk is shared",
    DecisionRule.AGAINST_FALSE_PASS: "nothing passes unless the risk that it breaks the limit is at most the one chosen",
    DecisionRule.AGAINST_FALSE_FAIL: "nothing fails unless the risk that it keeps the limit is at most the one chosen",
}


@dataclass(frozen=True)
class Tolerance:
    """The true values that conform: from `lower` to `upper`, None where there is no such limit; an open end does not conform."""

    lower: float | None = None
    upper: float | None = None
    lower_open: bool = False
    upper_open: bool = False

    def __post_init__(self) -> None:
        if self.low > self.high:
            raise InputError(seen=f"limits from {self.low:g} to {self.high:g}", remedy="give the lower one first")

    @property
    def low(self) -> float:
        """The lower limit; −∞ where there is none."""
        return -math.inf if self.lower is None else self.lower

    @property
    def high(self) -> float:
        """The upper limit; ∞ where there is none."""
        return math.inf if self.upper is None else self.upper

    def kept(self, value: float) -> bool:
        """Return whether a value keeps to the limits."""
        above = value > self.low if self.lower_open else value >= self.low
        return above and (value < self.high if self.upper_open else value <= self.high)


@dataclass(frozen=True)
class Conformity:
    """What one reading says of an item."""

    conforms: float
    """The probability that the item conforms."""
    outcome: Outcome
    false_pass: float
    """The risk that it breaks the limit, were it passed."""
    false_fail: float
    """The risk that it keeps the limit, were it failed."""


def conformity(  # noqa: PLR0913 — three facts of the reading, and how to decide
    reading: float,
    uncertainty: float,
    tolerance: Tolerance,
    *,
    rule: DecisionRule,
    risk: float = 0.05,
    prior: Prior | None = None,
    freedom: float = math.inf,
) -> Conformity:
    """Return what a reading says of an item; all in the unit of the limit, and `uncertainty` a standard uncertainty.

    `risk` is the specific risk (JCGM 106:2012, 9.3) that the rule guards against: of this item, given this reading. With plain
    limits the reading decides. Guarded against false pass, an item whose reading keeps the limit passes where the risk is at most
    `risk`, and is too close to call otherwise; guarded against false fail, likewise one whose reading breaks it.
    Raises InputError for what is no reading, uncertainty or risk.
    """
    if not math.isfinite(reading):
        raise InputError(seen=f"a reading of {reading}", remedy="give the figure that the instrument showed")
    if not 0 < risk < 0.5:  # noqa: PLR2004 — even odds
        raise InputError(seen=f"a risk of {risk:g}", remedy="give one above 0 and below 0.5, such as 0.05")
    conforms = float(probability(reading, uncertainty, tolerance, prior=prior, freedom=freedom))
    return decided(reading, conforms, tolerance, rule=rule, risk=risk)


def decided(reading: float, conforms: float, tolerance: Tolerance, *, rule: DecisionRule, risk: float) -> Conformity:
    """Return what a reading comes to whose item conforms with a probability."""
    outcome = _outcome(tolerance.kept(reading), conforms, rule, risk)
    return Conformity(conforms, outcome, false_pass=1 - conforms, false_fail=conforms)


def probability(
    readings: ArrayLike,
    uncertainty: ArrayLike,
    tolerance: Tolerance,
    *,
    prior: Prior | None = None,
    freedom: float = math.inf,
) -> Floats:
    """Return the probability that each item conforms, in the shape of the readings; an uncertainty for all or one for each.

    `freedom`: the degrees of freedom of the uncertainty, ∞ where it is known. Raises InputError.
    """
    values, spread = np.broadcast_arrays(np.asarray(readings, dtype=np.float64), np.asarray(uncertainty, dtype=np.float64))
    if not np.all(np.isfinite(spread) & (spread > 0)):
        raise InputError(seen="an uncertainty that is not above zero", remedy="give a standard uncertainty above zero")
    if not freedom >= LEAST_FREEDOM:
        raise InputError(seen=f"{freedom:g} degrees of freedom", remedy=f"give {LEAST_FREEDOM:g} or more: take more readings")
    known = prior or FlatPrior()
    if freedom >= MOST_FREEDOM:
        return known.weigh(values, spread, tolerance.low, tolerance.high)[1]
    weights, widths = _widths(freedom)
    each = [known.weigh(values, spread * width, tolerance.low, tolerance.high) for width in widths]
    evidence = np.stack([logs for logs, _ in each])
    shares = np.stack([share for _, share in each])
    scaled = np.exp(evidence - evidence.max(axis=0)) * weights.reshape(-1, *[1] * values.ndim)
    return np.asarray((scaled * shares).sum(axis=0) / scaled.sum(axis=0))


def _outcome(kept: bool, conforms: float, rule: DecisionRule, risk: float) -> Outcome:  # noqa: FBT001 — one of four facts
    if rule is DecisionRule.AGAINST_FALSE_PASS and kept:
        return "pass" if 1 - conforms <= risk else "too close to call"
    if rule is DecisionRule.AGAINST_FALSE_FAIL and not kept:
        return "fail" if conforms <= risk else "too close to call"
    return "pass" if kept else "fail"


@lru_cache(maxsize=64)
def _widths(freedom: float) -> tuple[Floats, Floats]:
    """Return weights and widths of the normal laws that make up Student's t: 1/width² is Gamma(ν/2, ν/2)."""
    nodes, weights = special.roots_genlaguerre(WIDTHS, freedom / 2 - 1)
    return np.asarray(weights / weights.sum()), np.asarray(np.sqrt(freedom / (2 * nodes)))
