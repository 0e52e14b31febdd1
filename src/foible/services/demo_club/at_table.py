"""Weapon control of the invented Autumn Open, half way through a day: made up from one seed, kept as a table keeps it."""

from __future__ import annotations

from datetime import timedelta
from importlib.resources import files
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING

from foible.records.control import (
    HandedInState,
    NewHandedIn,
    StationDoes,
    competitions,
    handed_in_by_id,
    open_station,
)
from foible.records.people import NewPerson
from foible.records.trail import Who
from foible.services.control.competition import open_competition, usual
from foible.services.control.entry import Found, Told, enter
from foible.services.control.handing import enter_fencer, hand_back, mark, retest, take_in, tick, unticked_of
from foible.services.control.testing import what_to_test, work_of_table
from foible.services.demo_club.club import club_file
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from datetime import datetime

    from foible.records.control import Competition, HandedIn, Station
    from foible.records.register import RegisterStore, Turn
    from foible.rules.requirements import Requirement
    from foible.services.control.testing import ToTest

__all__ = ["fill_table"]

WEAPON_SHARES = (0.45, 0.35, 0.2)
"""Of the fencers, by weapon."""
OFTEN = (StationDoes.DIMENSIONS, StationDoes.ELECTRICS, StationDoes.MARKS)
HAND_BACK, RETEST = 0.6, 0.4
"""The shares of what passed that is with its fencer again, and of what failed that has been handed in again."""


class TableFile(Strict):
    """The day."""

    name: str
    seed: int
    minutes_ago: int
    teams: int
    tested: float
    come: float
    seconds: dict[str, float]
    fails: dict[str, float]
    hands_in: dict[str, tuple[str, ...]]
    guests: dict[str, tuple[str, ...]]


class _Day:
    """The day as it goes by, in one transaction."""

    def __init__(self, turn: Turn, now: datetime) -> None:
        self.file = read_model(TableFile, Path(str(files("foible.services.demo_club") / "data" / "at_table.toml")))
        self.rng = Random(self.file.seed)  # noqa: S311 — nothing here is a secret
        self.turn, self.now = turn, now
        self.begin = now - timedelta(minutes=self.file.minutes_ago)
        self.free: dict[int, datetime] = {}
        self.forms = 0

    def pass_by(self) -> None:
        """Open the table, let fencers come, and test what there is time for."""
        at_first = self.turn.dated(self.begin)
        competition = open_competition(at_first, usual(self.file.name, self.now.date(), token="demo-table"))  # noqa: S106
        stations = {
            does: [open_station(at_first, competition.id, does, team=team + 1) for team in range(self.file.teams)]
            for does in OFTEN
        }
        items = self._come(competition)
        for item in items[: round(self.file.tested * len(items))]:
            self._over_the_table(competition, item, stations)
        self._leave_something_open(competition, items[round(self.file.tested * len(items)) :], stations)

    def _come(self, competition: Competition) -> list[HandedIn]:
        """Enter everybody, and take in what those who have come bring."""
        names = [(name, club) for club, those in self.file.guests.items() for name in those]
        names += [(name, club_file().club) for name in club_file().fencers]
        self.rng.shuffle(names)
        items = []
        for place, (name, club) in enumerate(names):
            (weapon,) = self.rng.choices(list(self.file.hands_in), weights=WEAPON_SHARES)
            person = NewPerson(name, club=club, token=f"demo-fencer-{place}")
            entrant = enter_fencer(self.turn.dated(self.begin), competition.id, person, weapons=[weapon])
            if place > self.file.come * len(names):
                continue
            share = place / len(names) / self.file.come
            came = self.turn.dated(self.begin + 0.9 * share * timedelta(minutes=self.file.minutes_ago))
            items += [take_in(came, entrant.id, NewHandedIn(kind, weapon)) for kind in self.file.hands_in[weapon]]
        return items

    def _over_the_table(self, competition: Competition, item: HandedIn, stations: dict[StationDoes, list[Station]]) -> None:
        """Test an item at each station in turn, until it fails or has passed."""
        bad = self._bad_test(competition, item)
        for does in OFTEN:
            at = self._test(competition, item, min(stations[does], key=self._when_free), bad)
            item = handed_in_by_id(self.turn.session, item.id)
            if item.state is HandedInState.FAILED:
                self._failed(item, at)
                return
        if item.state is HandedInState.PASSED:
            done = self.turn.dated(at + timedelta(seconds=8))
            item = mark(done, item.id, token=f"demo-mark-{item.id}")
            if self.rng.random() < HAND_BACK:
                hand_back(done, item.id, version=item.version)

    def _failed(self, item: HandedIn, at: datetime) -> None:
        later, procedure = self.turn.dated(at + timedelta(minutes=4)), work_of_table().procedure_for(item.kind)
        if procedure is not None and self.rng.random() < HAND_BACK:
            for step in procedure.step:
                tick(later, item.id, step.id)
        if (procedure is None or not procedure.keeps_back) and self.rng.random() < RETEST:
            if not unticked_of(self.turn.session, item):
                hand_back(later, item.id, version=item.version)
            version = handed_in_by_id(self.turn.session, item.id).version
            retest(self.turn.dated(at + timedelta(minutes=20)), item.id, version=version)

    def _test(self, competition: Competition, item: HandedIn, station: Station, bad: ToTest | None) -> datetime:
        """Make the tests of one station; returns when it was done."""
        mean = self.file.seconds[station.does.value]
        began = max(self._when_free(station), item.handed_in)
        at = began + timedelta(seconds=mean * self.rng.lognormvariate(-0.1, 0.45))
        self.free[station.id] = at
        tests = what_to_test(competition.edition, item.kind, item.weapon, station.does)
        found = {each.test: Found(self._sound_value(each.requirement)) for each in tests if each.typed}
        if bad is not None and bad.test in {each.test for each in tests}:
            broken = _broken(bad.requirement)
            found[bad.test] = Found(broken) if bad.typed else Found(good=False)
        if tests:
            self.forms += 1
            seen, token = handed_in_by_id(self.turn.session, item.id).version, f"demo-{self.forms}"
            enter(self.turn.dated(at), item.id, Told(found, seen, began, token, station.id, rest_is_good=True))
        return at

    def _when_free(self, station: Station) -> datetime:
        return self.free.get(station.id, self.begin)

    def _bad_test(self, competition: Competition, item: HandedIn) -> ToTest | None:
        if self.rng.random() >= self.file.fails[item.kind]:
            return None
        tests = what_to_test(competition.edition, item.kind, item.weapon)
        return self.rng.choice([each for each in tests if each.requirement.has_figure] or [*tests])

    def _sound_value(self, requirement: Requirement) -> float:
        """Return a value well inside the limits."""
        low = requirement.lower if requirement.lower is not None else 0.2 * (requirement.upper or 0.0)
        high = requirement.upper if requirement.upper is not None else 1.2 * low
        return round(low + (high - low) * self.rng.uniform(0.25, 0.8), 2)

    def _leave_something_open(
        self, competition: Competition, waiting: list[HandedIn], stations: dict[StationDoes, list[Station]]
    ) -> None:
        """Have two stations differ about one item."""
        item = next((each for each in waiting if each.kind == "cord"), None)
        if item is None:
            return
        test = next(each for each in what_to_test(competition.edition, item.kind, item.weapon) if each.typed)
        for place, (station, value) in enumerate(zip(stations[StationDoes.ELECTRICS], (0.7, 1.2), strict=False)):
            at = self.now - timedelta(minutes=2 - place)
            told = Told({test.test: Found(value)}, item.version, at - timedelta(seconds=20), f"demo-open-{place}", station.id)
            enter(self.turn.dated(at), item.id, told)


def _broken(requirement: Requirement) -> float:
    """Return a value that breaks a limit for certain."""
    if requirement.upper is not None:
        return round(1.3 * requirement.upper, 2)
    return round(0.7 * (requirement.lower or 1.0), 2)


def fill_table(store: RegisterStore, now: datetime) -> bool:
    """Keep the invented day where there is no competition yet, and return whether it was; all of it or nothing."""
    if store.read(competitions):
        return False
    store.write(lambda turn: _Day(turn, now).pass_by(), by=Who(), what="the demo")
    return True
