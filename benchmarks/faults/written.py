"""Records that a fault run writes to by itself, without a server: a store, answers with tokens, and what of them is there."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from foible.errors import FoibleError
from foible.records import CaseStore, Database, EntryKind, NewCase, NewEntry

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["Written", "there"]

FEW = 40
"""Answers to one case."""


class Written:
    """Records in one file, and what they acknowledged."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.store = CaseStore(Database(f"sqlite:///{path}"), clock=lambda: datetime.now(UTC))
        self.kept: set[tuple[str, str]] = set()
        self.refused: list[str] = []
        """What was said instead of an acknowledgement."""
        self._case = ""
        self._number = 0

    def answer(self, note: str = "") -> bool:
        """Send one answer, and return whether it was acknowledged."""
        self._number += 1
        token = f"answer-{self._number}"
        try:
            if self._number % FEW == 1 or not self._case:
                self._case = self.store.open(NewCase("foil", "White on the lamé", token=f"case-{self._number}")).id
            self.store.add(self._case, NewEntry(EntryKind.SKIP, token, say=f"press the left point {note}"))
        except FoibleError as error:
            self.refused.append(str(error))
            return False
        self.kept.add((self._case, token))
        return True

    def close(self) -> None:
        """Close the records."""
        self.store.database.dispose()


def there(path: Path) -> tuple[set[tuple[str, str]], list[str]]:
    """Return the answers that a file holds, by case and token, and what is wrong with it."""
    with closing(sqlite3.connect(path)) as records:
        wrong = [row[0] for row in records.execute("PRAGMA integrity_check") if row[0] != "ok"]
        found = records.execute("SELECT case_id, token FROM entries").fetchall()
    if len(found) != len(set(found)):
        wrong.append("an answer is there twice")
    return set(found), wrong
