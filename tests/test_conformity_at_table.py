"""What a table has measured tells how likely the next item keeps its limit; what is kept stays as it is."""

from __future__ import annotations

from contextlib import contextmanager
from datetime import date
from typing import TYPE_CHECKING, TypeVar

import numpy as np
import pytest
from sqlalchemy import event

from foible.control.conformity import Tolerance, probability
from foible.records import Database
from foible.records import control as ctl
from foible.records.control import NewCompetition, NewEntrant, NewHandedIn, entries_of
from foible.records.control.times import TakenReading
from foible.records.people import NewPerson, add_person
from foible.records.register import RegisterStore
from foible.records.trail import Who
from foible.services.control import taught
from foible.services.control.at_station import item_view
from foible.services.control.entry import Found, Told, enter
from foible.services.control.handing import take_in

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from datetime import datetime
    from pathlib import Path

    from sqlalchemy import Engine

    from foible.records.control import ControlEntry
    from foible.records.register import Turn

Made = TypeVar("Made")
TABLE = Who(device="table")
OPEN = NewCompetition("Autumn Open (invented)", date(2026, 10, 3), "fie-2026", "guarded against false pass", token="c1")
WIRE = "cord-wire"


class Table:
    """An invented competition with one fencer, who hands in cords."""

    def __init__(self, store: RegisterStore) -> None:
        self.store = store
        self.competition = self.do(lambda turn: ctl.add_competition(turn, OPEN)).id
        person = self.do(lambda turn: add_person(turn, NewPerson("A. Invented", club="Lanternfield", token="p1"))).id
        new = NewEntrant(person, ("foil",), token="e1")
        self.entrant = self.do(lambda turn: ctl.add_entrant(turn, self.competition, new)).id
        self.cords = 0

    def do(self, change: Callable[[Turn], Made]) -> Made:
        return self.store.write(change, by=TABLE, what="the test")

    def cord(self, readings: Mapping[str, float]) -> int:
        """Hand in a cord and keep what its wires read [Ω]; return its number."""
        self.cords += 1
        new = NewHandedIn("cord", "foil", token=f"h{self.cords}")
        item = self.do(lambda turn: take_in(turn, self.entrant, new)).id
        self.read(item, readings)
        return item

    def read(self, item: int, readings: Mapping[str, float]) -> None:
        version = self.store.read(lambda session: ctl.handed_in_by_id(session, item).version)
        found = {(WIRE, line): Found(reading) for line, reading in readings.items()}
        told = Told(found, version, self.store.clock(), f"{item}-{version}")
        self.do(lambda turn: enter(turn, item, told))

    def look(self, item: int) -> None:
        """Have a station open the page of an item."""
        self.store.read(lambda session: item_view(session, self.competition, item, None))

    def kept(self, item: int) -> dict[str, ControlEntry]:
        return {each.line: each for each in self.store.read(lambda session: entries_of(session, item))}


@pytest.fixture
def table(tmp_path: Path, clock: Callable[[], datetime]) -> Iterator[Table]:
    database = Database(f"sqlite:///{tmp_path / 'records.db'}")
    yield Table(RegisterStore(database, clock=clock))
    database.dispose()


@contextmanager
def asked(table: Table) -> Iterator[list[str]]:
    """Note what is asked of a database meanwhile."""
    statements: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        statements.append(statement)

    engine: Engine = table.store.read(lambda session: session.get_bind().engine)
    event.listen(engine, "before_cursor_execute", note)
    yield statements
    event.remove(engine, "before_cursor_execute", note)


def test_what_a_table_has_measured_tells_how_likely_the_next_item_keeps_its_limit(table: Table) -> None:
    """≤ 1 Ω a wire: FIE Material Rules, August 2026, m.29.1.c. Forty-two wires at 0.8 Ω, and one reads 1.02 Ω.

    The usual meter scatters by 0.05 Ω: what reads within six times that teaches.
    """
    first = table.cord({"A": 1.02})
    before = table.kept(first)["A"]
    assert before.u is not None
    assert before.conforms is not None
    assert before.conforms == pytest.approx(float(probability(1.02, before.u, Tolerance(upper=1.0)))), "nothing is known"
    assert before.note == ""
    sound = np.random.default_rng(1).normal(0.8, 0.08, (14, 3)).round(2)
    for readings in sound:
        last = table.cord(dict(zip("ABC", readings.tolist(), strict=True)))
    table.look(last)
    with asked(table) as known:
        second = table.cord({"A": 1.02})
    after = table.kept(second)["A"]
    assert after.conforms is not None
    assert before.conforms < 0.5 < after.conforms, "few items lie beyond the limit: more likely a sound one that read high"
    close = 1 + int((np.abs(sound - 1) < 0.3).sum())
    assert after.note == f"judged by {close} items that read close to this limit"
    assert table.kept(first)["A"] == before, "what was kept is not changed"
    taught.taught_of_late(table.store.read(lambda session: session)).known.clear()
    with asked(table) as unknown:
        table.cord({"A": 1.02})
    assert len(known) == len(unknown), "an entry asks nothing for it"


def test_few_readings_and_those_far_from_the_limit_teach_nothing(table: Table) -> None:
    for _ in range(12):
        item = table.cord({"A": 0.2, "B": 0.25, "C": 0.9})
    table.look(item)
    assert table.kept(table.cord({"A": 1.02}))["A"].note == ""


def test_a_reading_that_follows_one_too_close_to_call_is_a_second_one_and_else_the_slip_before_it_is_forgotten() -> None:
    def taken(item: int, reading: float, outcome: str, note: str = "") -> TakenReading:
        return TakenReading(item, 1, "A", reading, outcome, note)

    readings = [
        taken(1, 0.98, "too close to call"),
        taken(2, 1.5, "fail"),
        taken(1, 1.01, "too close to call"),
        taken(2, 0.15, "pass"),
        taken(1, 1.01, "pass", taught.DECIDED),
    ]
    assert taught._items(readings) == [[0.98, 1.01], [0.15]]


def test_what_was_found_is_counted_for_the_first_page_and_every_other_kind_has_it_from_there(table: Table) -> None:
    cord = table.cord({"A": 0.4})
    mask = table.do(lambda turn: take_in(turn, table.entrant, NewHandedIn("mask", "foil", token="m1"))).id
    with asked(table) as statements:
        table.look(cord)
        table.look(mask)
    assert len([each for each in statements if "sum(" in each]) == 1
