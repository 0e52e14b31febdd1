"""A file in, the rows of its tables out with every cell read, and every problem by its row; nothing is written here.

CSV holds one table; JSON one table as a list of objects, or several by their names, as an export writes them.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from foible.errors import InputError, Problem, ProblemsError
from foible.services.transfer.columns import likely_table, mapped, table_named, tables
from foible.services.transfer.delimited import MOST_ROWS, decoded, read_csv

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.services.transfer.columns import Mapped, Table

__all__ = ["HEAD", "Draft", "DraftRow", "RowProblem", "TableDraft", "read_draft"]

HEAD = "foible"
"""The key under which an export says what it is."""


@dataclass(frozen=True, slots=True)
class RowProblem:
    """One thing wrong with a row: in which table and row, in which column, what was seen, and what to do."""

    table: str
    row: int
    """The line of a CSV file; the number of an entry in JSON, from 1."""
    column: str
    """Empty where it is about the whole row."""
    seen: str
    remedy: str

    @property
    def where(self) -> str:
        """The table, the row and the column."""
        return f"{self.table}, row {self.row}" + (f", {self.column}" if self.column else "")

    def __str__(self) -> str:
        return f"{self.where}: {self.seen} — {self.remedy}"


@dataclass(frozen=True, slots=True)
class DraftRow:
    """One row with its cells read: value by column, of those that are filled in."""

    row: int
    values: Mapping[str, Any]


@dataclass
class TableDraft:
    """One table of a file."""

    table: Table
    heads: tuple[str, ...]
    mapping: Mapped
    rows: list[DraftRow] = field(default_factory=list)
    """Rows without a problem so far."""
    problems: list[RowProblem] = field(default_factory=list)
    broken: list[Mapping[str, Any]] = field(default_factory=list)
    """What can be read of rows with a problem: others may refer to them."""
    count: int = 0
    """How many rows the file has."""


@dataclass(frozen=True)
class Draft:
    """What a file holds."""

    name: str
    tables: tuple[TableDraft, ...]
    notices: tuple[str, ...] = ()
    """How it was read where that could be read otherwise."""

    @property
    def problems(self) -> list[RowProblem]:
        """Everything that is wrong, in the order of the file."""
        return [problem for each in self.tables for problem in sorted(each.problems, key=lambda problem: problem.row)]

    @property
    def count(self) -> int:
        """How many rows the file has."""
        return sum(each.count for each in self.tables)

    def rows(self, table: str) -> list[DraftRow]:
        """Return the sound rows of a table."""
        return [row for each in self.tables if each.table.name == table for row in each.rows]


def read_draft(
    raw: bytes,
    *,
    name: str,
    table: str | None = None,
    columns: Mapping[str, str | None] | None = None,
) -> Draft:
    """Return what a file holds, every cell read.

    `table` is the one that a CSV file, or a list in JSON, holds, None where its headings say; `columns` the column by heading
    where the names do not say it, or None to leave a heading out. Raises ProblemsError where the file is no table at all, and
    UnknownNameError.
    """
    if raw.lstrip(b"\xef\xbb\xbf \r\n\t")[:1] in (b"{", b"["):
        given, notices = _json_tables(raw, name, table)
    else:
        read = read_csv(raw, name=name)
        _check_heads(read.heads, name)
        table = table or likely_table(read.heads).name
        given, notices = {table: [(row.line, dict(zip(read.heads, row.cells, strict=True))) for row in read.rows]}, read.notices
    drafts = [_table_draft(table_named(word), rows, columns or {}) for word, rows in given.items()]
    order = [each.name for each in tables()]
    return Draft(name, tuple(sorted(drafts, key=lambda each: order.index(each.table.name))), notices)


def _check_heads(heads: tuple[str, ...], name: str) -> None:
    twice = next((head for head in heads if head and heads.count(head) > 1), None)
    if twice:
        raise ProblemsError([Problem(name, 1, f"two columns are called “{twice}”", "call each something else")])


def _table_draft(table: Table, rows: list[tuple[int, Mapping[str, object]]], columns: Mapping[str, str | None]) -> TableDraft:
    heads = tuple(dict.fromkeys(head for _, cells in rows for head in cells))
    mapping = mapped(table, heads, {head: name for head, name in columns.items() if head in heads or not rows})
    made = TableDraft(table, heads, mapping, count=len(rows))
    if mapping.missing and rows:
        remedy = f"name a column so, or say which of {', '.join(f'“{head}”' for head in heads if head)} it is"
        made.problems += [RowProblem(table.name, rows[0][0], name, "there is no such column", remedy) for name in mapping.missing]
    readers = [(head, table.named(name)) for head, name in mapping.by_head.items()]
    for number, cells in rows:
        values, wrong = {}, False
        for head, column in readers:
            try:
                value = column.value(cells.get(head))
            except InputError as error:
                made.problems.append(RowProblem(table.name, number, column.name, error.seen, error.remedy))
                wrong = True
                continue
            if value is not None:
                values[column.name] = value
        if wrong or mapping.missing:
            made.broken.append(values)
        else:
            made.rows.append(DraftRow(number, values))
    return made


def _json_tables(
    raw: bytes, name: str, table: str | None
) -> tuple[dict[str, list[tuple[int, Mapping[str, object]]]], tuple[str, ...]]:
    text, notices = decoded(raw, name=name)
    try:
        whole = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", None)
        raise ProblemsError([Problem(name, line, f"this is not JSON ({error})", "correct that line")]) from error
    if isinstance(whole, list):
        heads = dict.fromkeys(head for row in whole if isinstance(row, dict) for head in row)
        whole = {table or likely_table([*heads]).name: whole}
    held = {word: rows for word, rows in whole.items() if word != HEAD}
    known = {each.name for each in tables()}
    problems = [
        Problem(name, None, f"there is no table called “{word}”", f"there is {', '.join(sorted(known))}")
        for word in held
        if word not in known
    ]
    problems += [
        Problem(name, None, f"“{word}” is no list of objects", 'write [{"column": value, …}, …]')
        for word, rows in held.items()
        if not (isinstance(rows, list) and all(isinstance(row, dict) for row in rows))
    ]
    if not problems and sum(map(len, held.values())) > MOST_ROWS:
        count = sum(map(len, held.values()))
        problems.append(Problem(name, None, f"{count:,} rows are too many", f"split it into files of at most {MOST_ROWS:,}"))
    if not problems and not any(held.values()):
        problems.append(Problem(name, None, "there is nothing in it", "give at least one row"))
    if problems:
        raise ProblemsError(problems)
    return {word: [*enumerate(rows, start=1)] for word, rows in held.items()}, notices


def _no_constant(word: str) -> None:
    msg = f"{word} is no number of JSON"
    raise ValueError(msg)
