"""Resistances between the inputs of an apparatus in, the probability of every lamp out.

What is measured at each weapon, and which lamps it makes, is the kit's (`Weapon`); from which resistance on it counts as open,
the rule profile's. While a line is not part of a measurement it floats.
"""

from __future__ import annotations

from enum import IntEnum
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np

from foible.circuit import Port, port_resistances
from foible.kit import SIDES, other

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from foible.apparatus.profile import Profile
    from foible.circuit import Shape
    from foible.kit import Condition, Weapon

    Chances = NDArray[np.float64]

__all__ = ["TERMINALS", "Lamp", "lamp_chances", "open_chances", "weapon_ports"]


class Lamp(IntEnum):
    """The lamps of one side, in the order of every lamp array."""

    WHITE = 0
    COLOURED = 1
    YELLOW = 2
    """At épée the optional orange lamp for an earthed line."""


def _input(side: str, line: str) -> str:
    return f"apparatus.{side}_{line}"


PISTE = "apparatus.piste"
TERMINALS = (*(_input(side, line) for side in SIDES for line in "abc"), PISTE)
"""The nodes that an apparatus measures between."""


def weapon_ports(weapon: Weapon, side: str) -> Mapping[str, Port]:
    """Return what an apparatus measures for `side` at `weapon`, by name."""
    return {each.name: Port(_nodes(each.sources, side), _nodes(each.sinks, side)) for each in weapon.measurements}


@cache
def _nodes(inputs: tuple[str, ...], side: str) -> tuple[str, ...]:
    """Return the nodes of inputs as one side sees them: “A”, “opponent C”, “piste”."""
    own = {line.upper(): _input(side, line) for line in "abc"}
    rival = {f"opponent {line.upper()}": _input(other(side), line) for line in "abc"}
    known = own | rival | {"piste": PISTE}
    return tuple(known[name] for name in inputs)


def lamp_chances(profile: Profile, shape: Shape, mesh: NDArray[Any]) -> Chances:
    """Return the probability of each lamp in each network, shape (networks, sides, lamps).

    `mesh`: conductances between the inputs, shape (pairs, networks) [S], as `shape.conductances` gives for `TERMINALS`.
    A lamp that the weapon does not have stays dark; lamps of one group never light together. What blocks a lamp counts in full.
    """
    opened = open_chances(profile, shape, mesh)
    lit = np.zeros((mesh.shape[1], len(SIDES), len(Lamp)))
    for lamp in profile.kind.lamps:
        chance = _chance(opened, lamp.lights[0])
        for condition in lamp.lights[1:]:
            chance = chance * (1.0 - _failing(opened, condition))
        if lamp.blocked_when is not None:
            chance = chance * (1.0 - lamp.blocked * _chance(opened, lamp.blocked_when))
        lit[:, :, Lamp[lamp.kind.upper()]] = chance.T
    return lit


def open_chances(profile: Profile, shape: Shape, mesh: NDArray[Any]) -> dict[str, Chances]:
    """Return by measurement the probability that it counts as open, shape (sides, networks); `mesh` as for `lamp_chances`.

    Where an apparatus with anti-blocking takes another measurement in its place, that one is counted in as often as it does.
    """
    asked = [each for each in profile.kind.measurements if each.instead_of is None or profile.anti_blocking]
    if not asked:
        return {}
    ports = [port for side in SIDES for port in (weapon_ports(profile.kind, side)[each.name] for each in asked)]
    ohms = port_resistances(shape, mesh, ports).reshape(len(SIDES), len(asked), -1)
    opened = {
        each.name: profile.gap(each.instead_of or each.name).chance_open(ohms[:, number]) for number, each in enumerate(asked)
    }
    for each in asked:
        if each.instead_of is not None and each.when_opponent is not None:
            taken = _chance(opened, each.when_opponent)[::-1]
            usual, instead = opened[each.instead_of], opened.pop(each.name)
            opened[each.instead_of] = usual + taken * (instead - usual)
    return opened


def _chance(opened: Mapping[str, Chances], condition: Condition) -> Chances:
    """Return the probability that a measurement counts as open, or as closed."""
    chance = opened[condition.of]
    return chance if condition.state == "open" else 1.0 - chance


def _failing(opened: Mapping[str, Chances], condition: Condition) -> Chances:
    """Return the probability that a condition does not hold."""
    chance = opened[condition.of]
    return chance if condition.state == "closed" else 1.0 - chance
