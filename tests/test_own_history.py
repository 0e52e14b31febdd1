"""What an item's own history and the makes in it add to a case: closed form, hard shrinking, nothing where no item is named."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from foible.kit import load_setup
from foible.learning import ALIKE, SPREADS
from foible.records import CaseStore, Database
from foible.records.experience import ExperienceStore, Find, ItemFacts
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.services.register.own_history import KindHistory
from foible.services.register.teacher import Teacher
from foible.situation import Mode, Situation
from register_rows import NOW, Rows

if TYPE_CHECKING:
    from collections.abc import Iterator

WIRE = "cord B wire at the weapon plug: broken where it leaves the plug"
CLIP = "cord clip bite: off, dirty or corroded"
YEARS_2 = timedelta(days=730)
BENCH = Situation(Mode.BENCH, "left cord", Mode.BENCH.usual_tools)


def cord(number: int, plug: str = "") -> ItemFacts:
    """Return a cord that has been in use for two years."""
    first = (NOW - YEARS_2).date()
    made_by = {"plug": plug} if plug else {}
    return ItemFacts(number, f"c{number}", "cord", "foil", "", made_by, "in use", None, first, None, NOW - YEARS_2, None)


def finds(*counts: dict[str, int]) -> list[Find]:
    return [Find(item, name, NOW) for item, each in enumerate(counts) for name, times in each.items() for _ in range(times)]


def pooled(count: list[int], expected: list[float]) -> np.ndarray:
    """Return the multipliers by closed form: Gamma(k, k) and Poisson counts, the k weighed by their negative binomial chance."""
    n, e = np.array(count), np.array(expected)
    chance = np.array([np.prod(stats.nbinom.pmf(n, k, k / (k + e))) for k in SPREADS]) * ALIKE
    return np.asarray((chance / chance.sum()) @ np.array([(k + n) / (k + e) for k in SPREADS]))


def test_an_item_is_held_against_the_others_of_its_kind_by_closed_form() -> None:
    """Four cords as old as one another: of five broken wires three were in one, where 5 / 4 were to be expected."""
    known = KindHistory([cord(n) for n in range(4)], finds({WIRE: 3}, {WIRE: 2, CLIP: 1}), NOW)
    first, last = known.of("c0"), known.of("c3")
    assert first is not None
    assert last is not None
    assert [first.times[WIRE], first.times[CLIP]] == pytest.approx(pooled([3, 0], [5 / 4, 1 / 4]))
    assert [last.times[WIRE], last.times[CLIP]] == pytest.approx(pooled([0, 0], [5 / 4, 1 / 4]))
    assert [(line.name, line.count) for line in first.lines] == [(WIRE, 3)]


def test_what_the_make_explains_is_not_told_of_the_item_again() -> None:
    """Of make A came eight broken wires in two cords, of B none: by their years four each were to be expected."""
    items = [cord(0, "A"), cord(1, "A"), cord(2, "B"), cord(3, "B")]
    own = KindHistory(items, finds({WIRE: 4}, {WIRE: 4}), NOW).of("c0")
    assert own is not None
    makes = pooled([8, 0], [4, 4])
    expected = 8 * makes[0] / (2 * makes[0] + 2 * makes[1])
    assert own.makes["A (plug)"].mean == pytest.approx(makes[:1])
    assert own.own.mean == pytest.approx(pooled([4], [expected]))
    assert own.times[WIRE] == pytest.approx(makes[0] * pooled([4], [expected])[0])
    assert own.own.mean[0] < pooled([4], [2])[0], "less than it would be without the makes"


def test_three_repairs_condemn_no_item() -> None:
    """Of twenty cords one came back three times with the same failure; another failure was found once in each of the others."""
    own = KindHistory([cord(n) for n in range(20)], finds({WIRE: 3}, *[{CLIP: 1}] * 19), NOW).of("c0")
    assert own is not None
    assert 1.2 < own.times[WIRE] < 2
    assert own.times[CLIP] == pytest.approx(1, abs=0.15)


@pytest.fixture(scope="module")
def teacher() -> Iterator[Teacher]:
    """Twelve foil cords, the first of which came back six times; and what else was found."""
    database = Database("sqlite://")
    rows = Rows(database)
    cords = [rows.item("cord", "foil", made_by={"plug": "Make A" if n < 6 else "Make B"}) for n in range(12)]
    for number in range(6):
        rows.job(cords[0], [WIRE], days=40 + number)
        rows.job(cords[6 + number], [CLIP], days=60 + number)
    yield Teacher(ExperienceStore(database, clock=lambda: NOW), lambda: NOW)
    database.dispose()


def test_a_case_about_an_item_counts_its_history_on_its_own_side_only(teacher: Teacher) -> None:
    setup = load_setup("foil")
    rates, other = teacher.rates_in("t0001: blue tape", BENCH), teacher.rates_in("t0012", BENCH)
    assert rates is not None
    assert other is not None
    club, about = dict(teacher.rates(setup).of), dict(rates(setup).of)
    assert about[f"left {WIRE}"] > 1.5 * club[f"left {WIRE}"]
    assert about[f"right {WIRE}"] == club[f"right {WIRE}"]
    assert {name for name in about if about[name] != club[name]} == {f"left {WIRE}", f"left {CLIP}"}
    assert dict(other(setup).of)[f"left {WIRE}"] < club[f"left {WIRE}"], "it lasted, and its make too"


def test_a_case_that_names_no_item_of_its_kind_is_as_it_was_to_the_digit(teacher: Teacher) -> None:
    setup = load_setup("foil")
    assert teacher.rates_in("t0001: at the piste", Situation()) is None
    for title, thing in (("White lamp", "left cord"), ("t0001", "left weapon"), ("t9999", "left cord"), ("", "left cord")):
        rates = teacher.rates_in(title, Situation(Mode.BENCH, thing, ()))
        assert rates is None or rates(setup) is teacher.rates(setup)
    sabre = teacher.rates_in("t0001", BENCH)
    assert sabre is not None
    assert sabre(load_setup("sabre")) == teacher.rates(load_setup("sabre"))


def test_kept_cases_are_reasoned_so_and_as_published_where_learning_is_off(teacher: Teacher) -> None:
    reasoning = Reasoning()
    cases = Cases(reasoning.taught(teacher.rates), CaseStore(Database("sqlite://"), clock=lambda: NOW), None, teacher.rates_in)
    kept = [cases.open("foil", title=title, where=BENCH) for title in ("t0001: blue", "no code")]
    wire = "left cord B wire at the weapon plug"

    def suspected() -> list[float]:
        found = [cases.standing_of(each).diagnosis.finding for each in kept]
        return [next(each.probability for each in finding.suspects if each.part == wire) for finding in found]

    about, plain = suspected()
    assert about > 1.2 * plain
    case = cases.standing_of(kept[1]).case
    usual = reasoning.at(BENCH).taught(teacher.rates).diagnose(case).finding
    assert plain == next(each.probability for each in usual.suspects if each.part == wire)
    teacher.store.database.write(lambda session: teacher.store.choose(session, value=False), what="a choice")
    teacher.forget()
    off = suspected()
    published = reasoning.at(BENCH).diagnose(case).finding
    assert off == [next(each.probability for each in published.suspects if each.part == wire)] * 2
    cases.store.database.dispose()
