"""A reading, a limit and an instrument in; out, the verdict with its probability, in words for whoever holds the item.

`foible verdict`, the pages and the API ask here; the arithmetic is that of `foible.control.conformity`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.control.conformity import DecisionRule, conformity
from foible.control.instruments import instrument_named
from foible.control.shims import gauge_checked, gauges, stroke_proved, tolerance_of
from foible.errors import InputError, UnknownNameError
from foible.rules import USUAL_EDITION, found, near_words, requirements
from foible.services.control.figures import rounded
from foible.services.control.instruments import usual_for

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from foible.control.conformity import Conformity
    from foible.control.instruments import Instrument
    from foible.control.shims import Gauge, GaugeChecked, StrokeProved
    from foible.rules import Requirement

__all__ = [
    "EVER",
    "NEVER",
    "OFFICIALS",
    "RULES",
    "ToolsChecked",
    "Verdict",
    "chance_words",
    "gauges_known",
    "has_instrument",
    "limit_asked",
    "limits_with_room",
    "rule_named",
    "tools_checked",
    "verdict",
]

RULES = tuple(DecisionRule)
"""The rules that a competition can choose from."""
OFFICIALS = "Foible advises; the officials and the rulebook in force decide."
NEVER, EVER = 0.001, 0.999
"""From where on a probability is said as next to none or next to sure."""


@dataclass(frozen=True)
class Verdict:
    """What a reading comes to."""

    requirement: Requirement
    instrument: Instrument
    """In the unit of the requirement."""
    reading: float
    """As the instrument showed it."""
    value: float
    """Without what the instrument is known to read too much."""
    u: float
    rule: DecisionRule
    risk: float
    conformity: Conformity

    @property
    def chance(self) -> str:
        """The probability that the item conforms, in words."""
        return chance_words(self.conformity.conforms)

    @property
    def say(self) -> str:
        """The verdict in one sentence."""
        value, u = rounded(self.value, self.u), rounded(self.u, self.u)
        unit, limit = self.requirement.unit, self.requirement.text
        read = f"{value} {unit} (u = {u} {unit}) against {limit}"
        return f"{self.conformity.outcome}: {read}; the chance that it keeps the limit is {self.chance}"

    @property
    def advice(self) -> str:
        """What to do where it is close; empty where it is not."""
        if self.conformity.outcome == "too close to call":
            return "Read it again, leads zeroed; the mean of two readings is surer. If it stays close, the officials decide."
        if self.conformity.outcome == "pass" and self.conformity.false_pass > self.risk:
            return f"Close: the chance that it breaks the limit all the same is {chance_words(self.conformity.false_pass)}."
        if self.conformity.outcome == "fail" and self.conformity.false_fail > self.risk:
            return f"Close: the chance that it keeps the limit all the same is {chance_words(self.conformity.false_fail)}."
        return ""


@dataclass(frozen=True)
class ToolsChecked:
    """Gauges and weights that were measured, and what two shims prove together."""

    checked: Mapping[str, GaugeChecked]
    stroke: StrokeProved | None


def limits_with_room(edition: str = USUAL_EDITION, overlays: Sequence[Path] = ()) -> tuple[Requirement, ...]:
    """Return the requirements that a reading with an uncertainty can be held against, in the order of control."""
    every = requirements(edition, overlays=overlays)
    return tuple(each for each in every if each.has_figure and each.lower != each.upper and has_instrument(each))


def limit_asked(
    words: str, *, weapon: str | None = None, edition: str = USUAL_EDITION, overlays: Sequence[Path] = ()
) -> Requirement:
    """Return the one limit that a name, or words, or a clause mean. Raises UnknownNameError where there is none, or several."""
    every = [each for each in limits_with_room(edition, overlays) if weapon is None or weapon in each.weapons]
    named = {each.id: each for each in every}
    if words in named:
        return named[words]
    fitting = found(every, words)
    if not fitting:
        raise UnknownNameError(what="limit", name=words, known=near_words(every, words) or tuple(named))
    if len(fitting) > 1:
        seen = f"“{words}” fits {len(fitting)} limits"
        raise InputError(seen=seen, remedy="name one of them: " + ", ".join(each.id for each in fitting[:8]))
    return fitting[0]


def verdict(
    reading: float,
    requirement: Requirement,
    instrument: Instrument | str | None = None,
    *,
    rule: DecisionRule,
    risk: float = 0.05,
) -> Verdict:
    """Return what a reading [the unit of the requirement] comes to with an instrument, by default the usual one for it.

    Raises InputError and UnknownNameError.
    """
    if instrument is None:
        instrument = usual_for(requirement)
    fitting = (instrument_named(instrument) if isinstance(instrument, str) else instrument).within(requirement.unit)
    value = fitting.corrected(reading)
    u = fitting.uncertainty(value)
    said = conformity(value, u, tolerance_of(requirement), rule=rule, risk=risk, freedom=fitting.freedom)
    return Verdict(requirement, fitting, reading, value, u, rule, risk, said)


def rule_named(name: str) -> DecisionRule:
    """Return a decision rule by its words or their last ones, such as “plain”. Raises UnknownNameError."""
    known = {word: rule for rule in DecisionRule for word in (rule.value, rule.name.lower().replace("_", " "))}
    known["plain"] = DecisionRule.PLAIN
    if name.strip().lower() not in known:
        raise UnknownNameError(what="decision rule", name=name, known=[rule.value for rule in DecisionRule], all_named=True)
    return known[name.strip().lower()]


def gauges_known(edition: str = USUAL_EDITION) -> Mapping[str, Gauge]:
    """Return the gauges and weights that an edition has figures for, by name."""
    return gauges(requirements(edition))


def tools_checked(
    measured: Mapping[str, tuple[float, float]], *, rule: DecisionRule, risk: float = 0.05, edition: str = USUAL_EDITION
) -> ToolsChecked:
    """Return what gauges and weights come to that were measured, by name, each with its value and standard uncertainty.

    Raises UnknownNameError and InputError.
    """
    rules = requirements(edition)
    known = gauges(rules)
    for name in measured:
        if name not in known:
            raise UnknownNameError(what="gauge", name=name, known=known, all_named=True)
    checked = {name: gauge_checked(known[name], value, u, rule=rule, risk=risk) for name, (value, u) in measured.items()}
    return ToolsChecked(checked, stroke_proved(rules, checked))


def chance_words(chance: float) -> str:
    """Return a probability as people say it."""
    if chance < NEVER:
        return "under 0.1 %"
    if chance > EVER:
        return "over 99.9 %"
    percent = 100 * chance
    return f"{percent:.1f} %" if min(percent, 100 - percent) < 1 else f"{percent:.0f} %"


def has_instrument(requirement: Requirement) -> bool:
    """Return whether an instrument reads it that shows figures, rather than a weight that does it or not, or a count."""
    try:
        usual_for(requirement)
    except InputError:
        return False
    return requirement.tool not in {"weight", "box", "papers", "count"}
