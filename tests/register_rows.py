"""A small register for tests, its rows put in one by one: items, jobs done and what they found."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from foible.records import Database, ItemRow, JobLineRow, JobRow, MoveRow, PartRow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy.orm import Session

__all__ = ["NOW", "Rows"]

NOW = datetime(2026, 11, 1, 12, tzinfo=UTC)


class Rows:
    """Puts rows into a database; everything happened some days before `now`."""

    def __init__(self, database: Database, now: datetime = NOW) -> None:
        self.database, self.now = database, now
        self._count = 0

    def item(self, kind: str, weapon: str | None = None, *, days: int = 730, **values: object) -> int:
        """Put an item in that came into use so many days ago, and return its id."""
        self._count += 1
        first = self._before(days).date()
        known = {"code": f"t{self._count:04d}", "name": "", "fitted": {}, "made_by": {}, "state": "in use", "first_used": first}
        row = ItemRow(kind=kind, weapon=weapon, opened=self._before(days), changed=self.now, version=1, **known | values)
        return self._added(row)

    def job(self, item: int, found: Sequence[str] = (), *, days: int = 30, minutes: float = 20, cost: int = 0) -> int:
        """Put a job in that was done so many days ago and found some failures; one that found none was of a sound item."""
        done = self._before(days)
        state = {"state": "done", "sound": not found, "minutes": minutes, "done": done, "version": 1}
        job = self._added(JobRow(item_id=item, kind="mend", opened=done, changed=done, **state))
        for number, failure in enumerate(found, 1):
            self._added(JobLineRow(job_id=job, number=number, kind="found", ref=failure, text="", at=done))
        if cost:
            self._added(JobLineRow(job_id=job, number=99, kind="part", ref="p0001", text="", count=1, cost=cost, at=done))
        return job

    def part(self, name: str, count: int, used: int, *, days: int = 365, least: int = 0) -> int:
        """Put a part in stock that came in so many days ago, of which so many were used since."""
        self._count += 1
        row = PartRow(
            code=f"p{self._count:04d}", name=name, fits=[], count=count, least=least, price=250, version=1, changed=self.now
        )
        part = self._added(row)
        self._added(MoveRow(part_id=part, change=count + used, why="in", at=self._before(days)))
        if used:
            self._added(MoveRow(part_id=part, change=-used, why="used", at=self._before(days // 2)))
        return part

    def _before(self, days: int) -> datetime:
        return self.now - timedelta(days=days)

    def _added(self, row: object) -> int:
        def add(session: Session) -> int:
            session.add(row)
            session.flush()
            return int(row.id)  # type: ignore[attr-defined]

        return self.database.write(add, what="a row of a test")
