"""What the tests of the register share: an empty register in memory's reach, and one transaction in a line."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from foible.records import Database
from foible.records.register import NewItem, RegisterStore
from foible.records.trail import Who

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime
    from pathlib import Path

    from foible.records.register import Turn

__all__ = ["BENCH", "FOIL", "do", "new_register"]

Made = TypeVar("Made")
BENCH = Who(device="bench")
FOIL = NewItem("weapon", "", "foil", name="club foil")


def new_register(folder: Path, clock: Callable[[], datetime]) -> RegisterStore:
    """Return an empty register in a file of its own."""
    return RegisterStore(Database(f"sqlite:///{folder / 'register.db'}"), clock=clock)


def do(store: RegisterStore, change: Callable[[Turn], Made]) -> Made:
    """Make a change at the bench."""
    return store.write(change, by=BENCH, what="the test")
