"""A file in; out, the faults and trials that the drills of an idea at a weapon are made of, and the kinds of drill."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from foible.apparatus import load_profile
from foible.diagnosis import explain_lamps
from foible.errors import UnknownNameError
from foible.kit import SIDES, filled, side_words
from foible.practice.drills.sights import FOUND, Sights, sights_of
from foible.tomlfile import Strict, Words, read_model
from foible.trials import Arrangement, TrialTable, read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.kit import Failure, Setup
    from foible.trials import Idea

__all__ = ["KindTable", "Pool", "drilled_ideas", "kind_table", "pool_of"]

FILE = Path(str(files("foible.practice") / "data" / "drills.toml"))
KINDS = {
    "lamps": ("lamps", "meter", "culprit", "innocent", "split"),
    "moves": ("reveal", "culprit", "innocent", "split"),
    "hand": ("reveal", "culprit", "innocent", "split"),
}
"""The kinds of drill by how a fault shows."""


class KindTable(Strict):
    """A kind of drill."""

    title: str
    usual_s: float
    """What somebody who knows takes, with reading it [s]."""


class WayTable(Strict):
    """A measurement in a trial, whose way the faults lie on."""

    circuit: str
    trial: TrialTable = TrialTable()


class PoolTable(Strict):
    """What the drills of an idea are made of."""

    idea: str
    weapons: Words
    seen: Literal["lamps", "moves", "hand"]
    ways: tuple[WayTable, ...] = ()
    beside: tuple[WayTable, ...] = ()
    """Ways that belong to another idea: what lies on them is left out."""
    joins: bool = False
    closes: str = ""
    """A measurement, open with sound kit at rest, which the faults close."""
    touches: Words = ()
    signs: Words = ()


class DrillsFile(Strict):
    """All of it."""

    kind: dict[str, KindTable]
    pool: tuple[PoolTable, ...]


@dataclass(frozen=True, eq=False)
class Pool:
    """Faults and trials of an idea at a weapon."""

    table: PoolTable
    sights: Sights = field(repr=False)
    failures: tuple[Failure, ...] = field(repr=False)
    trials: tuple[Idea, ...] = field(repr=False)
    meters: tuple[Idea, ...] = field(repr=False)
    """Trials with a meter on the item alone."""

    @property
    def kinds(self) -> tuple[str, ...]:
        """The kinds of drill that can be made of it."""
        return KINDS[self.table.seen]

    @lru_cache(maxsize=1024)  # noqa: B019 — lives as long as the pool, of which few are kept
    def groups(self, place: int) -> dict[str, tuple[Failure, ...]]:
        """Return the faults of the pool by what the trial at a place shows with them."""
        found: dict[str, list[Failure]] = defaultdict(list)
        for failure in self.failures:
            if (seen := self.sights.seen(self.trials[place], failure)) is not None:
                found[seen].append(failure)
        return {seen: tuple(each) for seen, each in found.items()}


@lru_cache(maxsize=1)
def _file() -> DrillsFile:
    return read_model(DrillsFile, FILE)


def kind_table(name: str) -> KindTable:
    """Return a kind of drill."""
    return _file().kind[name]


def drilled_ideas(weapon: str) -> tuple[str, ...]:
    """Return the ideas about which there are drills at a weapon, by its name; none for one that a kit folder brings."""
    return tuple(pool.idea for pool in _file().pool if weapon in pool.weapons)


@lru_cache(maxsize=32)
def pool_of(setup: Setup, idea: str) -> Pool:
    """Return what the drills of an idea are made of at the weapon of a set-up. Raises UnknownNameError."""
    table = next((pool for pool in _file().pool if pool.idea == idea and setup.weapon in pool.weapons), None)
    if table is None:
        raise UnknownNameError(what="idea", name=idea, known=drilled_ideas(setup.weapon), all_named=True)
    sights = sights_of(setup)
    trials = tuple(each for each in sights.ideas if _fits(table, each))
    meters = tuple(each for each in sights.ideas if each.trial.meter and each.item and not each.trial.moves)
    failures = tuple(each for each in _failures(setup, table) if _may_be_asked(sights, table, each))
    return Pool(table, sights, failures, trials, meters)


def _may_be_asked(sights: Sights, table: PoolTable, failure: Failure) -> bool:
    """Return whether a fault can be shown in a drill: one of the kit, not of the tools, that a lamp or a hand can show."""
    if sights.setup.items[failure.item].tool or failure.profile:
        return False
    return table.seen == "hand" or sights.knows(failure)


def _fits(table: PoolTable, idea: Idea) -> bool:
    """Return whether a trial belongs to a pool."""
    trial = idea.trial
    if trial.swapped or trial.mended or trial.meter or trial.box or idea.odd:
        return False
    match table.seen:
        case "hand":
            return bool(trial.gauge or trial.examine)
        case "moves":
            return bool(trial.moves) and idea.place == "piste"
    if trial.gauge or trial.examine or trial.moves or idea.place != "piste":
        return False
    touched = " ".join((idea.table.on or "", *idea.table.touching))
    return not table.touches or any(word in touched for word in table.touches)


def _failures(setup: Setup, table: PoolTable) -> Iterator[Failure]:
    """Yield the faults of an idea."""
    ways = _ways(setup, table.ways) - _ways(setup, table.beside)
    for failure in setup.failures.values():
        part = setup.parts[failure.part]
        match table.seen:
            case "moves":
                belongs = failure.intermittent > 0 and bool(part.moved_by)
            case "hand":
                sign = max(failure.signs.items(), key=lambda each: each[1], default=("", 0.0))
                felt = sign[0] in table.signs and sign[1] >= FOUND
                belongs = felt or any(chance >= FOUND for chance in failure.gauges.values())
            case _:
                on_way = not ways.isdisjoint((*failure.raises, *failure.sets, *(failure.exchange or ())))
                belongs = on_way or (table.joins and bool(failure.joins)) or _closes(setup, table.closes, failure)
        if belongs:
            yield failure


def _closes(setup: Setup, circuit: str, failure: Failure) -> bool:
    """Return whether a fault, at its usual severity, closes a measurement of either side with nobody doing anything."""
    if not circuit or not failure.joins or failure.profile:
        return False
    shown = explain_lamps(setup, load_profile(setup.profile, setup.overlays), Arrangement(), [(failure, failure.usual_ohms)])
    return any(each.way and not each.cuts for side in shown.values() for each in side.circuits if each.name == circuit)


def _ways(setup: Setup, ways: tuple[WayTable, ...]) -> frozenset[str]:
    """Return the branches on the ways of a pool with sound kit, on both sides."""
    profile, found = load_profile(setup.profile, setup.overlays), set[str]()
    for way in ways:
        for side in SIDES:
            told = TrialTable.model_validate(filled(way.trial.model_dump(), side_words(side)))
            trial, _ = read_trial(setup, told, answered=False)
            shown = explain_lamps(setup, profile, trial.arrangement)[side]
            found |= {branch for circuit in shown.circuits if circuit.name == way.circuit for branch in circuit.way}
    return frozenset(found)
