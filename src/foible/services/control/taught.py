"""What a table's readings have taught of the items near a limit and of its instrument, for the verdicts on the next ones.

It is learnt when a station has an item before it, one limit a page and each time there are a third more readings near it, and
remembered in the process: an entry asks nothing of the database for it. A verdict once kept is not changed by what is learnt
later. Readings of one limit by instruments of one stated uncertainty teach each other, those of earlier competitions too. An item
was read again where its first reading was too close to call; what else was entered twice was a slip, and the last of it counts.
An instrument of which nobody has said how far readings of one item scatter teaches nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
from cachetools import TTLCache

from foible.control.law_fits import BEYOND, REACH
from foible.control.learnt import due, learnt
from foible.records.control import EntryOutcome, instruments_of
from foible.records.control.times import readings_of_test
from foible.services.control.instruments import instrument_for, near_limit
from foible.services.control.verdicts import has_instrument

if TYPE_CHECKING:
    from collections.abc import Iterable, MutableMapping

    from sqlalchemy import Pool
    from sqlalchemy.orm import Session

    from foible.control.conformity import Tolerance
    from foible.control.instruments import Instrument
    from foible.control.learnt import Learnt
    from foible.records.control import Competition
    from foible.records.control.times import TakenReading
    from foible.rules.requirements import Requirement

    Key = tuple[str, float, float]

__all__ = ["DECIDED", "FEW", "Taught", "TaughtOfLate", "look_again", "taught_of_late"]

FEW, FINE = 30, 0.25
"""Items near a limit below which nothing is taken as known, and how far readings of one item have to scatter, in steps of the
display, so that steps are no law of the items: judgement, no source."""
STANDS_S, MOST_LIMITS = 300.0, 2000
"""How long nobody looks whether there are more readings [s]."""
DECIDED = "decided by the officials"
"""What stands beside a test that was too close to call, and then decided; the reading beside it is the same one again."""


@dataclass(frozen=True)
class Taught:
    """What the readings of so many items near a limit taught."""

    items: int
    limit: float
    reach: float
    """How far from the limit they read."""
    learnt: Learnt

    @property
    def words(self) -> str:
        """What a probability rests on."""
        return f"judged by {self.items} items that read close to this limit"

    def conforms(self, reading: float, tolerance: Tolerance) -> float | None:
        """Return the probability that an item conforms; None where its reading is too far from the limit to have been learnt."""
        if abs(reading - self.limit) >= self.reach:
            return None
        return float(self.learnt.probability(np.array(reading), tolerance))


@dataclass
class TaughtOfLate:
    """What is known in this process of the limits of one database."""

    asking: Lock = field(default_factory=Lock)
    looked: MutableMapping[tuple[int, str], bool] = field(default_factory=lambda: TTLCache(MOST_LIMITS, STANDS_S))
    known: dict[Key, tuple[int, Taught | None]] = field(default_factory=dict)

    def at(self, requirement: Requirement, reading: float, u: float) -> Taught | None:
        """Return what is known near the end of a requirement that a reading is closest to."""
        ends = [end for end in (requirement.lower, requirement.upper) if end is not None]
        limit = min(ends, key=lambda end: abs(end - reading), default=0.0)
        return self.known.get((requirement.id, limit, u), (0, None))[1]

    def stale(self, competition: int, wanted: Iterable[Requirement]) -> list[Requirement]:
        """Return the requirements that nobody has looked at for a while."""
        with self.asking:
            return [each for each in wanted if each.has_figure and (competition, each.id) not in self.looked]

    def was_looked_at(self, competition: int, requirement: Requirement) -> None:
        """Keep that nobody need look for a while."""
        with self.asking:
            self.looked[competition, requirement.id] = True


_OF: WeakKeyDictionary[Pool, TaughtOfLate] = WeakKeyDictionary()
"""By the connections of a database: those who write and those who read share them."""
_KNOWING = Lock()


def taught_of_late(session: Session) -> TaughtOfLate:
    """Return what is known in this process of the limits of a session's database; asks it nothing."""
    with _KNOWING:
        return _OF.setdefault(session.get_bind().engine.pool, TaughtOfLate())


def look_again(session: Session, competition: Competition, wanted: Iterable[Requirement]) -> None:
    """Learn from the readings of requirements that nobody has looked at for a while; of one limit, the others' turn comes."""
    late = taught_of_late(session)
    stale = late.stale(competition.id, wanted)
    instruments = instruments_of(session, competition.id) if stale else ()
    for requirement in stale:
        instrument, _ = instrument_for(requirement, instruments)
        teaches = instrument and has_instrument(requirement) and instrument.repeat >= instrument.step * FINE
        if instrument and teaches and _learnt_one(session, requirement, instrument, late):
            return
        late.was_looked_at(competition.id, requirement)


def _learnt_one(session: Session, requirement: Requirement, instrument: Instrument, late: TaughtOfLate) -> bool:
    """Learn about the first limit that has a third more readings near it; return whether there was one."""
    near_it = near_limit(requirement)
    scatter, u = instrument.scatter(near_it), instrument.uncertainty(near_it)
    items = _items(readings_of_test(session, requirement.id, u))
    for limit in _ends(requirement, scatter.random):
        near = [each for each in items if abs(each[0] - limit) < REACH * scatter.random]
        key, count = (requirement.id, limit, u), due(len(near))
        if len(near) >= FEW and late.known.get(key, (0, None))[0] != count:
            late.known[key] = count, Taught(len(near), limit, REACH * scatter.random, learnt(near, scatter, limit))
            return True
    return False


def _ends(requirement: Requirement, u: float) -> tuple[float, ...]:
    """Return the limits to learn about; none where two are so close that a reading near one says something of the other."""
    ends = tuple(end for end in (requirement.lower, requirement.upper) if end is not None)
    return () if len(ends) > 1 and ends[1] - ends[0] < 2 * BEYOND * u else ends


def _items(readings: Iterable[TakenReading]) -> list[list[float]]:
    """Return the readings of each line of each item in each attempt, in their order."""
    items: dict[tuple[int, int, str], tuple[list[float], str]] = {}
    for each in readings:
        if each.note == DECIDED:
            continue
        key = each.control_item_id, each.attempt, each.line
        before, outcome = items.get(key, ([], ""))
        again = outcome == EntryOutcome.TOO_CLOSE.value
        items[key] = [*before, each.reading] if again else [each.reading], each.outcome
    return [each for each, _ in items.values()]
