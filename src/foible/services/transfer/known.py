"""What the rows of an import can refer to: what the register has, what the file has, and who and what is added on the way."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from secrets import choice
from typing import TYPE_CHECKING, Any

from foible.errors import InputError
from foible.records.cases import LETTERS
from foible.records.register import known_as
from foible.records.tables import folded
from foible.records.whole_tables import New

if TYPE_CHECKING:
    from foible.services.transfer.kit_words import ItemRef, KitWords

__all__ = ["ColumnError", "FollowsError", "Known"]

CODE = re.compile(r"[a-z0-9]{1,12}")
LENGTH = 4
"""Letters and digits of a code after its first letter."""
SOME = 5
"""Names that a notice lists."""


@dataclass
class Known:
    """What rows can refer to, and what they have become so far."""

    words: KitWords
    items: dict[str, ItemRef]
    """Items by code."""
    parts: dict[str, Any]
    people: dict[str, list[tuple[int | New, str]]]
    """Who bears a name, folded, with their clubs."""
    cases: set[str]
    moved: bool
    batch: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    notices: list[str] = field(default_factory=list)
    taken: set[str] = field(default_factory=set)
    """Codes that are there already."""
    jobs: dict[str, tuple[New, ItemRef, list[int]]] = field(default_factory=dict)
    """Job, its item and the numbers of its lines, by what the file calls it."""
    broken: set[tuple[str, str]] = field(default_factory=set)
    """Table and code, or a job's name, of rows of the file that have a problem of their own."""
    added: list[str] = field(default_factory=list)
    """People who are added because rows name them."""

    def add(self, table: str, row: dict[str, Any]) -> New:
        """Add a row to the batch and return what refers to it."""
        rows = self.batch.setdefault(table, [])
        rows.append(row)
        return New(table, len(rows) - 1)

    def person(self, name: str | None) -> int | New | None:
        """Return who bears a name; somebody new where nobody does. Raises InputError where several do."""
        if name is None:
            return None
        bare, _, club = name.partition(" (")
        for wanted, of in ((name, None), (bare, club.rstrip(")"))):
            bearers = self.people.get(folded(wanted), [])
            bearers = bearers if of is None else [each for each in bearers if folded(each[1]) == folded(of)]
            if len(bearers) > 1:
                remedy = f"write “{name} (club)”, or give one of them another name"
                raise InputError(seen=f"{len(bearers)} people are called “{name}”", remedy=remedy)
            if bearers:
                return bearers[0][0]
        new = self.add("people", {"kind": "person", "name": name, "club": "", "contact": ""})
        self.people[folded(name)] = [(new, "")]
        self.added.append(name)
        return new

    def code(self, given: str | None, letter: str) -> str:
        """Return a code that is not taken, and take it. Raises InputError."""
        if given is None:
            while (made := letter + "".join(choice(LETTERS) for _ in range(LENGTH))) in self.taken:
                pass
            self.taken.add(made)
            return made
        code = known_as(given)
        if not CODE.fullmatch(code):
            raise ColumnError(column="code", seen=f"“{given}” is no code", remedy="use up to 12 letters and digits")
        if code in self.taken:
            raise ColumnError(column="code", seen=f"{code} is taken", remedy="give it another code, or leave the code out")
        self.taken.add(code)
        return code

    def item(self, code: str, column: str = "item") -> ItemRef:
        """Return an item by its code. Raises InputError."""
        found = self.items.get(known_as(code))
        if found is None:
            self.check_broken("items", known_as(code))
            raise ColumnError(column=column, seen=f"there is no item {code}", remedy="import it first, or correct the code")
        return found

    def job(self, name: str) -> tuple[New, ItemRef, list[int]]:
        """Return a job of this file: what refers to it, its item, and the numbers of its lines. Raises InputError."""
        found = self.jobs.get(name)
        if found is None:
            self.check_broken("jobs", name)
            raise ColumnError(
                column="job", seen=f"there is no job “{name}” in this file", remedy="call it as the table of jobs does"
            )
        return found

    def part(self, code: str, column: str) -> Any:  # noqa: ANN401 — an ID, or what stands for one
        """Return a part in stock by its code. Raises InputError."""
        found = self.parts.get(known_as(code))
        if found is None:
            self.check_broken("parts", known_as(code))
            raise ColumnError(
                column=column, seen=f"there is no part {code} in stock", remedy="import it first, or correct the code"
            )
        return found

    def check_broken(self, table: str, name: str) -> None:
        """Raise FollowsError where a name is that of a row with a problem of its own."""
        if (table, name) in self.broken:
            raise FollowsError

    def finish(self) -> None:
        """Say what comes along that the file has no row for."""
        if self.added:
            some = ", ".join(self.added[:SOME]) + (" …" if len(self.added) > SOME else "")
            self.notices.append(f"added as people since rows name them: {len(self.added)} ({some})")


class FollowsError(InputError):
    """A row that is wrong only since it refers to a row that is: nothing is said of it."""

    def __init__(self) -> None:
        super().__init__(seen="it refers to a row with a problem", remedy="correct that one")


class ColumnError(InputError):
    """Something wrong with one cell of a row."""

    def __init__(self, *, column: str, seen: str, remedy: str) -> None:
        self.column = column
        super().__init__(seen=seen, remedy=remedy)
