"""Readings of the parts of a strip's circuit in; out, every way of the current at a weapon with its budget."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.control.budget import Measured, budget, ways
from foible.control.instruments import instrument_named, instruments
from foible.errors import UnknownNameError
from foible.rules import USUAL_EDITION, requirements
from foible.services.control.figures import figure_or_none

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.control.budget import Budget
    from foible.control.instruments import Instrument

__all__ = ["Budgets", "budgets_of", "meters", "parts_of"]


@dataclass(frozen=True)
class Budgets:
    """All ways of the current at a weapon."""

    weapon: str
    edition: str
    meter: Instrument
    parts: Mapping[str, str]
    """The figures as they were typed, by part; empty where a part was not read."""
    ways: tuple[Budget, ...]


def meters() -> tuple[Instrument, ...]:
    """Return the usual meters."""
    return tuple(each for each in instruments() if each.tool == "meter")


def parts_of(weapon: str, edition: str = USUAL_EDITION) -> tuple[str, ...]:
    """Return the names of all parts of all ways at a weapon, each once. Raises UnknownNameError."""
    every = ways(requirements(edition), weapon)
    return tuple(dict.fromkeys(part for way in every.values() for part in way.parts))


def budgets_of(weapon: str, read: Mapping[str, str], *, meter: str = "", edition: str = USUAL_EDITION) -> Budgets:
    """Return the budgets of a weapon's ways from figures as they were typed [Ω], each part read by itself with one meter.

    Raises UnknownNameError for a part that there is not, and InputError for what is no figure.
    """
    instrument = instrument_named(meter) if meter else meters()[0]
    parts = parts_of(weapon, edition)
    for name in read:
        if name not in parts:
            raise UnknownNameError(what="part", name=name, known=parts, all_named=True)
    ohms = {name: figure_or_none(read.get(name, ""), name) for name in parts}
    measured = {name: Measured(value, instrument.uncertainty(value)) for name, value in ohms.items() if value is not None}
    found = ways(requirements(edition), weapon)
    budgets = tuple(budget(way, {name: each for name, each in measured.items() if name in way.parts}) for way in found.values())
    return Budgets(weapon, edition, instrument, {name: read.get(name, "") for name in parts}, budgets)
