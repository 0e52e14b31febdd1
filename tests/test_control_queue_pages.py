"""A table's queue from what is on record: measured, forecast, ordered, planned; pages, JSON and commands say the same."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from client import FromHere, TestClient
from command import foible
from foible.cli.main import command
from foible.records import Database
from foible.records.control import (
    EntryOutcome,
    HandedInState,
    NewCompetition,
    NewControlEntry,
    NewEntrant,
    NewHandedIn,
    StationDoes,
    add_competition,
    add_entrant,
    add_entries,
    add_mark,
    change_handed_in,
    close_station,
    hand_in,
    lock_item,
    open_station,
    stations_of,
)
from foible.records.control.times import found_by_test, station_work
from foible.records.people import NewPerson, add_person
from foible.records.register import RegisterStore
from foible.records.trail import Who
from foible.services.control.at_station import item_view
from foible.services.control.forecasts import LULL, measured_seconds, queue_now
from foible.services.control.plans import Wish, table_planned
from foible.services.control.test_order import learnt_chances, orders_at
from foible.services.opening import open_cases
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from foible.records.control import HandedIn, Station
    from foible.records.register import Turn

NOW = datetime.now(UTC).replace(microsecond=0)
BEGAN = NOW - timedelta(minutes=20)
WHO = Who(device="table")
DONE, FAILED, WAITING, TO_COME = 20, 2, 10, 4
"""Fencers with one body cord each: tested, at a minute each, of whom some failed; waiting; not here yet."""
TEST = "cord-wire"


def fill(turn: Turn) -> None:
    """Fill a table: one station, for electrical tests, that takes 60 s for a cord, as it stands at NOW."""
    opened = turn.dated(BEGAN)
    made = add_competition(opened, NewCompetition("Autumn Open (invented)", date(2026, 10, 3), "fie-2026", "plain limits"))
    station = open_station(opened, made.id, StationDoes.ELECTRICS)
    for number in range(DONE + WAITING + TO_COME):
        person = add_person(opened, NewPerson(f"Invented {number}", token=f"p{number}"))
        entrant = add_entrant(opened, made.id, NewEntrant(person.id, ("foil",), token=f"e{number}"))
        if number < DONE + WAITING:
            item = hand_in(turn.dated(BEGAN), entrant.id, NewHandedIn("cord", "foil", token=f"h{number}"))
            if number < DONE:
                enter(turn.dated(BEGAN + timedelta(minutes=number + 1)), item, station, failed=number < FAILED)


def enter(turn: Turn, item: HandedIn, station: Station, *, failed: bool) -> None:
    outcome = EntryOutcome.FAIL if failed else EntryOutcome.PASS
    lines = [NewControlEntry(TEST, EntryOutcome.PASS, 0.4, line="A"), NewControlEntry(TEST, outcome, 1.4, line="B")]
    began = turn.at - timedelta(seconds=40)
    locked = lock_item(turn.session, item.id, token=f"t{item.id}", station_id=station.id)
    add_entries(turn, locked, lines, seen=item.version, began=began)
    state = HandedInState.FAILED if failed else HandedInState.PASSED
    change_handed_in(turn, item.id, {"state": state, "passed": not failed}, version=None)


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> str:
    address = f"sqlite:///{tmp_path_factory.mktemp('queue') / 'records.db'}"
    database = Database(address)
    RegisterStore(database, clock=lambda: NOW).write(fill, by=WHO, what="the test")
    database.dispose()
    return address


@pytest.fixture(scope="module")
def store(url: str) -> Iterator[RegisterStore]:
    database = Database(url)
    yield RegisterStore(database, clock=lambda: NOW)
    database.dispose()


@pytest.fixture(scope="module")
def client(url: str) -> Iterator[TestClient]:
    app = create_app(open_cases(url), Settings(secret="a", hosts=("testserver",)))
    with TestClient(FromHere(app)) as made:
        yield made


def test_what_a_station_did_is_summed_up_by_item(store: RegisterStore) -> None:
    work = store.read(lambda session: station_work(session, 1))
    assert len(work) == DONE
    assert work[0].at - work[0].began == timedelta(seconds=40)
    assert work[-1].at == BEGAN + timedelta(minutes=DONE)


def test_a_cord_with_one_bad_line_failed_once(store: RegisterStore) -> None:
    (found,) = store.read(found_by_test)
    assert (found.requirement, found.tested, found.failed) == (TEST, DONE, FAILED)


def test_ten_cords_of_a_minute_take_ten_minutes(store: RegisterStore) -> None:
    queue = store.read(lambda session: queue_now(session, 1, NOW, to_come=0))
    assert (queue.done, queue.left, queue.came) == (DONE, WAITING, DONE + WAITING)
    assert queue.forecast.at is not None
    assert queue.forecast.at - NOW == pytest.approx(timedelta(minutes=WAITING), abs=timedelta(minutes=1.5))
    (stage,) = queue.forecast.by_stage
    assert (stage.name, stage.posts, stage.waiting, stage.done) == ("electrics", 1, WAITING, DONE)
    assert stage.seconds == pytest.approx(60, rel=0.15)
    assert queue.forecast.further[0].saves == pytest.approx(timedelta(minutes=WAITING / 2), abs=timedelta(minutes=2))


def test_who_has_not_come_is_waited_for_unless_nobody_is_expected(store: RegisterStore) -> None:
    queue = store.read(lambda session: queue_now(session, 1, NOW, until=NOW + timedelta(hours=2)))
    assert queue.forecast.to_come == TO_COME
    assert queue.forecast.at is not None
    assert queue.if_no_more.at is not None
    assert queue.forecast.at > queue.if_no_more.at
    assert queue.if_no_more == store.read(lambda session: queue_now(session, 1, NOW, to_come=0)).forecast


def test_a_day_later_the_table_is_shown_as_it_stood(store: RegisterStore) -> None:
    queue = store.read(lambda session: queue_now(session, 1, NOW + LULL + timedelta(hours=20)))
    assert queue.lull
    assert queue.forecast.now == BEGAN + timedelta(minutes=DONE)


def test_a_mark_ends_the_work_on_an_item_and_a_closed_station_forecasts_nothing(tmp_path: Path) -> None:
    database = Database(f"sqlite:///{tmp_path / 'records.db'}")
    own = RegisterStore(database, clock=lambda: NOW)
    own.write(fill, by=WHO, what="the test")
    own.write(lambda turn: open_station(turn.dated(BEGAN), 1, StationDoes.MARKS), by=WHO, what="the test")
    before = own.read(lambda session: queue_now(session, 1, NOW, to_come=0)).forecast.by_stage[1]
    assert (before.name, before.waiting) == ("marks", DONE - FAILED + WAITING)
    item = FAILED + 1
    marks = own.read(lambda session: stations_of(session, 1))[1]
    own.write(lambda turn: add_mark(turn, item, "tape", began=NOW, station_id=marks.id, token="m1"), by=WHO, what="the test")
    after = own.read(lambda session: queue_now(session, 1, NOW, to_come=0)).forecast.by_stage[1]
    assert (after.waiting, after.done) == (before.waiting - 1, 1)
    own.write(lambda turn: close_station(turn, marks.id), by=WHO, what="the test")
    found = own.read(lambda session: queue_now(session, 1, NOW, to_come=0))
    assert found.forecast.at is None
    assert found.forecast.by_stage[1].at is None
    own.write(lambda turn: close_station(turn, 1), by=WHO, what="the test")
    assert own.read(lambda session: queue_now(session, 1, NOW, to_come=0)).no_station
    database.dispose()


def test_chances_are_learnt_from_what_the_tables_found(store: RegisterStore) -> None:
    chances = store.read(lambda session: learnt_chances(session, "fie-2026"))
    assert (chances[TEST].tested, chances[TEST].failed) == (DONE, FAILED)
    assert chances[TEST].low < 0.1 < chances[TEST].high
    assert all(each.low <= each.mean <= each.high for each in chances.values())


def test_the_order_leaves_nothing_out_and_a_sound_item_takes_no_longer(store: RegisterStore) -> None:
    orders = store.read(lambda session: orders_at(session, 1))
    assert {each.does for each in orders} == {StationDoes.DIMENSIONS, StationDoes.ELECTRICS, StationDoes.MARKS}
    for each in orders:
        assert each.takes.sound <= each.by_clause.sound + 1e-9
        assert each.takes.failing <= each.by_clause.failing + 1e-9
    cord = next(each for each in orders if (each.kind, each.weapon, each.does) == ("cord", "foil", StationDoes.ELECTRICS))
    assert {requirement.kind for requirement, _, _ in cord.tests} == {"cord"}
    assert len(cord.tests) == len({requirement.id for requirement, _, _ in cord.tests})


def in_turn_at(store: RegisterStore, item: int) -> list[str]:
    """Return the tests of an item in the order in which its page has them."""
    lines = store.read(lambda session: item_view(session, 1, item, 1)).lines
    return list(dict.fromkeys(line.to_test.requirement.id for line in lines))


def test_the_page_of_an_item_has_its_tests_in_the_order_learnt_and_that_stands_for_a_while(tmp_path: Path) -> None:
    database = Database(f"sqlite:///{tmp_path / 'records.db'}")
    own = RegisterStore(database, clock=lambda: NOW)
    own.write(fill, by=WHO, what="the test")
    orders = own.read(lambda session: orders_at(session, 1))
    cord = next(each for each in orders if (each.kind, each.weapon, each.does) == ("cord", "foil", StationDoes.ELECTRICS))
    before = in_turn_at(own, DONE + 1)
    assert before == [requirement.id for requirement, _, _ in cord.tests]

    def fails(turn: Turn) -> None:
        for item in range(1, DONE + 1):
            bad = [NewControlEntry(before[-1], EntryOutcome.FAIL)]
            locked = lock_item(turn.session, item, token=f"bad{item}", station_id=1)
            add_entries(turn, locked, bad, seen=1, began=NOW)

    own.write(fails, by=WHO, what="the test")
    assert in_turn_at(own, DONE + 1) == before
    database.dispose()
    again = Database(f"sqlite:///{tmp_path / 'records.db'}")  # as after ten minutes, or in another process
    after = in_turn_at(RegisterStore(again, clock=lambda: NOW), DONE + 1)
    again.dispose()
    assert sorted(after) == sorted(before)
    assert after.index(before[-1]) < len(before) - 1


def test_a_plan_takes_measured_times_where_it_is_told_to(store: RegisterStore) -> None:
    measured = store.read(lambda session: measured_seconds(session, 1))
    assert measured["electrics", "cord", "foil"] == pytest.approx(60, rel=0.1)
    wish = Wish(60, NOW, weapons=("foil",), bag={"cord": 1.0})
    usual = store.read(lambda session: table_planned(session, wish))
    own = store.read(lambda session: table_planned(session, replace(wish, measured_at=1)))
    assert own.load["electrics"] == pytest.approx(60, rel=0.1)
    assert own.load["electrics"] > usual.load["electrics"]
    assert own.enough is not None
    assert own.items == 60


def test_the_page_and_its_json_say_the_same(client: TestClient) -> None:
    told = client.get("/api/control/1/queue?to_come=0").json()
    page = client.get("/control/1/queue?to_come=0").text
    assert told["schema"] == "foible.queue/1"
    assert datetime.fromisoformat(told["forecast"]["at"]).astimezone().strftime("%H:%M") in page
    assert f"<b>{WAITING}</b> waiting" in page
    assert "One more at electrics" in page
    assert "Invented" not in page + str(told)


def test_the_order_of_tests_has_a_page_and_json(client: TestClient) -> None:
    told = client.get("/api/control/1/order").json()
    page = client.get("/control/1/order").text
    assert told["schema"] == "foible.test-order/1"
    assert "one wire of a body cord" in page
    assert f"{FAILED} of {DONE}" in page
    assert {"kind", "weapon", "station", "saves", "takes", "by_clause", "tests"} == set(told["stations"][0])


def test_a_plan_needs_no_competition(client: TestClient) -> None:
    assert "Work it out" in client.get("/control/plan").text
    page = client.get("/control/plan?fencers=60&start=08:00&until=10:00&done_by=12:00").text
    assert "done by" in page
    told = client.get("/api/control/plan?fencers=60&start=08:00&until=10:00&done_by=12:00").json()
    assert told["schema"] == "foible.table-plan/1"
    assert str(told["enough"]["teams"]) in page


@pytest.mark.parametrize(
    ("address", "status", "words"),
    [
        ("/control/7/queue", 404, "competition"),
        ("/api/control/7/order", 404, "competition"),
        ("/control/1/queue?until=noon", 422, "until"),
        ("/control/plan?fencers=10&done_by=07:00", 422, "begun at 08:00"),
        ("/control/plan?fencers=10&start=12:00&until=11:00", 422, "an end after the beginning"),
        ("/control/plan?fencers=10&weapon=club", 422, "club"),
        ("/control/plan?fencers=10&items=1", 422, "1 numbers of items"),
        ("/control/plan?fencers=10&measured_at=7", 404, "competition"),
        ("/api/control/plan", 422, "how many fencers are expected"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(client: TestClient, address: str, status: int, words: str) -> None:
    answer = client.get(address)
    assert answer.status_code == status
    assert words in answer.text


def test_the_terminal_says_it_too(url: str) -> None:
    def said(*words: str) -> str:
        return CliRunner().invoke(command, ["control", *words, "--data", url]).output

    queue = said("queue", "1", "--to-come", "0")
    assert "Gone by" in queue
    assert f"{WAITING} waiting" in queue
    assert "one wire of a body cord" in said("order", "1")
    assert "will do: done by" in said("plan", "40")


def test_a_time_of_day_that_is_none_is_refused_in_the_terminal(url: str) -> None:
    wrong = foible("control", "plan", "40", "--done-by", "late", "--data", url)
    assert "give hours and minutes, such as 16:50" in wrong.stderr
    assert wrong.returncode == 2
