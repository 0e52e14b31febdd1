"""Why: the way the current takes in a trial under a failure, or where it is cut, as data and in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.apparatus import TERMINALS, Lamp, foil_lamps, foil_ports
from foible.circuit import Shape, conductances_of, port_resistances
from foible.circuit.routes import route
from foible.diagnosis.effects import Edits, edits, failed_network, joint_name
from foible.kit import SIDES
from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.apparatus import Profile
    from foible.circuit import Network
    from foible.circuit.routes import Route
    from foible.kit import Failure, Setup
    from foible.trials import Arrangement

__all__ = ["Circuit", "Explanation", "explain", "named_lamp"]

SURE = 0.95
"""A lamp more likely than this is said to light, one less likely than 1 − this to stay dark."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """One measurement of the apparatus in a trial."""

    name: str
    """`loop`, `target` or `leak`."""
    ohms: float
    """What the apparatus sees; `inf` where nothing connects [Ω]."""
    way: tuple[str, ...]
    """The branches in the order in which the current passes them."""
    cuts: tuple[str, ...]
    """Those of them that are open."""
    high: str | None
    """The branch that makes most of the resistance, where the way is closed but poor."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """What one side's lamps do in a trial, and the circuits that make them do it."""

    side: str
    lamps: Mapping[str, float]
    """Probability by lamp."""
    circuits: tuple[Circuit, ...]
    text: str


def explain(
    setup: Setup, profile: Profile, arrangement: Arrangement, *, failure: Failure | None = None, ohms: float = math.nan
) -> dict[str, Explanation]:
    """Return by side why its lamps do what they do, with `failure` at severity `ohms` [Ω], else with sound kit."""
    made = edits(setup, failure, ohms) if failure else Edits((), (), ())
    network = failed_network(arranged(setup, arrangement).network(setup.network), made)
    shape = Shape.of(network, TERMINALS)
    mesh = shape.conductances(conductances_of(network))
    lamps = foil_lamps(profile, shape, mesh)[0]
    joints = {joint_name(*pair): _joint_words(failure) for pair, _ in made.joined}
    namer = _Namer(setup, arrangement, failure, joints)
    explanations = {}
    for number, side in enumerate(SIDES):
        ports = foil_ports(side)
        readings = port_resistances(shape, mesh, ports.values())[:, 0]
        circuits = {
            name: _circuit(network, name, float(value), route(network, port.source, port.sinks))
            for (name, port), value in zip(ports.items(), readings, strict=True)
        }
        chances = {lamp: float(lamps[number, lamp]) for lamp in Lamp}
        text = _words(profile, side, circuits, chances, namer)
        wanted = tuple(circuits[name] for name in ("loop", "target", "leak"))
        explanations[side] = Explanation(side, {lamp.name.lower(): p for lamp, p in chances.items()}, wanted, text)
    return explanations


def _circuit(network: Network, name: str, ohms: float, way: Route | None) -> Circuit:
    if way is None:
        return Circuit(name, ohms, (), (), None)
    values = {step: network.branches[network.index(step)].ohms for step in way.branches}
    worst = max(values, key=lambda step: values[step], default=None)
    poor = worst if way.closed and worst is not None and values[worst] > ohms / 2 > _POOR_OHMS else None
    return Circuit(name, ohms, way.branches, way.cuts, poor)


_POOR_OHMS = 10.0
"""Half the reading above which one bad joint is worth naming [Ω]."""


def _joint_words(failure: Failure | None) -> str:
    return f"the {failure.part} ({failure.mode})" if failure else ""


class _Namer:
    """Branch names in words."""

    def __init__(self, setup: Setup, arrangement: Arrangement, failure: Failure | None, names: Mapping[str, str]) -> None:
        self._setup, self._arrangement, self._failure, self._names = setup, arrangement, failure, names

    def cut(self, branch: str) -> str:
        """Return where a circuit is cut."""
        pressed = self._arrangement.press and self._setup.points[self._arrangement.press].switch == branch
        if pressed and not (self._failure and branch in self._failure.raises):
            return f"the {self._arrangement.press} point, which is pressed"
        if self._failed(branch):
            return _joint_words(self._failure)
        for connection in self._setup.connections.values():
            if branch in connection.pins.values():
                return f"the {connection.id}, which is undone"
        return f"the {branch}"

    def _failed(self, branch: str) -> bool:
        failure = self._failure
        return failure is not None and branch in (*failure.raises, *failure.sets, *(failure.exchange or ()))

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

    def _stop(self, branch: str) -> str:
        if branch in self._names:
            return self._names[branch]
        if self._failed(branch):
            return _joint_words(self._failure)
        if branch in self._setup.parts:
            return self._setup.parts[branch].item
        if " on " in branch or branch.startswith("bridge "):
            return branch
        return ""


def _words(profile: Profile, side: str, circuits: Mapping[str, Circuit], lamps: Mapping[Lamp, float], namer: _Namer) -> str:
    loop, target, leak = circuits["loop"], circuits["target"], circuits["leak"]
    sentences = []
    rival_leaks = profile.anti_blocking and loop.ohms < circuits["own loop"].ohms and lamps[Lamp.COLOURED] > SURE
    if rival_leaks:
        sentences.append(
            f"The opponent's lamé is joined to the opponent's weapon ({namer.way(loop.way)}), so that line C does not count as "
            f"earth; without it the loop of lines B and C on the {side} is open."
        )
    elif lamps[Lamp.WHITE] + lamps[Lamp.COLOURED] < 1 - SURE:
        sentences.append(
            f"The loop of lines B and C on the {side} stays closed: {_measured(loop, namer)}. "
            "So neither white nor coloured lights."
        )
    elif loop.cuts:
        sentences.append(f"The loop of lines B and C on the {side} is cut at {namer.cuts(loop.cuts)}.")
    else:
        sentences.append(f"The loop of lines B and C on the {side} is too poor to count as closed: {_measured(loop, namer)}.")
    if lamps[Lamp.WHITE] + lamps[Lamp.COLOURED] >= 1 - SURE:
        sentences.append(_target_words(side, target, lamps, namer))
    if lamps[Lamp.YELLOW] > 1 - SURE:
        sure = "" if lamps[Lamp.YELLOW] > SURE else f" (with a chance of {lamps[Lamp.YELLOW]:.0%})"
        sentences.append(f"Lines A and C of the {side} are joined: {_measured(leak, namer)}. So yellow lights{sure}.")
    return " ".join(sentences)


def _target_words(side: str, target: Circuit, lamps: Mapping[Lamp, float], namer: _Namer) -> str:
    lit = lamps[Lamp.WHITE] + lamps[Lamp.COLOURED]
    maybe = "" if lit > SURE else f", if the apparatus takes that for open (chance {lit:.0%})"
    rival = SIDES[1 - SIDES.index(side)]
    if lamps[Lamp.COLOURED] > SURE * lit:
        return f"From line B the way to line A of the {rival} is closed: {_measured(target, namer)}. So coloured lights{maybe}."
    if target.cuts and lamps[Lamp.WHITE] > SURE * lit:
        touching = not _away(target, namer)
        where = f"The way from line B to line A of the {rival} is cut at {namer.cuts(target.cuts)}. " if touching else ""
        return f"{where}So white lights{maybe}."
    if lamps[Lamp.WHITE] > SURE * lit:
        return f"Nothing joins line B to line A of the {rival}, so white lights{maybe}."
    return (
        f"The way from line B to line A of the {rival} is poor: {_measured(target, namer)}. "
        f"The rule leaves open whether coloured ({lamps[Lamp.COLOURED]:.0%}) or white ({lamps[Lamp.WHITE]:.0%}) lights{maybe}."
    )


def _away(target: Circuit, namer: _Namer) -> bool:
    """Return whether the way to the target leads through a point that is pressed on something else."""
    return any("which is pressed" in namer.cut(cut) for cut in target.cuts)


def _measured(circuit: Circuit, namer: _Namer) -> str:
    amount = f"{circuit.ohms:.1f} Ω" if circuit.ohms < 100 else f"{circuit.ohms:.0f} Ω"  # noqa: PLR2004 — a decimal for small ones
    high = f", most of it at {namer.cut(circuit.high)}" if circuit.high else ""
    return f"{amount} by way of {namer.way(circuit.way)}{high}"


def named_lamp(lamp: str, side: str) -> str:
    """Return the lamp as people call it: the coloured lamp is red on the left and green on the right."""
    if lamp != "coloured":
        return lamp
    return "red" if side == SIDES[0] else "green"
