"""Questions about tools: what a meter reads, what a test box shows, what keeps to the rule, which movement brings a fault on."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, cast

from foible.circuit.routes import route
from foible.errors import ImpossibleTrialError, InputError, UnknownNameError
from foible.practice.lessons.marker import Marker, ohms_words
from foible.rules import limits_of
from foible.trials import OVER_RANGE_OHMS, box_pairs, read_reading

if TYPE_CHECKING:
    from collections.abc import Hashable

    from foible.rules import Limit
    from foible.trials import Reading

__all__ = ["BoxMarker", "BringsMarker", "ReadsMarker", "RuleMarker", "meter_words"]

MOST_NAMED = 4
"""Parts on the way of a reading that are named."""


class ReadsMarker(Marker):
    """Asks what the meter reads."""

    key = "reads"
    tells_fault = True

    def read(self, given: object) -> tuple[float, float, str]:
        """Return a range of resistances and how it is said."""
        reading = read_reading(str(given))
        return (*_range(reading), reading.words)

    def words(self, answer: Hashable) -> str:
        """Return the range."""
        return cast("tuple[float, float, str]", answer)[2]

    def right(self, answer: Hashable) -> bool:
        """Return whether the reading lies in the range."""
        low, high, _ = cast("tuple[float, float, str]", answer)
        ohms = min(self.situation.ohms, OVER_RANGE_OHMS)
        return low <= ohms <= high

    def because(self, answer: Hashable) -> str:
        """Return what it reads, and by which way or for which gap."""
        del answer
        return meter_words(self)

    def check(self) -> None:
        """Refuse a trial without a meter."""
        _ = self.situation.ohms


def _range(reading: Reading) -> tuple[float, float]:
    """Return the ends of a reading [Ω]: open is the end of what a meter shows, and what is merely high is not open."""
    if not math.isinf(reading.high):
        return reading.low, reading.high
    if reading.low >= OVER_RANGE_OHMS:
        return OVER_RANGE_OHMS, OVER_RANGE_OHMS
    return reading.low, math.nextafter(OVER_RANGE_OHMS, 0.0)


def meter_words(marker: Marker) -> str:
    """Return what the meter of a situation reads, by which way or because of which gap."""
    situation = marker.situation
    assert situation.trial.meter is not None  # noqa: S101 — checked before
    first, second = situation.trial.meter
    setup = situation.setup
    network = situation.network(situation.trial.arrangement, situation.made)
    way = route(network, [setup.places[first]], [setup.places[second]])
    said = f"From the {first} to the {second} the meter reads {ohms_words(situation.ohms)}"
    if way is None:
        return f"{said}: nothing joins the two."
    if way.cuts:
        return f"{said}: the way is cut at {' and '.join(_named(marker, way.cuts))}."
    parts = [branch for branch in way.branches if branch in setup.parts]
    names = [setup.parts[branch].item if len(parts) > MOST_NAMED else branch for branch in parts]
    joints = [f"the fault ({each.mode})" for each in situation.failures if each.joins and any(" = " in b for b in way.branches)]
    return f"{said}, by way of {', '.join(dict.fromkeys([*names, *joints])) or 'the contact itself'}."


def _named(marker: Marker, branches: tuple[str, ...]) -> list[str]:
    names = []
    for branch in branches:
        failed = next((each for each in marker.situation.failures if branch in (*each.raises, *each.sets)), None)
        names.append(f"the {failed.part} ({failed.mode})" if failed else f"the {branch}")
    return names


class BoxMarker(Marker):
    """Asks which lamps of the test box light."""

    key = "lights"
    tells_fault = True

    def read(self, given: object) -> frozenset[str]:
        """Return the pairs of lines that a choice names."""
        box = self.situation.trial.box
        pairs = box_pairs(self.situation.setup, box) if box else ()
        words = [part.strip().upper() for phrase in cast("tuple[str, ...]", given) for part in re.split(r",", phrase)]
        if words == ["NOTHING"]:
            return frozenset()
        for word in words:
            if word not in pairs:
                raise UnknownNameError(what="lamp of the box", name=word, known=["nothing", *pairs], all_named=True)
        return frozenset(words)

    def words(self, answer: Hashable) -> str:
        """Return the pairs."""
        return " and ".join(sorted(cast("frozenset[str]", answer))) or "no lamp of the box"

    def right(self, answer: Hashable) -> bool:
        """Return whether these pairs light and no others."""
        return self.situation.box == answer

    def because(self, answer: Hashable) -> str:
        """Return what each lamp of the box sees."""
        del answer
        seen = [f"{pair} {ohms_words(ohms)}" for pair, ohms in self.situation.box_ohms(self.situation.made).items()]
        return f"Each lamp lights where its two lines are joined: {', '.join(seen)}."

    def check(self) -> None:
        """Refuse a trial without a box."""
        _ = self.situation.box


class RuleMarker(Marker):
    """Asks which of these keeps to the rule."""

    tells_fault = True

    @property
    def key(self) -> str:  # type: ignore[override]
        """The key of a choice: a reading, or with a gauge the figure that it stands for."""
        return "value" if self.situation.trial.gauge else "reads"

    @property
    def limit(self) -> Limit:
        """The limit that the trial is about. Raises InputError."""
        weapon = self.situation.setup.weapon
        found = next((each for each in limits_of(weapon) if each.about(self.situation.trial)), None)
        if found is None:
            raise InputError(seen="the rules have no limit for this", remedy="name a meter's places or a gauge that has one")
        return found

    def read(self, given: object) -> float:
        """Return the figure, in the unit of the limit; a reading is taken by its worst end."""
        if not isinstance(given, str):
            return float(cast("float", given))
        reading = read_reading(given)
        return reading.high if reading.wobbles or math.isinf(reading.high) else round((reading.low + reading.high) / 2, 9)

    def words(self, answer: Hashable) -> str:
        """Return the figure with its unit."""
        value = cast("float", answer)
        return "open" if math.isinf(value) else f"{value:g} {self.limit.table.unit}"

    def right(self, answer: Hashable) -> bool:
        """Return whether it keeps to the limit."""
        return self.limit.kept(cast("float", answer))

    def because(self, answer: Hashable) -> str:
        """Return the limit."""
        del answer
        limit = self.limit
        return f"{limit.table.quantity[:1].upper()}{limit.table.quantity[1:]}: {limit.text}, {limit.edition}."

    def check(self) -> None:
        """Refuse a trial that no limit is about."""
        _ = self.limit


class BringsMarker(Marker):
    """Asks which movement brings it on."""

    key = "move"
    tells_fault = True

    def read(self, given: object) -> str:
        """Return a movement as the kit spells it."""
        return self.situation.setup.movements.name(str(given))

    def words(self, answer: Hashable) -> str:
        """Return the movement."""
        return str(answer)

    def right(self, answer: Hashable) -> bool:
        """Return whether the kit says that it stirs what has failed."""
        return self._chance(str(answer)) > 0

    def because(self, answer: Hashable) -> str:
        """Return how often each movement shows the fault."""
        del answer
        part = self.situation.setup.parts[self.situation.failures[0].part]
        said = [f"“{move}” shows it about {round(10 * chance)} times in 10" for move, chance in part.moved_by.items()]
        return f"A bad {part.id} shows under what moves it: {'; '.join(said)}. That is judgement, kept with the kit."

    def check(self) -> None:
        """Refuse a fault that nothing stirs."""
        if not self.situation.failures or not self.situation.failures[0].intermittent:
            raise ImpossibleTrialError(seen="nothing here comes and goes", remedy="name a failure that can be intermittent")

    def _chance(self, move: str) -> float:
        parts = self.situation.setup.parts
        return max((parts[each.part].moved_by.get(move, 0.0) for each in self.situation.failures), default=0.0)
