"""The posterior against exact inference in a general Bayesian-network library, on small problems of the foil.

The library is pyAgrum (Ducamp, Gonzales & Wuillemin, “aGrUM/pyAgrum: a toolbox to build models and algorithms for probabilistic
graphical models in Python”, Probabilistic Graphical Models 2020; from memory), by lazy propagation. The networks say in nodes
what the reasoning says in sums: what has failed, in which looks it is there, what the lamps do in each look, who misreads what.
"""

from __future__ import annotations

import warnings
from dataclasses import replace
from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np
import pytest

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)  # the wrapper of the library gives its own types no __module__
    import pyagrum as gum

from foible.apparatus import Lamp, load_profile
from foible.diagnosis import Reasoner
from foible.diagnosis.belief.as_told import as_told
from foible.diagnosis.belief.lamp_reports import MISREAD, Report
from foible.diagnosis.shown.hypotheses import Activity
from foible.diagnosis.shown.pair_lamps import PairDictionary
from foible.kit import SIDES
from foible.kit.names import Book
from foible.trials import LIT_BEFORE, STATE, Group
from ready import EVENLY, Ready
from strip import strip

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.trials import Arrangement, Look, Trial

    Floats = NDArray[np.float64]
    Chances = Sequence[float] | Floats
    Keys = dict[str, object]
    Lamps = Callable[[Arrangement, frozenset[int]], Floats]
    """From an arrangement and the columns of the failures that are there to lamp probabilities, shape (sides, lamps)."""
    Columns = Callable[[int, tuple[int, ...]], frozenset[int] | None]
    """From a look and the states of parents to the columns of the failures that are there; None for more than are known."""

FOIL = strip("foil")
OPEN = float("inf")
WHITE = STATE[Lamp.WHITE]
THERE = ((True, True), (True, False), (False, True), (False, False))
"""The states of a node of presence: in the first look, in the second."""
ANYTHING = {Group.HIT: (0.4, 0.3, 0.3), Group.YELLOW: (0.5, 0.5)}
"""Lamps with more failures at once than are known; the evidence rules these out, so that any figures will do."""


class Net:
    """A Bayesian network, node by node."""

    def __init__(self) -> None:
        self._net = gum.BayesNet()
        self._sizes: dict[str, int] = {}
        self._evidence: dict[str, int] = {}

    def add(self, name: str, parents: Sequence[str], chances: Callable[..., Chances]) -> str:
        """Add a node; `chances` gives the probabilities of its states for the states of its parents."""
        rows = {states: list(chances(*states)) for states in product(*(range(self._sizes[parent]) for parent in parents))}
        self._sizes[name] = len(next(iter(rows.values())))
        self._net.add(gum.RangeVariable(name, name, 0, self._sizes[name] - 1))
        for parent in parents:
            self._net.addArc(parent, name)
        for states, row in rows.items():
            self._net.cpt(name)[dict(zip(parents, states, strict=True))] = row
        return name

    def shared(self, name: str, parents: Sequence[str], chances: Callable[..., Chances]) -> str:
        """Return a node that may be there already."""
        return name if name in self._sizes else self.add(name, parents, chances)

    def observe(self, name: str, state: int) -> None:
        self._evidence[name] = state

    def posterior(self, *names: str) -> Floats:
        """Return the joint posterior of some nodes, shape (states of the first, …)."""
        inference = gum.LazyPropagation(self._net)
        inference.setEvidence(self._evidence)
        if len(names) == 1:
            return np.asarray(inference.posterior(names[0])[:], dtype=np.float64)
        inference.addJointTarget(set(names))
        table = inference.jointPosterior(set(names))
        order = [list(reversed(table.names)).index(name) for name in names]
        return np.asarray(np.transpose(table[:], order), dtype=np.float64)


class Circuit:
    """What some failures show in one trial, as nodes."""

    def __init__(self, net: Net, trial: Trial, label: str, lamps: Lamps) -> None:
        self._net, self._trial, self._label, self._lamps = net, trial, label, lamps

    def presence(self, hypotheses: Hypotheses, positions: Sequence[int | None], parent: str) -> str:
        """Add the node for whether a failure is there in each look; `positions` are the hypotheses that its parent names.

        Whether it shows depends on its readiness under what was done, a node that all trials share in which the same was done.
        """
        ready = [Ready.of(FOIL.setup, hypotheses, position, self._trial) for position in positions]
        handlings = sorted({each.handling for each in ready})
        nodes = [
            self._net.shared(
                f"{parent} ready for {handling or 'rest'}",
                [parent],
                lambda state, handling=handling: ready[state].weights if ready[state].handling == handling else EVENLY,
            )
            for handling in handlings
        ]

        def there(state: int, *levels: int) -> Chances:
            own = ready[state]
            shows = own.values[levels[handlings.index(own.handling)]]
            return (shows * (1 - own.flickers), shows * own.flickers / 2, shows * own.flickers / 2, 1 - shows)

        return self._net.add(f"{parent} in {self._label}", [parent, *nodes], there)

    def report(self, parents: Sequence[str], columns: Columns) -> None:
        """Add the lamps of both looks and what was said of them, and observe that."""
        assert self._trial.seen is not None
        told = {key: self._read(key, looks) for key, looks in self._trial.seen.looks.items()}
        for side in dict.fromkeys(side for side, _ in told):
            groups = {group: looks for (own, group), looks in told.items() if own == side}
            nodes: list[str] = []
            for group, look in product(groups, (0, 1)):
                nodes += self._lamps_of_look(side, group, look, parents, columns)
            misread = self._net.add(f"{side} misread in {self._label}", [], lambda: (1 - MISREAD, MISREAD))
            said = self._net.add(f"{side} said in {self._label}", [misread, *nodes], self._saying(side, groups))
            self._net.observe(said, 1)

    def _saying(self, side: str, groups: dict[Group, frozenset[Look]]) -> Callable[..., Chances]:
        """Return the chance that just this is said of a side, from whether it is misread and the lamps of both looks."""
        blind = Report({(side, group): looks for group, looks in groups.items()}).blind(side)

        def said(misread: int, *lamps: int) -> Chances:
            if misread:
                return (1 - blind, blind)
            rest, agrees = list(lamps), True
            for group, looks in groups.items():
                seen = []
                for _ in (0, 1):
                    state = rest.pop(0)
                    before = group is Group.HIT and self.counts(side) and rest.pop(0)
                    seen.append(LIT_BEFORE if before else state)
                agrees = agrees and (min(seen), max(seen)) in looks
            return (1 - agrees, float(agrees))

        return said

    def counts(self, side: str) -> bool:
        """Return whether a lamp that was lit before the press is told from one that the press lights."""
        return side == self._trial.arrangement.press

    def _read(self, key: tuple[str, Group], looks: frozenset[Look]) -> frozenset[Look]:
        if self.counts(key[0]):
            vague = key[1] is Group.HIT and (self._trial.moves or self._trial.hearsay)
            told = {WHITE: (WHITE, LIT_BEFORE)} if vague else {}
            return frozenset(
                (min(one, other), max(one, other))
                for a, b in looks
                for one, other in product(told.get(a, (a,)), told.get(b, (b,)))
            )
        read = {look: tuple(WHITE if state == LIT_BEFORE else state for state in look) for look in looks}
        return frozenset((min(a, b), max(a, b)) for look, (a, b) in read.items() if (a == b) == (look[0] == look[1]))

    def _lamps_of_look(self, side: str, group: Group, look: int, parents: Sequence[str], columns: Columns) -> list[str]:
        """Return the node of a group of lamps in a look, and where it counts that of the hit lamps before the press."""
        made = self._trial.arrangement
        row = SIDES.index(side)

        def shown(*states: int) -> Chances:
            there = columns(look, states)
            if there is None:
                return ANYTHING[group]
            white, coloured, yellow = self._lamps(made, there)[row]
            return (1 - yellow, yellow) if group is Group.YELLOW else (1 - white - coloured, white, coloured)

        def before(*states: int) -> Chances:
            there = columns(look, states)
            if there is None:
                return ANYTHING[Group.YELLOW]
            lit = self._lamps(made.before_press(), there)[row, [Lamp.WHITE, Lamp.COLOURED]].sum()
            return (1 - lit, lit)

        where = f"look {look} in {self._label}"
        nodes = [self._net.add(f"{side} {group.value} {where}", parents, shown)]
        if group is Group.HIT and self.counts(side):
            nodes.append(self._net.add(f"{side} lit before {where}", parents, before))
        return nodes


# --- one failure ----------------------------------------------------------------------------------------------------------

FAILURES = {
    "left cord B wire, middle: broken in the middle",
    "left weapon wire along the blade: broken in the groove",
    "left weapon contact cup: oxidised",
    "right cord A wire at the clip: broken at the clip",
    "right lamé cloth under the clip: corroded or torn",
    "left weapon blade tape: missing or worn through",
    "left cord order of the lines at the weapon plug: B and C exchanged",
    "left reel C slip ring: dirty ring or worn brush",
}
STORIES: dict[str, list[Keys]] = {
    "white on the lamé, coloured on the clip": [
        {"press": "left", "on": "right lamé front", "saw": "left white"},
        {"press": "left", "on": "right cord clip", "saw": "left coloured"},
    ],
    "white at rest, cured by another foil": [
        {"saw": "left white"},
        {"swapped": "left weapon", "saw": "nothing"},
        {"swapped": "left weapon", "press": "left", "on": "right lamé front", "saw": "left coloured", "times": 2},
    ],
    "quiet, but hits come and go": [
        {"saw": "nothing"},
        {"press": "left", "on": "right lamé front", "saw": ["left white sometimes", "left coloured sometimes"]},
        {"press": "left", "on": "right lamé front", "move": "tug right cord clip", "saw": "left white"},
    ],
    "white flickers when the blade is bent": [
        {"saw": "nothing"},
        {"move": "bend left weapon blade", "saw": "left white flickers"},
    ],
    "white all along": [
        {"press": "left", "saw": ["left white all along", "right nothing"]},
        {"press": "right", "on": "left lamé front", "saw": ["left white", "right coloured"]},
    ],
}


def chosen(hypotheses: Hypotheses) -> list[int]:
    """Return “nothing wrong”, and some failures at their greatest severity, steady and coming and going."""
    places = [0]
    for position in range(2, len(hypotheses)):
        failure = hypotheses.failures[hypotheses.failure[position]]
        if failure.id in FAILURES and hypotheses.ohms[position] == max(ohms for ohms, _ in failure.ladder):
            places.append(position)
    return places


def network_of(trials: Sequence[Trial], places: Sequence[int]) -> tuple[Net, str]:
    """Return the network of some trials with single failures, and its node for which of the hypotheses at `places` is true."""
    reasoner = FOIL.reasoner
    hypotheses = reasoner.hypotheses

    def lamps(made: Arrangement, columns: frozenset[int]) -> Floats:
        return np.asarray(reasoner.dictionary.lamps(made)[next(iter(columns), 0)])

    def columns(look: int, states: tuple[int, ...]) -> frozenset[int]:
        state, there = states
        column = int(hypotheses.column[places[state]])
        return frozenset({column} if column and THERE[there][look] else ())

    net = Net()
    prior = hypotheses.prior[places] / hypotheses.prior[places].sum()
    what = net.add("what has failed", [], lambda: prior)
    for number, trial in enumerate(trials):
        for again in range(trial.times):
            circuit = Circuit(net, trial, f"trial {number}.{again}", lamps)
            circuit.report([what, circuit.presence(hypotheses, places, what)], columns)
    return net, what


@pytest.mark.parametrize("story", STORIES)
def test_the_posterior_of_single_failures_is_that_of_the_network(story: str) -> None:
    """Eight failures, steady or coming and going, and sound kit; ours taken among these alone."""
    trials = [FOIL.trial(**keys) for keys in STORIES[story]]
    places = chosen(FOIL.reasoner.hypotheses)
    assert len(places) > 20
    net, what = network_of(trials, places)
    found = FOIL.reasoner.find(trials).belief.probability[places]
    # what trials teach of readiness is kept as a mean and a weight: exact the first time that something is done
    assert found / found.sum() == pytest.approx(net.posterior(what), rel=0.06, abs=1e-4)


def test_what_is_done_once_gives_the_network_s_posterior_in_every_digit() -> None:
    """As above, with trials of which no two do the same."""
    keys: list[Keys] = [{"saw": "left white flickers"}, {"press": "left", "on": "right lamé front", "saw": "left white"}]
    trials = [FOIL.trial(**each) for each in keys]
    hypotheses = FOIL.reasoner.hypotheses
    places = chosen(hypotheses)
    net, what = network_of(trials, places)
    found = FOIL.reasoner.find(trials).belief.probability[places]
    assert found / found.sum() == pytest.approx(net.posterior(what), rel=1e-6, abs=1e-9)


def test_a_lamp_that_flickers_at_rest_does_not_speak_for_a_steady_failure() -> None:
    """“White flickers” is white that comes and goes; a wire that is broken for good gives white that stays."""
    reasoner = FOIL.reasoner
    hypotheses = reasoner.hypotheses
    before = reasoner.find([]).belief.probability
    after = reasoner.find([FOIL.trial(saw="left white flickers")]).belief.probability
    wire = [p for p in chosen(hypotheses) if p and "along the blade" in hypotheses.failures[hypotheses.failure[p]].part]
    gain = {Activity(hypotheses.activity[p]): after[p] / before[p] for p in wire}
    assert gain[Activity.OFTEN] > 10 * gain[Activity.STEADY]
    assert gain[Activity.SELDOM] > gain[Activity.STEADY]


# --- two failures at once ---------------------------------------------------------------------------------------------------

PAIRED: tuple[tuple[str, float, float], ...] = (
    ("left cord B wire, middle: broken in the middle", OPEN, 0.6),
    ("right cord A wire at the clip: broken at the clip", OPEN, 0.6),
    ("left weapon contact cup: oxidised", 300.0, 0.8),
    ("right lamé cloth under the clip: corroded or torn", 600.0, 0.4),
    ("left weapon blade tape: missing or worn through", 0.05, 0.0),
)
"""Failure, severity [Ω], share that comes and goes."""
PAIRED_STORIES: list[list[Keys]] = [
    [{"saw": "left white"}, {"press": "left", "on": "right lamé front", "swapped": "left cord", "saw": "left white"}],
    [
        {"press": "left", "on": "right lamé front", "saw": ["left white sometimes", "left coloured sometimes"]},
        {"move": "bend left cord middle", "saw": "left white"},
    ],
    [{"saw": "left nothing"}, {"touching": "left weapon blade on right lamé front", "press": "left", "saw": "left white"}],
]


def with_few() -> Reasoner:
    """Return a reasoner over a foil strip in which only `PAIRED` can fail."""
    kit = FOIL.setup
    failures = {name: replace(kit.failures[name], ladder=((ohms, 1.0),), intermittent=share) for name, ohms, share in PAIRED}
    return Reasoner(replace(kit, failures=Book("failure", failures)), load_profile(kit.profile))


@pytest.mark.parametrize("story", PAIRED_STORIES)
def test_two_failures_are_two_independent_nodes_of_which_exactly_two_are_there(story: list[Keys]) -> None:
    """Each part a node of its own with odds that go by its prior, and “exactly two have failed” as evidence."""
    reasoner = with_few()
    hypotheses = reasoner.hypotheses
    trials = as_told([FOIL.trial(**keys) for keys in story])
    dictionary = PairDictionary(reasoner.setup, reasoner.profile, hypotheses)
    names = hypotheses.part_names[2:]
    places = {name: [None, *range(*hypotheses.runs[name].indices(len(hypotheses)))] for name in names}

    def lamps(made: Arrangement, columns: frozenset[int]) -> Floats:
        first, second = (*sorted(columns), 0, 0)[:2]
        table = dictionary.lamps(made)
        return np.asarray(table.rows[table.two.between(np.array([first]), np.array([second]))[0, 0]])

    def failing(name: str) -> Chances:
        odds = np.array([1.0, *hypotheses.prior[hypotheses.runs[name]]])
        return np.asarray(odds / odds.sum())

    net = Net()
    for name in names:
        net.add(name, [], lambda name=name: failing(name))
    exactly = net.add("two", names, lambda *states: (0.0, 1.0) if sum(s > 0 for s in states) == 2 else (1.0, 0.0))
    net.observe(exactly, 1)
    of_part = {name: int(hypotheses.column[hypotheses.runs[name].start]) for name in names}
    for number, trial in enumerate(trials):
        circuit = Circuit(net, trial, f"trial {number}", lamps)
        presence = [circuit.presence(hypotheses, places[name], name) for name in names]

        def columns(look: int, states: tuple[int, ...]) -> frozenset[int] | None:
            there = frozenset(of_part[name] for name, state in zip(names, states, strict=True) if THERE[state][look])
            return there if len(there) <= 2 else None

        circuit.report(presence, columns)
    belief = reasoner.find(trials).belief
    found = {pair: belief.pairs[pair[0] + 2, pair[1] + 2] / belief.two for pair in combinations(range(len(names)), 2)}
    assert sum(found.values()) == pytest.approx(1)
    for (first, second), share in found.items():
        joint = net.posterior(names[first], names[second])
        assert share == pytest.approx(joint[1:, 1:].sum(), rel=0.04, abs=1e-3), (names[first], names[second])
