"""A table planned before the event: fencers, what they bring and hours in; out, what comes of so many teams, and how many do."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import time
from math import ceil
from typing import TYPE_CHECKING

from foible.control.planning import MOST_TEAMS, Plan, planned
from foible.errors import InputError, UnknownNameError
from foible.records.control import StationDoes
from foible.rules.requirements import USUAL_EDITION, requirements
from foible.services.control.forecasts import measured_seconds, seconds_of
from foible.services.control.testing import kind_words, work_of_table

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from sqlalchemy.orm import Session

    from foible.control.planning import Teams

__all__ = ["USUAL_BAG", "Planned", "Wish", "kinds_planned", "table_planned", "weapons_planned"]

USUAL_BAG = {"weapon": 2.0, "cord": 2.0, "mask cord": 1.0, "lamé": 1.0, "mask": 1.0, "bib": 1.0, "cuff": 1.0, "glove": 0.0}
"""What a fencer hands in of each kind that there is for the weapon. Judgement; at most what m.38.1 allows."""
AROUND = 2
"""So many more and fewer teams are shown beside those that are enough."""
SEED = 2026


@dataclass(frozen=True)
class Wish:
    """What is planned with. `start`, `until`: when things are handed in; `done_by`: when all of it is to be done.

    `weapons`: of the fencers, as many of each; all where none is named. `bag`: items of each kind. `measured_at`: a competition
    whose measured times are taken, instead of those thought likely.
    """

    fencers: int
    day: datetime
    start: time = time(8)
    until: time = time(12)
    done_by: time = time(17)
    weapons: tuple[str, ...] = ()
    bag: Mapping[str, float] = field(default_factory=lambda: USUAL_BAG)
    edition: str = USUAL_EDITION
    measured_at: int | None = None


@dataclass(frozen=True)
class Planned:
    """What comes of a plan. `enough`: the fewest teams that are done by then with 90 %; None where none of `teams` is.

    `load`: work for each fencer at each stage [s]. `bag`: items of each kind, in words.
    """

    wish: Wish
    done_by: datetime
    teams: tuple[Teams, ...]
    enough: Teams | None
    load: Mapping[str, float]
    bag: Mapping[str, float]

    @property
    def items(self) -> float:
        """Items in all."""
        return self.wish.fencers * sum(self.bag.values())


def weapons_planned(edition: str = USUAL_EDITION, overlays: Sequence[Path] = ()) -> tuple[str, ...]:
    """Return the weapons that an edition knows."""
    return tuple(dict.fromkeys(weapon for each in requirements(edition, overlays=overlays) for weapon in each.weapons))


def kinds_planned() -> dict[str, str]:
    """Return the kinds of item that are handed in, in words."""
    return {kind: kind_words(kind, None) for kind in work_of_table().hands_in}


def table_planned(session: Session, wish: Wish, *, overlays: Sequence[Path] = ()) -> Planned:
    """Return what comes of a plan with as few teams as are enough, and with a few more and fewer.

    Raises UnknownNameError and InputError for what cannot be planned with.
    """
    known = weapons_planned(wish.edition, overlays)
    if strange := next((weapon for weapon in wish.weapons if weapon not in known), None):
        raise UnknownNameError(what="weapon", name=strange, known=known, all_named=True)
    seconds, bag = _work(session, wish, wish.weapons or known, overlays)
    start, until, done_by = (_at(wish.day, each) for each in (wish.start, wish.until, wish.done_by))
    if done_by <= start:
        seen = f"done by {wish.done_by:%H:%M}, begun at {wish.start:%H:%M}"
        raise InputError(seen=seen, remedy="give an end after the beginning")
    try:
        plan = Plan(wish.fencers, seconds, bag, (start, until))
    except ValueError as error:
        seen, _, remedy = str(error).rpartition(": ")
        raise InputError(seen=seen, remedy=remedy) from error
    found = _tried(plan, (done_by - start).total_seconds(), done_by)
    enough = next((each for each in found if each.surely <= done_by), None)
    middle = enough.teams if enough else found[-1].teams
    shown = tuple(each for each in found if abs(each.teams - middle) <= AROUND)
    return Planned(wish, done_by, shown, enough, plan.load, bag)


def _tried(plan: Plan, available: float, done_by: datetime) -> list[Teams]:
    """Return what comes of more and more teams, from two fewer than could just carry the work, to two more than are enough."""
    least = ceil(max(plan.load.values()) * plan.fencers / available)
    found: list[Teams] = []
    for count in range(max(1, min(least, MOST_TEAMS) - AROUND), MOST_TEAMS + 1):
        found += planned(plan, [count], seed=SEED)
        if len([each for each in found if each.surely <= done_by]) > AROUND or len(found) > 4 * AROUND:
            break
    return found


def _work(
    session: Session, wish: Wish, weapons: Sequence[str], overlays: Sequence[Path]
) -> tuple[dict[str, dict[str, float]], dict[str, float]]:
    """Return seconds of an item by stage and kind, and how many of each a fencer brings on the mean, by words."""
    measured = measured_seconds(session, wish.measured_at, overlays=overlays) if wish.measured_at else {}
    every = requirements(wish.edition, overlays=overlays)
    stages = (StationDoes.DIMENSIONS, StationDoes.ELECTRICS, StationDoes.MARKS)
    seconds: dict[str, dict[str, float]] = {does.value: {} for does in stages}
    bag: dict[str, float] = {}
    for kind in work_of_table().hands_in:
        for weapon in weapons:
            if wish.bag.get(kind, 0) and any(each.kind == kind and weapon in each.weapons for each in every):
                words = kind_words(kind, weapon)
                bag[words] = wish.bag[kind] / len(weapons)
                for does in stages:
                    usual = seconds_of(wish.edition, kind, weapon, does, overlays)
                    seconds[does.value][words] = measured.get((does.value, kind, weapon), usual)
    return seconds, bag


def _at(day: datetime, hour: time) -> datetime:
    return day.replace(hour=hour.hour, minute=hour.minute, second=0, microsecond=0)
