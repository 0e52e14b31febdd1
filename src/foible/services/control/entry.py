"""What somebody found at a station in; out, tests for the records, each with its verdict, and what the item comes to by them.

A reading is held against its limit with the uncertainty of the instrument, by the rule that was chosen for the competition. What
is judged without a figure is good or bad. A test that has to be made is entered or left out with a reason, never passed over.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.control.conformity import DecisionRule, conformity, decided
from foible.control.shims import tolerance_of
from foible.errors import InputError
from foible.records.control import (
    EntryOutcome,
    HandedInState,
    NewControlEntry,
    StationDoes,
    add_entries,
    change_handed_in,
    clashes,
    competition_by_id,
    entries_of,
    handed_in_by_id,
    instruments_of,
    lock_item,
    no_such_item,
    reject,
    standing,
)
from foible.services.control.instruments import instrument_for, near_limit
from foible.services.control.taught import DECIDED, taught_of_late
from foible.services.control.testing import what_to_test
from foible.services.control.verdicts import EVER, NEVER

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from foible.control.conformity import Conformity
    from foible.records.control import Competition, ControlEntry, HandedIn, Instrument, LockedItem
    from foible.records.register import Turn
    from foible.rules.requirements import Requirement
    from foible.services.control.taught import Taught, TaughtOfLate
    from foible.services.control.testing import ToTest

__all__ = [
    "Entered", "Found", "Told", "come_to", "decide", "enter", "entry_for", "missing", "uncertainty_of", "verdict_on",
]  # fmt: skip

MOST = 1e6
"""The largest figure that is kept."""
UNMEASURED = 0.01
"""Of the limit, where no usual instrument reads its unit, such as newtons: judgement, no source."""


@dataclass(frozen=True)
class Found:
    """What was found in one test: a figure, or good or bad, or that it was left out and why."""

    reading: float | None = None
    good: bool | None = None
    left_out: bool = False
    note: str = ""

    @property
    def says_something(self) -> bool:
        """Whether anything was entered."""
        return self.reading is not None or self.good is not None or self.left_out


@dataclass(frozen=True)
class Told:
    """What a station says of an item: what it found by test, the version it had before it, when it took the item up."""

    found: Mapping[tuple[str, str], Found]
    seen: int
    began: datetime
    token: str
    station_id: int | None = None
    rest_is_good: bool = False
    """Whether every test without a figure that is not named was made and is good."""
    competition_id: int | None = None
    """Where the item is thought to be handed in; an item of another competition is then unknown."""


@dataclass(frozen=True)
class Entered:
    """An item as it stands once something was entered."""

    item: HandedIn
    missing: tuple[ToTest, ...]
    """What the station still has to test of it."""
    unsettled: bool
    """Whether stations differ, or a reading is too close to call."""
    does: StationDoes
    """What the station does."""


def enter(turn: Turn, number: int, told: Told, *, overlays: Sequence[Path] = ()) -> Entered:
    """Keep what a station found on an item and return how it stands then; the same form sent again changes nothing.

    Raises NotFoundError, and InputError for figures that cannot be, for a test that this item does not have, and for nothing.
    """
    locked = lock_item(turn.session, number, token=told.token, station_id=told.station_id)
    competition = locked.competition
    if told.competition_id not in (None, competition.id):
        raise no_such_item(number)
    if competition.state != "open":
        raise InputError(seen=f"{competition.name} is closed", remedy="open it again on its page “set up” first")
    does = locked.station.does if locked.station else StationDoes.ALL
    new = () if locked.brought else _verdicts(turn, locked, told, does, overlays=overlays)
    counts = add_entries(turn, locked, new, seen=told.seen, began=told.began)
    item = come_to(turn, number, overlays=overlays, entries=counts)
    left = missing(competition, item, counts, does, overlays=overlays)
    close = any(each.outcome is EntryOutcome.TOO_CLOSE for each in counts)
    return Entered(item, left, unsettled=close or bool(clashes(counts)), does=does)


def _verdicts(
    turn: Turn, locked: LockedItem, told: Told, does: StationDoes, *, overlays: Sequence[Path]
) -> tuple[NewControlEntry, ...]:
    """Return what was found, each with its verdict. Raises InputError for an unknown test, and where nothing was found."""
    item, competition = locked.item, locked.competition
    every = what_to_test(competition.edition, item.kind, item.weapon, every=True, overlays=overlays)
    known = {each.test: each for each in every}
    unknown = next((test for test in told.found if test not in known), None)
    if unknown:
        raise InputError(seen=f"“{unknown[0]}” is no test of this item", remedy="reload the page: the edition may have changed")
    found = {test: each for test, each in told.found.items() if each.says_something}
    if told.rest_is_good:
        tested = {each.test for each in standing(locked.there)}
        found |= {
            each.test: Found(good=True)
            for each in what_to_test(competition.edition, item.kind, item.weapon, does, overlays=overlays)
            if each.test not in found and each.test not in tested and not each.typed
        }
    if not found:
        raise InputError(seen="nothing was entered", remedy="type a reading, or say what is good or bad")
    typed = any(each.reading is not None for each in found.values())
    instruments = instruments_of(turn.session, competition.id) if typed else ()
    late = taught_of_late(turn.session)
    return tuple(entry_for(known[test], each, competition, instruments, late) for test, each in found.items())


def decide(  # noqa: PLR0913 — which test, who says so, and what
    turn: Turn, number: int, test: tuple[str, str], told: Told, *, good: bool, overlays: Sequence[Path] = ()
) -> HandedIn:
    """Keep what the officials decide of a test that was too close to call. Raises InputError where it is not."""
    locked = lock_item(turn.session, number, token=told.token, station_id=told.station_id)
    there = standing(locked.there)
    close = next((each for each in reversed(there) if each.test == test and each.outcome is EntryOutcome.TOO_CLOSE), None)
    if close is None:
        raise InputError(seen="that test is not too close to call", remedy="look at the item again")
    outcome = EntryOutcome.PASS if good else EntryOutcome.FAIL
    new = NewControlEntry(
        close.requirement, outcome, close.reading, close.line, close.conforms, close.u, close.instrument_id, DECIDED
    )
    add_entries(turn, locked, [new], seen=told.seen, began=told.began)
    return come_to(turn, number, overlays=overlays)


def entry_for(
    to_test: ToTest, found: Found, competition: Competition, instruments: Sequence[Instrument], late: TaughtOfLate
) -> NewControlEntry:
    """Return what was found in a test, with its verdict. Raises InputError for a figure that cannot be."""
    requirement, note = to_test.requirement, " ".join(found.note.split())[:200]
    if found.left_out:
        if not note:
            raise InputError(seen=f"{to_test.words} was left out without a word", remedy="say why it was left out")
        return NewControlEntry(requirement.id, EntryOutcome.LEFT_OUT, line=to_test.line, note=note)
    if found.reading is None:
        if to_test.typed and found.good:
            raise InputError(seen=f"{to_test.words} has no figure", remedy="type the figure, or leave it out and say why")
        outcome = EntryOutcome.PASS if found.good else EntryOutcome.FAIL
        return NewControlEntry(requirement.id, outcome, line=to_test.line, note=note)
    if not requirement.has_figure:
        raise InputError(seen=f"{to_test.words} takes no figure", remedy="say whether it is good or bad")
    if not math.isfinite(found.reading) or not 0 <= found.reading <= MOST:
        raise InputError(
            seen=f"{to_test.words}: {found.reading:g} {requirement.unit}", remedy=f"give a number from 0 to {MOST:g}"
        )
    u, instrument = uncertainty_of(requirement, instruments)
    taught = late.at(requirement, found.reading, u)
    said, by = verdict_on(requirement, found.reading, u, competition, taught)
    outcome, note = EntryOutcome(said.outcome), "; ".join(each for each in (note, by) if each)[:200]
    return NewControlEntry(requirement.id, outcome, found.reading, to_test.line, said.conforms, u, instrument, note)


def verdict_on(
    requirement: Requirement, reading: float, u: float, competition: Competition, taught: Taught | None = None
) -> tuple[Conformity, str]:
    """Return what a reading comes to against its limit, by the rule of the competition, and what its chance rests on.

    That is empty where nothing was known of the items, or the chance hangs on nothing.
    """
    tolerance, rule = tolerance_of(requirement), DecisionRule(competition.decision)
    conforms = taught.conforms(reading, tolerance) if taught else None
    if taught is None or conforms is None:
        return conformity(reading, u, tolerance, rule=rule, risk=competition.risk), ""
    said = decided(reading, conforms, tolerance, rule=rule, risk=competition.risk)
    return said, taught.words if NEVER < conforms < EVER else ""


def uncertainty_of(requirement: Requirement, instruments: Iterable[Instrument]) -> tuple[float, int | None]:
    """Return the standard uncertainty of a reading near a limit [the requirement's unit], and the instrument's id.

    An instrument of the same tool is taken; failing that, one as they usually are, and the id is None.
    """
    near = near_limit(requirement)
    instrument, number = instrument_for(requirement, instruments)
    return (instrument.uncertainty(near) if instrument else UNMEASURED * near), number


def missing(
    competition: Competition,
    item: HandedIn,
    entries: Iterable[ControlEntry],
    does: StationDoes = StationDoes.ALL,
    *,
    overlays: Sequence[Path] = (),
) -> tuple[ToTest, ...]:
    """Return the tests that have to be made at a station and of which nothing is entered in the present attempt."""
    there = {each.test for each in standing(entries) if each.attempt == item.attempt}
    to_make = what_to_test(competition.edition, item.kind, item.weapon, does, overlays=overlays)
    return tuple(each for each in to_make if each.test not in there)


def come_to(turn: Turn, number: int, *, overlays: Sequence[Path] = (), entries: Sequence[ControlEntry] | None = None) -> HandedIn:
    """Put an item into the state that its tests come to, and have the form ready where it failed. Returns it.

    `entries` are those that count now, where they are known already.
    """
    item = handed_in_by_id(turn.session, number)
    if not item.state.in_the_room or item.state is HandedInState.KEPT_BACK:
        return item
    competition = competition_by_id(turn.session, item.competition_id)
    if entries is None:
        entries = standing(entries_of(turn.session, number, attempt=item.attempt))
    outcomes = {each.outcome for each in entries}
    open_still = clashes(entries) or EntryOutcome.TOO_CLOSE in outcomes
    if EntryOutcome.FAIL in outcomes and not _only_in_clashes(entries):
        state, passed = HandedInState.FAILED, False
    elif open_still or missing(competition, item, entries, overlays=overlays):
        state, passed = HandedInState.AT_TABLE, None
    else:
        state, passed = HandedInState.PASSED, True
    decided = None if passed is None else item.decided or turn.at
    if (state, passed) != (item.state, item.passed):
        wanted = {"state": state, "passed": passed, "decided": decided}
        item = change_handed_in(turn, number, wanted, version=None, held=True)
    if state is HandedInState.FAILED:
        reject(turn, number)
    return item


def _only_in_clashes(entries: Sequence[ControlEntry]) -> bool:
    """Return whether each failure is contradicted by another entry that counts, so that nothing is decided yet."""
    disputed = {each.id for those in clashes(entries) for each in those}
    return all(each.id in disputed for each in entries if each.outcome is EntryOutcome.FAIL)
