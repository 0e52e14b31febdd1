"""A spreadsheet or JSON into the register, tried first, whole or not at all; and everything out as it went in."""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from sqlalchemy import func, select

from foible.errors import ProblemsError
from foible.records import Database
from foible.records.people_tables import TrailRow
from foible.records.register_tables import ItemRow, PartRow
from foible.records.trail import Who
from foible.services.transfer.exporting import csv_files, json_text, zipped
from foible.services.transfer.taking import Transfer

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

NOW = datetime(2026, 11, 28, 9, tzinfo=UTC)
CLUB = b"""Label;What;Discipline;Belongs to;Fittings;Bought;Paid;Colour
F12;foil;;Ada Brook;socket: bayonet;1.9.2024;89,50;blue
;body cord;foil;Ada Brook;;;;
c-7;Body cord;\xc3\x89p\xc3\xa9e;;;2025-01-15;22;
;test weight;;;;;12.00;
"""
WHOLE: dict[str, list[dict[str, Any]]] = json.loads(Path(__file__).parent.joinpath("data", "register.json").read_text("utf-8"))
"""A small register of the invented Lanternfield club with a row of every kind, as an export writes it."""


@pytest.fixture
def made(database_url: str) -> Iterator[Transfer]:
    database = Database(database_url)
    yield Transfer(database, clock=lambda: NOW)
    database.dispose()


@pytest.fixture
def small(tmp_path: Any) -> Iterator[Callable[[str], Transfer]]:  # noqa: ANN401 — pytest's own
    opened: list[Database] = []

    def open_one(name: str) -> Transfer:
        opened.append(Database(f"sqlite:///{tmp_path / name}.db"))
        return Transfer(opened[-1], clock=lambda: NOW)

    yield open_one
    for each in opened:
        each.dispose()


def count(transfer: Transfer, what: type[Any] = ItemRow) -> int:
    return transfer.store.database.read(lambda session: session.scalar(select(func.count()).select_from(what)) or 0)


def whole(transfer: Transfer) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(json_text(transfer.everything(contacts=True), now=NOW))
    told.pop("foible")
    return told


def test_a_clubs_own_spreadsheet_is_understood_and_taken_in(made: Transfer) -> None:
    plan = made.tried(CLUB, name="kit.csv")
    assert not plan.problems
    assert plan.counts == {"items": 4, "people": 1}
    assert plan.notices == ("not taken in of items: “Colour”", "added as people since rows name them: 1 (Ada Brook)")
    assert count(made) == 0, "nothing is written when a file is tried"
    made.take(plan, by=Who(device="abc"))
    rows = made.everything(contacts=True)["items"]
    assert [(row["kind"], row.get("weapon"), row.get("owner")) for row in rows] == [
        ("weapon", "foil", "Ada Brook"), ("cord", "foil", "Ada Brook"), ("cord", "épée", None), ("test weight", None, None),
    ]  # fmt: skip
    assert (rows[0]["code"], rows[0]["price"], rows[0]["fitted"]) == ("f12", 8950, {"socket": "bayonet"})
    assert all(len(row["code"]) == 5 for row in (rows[1], rows[3])), "a code is made up where there was none"
    noted = made.store.database.read(lambda session: session.scalars(select(TrailRow)).all())
    assert sorted({(row.kind, row.did, row.device) for row in noted}) == [
        ("item", "imported", "abc"),
        ("person", "imported", "abc"),
    ]


def test_what_goes_out_comes_in_again_as_it_was(made: Transfer, small: Callable[[str], Transfer]) -> None:
    made.take(made.tried(json.dumps(WHOLE).encode(), name="all.json"), by=Who())
    assert whole(made) == WHOLE
    again = small("again")
    again.take(again.tried(json_text(made.everything(contacts=True), now=NOW).encode(), name="all.json"), by=Who())
    assert whole(again) == WHOLE


def test_each_table_as_csv_is_read_again(made: Transfer) -> None:
    made.take(made.tried(json.dumps(WHOLE).encode(), name="all.json"), by=Who())
    files = csv_files(made.everything(contacts=True))
    assert zipfile.ZipFile(io.BytesIO(zipped(files))).namelist() == [*files]
    assert b"\"'=Millrace" not in files["people.csv"]
    assert b"'=Millrace" in files["people.csv"], "no cell comes alive"
    again = made.tried(files["people.csv"], name="people.csv", table="people")
    assert [problem.seen for problem in again.problems] == [
        f"{name} is there already" for name in ("Ada Brook", "Ada Brook", "=Millrace")
    ]


def test_contacts_are_left_out_where_they_may_not_be_seen(made: Transfer) -> None:
    made.take(made.tried(json.dumps(WHOLE).encode(), name="all.json"), by=Who())
    assert b"ada@" not in b"".join(csv_files(made.everything(contacts=False)).values())


def test_every_problem_is_told_by_row_and_nothing_is_taken_in(small: Callable[[str], Transfer]) -> None:
    transfer = small("one")
    raw = (
        b"code,kind,weapon,fitted,state\n"
        b"a1,weapon,,,\n"
        b"a2,wepon,,,\n"
        b"a2,cord,foil,,broken\n"
        b"a2,cord,foil,plug: gold,\n"
        b"a1,cord,foil,socket: gold,\n"
        b"\xc3\xa41,cord,foil,,\n"
        b"a9,cord,lance,,\n"
        b"a2,cord,foil,,\n"
        b"A2,cord,foil,,\n"
    )
    plan = transfer.tried(raw, name="kit.csv")
    assert [(each.row, each.column) for each in plan.problems] == [
        (2, "weapon"), (3, "kind"), (4, "state"), (5, "fitted"), (6, "fitted"), (7, "code"), (8, "weapon"), (10, "code"),
    ]  # fmt: skip
    with pytest.raises(ProblemsError, match="items, row 3, kind"):
        transfer.take(plan, by=Who())
    assert count(transfer) == 0


@pytest.mark.parametrize(
    ("table", "change", "column"),
    [
        ("people", {"club": "Lanternfield"}, "name"),
        ("items", {"owner": "Ada Brook"}, "owner"),
        ("parts", {"fits": ["foil/wheel"]}, "fits"),
        ("jobs", {"item": "nowhere"}, "item"),
        ("jobs", {"state": "waiting"}, "done"),
        ("jobs", {"done": "2026-11-01"}, "done"),
        ("jobs", {"case": "xxxxxx"}, "case"),
        ("jobs", {"kind": "polish"}, "kind"),
        ("lines", {"ref": "weapon barrel thread: purple"}, "ref"),
        ("lines", {"job": "99"}, "job"),
        ("lines", {"kind": "part", "ref": "s9"}, "ref"),
        ("readings", {"instrument": "s1"}, "instrument"),
        ("moves", {"part": "s9"}, "part"),
        ("moves", {"change": 0.5}, "change"),
    ],
)
def test_a_row_that_cannot_be_is_refused_in_its_column(
    small: Callable[[str], Transfer], table: str, change: dict[str, Any], column: str
) -> None:
    rows = {name: [dict(row) for row in rows] for name, rows in WHOLE.items()}
    rows[table][min(1, len(rows[table]) - 1) if table == "people" else 0] |= change
    problems = small("one").tried(json.dumps(rows).encode(), name="all.json").problems
    assert (table, column) in [(each.table, each.column) for each in problems]


def test_stock_that_comes_in_is_its_first_count(small: Callable[[str], Transfer]) -> None:
    transfer = small("one")
    transfer.take(transfer.tried(b"part,in stock\ntip screw,40\n", name="stock.csv", table="parts"), by=Who())
    assert transfer.store.database.read(lambda session: session.scalars(select(PartRow.count)).all()) == [40]
    assert [(row["change"], row["why"]) for row in transfer.everything(contacts=False)["moves"]] == [(40, "counted")]


def test_a_code_that_is_made_up_is_nobody_elses(small: Callable[[str], Transfer], monkeypatch: pytest.MonkeyPatch) -> None:
    """With ten thousand cords one of three hundred new codes is there already, 97 times of 100; here the very first is."""
    made = iter("aaaaaaaabbbb")
    monkeypatch.setattr("foible.services.transfer.known.choice", lambda _: next(made))
    transfer = small("one")
    for _ in range(2):
        transfer.take(transfer.tried(b"kind,weapon\ncord,foil\n", name="kit.csv"), by=Who())
    assert [row["code"] for row in transfer.everything(contacts=False)["items"]] == ["caaaa", "cbbbb"]


def test_progress_is_told_to_the_end(small: Callable[[str], Transfer]) -> None:
    heard: list[tuple[int, int]] = []
    rows = b"kind,weapon\n" + b"cord,foil\n" * 1000
    plan = small("one").tried(rows, name="kit.csv", progress=lambda done, of: heard.append((done, of)))
    assert plan.counts == {"items": 1000}
    assert heard == sorted(heard)
    assert (heard[0], heard[-1]) == ((0, 1000), (1000, 1000))
    assert len(heard) >= 5
