"""The control table in both kinds of database: each test is kept once and stays, and two stations never overwrite each other."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, TypeVar

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from foible.errors import ClashError, InputError, NotFoundError
from foible.records import Database
from foible.records import control as ctl
from foible.records.control import (
    EntryOutcome,
    HandedInState,
    NewCompetition,
    NewControlEntry,
    NewEntrant,
    NewHandedIn,
    NewInstrument,
    StationDoes,
)
from foible.records.people import NewPerson, add_person, erase_person, names_of
from foible.records.person_data import kept_of_person
from foible.records.register import RegisterStore
from foible.records.trail import Who

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime

    from foible.records.control import Competition, Entrant, HandedIn
    from foible.records.register import Turn

Made = TypeVar("Made")
TABLE = Who(device="table")
OPEN = NewCompetition("Autumn Open (invented)", date(2026, 10, 3), "fie-2026", "plain limits", token="c1")
CORD = NewHandedIn("cord", "foil", token="h1")
LINE_A = NewControlEntry("cord-line", EntryOutcome.PASS, 0.4, line="A", conforms=0.999, u=0.05)


@pytest.fixture
def store(database_url: str, clock: Callable[[], datetime]) -> Iterator[RegisterStore]:
    database = Database(database_url)
    yield RegisterStore(database, clock=clock)
    database.dispose()


def do(store: RegisterStore, change: Callable[[Turn], Made]) -> Made:
    return store.write(change, by=TABLE, what="the test")


def begun(store: RegisterStore) -> tuple[Competition, Entrant, HandedIn]:
    competition = do(store, lambda turn: ctl.add_competition(turn, OPEN))
    person = do(store, lambda turn: add_person(turn, NewPerson("A. Invented", club="Lanternfield", token="p1")))
    entrant = do(store, lambda turn: ctl.add_entrant(turn, competition.id, NewEntrant(person.id, ("foil",), token="e1")))
    return competition, entrant, do(store, lambda turn: ctl.hand_in(turn, entrant.id, CORD))


def enter(store: RegisterStore, item: HandedIn, *new: NewControlEntry, token: str, seen: int) -> tuple[ctl.ControlEntry, ...]:
    now = store.clock()
    return do(
        store, lambda turn: ctl.add_entries(turn, ctl.lock_item(turn.session, item.id, token=token), new, seen=seen, began=now)
    )


def test_what_is_sent_twice_is_kept_once(store: RegisterStore) -> None:
    competition, entrant, item = begun(store)
    again = begun(store)
    assert (competition.id, entrant.id, item.id) == tuple(each.id for each in again), "every form sent again"
    once = enter(store, item, LINE_A, replace(LINE_A, line="B"), token="f1", seen=item.version)
    assert enter(store, item, LINE_A, replace(LINE_A, line="B"), token="f1", seen=item.version) == once
    assert [(each.line, each.reading, each.outcome, each.device) for each in once] == [
        ("A", 0.4, EntryOutcome.PASS, "table"),
        ("B", 0.4, EntryOutcome.PASS, "table"),
    ]
    assert store.read(lambda session: ctl.handed_in_by_id(session, item.id)).state is HandedInState.AT_TABLE
    assert store.read(lambda session: ctl.entrant_by_id(session, entrant.id)).came is not None


def test_measured_again_the_later_reading_counts_and_the_first_stays(store: RegisterStore) -> None:
    _, _, item = begun(store)
    (first,) = enter(store, item, LINE_A, token="f1", seen=item.version)
    (second,) = enter(store, item, replace(LINE_A, reading=1.3, outcome=EntryOutcome.FAIL), token="f2", seen=first.made)
    assert second.reading == 1.3
    kept = store.read(lambda session: ctl.entries_of(session, item.id))
    assert [(each.reading, each.withdrawn) for each in kept] == [(0.4, True), (1.3, False)]
    assert ctl.clashes(kept) == ()


def test_two_stations_that_differ_both_stand_until_one_is_chosen(store: RegisterStore) -> None:
    _, _, item = begun(store)
    enter(store, item, LINE_A, token="f1", seen=item.version)
    both = enter(store, item, replace(LINE_A, reading=1.3, outcome=EntryOutcome.FAIL), token="f2", seen=item.version)
    assert [each.reading for each in both] == [0.4, 1.3], "the second had not seen the first"
    assert ctl.clashes(both) == (both,)
    agreeing = enter(store, item, replace(LINE_A, line="B"), token="f3", seen=item.version)
    assert len(ctl.clashes(agreeing)) == 1, "another line is another test"
    left = do(store, lambda turn: ctl.choose_entry(turn, item.id, both[1].id))
    assert sorted((each.line, each.reading) for each in left) == [("A", 1.3), ("B", 0.4)]
    assert ctl.clashes(store.read(lambda session: ctl.entries_of(session, item.id))) == ()
    with pytest.raises(InputError, match="does not count any more"):
        do(store, lambda turn: ctl.choose_entry(turn, item.id, both[0].id))


@pytest.mark.parametrize("table", ["control_entries", "control_withdrawals"])
@pytest.mark.parametrize("what", ["UPDATE {} SET at = NULL", "DELETE FROM {}"])
def test_the_database_itself_refuses_to_change_a_test(store: RegisterStore, table: str, what: str) -> None:
    _, _, item = begun(store)
    (first,) = enter(store, item, LINE_A, token="f1", seen=item.version)
    enter(store, item, replace(LINE_A, reading=0.5), token="f2", seen=first.made)
    with pytest.raises(DBAPIError, match="stays as it is"), store.database._engine.begin() as connection:
        connection.execute(text(what.format(table)))


def test_an_item_that_was_handed_back_takes_no_more_tests(store: RegisterStore) -> None:
    _, _, item = begun(store)
    do(store, lambda turn: ctl.change_handed_in(turn, item.id, {"state": HandedInState.HANDED_BACK}, version=item.version))
    with pytest.raises(InputError, match="no longer at the table: it was handed back"):
        enter(store, item, LINE_A, token="f1", seen=item.version + 1)
    with pytest.raises(ClashError):
        do(store, lambda turn: ctl.change_handed_in(turn, item.id, {"state": HandedInState.FAILED}, version=item.version))


def test_retests_come_after_everybodys_first_time(store: RegisterStore) -> None:
    """FIE Material Rules, August 2026, m.41.2: repaired items are tested again only after everybody's first check."""
    competition, entrant, first = begun(store)
    do(store, lambda turn: ctl.change_handed_in(turn, first.id, {"attempt": 2}, version=first.version))
    later = do(store, lambda turn: ctl.hand_in(turn, entrant.id, replace(CORD, token="h2")))
    queue = store.read(lambda session: ctl.items_at(session, competition.id, HandedInState.HANDED_IN))
    assert [each.id for each in queue] == [later.id, first.id]


def test_forms_are_numbered_one_after_the_other_and_made_once(store: RegisterStore) -> None:
    competition, entrant, first = begun(store)
    second = do(store, lambda turn: ctl.hand_in(turn, entrant.id, replace(CORD, token="h2")))
    forms = [do(store, partial(ctl.reject, number=item.id)) for item in (first, second, first)]
    assert [form.number for form in forms] == [1, 2, 1]
    assert store.read(lambda session: ctl.reject_form(session, competition.id, 2)).control_item_id == second.id
    do(store, lambda turn: ctl.tick_step(turn, first.id, "shown"))
    do(store, lambda turn: ctl.tick_step(turn, first.id, "shown"))
    assert [step.step for step in store.read(lambda session: ctl.steps_of(session, first.id))] == ["shown"]


def test_an_erased_fencer_leaves_readings_and_no_name(store: RegisterStore) -> None:
    _, entrant, item = begun(store)
    enter(store, item, LINE_A, token="f1", seen=item.version)
    whole = store.read(lambda session: kept_of_person(session, entrant.person_id))
    assert [len(whole[table]) for table in ("entrants", "control_items", "control_entries")] == [1, 1, 1]
    do(store, lambda turn: erase_person(turn, entrant.person_id))
    assert store.read(lambda session: names_of(session, [entrant.person_id])) == {}
    assert len(store.read(lambda session: ctl.entries_of(session, item.id))) == 1
    dump = store.read(
        lambda session: [
            str(session.execute(text(f"SELECT * FROM {name}")).all())  # noqa: S608 — our own names
            for name in ("competitions", "entrants", "control_items", "control_entries", "trail")
        ]
    )
    assert "Invented" not in "".join(dump)


def test_stations_open_once_and_an_instrument_is_never_exact(store: RegisterStore) -> None:
    competition, _, _ = begun(store)
    station = do(store, lambda turn: ctl.open_station(turn, competition.id, StationDoes.ELECTRICS))
    assert do(store, lambda turn: ctl.open_station(turn, competition.id, StationDoes.ELECTRICS)) == station
    do(store, lambda turn: ctl.close_station(turn, station.id))
    assert do(store, lambda turn: ctl.open_station(turn, competition.id, StationDoes.ELECTRICS)).id != station.id
    with pytest.raises(InputError, match="no instrument is without any"):
        do(store, lambda turn: ctl.add_instrument(turn, competition.id, NewInstrument("meter", "meter", "Ω", 0.0)))
    with pytest.raises(NotFoundError):
        store.read(lambda session: ctl.competition_by_id(session, 99))


def test_a_fencer_is_entered_once_and_found_by_number_or_name(store: RegisterStore) -> None:
    competition, entrant, _ = begun(store)
    again = do(store, lambda turn: ctl.add_entrant(turn, competition.id, NewEntrant(entrant.person_id, token="e2")))
    assert again.id == entrant.id
    for words in ("1", "invented", "LANTERN inv"):
        assert store.read(partial(ctl.entrants_found, competition=competition.id, words=words)) == (again,)
    other = do(store, lambda turn: add_person(turn, NewPerson("B. Invented")))
    with pytest.raises(InputError, match="number 1 is taken"):
        do(store, lambda turn: ctl.add_entrant(turn, competition.id, NewEntrant(other.id, number=1)))
