"""A gauge or weight as it was measured in; out, whether it may be used, its margins, and what a weapon that passes it proves.

A shim of t ± u, against the tolerance of the gauge (m.19.4: ± 0.05 mm), has the margins t − lower and upper − t. A weapon that
lets it in has a travel of more than t, not more than what the shim is called; two shims together prove a lighting stroke of more
than t_long − t_short, with √(u_long² + u_short²).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.control.conformity import DecisionRule, Tolerance, conformity
from foible.control.instruments import DATA
from foible.errors import UnknownNameError
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.control.conformity import Conformity
    from foible.rules import Requirement

__all__ = ["Gauge", "GaugeChecked", "Proof", "StrokeProved", "gauge_checked", "gauges", "stroke_proved", "tolerance_of"]


@dataclass(frozen=True)
class Gauge:
    """A gauge or weight of weapon control: what it must itself keep to, and what it proves of a weapon."""

    name: str
    own: Requirement
    proves: Requirement
    above: bool
    """Whether a weapon that passes it has more than it measures."""


@dataclass(frozen=True)
class Proof:
    """What a weapon proves by passing: more, or less, than `value` ± `u`; and the probability that this is what the rule asks."""

    requirement: Requirement
    above: bool
    value: float
    u: float
    enough: float
    """The probability that whatever passes keeps the rule: that `value` is on the safe side of its limit."""
    short_by: float
    """How far the proof falls short of the rule; below zero, by how much it asks more than the rule does."""


@dataclass(frozen=True)
class GaugeChecked:
    """A gauge that was measured."""

    gauge: Gauge
    value: float
    u: float
    conformity: Conformity
    to_lower: float
    """The margin to the lower end of its tolerance; below zero outside."""
    to_upper: float
    proof: Proof


@dataclass(frozen=True)
class StrokeProved:
    """What two shims prove together, and what the two worst and the two strictest that the rules allow would."""

    longer: GaugeChecked
    shorter: GaugeChecked
    proof: Proof
    least_legal: float
    most_legal: float


class _GaugeTable(Strict):
    name: str
    own: str
    proves: str
    above: bool


class _StrokeTable(Strict):
    proves: str
    longer: str
    shorter: str


class _File(Strict):
    gauge: tuple[_GaugeTable, ...]
    stroke: tuple[_StrokeTable, ...]


def gauges(rules: Sequence[Requirement]) -> Mapping[str, Gauge]:
    """Return the gauges that an edition of the rules has figures for, by name."""
    known = {each.id: each for each in rules if each.has_figure}
    tables = [table for table in _file().gauge if table.own in known and table.proves in known]
    return {table.name: Gauge(table.name, known[table.own], known[table.proves], table.above) for table in tables}


def gauge_checked(
    gauge: Gauge, value: float, u: float, *, rule: DecisionRule = DecisionRule.AGAINST_FALSE_PASS, risk: float = 0.05
) -> GaugeChecked:
    """Return what a gauge that was measured comes to, `value` with its standard uncertainty. Raises InputError."""
    tolerance = tolerance_of(gauge.own)
    found = conformity(value, u, tolerance, rule=rule, risk=risk)
    proof = _proof(gauge.proves, value, u, above=gauge.above)
    return GaugeChecked(gauge, value, u, found, value - tolerance.low, tolerance.high - value, proof)


def stroke_proved(rules: Sequence[Requirement], checked: Mapping[str, GaugeChecked]) -> StrokeProved | None:
    """Return what the shims among the gauges that were measured prove together; None where one of them is missing."""
    known = {each.id: each for each in rules if each.has_figure}
    for table in _file().stroke:
        longer, shorter, proves = checked.get(table.longer), checked.get(table.shorter), known.get(table.proves)
        if longer and shorter and proves:
            proof = _proof(proves, longer.value - shorter.value, math.hypot(longer.u, shorter.u), above=True)
            long, short = tolerance_of(longer.gauge.own), tolerance_of(shorter.gauge.own)
            return StrokeProved(longer, shorter, proof, long.low - short.high, long.high - short.low)
    return None


def tolerance_of(requirement: Requirement) -> Tolerance:
    """Return the limits of a requirement. Raises UnknownNameError where it has no figure."""
    if not requirement.has_figure:
        raise UnknownNameError(what="limit", name=requirement.id, known=("one with a figure",), all_named=True)
    return Tolerance(requirement.lower, requirement.upper, requirement.lower_open, requirement.upper_open)


def _proof(requirement: Requirement, value: float, u: float, *, above: bool) -> Proof:
    asked = requirement.lower if above else requirement.upper
    limit = math.nan if asked is None else asked
    safe = Tolerance(lower=limit) if above else Tolerance(upper=limit)
    enough = conformity(value, u, safe, rule=DecisionRule.PLAIN).conforms
    return Proof(requirement, above, value, u, enough, limit - value if above else value - limit)


@lru_cache(maxsize=1)
def _file() -> _File:
    return read_model(_File, DATA / "gauges.toml")
