"""A trial's table in, the trial out: names looked up in the set-up, impossible arrangements refused."""

from __future__ import annotations

import re
from itertools import combinations
from typing import TYPE_CHECKING, TypeVar

from pydantic import Field

from foible.errors import ImpossibleTrialError, InputError, UnknownNameError
from foible.facts import ORANGE_LAMPS
from foible.kit import SIDES, WHOLE_SIDE, job, job_parts, plain
from foible.tomlfile import Strict, Words
from foible.trials.readings import read_reading
from foible.trials.seen import read_lights, read_seen
from foible.trials.trial import Arrangement, Trial, groups_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from foible.kit import Setup
    from foible.trials.trial import Look, Seen

__all__ = ["TrialTable", "box_pairs", "read_trial"]

Value = TypeVar("Value")


class TrialTable(Strict):
    """A trial as a case file writes it; docs/case-file.md explains the keys."""

    press: str | None = None
    cut: str | None = None
    on: str | None = None
    touching: Words = ()
    unplugged: Words = ()
    bridged: Words = ()
    swapped: Words = ()
    mended: Words = ()
    move: Words = ()
    examine: Words = ()
    found: Words = ()
    meter: tuple[str, str] | None = None
    reads: str | None = None
    box: str | None = None
    lights: Words = ()
    plugged: Words = ()
    gauge: str | None = None
    sure: bool = False
    hearsay: float = Field(0.0, ge=0, lt=1)
    times: int = Field(1, ge=1, le=100)
    saw: Words = ()
    note: str = ""


# long: one line for each key
def read_trial(
    setup: Setup, table: TrialTable, *, answered: bool = True, facts: Sequence[str] = ()
) -> tuple[Trial, list[tuple[str, InputError]]]:
    """Return the trial that `table` describes, and what is wrong with it as (key, error) pairs.

    The trial may be used only where the list is empty. One that is `answered` must say what was seen; one that is still
    to be made need not. `facts` of the place say whether an optional lamp that stays dark says anything.
    """
    reader = _Reader()
    names = _Names(setup, facts)
    unplugged = reader.many("unplugged", table.unplugged, setup.connections.name)
    plugged = reader.many("plugged", table.plugged, setup.connections.name)
    if table.meter or table.box:
        unplugged = tuple(name for name in setup.connections if name not in plugged or name in unplugged)
    box = reader.one("box", table.box, names.boxed)
    trial = Trial(
        arrangement=Arrangement(
            press=reader.one("cut", table.cut, names.side) or reader.one("press", table.press, names.side),
            on=reader.one("on", table.on, setup.places.name),
            touching=reader.many("touching", table.touching, names.touch),
            unplugged=unplugged,
            bridged=reader.many("bridged", table.bridged, names.bridge),
        ),
        swapped=reader.many("swapped", table.swapped, names.exchangeable),
        mended=reader.many("mended", table.mended, names.mended),
        moves=reader.many("move", table.move, names.movement),
        examine=reader.many("examine", table.examine, names.part_or_item),
        found=reader.many("found", table.found, names.verdict if table.gauge else names.sign),
        seen=reader.one("saw", table.saw or None, names.seen),
        meter=reader.one("meter", table.meter, names.two_places),
        reads=reader.one("reads", table.reads, read_reading),
        box=box,
        lights=reader.one("lights", table.lights or None, lambda given: names.lights(box, given)) or (),
        gauge=reader.one("gauge", table.gauge, names.gauge),
        sure=table.sure,
        hearsay=table.hearsay,
        times=table.times,
        note=table.note,
    )
    if not reader.wrong:
        faults = [*_hit_faults(setup, trial, table), *_sign_faults(setup, trial), *(_report_faults(trial) if answered else ())]
        reader.wrong += [(key, ImpossibleTrialError(seen=seen, remedy=remedy)) for key, seen, remedy in faults]
    return trial, reader.wrong


def box_pairs(setup: Setup, item: str) -> tuple[str, ...]:
    """Return the pairs of lines that a test box has a lamp for with an item in it, such as “A-B”."""
    return tuple("-".join(pair) for pair in combinations(setup.items[item].box, 2))


class _Reader:
    """Reads the values of one table and collects what is wrong with them."""

    def __init__(self) -> None:
        self.wrong: list[tuple[str, InputError]] = []

    def one(self, key: str, given: str | tuple[str, ...] | None, read: Callable[..., Value]) -> Value | None:
        if given is None:
            return None
        try:
            return read(given)
        except InputError as error:
            self.wrong.append((key, error))
            return None

    def many(self, key: str, given: tuple[str, ...], read: Callable[[str], Value]) -> tuple[Value, ...]:
        values = [self.one(key, word, read) for word in given]
        return tuple(value for value in values if value is not None)


class _Names:
    """Words of a trial resolved against a set-up."""

    def __init__(self, setup: Setup, facts: Sequence[str]) -> None:
        self.setup = setup
        self.facts = facts

    def side(self, text: str) -> str:
        if plain(text) not in SIDES:
            raise UnknownNameError(what="side", name=text, known=SIDES)
        return plain(text)

    def touch(self, text: str) -> tuple[str, str]:
        halves = re.split(r"\s+on\s+", text.strip(), flags=re.IGNORECASE)
        for cut in range(1, len(halves)):
            a, b = " on ".join(halves[:cut]), " on ".join(halves[cut:])
            if a in self.setup.places and b in self.setup.places:
                return self.setup.places.name(a), self.setup.places.name(b)
        unknown = next((half for half in halves if half not in self.setup.places), None)
        if len(halves) == 1 or unknown is None:
            raise ImpossibleTrialError(seen=f"“{text}” does not name two places", remedy="write “one place on another place”")
        raise UnknownNameError(what="place", name=unknown, known=self.setup.places)

    def bridge(self, text: str) -> tuple[str, str, str]:
        name, _, lines = text.rpartition(" ")
        connection = self.setup.connections[name]
        first, _, second = lines.upper().partition("-")
        if not connection.bridge:
            raise ImpossibleTrialError(seen=f"the {connection.id} has no pins to bridge", remedy=self._bridges())
        for line in (first, second):
            if line not in connection.bridge:
                have = ", ".join(connection.bridge)
                raise ImpossibleTrialError(
                    seen=f"the {connection.id} has no pin “{line}”",
                    remedy=f"its pins are {have}: write “{connection.id} B-C”",
                )
        if first == second:
            raise ImpossibleTrialError(seen=f"“{text}” joins a pin with itself", remedy="name two pins: “B-C”")
        return connection.id, first, second

    def _bridges(self) -> str:
        return "bridge " + " or ".join(c.id for c in self.setup.connections.values() if c.bridge)

    def movement(self, text: str) -> str:
        whole = [f"{WHOLE_SIDE} {side}" for side in SIDES]
        return plain(text) if plain(text) in whole else self.setup.movements.name(text)

    def part_or_item(self, text: str) -> str:
        items, parts = self.setup.items, self.setup.parts
        if text in items:
            return items.name(text)
        if text in parts:
            return parts.name(text)
        raise UnknownNameError(what="part or item", name=text, known=[*items, *parts])

    def mended(self, text: str) -> str:
        """Return a part, or a repair of an item as “item: repair”."""
        item, repair = job_parts(text)
        if repair and item in self.setup.items:
            return job(self.setup.items.name(item), self.setup.repairs.name(repair))
        return self.setup.parts.name(text)

    def exchangeable(self, text: str) -> str:
        item = self.setup.items[text]
        if item.exchange_s is None:
            raise ImpossibleTrialError(seen=f"“{item.id}” cannot be exchanged", remedy="name a whole item")
        return item.id

    def seen(self, phrases: tuple[str, ...]) -> Seen:
        earth = self.setup.kind.lamp("yellow")
        has = earth is not None and (not earth.optional or ORANGE_LAMPS in self.facts)
        return read_seen(phrases, earth_lamp=has, hit=groups_of(self.setup.kind)[0])

    def two_places(self, given: tuple[str, str]) -> tuple[str, str]:
        first, second = (self.setup.places.name(text) for text in given)
        if first == second:
            raise ImpossibleTrialError(seen=f"both leads are on “{first}”", remedy="name two places")
        known = list(self.setup.places)  # a meter does not care which lead is where, and one trial is one
        return (first, second) if known.index(first) < known.index(second) else (second, first)

    def boxed(self, text: str) -> str:
        item = self.setup.items[text]
        if not item.box:
            known = ", ".join(entry.id for entry in self.setup.items.values() if entry.box)
            raise ImpossibleTrialError(seen=f"“{item.id}” does not go into a test box", remedy=f"name one of {known}")
        return item.id

    def lights(self, box: str | None, given: tuple[str, ...]) -> tuple[tuple[str, frozenset[Look]], ...]:
        pairs = box_pairs(self.setup, box) if box else ("A-B",)
        return tuple(read_lights(given, pairs).items())

    def gauge(self, text: str) -> tuple[str, str]:
        side, _, name = plain(text).partition(" ")
        own = [f for f in self.setup.failures.values() if self.setup.items[f.item].side]
        known = {plain(gauge): gauge for failure in own for gauge in failure.gauges}
        if name not in known:
            raise UnknownNameError(what="gauge", name=text, known=[f"{s} {g}" for s in SIDES for g in sorted(known)])
        return self.side(side), known[name]

    def verdict(self, text: str) -> str:
        if plain(text) not in ("passes", "fails"):
            raise UnknownNameError(what="verdict of a gauge", name=text, known=["passes", "fails"])
        return plain(text)

    def sign(self, text: str) -> str:
        known = {plain(sign): sign for sign in (*self.setup.signs, "fine")}
        if plain(text) not in known:
            raise UnknownNameError(what="sign", name=text, known=sorted(known.values()))
        return known[plain(text)]


def _hit_faults(setup: Setup, trial: Trial, table: TrialTable) -> list[tuple[str, str, str]]:
    """Return what is impossible about the hit of a trial whose words are all known, as (key, seen, remedy)."""
    faults = []
    arrangement = trial.arrangement
    if table.press and table.cut:
        faults.append(("cut", "there is a press and a cut", "keep one of them"))
    if arrangement.press and not setup.points[arrangement.press].moves and table.press:
        faults.append(("press", f"{setup.weapon} has no point to press", 'write cut = "left"'))
    if table.cut and setup.points[plain(table.cut)].moves:
        faults.append(("cut", f"{setup.weapon} hits with its point", 'write press = "left"'))
    if arrangement.on and not arrangement.press:
        faults.append(("on", "a place is given, but no point is pressed", 'add press = "left" or use touching'))
    if arrangement.on and arrangement.press and setup.places[arrangement.on] == setup.points[arrangement.press].face:
        faults.append(("on", "a weapon cannot hit with its point on itself", "name another place"))
    faults += [
        ("touching", f"“{a}” cannot touch itself", "name two places")
        for a, b in arrangement.touching
        if setup.places[a] == setup.places[b]
    ]
    return faults


def _sign_faults(setup: Setup, trial: Trial) -> list[tuple[str, str, str]]:
    """Return the signs that none of the parts examined can show, as (key, seen, remedy).

    A whole item may show what the kit knows no part for, and a part of which the kit gives no sign may show any.
    """
    looked = set(trial.examine)
    if not looked or not looked.isdisjoint(setup.items):
        return []
    known = {sign for each in setup.failures.values() if each.part in looked for sign in each.signs}
    if not known:
        return []
    told = ", ".join(["fine", *sorted(known)])
    what = " and ".join(trial.examine)
    return [
        ("found", f"{what} cannot be “{sign}”", f"say what was found: {told}")
        for sign in trial.found
        if sign != "fine" and sign not in known
    ]


def _report_faults(trial: Trial) -> list[tuple[str, str, str]]:
    """Return what is missing or contradictory in the result of a trial, as (key, seen, remedy)."""
    faults = []
    for key, partner, given, answered in (
        ("examine", "found", bool(trial.examine) or bool(trial.gauge), bool(trial.found)),
        ("meter", "reads", trial.meter is not None, trial.reads is not None),
        ("box", "lights", trial.box is not None, bool(trial.lights)),
    ):
        if given != answered:
            missing = partner if given else key
            faults.append((partner, f"it needs “{missing}” as well", f"add {missing} = …"))
    if "fine" in trial.found and len(trial.found) > 1:
        faults.append(("found", "“fine” is given along with other signs", "give “fine” alone, or only the signs"))
    told = trial.examine or trial.gauge or trial.reads or trial.lights or trial.acts
    if not told and trial.seen is None:
        faults.append(("saw", "the trial does not say what was seen", 'add saw = "nothing", "left white" …'))
    return faults
