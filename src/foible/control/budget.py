"""Readings of the parts of one way of the current in; out, their sum beside that of the legal maxima and what Annex B guarantees.

The parts lie in series: R = Σ Rᵢ, u² = Σ uᵢ² for parts that were read one by one (JCGM 100:2008, 5.1.2). A part that was not read
counts with its limit, so that the sum is what the whole is at most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.control.instruments import DATA
from foible.errors import InputError, UnknownNameError
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.rules import Requirement

__all__ = ["Budget", "Line", "Measured", "Way", "budget", "ways"]


@dataclass(frozen=True)
class Way:
    """One way of the current: its parts in order, each with the requirement that limits it, and what the apparatus stands."""

    name: str
    weapon: str
    words: str
    parts: Mapping[str, Requirement]
    stands: Requirement | None
    """None where the edition has no such figure."""
    stands_words: str


@dataclass(frozen=True)
class Measured:
    """A part that was read [Ω], with its standard uncertainty."""

    ohms: float
    u: float = 0.0


@dataclass(frozen=True)
class Line:
    """One line of a budget; all in ohms."""

    name: str
    requirement: Requirement
    limit: float
    measured: Measured | None
    share: float
    """Of the sum, from 0 to 1."""

    @property
    def ohms(self) -> float:
        """What was read, or else the limit."""
        return self.limit if self.measured is None else self.measured.ohms

    @property
    def over(self) -> bool:
        """Whether what was read breaks the limit of this part."""
        return self.measured is not None and not self.requirement.kept(self.measured.ohms)


@dataclass(frozen=True)
class Budget:
    """The sum of one way; all in ohms."""

    way: Way
    lines: tuple[Line, ...]
    total: float
    u: float
    legal: float
    """The sum of the limits: derived, the rules give no total."""
    read: int
    """How many of the parts were read."""

    @property
    def whole(self) -> bool:
        """Whether every part was read; else the total is what it is at most."""
        return self.read == len(self.lines)

    @property
    def stands(self) -> float | None:
        """What Annex B has the apparatus stand outside."""
        return self.way.stands.lower if self.way.stands else None

    @property
    def largest(self) -> Line:
        """The largest share: where there is most to win."""
        among = [line for line in self.lines if line.measured] or self.lines
        return max(among, key=lambda line: line.ohms)

    @property
    def say(self) -> str:
        """The budget in one sentence."""
        much = f"{self.total:.3g} Ω" if self.whole else f"at most {self.total:.3g} Ω"
        doubt = f" ± {2 * self.u:.2g} Ω" if self.u else ""
        beside = f"the sum of the legal maxima is {self.legal:g} Ω (derived)"
        words = f"{self.way.name} {much}{doubt}: {beside}"
        if self.stands is not None and self.way.stands:
            words += f"; the apparatus stands {self.stands:g} Ω ({self.way.stands.clause}: {self.way.stands_words})"
        if self.read:
            words += f"; {self.largest.name} is the largest share of what was read"
        return words


class _WayTable(Strict):
    name: str
    weapon: str
    words: str
    parts: tuple[tuple[str, str], ...]
    stands: str
    stands_words: str


class _File(Strict):
    way: tuple[_WayTable, ...]


def ways(rules: Sequence[Requirement], weapon: str) -> Mapping[str, Way]:
    """Return the ways of the current at a weapon by their names, with the limits of an edition. Raises UnknownNameError."""
    known = {each.id: each for each in rules}
    tables = [table for table in _file().way if table.weapon == weapon]
    if not tables:
        raise UnknownNameError(
            what="weapon", name=weapon, known=dict.fromkeys(table.weapon for table in _file().way), all_named=True
        )
    return {
        table.name: Way(
            table.name,
            table.weapon,
            table.words,
            {name: known[id_] for name, id_ in table.parts if id_ in known and known[id_].upper is not None},
            known.get(table.stands),
            table.stands_words,
        )
        for table in tables
    }


def budget(way: Way, measured: Mapping[str, Measured]) -> Budget:
    """Return the budget of a way from the parts that were read, by their names. Raises UnknownNameError and InputError."""
    for name, found in measured.items():
        if name not in way.parts:
            raise UnknownNameError(what="part of this way", name=name, known=way.parts, all_named=True)
        if not (math.isfinite(found.ohms) and found.ohms >= 0 and math.isfinite(found.u) and found.u >= 0):
            raise InputError(seen=f"{found.ohms:g} Ω for the {name}", remedy="give ohms from 0, or leave it out where it is open")
    limits = {name: float(requirement.upper or 0.0) for name, requirement in way.parts.items()}
    ohms = {name: measured[name].ohms if name in measured else limit for name, limit in limits.items()}
    total = math.fsum(ohms.values())
    lines = tuple(
        Line(name, requirement, limits[name], measured.get(name), ohms[name] / total if total else 0.0)
        for name, requirement in way.parts.items()
    )
    u = math.hypot(*(found.u for found in measured.values()))
    return Budget(way, lines, total, u, math.fsum(limits.values()), len(measured))


@lru_cache(maxsize=1)
def _file() -> _File:
    return read_model(_File, DATA / "loops.toml")
