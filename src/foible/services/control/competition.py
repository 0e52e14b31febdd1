"""A competition at the table: opened with what decides at it, and how it stands at a glance."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.control.conformity import DecisionRule
from foible.errors import InputError, UnknownNameError
from foible.records.control import (
    EntryOutcome,
    HandedInState,
    NewCompetition,
    NewInstrument,
    add_competition,
    add_instrument,
    clashes,
    competition_by_id,
    entrants,
    entries_at,
    instruments_of,
    items_at,
    marks_at,
    standing,
    stations_of,
)
from foible.rules.requirements import USUAL_EDITION, editions
from foible.services.control.testing import work_of_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.records.control import Competition, ControlEntry, Entrant, HandedIn, Station
    from foible.records.register import Turn

__all__ = ["USUAL_DECISION", "USUAL_RISK", "Overview", "checked_choice", "open_competition", "overview", "usual"]

USUAL_DECISION, USUAL_RISK = DecisionRule.PLAIN.value, 0.05
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
        for each in work_of_table().typical:
            add_instrument(turn, made.id, NewInstrument(each.name, each.tool, each.unit, each.u, {"judgement": each.u}))
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


def usual(name: str, day: date, *, token: str | None = None) -> NewCompetition:
    """Return a competition as most are: today's rules, plain limits."""
    return NewCompetition(name, day, USUAL_EDITION, USUAL_DECISION, USUAL_RISK, token)


def overview(session: Session, number: int) -> Overview:
    """Return how a competition stands. Raises NotFoundError."""
    competition = competition_by_id(session, number)
    items, entries = items_at(session, number), standing(entries_at(session, number))
    attempt = {item.id: item.attempt for item in items}
    now: list[ControlEntry] = [each for each in entries if each.attempt == attempt[each.control_item_id]]
    by_item: dict[int, list[ControlEntry]] = {}
    for each in now:
        by_item.setdefault(each.control_item_id, []).append(each)
    disputed = {
        number
        for number, those in by_item.items()
        if clashes(those) or any(each.outcome is EntryOutcome.TOO_CLOSE for each in those)
    }
    marked = {(each.control_item_id, each.attempt) for each in marks_at(session, competition.id)}
    return Overview(
        competition=competition,
        stations=stations_of(session, number, open_only=True),
        entrants={each.id: each for each in entrants(session, number)},
        items=items,
        counts=Counter(item.state for item in items),
        retests=sum(item.attempt > 1 and item.state.to_test for item in items),
        unmarked=tuple(item for item in items if item.state is HandedInState.PASSED and (item.id, item.attempt) not in marked),
        to_settle=tuple(item for item in items if item.id in disputed and item.state.in_the_room and item.passed is not False),
    )
