"""Questions about lamps and ways: which lamps light, where a circuit is cut, what the current passes."""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING, cast

from foible.apparatus import Lamp
from foible.errors import ImpossibleTrialError, InputError, UnknownNameError
from foible.kit import SIDES, plain
from foible.practice.lessons.marker import Marker, because_of_lamps, explained, seen_words
from foible.practice.lessons.situation import lamp_list

if TYPE_CHECKING:
    from collections.abc import Hashable

    from foible.diagnosis import Circuit
    from foible.kit import Setup

__all__ = ["CutMarker", "LampsMarker", "WayMarker", "lamps_named"]


class LampsMarker(Marker):
    """Asks which lamps light."""

    key = "lights"
    tells_fault = True

    def read(self, given: object) -> frozenset[str]:
        """Return the lamps that a choice names."""
        return lamps_named(self.situation.setup, cast("tuple[str, ...]", given))

    def words(self, answer: Hashable) -> str:
        """Return the lamps side by side."""
        names = lamp_list(self.situation.setup, cast("frozenset[str]", answer))
        return ", ".join(names) if names else "no lamp at all"

    def right(self, answer: Hashable) -> bool:
        """Return whether these lamps light and no others."""
        return self.situation.lamps == answer

    def because(self, answer: Hashable) -> str:
        """Return why the lamps do what they do, whatever was chosen."""
        del answer
        return because_of_lamps(self.situation)

    def check(self) -> None:
        """Refuse a situation in which nobody looks at lamps."""
        if self.situation.trial.meter or self.situation.trial.box or self.situation.trial.gauge:
            raise ImpossibleTrialError(seen="a meter, a box or a gauge lights no lamps", remedy="ask what it reads or shows")


class _CircuitMarker(Marker):
    """About one measurement and the branches that it passes."""

    key = "at"
    cut: bool

    @cached_property
    def circuit(self) -> Circuit:
        """The measurement asked about."""
        situation = self.situation
        found = next((each for each in explained(situation)[situation.side].circuits if each.name == situation.circuit), None)
        if found is None:
            known = [each.name for each in situation.setup.kind.measurements if each.instead_of is None]
            raise UnknownNameError(what="measurement", name=situation.circuit, known=known, all_named=True)
        return found

    def read(self, given: object) -> str:
        """Return an item, a part or a connection as the kit spells it."""
        setup, name = self.situation.setup, str(given)
        if name in setup.items:
            return setup.items.name(name)
        if name in setup.parts:
            return setup.parts.name(name)
        if name in setup.connections:
            return setup.connections.name(name)
        raise InputError(seen=f"there is no item, part or connection called “{name}”", remedy="`foible kit` lists the names")

    def words(self, answer: Hashable) -> str:
        """Return the name of the place."""
        return str(answer)

    def right(self, answer: Hashable) -> bool:
        """Return whether the circuit is cut there, or passes there."""
        branches = self.circuit.cuts if self.cut else () if self.circuit.cuts else self.circuit.way
        return any(_belongs(self.situation.setup, branch, str(answer)) for branch in branches)

    def because(self, answer: Hashable) -> str:
        """Return what the lamps of that side say of it."""
        del answer
        return explained(self.situation)[self.situation.side].text

    def check(self) -> None:
        """Refuse a circuit that is not there, or not in the state asked about."""
        if self.cut and not self.circuit.cuts:
            raise ImpossibleTrialError(seen=f"the circuit “{self.circuit.name}” is not cut anywhere", remedy="ask for its way")
        if not self.cut and (self.circuit.cuts or not self.circuit.way):
            raise ImpossibleTrialError(seen=f"the circuit “{self.circuit.name}” is not closed", remedy="ask where it is cut")


class CutMarker(_CircuitMarker):
    """Asks where a circuit is cut."""

    cut = True


class WayMarker(_CircuitMarker):
    """Asks what the current passes."""

    cut = False
    tells_fault = True

    def seen(self) -> str:
        """Return what is seen: the way is asked for, not the lamps."""
        return seen_words(self.situation)


def _belongs(setup: Setup, branch: str, name: str) -> bool:
    """Return whether a branch is of an item, a part or a connection."""
    if name in setup.connections and branch in setup.connections[name].pins.values():
        return True
    return branch == name or (branch in setup.parts and setup.parts[branch].item == name)


def lamps_named(setup: Setup, phrases: tuple[str, ...]) -> frozenset[str]:
    """Return the lamps that phrases such as “left white”, “right green” or “nothing” name. Raises InputError."""
    known: dict[str, str] = {}
    for side in SIDES:
        for lamp in setup.kind.lamps:
            for name in (lamp.kind, lamp.word, lamp.names[side]):
                known[plain(f"{side} {name}")] = f"{side} {Lamp[lamp.kind.upper()].name.lower()}"
    words = [plain(part) for phrase in phrases for part in re.split(r"\s*,\s*", phrase.strip()) if part]
    if words == ["nothing"]:
        return frozenset()
    for word in words:
        if word not in known:
            raise UnknownNameError(what="lamp", name=word, known=["nothing", *known], all_named=True)
    return frozenset(known[word] for word in words)
