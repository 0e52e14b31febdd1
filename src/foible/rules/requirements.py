"""The requirements of weapon control: an edition and what is asked for in, out what it demands, with clause and comparator."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.rules.editions import edition_named, edition_titles, words

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from foible.rules.editions import Edition, Stated

__all__ = ["USUAL_EDITION", "Requirement", "editions", "requirements"]

USUAL_EDITION = "fie-2026"


# long: a field for each thing that is known of it
@dataclass(frozen=True)
class Requirement:
    """One thing that a rulebook demands of an item. With neither end it is judged without a figure, by eye or by hand."""

    id: str
    """The same in every edition, such as “weapon-mass.foil”."""
    edition: str
    kind: str
    """As the register names kinds of items, such as “cord”."""
    weapons: tuple[str, ...]
    quantity: str
    lower: float | None
    lower_open: bool
    """Whether the lower end itself is out: > rather than ≥."""
    upper: float | None
    upper_open: bool
    unit: str
    clause: str
    tool: str
    method: str
    station: str
    """“dimensions”, “electrics” or “marks”: who of the three at the table checks it (m.43)."""
    source: str
    confidence: str
    """“rule text”, “secondary”, “memory” or “derived”."""
    required: bool
    """Whether weapon control has to test it, rather than only when asked to."""
    part: str = ""
    kind_words: str = ""
    as_said: str = ""
    also: tuple[str, ...] = ()
    note: str = ""
    found_by: tuple[str, ...] = ()
    stated_by: str = ""
    """The title of the edition that has it in these words; another than its own where it stands unchanged beside that."""

    def __hash__(self) -> int:
        return hash((self.edition, self.id))

    def kept(self, value: float) -> bool:
        """Return whether a value, in its unit, keeps to it. Raises ValueError where it has no figure."""
        if not self.has_figure:
            msg = f"{self.id} has no figure that a value could keep to"
            raise ValueError(msg)
        above = self.lower is None or (value > self.lower if self.lower_open else value >= self.lower)
        return above and (self.upper is None or (value < self.upper if self.upper_open else value <= self.upper))

    @property
    def has_figure(self) -> bool:
        """Whether a value can be held against it."""
        return self.lower is not None or self.upper is not None

    @property
    def for_all(self) -> bool:
        """Whether it holds at every weapon."""
        return len(self.weapons) == len(words().weapons)

    @property
    def figure(self) -> str:
        """Both ends with their comparators and the unit, such as “≤ 1 Ω”; “by eye” or the like where there is none."""
        if not self.has_figure:
            return f"by {'eye' if self.tool == 'eye' else words().tools[self.tool]}"
        unit = self.unit if self.unit == "°" else f" {self.unit}"
        if self.lower is None or self.upper is None:
            value = self.upper if self.lower is None else self.lower
            sign = ("<" if self.upper_open else "≤") if self.lower is None else (">" if self.lower_open else "≥")
            return f"{sign} {value:g}{unit}"
        if self.lower == self.upper:
            return f"{self.lower:g}{unit}"
        if self.lower_open or self.upper_open:
            signs = ">" if self.lower_open else "≥", "<" if self.upper_open else "≤"
            return f"{signs[0]} {self.lower:g} and {signs[1]} {self.upper:g}{unit}"
        return f"{self.lower:g}–{self.upper:g}{unit}"

    @property
    def text(self) -> str:
        """The figure with its clause, such as “≤ 1 Ω (m.29.1.c)”."""
        return f"{self.figure} ({self.clause})"


def editions(overlays: Sequence[Path] = ()) -> Mapping[str, str]:
    """Return the titles of the editions that there are by name, those of own rules last."""
    return edition_titles(overlays)


def requirements(
    edition: str = USUAL_EDITION, *, kind: str | None = None, weapon: str | None = None, overlays: Sequence[Path] = ()
) -> tuple[Requirement, ...]:
    """Return what an edition requires, of one kind of item or at one weapon if so wanted, in the order of control.

    `overlays` are files of own rules; each is one more edition, called as its file is, and changes nothing in the others.

    Raises UnknownNameError where there is no such edition, ProblemsError for slips in a file.
    """
    every = _values(edition_named(edition, overlays))
    return tuple(each for each in every if kind in (None, each.kind) and (weapon is None or weapon in each.weapons))


@lru_cache(maxsize=32)
def _values(edition: Edition) -> tuple[Requirement, ...]:
    values = [_value(each, edition.id) for each in edition.stated]
    parts = {part: place for place, part in enumerate(dict.fromkeys((each.kind, each.part) for each in values))}
    order = {kind: place for place, kind in enumerate(words().kinds)}
    return tuple(sorted(values, key=lambda each: (order[each.kind], parts[each.kind, each.part])))


def _value(stated: Stated, edition: str) -> Requirement:
    table = stated.table
    return Requirement(
        id=table.id,
        edition=edition,
        kind=table.kind,
        weapons=table.weapons or words().weapons,
        quantity=table.quantity,
        lower=table.at_least if table.above is None else table.above,
        lower_open=table.above is not None,
        upper=table.at_most if table.below is None else table.below,
        upper_open=table.below is not None,
        unit=table.unit,
        clause=table.clause,
        tool=table.tool,
        method=table.method,
        station=table.station,
        source=stated.source,
        confidence=table.confidence,
        required=table.required,
        part=table.part,
        kind_words=words().kinds[table.kind].words,
        as_said=table.as_said,
        also=table.also,
        note=table.note,
        found_by=table.found_by,
        stated_by=stated.stated_by,
    )
