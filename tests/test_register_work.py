"""The register as an armourer uses it: names of the kit, limits of the rules, job cards, making up new, and creep."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from foible.errors import ClashError, InputError, UnknownNameError
from foible.kit import SIDES, load_setup, weapon_names
from foible.records.cases import LETTERS
from foible.records.register import (
    PART_LETTER,
    JobState,
    LineKind,
    NewItem,
    NewJob,
    NewPart,
    QueueQuery,
    add_part,
    item_by_code,
    part_by_code,
    readings_of,
)
from foible.services.register.creep import creep_of, student_chance, student_quantile
from foible.services.register.items import checked_item, register_item, revise_item
from foible.services.register.jobs import Work, begin_next, begun, record_work, repairs_for
from foible.services.register.kinds import failures_of, kind_named, kinds, quantities_of
from foible.services.register.making import job_kinds, making_named
from foible.services.register.measuring import map_written, measured
from register_bench import FOIL, do, new_register

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from foible.records.register import Job, RegisteredItem, RegisterStore

SPRING = "weapon pressure spring: "


@pytest.fixture
def store(tmp_path: Path, clock: Callable[[], datetime]) -> RegisterStore:
    return new_register(tmp_path, clock)


@pytest.fixture
def foil(store: RegisterStore) -> RegisteredItem:
    return do(store, lambda turn: register_item(turn, FOIL))


def opened(store: RegisterStore, item: RegisteredItem, kind: str = "mend") -> Job:
    return do(store, lambda turn: begun(turn, item, NewJob(item.id, kind)))


def test_every_kind_has_a_letter_of_its_own_that_is_not_misread() -> None:
    letters = [kind.letter for kind in kinds().values()]
    assert len({*letters, PART_LETTER}) == len(letters) + 1
    assert set(letters) <= set(LETTERS)


def test_every_item_of_the_kit_can_be_registered_and_every_limit_measured() -> None:
    for weapon in weapon_names():
        in_kit = {item.kind for item in load_setup(weapon).items.values() if not (item.handling or item.tool)}
        offered = {kind.name for kind in kinds().values() if weapon in (kind.weapons or (weapon,))}
        assert in_kit <= offered, weapon
        assert all(failures_of(kind, weapon, {}) for kind in in_kit)
    assert [quantity.lines for quantity in quantities_of("cord", "sabre")] == [("A", "B", "C")]
    assert {quantity.unit for quantity in quantities_of("weapon", "épée")} == {"Ω", "g", "mm"}


def test_an_item_is_in_the_names_of_the_kit_whatever_was_typed() -> None:
    cord = checked_item(NewItem("Body Cord", "", "EPEE"))
    assert (cord.kind, cord.weapon, cord.letter) == ("cord", "épée", "c")
    assert checked_item(NewItem("bib", "")).weapon == "foil", "there is only one weapon that it is for"
    assert checked_item(replace(FOIL, fitted={"socket": "two-pin"})).fitted == {}, "what is usual is not kept"
    assert checked_item(replace(FOIL, fitted={"socket": "bayonet"})).fitted == {"socket": "bayonet"}
    assert kind_named("glove with cuff").name == "cuff"


@pytest.mark.parametrize(
    ("new", "seen"),
    [
        (NewItem("sword", ""), "no kind of item called “sword”"),
        (NewItem("weapon", ""), "has no weapon"),
        (NewItem("bib", "", "sabre"), "no weapon called “sabre”"),
        (replace(FOIL, fitted={"socket": "sabre"}), "no socket for it called “sabre”"),
        (replace(FOIL, fitted={"hilt": "two-pin"}), "no slot of the weapon called “hilt”"),
        (replace(FOIL, price=-1), "a price of -0.01"),
    ],
)
def test_an_item_that_cannot_be_is_refused_with_what_can(new: NewItem, seen: str) -> None:
    with pytest.raises(InputError, match=seen):
        checked_item(new)


def test_a_foil_is_mended_in_one_form_that_may_be_sent_twice(store: RegisterStore, foil: RegisteredItem) -> None:
    part = do(store, lambda turn: add_part(turn, NewPart("pressure springs", count=5, price=90)))
    job = opened(store, foil)
    failure = next(name for name in failures_of("weapon", "foil", {}) if name.startswith(SPRING))
    repair = repairs_for(foil)[0]
    work = Work(
        found=(failure,), repairs=(repair,), parts=((part.code, 1),), minutes=12, proof=("the weight is lifted",),
        readings=(measured(foil, "the weapon's circuit, contact to contact", 1.2),), state=JobState.DONE,
    )  # fmt: skip
    first = do(store, lambda turn: record_work(turn, job.id, work, version=job.version, token="f1"))
    again = do(store, lambda turn: record_work(turn, job.id, work, version=job.version, token="f1"))
    assert first == again
    assert [line.kind for line in again.lines] == [LineKind.FOUND, LineKind.REPAIR, LineKind.PART, LineKind.PROOF]
    assert (again.sound, again.minutes, again.done is not None) == (False, 12, True)
    assert store.read(lambda session: part_by_code(session, part.code)).count == 4
    (reading,) = store.read(lambda session: readings_of(session, foil.id))
    assert (reading.job_id, reading.passed, reading.clause) == (job.id, True, "m.5.4.a")


def test_a_form_with_one_slip_in_it_changes_nothing(store: RegisterStore, foil: RegisteredItem) -> None:
    part, job = do(store, lambda turn: add_part(turn, NewPart("springs", count=5))), opened(store, foil)
    slips = (
        Work(parts=((part.code, 2),), found=("weapon point: haunted",)),
        Work(parts=((part.code, 2), ("s0000", 1))),
        Work(parts=((part.code, 2),), minutes=-1),
        Work(parts=((part.code, 2),), steps=("strip the wire",)),
    )
    for work in slips:
        with pytest.raises(InputError):
            do(store, lambda turn, work=work: record_work(turn, job.id, work, version=job.version, token="f"))  # type: ignore[misc]
    assert store.read(lambda session: part_by_code(session, part.code)).count == 5
    failure = next(iter(failures_of("weapon", "foil", {})))
    with pytest.raises(InputError, match="nothing was found"):
        do(store, lambda turn: record_work(turn, job.id, Work(found=(failure,), sound=True), version=1, token="g"))


def test_two_at_one_card_see_each_other(store: RegisterStore, foil: RegisteredItem) -> None:
    job = opened(store, foil)
    do(store, lambda turn: record_work(turn, job.id, Work(minutes=5), version=job.version, token="a"))
    with pytest.raises(ClashError) as clash:
        do(store, lambda turn: record_work(turn, job.id, Work(minutes=9, note="mine"), version=job.version, token="b"))
    assert (clash.value.now["minutes"], clash.value.wanted["minutes"]) == (5, 9)


def test_the_next_job_is_taken_in_hand_in_one_step(store: RegisterStore, foil: RegisteredItem) -> None:
    job = opened(store, foil)
    taken = do(store, lambda turn: begin_next(turn, QueueQuery()))
    assert taken is not None
    assert (taken.id, taken.state) == (job.id, JobState.IN_HAND)
    assert do(store, lambda turn: begin_next(turn, QueueQuery())) is None, "it waits no more"


def test_making_up_new_goes_in_steps_each_once_and_measures_what_the_rules_limit(
    store: RegisterStore, foil: RegisteredItem
) -> None:
    assert set(job_kinds("weapon", "épée")) == {"mend", "check", "new blade", "set up"}
    for kind in kinds().values():
        for weapon in kind.weapons or (None,):
            known = {quantity.name: quantity.lines for quantity in quantities_of(kind.name, weapon)}
            for name in job_kinds(kind.name, weapon):
                making = making_named(name, kind.name, weapon)
                assert all(known[step.measure] == step.lines for step in (making.steps if making else ()) if step.measure)
    job = opened(store, foil, "rewire")
    making = making_named("rewire", "weapon", "foil")
    assert making is not None
    step = making.steps[0].say
    for token in ("a", "b"):
        job = do(store, lambda turn, token=token: record_work(turn, job.id, Work(steps=(step,)), version=None, token=token))  # type: ignore[misc]  # noqa: B023
    assert [line.ref for line in job.lines] == [step]
    with pytest.raises(UnknownNameError, match="kind of job for the weapon"):
        opened(store, foil, "new cord")


def test_a_step_that_ends_with_a_value_is_not_ticked_without_it(store: RegisterStore) -> None:
    cord = do(store, lambda turn: register_item(turn, NewItem("cord", "", "foil")))
    job, making = opened(store, cord, "new cord"), making_named("new cord", "cord", "foil")
    assert making is not None
    step = next(each for each in making.steps if each.measure)

    def ticked(*lines: str) -> Work:
        return Work(steps=(step.say,), readings=tuple(measured(cord, step.measure, 0.3, line=line) for line in lines))

    with pytest.raises(InputError, match=r"ends with a value, and there is none .*of line B and C and write it down"):
        do(store, lambda turn: record_work(turn, job.id, ticked("A"), version=None, token="a"))
    assert store.read(lambda session: readings_of(session, cord.id)) == (), "all of a form or nothing"
    do(store, lambda turn: record_work(turn, job.id, replace(ticked("A", "B"), steps=()), version=None, token="b"))
    done = do(store, lambda turn: record_work(turn, job.id, ticked("C"), version=None, token="c"))
    assert [line.ref for line in done.lines] == [step.say], "values that stand on the card already count"


def test_a_change_of_fittings_is_checked_against_the_kit(store: RegisterStore, foil: RegisteredItem) -> None:
    changed = do(store, lambda turn: revise_item(turn, foil, {"fitted": {"socket": "bayonet"}}, version=foil.version))
    assert store.read(lambda session: item_by_code(session, foil.code)).fitted == changed.fitted == {"socket": "bayonet"}
    assert failures_of("weapon", "foil", changed.fitted) != failures_of("weapon", "foil", {})
    with pytest.raises(InputError, match="no socket for it called “sabre”"):
        do(store, lambda turn: revise_item(turn, changed, {"fitted": {"socket": "sabre"}}, version=None))


@pytest.mark.parametrize(("value", "passed"), [(1.0, True), (1.01, False)])
def test_a_wire_of_a_cord_is_held_against_one_ohm(store: RegisterStore, value: float, passed: bool) -> None:  # noqa: FBT001
    """FIE Material Rules, August 2026, m.29.1.c: at most 1 Ω."""
    cord = do(store, lambda turn: register_item(turn, NewItem("cord", "", "foil")))
    assert measured(cord, "one wire of a body cord", value, line="b").passed is passed
    with pytest.raises(UnknownNameError, match="no line called"):
        measured(cord, "one wire of a body cord", value)
    with pytest.raises(InputError, match="a value of nan"):
        measured(cord, "one wire of a body cord", float("nan"), line="A")


def test_a_map_of_a_lame_is_read_row_by_row() -> None:
    assert map_written("0.4 0,5\n 2 9.1 \n") == ((0.4, 0.5), (2.0, 9.1))
    with pytest.raises(InputError, match="row 2 of the map is “x”"):
        map_written("1 2\nx")


START = datetime(2024, 9, 1, tzinfo=UTC)


def test_students_distribution_is_that_of_a_statistics_library() -> None:
    for freedom in (1, 2, 3, 5, 10, 31):
        for t in (-3.0, 0.0, 0.4, 2.5):
            assert student_chance(t, freedom) == pytest.approx(stats.t.cdf(t, freedom), abs=1e-12)
        assert student_quantile(0.95, freedom) == pytest.approx(stats.t.ppf(0.95, freedom))


@pytest.mark.parametrize("above", [True, False])
def test_creep_is_the_line_and_the_interval_of_a_statistics_library(above: bool) -> None:  # noqa: FBT001
    days = np.array([0.0, 60, 150, 240, 330])
    values = np.array([0.40, 0.47, 0.55, 0.68, 0.74])
    limit, sign = 1.0, 1
    if not above:
        values, limit, sign = 600 - 100 * values, 500.0, -1
    creep = creep_of([(START + timedelta(days=d), v) for d, v in zip(days, values.tolist(), strict=True)], limit, above=above)
    fit = stats.linregress(days, values)
    assert creep is not None
    assert creep.per_year == pytest.approx(fit.slope * 365.25)
    assert creep.crossing is not None
    crossing = (limit - fit.intercept) / fit.slope
    assert (creep.crossing - START) / timedelta(days=1) == pytest.approx(crossing, abs=0.01)
    residual = np.sqrt(np.sum((values - fit.intercept - fit.slope * days) ** 2) / 3)
    for end, side in ((creep.earliest, sign), (creep.latest, -sign)):
        assert end is not None
        t = (end - START) / timedelta(days=1)
        half = stats.t.ppf(0.95, 3) * residual * np.sqrt(1 + 1 / 5 + (t - days.mean()) ** 2 / np.sum((days - days.mean()) ** 2))
        assert fit.intercept + fit.slope * t + side * half == pytest.approx(limit, abs=1e-5 * limit)


def test_creep_says_nothing_where_nothing_can_be_said() -> None:
    at = [START + timedelta(days=30 * n) for n in range(5)]
    assert creep_of(list(zip(at[:3], (0.4, 0.5, 0.6), strict=True)), 1.0, above=True) is None, "three readings"
    assert creep_of(list(zip(at, (0.4, 0.5, 0.6, 0.9, 1.2), strict=True)), 1.0, above=True) is None, "passed already"
    away = creep_of(list(zip(at, (0.8, 0.7, 0.71, 0.6, 0.55), strict=True)), 1.0, above=True)
    assert away is not None
    assert (away.crossing, away.latest) == (None, None)
    assert away.towards < 0.05


def test_items_of_the_left_stand_for_either_side() -> None:
    assert all(not name.startswith(SIDES) for name in failures_of("reel", None, {}))
