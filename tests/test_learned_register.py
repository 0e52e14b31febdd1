"""What a register teaches: rows of jobs in; out, the club's own rates, the lines that say so, and whether they count."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from foible.kit import load_setup
from foible.records import Database
from foible.records.experience import ExperienceStore, FoundCount, KindCount
from foible.services.reasoning import Reasoning
from foible.services.register.learned import item_lines, learned_page, make_lines
from foible.services.register.teacher import Teacher, found_with
from register_rows import NOW, Rows

if TYPE_CHECKING:
    from collections.abc import Iterator

WIRE = "cord B wire at the weapon plug: broken where it leaves the plug"
CLIP = "cord clip bite: off, dirty or corroded"


@pytest.fixture(scope="module")
def store() -> Iterator[ExperienceStore]:
    """Ten foil cords of two makes, two foils and a reel: 24 jobs on cords, 18 of which found the wire at the weapon plug."""
    database = Database("sqlite://")
    rows = Rows(database)
    cords = [rows.item("cord", "foil", made_by={"plug": "Make A" if n < 5 else "Make B"}, name=f"cord {n}") for n in range(10)]
    foils = [rows.item("weapon", "foil") for _ in range(2)]
    reel = rows.item("reel")
    for number in range(18):
        rows.job(cords[number % 5], [WIRE], days=40 + number)
    for number in range(4):
        rows.job(cords[5 + number], [CLIP], days=60 + number)
    rows.job(cords[0])
    rows.job(foils[0])
    rows.job(reel, ["reel socket B contact: worn or loose"], days=1)
    rows.job(cords[9], [WIRE], days=0)
    yield ExperienceStore(database, clock=lambda: NOW)
    database.dispose()


@pytest.fixture
def teacher(store: ExperienceStore) -> Teacher:
    return Teacher(store, lambda: NOW)


def test_what_comes_back_more_often_than_usual_is_said_first(teacher: Teacher) -> None:
    page = learned_page(teacher, load_setup("foil"))
    first = page.failures[0]
    assert (first.name, first.count) == (WIRE, 19)
    assert first.clear
    assert first.low < first.times < first.high
    assert "× as often as usual" in first.words
    assert page.sound == 2
    assert {line.name for line in page.kinds} == {"cord", "weapon", "reel"}


def test_rates_count_from_the_next_morning_and_not_where_learning_is_off(teacher: Teacher) -> None:
    setup = load_setup("foil")
    known = dict(teacher.rates(setup).of)
    assert known[f"left {WIRE}"] == known[f"right {WIRE}"] > 2
    early = Teacher(teacher.store, lambda: NOW - timedelta(days=100))
    assert not any(times != 1 for _, times in early.rates(setup).of), "nothing had been done by then"
    teacher.store.database.write(lambda session: teacher.store.choose(session, value=False), what="a choice")
    teacher.forget()
    assert not teacher.rates(setup)
    assert teacher.store.learns().version == 1
    teacher.store.database.write(lambda session: teacher.store.choose(session, value=True), what="a choice")
    teacher.forget()
    assert teacher.rates(setup)


def test_a_register_without_items_leaves_the_reasoning_as_it_is() -> None:
    database = Database("sqlite://")
    teacher = Teacher(ExperienceStore(database, clock=lambda: NOW), lambda: NOW)
    assert not teacher.rates(load_setup("foil"))
    assert learned_page(teacher, load_setup("foil")).failures == ()
    database.dispose()


def test_a_case_is_reasoned_with_and_without(teacher: Teacher) -> None:
    plain = Reasoning()
    case = plain.taught(teacher.rates)
    setup = plain.setup("foil")
    prior = {each: each.rates(setup) for each in (plain, case)}
    assert not prior[plain]
    assert prior[case]


def test_what_serves_all_weapons_counts_by_their_share_of_the_jobs() -> None:
    """A hundred jobs on reels, thirty on foils, ten on sabres: the foil has three quarters of the reels."""
    found = [
        FoundCount("reel x: y", "reel", None, 100),
        FoundCount("a", "weapon", "foil", 30),
        FoundCount("b", "weapon", "sabre", 10),
    ]
    kinds = [KindCount("reel", None, 3), KindCount("weapon", "foil", 5), KindCount("weapon", "sabre", 2)]
    foil = found_with("foil", found, kinds, [])
    assert foil.count == {"reel x: y": 75.0, "a": 30.0, "b": 0.0}
    assert foil.kinds == {"reel", "weapon"}


def test_a_make_and_an_item_that_keep_coming_back_stand_out(store: ExperienceStore) -> None:
    items, finds = store.items("cord"), store.finds("cord")
    makes = {line.name: line for line in make_lines(items, finds, NOW)}
    assert makes["Make A (cord, plug)"].times > 1.2
    assert makes["Make B (cord, plug)"].times < 0.8
    assert makes["Make A (cord, plug)"].expected == pytest.approx(23 / 2)
    lines = item_lines(items, finds, NOW)
    assert lines[0].name in {f"cord {n}" for n in range(5)}
    assert lines[0].years == pytest.approx(2, abs=0.01)


def test_jobs_and_lines_are_counted_by_the_database(store: ExperienceStore) -> None:
    assert FoundCount(WIRE, "cord", "foil", 19) in store.found()
    assert FoundCount(WIRE, "cord", "foil", 18) in store.found(before=NOW - timedelta(days=1))
    assert sorted(store.sound()) == [KindCount("cord", "foil", 1), KindCount("weapon", "foil", 1)]
    assert len(store.jobs("cord")) == 24
