"""An arrangement in; out which branches of the strip it opens and which contacts it adds."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

from foible.circuit import OPEN, Branch, Network

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.kit import Setup
    from foible.trials.trial import Arrangement

__all__ = ["CONTACT_OHMS", "Arranged", "arranged", "drawn_plugs"]

CONTACT_OHMS = 0.1
"""Metal pressed on metal or cloth by hand [Ω]; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Arranged:
    """What an arrangement does to the network of a set-up."""

    opened: frozenset[str]
    """Branches that are open in this arrangement."""
    contacts: tuple[Branch, ...]
    """Branches added by it."""

    def network(self, sound: Network) -> Network:
        """Return `sound` in this arrangement."""
        branches = [Branch(b.name, b.a, b.b, OPEN) if b.name in self.opened else b for b in sound.branches]
        return Network((*branches, *self.contacts))


def arranged(setup: Setup, arrangement: Arrangement) -> Arranged:
    """Return what `arrangement` does; its names are those of the set-up."""
    opened = {branch for name in arrangement.unplugged for branch in setup.connections[name].pins.values()}
    opened |= {branch for side, point in setup.points.items() if side != arrangement.press for branch in point.closes}
    contacts: dict[str, Branch] = {}
    if arrangement.press:
        point = setup.points[arrangement.press]
        opened |= set(point.opens)
        if arrangement.on:
            node = setup.places[arrangement.on]
            _join(contacts, f"{arrangement.press} point on {arrangement.on}", point.face, node)
            if arrangement.on in setup.cloth and point.collar:
                _join(contacts, f"{arrangement.press} barrel on {arrangement.on}", point.collar, node)
    for a, b in arrangement.touching:
        _join(contacts, f"{a} on {b}", setup.places[a], setup.places[b])
        for number, node in enumerate(setup.broad.get(b, ()) if a in setup.long else ()):
            _join(contacts, f"{a} on {b}, {number + 2}", setup.places[a], node)
    for name, first, second in arrangement.bridged:
        pins: Mapping[str, str] = setup.connections[name].bridge
        _join(contacts, f"bridge {name} {first}-{second}", pins[first], pins[second])
    return Arranged(frozenset(opened), tuple(contacts.values()))


def drawn_plugs(setup: Setup, arrangement: Arrangement) -> set[str]:
    """Return the plugs that somebody has in hand for an arrangement: undone, or half out so that their pins can be got at."""
    touched = {setup.places[name] for name in (arrangement.on, *chain(*arrangement.touching)) if name}
    drawn = {*arrangement.unplugged, *(name for name, _, _ in arrangement.bridged)}
    for connection in setup.connections.values() if touched else ():
        lines = (setup.network.branches[setup.network.index(branch)] for branch in connection.pins.values())
        if not touched.isdisjoint(node for line in lines for node in (line.a, line.b)):
            drawn.add(connection.id)
    return drawn


def _join(contacts: dict[str, Branch], name: str, a: str, b: str) -> None:
    contacts[name] = Branch(name, a, b, CONTACT_OHMS)
