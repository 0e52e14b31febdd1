"""What is known of an instrument in; out, the standard uncertainty of a reading, part by part.

A bound ± a that is never passed, with nothing known of what lies between, is a rectangular law: u = a/√3 (JCGM 100:2008, 4.3.7).
A display of step q hides ± q/2: u = q/√12 (F.2.2.1). What is known to be there, such as the leads of a meter that was not zeroed,
is subtracted (3.2.4). The parts add up in quadrature (5.1.2). What changes from reading to reading is kept apart from the rest:
`repeats` learns it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import Field

from foible.control.repeats import STATED, Scatter
from foible.errors import InputError, UnknownNameError
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["Instrument", "Part", "instrument_named", "instruments", "leads_known", "leads_unknown", "unit_factor"]

DATA = Path(str(files("foible.control") / "data"))
SAME_KIND = ({"mm": 1.0, "cm": 10.0, "m": 1000.0}, {"g": 1.0, "kg": 1000.0}, {"mΩ": 0.001, "Ω": 1.0, "kΩ": 1000.0})
"""Units that turn into each other."""
SQRT_3, SQRT_12 = math.sqrt(3), math.sqrt(12)


@dataclass(frozen=True)
class Part:
    """One part of an uncertainty, as a standard uncertainty in the unit of the reading."""

    name: str
    words: str
    u: float


@dataclass(frozen=True)
class Instrument:
    """An instrument and how far off it can be; all in its unit but `percent`, which is of the reading."""

    name: str
    tool: str
    unit: str
    step: float
    """The smallest step of its display, or what is read off a scale."""
    zero: float = 0.0
    """The bound of what is left of its zero, leads included."""
    percent: float = 0.0
    """The bound of its calibration [% of the reading]."""
    repeat: float = 0.0
    """The standard deviation of readings of one item."""
    offset: float = 0.0
    """What it is known to read too much: subtracted."""
    freedom: float = STATED
    """Degrees of freedom behind these figures: 8 where they are good to a quarter (JCGM 100:2008, G.4.2)."""

    def __post_init__(self) -> None:
        given = {field: getattr(self, field) for field in self.made_up_of}
        bad = next((name for name, value in given.items() if not math.isfinite(value) or (value < 0 and name != "offset")), None)
        if bad or not self.step > 0:
            name = bad or "step"
            raise InputError(
                seen=f"{name} of {self.name or 'the instrument'}: {given[name]:g}", remedy="give a number above zero"
            )

    def parts(self, reading: float) -> tuple[Part, ...]:
        """Return what makes up the uncertainty of a reading."""
        return (
            Part("step", f"steps of {self.step:g} {self.unit}", self.step / SQRT_12),
            Part("zero", f"zero and leads ± {self.zero:g} {self.unit}", self.zero / SQRT_3),
            Part("percent", f"calibration ± {self.percent:g} % of the reading", abs(reading) * self.percent / 100 / SQRT_3),
            Part("repeat", "taken off and put on again", self.repeat),
        )

    def uncertainty(self, reading: float) -> float:
        """Return the standard uncertainty of one reading, in its unit."""
        return math.hypot(*(part.u for part in self.parts(reading)))

    def scatter(self, reading: float) -> Scatter:
        """Return the same as what changes from reading to reading, here `repeat`, and what does not."""
        fixed = math.hypot(*(part.u for part in self.parts(reading) if part.name != "repeat"))
        if self.repeat:
            return Scatter(self.repeat, fixed, self.freedom, self.freedom)
        return Scatter(fixed, 0.0, self.freedom, self.freedom)

    def corrected(self, reading: float) -> float:
        """Return a reading without what the instrument is known to read too much."""
        return reading - self.offset

    def within(self, unit: str) -> Instrument:
        """Return the same instrument, told in another unit. Raises InputError where one does not turn into the other."""
        factor = unit_factor(self.unit, unit)
        scaled = {name: getattr(self, name) * factor for name in ("step", "zero", "repeat", "offset")}
        return Instrument(self.name, self.tool, unit, percent=self.percent, freedom=self.freedom, **scaled)

    @property
    def made_up_of(self) -> Mapping[str, float]:
        """Its figures by their names, to be kept."""
        return {each.name: float(getattr(self, each.name)) for each in fields(self) if each.name not in {"name", "tool", "unit"}}


class _Table(Strict):
    name: str
    tool: str
    unit: str
    step: float = Field(gt=0)
    zero: float = Field(ge=0)
    percent: float = Field(ge=0)
    repeat: float = Field(ge=0)


class _File(Strict):
    instrument: tuple[_Table, ...]


@lru_cache(maxsize=1)
def instruments() -> tuple[Instrument, ...]:
    """Return instruments as they usually are; judgement, no source."""
    return tuple(Instrument(**table.model_dump()) for table in read_model(_File, DATA / "instruments.toml").instrument)


def instrument_named(name: str) -> Instrument:
    """Return one of the usual instruments. Raises UnknownNameError."""
    known = {each.name: each for each in instruments()}
    if name not in known:
        raise UnknownNameError(what="instrument", name=name, known=known, all_named=True)
    return known[name]


def leads_known(instrument: Instrument, reads: float) -> Instrument:
    """Return a meter that was not zeroed and reads so much with its leads together: that is subtracted."""
    return _with_leads(instrument, reads, instrument.zero)


def leads_unknown(instrument: Instrument, at_most: float) -> Instrument:
    """Return a meter that was not zeroed, with leads of 0 to `at_most`: half of it is subtracted, and half is in doubt."""
    return _with_leads(instrument, at_most / 2, math.hypot(instrument.zero, at_most / 2))


def unit_factor(of: str, wanted: str) -> float:
    """Return how many of the wanted unit one of another is. Raises InputError where they are of different quantities."""
    if of == wanted:
        return 1.0
    for kind in SAME_KIND:
        if of in kind and wanted in kind:
            return kind[of] / kind[wanted]
    raise InputError(seen=f"an instrument that reads {of} for a limit in {wanted}", remedy=f"choose one that reads {wanted}")


def _with_leads(instrument: Instrument, offset: float, zero: float) -> Instrument:
    known = {**instrument.made_up_of, "offset": offset, "zero": zero}
    return Instrument(instrument.name, instrument.tool, instrument.unit, **known)
