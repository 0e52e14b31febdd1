"""A draft in, what would be added to the register out: every name checked against the kit and the register, nothing written.

What is wrong is told by its row. A row that refers to one with a problem is checked as far as it goes, so that one look at the
list tells everything.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from foible.errors import InputError
from foible.records.register import known_as
from foible.records.tables import folded
from foible.services.transfer.kit_words import ItemRef
from foible.services.transfer.known import FollowsError, Known
from foible.services.transfer.reading import RowProblem
from foible.services.transfer.row_checks import CHECKS

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from foible.records.whole_tables import New, WholeTables
    from foible.services.transfer.kit_words import KitWords
    from foible.services.transfer.reading import Draft, TableDraft

__all__ = ["Plan", "plan_of"]

CODED = {"items": "code", "jobs": "item", "readings": "item", "loans": "item"}
"""Columns with the code of an item."""
EVERY = 200
"""Rows between two words of progress."""


@dataclass(frozen=True)
class Plan:
    """What an import would add."""

    draft: Draft
    batch: Mapping[str, list[dict[str, Any]]] = field(repr=False)
    problems: tuple[RowProblem, ...]
    notices: tuple[str, ...]

    @property
    def counts(self) -> dict[str, int]:
        """How many rows it would add to each table."""
        return {table: len(rows) for table, rows in self.batch.items() if rows}


def plan_of(draft: Draft, store: WholeTables, words: KitWords, progress: Callable[[int, int], None] | None = None) -> Plan:
    """Return what a draft would add, and everything that is wrong with it."""
    known = _known(draft, store, words)
    problems, done, of = draft.problems, 0, max(draft.count, 1)
    for each in draft.tables:
        check = CHECKS[each.table.name]
        for number, row in enumerate(each.rows):
            try:
                check(row.values, known)
            except FollowsError:
                continue
            except InputError as error:
                each.broken.append(row.values)
                known.broken |= _names(each)
                column = getattr(error, "column", "")
                problems.append(RowProblem(each.table.name, row.row, column, error.seen, error.remedy))
            if progress and number % EVERY == 0:
                progress(done + number, of)
        done += each.count
        if progress:
            progress(done, of)
    known.finish()
    notices = (*draft.notices, *_left_out(draft), *known.notices, *words.notices)
    return Plan(draft, known.batch, tuple(problems), notices)


def _known(draft: Draft, store: WholeTables, words: KitWords) -> Known:
    """Return what the rows can refer to: what is in the register, and what the file itself has."""
    codes = [known_as(str(row.values.get(column, ""))) for table, column in CODED.items() for row in draft.rows(table)]
    instruments = [known_as(str(row.values["instrument"])) for row in draft.rows("readings") if "instrument" in row.values]
    parts = [known_as(str(row.values.get("code", ""))) for row in draft.rows("parts")]
    parts += [known_as(str(row.values.get("part", ""))) for row in draft.rows("moves")]
    parts += [known_as(str(row.values.get("ref", ""))) for row in draft.rows("lines") if row.values.get("kind") == "part"]
    people: dict[str, list[tuple[int | New, str]]] = {}
    for ref, name, club in store.people():
        people.setdefault(folded(name), []).append((ref, club))
    wanted = [str(row.values["case"]) for row in draft.rows("jobs") if "case" in row.values]
    known = Known(
        words=words,
        items={code: ItemRef(*found) for code, found in store.items([code for code in (*codes, *instruments) if code]).items()},
        parts=store.ids("parts", "code", [code for code in parts if code]),
        people=people,
        cases=store.cases(wanted),
        moved=bool(draft.rows("moves")),
    )
    known.broken = {name for each in draft.tables for name in _names(each)}
    known.taken |= store.codes()
    return known


def _names(table: TableDraft) -> set[tuple[str, str]]:
    """Return what rows with a problem are called by others."""
    name = table.table.name
    if name == "jobs":
        return {(name, str(values["job"])) for values in table.broken if "job" in values}
    return {(name, known_as(str(values["code"]))) for values in table.broken if "code" in values}


def _left_out(draft: Draft) -> list[str]:
    """Return which columns of a file are left out, in words."""
    found = []
    for each in draft.tables:
        heads = [f"“{head}”" for head in each.mapping.left_out if head.strip()]
        if heads:
            found.append(f"not taken in of {each.table.name}: {', '.join(heads)}")
    return found
