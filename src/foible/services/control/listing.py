"""A list of fencers in, from a spreadsheet or typed; out, what it would enter and all that is wrong.

It is read as the register's tables are; nothing is entered unless the whole list is sound, and a fencer is entered once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.kit import plain
from foible.records.control import entrants
from foible.records.people import NewPerson, person_by_id
from foible.services.control.handing import enter_fencer
from foible.services.register.kinds import kinds
from foible.services.transfer.columns import TablesFile, mapped
from foible.services.transfer.delimited import read_csv
from foible.services.transfer.reading import RowProblem
from foible.tomlfile import read_model

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sqlalchemy.orm import Session

    from foible.records.control import Entrant
    from foible.records.people import Person
    from foible.records.register import Turn
    from foible.services.transfer.columns import Table

__all__ = ["ListPlan", "ListedFencer", "enter_list", "list_table", "read_list"]

MOST = 2000
"""Fencers of one list."""


@dataclass(frozen=True)
class ListedFencer:
    """A fencer as a list has them."""

    row: int
    name: str
    club: str = ""
    contact: str = ""
    number: int | None = None
    weapons: tuple[str, ...] = ()
    there: bool = False
    """Whether they are entered already."""


@dataclass(frozen=True)
class ListPlan:
    """What a list would enter."""

    fencers: tuple[ListedFencer, ...]
    problems: tuple[RowProblem, ...]
    left_out: tuple[str, ...]
    """Headings that stand for nothing here."""
    notices: tuple[str, ...]

    @property
    def new(self) -> tuple[ListedFencer, ...]:
        """Those who are not entered yet."""
        return tuple(each for each in self.fencers if not each.there)


def list_table() -> Table:
    """Return the columns of a list."""
    return _tables().table[0]


@lru_cache
def _tables() -> TablesFile:
    return read_model(TablesFile, Path(str(files("foible.services.control") / "data" / "columns.toml")))


def read_list(session: Session, competition: int, raw: bytes, *, name: str) -> ListPlan:
    """Return what a list would enter at a competition. Raises ProblemsError where it is no table at all."""
    read = read_csv(raw, name=name)
    table = list_table()
    if len(read.rows) > MOST:
        raise InputError(seen=f"{len(read.rows)} fencers", remedy=f"split the list into parts of at most {MOST}")
    mapping = mapped(table, read.heads, {})
    there: dict[tuple[str, str], Entrant | None] = {
        _key(person.name, person.club): entrant for entrant, person in _entered(session, competition)
    }
    taken = {entrant.number for entrant in there.values() if entrant}
    fencers: list[ListedFencer] = []
    problems = [
        RowProblem(table.name, 1, missing, "there is no such column", "name a column so in the first line")
        for missing in mapping.missing
    ]
    for row in read.rows if not mapping.missing else ():
        cells = dict(zip(read.heads, row.cells, strict=True))
        try:
            fencers.append(_fencer(row.line, {column: cells[head] for head, column in mapping.by_head.items()}, there, taken))
        except _CellError as wrong:
            problems.append(RowProblem(table.name, row.line, wrong.column, wrong.seen, wrong.remedy))
    return ListPlan(tuple(fencers), tuple(problems), tuple(head for head in mapping.left_out if head), read.notices)


def enter_list(turn: Turn, competition: int, plan: ListPlan, *, token: str) -> tuple[Entrant, ...]:
    """Enter everybody on a list who is not entered yet, in one transaction. Raises InputError where it has problems."""
    if plan.problems:
        raise InputError(seen=f"the list has {len(plan.problems)} problems", remedy="correct them and send it again")
    return tuple(_enter(turn, competition, each, token) for each in plan.new)


def _enter(turn: Turn, competition: int, fencer: ListedFencer, token: str) -> Entrant:
    person = NewPerson(fencer.name, club=fencer.club, contact=fencer.contact, token=f"{token}-{fencer.row}")
    return enter_fencer(turn, competition, person, weapons=fencer.weapons, number=fencer.number)


class _CellError(InputError):
    """A cell that cannot be read."""

    def __init__(self, column: str, seen: str, remedy: str) -> None:
        self.column = column
        super().__init__(seen=seen, remedy=remedy)


def _fencer(line: int, cells: Mapping[str, str], there: dict[tuple[str, str], Entrant | None], taken: set[int]) -> ListedFencer:
    """Return a row as a fencer, and note who it is. Raises _CellError."""
    values = {}
    for column, cell in cells.items():
        try:
            values[column] = list_table().named(column).value(cell)
        except InputError as error:
            raise _CellError(column, error.seen, error.remedy) from error
    name, club = " ".join(str(values["name"]).split()), str(values.get("club") or "").strip()
    number = values.get("number")
    key = _key(name, club)
    if there.get(key, ...) is None:
        raise _CellError(
            column="name", seen=f"{name} stands twice in the list", remedy="leave one of the rows out, or give the club as well"
        )
    entered = key in there
    if isinstance(number, int) and not entered:
        if number in taken or number < 1:
            raise _CellError(column="number", seen=f"number {number} is taken or none", remedy="give another, or leave it out")
        taken.add(number)
    if not entered:
        there[key] = None
    weapons = _weapons(str(values.get("weapon") or ""))
    contact = str(values.get("contact") or "")
    return ListedFencer(line, name, club, contact, number if isinstance(number, int) else None, weapons, entered)


def _weapons(text: str) -> tuple[str, ...]:
    known = {plain(word): word for word in kinds()["weapon"].weapons}
    found = []
    for word in text.replace("/", ",").replace("+", ",").replace(" and ", ",").split(","):
        if word.strip():
            if plain(word) not in known:
                raise _CellError(
                    column="weapon", seen=f"“{word.strip()[:40]}” is no weapon", remedy=f"write {', '.join(known.values())}"
                )
            found.append(known[plain(word)])
    return tuple(dict.fromkeys(found))


def _entered(session: Session, competition: int) -> list[tuple[Entrant, Person]]:
    return [(each, person_by_id(session, each.person_id)) for each in entrants(session, competition)]


def _key(name: str, club: str) -> tuple[str, str]:
    return " ".join(name.casefold().split()), club.casefold().strip()
