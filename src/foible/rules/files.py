"""Files of rules: what a requirement looks like in TOML, and what an edition of a rulebook changes in the one it stands beside.

An edition that Foible brings is a folder, with its title in `edition.toml`; own rules are one file. docs/rules.md explains both.
"""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path
from typing import Any, Literal, Self

from pydantic import Field, model_validator

from foible.tomlfile import Strict, Words

__all__ = [
    "DATA",
    "ENDS",
    "ChangeTable",
    "DropTable",
    "GapTable",
    "RequirementTable",
    "RulesFile",
    "SlipTable",
    "WordsFile",
]

DATA = Path(str(files("foible.rules") / "data"))
ENDS = ("above", "at_least", "at_most", "below")
"""The keys that a figure can have: > ≥ ≤ <."""
Confidence = Literal["rule text", "secondary", "memory", "derived"]
Station = Literal["dimensions", "electrics", "marks"]


class Written(Strict):
    """What a requirement and a change of one have in common: the figure and how a reading is recognised."""

    above: float | None = None
    at_least: float | None = None
    at_most: float | None = None
    below: float | None = None

    @model_validator(mode="after")
    def _has_sense(self) -> Self:
        if (self.above is not None and self.at_least is not None) or (self.at_most is not None and self.below is not None):
            msg = "give one lower end (above or at_least) and one upper end (at_most or below) at most"
            raise ValueError(msg)
        low = self.above if self.above is not None else self.at_least
        high = self.at_most if self.at_most is not None else self.below
        if low is not None and high is not None and low > high:
            msg = f"the lower end, {low:g}, is above the upper end, {high:g}"
            raise ValueError(msg)
        return self

    @property
    def figured(self) -> bool:
        """Whether there is a figure."""
        return any(getattr(self, end) is not None for end in ENDS)


class RequirementTable(Written):
    """One requirement as a file of rules writes it. What is left out of `weapons` means all of them."""

    id: str = Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*(\.[a-z]+)?$", max_length=60)
    kind: str
    part: str
    """The heading under which it stands among those of its kind."""
    weapons: tuple[str, ...] = ()
    quantity: str = Field(min_length=3, max_length=200)
    unit: str = ""
    as_said: str = ""
    """The figure as the rules put it, such as “500 g ± 2 g”; left out where the ends say the same."""
    clause: str = Field(min_length=1, max_length=40)
    also: Words = ()
    """Further clauses that say the same or that this rests on."""
    book: str = "material"
    tool: str = "eye"
    method: str = Field(default="", max_length=400)
    station: Station
    confidence: Confidence = "rule text"
    required: bool = True
    note: str = Field(default="", max_length=500)
    found_by: Words = ()
    """Other words that people look for it by."""
    places: tuple[tuple[str, str], ...] = ()
    """Two ends of a reading that it judges in a case, without their side; “…” ends a name for every place that begins so."""
    sides: bool = True
    """Whether the places belong to a side."""
    pressed: bool | None = None
    """Whether the point is pressed for it; left out where that makes no difference."""
    gauge: str | None = None
    """The gauge that judges it in a case."""

    @model_validator(mode="after")
    def _is_about_one_thing(self) -> Self:
        ends = sum(getattr(self, end) is not None for end in ENDS)
        if self.places and self.gauge:
            msg = "a reading is judged by a meter or by a gauge: give places or gauge"
            raise ValueError(msg)
        if (self.places or self.gauge) and ends != 1:
            msg = "a reading of a case is judged by one end: give one of above, at_least, at_most, below"
            raise ValueError(msg)
        if self.figured != bool(self.unit):
            msg = "a figure needs a unit, and a unit a figure (above, at_least, at_most or below)"
            raise ValueError(msg)
        return self


class ChangeTable(Written):
    """What an edition has otherwise than the one beside it; keys that are left out stay, and a new figure replaces both ends."""

    id: str
    part: str | None = None
    weapons: tuple[str, ...] | None = None
    quantity: str | None = Field(default=None, min_length=3, max_length=200)
    unit: str | None = None
    as_said: str | None = None
    clause: str | None = Field(default=None, min_length=1, max_length=40)
    also: Words | None = None
    book: str | None = None
    tool: str | None = None
    method: str | None = Field(default=None, max_length=400)
    station: Station | None = None
    confidence: Confidence | None = None
    required: bool | None = None
    note: str | None = Field(default=None, max_length=500)
    found_by: Words | None = None

    def applied(self, table: RequirementTable) -> dict[str, Any]:
        """Return the keys of a requirement with the change made."""
        given = self.model_dump(exclude_unset=True)
        kept = table.model_dump(exclude_unset=True)
        if any(end in given for end in ENDS):
            kept = {key: value for key, value in kept.items() if key not in ENDS and key != "as_said"}
        return {**kept, **given}


class DropTable(Strict):
    """A requirement that an edition does not have."""

    id: str
    why: str = Field(min_length=3, max_length=300)


class SlipTable(Strict):
    """A slip in the text of the rules: a clause that cites a number which is not, or no longer, what it means."""

    clause: str
    cites: str
    means: str
    say: str = Field(max_length=400)


class GapTable(Strict):
    """What the rules leave open, at some clauses or, with none, altogether."""

    clauses: Words = ()
    say: str = Field(max_length=400)


class RulesFile(Strict):
    """A file of an edition. Its title and what it stands beside are in one file of a folder only."""

    title: str = Field(default="", max_length=100)
    beside: str | None = None
    """The edition that this one changes; none for one that stands alone."""
    books: dict[str, str] = Field(default_factory=dict)
    """What is cited as the source, by the word that `book` gives; `material` is the usual one."""
    called: dict[str, str] = Field(default_factory=dict)
    """What parts of another rulebook are called here, such as its annexes, by what they are called there."""
    requirement: tuple[RequirementTable, ...] = ()
    change: tuple[ChangeTable, ...] = ()
    drop: tuple[DropTable, ...] = ()
    slip: tuple[SlipTable, ...] = ()
    gap: tuple[GapTable, ...] = ()


class KindWords(Strict):
    """What a kind of item is called, and what else people call it."""

    words: str
    also: Words = ()


class WordsFile(Strict):
    """The kinds of items, the tools and the units that files of rules may name."""

    weapons: tuple[str, ...]
    kinds: dict[str, KindWords]
    tools: dict[str, str]
    stations: dict[str, str]
    units: dict[str, Words]
    """What people say when they mean a unit; a unit need not be among them."""
