"""What an address asks of the list of cases in, one stretch of that list with the addresses of its neighbours out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Annotated, Literal
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import Depends, Query, Request

from foible.errors import InputError
from foible.kit import weapon_names
from foible.records import CaseQuery, CaseState, Heads
from foible.web.shared import MovedError, cases_of, names_of

if TYPE_CHECKING:
    from foible.records import CaseHead

__all__ = ["FARTHEST", "Search", "Searched", "Stretch"]

FARTHEST = 1_000_000
"""The greatest offset that an address may give."""
Blank = Literal[""]
"""What a form sends for a field left empty."""
Words = Annotated[
    str, Query(max_length=100, description="Words that all occur in a case's title, complaint, source, item, weapon or ID")
]
WeaponName = Annotated[str, Query(max_length=20, description=", ".join(weapon_names()))]
State = Annotated[CaseState | Blank, Query(description="Whether cases are open or closed")]
Day = r"^([0-9]{4}-[0-9]{2}-[0-9]{2})?$"
Since = Annotated[str, Query(pattern=Day, description="Cases last changed on this day or later, as in 2026-10-03")]
Until = Annotated[str, Query(pattern=Day, description="Cases last changed on this day or earlier")]
Zone = Annotated[
    str, Query(max_length=60, description="The time zone of these days, as in Europe/Paris; by default that of Foible's machine")
]


@dataclass(frozen=True)
class Stretch:
    """One stretch of a list of cases."""

    cases: tuple[CaseHead, ...]
    total: int
    first: int
    """The place of its first case in the list, from 1."""
    newer: str | None
    """The address of the stretch before it."""
    older: str | None

    @property
    def last(self) -> int:
        """The place of its last case."""
        return self.first + len(self.cases) - 1


@dataclass(frozen=True)
class Search:
    """What to search for. `weapon` is as the kit names it."""

    words: str = ""
    weapon: str | None = None
    state: CaseState | None = None
    since: date | None = None
    until: date | None = None
    zone: ZoneInfo | None = None
    """The time zone of these days; None is that of this machine."""

    @property
    def query(self) -> CaseQuery:
        """The query for the records."""
        return CaseQuery(self.words, self.weapon, self.state or CaseState.ALL, self.since, self.until, self.zone)

    def address(self, offset: int = 0) -> str:
        """Return the address of the start page that shows the list from a place on."""
        given = {
            "words": self.words,
            "weapon": self.weapon,
            "state": self.state and self.state.value,
            "since": self.since,
            "until": self.until,
            "zone": self.zone and self.zone.key,
            "offset": offset,
        }
        return "/?" + urlencode({key: value for key, value in given.items() if value})

    def stretch(self, heads: Heads, offset: int, limit: int) -> Stretch:
        """Return these heads as a stretch of the list, from `offset` on, at most `limit` of them."""
        newer = self.address(max(0, min(offset, heads.total) - limit)) if offset else None
        older = self.address(offset + limit) if offset + limit < heads.total else None
        return Stretch(heads.rows, heads.total, offset + 1, newer, older)


def _search(
    request: Request,
    words: Words = "",
    weapon: WeaponName = "",
    state: State = "",
    since: Since = "",
    until: Until = "",
    zone: Zone = "",
) -> Search:
    given = names_of(request)
    named = cases_of(request).reasoning.setup(given.weapon(weapon)).weapon if weapon else None
    if given.notices:
        address = request.url.include_query_params(weapon=named).replace(scheme="", netloc="")
        raise MovedError(str(address), str(given.notices[0]))
    return Search(words.strip(), named, state or None, _day(since), _day(until), _zone(zone))


def _day(given: str) -> date | None:
    try:
        return date.fromisoformat(given) if given else None
    except ValueError as error:
        raise InputError(seen=f"there is no such day as {given}", remedy="write it as year, month and day: 2026-10-03") from error


def _zone(given: str) -> ZoneInfo | None:
    try:
        return ZoneInfo(given) if given else None
    except (KeyError, ValueError, OSError) as error:  # no such zone, one outside the list, a folder of the list
        remedy = "name it as in Europe/Paris, or leave it out"
        raise InputError(seen=f"there is no time zone called “{given}”", remedy=remedy) from error


Searched = Annotated[Search, Depends(_search)]
"""The parameter of a page that lists cases."""
