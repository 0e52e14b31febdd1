"""The tables and columns of the register as data, and the headings of somebody's spreadsheet matched with them."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from foible.errors import InputError, UnknownNameError
from foible.kit import plain
from foible.services.transfer.cells import KINDS
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.services.transfer.cells import CellKind

__all__ = ["Column", "Mapped", "Table", "likely_table", "mapped", "said_of_headings", "table_named", "tables"]

Kind = Literal["text", "date", "moment", "amount", "count", "number", "yes", "pairs", "words", "data"]
USUAL = "items"
"""The table that a file is taken for where its headings do not say."""
CLOSE = 0.85
"""How like a column's name a heading must be to be taken for it (`difflib`)."""


class Column(Strict):
    """A column of a table."""

    name: str
    kind: Kind
    most: int | None = None
    """Characters of a text, at most."""
    needed: bool = False
    about: str = ""
    also: tuple[str, ...] = ()
    """What else people call it."""

    @property
    def cell(self) -> CellKind:
        """What its cells hold."""
        return KINDS[self.kind]

    def value(self, given: object) -> object:
        """Return the value of a cell; None where it is empty. Raises InputError."""
        if given is None or (isinstance(given, str) and not given.strip()):
            if self.needed:
                raise InputError(seen="nothing stands there", remedy="fill it in")
            return None
        value = self.cell.read(given)
        if self.most is not None and len(str(value)) > self.most:
            seen = f"“{str(value)[:40]}…” has {len(str(value))} characters"
            raise InputError(seen=seen, remedy=f"shorten it to at most {self.most}")
        return value


class Table(Strict):
    """A table."""

    name: str
    about: str
    column: tuple[Column, ...] = Field(min_length=1)

    def named(self, name: str) -> Column:
        """Return a column. Raises UnknownNameError."""
        for column in self.column:
            if plain(column.name) == plain(name):
                return column
        known = [column.name for column in self.column]
        raise UnknownNameError(what=f"column of {self.name}", name=name, known=known, all_named=True)


class TablesFile(Strict):
    """All tables, each after those that it refers to."""

    table: tuple[Table, ...]


@dataclass(frozen=True)
class Mapped:
    """Which heading stands for which column."""

    by_head: Mapping[str, str]
    """Column by heading."""
    left_out: tuple[str, ...]
    """Headings that stand for none."""
    missing: tuple[str, ...]
    """Columns that must be there and are not."""


@lru_cache
def tables() -> tuple[Table, ...]:
    """Return all tables, each after those that it refers to."""
    return read_model(TablesFile, Path(str(files("foible.services.transfer") / "data" / "columns.toml"))).table


def table_named(name: str) -> Table:
    """Return a table. Raises UnknownNameError."""
    for table in tables():
        if table.name == plain(name):
            return table
    raise UnknownNameError(what="table", name=name, known=[table.name for table in tables()], all_named=True)


def likely_table(heads: Sequence[str]) -> Table:
    """Return the table that a spreadsheet with these headings most likely is: the one that knows most of them by name."""

    def known(table: Table) -> tuple[bool, int]:
        found = {_by_name(table, head) or _by_other_name(table, head) for head in heads} - {None}
        return all(column.name in found for column in table.column if column.needed), len(found)

    usual = sorted(tables(), key=lambda table: table.name != USUAL)
    return max(usual, key=known)


def mapped(table: Table, heads: Sequence[str], chosen: Mapping[str, str | None]) -> Mapped:
    """Return which heading stands for which column: as chosen, else as the names say.

    `chosen` is the column by heading, or None to leave it out. Raises UnknownNameError for a column or a heading that does not
    exist, and InputError where two headings stand for one column.
    """
    for head, name in chosen.items():
        if head not in heads:
            raise UnknownNameError(what="heading in the file", name=head, known=[*heads], all_named=True)
        if name is not None:
            table.named(name)
    found = {head: table.named(name).name for head, name in chosen.items() if name}
    for guess in (_by_name, _by_other_name, _by_likeness):
        for head in heads:
            if head not in found and head not in chosen and head.strip():
                name = guess(table, head)
                if name and name not in found.values():
                    found[head] = name
    twice = next((name for name in found.values() if [*found.values()].count(name) > 1), None)
    if twice:
        both = " and ".join(f"“{head}”" for head, name in found.items() if name == twice)
        raise InputError(seen=f"{both} both stand for {twice}", remedy="leave one of them out")
    missing = tuple(column.name for column in table.column if column.needed and column.name not in found.values())
    return Mapped({head: found[head] for head in heads if head in found}, tuple(h for h in heads if h not in found), missing)


def said_of_headings(given: Sequence[str]) -> dict[str, str | None]:
    """Return the column by heading from “HEADING=COLUMN”, None where “HEADING=” leaves it out. Raises InputError."""
    found: dict[str, str | None] = {}
    for each in given:
        head, mark, name = each.rpartition("=")
        if not mark or not head:
            raise InputError(seen=f"“{each[:80]}” does not say what stands for what", remedy="write HEADING=COLUMN")
        found[head] = name or None
    return found


def _by_name(table: Table, head: str) -> str | None:
    return next((column.name for column in table.column if plain(column.name) == _bare(head)), None)


def _by_other_name(table: Table, head: str) -> str | None:
    return next((column.name for column in table.column if _bare(head) in map(plain, column.also)), None)


def _by_likeness(table: Table, head: str) -> str | None:
    names = {plain(word): column.name for column in table.column for word in (column.name, *column.also)}
    near = get_close_matches(_bare(head), names, n=1, cutoff=CLOSE)
    return names[near[0]] if near else None


def _bare(head: str) -> str:
    return plain(head.replace("_", " ").rstrip(":.?* "))
