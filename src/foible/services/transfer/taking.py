"""The register in and out of a database: a file tried, taken in whole or not at all, and everything exported."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.errors import Problem, ProblemsError
from foible.records.whole_tables import WholeTables
from foible.services.transfer.exporting import rows_of
from foible.services.transfer.kit_words import KitWords
from foible.services.transfer.planning import plan_of
from foible.services.transfer.reading import read_draft

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path
    from typing import Any

    from foible.records import Database
    from foible.records.trail import Who
    from foible.services.transfer.planning import Plan

__all__ = ["Transfer"]


class Transfer:
    """What goes in and out of one database. `overlays` are folders with further kit files; `clock` tells the time, in UTC."""

    def __init__(self, database: Database, *, clock: Callable[[], datetime], overlays: Sequence[Path] = ()) -> None:
        self.store = WholeTables(database, clock=clock)
        self._overlays = tuple(overlays)

    def tried(
        self,
        raw: bytes,
        *,
        name: str,
        table: str | None = None,
        columns: Mapping[str, str | None] | None = None,
        progress: Callable[[int, int], None] | None = None,
    ) -> Plan:
        """Return what a file would add to the register, and everything that is wrong with it; nothing is written.

        `table` and `columns` are those of `read_draft`; `progress` hears how many rows of how many are done. Raises ProblemsError
        where the file is no table at all, and UnknownNameError for a column that does not exist.
        """
        return plan_of(read_draft(raw, name=name, table=table, columns=columns), self.store, KitWords(self._overlays), progress)

    def take(self, plan: Plan, *, by: Who) -> dict[str, int]:
        """Add what a file holds, all of it or nothing; return how many rows of each table.

        Raises ProblemsError for a file with anything wrong, and KeepingError where it could not be saved.
        """
        if plan.problems:
            raise ProblemsError(
                Problem(plan.draft.name, None, f"{each.where}: {each.seen}", each.remedy) for each in plan.problems
            )
        return self.store.take(plan.batch, by=by)

    def everything(self, *, contacts: bool) -> dict[str, list[dict[str, Any]]]:
        """Return all tables with the columns that an import reads; people's contacts among them or not."""
        return rows_of(self.store.everything(), contacts=contacts)
