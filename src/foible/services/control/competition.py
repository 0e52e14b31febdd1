"""A competition at the table: opened with what decides at it, and how it stands at a glance."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.control.conformity import DecisionRule
from foible.errors import InputError, UnknownNameError
from foible.records.control import (
    EntryOutcome,
    HandedInState,
    NewCompetition,
    NewInstrument,
    StationDoes,
    add_competition,
    add_instrument,
    clashes,
    competition_by_id,
    entrants,
    entries_of_items,
    instruments_of,
    items_at,
    standing,
    stations_of,
    unmarked_items,
    untouched_by,
)
from foible.rules.requirements import USUAL_EDITION, editions
from foible.services.control.entry import missing
from foible.services.control.instruments import one_of_each_tool
from foible.services.control.testing import what_to_test, work_of_table

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.records.control import Competition, ControlEntry, Entrant, HandedIn, Station
    from foible.records.register import Turn

__all__ = [
    "DECISIONS", "USUAL_DECISION", "USUAL_RISK", "Overview", "checked_choice", "edition_titles", "next_items", "open_competition",
    "overview", "unsettled", "usual",
]  # fmt: skip

USUAL_DECISION, USUAL_RISK = DecisionRule.PLAIN.value, 0.05
DECISIONS = {each.value: each.say for each in DecisionRule}
"""The decision rules by their words, and what each does."""
LARGEST_RISK = 0.5


@dataclass(frozen=True)
class Overview:
    """How a competition stands."""

    competition: Competition
    stations: tuple[Station, ...]
    """Those that are open."""
    entrants: Mapping[int, Entrant]
    items: tuple[HandedIn, ...]
    counts: Mapping[HandedInState, int]
    retests: int
    """Items on their second time over the table or a later one."""
    unmarked: tuple[HandedIn, ...]
    """Items that passed and have no mark yet."""
    to_settle: tuple[HandedIn, ...]
    """Items where stations differ, or that a reading leaves too close to call."""

    @property
    def in_the_room(self) -> int:
        """How many items their fencers have not got back."""
        return sum(count for state, count in self.counts.items() if state.in_the_room)

    @property
    def to_test(self) -> int:
        """How many items are still to be tested."""
        return sum(count for state, count in self.counts.items() if state.to_test)


def open_competition(turn: Turn, new: NewCompetition, *, overlays: Sequence[Path] = ()) -> Competition:
    """Open a competition with instruments as such tools usually are. Raises InputError and UnknownNameError."""
    checked_choice(new.edition, new.decision, new.risk, overlays)
    made = add_competition(turn, new)
    if not instruments_of(turn.session, made.id):
        for each in one_of_each_tool():
            add_instrument(turn, made.id, NewInstrument(each.name, each.tool, each.unit, each.uncertainty(0), each.made_up_of))
    return made


def checked_choice(edition: str, decision: str, risk: float, overlays: Sequence[Path] = ()) -> None:
    """Refuse an edition or a decision rule that there is not, or a risk that is none. Raises InputError."""
    known = editions(overlays)
    if edition not in known:
        raise UnknownNameError(what="edition of the rules", name=edition, known=known, all_named=True)
    if decision not in {each.value for each in DecisionRule}:
        raise UnknownNameError(what="decision rule", name=decision, known=[each.value for each in DecisionRule], all_named=True)
    if not 0 < risk < LARGEST_RISK:
        raise InputError(seen=f"a risk of {risk:g}", remedy="give one above 0 and below 0.5, such as 0.05")


def edition_titles(overlays: Sequence[Path] = ()) -> Mapping[str, str]:
    """Return the editions of the rules that can be chosen, title by name."""
    return editions(overlays)


def usual(name: str, day: date, *, token: str | None = None) -> NewCompetition:
    """Return a competition as most are: today's rules, plain limits."""
    return NewCompetition(name, day, USUAL_EDITION, USUAL_DECISION, USUAL_RISK, token)


def overview(session: Session, number: int) -> Overview:
    """Return how a competition stands. Raises NotFoundError."""
    competition = competition_by_id(session, number)
    items = items_at(session, number)
    on_it = {item.id: item for item in items if item.state is HandedInState.AT_TABLE}
    entries = entries_of_items(session, on_it)
    disputed = {each for each, item in on_it.items() if unsettled(item, entries[each])}
    return Overview(
        competition=competition,
        stations=stations_of(session, number, open_only=True),
        entrants={each.id: each for each in entrants(session, number)},
        items=items,
        counts=Counter(item.state for item in items),
        retests=sum(item.attempt > 1 and item.state.to_test for item in items),
        unmarked=unmarked_items(session, number),
        to_settle=tuple(item for item in items if item.id in disputed),
    )


def unsettled(item: HandedIn, entries: Iterable[ControlEntry]) -> bool:
    """Return whether stations differ about an item, or a reading leaves it too close to call, in its present attempt."""
    now = [each for each in standing(entries) if each.attempt == item.attempt]
    return bool(clashes(now)) or any(each.outcome is EntryOutcome.TOO_CLOSE for each in now)


def next_items(session: Session, station: Station, *, overlays: Sequence[Path] = (), limit: int = 12) -> tuple[HandedIn, ...]:
    """Return what waits for a station: what it has not tested yet, or what passed and wants its mark, retests last (m.41.2).

    Stations that do the same begin at different items, so that two people seldom take up one.
    """
    competition = competition_by_id(session, station.competition_id)
    found: list[HandedIn] = []
    if station.does in (StationDoes.MARKS, StationDoes.ALL):
        found += unmarked_items(session, competition.id, limit=limit)
    kinds, offset = _kinds_tested(competition.edition, station.does, tuple(overlays)), 0
    while len(found) < limit:
        some = untouched_by(session, competition.id, station.does.value, kinds, limit=limit, offset=offset)
        found += _waiting(session, competition, some, station, overlays)
        offset += limit
        if len(some) < limit:
            break
    if not found:  # what somebody began and left
        found += _waiting(session, competition, items_at(session, competition.id, HandedInState.AT_TABLE), station, overlays)
    alike = [each.id for each in stations_of(session, competition.id, open_only=True) if each.does is station.does]
    place, count = (alike.index(station.id), len(alike)) if station.id in alike else (0, 1)
    first = [item for at, item in enumerate(found) if at % count == place]
    rest = [item for at, item in enumerate(found) if at % count != place]
    return tuple((first + rest)[:limit])


def _waiting(
    session: Session, competition: Competition, some: Sequence[HandedIn], station: Station, overlays: Sequence[Path]
) -> list[HandedIn]:
    """Return those of some items of which a station still has to test something."""
    entries = entries_of_items(session, [item.id for item in some if item.state is HandedInState.AT_TABLE])
    return [item for item in some if missing(competition, item, entries.get(item.id, ()), station.does, overlays=overlays)]


@lru_cache(maxsize=64)
def _kinds_tested(edition: str, does: StationDoes, overlays: tuple[Path, ...]) -> tuple[str, ...]:
    """Return the kinds of item of which a station tests anything."""
    kinds = work_of_table().hands_in
    return tuple(kind for kind in kinds if what_to_test(edition, kind, None, does, overlays=overlays))
