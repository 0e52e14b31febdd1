"""Sheets as data in, sheets as people fill them in out: which rows hold at a weapon and in an edition of the rules.

A sheet is a file of `data/sheets/`: a title, the kind of item that it is about, its clauses, cautions, and rows. A row names a
requirement of the rules, by the part of its id before the weapon, or asks something of its own; with `set` and `expect` it is a
step of a protocol, with `gap` what the rules leave open there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from foible.errors import UnknownNameError
from foible.rules.requirements import requirements
from foible.tomlfile import Strict, Words, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.rules.requirements import Requirement

__all__ = ["LINES", "Sheet", "SheetRowToFill", "SheetTable", "sheet_named", "sheet_tables", "sheets_for"]

SHIPPED = Path(str(files("foible.services.control") / "data" / "sheets"))
LINES = ("A", "B", "C")


class RowTable(Strict):
    """A row as the file writes it."""

    id: str
    requirement: str = ""
    ask: str = ""
    unit: str = ""
    lines: bool = False
    how: str = ""
    set: str = ""
    expect: str = ""
    gap: str = ""
    source: str = ""


class SheetTable(Strict):
    """A sheet as its file writes it."""

    title: str
    kind: str
    clause: str
    per_weapon: bool = False
    about: str = "what it is called"
    """What is written at its top to say which one it is, besides a code of the register."""
    cautions: Words = ()
    failed: str = ""
    """What stands on a sheet that failed."""
    row: tuple[RowTable, ...]


@dataclass(frozen=True)
class SheetRowToFill:
    """One field of a sheet: a row, on one line where there are several."""

    row: RowTable
    requirement: Requirement | None
    line: str = ""

    @property
    def key(self) -> str:
        """What a form and the records call it."""
        return f"{self.row.id}.{self.line}" if self.line else self.row.id

    @property
    def words(self) -> str:
        """What is measured or looked at."""
        said = self.requirement.quantity if self.requirement else self.row.ask
        return ", ".join(part for part in (said, f"line {self.line}" if self.line else "", self.row.how) if part)

    @property
    def limit(self) -> str:
        """The limit with its clause, or where it comes from."""
        return self.requirement.text if self.requirement else self.row.source

    @property
    def unit(self) -> str:
        """The unit of its figure; empty where it takes none."""
        return (self.requirement.unit if self.requirement.has_figure else "") if self.requirement else self.row.unit


@dataclass(frozen=True)
class Sheet:
    """A sheet for one weapon and edition."""

    name: str
    table: SheetTable
    weapon: str | None
    edition: str
    fields: tuple[SheetRowToFill, ...]

    @property
    def title(self) -> str:
        """What it is called, with its weapon."""
        return f"{self.table.title}, {self.weapon}" if self.weapon else self.table.title


@lru_cache
def sheet_tables() -> Mapping[str, SheetTable]:
    """Return every sheet by its name. Raises ProblemsError for slips in a file."""
    return {path.stem: read_model(SheetTable, path) for path in sorted(SHIPPED.glob("*.toml"))}


def sheets_for(kind: str) -> tuple[str, ...]:
    """Return the names of the sheets about a kind of item."""
    return tuple(name for name, table in sheet_tables().items() if table.kind == kind)


def sheet_named(name: str, weapon: str | None, edition: str = "fie-2026", overlays: Sequence[Path] = ()) -> Sheet:
    """Return a sheet. Raises UnknownNameError for a sheet or an edition that there is not.

    `weapon` is left out of account where the sheet is the same for all; rows without a requirement at it are left out.
    """
    tables = sheet_tables()
    if name not in tables:
        raise UnknownNameError(what="sheet", name=name, known=tables, all_named=True)
    table = tables[name]
    weapon = weapon if table.per_weapon else None
    known = {each.id: each for each in requirements(edition, kind=table.kind, weapon=weapon, overlays=overlays)}
    fields: list[SheetRowToFill] = []
    for row in table.row:
        required = known.get(row.requirement) or known.get(f"{row.requirement}.{_ending(known, row.requirement)}")
        if row.requirement and required is None:
            continue
        fields += [SheetRowToFill(row, required, line) for line in (LINES if row.lines else ("",))]
    return Sheet(name, table, weapon, edition, tuple(fields))


def _ending(known: Mapping[str, Requirement], base: str) -> str:
    """Return the ending of the one requirement that begins with `base`, which names its weapon; empty without one."""
    return next((each.removeprefix(f"{base}.") for each in known if each.startswith(f"{base}.")), "")
