"""Fencers and what they hand in: entered, counted against the quotas, handed back, handed in again for a retest."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.records.control import (
    HandedInState,
    NewEntrant,
    NewHandedIn,
    add_entrant,
    add_mark,
    change_handed_in,
    hand_in,
    handed_in_by_id,
    steps_of,
    tick_step,
)
from foible.records.people import NewPerson, add_person, people_found
from foible.records.register import item_by_code
from foible.rules.requirements import requirements
from foible.services.control.testing import kind_words, work_of_table
from foible.services.register.kinds import kind_named

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.records.control import Entrant, HandedIn
    from foible.records.register import Turn
    from foible.rules.requirements import Requirement

__all__ = [
    "OverQuota", "enter_fencer", "hand_back", "keep_back", "mark", "over_quota", "quota_of", "retest", "take_in", "tick",
    "unticked_of",
]  # fmt: skip

PEOPLE_AT_ONCE = 200
"""People of one name among whom the club decides."""


@dataclass(frozen=True)
class OverQuota:
    """That somebody hands in more of a kind than the rules allow."""

    kind: str
    words: str
    count: int
    most: int
    clause: str

    def __str__(self) -> str:
        return f"{self.count} {self.words} handed in, {self.most} at most ({self.clause})"


def quota_of(edition: str, kind: str, overlays: Sequence[Path] = ()) -> Requirement | None:
    """Return the requirement that counts items of a kind; None where none does."""
    name = work_of_table().quotas.get(kind)
    return next((each for each in requirements(edition, kind="hand-in", overlays=overlays) if each.id == name), None)


def over_quota(edition: str, items: Iterable[HandedIn], overlays: Sequence[Path] = ()) -> tuple[OverQuota, ...]:
    """Return where one fencer's items are more than the rules allow."""
    found = []
    for kind, count in Counter(item.kind for item in items).items():
        quota = quota_of(edition, kind, overlays)
        if quota is not None and quota.upper is not None and not quota.kept(count):
            found.append(OverQuota(kind, quota.unit, count, int(quota.upper), quota.clause))
    return tuple(found)


def enter_fencer(
    turn: Turn, competition: int, person: NewPerson, *, weapons: Sequence[str] = (), number: int | None = None
) -> Entrant:
    """Enter a fencer; who is among the people by the same name and club already is that person. Raises InputError."""
    name = " ".join(person.name.split())
    same = [
        each
        for each in people_found(turn.session, name, limit=PEOPLE_AT_ONCE)
        if (each.name.casefold(), each.club.casefold()) == (name.casefold(), person.club.strip().casefold())
    ]
    known = same[0] if same else add_person(turn, person)
    return add_entrant(turn, competition, NewEntrant(known.id, tuple(weapons), number, token=person.token))


def take_in(turn: Turn, entrant: int, new: NewHandedIn, *, code: str = "") -> HandedIn:
    """Take an item in; by the code of a label it is the register's, and its kind and weapon need not be named.

    Raises NotFoundError for a code that nothing bears, and UnknownNameError and InputError for what is not handed in.
    """
    kind, weapon, number = new.kind, new.weapon, new.item_id
    if code:
        item = item_by_code(turn.session, code)
        kind, weapon, number = item.kind, item.weapon, item.id
    named = kind_named(kind)
    known = named.weapons or kind_named("weapon").weapons
    if (named.weapons and weapon not in known) or (weapon and weapon not in known):
        if weapon or len(named.weapons) > 1:
            remedy = f"say which: {', '.join(known)}"
            raise InputError(seen=f"a {named.words}{f' for {weapon}' if weapon else ' without a weapon'}", remedy=remedy)
        weapon = named.weapons[0]
    if named.name not in work_of_table().hands_in:
        those = ", ".join(kind_words(each, None) for each in work_of_table().hands_in)
        raise InputError(seen=f"fencers do not hand in a {named.words}", remedy=f"they hand in: {those}")
    return hand_in(turn, entrant, NewHandedIn(named.name, weapon, number, new.token))


def mark(turn: Turn, number: int, *, station_id: int | None = None, token: str | None = None) -> HandedIn:
    """Note the mark that an item which passed is given. Raises InputError where it has not passed."""
    item = handed_in_by_id(turn.session, number)
    if item.state is not HandedInState.PASSED:
        remedy = "make the tests that are missing first" if item.state.to_test else "mark only what passed"
        raise InputError(seen=f"this item is {item.state.value}, not passed", remedy=remedy)
    what = work_of_table().marks.get(item.kind, "mark")
    add_mark(turn, number, what, began=turn.at, station_id=station_id, token=token)
    return handed_in_by_id(turn.session, number)


def hand_back(turn: Turn, number: int, *, version: int | None) -> HandedIn:
    """Hand an item back to its fencer. Raises ClashError, and InputError where the rules ask for something first."""
    item = handed_in_by_id(turn.session, number)
    if item.state is HandedInState.HANDED_BACK:
        return item
    left = unticked_of(turn.session, item)
    if item.state is HandedInState.FAILED and left:
        raise InputError(seen=f"not done yet: {'; '.join(left)}", remedy="do that first, and tick it")
    wanted = {"state": HandedInState.HANDED_BACK, "handed_back": turn.at}
    return change_handed_in(turn, number, wanted, version=version)


def keep_back(turn: Turn, number: int, *, version: int | None) -> HandedIn:
    """Note that an item which failed stays with the officials. Raises ClashError and InputError."""
    item = handed_in_by_id(turn.session, number)
    if item.state is not HandedInState.FAILED:
        raise InputError(seen=f"this item is {item.state.value}", remedy="only what failed is kept back")
    return change_handed_in(turn, number, {"state": HandedInState.KEPT_BACK}, version=version)


def retest(turn: Turn, number: int, *, version: int | None) -> HandedIn:
    """Take an item that failed in again: all of it is tested once more, after everybody's first time (m.38.5, m.41.2).

    Raises ClashError, and InputError for what has not failed or is never used again.
    """
    item = handed_in_by_id(turn.session, number)
    procedure = work_of_table().procedure_for(item.kind)
    if item.passed is not False:
        raise InputError(seen=f"this item is {item.state.value}", remedy="only what failed is tested again")
    if procedure is not None and not work_of_table().comes_again(item.kind):
        seen = f"a {kind_words(item.kind, item.weapon)} that failed ({procedure.clause})"
        raise InputError(seen=seen, remedy="it is not tested again, because it is not used again")
    wanted = {"state": HandedInState.HANDED_IN, "attempt": item.attempt + 1, "passed": None, "decided": None}
    return change_handed_in(turn, number, wanted | {"handed_in": turn.at, "handed_back": None}, version=version)


def tick(turn: Turn, number: int, step: str) -> HandedIn:
    """Tick a step of what the rules have done to an item that failed. Raises InputError for a step that there is not."""
    item = handed_in_by_id(turn.session, number)
    procedure = work_of_table().procedure_for(item.kind)
    if procedure is None or item.passed is not False or step not in {each.id for each in procedure.step}:
        raise InputError(seen="there is no such step for this item", remedy="reload the page")
    tick_step(turn, number, step)
    return item


def unticked_of(session: Session, item: HandedIn) -> tuple[str, ...]:
    """Return what the rules still ask to be done to an item that failed, in words."""
    procedure = work_of_table().procedure_for(item.kind)
    done = {each.step for each in steps_of(session, item.id) if each.attempt == item.attempt}
    return tuple(each.say for each in procedure.step if each.id not in done) if procedure else ()
