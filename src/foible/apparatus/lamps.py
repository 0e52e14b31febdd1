"""Which lamps light: from the resistances between the inputs of an apparatus to a probability for every lamp.

Rule: FIE Material Rules (Book 3), August 2026, Annex B; A.1 and A.2 foil, B épée, C sabre. While a line is not part of a
measurement it floats, so that own weapon on own lamé and blade on the opponent's lamé stay different things.
"""

from __future__ import annotations

from enum import IntEnum
from typing import TYPE_CHECKING, Any

import numpy as np

from foible.circuit import Port, port_resistances
from foible.kit import SIDES, other

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from foible.apparatus.profile import Profile
    from foible.circuit import Shape

    Readings = Mapping[str, NDArray[np.float64]]

__all__ = ["TERMINALS", "Lamp", "lamp_chances", "weapon_ports"]


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


def weapon_ports(weapon: str, side: str) -> Mapping[str, Port]:
    """Return what an apparatus measures for `side` at `weapon`, by name.

    Foil: `loop` B to C with the opponent's C and the piste as earth; `own loop` the same with the opponent's C floating;
    `target` B to the opponent's A; `leak` A to C of this side. Épée: `loop` A to B; `earth` A and B to both C and the piste.
    Sabre: `loop` B to C; `target` B and C to the opponent's A; `leak` A to C of this side.
    """
    a, b, c = (_input(side, line) for line in "abc")
    rival_a, rival_c = (_input(other(side), line) for line in "ac")
    match weapon:
        case "foil":
            return {
                "loop": Port.between(b, c, rival_c, PISTE),
                "own loop": Port.between(b, c, PISTE),
                "target": Port.between(b, rival_a),
                "leak": Port.between(a, c),
            }
        case "épée":
            return {"loop": Port.between(a, b), "earth": Port.between((a, b), c, rival_c, PISTE)}
        case "sabre":
            return {"loop": Port.between(b, c), "target": Port.between((b, c), rival_a), "leak": Port.between(a, c)}
        case "none":
            return {}
        case _:
            msg = f"no apparatus is known for “{weapon}”"
            raise ValueError(msg)


def lamp_chances(profile: Profile, shape: Shape, mesh: NDArray[Any]) -> NDArray[np.float64]:
    """Return the probability of each lamp in each network, shape (networks, sides, lamps).

    `mesh`: conductances between the inputs, shape (pairs, networks) [S], as `shape.conductances` gives for `TERMINALS`.
    White and coloured of one side exclude each other.
    """
    if profile.weapon == "none":
        return np.zeros((mesh.shape[1], len(SIDES), len(Lamp)))
    names = [name for name in weapon_ports(profile.weapon, SIDES[0]) if name != "own loop" or profile.anti_blocking]
    asked = [weapon_ports(profile.weapon, side)[name] for side in SIDES for name in names]
    ohms = port_resistances(shape, mesh, asked).reshape(len(SIDES), len(names), -1)
    readings = {name: ohms[:, i] for i, name in enumerate(names)}
    lit = {"foil": _foil, "épée": _epee, "sabre": _sabre}[profile.weapon](profile, readings)
    return np.ascontiguousarray(np.stack(lit).transpose(2, 1, 0))


def _foil(profile: Profile, readings: Readings) -> list[NDArray[np.float64]]:
    """With anti-blocking (A.2) a side whose own jacket touches its own weapon is no earth for the other side's loop.

    So hits on its jacket register.
    """
    loop = profile.gap("loop")
    yellow = 1.0 - profile.gap("leak").chance_open(readings["leak"])
    opened = loop.chance_open(readings["loop"])
    if profile.anti_blocking:
        rival_leaks = yellow[::-1]
        opened = opened + rival_leaks * (loop.chance_open(readings["own loop"]) - opened)
    on_target = 1.0 - profile.gap("target").chance_open(readings["target"])
    return [opened * (1.0 - on_target), opened * on_target, yellow]


def _epee(profile: Profile, readings: Readings) -> list[NDArray[np.float64]]:
    """Light coloured for a closed loop that is not earthed, orange for an earthed line, the loop closed or not."""
    closed = 1.0 - profile.gap("loop").chance_open(readings["loop"])
    clear = profile.gap("earth").chance_open(readings["earth"])
    return [np.zeros_like(closed), closed * clear, 1.0 - clear]


def _sabre(profile: Profile, readings: Readings) -> list[NDArray[np.float64]]:
    """White is no hit but a break of the control loop; that no hit counts meanwhile is judgement, no clause says it."""
    white = profile.gap("loop").chance_open(readings["loop"])
    hit = 1.0 - profile.gap("target").chance_open(readings["target"])
    return [white, (1.0 - white) * hit, 1.0 - profile.gap("leak").chance_open(readings["leak"])]
