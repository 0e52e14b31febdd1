"""A trial with a reading or a gauge in it; out, which limit of the rulebook it is about and whether it keeps to it.

The limits are data: quantity, places or gauge, comparator, value, unit, clause and edition. Whatever the suspects of a case are,
a reading over its limit fails weapon control; the competition's own officials and the rulebook in force decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.kit import SIDES
from foible.rules.editions import edition_named, words
from foible.rules.files import ENDS

if TYPE_CHECKING:
    from foible.rules.files import RequirementTable
    from foible.trials import Reading, Trial

__all__ = ["Judgement", "Limit", "judged", "limits_of"]

SIGNS = {"above": ">", "at_least": "≥", "at_most": "≤", "below": "<"}
ANY = " …"
"""Ends a name that stands for every place that begins like it."""


@dataclass(frozen=True)
class LimitTable:
    """The one end of a requirement that a reading of a case is judged by, and how such a reading is recognised."""

    quantity: str
    weapons: tuple[str, ...]
    places: tuple[tuple[str, str], ...]
    """Two ends of a reading, without their side."""
    sides: bool
    """Whether the places belong to a side."""
    pressed: bool | None
    """Whether the point is pressed for it; None where that makes no difference."""
    gauge: str | None
    comparator: str
    """<, ≤, > or ≥."""
    value: float
    unit: str
    clause: str


@dataclass(frozen=True)
class Limit:
    """A limit of the rulebook."""

    table: LimitTable
    edition: str

    @property
    def text(self) -> str:
        """The limit in words, such as “≤ 1 Ω (m.29.1.c)”."""
        return f"{self.table.comparator} {self.table.value:g} {self.table.unit} ({self.table.clause})"

    def about(self, trial: Trial) -> bool:
        """Return whether a trial measures what the limit is about."""
        table = self.table
        if trial.gauge:
            return trial.gauge[1] == table.gauge
        if trial.meter is None or not table.places:
            return False
        if table.pressed is not None and table.pressed != bool(trial.arrangement.press):
            return False
        return any(_named(pair, trial.meter, sides=table.sides) for pair in table.places)

    def kept(self, value: float) -> bool:
        """Return whether a value keeps to the limit, in its unit."""
        match self.table.comparator:
            case "<":
                return value < self.table.value
            case "≤":
                return value <= self.table.value
            case ">":
                return value > self.table.value
        return value >= self.table.value


@dataclass(frozen=True)
class Judgement:
    """What a trial comes to against a limit."""

    limit: Limit
    kept: bool

    @property
    def words(self) -> str:
        """The judgement in words, such as “over the limit of m.29.1.c: fails control”."""
        clause = self.limit.table.clause
        if self.kept:
            return f"within the limit of {clause}"
        if self.limit.table.gauge:
            return f"fails the gauge of {clause}: fails control"
        return f"over the limit of {clause}: fails control"


@lru_cache
def limits_of(weapon: str, edition: str = "fie-2026") -> tuple[Limit, ...]:
    """Return the limits of a weapon in an edition of the rules. Raises ProblemsError for slips in the file."""
    rules = edition_named(edition)
    judging = (stated.table for stated in rules.stated if stated.table.places or stated.table.gauge)
    tables = (_limit_table(table) for table in judging)
    return tuple(Limit(table, rules.title) for table in tables if weapon in table.weapons)


def _limit_table(table: RequirementTable) -> LimitTable:
    end = next(end for end in ENDS if getattr(table, end) is not None)
    return LimitTable(
        quantity=table.quantity,
        weapons=table.weapons or words().weapons,
        places=table.places,
        sides=table.sides,
        pressed=table.pressed,
        gauge=table.gauge,
        comparator=SIGNS[end],
        value=getattr(table, end),
        unit=table.unit,
        clause=table.clause,
    )


def judged(weapon: str, trial: Trial) -> Judgement | None:
    """Return what a reading or a gauge comes to against its limit; None where the rules have no limit for it."""
    if not (trial.reads or trial.gauge) or trial.mended or trial.swapped:
        return None
    limit = next((limit for limit in limits_of(weapon) if limit.about(trial)), None)
    if limit is None:
        return None
    if trial.gauge:
        return Judgement(limit, trial.found == ("passes",))
    return Judgement(limit, trial.reads is not None and limit.kept(_worst(trial.reads)))


def _worst(reading: Reading) -> float:
    """Return the value that a reading is judged by [Ω]: the figure that was read, or the worst of one that wobbles."""
    if math.isinf(reading.high):
        return math.inf if reading.wobbles else reading.low
    if reading.wobbles or reading.text.strip().lower().startswith("under"):
        return reading.high
    return round((reading.low + reading.high) / 2, 9)


def _named(pair: tuple[str, str], places: tuple[str, str], *, sides: bool) -> bool:
    return any(
        all(_is(name, place, sides=sides) for name, place in zip(pair, ends, strict=True)) for ends in (places, places[::-1])
    )


def _is(name: str, place: str, *, sides: bool) -> bool:
    bare = place.split(" ", 1)[1] if sides and place.split(" ", 1)[0] in SIDES else place
    if name.endswith(ANY):
        return bare == name.removesuffix(ANY) or bare.startswith(name.removesuffix(ANY) + " ")
    return bare == name
