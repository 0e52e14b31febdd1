"""The invented club of the demo: three seasons from one seed, kept through an import like anybody's."""

from __future__ import annotations

import json
from collections import Counter
from datetime import UTC, date, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import func, select

from foible.records import Database
from foible.records.register_tables import ItemRow, ItemWordRow, JobRow, MoveRow, PartRow
from foible.services.demo_club import demo_rows, fill_register
from foible.services.transfer.taking import Transfer

if TYPE_CHECKING:
    from pathlib import Path

TODAY = date(2026, 11, 28)


@cache
def club() -> dict[str, list[dict[str, Any]]]:
    return demo_rows(TODAY)


def test_the_same_seed_and_day_make_the_same_club() -> None:
    assert json.dumps(demo_rows(TODAY)) == json.dumps(club())
    assert demo_rows(TODAY, seed=1) != club()


def test_there_are_three_seasons_of_it_and_an_evenings_work() -> None:
    assert len(club()["items"]) >= 120
    assert len(club()["jobs"]) >= 400
    days = sorted(job["opened"][:10] for job in club()["jobs"])
    assert (TODAY - date.fromisoformat(days[0])).days > 365 * 2.5
    states = Counter(job["state"] for job in club()["jobs"])
    assert states["waiting"] >= 8
    assert states["in hand"]
    assert states["done"]
    assert all(job["opened"] <= job["done"] for job in club()["jobs"] if "done" in job)


def test_plugs_of_one_make_fail_more_often_so_that_there_is_something_to_learn() -> None:
    make = {row["code"]: row["made by"]["plug"] for row in club()["items"] if row["kind"] == "cord"}
    item = {job["job"]: job["item"] for job in club()["jobs"]}
    found = [line for line in club()["lines"] if line["kind"] == "found" and item[line["job"]] in make]
    plug = {name: [" plug" in line["ref"] for line in found if make[item[line["job"]]] == name] for name in set(make.values())}
    share = {name: sum(each) / len(each) for name, each in plug.items()}
    assert share["Tern"] > share["Brightwell"]


def test_it_is_kept_once_and_found_again(tmp_path: Path) -> None:
    database = Database(f"sqlite:///{tmp_path / 'records.db'}")
    transfer = Transfer(database, clock=lambda: datetime(2026, 11, 28, 17, tzinfo=UTC))
    assert fill_register(transfer, TODAY)
    assert not fill_register(transfer, TODAY), "a register with anything in it is left alone"

    def counts(session: Any) -> tuple[int, int]:  # noqa: ANN401 — a session
        return tuple(session.scalar(select(func.count()).select_from(each)) for each in (ItemRow, JobRow))

    assert database.read(counts) == (len(club()["items"]), len(club()["jobs"]))
    moved = select(func.sum(MoveRow.change)).where(MoveRow.part_id == PartRow.id).scalar_subquery()
    assert database.read(lambda session: session.scalars(select(PartRow.code).where(PartRow.count != moved)).all()) == []
    assert database.read(lambda session: session.scalar(select(func.count()).where(PartRow.count < PartRow.least))), (
        "to be ordered"
    )
    words = database.read(lambda session: set(session.scalars(select(ItemWordRow.word))))
    assert {"barrel", "bayonet", "kestrel", "cord"} <= words, "found by failure, fitting, make and kind"
    database.dispose()


@pytest.mark.parametrize("today", [date(2027, 2, 28), date(2028, 7, 15), date(2029, 9, 3)])
def test_the_club_is_whole_on_any_day(today: date) -> None:
    rows = demo_rows(today)
    assert len(rows["jobs"]) >= 350
    latest = max(*(line["at"] for line in rows["lines"]), *(loan["out"] for loan in rows["loans"]))
    assert latest[:10] <= today.isoformat()
