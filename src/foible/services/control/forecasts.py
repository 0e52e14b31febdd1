"""When the queue of a competition will be gone, from what the table has kept: items, stations and instants in, a forecast out.

What is measured runs from when a station could have begun an item to its last entry or mark of it. An item waits for a station as
long as it is in its present attempt without anything from there; retests wait behind everybody's first time (m.41.2).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from foible.control.forecast import Forecast, Post, Queue, Stage, forecast
from foible.control.service_times import Served, cycle_times, drawn_pace
from foible.control.timed import usual_seconds
from foible.records.control import HandedInState, StationDoes, competition_by_id, entrants, items_at, stations_of
from foible.records.control.times import station_work
from foible.services.control.testing import what_to_test

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.records.control import Competition, HandedIn, Station
    from foible.records.control.times import StationWork

__all__ = ["MARK_SECONDS", "QueueNow", "measured_seconds", "queue_now", "seconds_of"]

IN_ORDER = (StationDoes.DIMENSIONS, StationDoes.ELECTRICS, StationDoes.MARKS)
MARK_SECONDS = 12.0
"""To mark an item and pack it again [s]. Judgement."""
TABLE_HOURS = 17
"""What is handed in later may be refused (m.38.3), so handing in is thought to end by then."""
USUAL_ITEMS = 6.0
"""What a fencer is thought to hand in before anybody has."""
DRAWS_MEASURED = 200
LEAST_SECONDS = 1.0
"""Two devices at one station can be done at the same instant; no item takes less."""
LULL = timedelta(hours=2)
"""After so long without a test the table is looked at as it stood at the last one."""
AT_LEAST = timedelta(minutes=30)
"""Where the usual hour is over and fencers have not come, they are waited for so long."""


@dataclass(frozen=True)
class QueueNow:
    """A table's queue: the forecast as of `forecast.now`, with what it rests on.

    `if_no_more`: the same if nobody else came. `done`, `left`: items through the table, and handed in and not through. `until`:
    when handing in ends. `lull`: nothing has been tested for so long that the table is shown as it stood then. `no_station`: none
    is open, so nothing is forecast.
    """

    competition: Competition
    forecast: Forecast
    if_no_more: Forecast
    done: int
    left: int
    came: int
    until: datetime
    lull: bool
    no_station: bool


def queue_now(  # noqa: PLR0913 — a competition, an instant, and what somebody knows better
    session: Session,
    number: int,
    now: datetime,
    *,
    until: datetime | None = None,
    to_come: int | None = None,
    overlays: Sequence[Path] = (),
) -> QueueNow:
    """Return when a competition's queue is gone.

    `until`: when handing in ends; `to_come`: how many fencers are still expected; both as the list and the rules have it where
    nothing is said. Raises NotFoundError.
    """
    table = _Table(session, competition_by_id(session, number), now, overlays)
    hours = (table.opened(), until or _usual_end(table.at))
    expected = table.missing_fencers if to_come is None else to_come
    if table.stages:
        found, closed = (forecast(table.queue(hours, count), table.at, seed=number) for count in (expected, 0))
    else:
        found = closed = Forecast(table.at, None, None, None, expected, ())
    left = sum(item.state.to_test for item in table.items)
    done, came = len(table.items) - left, len(table.came)
    return QueueNow(
        table.competition, found, closed, done, left, came, hours[1], lull=table.at < now, no_station=not table.stages
    )


def seconds_of(edition: str, kind: str, weapon: str | None, does: StationDoes, overlays: Sequence[Path] = ()) -> float:
    """Return what an item is thought to take at a station before anything has been measured [s]."""
    tests = what_to_test(edition, kind, weapon, does, overlays=overlays)
    seconds = sum(usual_seconds(each.requirement) for each in {each.requirement.id: each for each in tests}.values())
    return seconds + (MARK_SECONDS if does in (StationDoes.MARKS, StationDoes.ALL) else 0.0)


def measured_seconds(session: Session, number: int, *, overlays: Sequence[Path] = ()) -> dict[tuple[str, str, str | None], float]:
    """Return what an item takes by stage, kind and weapon [s], as measured at a competition. Raises NotFoundError.

    What was seldom or never there is thought of at the pace of the rest. Nothing, where its stations do everything.
    """
    competition = competition_by_id(session, number)
    table = _Table(session, competition, competition.opened, overlays)
    found: dict[tuple[str, str, str | None], float] = {}
    for does in IN_ORDER:
        served, _ = table.served(does, ())
        planned = np.array([seconds_of(competition.edition, *kind, does, overlays) for kind in table.kinds])
        pace = drawn_pace(served, np.maximum(planned, LEAST_SECONDS), 1, np.random.default_rng(number), DRAWS_MEASURED)
        if len(served.seconds):
            means = zip(table.kinds, pace.mean.mean(axis=0).tolist(), planned, strict=True)
            found |= {(does.value, *kind): mean for kind, mean, usual in means if usual > 0}
    return found


class _Table:
    """What a competition has on record, read once."""

    def __init__(self, session: Session, competition: Competition, now: datetime, overlays: Sequence[Path]) -> None:
        self.competition, self.overlays = competition, overlays
        self.work = station_work(session, competition.id)
        self.at = self.work[-1].at if self.work and now - self.work[-1].at > LULL else now
        self.items = items_at(session, competition.id)
        entered = entrants(session, competition.id)
        self.came = sorted(((each.came, each.id) for each in entered if each.came), key=lambda pair: pair[0])
        self.missing_fencers = len(entered) - len(self.came)
        self.stations = {each.id: each for each in stations_of(session, competition.id)}
        self.stages = _stages(self.stations.values())
        self.kinds = sorted({(item.kind, item.weapon) for item in self.items}, key=str) or [("weapon", None)]
        self.place = {kind: number for number, kind in enumerate(self.kinds)}
        self.fencers = {entrant: number for number, (_, entrant) in enumerate(self.came)}

    def opened(self) -> datetime:
        """Return when the table began: with the first fencer, or the first station."""
        return min([self.at, *(when for when, _ in self.came), *(each.opened for each in self.stations.values())])

    def queue(self, hours: tuple[datetime, datetime], to_come: int) -> Queue:
        """Return the table as a queue, in seconds from now."""
        bags = np.zeros((len(self.fencers), len(self.kinds)))
        for item in self.items:
            bags[self.fencers[item.entrant_id], self.place[item.kind, item.weapon]] += 1
        opening, closing = (self._seconds(each) for each in hours)
        return Queue(
            tuple(self._stage(does, stations) for does, stations in self.stages.items()),
            bags,
            np.full(len(self.kinds), USUAL_ITEMS / len(self.kinds)),
            np.array([self._seconds(when) for when, _ in self.came]),
            (opening, max(closing, opening + 1.0)),
            to_come,
        )

    def _stage(self, does: StationDoes, stations: Sequence[Station]) -> Stage:
        """Return one stage: retests are bags of their own, behind all others."""
        edition, count = self.competition.edition, len(self.fencers)
        planned = np.array([seconds_of(edition, *kind, does, self.overlays) for kind in self.kinds])
        worked = {(each.control_item_id, each.attempt, each.marked) for each in self.work if self._there(each, does)}
        waiting = np.zeros((2 * count, len(self.kinds)))
        for item in self.items:
            kind = self.place[item.kind, item.weapon]
            if planned[kind] > 0 and _waits(item, does, worked):
                waiting[self.fencers[item.entrant_id] + (count if item.attempt > 1 else 0), kind] += 1
        served, last = self.served(does, stations)
        busy = bool(waiting.any())
        posts = tuple(
            Post(f"{does.value}, team {each.team}", silent=-last.get(each.id, self._seconds(each.opened)) if busy else 0.0)
            for each in stations
        )
        return Stage(does.value, posts, planned, served, waiting)

    def served(self, does: StationDoes, stations: Sequence[Station]) -> tuple[Served, dict[int, float]]:
        """Return what was measured at a stage, and when each station was last done with anything [s from now].

        A station that has closed has a place behind those that are open and the one that may be added.
        """
        gone = [each.id for each in self.stations.values() if each not in stations]
        posts = {each.id: number for number, each in enumerate(stations)}
        posts |= {number: len(stations) + 1 + place for place, number in enumerate(gone)}
        of, before = {item.id: item for item in self.items}, {item.id: item.handed_in for item in self.items}
        lines: dict[tuple[int, int, int], tuple[datetime, datetime]] = {}
        for each in self.work:
            item = of[each.control_item_id]
            if each.station_id is not None and self._there(each, does):
                key = (item.id, each.attempt, each.station_id)
                there = max(item.handed_in, before[item.id]) if each.attempt == item.attempt else each.began
                lines[key] = min(lines[key][0] if key in lines else there, each.at), each.at
            before[item.id] = each.at
        last = {station: self._seconds(ended) for (_, _, station), (_, ended) in lines.items()}
        ready, ended = (np.array([self._seconds(line[end]) for line in lines.values()]) for end in (0, 1))
        kind = np.array([self.place[of[number].kind, of[number].weapon] for number, _, _ in lines], dtype=np.intp)
        post = np.array([posts[station] for _, _, station in lines], dtype=np.intp)
        return Served(kind, post, np.maximum(cycle_times(ready, ended, post), LEAST_SECONDS)), last

    def _there(self, work: StationWork, does: StationDoes) -> bool:
        """Return whether something was done at a stage; what was entered without a station was done at any."""
        station = self.stations.get(work.station_id or 0)
        return station is None or station.does in (does, StationDoes.ALL)

    def _seconds(self, when: datetime) -> float:
        return (when - self.at).total_seconds()


def _waits(item: HandedIn, does: StationDoes, worked: set[tuple[int, int, bool]]) -> bool:
    """Return whether an item still has to come to a stage; what passed comes to be marked."""
    if does is StationDoes.MARKS:
        passed = item.state is HandedInState.PASSED
        return item.state.to_test or (passed and (item.id, item.attempt, True) not in worked)
    return item.state.to_test and (does is StationDoes.ALL or (item.id, item.attempt, False) not in worked)


def _stages(stations: Iterable[Station]) -> dict[StationDoes, list[Station]]:
    """Return the open stations by what they do, in the order of the rules; none where none is open.

    A stage that has been there and has nobody now is one without posts. Beside others, a station that does everything helps where
    there are fewest.
    """
    every = list(stations)
    present = [each for each in every if each.closed is None]
    kinds = [does for does in IN_ORDER if any(each.does is does for each in every)]
    if not present:
        return {}
    if not kinds or all(each.does is StationDoes.ALL for each in present):
        return {StationDoes.ALL: present}
    found = {does: [each for each in present if each.does is does] for does in kinds}
    for each in present:
        if each.does is StationDoes.ALL:
            found[min(kinds, key=lambda does: len(found[does]))].append(each)
    return found


def _usual_end(now: datetime) -> datetime:
    """Return when handing in is thought to end: at the hour of the rules, or a little later than now."""
    local = now.astimezone()
    return max(local.replace(hour=TABLE_HOURS, minute=0, second=0, microsecond=0), local + AT_LEAST)
