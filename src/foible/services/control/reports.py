"""What the table found, as figures: by test, kind, club and clause, of one competition or of all; and one fencer's sheet.

The figures have no names in them, and clubs of few fencers stand together, so that they can be shown to everybody.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.records.control import (
    EntryOutcome,
    competition_by_id,
    competitions,
    entrant_by_id,
    entrants,
    entries_at,
    entries_of,
    items_at,
    items_of_entrants,
    marks_of,
    standing,
)
from foible.records.people import person_by_id
from foible.rules.requirements import editions, requirements
from foible.services.control.handing import over_quota
from foible.services.control.rejecting import decision_words, found_words, test_words
from foible.services.control.testing import kind_words
from foible.services.transfer.delimited import csv_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from datetime import date, datetime
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.records.control import Competition, ControlEntry, HandedIn
    from foible.rules.requirements import Requirement

__all__ = [
    "FencerSheet", "Line", "SheetItem", "SheetTest", "Tally", "fencer_sheet", "season_tally", "sheet_csv",
    "tally", "tally_csv",
]  # fmt: skip

FEWEST = 3
"""Fencers of a club that is named in figures for everybody; smaller ones stand together."""
SMALL_CLUBS, NO_CLUB = "smaller clubs together", "no club"


@dataclass
class Line:
    """A line of figures: how many were tested, how many of them failed, how many are too close to call or were left out."""

    name: str
    tested: int = 0
    failed: int = 0
    close: int = 0
    left_out: int = 0

    @property
    def share(self) -> float:
        """What part failed, 0 where nothing was tested."""
        return self.failed / self.tested if self.tested else 0.0

    def count(self, outcome: EntryOutcome) -> None:
        """Count one of them."""
        self.tested += outcome is not EntryOutcome.LEFT_OUT
        self.failed += outcome is EntryOutcome.FAIL
        self.close += outcome is EntryOutcome.TOO_CLOSE
        self.left_out += outcome is EntryOutcome.LEFT_OUT


@dataclass(frozen=True)
class Tally:
    """What a table, or all of them, found. Items are counted at their first time over it, tests at every time."""

    title: str
    days: tuple[date, ...]
    edition: str
    decision: str
    """Empty where competitions decided differently."""
    fencers: int
    items: int
    passed: int
    failed: int
    retested: int
    passed_later: int
    """Items that failed at first and passed a later time."""
    groups: Mapping[str, tuple[Line, ...]]
    """Lines by what they are counted by: “by test”, “by kind”, “by club”, “by clause”; most failures first."""


@dataclass(frozen=True)
class SheetTest:
    """A test on a fencer's sheet."""

    what: str
    found: str
    demanded: str
    clause: str
    outcome: EntryOutcome
    note: str


@dataclass(frozen=True)
class SheetItem:
    """An item on a fencer's sheet."""

    item: HandedIn
    words: str
    marks: tuple[str, ...]
    tests: tuple[SheetTest, ...]
    """Of its present attempt, failures first."""


@dataclass(frozen=True)
class FencerSheet:
    """What one fencer handed in and what became of it."""

    competition: Competition
    edition: str
    decision: str
    number: int
    entrant_id: int
    name: str
    club: str
    items: tuple[SheetItem, ...]
    over: tuple[str, ...]
    """Where more was handed in than the rules allow, in words."""
    printed: datetime | None = field(default=None)


def tally(session: Session, number: int, *, overlays: Sequence[Path] = ()) -> Tally:
    """Return what a competition's table found. Raises NotFoundError."""
    return _tally(session, (competition_by_id(session, number),), overlays)


def season_tally(session: Session, *, since: date | None = None, overlays: Sequence[Path] = ()) -> Tally:
    """Return what the tables of all competitions found, or of those since a day."""
    return _tally(session, tuple(each for each in competitions(session) if since is None or each.day >= since), overlays)


def _tally(session: Session, those: Sequence[Competition], overlays: Sequence[Path]) -> Tally:
    items = [item for each in those for item in items_at(session, each.id)]
    entries = [entry for each in those for entry in standing(entries_at(session, each.id))]
    clubs = _clubs(session, those)
    first_failed = {each.control_item_id for each in entries if each.attempt == 1 and each.outcome is EntryOutcome.FAIL}
    decided = [item for item in items if item.passed is not None or item.attempt > 1]
    known = {each.edition: _by_id(each.edition, overlays) for each in those}
    edition_of = {each.id: each.edition for each in those}
    by_item = {item.id: item for item in items}
    decisions = {decision_words(each) for each in those}
    return Tally(
        title=those[0].name if len(those) == 1 else f"{len(those)} competitions",
        days=tuple(sorted(each.day for each in those)),
        edition=", ".join(sorted({editions(overlays).get(each.edition, each.edition) for each in those})),
        decision=decisions.pop() if len(decisions) == 1 else "",
        fencers=sum(len(entrants(session, each.id)) for each in those),
        items=len(items),
        passed=sum(item.id not in first_failed for item in decided),
        failed=sum(item.id in first_failed for item in decided),
        retested=sum(item.attempt > 1 for item in items),
        passed_later=sum(item.id in first_failed and item.passed is True for item in items),
        groups={
            "by test": _lines((_named(known, edition_of, by_item, each)[0], each.outcome) for each in entries),
            "by kind": _lines((kind_words(item.kind, item.weapon), _outcome(item.id in first_failed)) for item in decided),
            "by club": _lines((clubs.get(item.entrant_id, NO_CLUB), _outcome(item.id in first_failed)) for item in decided),
            "by clause": _lines((_named(known, edition_of, by_item, each)[1], each.outcome) for each in entries),
        },
    )


def fencer_sheet(session: Session, number: int, *, overlays: Sequence[Path] = ()) -> FencerSheet:
    """Return the sheet of an entrant. Raises NotFoundError."""
    entrant = entrant_by_id(session, number)
    competition, person = competition_by_id(session, entrant.competition_id), person_by_id(session, entrant.person_id)
    known = _by_id(competition.edition, overlays)
    items = items_of_entrants(session, [number])[number]
    return FencerSheet(
        competition=competition,
        edition=editions(overlays).get(competition.edition, competition.edition),
        decision=decision_words(competition),
        number=entrant.number,
        entrant_id=number,
        name=f"fencer {entrant.number}" if person.erased else person.name,
        club=person.club,
        items=tuple(
            SheetItem(
                item,
                kind_words(item.kind, item.weapon),
                tuple(each.what for each in marks_of(session, item.id) if each.attempt == item.attempt),
                _tests(known, standing(entries_of(session, item.id, attempt=item.attempt))),
            )
            for item in items
        ),
        over=tuple(str(each) for each in over_quota(competition.edition, items, overlays)),
    )


def tally_csv(found: Tally) -> bytes:
    """Return figures as CSV; no cell comes alive as a formula."""
    rows = [(by.removeprefix("by "), line.name, *_figures(line)) for by, lines in found.groups.items() for line in lines]
    return csv_of(("by", "name", "tested", "failed", "share failed", "too close to call", "left out"), rows)


def sheet_csv(sheet: FencerSheet) -> bytes:
    """Return a fencer's sheet as CSV; no cell comes alive as a formula."""
    nothing = (SheetTest("", "", "", "", EntryOutcome.LEFT_OUT, "not tested yet"),)
    rows = [
        (*_of_item(each), test.what, test.found, test.demanded, test.clause, test.outcome.value, test.note)
        for each in sheet.items
        for test in each.tests or nothing
    ]
    heads = ("item", "what", "state", "time over the table", "test", "found", "demanded", "clause", "outcome", "note")
    return csv_of(heads, rows)


def _figures(line: Line) -> tuple[str, ...]:
    return str(line.tested), str(line.failed), f"{line.share:.4f}", str(line.close), str(line.left_out)


def _of_item(each: SheetItem) -> tuple[str, ...]:
    return str(each.item.number), each.words, each.item.state.value, str(each.item.attempt)


def _clubs(session: Session, those: Iterable[Competition]) -> dict[int, str]:
    """Return by entrant the club that figures for everybody name."""
    members: dict[str, set[int]] = {}
    club_of = {}
    for each in those:
        for entrant in entrants(session, each.id):
            club = person_by_id(session, entrant.person_id).club or NO_CLUB
            club_of[entrant.id] = club
            members.setdefault(club, set()).add(entrant.person_id)
    return {
        entrant: club if len(members[club]) >= FEWEST or club == NO_CLUB else SMALL_CLUBS for entrant, club in club_of.items()
    }


def _lines(counted: Iterable[tuple[str, EntryOutcome]]) -> tuple[Line, ...]:
    lines: dict[str, Line] = {}
    for name, outcome in counted:
        lines.setdefault(name, Line(name)).count(outcome)
    return tuple(sorted(lines.values(), key=lambda line: (-line.failed, -line.share, line.name)))


def _outcome(failed: bool) -> EntryOutcome:  # noqa: FBT001 — one fact
    return EntryOutcome.FAIL if failed else EntryOutcome.PASS


def _by_id(edition: str, overlays: Sequence[Path]) -> dict[str, Requirement]:
    return {each.id: each for each in requirements(edition, overlays=overlays)}


def _named(
    known: Mapping[str, Mapping[str, Requirement]],
    edition_of: Mapping[int, str],
    items: Mapping[int, HandedIn],
    entry: ControlEntry,
) -> tuple[str, str]:
    """Return what a test is called in figures, and its clause."""
    item = items[entry.control_item_id]
    requirement = known[edition_of[item.competition_id]].get(entry.requirement)
    if requirement is None:
        return entry.requirement, "own rules"
    return f"{kind_words(item.kind, item.weapon)}: {requirement.quantity}", requirement.clause


def _tests(known: Mapping[str, Requirement], entries: Iterable[ControlEntry]) -> tuple[SheetTest, ...]:
    found = []
    for each in entries:
        requirement = known.get(each.requirement)
        unit = requirement.unit if requirement else ""
        what = test_words(requirement, each.line) if requirement else each.requirement
        demanded = requirement.figure if requirement and requirement.has_figure else ""
        found.append(
            SheetTest(what, found_words(each, unit), demanded, requirement.clause if requirement else "", each.outcome, each.note)
        )
    return tuple(sorted(found, key=lambda test: test.outcome is EntryOutcome.PASS))
