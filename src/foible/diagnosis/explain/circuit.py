"""A trial and a failure in; out, the path of the current, or where it is cut, as data and in words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.apparatus import TERMINALS, Lamp, lamp_chances, load_profile, open_chances, weapon_ports
from foible.circuit import Port, Shape, conductances_of, port_resistances
from foible.circuit.routes import Routes
from foible.diagnosis.explain.words import Chance, Circuit, Measured, Namer, SideFacts, lamps_text
from foible.diagnosis.shown.effects import Edits, edits, failed_network, joint_name, together
from foible.kit import SIDES
from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.apparatus import Profile
    from foible.circuit import Network
    from foible.circuit.routes import Route
    from foible.kit import Failure, Setup, Weapon
    from foible.trials import Arrangement, Trial

__all__ = ["Explanation", "explain_lamps", "explain_tools"]

POOR_OHMS = 10.0
"""A bad joint is named where it makes half of a reading above this [Ω]."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """What one side's lamps do in a trial, and the circuits that make them do it."""

    side: str
    lamps: Mapping[str, float]
    """Probability by lamp."""
    circuits: tuple[Circuit, ...]
    text: str
    kind: Weapon
    """The weapon whose lamps they are."""

    def lamp_name(self, lamp: str) -> str:
        """Return the lamp as people call it: red on the left and green on the right, orange for an earthed line at épée."""
        return self.kind.lamp_name(lamp, self.side)


def explain_lamps(
    setup: Setup, profile: Profile, arrangement: Arrangement, failures: Sequence[tuple[Failure, float]] = ()
) -> dict[str, Explanation]:
    """Return by side why its lamps do what they do, with `failures`, each at a severity [Ω]; without any, with sound kit."""
    for failure, _ in failures:
        if failure.profile:
            profile = load_profile(failure.profile, setup.overlays)
    made = [(failure, edits(setup, failure, ohms)) for failure, ohms in failures]
    network = failed_network(arranged(setup, arrangement).network(setup.network), together(each for _, each in made))
    shape = Shape.of(network, TERMINALS)
    mesh = shape.conductances(conductances_of(network))
    lamps = lamp_chances(profile, shape, mesh)[0]
    joints = {joint_name(*pair): failure for failure, each in made for pair, _ in each.joined}
    namer = Namer(setup, arrangement, [failure for failure, _ in failures], joints)
    opened = {name: chance[:, 0].tolist() for name, chance in open_chances(profile, shape, mesh).items()}
    routes, explanations = Routes(network), {}
    for number, side in enumerate(SIDES):
        ports = weapon_ports(profile.kind, side)
        readings = port_resistances(shape, mesh, ports.values())[:, 0] if ports else ()
        circuits = {
            name: _circuit(network, name, float(value), routes.between(port.sources, port.sinks))
            for (name, port), value in zip(ports.items(), readings, strict=True)
        }
        chances = {lamp.name.lower(): float(lamps[number, lamp]) for lamp in Lamp}
        judged = {name: each[number] for name, each in opened.items()}
        names = {lamp.kind: lamp.names[side] for lamp in profile.kind.lamps}
        lamps_of_side = {name: Chance(p, names.get(name, name)) for name, p in chances.items()}
        facts = SideFacts(side, _measured(profile, circuits, judged, namer), lamps_of_side)
        own = tuple(circuits[each.name] for each in profile.kind.measurements if each.instead_of is None)
        explanations[side] = Explanation(side, chances, own, lamps_text(profile.kind, facts), setup.kind)
    return explanations


def _measured(
    profile: Profile, circuits: Mapping[str, Circuit], opened: Mapping[str, float], namer: Namer
) -> dict[str, Measured]:
    """Return the measurements of a side in words; `opened`: the probability that each counts as open."""
    made = {}
    for each in profile.kind.measurements:
        usual = circuits[each.instead_of or each.name]
        stands_in = profile.anti_blocking and usual.ohms < circuits[each.name].ohms
        made[each.name] = Measured(circuits[each.name], namer, opened.get(each.name), stands_in=stands_in)
    return made


def _circuit(network: Network, name: str, ohms: float, way: Route | None) -> Circuit:
    if way is None:
        return Circuit(name, ohms, (), (), None)
    values = {step: network.branches[network.index(step)].ohms for step in way.branches}
    worst = max(values, key=lambda step: values[step], default=None)
    poor = worst if way.closed and worst is not None and values[worst] > ohms / 2 > POOR_OHMS else None
    return Circuit(name, ohms, way.branches, way.cuts, poor)


def explain_tools(setup: Setup, trial: Trial, failure: Failure | None, ohms: float = math.nan) -> str:
    """Return what a meter, a test box, a gauge or the eye shows in a trial, with `failure` and with sound; "" without."""
    sentences = []
    nodes = setup.items[trial.box].box if trial.box else {}
    for words, first, second in [
        *(
            [(f"The meter reads from {trial.meter[0]} to {trial.meter[1]}", *map(setup.places.__getitem__, trial.meter))]
            if trial.meter
            else []
        ),
        *((f"The box asks lines {pair}", *(nodes[line] for line in pair.split("-"))) for pair, _ in trial.lights),
    ]:
        sentences.append(f"{words}: {_port_words(setup, trial.arrangement, failure, ohms, (first, second))}.")
    if trial.gauge:
        chance = failure.gauges.get(trial.gauge[1], 0.0) if failure else 0.0
        sentences.append(
            f"The {trial.gauge[1]} fails with a chance of {chance:.0%}."
            if chance
            else f"It does not make the {trial.gauge[1]} fail."
        )
    if trial.examine and failure:
        shown = ", ".join(f"{sign} {chance:.0%}" for sign, chance in failure.signs.items()) or "nothing"
        sentences.append(f"Looked at or felt, it shows: {shown}.")
    return " ".join(sentences)


def _port_words(setup: Setup, arrangement: Arrangement, failure: Failure | None, ohms: float, nodes: tuple[str, str]) -> str:
    base = arranged(setup, arrangement).network(setup.network)
    made = edits(setup, failure, ohms) if failure else Edits((), (), ())
    readings = []
    for network in (failed_network(base, made), base):
        shape = Shape.of(network, nodes)
        mesh = shape.conductances(conductances_of(network))
        value = float(port_resistances(shape, mesh, [Port.between(*nodes)])[0, 0])
        readings.append("open" if math.isinf(value) else f"{value:.3g} Ω")
    return f"{readings[0]} with it, {readings[1]} with sound kit"
