"""People: signed in by a PIN or passphrase that cannot be guessed, erased but for what refers to them, handed what is kept."""

from __future__ import annotations

import json
from functools import partial
from threading import Thread
from time import monotonic
from typing import TYPE_CHECKING

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select

from foible.errors import ClashError, InputError, NotFoundError
from foible.records import Base, CaseStore, Database, NewCase
from foible.records.people import GUESSES, NewPerson, Role
from foible.records.people_tables import PersonRow, SignInRow, TrailRow
from foible.records.register import NewItem, RegisterStore, add_item, lend
from foible.records.trail import TrailQuery, TrailStore, Who
from foible.services.register.people import People, SignInError
from foible.services.register.secrets import HASHER, Secrets, check_secret

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.register import Turn

HERE = Who(device="ab12cd")
PIN, OTHER = "480261", "771904"
CHEAP = Secrets(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1))
"""The tests need no slow hash."""
MIRA = NewPerson("Mira Ashgrove", club="Lanternfield", contact="mira@lanternfield.example", login="Mira", role=Role.MANAGE)
"""Invented, like everybody here."""


@pytest.fixture
def people(database_url: str, clock: Callable[[], datetime]) -> Iterator[People]:
    store = RegisterStore(Database(database_url), clock=clock)
    yield People(store, CHEAP, refused_after_s=0)
    store.database.dispose()


def guesses(people: People, count: int, login: str = "mira") -> None:
    for _ in range(count):
        with pytest.raises(SignInError, match="do not belong together"):
            people.sign_in(login, OTHER, by=HERE)


def test_somebody_signs_in_whatever_the_capitals_of_the_login(people: People) -> None:
    assert people.is_open()
    made = people.add(MIRA, PIN, by=HERE)
    assert not people.is_open()
    assert people.sign_in("MIRA ", f" {PIN}", by=HERE).person == made
    assert people.known(made.id) == people.sign_in("mira", PIN, by=HERE)
    with pytest.raises(SignInError, match="do not belong together"):
        people.sign_in("nobody", PIN, by=HERE)


def test_the_secret_is_kept_as_argon2id_alone(people: People) -> None:
    """The parameters are the second choice of RFC 9106, section 4: t = 3, m = 64 MiB, p = 4, salt 128 bits, tag 256 bits."""
    kept = HASHER.hash(PIN)
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert (HASHER.salt_len, HASHER.hash_len) == (16, 32)
    people.add(MIRA, PIN, by=HERE)
    everything = people.store.read(partial(all_of, table=PersonRow))
    assert PIN not in str(everything)
    assert "$argon2id$" in str(everything)


@pytest.mark.parametrize(
    "secret", ["48026", "111111", "123456", "987654", "789012", "121212", "483483", "short words", "aaaaaaaaaaaaaaa", ""]
)
def test_a_secret_that_is_short_or_soon_guessed_is_refused(secret: str) -> None:
    with pytest.raises(InputError):
        check_secret(secret)


@pytest.mark.parametrize("secret", [PIN, "482615379204", "crate lantern oar", "Zoë läuft weit", "48026 hammer"])
def test_six_digits_or_twelve_characters_do(secret: str) -> None:
    assert check_secret(f"  {secret} ") == secret


def test_ten_wrong_tries_lock_a_login_until_a_manager_opens_it(people: People) -> None:
    mira = people.add(MIRA, PIN, by=HERE)
    guesses(people, GUESSES - 1)
    people.sign_in("mira", PIN, by=HERE)  # a right one in between begins anew
    guesses(people, GUESSES)
    with pytest.raises(SignInError, match="or the login is locked"):
        people.sign_in("mira", PIN, by=HERE)
    assert People(people.store, CHEAP).person(mira.id).locked, "also for a process that has counted none of them"
    people.unlock(mira.id, by=HERE)
    assert people.sign_in("mira", PIN, by=HERE).person.locked is None
    assert [each.did for each in TrailStore(people.store.database).stretch()] == ["unlocked", "locked", "made"]


def test_guesses_at_the_same_time_are_all_counted(people: People) -> None:
    """Whoever sends thirty guesses at once has ten, not thirty."""
    people.add(MIRA, PIN, by=HERE)
    compared: list[str] = []

    class Counting(Secrets):
        def opens(self, text: str, kept: str | None) -> bool:
            compared.extend([text] if kept else [])
            return super().opens(text, kept)

    counted = People(people.store, Counting(PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)), refused_after_s=0)

    def guess(number: int) -> None:
        with pytest.raises(SignInError):
            counted.sign_in("mira", f"{number:06}", by=HERE)

    threads = [Thread(target=guess, args=(number,)) for number in range(3 * GUESSES)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(compared) == GUESSES


def test_no_refusal_tells_whether_a_login_exists_or_is_locked(people: People) -> None:
    """The same words, and after the same time: a multiple of what no reason to refuse takes longer than."""
    people.add(MIRA, PIN, by=HERE)
    slow = People(people.store, CHEAP, refused_after_s=0.1)
    guesses(people, GUESSES - 1)
    told: dict[str, str] = {}
    for why, login in (("nobody", "nobody"), ("wrong", "mira"), ("locked", "mira")):
        begun = monotonic()
        with pytest.raises(SignInError) as refused:
            slow.sign_in(login, OTHER, by=HERE)
        told[why] = str(refused.value)
        assert (monotonic() - begun) % 0.1 < 0.05, why
    assert len({*told.values()}) == 1
    assert people.found("mira")[0].locked


def test_whoever_signs_out_is_out_and_a_copy_of_the_session_too(people: People) -> None:
    mira = people.add(MIRA, PIN, by=HERE)
    first, second = (people.begin(mira, by=HERE) for _ in range(2))
    assert people.signed_in(mira.id, first) == people.known(mira.id)
    assert first not in str(people.store.read(partial(all_of, table=SignInRow))), "it is kept as a hash"
    people.end(first, by=HERE)
    people.end(first, by=HERE)
    assert people.signed_in(mira.id, first) is None
    assert people.signed_in(mira.id, second)
    assert people.signed_in(mira.id + 1, second) is None
    ivo = people.add(NewPerson("Ivo Lark", login="ivo", role=Role.MANAGE), OTHER, by=HERE)
    people.erase(mira.id, by=HERE)
    assert people.signed_in(mira.id, second) is None
    assert people.store.read(partial(all_of, table=SignInRow)) == []
    assert people.begin(ivo, by=HERE)


def test_somebody_always_manages_where_anybody_signs_in(people: People) -> None:
    with pytest.raises(InputError, match="nobody could manage"):
        people.add(NewPerson("Ivo Lark", login="ivo", role=Role.WORK), PIN, by=HERE)
    mira = people.add(MIRA, PIN, by=HERE)
    ivo = people.add(NewPerson("Ivo Lark", login="ivo", role=Role.WORK), OTHER, by=HERE)
    for attempt in (
        lambda: people.revise(mira.id, {"role": "look"}, version=mira.version, by=HERE),
        lambda: people.revise(mira.id, {"login": ""}, version=mira.version, by=HERE),
        lambda: people.erase(mira.id, by=HERE),
    ):
        with pytest.raises(InputError, match="nobody could manage"):
            attempt()
    people.revise(ivo.id, {"role": "manage"}, version=ivo.version, by=HERE)
    people.erase(mira.id, by=HERE)
    assert people.sign_in("ivo", OTHER, by=HERE).person.role is Role.MANAGE


def test_two_who_change_one_person_at_once_both_learn_of_it(people: People) -> None:
    mira = people.add(MIRA, PIN, by=HERE)
    people.revise(mira.id, {"club": "Ferry Lane"}, version=mira.version, by=HERE)
    with pytest.raises(ClashError) as clash:
        people.revise(mira.id, {"club": "Millrace"}, OTHER, version=mira.version, by=HERE)
    assert (clash.value.now["club"], clash.value.wanted["club"], clash.value.version) == ("Ferry Lane", "Millrace", 2)
    assert "argon2" not in str(vars(clash.value)), "a clash is shown to people; a secret is not"


def test_logins_are_for_one_person_each_and_a_form_sent_twice_adds_one(people: People) -> None:
    first = people.add(NewPerson("Ferry Lane", "club", token="t1"), by=HERE)
    assert people.add(NewPerson("Ferry Lane", "club", token="t1"), by=HERE) == first
    people.add(MIRA, PIN, by=HERE)
    with pytest.raises(InputError, match="somebody else signs in as “mira”"):
        people.add(NewPerson("Mira Two", login="MIRA", role=Role.WORK), OTHER, by=HERE)
    assert [each.name for each in people.found("ASHGROVE lantern")] == ["Mira Ashgrove"]
    assert people.found("%") == ()


def test_another_secret_takes_the_old_one(people: People) -> None:
    mira = people.add(MIRA, PIN, by=HERE)
    before = people.sign_in("mira", PIN, by=HERE)
    with pytest.raises(SignInError):
        people.change_own_secret(mira, OTHER, "crate lantern oar", by=HERE)
    after = people.change_own_secret(mira, PIN, "crate lantern oar", by=HERE)
    assert after.secret != before.secret
    assert people.known(mira.id) == after
    guesses(people, 1)


def kit_of(people: People, person_id: int) -> None:
    def change(turn: Turn) -> None:
        add_item(turn, NewItem("weapon", "w", "foil", name="Mira Ashgrove’s old foil", owner_id=person_id))
        lent = add_item(turn, NewItem("body cord", "c", "foil"))
        lend(turn, lent.code, person_id, until=None, version=lent.version)

    people.store.write(change, by=Who(person_id, "ab12cd"), what="kit")
    CaseStore(people.store.database, clock=people.store.clock).open(NewCase("foil", "White", fencer="mira ashgrove"))


def test_erasing_empties_the_one_row_with_a_name_and_tells_where_else_it_was_written(people: People) -> None:
    mira = people.add(MIRA, PIN, by=HERE)
    kit_of(people, mira.id)
    people.add(NewPerson("Ivo Lark", login="ivo", role=Role.MANAGE), OTHER, by=HERE)
    found = people.erase(mira.id, by=HERE)
    assert sorted((each.kind, each.field) for each in found) == [("case", "fencer"), ("item", "name")]
    assert people.erase(mira.id, by=HERE) == ()
    erased = people.person(mira.id)
    assert (erased.name, erased.club, erased.contact, erased.login, erased.role) == ("erased", "", "", None, None)
    trail = TrailStore(people.store.database).stretch(TrailQuery(kind="person", ref=mira.id))
    assert [each.did for each in trail] == ["erased", "made"]
    assert people.known(mira.id) is None
    with pytest.raises(SignInError):
        people.sign_in("mira", PIN, by=HERE)
    with pytest.raises(NotFoundError):
        people.revise(mira.id, {"name": "Mira"}, version=None, by=HERE)
    for table in (PersonRow, TrailRow):
        rows = people.store.read(partial(all_of, table=table))
        assert len(rows) > 1
        assert not any("ashgrove" in row.lower() or "mira@" in row for row in rows), table


def all_of(session: Session, table: type[Base]) -> list[str]:
    return [str(tuple(row)) for row in session.execute(select(table.__table__))]


def test_a_person_is_handed_everything_that_refers_to_them_and_no_secret(people: People) -> None:
    mira = people.add(MIRA, PIN, by=HERE)
    kit_of(people, mira.id)
    kept = json.loads(json.dumps(people.export(mira.id)))
    assert kept["person"]["contact"] == "mira@lanternfield.example"
    assert [each["name"] for each in kept["items"]] == ["Mira Ashgrove’s old foil"]
    assert [each["to_id"] for each in kept["loans"]] == [mira.id]
    assert {each["did"] for each in kept["trail"]} >= {"made", "lent"}
    assert "argon2" not in json.dumps(kept)
    refers = {
        table.name
        for table in Base.metadata.tables.values()
        for key in table.foreign_keys
        if key.column is PersonRow.__table__.c.id
    }
    assert refers <= kept.keys(), "a table that refers to people is left out"
