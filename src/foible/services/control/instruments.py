"""The form of an instrument in; out, the instrument, and which readings of it pass, fail or are too close at a limit.

A competition keeps an instrument by its figures (`made_up_of`), or by its standard uncertainty alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.control.conformity import DecisionRule, conformity
from foible.control.instruments import Instrument, instrument_named, instruments, leads_known, leads_unknown
from foible.control.repeats import STATED
from foible.control.shims import tolerance_of
from foible.errors import InputError, UnknownNameError
from foible.rules import tools_of_rules
from foible.services.control.figures import figure, figure_or_none

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from foible.control.conformity import Conformity
    from foible.records.control import Instrument as KeptInstrument
    from foible.rules import Requirement

__all__ = [
    "LEADS",
    "SURE",
    "UNITS",
    "Fields",
    "Told",
    "ToldEnd",
    "fields_of",
    "instrument_for",
    "instrument_in",
    "instrument_of",
    "near_limit",
    "of_uncertainty",
    "one_of_each_tool",
    "reads",
    "told",
    "tool_words",
    "usual_for",
    "usual_named",
    "usuals",
]

LEADS = {
    "zeroed": "zeroed: together they read 0, or that is subtracted",
    "read": "not zeroed; held together they read …",
    "unknown": "not zeroed, and nobody knows: at most …",
}
"""What can be said of a meter's leads."""
SURE = {"quarter": "judgement, good to a quarter", "calibrated": "a calibration certificate, or very many readings"}
"""How far the figures can be trusted, and with how many degrees of freedom."""
_FREEDOM = {"quarter": STATED, "calibrated": 200.0}
UNITS = ("Ω", "g", "mm", "cm")
"""What the instruments of a table read."""
FIELDS = {
    "step": "smallest step",
    "zero": "zero, within ±",
    "percent": "calibration, within ± % of the reading",
    "repeat": "repeat",
}
_MADE_UP_OF = Instrument("", "", "", step=1.0).made_up_of
MOST_ROWS, SPAN, SCANNED = 15, 3.5, 2000
"""Rows that are shown, how far from the limit they reach [u], and readings that are tried at most."""


@dataclass(frozen=True)
class Fields:
    """The form as it was filled in: texts, as they are shown again."""

    name: str = ""
    tool: str = "meter"
    unit: str = "Ω"
    step: str = ""
    zero: str = "0"
    percent: str = "0"
    repeat: str = "0"
    leads: str = "zeroed"
    leads_ohm: str = ""
    sure: str = "quarter"


@dataclass(frozen=True)
class ToldEnd:
    """What readings near one end of a requirement come to; None where there is no such reading near it."""

    limit: float
    upper: bool
    passes: float | None
    """The reading nearest to the limit that passes."""
    close: tuple[float, float] | None
    """The first and the last that are too close to call."""
    fails: float | None
    """The reading nearest to the limit that fails."""
    rows: tuple[tuple[float, Conformity], ...]


@dataclass(frozen=True)
class Told:
    """What an instrument can tell of a requirement."""

    instrument: Instrument
    """In the unit of the requirement."""
    requirement: Requirement
    u: float
    """Its standard uncertainty at the limit."""
    ends: tuple[ToldEnd, ...]
    rule: DecisionRule
    risk: float


def fields_of(instrument: Instrument) -> Fields:
    """Return the form filled in with an instrument."""
    figures = {name: f"{instrument.made_up_of[name]:g}" for name in FIELDS}
    return Fields(instrument.name, instrument.tool, instrument.unit, **figures)


def instrument_in(fields: Fields) -> Instrument:
    """Return the instrument that a form describes. Raises InputError and UnknownNameError, which name the field."""
    tools = tools_of_rules()
    for what, name, known in (("tool", fields.tool, tools), ("leads", fields.leads, LEADS), ("sure", fields.sure, SURE)):
        if name not in known:
            raise UnknownNameError(what=what, name=name, known=known, all_named=True)
    step = figure(fields.step, FIELDS["step"], least=1e-6)
    rest = {name: figure_or_none(getattr(fields, name), FIELDS[name]) or 0.0 for name in ("zero", "percent", "repeat")}
    made = Instrument(
        fields.name.strip() or "your instrument", fields.tool, fields.unit, step, **rest, freedom=_FREEDOM[fields.sure]
    )
    if fields.leads == "zeroed":
        return made
    ohms = figure(fields.leads_ohm, "leads", most=100)
    return leads_known(made, ohms) if fields.leads == "read" else leads_unknown(made, ohms)


def instrument_of(kept: KeptInstrument) -> Instrument:
    """Return an instrument of a competition by its figures; where only its uncertainty is known, by that."""
    known = {key: value for key, value in kept.made_up_of.items() if key in _MADE_UP_OF}
    if "step" in known:
        return Instrument(kept.name, kept.tool, kept.unit, **known)
    return Instrument(kept.name, kept.tool, kept.unit, _finer(kept.u), repeat=kept.u)


def of_uncertainty(u: float, requirement: Requirement) -> Instrument:
    """Return an instrument of which no more is known than its standard uncertainty [the limit's unit]. Raises InputError."""
    if not u > 0:
        raise InputError(seen=f"a standard uncertainty of {u:g}", remedy="give one above zero")
    return Instrument("an instrument of your own", requirement.tool, requirement.unit, _finer(u), repeat=u)


def tool_words() -> Mapping[str, str]:
    """Return the tools of control by their names, in words."""
    return tools_of_rules()


def usuals() -> tuple[Instrument, ...]:
    """Return instruments as they usually are; judgement, no source."""
    return instruments()


def one_of_each_tool() -> tuple[Instrument, ...]:
    """Return the first of the usual instruments for each tool."""
    return tuple({each.tool: each for each in reversed(instruments())}.values())[::-1]


def usual_named(name: str) -> Instrument:
    """Return one of them. Raises UnknownNameError."""
    return instrument_named(name)


def usual_for(requirement: Requirement) -> Instrument:
    """Return the usual instrument for a requirement: the first with its tool, or else the first that reads its unit."""
    every = instruments()
    fitting = [each for each in every if each.tool == requirement.tool and reads(each, requirement.unit)]
    fitting = fitting or [each for each in every if reads(each, requirement.unit)]
    if not fitting:
        raise InputError(seen=f"no instrument reads {requirement.unit}", remedy="give one of your own")
    return fitting[0]


def instrument_for(requirement: Requirement, instruments: Iterable[KeptInstrument]) -> tuple[Instrument | None, int | None]:
    """Return the instrument of a competition that a requirement is read with, in its unit, and the id.

    One of the same tool is taken; failing that, one as they usually are, and the id is None; None where there is none of these.
    """
    for each in instruments:
        kept = instrument_of(each)
        if each.tool == requirement.tool and reads(kept, requirement.unit):
            return kept.within(requirement.unit), each.id
    try:
        return usual_for(requirement).within(requirement.unit), None
    except InputError:
        return None, None


def near_limit(requirement: Requirement) -> float:
    """Return a reading near a limit, at which an uncertainty is told."""
    return max((abs(end) for end in (requirement.lower, requirement.upper) if end), default=1.0)


def told(instrument: Instrument | str, requirement: Requirement, *, rule: DecisionRule, risk: float = 0.05) -> Told:
    """Return which readings of an instrument pass, fail or are too close at a requirement. Raises InputError."""
    known = instrument_named(instrument) if isinstance(instrument, str) else instrument
    fitting = known.within(requirement.unit)
    ends = tuple(
        _end(fitting, requirement, limit, upper=upper, rule=rule, risk=risk)
        for limit, upper in ((requirement.lower, False), (requirement.upper, True))
        if limit is not None
    )
    if not ends or requirement.lower == requirement.upper:
        raise InputError(seen=f"{requirement.quantity} has no tolerance", remedy="choose a limit with a figure and room")
    limit = ends[-1].limit
    return Told(fitting, requirement, fitting.uncertainty(limit), ends, rule, risk)


def _end(  # noqa: PLR0913 — one end of one requirement, and how to decide
    instrument: Instrument, requirement: Requirement, limit: float, *, upper: bool, rule: DecisionRule, risk: float
) -> ToldEnd:
    u, step, tolerance = instrument.uncertainty(limit), instrument.step, tolerance_of(requirement)
    reach = max(SPAN * u, 2 * step)
    first = math.ceil((limit + instrument.offset - reach) / step)
    last = math.floor((limit + instrument.offset + reach) / step)
    stride = max(1, math.ceil((last - first) / SCANNED))
    readings = [round(count * step, 9) for count in range(first, last + 1, stride)]

    def found(reading: float) -> Conformity:
        value = round(instrument.corrected(reading), 9)
        spread = instrument.uncertainty(value)
        return conformity(value, spread, tolerance, rule=rule, risk=risk, freedom=instrument.freedom)

    every = [(reading, found(reading)) for reading in readings]
    by = {
        outcome: [reading for reading, said in every if said.outcome == outcome]
        for outcome in ("pass", "fail", "too close to call")
    }
    close = by["too close to call"]
    shown = sorted({round(float(place)) for place in np.linspace(0, len(every) - 1, min(MOST_ROWS, len(every)))})
    return ToldEnd(
        limit,
        upper,
        passes=(max if upper else min)(by["pass"], default=None),
        close=(close[0], close[-1]) if close else None,
        fails=(min if upper else max)(by["fail"], default=None),
        rows=tuple(every[place] for place in shown),
    )


def reads(instrument: Instrument, unit: str) -> bool:
    """Return whether what an instrument reads turns into a unit."""
    try:
        instrument.within(unit)
    except InputError:
        return False
    return True


def _finer(u: float) -> float:
    """Return a step too small to matter beside an uncertainty, a power of ten."""
    return 10.0 ** math.floor(math.log10(u / 10))
