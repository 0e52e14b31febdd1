"""Which lamps light: from the resistances between the inputs of a foil apparatus to a probability for every lamp.

Rule: FIE Material Rules (Book 3), August 2026, Annex B, A.1 and A.2. While a line is not part of a measurement it floats, so
that own weapon on own lamé and blade on the opponent's lamé stay different things.
"""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from foible.circuit import Port, port_resistances
from foible.kit import SIDES, other

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from foible.apparatus.profile import Profile
    from foible.circuit import Shape

__all__ = ["TERMINALS", "Lamp", "foil_lamps", "foil_ports"]


class Lamp(IntEnum):
    """The lamps of one side, in the order of every lamp array."""

    WHITE = 0
    COLOURED = 1
    YELLOW = 2


def _input(side: str, line: str) -> str:
    return f"apparatus.{side}_{line}"


PISTE = "apparatus.piste"
TERMINALS = (*(_input(side, line) for side in SIDES for line in "abc"), PISTE)
"""The nodes that an apparatus measures between."""


def foil_ports(side: str) -> Mapping[str, Port]:
    """Return what a foil apparatus measures for `side`, by name.

    `loop`: B to C with the opponent's C and the piste as earth. `own loop`: the same with the opponent's C floating.
    `target`: B to the opponent's A. `leak`: A to C of this side.
    """
    rival = other(side)
    return {
        "loop": Port.between(_input(side, "b"), _input(side, "c"), _input(rival, "c"), PISTE),
        "own loop": Port.between(_input(side, "b"), _input(side, "c"), PISTE),
        "target": Port.between(_input(side, "b"), _input(rival, "a")),
        "leak": Port.between(_input(side, "a"), _input(side, "c")),
    }


def foil_lamps(profile: Profile, shape: Shape, mesh: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the probability of each lamp in each network, shape (networks, sides, lamps).

    `mesh`: conductances between the inputs, shape (pairs, networks) [S], as `shape.conductances` gives for `TERMINALS`.
    White and coloured exclude each other. With anti-blocking (A.2) a side whose own jacket touches its own weapon does not
    count as earth for the other side's loop, so that hits on its jacket register.
    """
    ports = [port for side in SIDES for port in foil_ports(side).values()]
    ohms = port_resistances(shape, mesh, ports).reshape(len(SIDES), 4, -1)
    loop, own_loop, target, leak = (ohms[:, i] for i in range(4))
    yellow = 1.0 - profile.leak.chance_open(leak)
    opened = profile.loop.chance_open(loop)
    if profile.anti_blocking:
        rival_leaks = yellow[::-1]
        opened = opened + rival_leaks * (profile.loop.chance_open(own_loop) - opened)
    on_target = 1.0 - profile.target.chance_open(target)
    lamps = np.stack([opened * (1.0 - on_target), opened * on_target, yellow])
    return np.ascontiguousarray(lamps.transpose(2, 1, 0))
