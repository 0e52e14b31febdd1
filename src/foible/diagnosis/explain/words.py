"""Circuits told in words: what is closed, by which way, and where it is cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.apparatus import Lamp
from foible.kit import other

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.apparatus import Profile
    from foible.kit import Failure, Setup
    from foible.trials import Arrangement

    Circuits = Mapping[str, "Circuit"]
    Chances = Mapping[Lamp, float]

__all__ = ["Circuit", "Namer", "lamps_text"]

SURE = 0.95
"""A lamp more likely than this is said to light, one less likely than 1 − this to stay dark."""
WHOLE_OHMS = 100.0
"""From here on a resistance is told without decimals [Ω]."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """One measurement of the apparatus in a trial."""

    name: str
    """`loop`, `target`, `leak` or `earth`."""
    ohms: float
    """What the apparatus sees; `inf` where nothing connects [Ω]."""
    way: tuple[str, ...]
    """The branches in the order in which the current passes them."""
    cuts: tuple[str, ...]
    """Those of them that are open."""
    high: str | None
    """The branch that makes most of the resistance, where the way is closed but poor."""


class Namer:
    """Branch names in words."""

    def __init__(
        self, setup: Setup, arrangement: Arrangement, failures: Sequence[Failure], joints: Mapping[str, Failure]
    ) -> None:
        self._setup, self._arrangement, self._failures, self._joints = setup, arrangement, failures, joints

    def cut(self, branch: str) -> str:
        """Return where a circuit is cut."""
        if failed := self._failed(branch):
            return failed
        for side, point in self._setup.points.items():
            if branch in point.opens and side == self._arrangement.press:
                return f"the {side} point, which is pressed"
            if branch in point.closes:
                return f"the {side} point, which is not pressed"
        for connection in self._setup.connections.values():
            if branch in connection.pins.values():
                return f"the {connection.id}, which is undone"
        return f"the {branch}"

    def cuts(self, branches: Sequence[str]) -> str:
        """Return all places where a circuit is cut, each once."""
        return " and ".join(dict.fromkeys(self.cut(branch) for branch in branches))

    def way(self, branches: Sequence[str]) -> str:
        """Return a way as the items it passes, with what stands out on it."""
        stops: list[str] = []
        for branch in branches:
            stop = self._stop(branch)
            if stop and (not stops or stops[-1] != stop):
                stops.append(stop)
        return " → ".join(stops)

    def measured(self, circuit: Circuit) -> str:
        """Return the resistance of a closed circuit and its way."""
        amount = f"{circuit.ohms:.1f} Ω" if circuit.ohms < WHOLE_OHMS else f"{circuit.ohms:.0f} Ω"
        high = f", most of it at {self.cut(circuit.high)}" if circuit.high else ""
        return f"{amount} by way of {self.way(circuit.way)}{high}"

    def _failed(self, branch: str) -> str:
        """Return the part that failed and how, where a branch shows it; "" where the branch is sound."""
        touching = [self._joints[branch]] if branch in self._joints else []
        touching += [f for f in self._failures if branch in (*f.raises, *f.sets, *(f.exchange or ()))]
        return f"the {touching[0].part} ({touching[0].mode})" if touching else ""

    def _stop(self, branch: str) -> str:
        if failed := self._failed(branch):
            return failed
        if branch in self._setup.parts:
            return self._setup.parts[branch].item
        return branch if " on " in branch or branch.startswith("bridge ") else ""


def lamps_text(profile: Profile, side: str, circuits: Circuits, lamps: Chances, namer: Namer) -> str:
    """Return why the lamps of a side do what they do."""
    if profile.weapon == "none":
        return "The apparatus shows nothing whatever is done."
    tell = {"foil": _foil, "épée": _epee, "sabre": _sabre}[profile.weapon]
    return " ".join(tell(profile, side, circuits, lamps, namer))


def _foil(profile: Profile, side: str, circuits: Circuits, lamps: Chances, namer: Namer) -> list[str]:
    loop = circuits["loop"]
    lit = lamps[Lamp.WHITE] + lamps[Lamp.COLOURED]
    sentences = []
    if profile.anti_blocking and loop.ohms < circuits["own loop"].ohms and lamps[Lamp.COLOURED] > SURE:
        sentences.append(
            f"Line A of the {other(side)} is joined to line C of the {other(side)} ({namer.way(loop.way)}), so that this line C "
            f"does not count as earth; without it the loop of lines B and C on the {side} is open."
        )
    elif lit < 1 - SURE:
        dark = "So neither white nor coloured lights."
        sentences.append(f"The loop of lines B and C on the {side} stays closed: {namer.measured(loop)}. {dark}")
    else:
        sentences.append(_opened(f"The loop of lines B and C on the {side}", loop, namer))
    if lit >= 1 - SURE:
        sentences.append(_foil_target(side, circuits["target"], lamps, namer))
    return [*sentences, *_yellow(side, circuits["leak"], lamps, namer)]


def _foil_target(side: str, target: Circuit, lamps: Chances, namer: Namer) -> str:
    lit = lamps[Lamp.WHITE] + lamps[Lamp.COLOURED]
    maybe = "" if lit > SURE else f", if the apparatus takes that for open (chance {lit:.0%})"
    way = f"from line B to line A of the {other(side)}"
    if lamps[Lamp.COLOURED] > SURE * lit:
        return f"The way {way} is closed: {namer.measured(target)}. So coloured lights{maybe}."
    if target.cuts and lamps[Lamp.WHITE] > SURE * lit:
        elsewhere = "which is pressed" in namer.cuts(target.cuts)
        where = "" if elsewhere else f"The way {way} is cut at {namer.cuts(target.cuts)}. "
        return f"{where}So white lights{maybe}."
    if lamps[Lamp.WHITE] > SURE * lit:
        return f"Nothing joins line B to line A of the {other(side)}, so white lights{maybe}."
    return (
        f"The way {way} is poor: {namer.measured(target)}. The rule leaves open whether coloured "
        f"({lamps[Lamp.COLOURED]:.0%}) or white ({lamps[Lamp.WHITE]:.0%}) lights{maybe}."
    )


def _epee(_: Profile, side: str, circuits: Circuits, lamps: Chances, namer: Namer) -> list[str]:
    loop, earth = circuits["loop"], circuits["earth"]
    sentences = []
    earthed = lamps[Lamp.YELLOW] > 1 - SURE
    if loop.cuts or not loop.way:
        sentences.append(_opened(f"The loop of lines A and B on the {side}", loop, namer) + " So no hit shows.")
    else:
        sentences.append(f"The loop of lines A and B on the {side} is closed: {namer.measured(loop)}.")
        chance = lamps[Lamp.COLOURED]
        if chance > SURE:
            sentences.append("Nothing leads it to earth, so coloured lights.")
        elif not earthed:
            sentences.append(f"That is so poor that coloured lights with a chance of {chance:.0%}.")
    if earthed:
        end = "is no hit" if lamps[Lamp.COLOURED] < 1 - SURE else f"is a hit with a chance of {lamps[Lamp.COLOURED]:.0%}"
        sentences.append(f"It is led to earth: {namer.measured(earth)}. So orange lights, and what closes the loop {end}.")
    return sentences


def _sabre(_: Profile, side: str, circuits: Circuits, lamps: Chances, namer: Namer) -> list[str]:
    loop, target = circuits["loop"], circuits["target"]
    sentences = []
    if lamps[Lamp.WHITE] > 1 - SURE:
        chance = "" if lamps[Lamp.WHITE] > SURE else f" with a chance of {lamps[Lamp.WHITE]:.0%}"
        sentences.append(_opened(f"The control loop of lines B and C on the {side}", loop, namer) + f" So white lights{chance}.")
    else:
        sentences.append(f"The control loop of lines B and C on the {side} is closed: {namer.measured(loop)}.")
    rival = other(side)
    if lamps[Lamp.COLOURED] > 1 - SURE:
        chance = "" if lamps[Lamp.COLOURED] > SURE else f" with a chance of {lamps[Lamp.COLOURED]:.0%}"
        sentences.append(f"The weapon reaches line A of the {rival}: {namer.measured(target)}. So coloured lights{chance}.")
    elif target.cuts:
        sentences.append(f"The way from the weapon to line A of the {rival} is cut at {namer.cuts(target.cuts)}. No hit shows.")
    else:
        sentences.append(f"The weapon does not reach line A of the {rival}. No hit shows.")
    return [*sentences, *_yellow(side, circuits["leak"], lamps, namer)]


def _yellow(side: str, leak: Circuit, lamps: Chances, namer: Namer) -> list[str]:
    if lamps[Lamp.YELLOW] <= 1 - SURE:
        return []
    chance = "" if lamps[Lamp.YELLOW] > SURE else f" (with a chance of {lamps[Lamp.YELLOW]:.0%})"
    return [f"Lines A and C of the {side} are joined: {namer.measured(leak)}. So yellow lights{chance}."]


def _opened(what: str, circuit: Circuit, namer: Namer) -> str:
    """Return that a loop is open, or too poor to count as closed."""
    if circuit.cuts:
        return f"{what} is cut at {namer.cuts(circuit.cuts)}."
    if circuit.way:
        return f"{what} is too poor to count as closed: {namer.measured(circuit)}."
    return f"{what} is open: nothing joins them."
