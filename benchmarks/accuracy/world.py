"""Simulated kit with known faults: what each trial would show, worked out network by network.

A world says how its faults, its good parts, its apparatus and its people differ from what the model assumes. Nothing here goes
through the tables that the advice is made with: every simulated fault has a network of its own, solved in every arrangement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import TERMINALS, Gap, Lamp, lamp_chances, load_profile
from foible.circuit import Port, Shape, port_resistances
from foible.diagnosis.advice.outcomes import READING_STEPS
from foible.diagnosis.belief.lamp_reports import lamp_states
from foible.diagnosis.shown.effects import edits
from foible.diagnosis.shown.hypotheses import SOUND
from foible.diagnosis.shown.readings import BOX_GAP
from foible.kit import SIDES
from foible.trials import arranged, groups_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.random import Generator
    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.circuit import Branch
    from foible.diagnosis import Reasoner
    from foible.diagnosis.advice.adviser import Adviser
    from foible.diagnosis.advice.outcomes import Experiment
    from foible.trials import Arrangement, Trial

    Floats = NDArray[np.float64]

__all__ = ["WORLDS", "Case", "Fault", "Simulation", "World", "complaints", "draw", "on_the_bench", "situations"]


@dataclass(frozen=True)
class World:
    """How a simulated world differs from the model's own."""

    name: str
    words: str
    rates: float = 1.0
    """Rates of failures are off by up to this factor either way."""
    misread: float = 0.02
    two: float = 0.04
    spread: float = 1.0
    """Good parts vary by their spread to this power."""
    between: bool = False
    """Severities lie anywhere between the steps of their ladder."""
    thresholds: bool = False
    """Each apparatus has one threshold somewhere in the gap that the rule leaves, rather than a chance."""


WORLDS = (
    World("own", "the model's own world"),
    World("rates", "rates of failures off by up to 4 × either way", rates=4.0),
    World("misread", "lamps misread twice as often", misread=0.04),
    World("spread", "good parts vary twice as widely, severities lie between the steps", spread=2.0, between=True),
    World("thresholds", "each apparatus with its own threshold in the rule's gap", thresholds=True),
    World("two", "two failures at once five times as often", two=0.20),
    World("all", "all of these together", rates=4.0, misread=0.04, spread=2.0, between=True, thresholds=True, two=0.20),
)


@dataclass(frozen=True)
class Fault:
    """What is wrong in one simulated case: none, one or two hypotheses by position, with severities of their own [Ω]."""

    hypotheses: tuple[int, ...]
    ohms: tuple[float, ...]


def draw(reasoner: Reasoner, world: World, count: int, rng: Generator, *, item: str | None = None) -> list[Fault]:
    """Return `count` cases drawn from the prior as the world has it; `item` keeps them to one item, and to real faults.

    On the bench a meter sees a severity itself, and the model's own world has it anywhere within its step.
    """
    hypotheses = reasoner.hypotheses
    weight = hypotheses.prior.copy()
    weight[:2] = 0.0
    factor = np.exp(rng.uniform(-1, 1, len(hypotheses.failures)) * np.log(world.rates))
    weight[2:] *= factor[hypotheses.failure[2:]]
    if item:
        weight[2:] *= np.array([hypotheses.failures[i].item == item for i in hypotheses.failure[2:].tolist()])
    weight /= weight.sum()
    sound = 0.0 if item else float(hypotheses.prior[0])
    low, high = hypotheses.step_edges
    faults = []
    for kind in rng.random(count).tolist():
        size = 0 if kind < sound else 2 if kind < sound + world.two else 1
        chosen = tuple(int(i) for i in rng.choice(len(weight), size=size, p=weight))
        parts = {hypotheses.failures[int(hypotheses.failure[i])].part for i in chosen}
        if len(parts) < size:
            chosen = chosen[:1]
        ohms = []
        for i in chosen:
            between = (world.between or item) and np.isfinite(hypotheses.ohms[i]) and high[i] > low[i]
            ohms.append(float(np.exp(rng.uniform(np.log(low[i]), np.log(high[i]))) if between else hypotheses.ohms[i]))
        faults.append(Fault(chosen, tuple(ohms)))
    return faults


class Simulation:
    """Faults in a world, and what any trial shows of each."""

    def __init__(self, reasoner: Reasoner, world: World, faults: Sequence[Fault], rng: Generator) -> None:
        self.reasoner = reasoner
        self.world = world
        self.faults = tuple(faults)
        self._rng = rng
        self._setup = reasoner.setup
        self._networks()
        self._profile = reasoner.profile
        self._place = rng.random((len(faults), 4))
        """Where in each gap the threshold of each case's apparatus lies."""
        self._lamps: dict[Arrangement, Floats] = {}
        self._presence: dict[Trial, tuple[Floats, Floats, Floats]] = {}
        self._found: dict[str, Floats] = {}
        self.starts: dict[object, Floats] = {}
        self._ohms: dict[tuple[Arrangement, tuple[Port, ...]], Floats] = {}

    # --- networks -------------------------------------------------------------------------------------------------

    def _networks(self) -> None:
        """Lay out the resistances of every case with each set of its faults there: none, first, second, both."""
        network = self._setup.network
        hypotheses = self.reasoner.hypotheses
        made = [
            [
                edits(self._setup, hypotheses.failures[int(hypotheses.failure[i])], ohms)
                for i, ohms in zip(f.hypotheses, f.ohms, strict=True)
            ]
            for f in self.faults
        ]
        joints = {pair: None for case in made for one in case for pair, _ in one.joined}
        self._joints = {pair: i for i, pair in enumerate(joints)}
        base = np.array([b.ohms for b in network.branches])
        spread = np.array([self._setup.parts[b.name].spread if b.name in self._setup.parts else 1.0 for b in network.branches])
        sigma = np.log(spread) / 1.96 * self.world.spread
        good = base[:, None] * np.exp(sigma[:, None] * self._rng.standard_normal((len(base), len(made))))
        self._good = np.repeat(good[:, :, None], 4, axis=2)
        self._held = np.full_like(self._good, np.nan)
        self._across = np.zeros((len(joints), len(made), 4))
        for case, parts in enumerate(made):
            for number, one in enumerate(parts):
                there = [2, 3] if number else [1, 3]
                for name, ohms in one.raised:
                    self._good[network.index(name), case, there] += ohms
                for name, ohms in one.held:
                    self._held[network.index(name), case, there] = ohms
                for pair, ohms in one.joined:
                    self._across[self._joints[pair], case, there] += 1 / ohms

    def _mesh(self, arrangement: Arrangement, terminals: Sequence[str]) -> tuple[Shape, Floats]:
        made = arranged(self._setup, arrangement)
        branches: tuple[Branch, ...] = self._setup.network.branches
        opened = np.array([b.name in made.opened for b in branches])
        siemens = 1 / np.where(np.isnan(self._held), np.where(opened[:, None, None], np.inf, self._good), self._held)
        contacts = np.full((len(made.contacts), *siemens.shape[1:]), 1.0)
        for row, contact in enumerate(made.contacts):
            contacts[row] /= contact.ohms
        ends = (*((b.a, b.b) for b in branches), *self._joints, *((b.a, b.b) for b in made.contacts))
        shape = Shape(ends, tuple(terminals))
        table = np.concatenate([siemens, self._across, contacts])
        return shape, shape.conductances(table.reshape(len(ends), -1))

    def lamps(self, arrangement: Arrangement) -> Floats:
        """Return the lamp probabilities of each case, shape (cases, sets of faults, sides, lamps)."""
        if arrangement not in self._lamps:
            shape, mesh = self._mesh(arrangement, TERMINALS)
            lamps = self._judged(self._profile, shape, mesh)
            hypotheses = self.reasoner.hypotheses
            for case, fault in enumerate(self.faults):
                for number, i in enumerate(fault.hypotheses):
                    name = hypotheses.failures[int(hypotheses.failure[i])].profile
                    for there in (2, 3) if number else (1, 3):
                        if name:
                            column = case * 4 + there
                            other = load_profile(name, self._setup.overlays)
                            lamps[column] = lamp_chances(other, shape, mesh[:, column : column + 1])[0]
            self._lamps[arrangement] = lamps.reshape(len(self.faults), 4, len(SIDES), len(Lamp))
        return self._lamps[arrangement]

    def _judged(self, profile: Profile, shape: Shape, mesh: Floats) -> Floats:
        if not self.world.thresholds:
            return lamp_chances(profile, shape, mesh)
        gaps = []
        for place, (name, gap) in zip(self._place.T, profile.gaps, strict=False):
            edge = gap.closed_to * (gap.open_from / gap.closed_to) ** place
            gaps.append((name, _Edge(np.repeat(edge, 4))))
        own = replace(profile, gaps=tuple(gaps))
        return lamp_chances(own, shape, mesh)

    def ohms(self, arrangement: Arrangement, ports: tuple[Port, ...]) -> Floats:
        """Return what is measured between nodes, shape (ports, cases, sets of faults) [Ω]."""
        if (arrangement, ports) not in self._ohms:
            terminals = tuple(dict.fromkeys(n for p in ports for n in (*p.sources, *p.sinks)))
            shape, mesh = self._mesh(arrangement, terminals)
            self._ohms[arrangement, ports] = port_resistances(shape, mesh, ports).reshape(len(ports), len(self.faults), 4)
        return self._ohms[arrangement, ports]

    # --- trials ---------------------------------------------------------------------------------------------------

    def show(
        self, case: int, experiment: Experiment, rng: Generator, *, misread: bool = True, healed: Sequence[bool] = ()
    ) -> int:
        """Return the outcome that a trial shows of a case, as a number of the experiment's outcomes."""
        trial = experiment.idea.trial
        words = self._words(case, trial, experiment, rng, misread=misread, healed=healed)
        names = [outcome.words for outcome in experiment.outcomes]
        return names.index(words) if words in names else len(names) - 1

    def _words(
        self, case: int, trial: Trial, experiment: Experiment, rng: Generator, *, misread: bool, healed: Sequence[bool]
    ) -> str:
        if trial.gauge or trial.examine:
            return self._finding(case, experiment, rng, healed)
        looks = self._there(case, trial, rng, healed)
        if trial.meter:
            return self._reading(case, trial, looks, rng)
        if trial.box:
            return self._box(case, trial, looks, rng)
        return self._lamp_words(case, trial, looks, rng, misread=misread)

    def _regimes(self, trial: Trial) -> tuple[Floats, Floats, Floats]:
        bare = replace(trial, seen=None, reads=None, lights=(), found=())
        if bare not in self._presence:
            self._presence[bare] = self.reasoner.trial_likelihood.presence.regimes(bare)
        return self._presence[bare]

    def _findings(self, experiment: Experiment) -> Floats:
        """Return the chance of each finding under every hypothesis alone, shape (outcomes, N)."""
        say = experiment.idea.say
        if say not in self._found:
            rows = []
            for outcome in experiment.outcomes:
                row = np.zeros(len(self.reasoner.hypotheses))
                for chance, _, _ in self.reasoner.trial_likelihood.findings(outcome.trial) if outcome.trial else ():
                    row = chance
                rows.append(row)
            table = np.stack(rows)
            if experiment.outcomes[-1].trial is None:
                table[-1] = np.maximum(1 - table.sum(axis=0), 0.0)
            self._found[say] = table
        return self._found[say]

    def _there(self, case: int, trial: Trial, rng: Generator, healed: Sequence[bool]) -> tuple[int, int]:
        """Return which faults are there in each of two looks, as bits."""
        looks = [0, 0]
        regimes = self._regimes(trial)
        for number, i in enumerate(self.faults[case].hypotheses):
            both, one, none = (float(regime[i]) for regime in regimes)
            if healed and healed[number]:
                continue
            way = rng.choice(3, p=np.array([both, one, none]) / (both + one + none))
            if way == 0:
                looks = [look | 1 << number for look in looks]
            elif way == 1:
                looks[int(rng.integers(2))] |= 1 << number
        return looks[0], looks[1]

    def _lamp_words(self, case: int, trial: Trial, looks: tuple[int, int], rng: Generator, *, misread: bool) -> str:
        weapon = self._setup.weapon
        lamps = self.lamps(trial.arrangement)[case]
        before = self.lamps(trial.arrangement.before_press())[case]
        counting = self.reasoner.trial_likelihood.counting(trial)
        ways = lamp_states(lamps[list(looks)], before[list(looks)], counting, self._setup.kind)
        own = int(np.searchsorted(np.cumsum([share for share, _ in ways])[:-1], self._place[case, -1]))  # one apparatus to a case
        group, _ = groups_of(self._setup.kind)
        changing = len(group.states)
        said = []
        for number, side in enumerate(SIDES):
            chances = np.clip(ways[own][1][side, group].T, 0, 1)
            hits = [int(rng.choice(changing, p=chance / chance.sum())) for chance in chances]
            glows = [int(rng.random() < float(lamps[look, number, Lamp.YELLOW])) for look in looks]
            hit = hits[0] if hits[0] == hits[1] else changing
            glow = glows[0] if glows[0] == glows[1] else 2
            if misread and rng.random() < self.world.misread:
                hit, glow = int(rng.integers(changing + 1)), int(rng.integers(3))
            earth = "orange" if weapon == "épée" else "yellow"
            words = ((), ("white",), ("coloured",), ("white all along",), ("white", "coloured"))[:changing]
            said += [f"{side} {word}" for word in (*words, ("lamp changing",))[hit]]
            said += [f"{side} {word}" for word in (("", earth, f"{earth} flickers")[glow],) if word]
        return ", ".join(said) or "nothing"

    def _reading(self, case: int, trial: Trial, looks: tuple[int, int], rng: Generator) -> str:
        assert trial.meter is not None
        nodes = [self._setup.places[place] for place in trial.meter]
        ohms = self.ohms(trial.arrangement, (Port.between(nodes[0], nodes[1]),))[0, case]
        values = [float(ohms[look]) for look in looks]
        spoilt = any(
            self.reasoner.hypotheses.failures[int(self.reasoner.hypotheses.failure[i])].spoils == "meter"
            for i in self.faults[case].hypotheses
        )
        if spoilt or rng.random() < self.world.misread / 5:
            values = [float(np.exp(rng.uniform(np.log(0.3), np.log(1e7))))] * 2
        error, leads = 1 + 0.01 * rng.standard_normal(), 0.15 * rng.standard_normal()
        noise = [max(value * error + leads, 0.0) for value in values]
        steps = [int(np.searchsorted(READING_STEPS, value, side="right")) - 1 for value in noise]
        steps = [min(step, len(READING_STEPS) - 2) for step in steps]
        if looks[0] != looks[1] and abs(steps[0] - steps[1]) >= 1:
            return "the reading wobbles"
        low, high = READING_STEPS[steps[0]], READING_STEPS[steps[0] + 1]
        if np.isinf(high):
            return "open"
        return f"under {high:g} Ω" if low == 0 else f"{low:g} to {high:g} Ω"

    def _box(self, case: int, trial: Trial, looks: tuple[int, int], rng: Generator) -> str:
        assert trial.box is not None
        nodes = self._setup.items[trial.box].box
        pairs = list(combinations(nodes, 2))
        ohms = self.ohms(trial.arrangement, tuple(Port.between(nodes[a], nodes[b]) for a, b in pairs))[:, case]
        said = []
        blind = rng.random() < self.world.misread
        for row, pair in zip(ohms, pairs, strict=True):
            lit = [int(rng.random() < 1 - float(Gap(*BOX_GAP).chance_open(row[look]))) for look in looks]
            state = lit[0] if lit[0] == lit[1] else 2
            state = int(rng.integers(3)) if blind else state
            said += [f"{'-'.join(pair)} {('', 'lit', 'flickers')[state]}"] if state else []
        return ", ".join(said) or "no lamp"

    def _finding(self, case: int, experiment: Experiment, rng: Generator, healed: Sequence[bool]) -> str:
        """Draw what eye, hand or gauge finds: each fault there shows by itself, otherwise sound kit's chances hold."""
        chances = self._findings(experiment)
        sound = chances[:, 0]
        words = [outcome.words for outcome in experiment.outcomes]
        for number, i in enumerate(self.faults[case].hypotheses):
            own = chances[:, i]
            if not (healed and healed[number]) and not np.allclose(own, sound):
                return str(rng.choice(words, p=own / own.sum()))
        return str(rng.choice(words, p=sound / sound.sum()))


@dataclass(frozen=True)
class _Edge(Gap):
    """A threshold for each network: open above it, closed below."""

    edges: Floats

    def __init__(self, edges: Floats) -> None:
        object.__setattr__(self, "edges", edges)

    def chance_open(self, ohms: Floats) -> Floats:
        """Return 1 where the resistance [Ω] lies above the threshold of its network, shape (…, networks)."""
        return (ohms > self.edges).astype(np.float64)


@dataclass(frozen=True)
class Case:
    """A fault with what was complained of: a trial by number and its outcome, which sound kit would not show.

    `start`: the weight of each kind of hypothesis after the complaint.
    """

    fault: int
    trial: int
    outcome: int
    start: Floats


def situations(experiments: Sequence[Experiment]) -> list[int]:
    """Return the trials that happen by themselves in a bout: hits, crossed blades, standing still."""
    found = []
    for number, experiment in enumerate(experiments):
        trial = experiment.idea.trial
        done = trial.swapped or trial.examine or trial.gauge or trial.meter or trial.box or experiment.idea.needs
        arranged_by_hand = trial.arrangement.unplugged or trial.arrangement.bridged
        moved = [move for move in trial.moves if not move.startswith("beat")]
        if not (done or arranged_by_hand or moved) and experiment.idea.seconds <= 9:  # noqa: PLR2004 — what takes longer is no accident
            found.append(number)
    return found


def complaints(simulation: Simulation, adviser: Adviser, rng: Generator) -> list[Case]:
    """Return a case for every fault that showed when something common happened; the others nobody complains of.

    Fault and situation are drawn independently and kept when the outcome is not the one that sound kit (state `sound` of the
    tables) most often shows. Whether a case is kept so depends on what was seen alone, and the plain likelihood of it is right.
    """
    experiments, tables = adviser.experiments, adviser.model.tables
    sound = adviser.starts_of(SOUND)
    common = situations(experiments)
    cases = []
    for number in range(len(simulation.faults)):
        trial = int(rng.choice(common))
        outcome = simulation.show(number, experiments[trial], rng, misread=False)  # the referee saw it too
        if outcome != int(np.argmax(tables[trial][:, sound])):
            seen = experiments[trial].outcomes[outcome].trial
            if seen is not None:
                cases.append(Case(number, trial, outcome, _start(simulation, adviser, seen)))
    return cases


def on_the_bench(simulation: Simulation, piste: Adviser, bench: Adviser, rng: Generator) -> list[Case]:
    """Return the cases that were complained of at the piste, their item now on the bench."""
    cases = []
    for case in complaints(simulation, piste, rng):
        seen = piste.experiments[case.trial].outcomes[case.outcome].trial
        assert seen is not None
        cases.append(replace(case, start=_start(simulation, bench, seen)))
    return cases


def _start(simulation: Simulation, adviser: Adviser, seen: Trial) -> Floats:
    """Return the weight of each kind of hypothesis after a complaint that was seen beyond doubt."""
    key = (id(adviser), replace(seen, seen=None), seen.seen and seen.seen.text)
    if key not in simulation.starts:
        likelihood = simulation.reasoner.trial_likelihood.likelihood(replace(seen, sure=True))
        simulation.starts[key] = adviser.gathered(simulation.reasoner.hypotheses.prior * likelihood)
    return simulation.starts[key]
