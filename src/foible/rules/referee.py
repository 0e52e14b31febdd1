"""A fault in the bout in; out, what the rulebook tells the referee of it: the hit, a card, the time. The referee decides.

The lines are data, each with its clause, in our own words; `Fault` says what they depend on: the weapon, where the fault is and
what the fencer complains of.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from foible.kit import SIDES, other
from foible.rules.files import DATA
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.kit import Failure, Item

__all__ = ["QUESTIONS", "Fault", "Ruling", "rulings"]

QUESTIONS = {"hit": "Does the hit stand?", "card": "Is there a card?", "time": "How long may it take?"}
"""What a referee asks, in this order."""
Where = Literal["own", "hall", "held", "unknown", "none"]
Effect = Literal["missing", "spurious"]


class LineTable(Strict):
    """One line as a file writes it; what is left out always holds."""

    asks: Literal["hit", "card", "time"]
    say: str
    clause: str
    basis: Literal["rule text", "derived"] = "rule text"
    weapons: tuple[str, ...] = ()
    where: tuple[Where, ...] = ()
    items: tuple[str, ...] = ()
    failures: tuple[str, ...] = ()
    effect: tuple[Effect, ...] = ()
    settles: bool = False
    """Whether no further line is told about the same question."""


class RefereeFile(Strict):
    """The lines of one edition of a rulebook."""

    edition: str
    hall: tuple[str, ...]
    """Kinds of items that belong to the hall."""
    held: tuple[str, ...]
    """Kinds of items that are no kit."""
    line: tuple[LineTable, ...]


@dataclass(frozen=True)
class Fault:
    """What is known of a fault in a bout: what it is most likely in, and what it does to the score."""

    weapon: str
    item: Item | None = None
    """None where nothing is more likely than not."""
    failure: Failure | None = None
    """The likeliest of that item."""
    sound: bool = False
    """Whether most likely nothing is wrong."""
    missing: str | None = None
    """The side whose hits do not show, as the fencer complains; None where that is not what is said."""
    spurious: str | None = None
    """The side whose lamp lights without a good hit."""

    @property
    def effect(self) -> Effect | None:
        """What it does to the score; None where that is not known."""
        return "missing" if self.missing else "spurious" if self.spurious else None

    @property
    def unsided(self) -> str:
        """The failure as “part: mode” without its side."""
        name = self.failure.id if self.failure else ""
        side, _, rest = name.partition(" ")
        return rest if side in SIDES else name


@dataclass(frozen=True)
class Ruling:
    """One line for the referee."""

    asks: str
    """“hit”, “card” or “time”."""
    say: str
    clause: str
    edition: str
    derived: bool
    """Whether no clause says so, but it follows from those named."""

    @property
    def question(self) -> str:
        """What it answers."""
        return QUESTIONS[self.asks]


def rulings(fault: Fault, edition: str = "fie-2026") -> tuple[Ruling, ...]:
    """Return what the rulebook tells of a fault, question by question. Raises ProblemsError for slips in the file."""
    file = _file(edition)
    return tuple(ruling for asks in QUESTIONS for ruling in _told(file, fault, asks))


@lru_cache
def _file(edition: str) -> RefereeFile:
    return read_model(RefereeFile, DATA / f"referee-{edition}.toml")


def _told(file: RefereeFile, fault: Fault, asks: str) -> Iterator[Ruling]:
    whose = fault.missing or fault.spurious
    fields = {"whose": whose or "", "other": other(whose) if whose else "", "fencer": (fault.item and fault.item.side) or ""}
    where = _where(file, fault)
    for line in file.line:
        if line.asks == asks and _holds(line, fault, where):
            yield Ruling(asks, line.say.format_map(fields), line.clause, file.edition, line.basis == "derived")
            if line.settles:
                return


def _where(file: RefereeFile, fault: Fault) -> Where:
    if fault.sound:
        return "none"
    if fault.item is None:
        return "unknown"
    return "hall" if fault.item.kind in file.hall else "held" if fault.item.kind in file.held else "own"


def _holds(line: LineTable, fault: Fault, where: Where) -> bool:
    kind = fault.item.kind if fault.item else None
    conditions = (
        (line.weapons, fault.weapon),
        (line.where, where),
        (line.items, kind),
        (line.failures, fault.unsided),
        (line.effect, fault.effect),
    )
    return all(not named or value in named for named, value in conditions)
