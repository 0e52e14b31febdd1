"""The register in both kinds of database: nothing is lost, nothing is made twice, and every change stands in the trail."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, TypeVar

import pytest
from sqlalchemy import select

from foible.errors import ClashError, InputError, NotFoundError
from foible.records import Database, PersonRow, TrailRow
from foible.records import register as reg
from foible.records.register import ItemState, JobState, LineKind, NewItem, NewJob, NewLine, NewPart, NewReading, RegisterStore
from foible.records.trail import Who

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime

    from foible.records.register import RegisteredItem, Turn

Made = TypeVar("Made")
BENCH = Who(device="bench")
CORD = NewItem("cord", "c", "foil", name="Cord of the Lanternfield club", fitted={"socket": "two-pin"}, code="C-7K3M", token="t1")
TIP = NewPart("point springs", count=10, least=4, price=120, code="spring")


@pytest.fixture
def store(database_url: str, clock: Callable[[], datetime]) -> Iterator[RegisterStore]:
    database = Database(database_url)
    yield RegisterStore(database, clock=clock)
    database.dispose()


def do(store: RegisterStore, change: Callable[[Turn], Made]) -> Made:
    return store.write(change, by=BENCH, what="the test")


def trail(store: RegisterStore) -> list[tuple[str, str, dict[str, object]]]:
    return store.read(lambda session: [(row.kind, row.did, row.what) for row in session.scalars(select(TrailRow))])


def cord(store: RegisterStore) -> RegisteredItem:
    return do(store, lambda turn: reg.add_item(turn, CORD))


def test_an_item_is_registered_once_and_found_as_its_code_is_typed(store: RegisterStore) -> None:
    made = cord(store)
    assert made == cord(store), "the same form sent twice"
    assert made.code == "c7k3m"
    assert store.read(lambda session: reg.item_by_code(session, " C7K-3m ")) == made
    other = do(store, lambda turn: reg.add_item(turn, replace(CORD, code=None, token=None)))
    assert (len(other.code), other.code[0]) == (5, "c")
    with pytest.raises(InputError, match="in use already"):
        do(store, lambda turn: reg.add_item(turn, replace(CORD, token="t2")))
    with pytest.raises(NotFoundError, match="did you mean “c7k3m”"):
        store.read(lambda session: reg.item_by_code(session, "c7k3n"))


def test_a_change_names_the_version_it_saw_and_a_clash_loses_neither(store: RegisterStore) -> None:
    seen = cord(store)
    changed = do(store, lambda turn: reg.change_item(turn, seen.code, {"price": 2500}, version=seen.version))
    assert changed.version == seen.version + 1
    assert do(store, lambda turn: reg.change_item(turn, seen.code, {"price": 2500}, version=seen.version)) == changed
    with pytest.raises(ClashError, match="changed by somebody else") as clash:
        do(store, lambda turn: reg.change_item(turn, seen.code, {"price": 1900}, version=seen.version))
    assert (clash.value.now, clash.value.wanted, clash.value.version) == ({"price": 2500}, {"price": 1900}, changed.version)
    assert [did for _, did, _ in trail(store)] == ["made", "changed"], "what was refused is not in the trail"
    assert trail(store)[-1][2] == {"price": [None, 2500]}


def test_free_text_is_not_in_the_trail(store: RegisterStore) -> None:
    item = cord(store)
    do(store, lambda turn: reg.change_item(turn, item.code, {"notes": "belongs to A. Invented"}, version=1))
    assert "Invented" not in str(trail(store))
    assert set(trail(store)[-1][2]) == {"notes"}, "that it changed is"


def test_a_job_uses_parts_puts_them_back_and_sends_the_item_home(store: RegisterStore) -> None:
    item, part = cord(store), do(store, lambda turn: reg.add_part(turn, TIP))
    job = do(store, lambda turn: reg.open_job(turn, NewJob(item.id, complaint="goes white", token="j1")))
    assert do(store, lambda turn: reg.open_job(turn, NewJob(item.id, token="j1"))).id == job.id
    assert store.read(lambda session: reg.item_by_code(session, item.code)).state is ItemState.BENCH
    line = NewLine(LineKind.PART, "SPRING", count=2, token="l1")
    do(store, lambda turn: reg.add_line(turn, job.id, line))
    job = do(store, lambda turn: reg.add_line(turn, job.id, line))
    assert [(each.cost, each.count) for each in job.lines] == [(240, 2)]
    assert store.read(lambda session: reg.part_by_code(session, part.code)).count == 8
    do(store, lambda turn: reg.take_line_back(turn, job.id, 1))
    job = do(store, lambda turn: reg.take_line_back(turn, job.id, 1))
    assert not job.standing
    assert store.read(lambda session: reg.part_by_code(session, part.code)).count == 10
    moves = store.read(lambda session: reg.moves_of(session, part.id))
    assert sum(move.change for move in moves) == 10, "the count is the sum of its moves"
    done = do(store, lambda turn: reg.change_job(turn, job.id, {"state": JobState.DONE, "sound": True}, version=job.version))
    assert done.done is not None
    assert store.read(lambda session: reg.queue(session, reg.QueueQuery())) == ()
    do(store, lambda turn: reg.change_job(turn, job.id, {"state": JobState.HANDED_BACK}, version=done.version))
    assert store.read(lambda session: reg.item_by_code(session, item.code)).state is ItemState.IN_USE


def test_the_queue_is_by_the_day_promised_and_what_has_none_comes_last(store: RegisterStore) -> None:
    items = [do(store, lambda turn: reg.add_item(turn, replace(CORD, code=None, token=None))) for _ in range(3)]
    days = [None, date(2026, 11, 3), date(2026, 11, 2)]
    for item, day in zip(items, days, strict=True):
        do(store, lambda turn, item=item, day=day: reg.open_job(turn, NewJob(item.id, promised=day)))  # type: ignore[misc]
    queued = store.read(lambda session: reg.queue(session, reg.QueueQuery(kind="cord")))
    assert [item.id for _, item in queued] == [items[2].id, items[1].id, items[0].id]


def test_items_are_found_by_beginnings_of_words_owner_and_failure(store: RegisterStore) -> None:
    def owner(turn: Turn) -> int:
        row = PersonRow(name="Žofie Invented", club="Lanternfield", version=1, changed=turn.at)
        row.make_searchable()
        turn.session.add(row)
        turn.session.flush()
        return row.id

    whose = do(store, owner)
    mine = do(store, lambda turn: reg.add_item(turn, replace(CORD, owner_id=whose, code=None, token=None)))
    cord(store)
    job = do(store, lambda turn: reg.open_job(turn, NewJob(mine.id)))
    failure = NewLine(LineKind.FOUND, "cord clip bite: off, dirty or corroded")
    do(store, lambda turn: reg.add_line(turn, job.id, failure))
    for words in ("zof", "CORRO cord", "clip lantern zofie", mine.code, "bench foil"):
        assert store.read(lambda session, words=words: reg.item_ids(session, words)) == [mine.id], words  # type: ignore[misc]
    assert len(store.read(lambda session: reg.item_ids(session, "lanternf"))) == 2
    assert store.read(lambda session: reg.item_ids(session, "100% _")) == []
    do(store, lambda turn: reg.take_line_back(turn, job.id, 1))
    assert store.read(lambda session: reg.item_ids(session, "corroded")) == []


def test_an_item_is_lent_and_given_back_and_measured(store: RegisterStore) -> None:
    item = cord(store)
    to = do(store, _person)
    do(store, lambda turn: reg.lend(turn, item.code, to, until=date(2026, 12, 1), version=item.version))
    with pytest.raises(InputError, match="is lent"):
        do(store, lambda turn: reg.lend(turn, item.code, to, until=None, version=None))
    do(store, lambda turn: reg.give_back(turn, item.code, back_state="clip bent", state=ItemState.FAILED))
    (loan,) = store.read(lambda session: reg.loans_of(session, item.id))
    assert (loan.back is not None, loan.back_state) == (True, "clip bent")
    assert store.read(lambda session: reg.item_by_code(session, item.code)).state is ItemState.FAILED
    reading = NewReading("one wire of a body cord", 0.4, "Ω", line="B", token="r1")
    for _ in range(2):
        do(store, lambda turn: reg.add_reading(turn, item.id, reading))
    assert [each.value for each in store.read(lambda session: reg.readings_of(session, item.id))] == [0.4]


def _person(turn: Turn) -> int:
    row = PersonRow(name="B. Invented", version=1, changed=turn.at)
    turn.session.add(row)
    turn.session.flush()
    return row.id


def test_a_part_is_counted_by_whoever_saw_the_latest_count(store: RegisterStore) -> None:
    part = do(store, lambda turn: reg.add_part(turn, TIP))
    later = do(store, lambda turn: reg.bring_in(turn, part.code, 5, token="m1"))
    assert do(store, lambda turn: reg.bring_in(turn, part.code, 5, token="m1")).count == later.count == 15
    with pytest.raises(ClashError):
        do(store, lambda turn: reg.counted(turn, part.code, 9, version=part.version))
    assert do(store, lambda turn: reg.counted(turn, part.code, 3, version=later.version)).short == 1
    assert [each.code for each in store.read(lambda session: reg.parts_in_stock(session, short=True))] == ["spring"]
