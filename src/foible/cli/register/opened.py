"""The register that a command works on, and what it prints of items and jobs."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from foible.records.register import RegisterStore
    from foible.records.trail import Who
    from foible.services.transfer.taking import Transfer

__all__ = ["added", "here", "register", "told", "transfer"]


def here() -> Who:
    """Return who changes something in the terminal of this machine."""
    from foible.records.trail import Who

    return Who(device="terminal")


@contextmanager
def register(data: str | None) -> Iterator[RegisterStore]:
    """Open the register, and close it again."""
    from foible.records import Database
    from foible.records.register import RegisterStore
    from foible.services.opening import data_url

    database = Database(data_url(data))
    try:
        yield RegisterStore(database, clock=lambda: datetime.now(UTC))
    finally:
        database.dispose()


@contextmanager
def transfer(data: str | None, kit: Sequence[Path] | None) -> Iterator[Transfer]:
    """Open the register for whole tables, and close it again."""
    from foible.services.transfer.taking import Transfer

    with register(data) as store:
        yield Transfer(store.database, clock=store.clock, overlays=kit or ())


def added(data: str | None, kit: Sequence[Path] | None, table: str, row: dict[str, object]) -> dict[str, object]:
    """Add one row to a table, as an import would, and return it as the database has it. Raises InputError for what is wrong."""
    import json

    from foible.errors import InputError

    with transfer(data, kit) as opened:
        given = {name: value for name, value in row.items() if value not in (None, "", [], {})}
        plan = opened.tried(json.dumps([given]).encode(), name="what was given", table=table)
        for problem in plan.problems:
            raise InputError(seen=": ".join(filter(None, (problem.column, problem.seen))), remedy=problem.remedy)
        opened.take(plan, by=here())
        return dict(plan.batch[table][0])


def told(*words: object) -> str:
    """Return what is there of some words, with dots between them."""
    return " · ".join(str(word) for word in words if word not in (None, ""))
