"""Two failures at once beside references: the lamps against direct solves, the weights against brute force."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from itertools import combinations, product
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.linalg import solve
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from foible.apparatus import TERMINALS, Lamp, lamp_chances, load_profile
from foible.circuit import OPEN, Shape
from foible.diagnosis import Reasoner
from foible.diagnosis.belief.as_told import as_told
from foible.diagnosis.belief.lamp_reports import MISREAD, Report
from foible.diagnosis.shown.effects import edits
from foible.diagnosis.shown.hypotheses import PRIOR_TWO
from foible.diagnosis.shown.pair_lamps import PairDictionary
from foible.diagnosis.shown.presence import UNKNOWN_AT
from foible.kit import SIDES
from foible.kit.names import Book
from foible.trials import LIT_BEFORE, STATE, Group, arranged
from ready import LEVELS, Ready
from strip import strip

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from foible.kit import Failure, Setup
    from foible.trials import Arrangement, Look, Trial

    Floats = NDArray[np.float64]
    Column = tuple[Failure, float]
    Key = tuple[str, Group]
    Keys = dict[str, object]

pytestmark = pytest.mark.slow

WEAPONS = ("foil", "épée", "sabre")
WHITE = STATE[Lamp.WHITE]


# --- the reference for lamps: the network with all failures edited in, solved on its own --------------------------------


def edges_of(setup: Setup, made: Arrangement, failed: tuple[Column, ...]) -> list[tuple[str, str, float]]:
    """Return (node, node, resistance [Ω]) of the arranged network with failures in it.

    What they put in series adds up, and a branch that one of them holds stays so.
    """
    changes = [edits(setup, failure, ohms) for failure, ohms in failed]
    raised: dict[str, float] = defaultdict(float)
    for name, ohms in (entry for change in changes for entry in change.raised):
        raised[name] += ohms
    held = {name: ohms for change in changes for name, ohms in change.held}
    branches = arranged(setup, made).network(setup.network).branches
    edges = [(b.a, b.b, held.get(b.name, b.ohms + raised.get(b.name, 0.0))) for b in branches]
    return edges + [(*pair, ohms) for change in changes for pair, ohms in change.joined]


def reduced(edges: list[tuple[str, str, float]]) -> Floats:
    """Return the conductance between each pair of `TERMINALS`, shape (pairs, 1) [S].

    The Schur complement of the dense Laplacian, L_TT − L_TI L_II⁻¹ L_IT (Kron 1939; textbook), pieces without terminal left out.
    """
    live = [(a, b, 1 / ohms) for a, b, ohms in edges if ohms < OPEN and a != b]
    number = {node: i for i, node in enumerate(dict.fromkeys([*TERMINALS, *(node for a, b, _ in live for node in (a, b))]))}
    heads, tails = [number[a] for a, _, _ in live], [number[b] for _, b, _ in live]
    size, count = len(number), len(TERMINALS)
    adjacency = coo_array(([siemens for _, _, siemens in live], (heads, tails)), shape=(size, size)).toarray()
    adjacency = adjacency + adjacency.T
    _, piece = connected_components(adjacency, directed=False)
    inner = [i for i in range(count, size) if piece[i] in piece[:count]]
    laplacian = np.diag(adjacency.sum(axis=1)) - adjacency
    across = laplacian[np.ix_(inner, range(count))]
    mesh = laplacian[:count, :count] - across.T @ solve(laplacian[np.ix_(inner, inner)], across, assume_a="pos")
    return np.array([[max(-mesh[i, j], 0.0) + 0.0] for i, j in combinations(range(count), 2)])  # + 0.0: no −0 to divide by


def lamps_of(setup: Setup, made: Arrangement, *failed: Column) -> Floats:
    """Return the probability of every lamp with some failures in the kit, shape (sides, lamps)."""
    judged = load_profile(next((failure.profile for failure, _ in failed if failure.profile), setup.profile))
    return np.asarray(lamp_chances(judged, Shape((), TERMINALS), reduced(edges_of(setup, made, failed)))[0])


def solvable(setup: Setup, first: Column, second: Column) -> bool:
    """Return whether it is plain what two failures together do: not of one part, nor both holding a branch or the profile."""
    one, two = (edits(setup, *column) for column in (first, second))
    both_hold = {name for name, _ in one.held} & {name for name, _ in two.held}
    both_judge = first[0].profile and second[0].profile
    return first[0].part != second[0].part and not both_hold and not both_judge


ARRANGEMENTS: dict[str, tuple[Keys, ...]] = {
    "foil": (
        {},
        {"press": "left", "on": "right lamé front"},
        {"press": "right", "on": "left weapon guard", "touching": "left weapon blade on left lamé front"},
        {"unplugged": "left weapon plug", "bridged": "left weapon plug B-C"},
    ),
    "épée": (
        {"press": "left"},
        {"press": "left", "on": "right weapon guard"},
        {"press": "right", "on": "piste"},
        {"unplugged": "left weapon plug", "bridged": "left weapon plug A-B"},
    ),
    "sabre": (
        {},
        {"cut": "left", "on": "right lamé front"},
        {"cut": "right", "on": "left cuff"},
        {"touching": "left weapon guard on left lamé front"},
    ),
}


def sampled(weapon: str, keys: Keys, count: int) -> list[tuple[int, int]]:
    """Return seeded pairs of columns, half of them of one item, where failures meet most."""
    kit, columns = strip(weapon).setup, strip(weapon).reasoner.hypotheses.columns
    rng = np.random.default_rng([1987, WEAPONS.index(weapon), ARRANGEMENTS[weapon].index(keys)])
    by_item: dict[str, list[int]] = defaultdict(list)
    for column, (failure, _) in enumerate(columns):
        by_item[failure.item].append(column)
    found: list[tuple[int, int]] = []
    while len(found) < count:
        first = int(rng.integers(len(columns)))
        others = by_item[columns[first][0].item] if len(found) % 2 else range(len(columns))
        second = int(rng.choice(others))
        if solvable(kit, columns[first], columns[second]):
            found.append((first, second))
    return found


@pytest.mark.parametrize(("weapon", "keys"), [(weapon, keys) for weapon in WEAPONS for keys in ARRANGEMENTS[weapon]])
def test_the_lamps_of_a_pair_agree_with_a_direct_solve_of_its_network(weapon: str, keys: Keys) -> None:
    """A hundred seeded pairs, each network edited by hand and reduced by SciPy's dense solver."""
    kit = strip(weapon)
    columns = kit.reasoner.hypotheses.columns
    made = kit.arrangement(**keys)
    table = PairDictionary(kit.setup, load_profile(kit.setup.profile), kit.reasoner.hypotheses).lamps(made)
    two = table.two.table()
    assert table.rows[two[0, 0]] == pytest.approx(lamps_of(kit.setup, made), abs=2e-3)
    assert np.array_equal(two, two.T)
    for first, second in sampled(weapon, keys, 100):
        expected = lamps_of(kit.setup, made, columns[first], columns[second])
        found = table.rows[two[first + 1, second + 1]]
        assert found == pytest.approx(expected, abs=2e-3), (columns[first], columns[second])


@pytest.mark.parametrize("weapon", WEAPONS)
def test_single_failures_stand_in_the_first_row_of_the_table_of_pairs(weapon: str) -> None:
    """As the fault dictionary has them, which other tests hold against direct solves."""
    kit = strip(weapon)
    dictionary = PairDictionary(kit.setup, load_profile(kit.setup.profile), kit.reasoner.hypotheses)
    for keys in ARRANGEMENTS[weapon]:
        made = kit.arrangement(**keys)
        table = dictionary.lamps(made)
        assert np.abs(table.rows[table.two.table()[0]] - kit.reasoner.dictionary.lamps(made)).max() < 2e-3


# --- the reference for weights: every way in which failures are there in two looks, summed up --------------------------


def with_few(weapon: str, *chosen: tuple[str, float, float]) -> Reasoner:
    """Return a reasoner over kit in which nothing can fail but (failure, severity [Ω], share that comes and goes)."""
    kit = strip(weapon).setup
    failures = {name: replace(kit.failures[name], ladder=((ohms, 1.0),), intermittent=share) for name, ohms, share in chosen}
    return Reasoner(replace(kit, failures=Book("failure", failures)), load_profile(kit.profile))


class BruteForce:
    """Posterior weights of single failures and pairs, from the definition: looks, presence, misreading, Bayes."""

    def __init__(self, reasoner: Reasoner) -> None:
        self.setup = reasoner.setup
        self.hypotheses = reasoner.hypotheses
        self.count = len(self.hypotheses)
        self._solved: dict[tuple[Arrangement, frozenset[int]], Floats] = {}

    def lamps(self, made: Arrangement, columns: frozenset[int]) -> Floats:
        if (made, columns) not in self._solved:
            failed = [self.hypotheses.columns[column - 1] for column in sorted(columns)]
            self._solved[made, columns] = lamps_of(self.setup, made, *failed)
        return self._solved[made, columns]

    def states(self, trial: Trial, columns: frozenset[int], key: Key) -> list[float]:
        """Return the probability of each state of a group of lamps in one look at the circuit with some failures."""
        side, group = key
        white, coloured, yellow = self.lamps(trial.arrangement, columns)[SIDES.index(side)]
        if group is Group.YELLOW:
            return [1 - yellow, yellow]
        before = 0.0
        if self.counts(trial, side):
            lit = self.lamps(trial.arrangement.before_press(), columns)[SIDES.index(side)]
            before = lit[Lamp.WHITE] + lit[Lamp.COLOURED]
        return [*((1 - before) * chance for chance in (1 - white - coloured, white, coloured)), before]

    def counts(self, trial: Trial, side: str) -> bool:
        """Return whether a lamp that is lit before the press is told from one that the press lights."""
        sound = self.lamps(trial.arrangement.before_press(), frozenset())[SIDES.index(side)]
        return side == trial.arrangement.press and bool(sound[Lamp.WHITE] + sound[Lamp.COLOURED] < 0.5)

    def said(self, trial: Trial, key: Key, looks: frozenset[Look]) -> frozenset[Look]:
        """Return the looks that agree with a report; where no press counts, “lit before” is white, and what changes changes."""
        if self.counts(trial, key[0]):
            vague = key[1] is Group.HIT and (trial.moves or trial.hearsay)  # nobody tells then whether it was lit before
            told = {WHITE: (WHITE, LIT_BEFORE)} if vague else {}
            ways = [(one, other) for a, b in looks for one, other in product(told.get(a, (a,)), told.get(b, (b,)))]
            return frozenset((min(way), max(way)) for way in ways)
        read = {look: tuple(WHITE if state == LIT_BEFORE else state for state in look) for look in looks}
        return frozenset((min(a, b), max(a, b)) for look, (a, b) in read.items() if (a == b) == (look[0] == look[1]))

    def report(self, trial: Trial, first: frozenset[int], second: frozenset[int]) -> float:
        """Return the chance of the report where two looks are at the circuit with the failures of two sets of columns."""
        assert trial.seen is not None
        allowed = {key: self.said(trial, key, looks) for key, looks in trial.seen.looks.items()}
        told = Report(allowed)
        total = 1.0
        for side in told.sides:
            agrees = 1.0
            for key in (key for key in allowed if key[0] == side):
                one, two = self.states(trial, first, key), self.states(trial, second, key)
                states = product(range(len(one)), repeat=2)
                agrees *= sum(one[a] * two[b] for a, b in states if (min(a, b), max(a, b)) in allowed[key])
            total *= (1 - MISREAD) * agrees + MISREAD * told.blind(side)
        return total

    def likelihood(self, trials: list[Trial], *hypotheses: int) -> float:
        """Return the chance of all reports where some failures are in the kit, summed over how ready each is to show."""
        axes: dict[tuple[int, str], tuple[int, tuple[float, ...]]] = {}
        told: list[tuple[list[int], Floats]] = []
        for trial in trials:
            ready = [Ready.of(self.setup, self.hypotheses, hypothesis, trial) for hypothesis in hypotheses]
            own = [
                axes.setdefault((h, each.handling), (len(axes), each.weights))[0]
                for h, each in zip(hypotheses, ready, strict=True)
            ]
            told.append((own, self._chances(trial, hypotheses, ready) ** trial.times))
        total = np.ones((LEVELS,) * len(axes))
        for own, chances in told:
            shape = [LEVELS if axis in own else 1 for axis in range(len(axes))]
            total = total * np.transpose(chances, np.argsort(own)).reshape(shape)
        for _, weights in sorted(axes.values(), reverse=True):
            total = total @ np.array(weights)
        return float(total)

    def _chances(self, trial: Trial, hypotheses: tuple[int, ...], ready: list[Ready]) -> Floats:
        """Return the chance of a report, by the level of readiness of each failure; shape (`LEVELS`, …)."""
        total = np.zeros((LEVELS,) * len(hypotheses))
        for ways in product(((True, True), (True, False), (False, True), (False, False)), repeat=len(hypotheses)):
            there = [
                frozenset(int(self.hypotheses.column[h]) for h, way in zip(hypotheses, ways, strict=True) if way[look])
                for look in (0, 1)
            ]
            chance = np.array(self.report(trial, *there))
            for way, each in zip(ways, ready, strict=True):
                shows, flickers = np.array(each.values), each.flickers
                steady = {(True, True): shows * (1 - flickers), (False, False): 1 - shows}
                chance = np.multiply.outer(chance, steady.get(way, shows * flickers / 2))
            total = total + chance
        return total

    def posterior(self, trials: list[Trial]) -> tuple[Floats, Floats]:
        """Return the probability of each hypothesis alone, shape (N,), and of each pair, shape (N, N), the unknown left out."""
        prior = self.hypotheses.prior
        alone = np.zeros(self.count)
        alone[0] = prior[0] * self.likelihood(trials)
        for i in range(2, self.count):
            alone[i] = prior[i] * self.likelihood(trials, i)
        share = prior[2:] / prior[2:].sum()
        two, before = np.zeros((self.count, self.count)), 0.0
        for i, j in self.pairs():
            before += share[i - 2] * share[j - 2]
            two[i, j] = two[j, i] = share[i - 2] * share[j - 2] * self.likelihood(trials, i, j)
        alone, two = (1 - PRIOR_TWO) * alone, PRIOR_TWO / before * two
        total = alone.sum() + two.sum() / 2
        return alone / total, two / total

    def pairs(self) -> list[tuple[int, int]]:
        """Return all pairs of hypotheses about different parts."""
        part = [self.hypotheses.failures[i].part if i >= 0 else "" for i in self.hypotheses.failure.tolist()]
        return [(i, j) for i, j in combinations(range(2, self.count), 2) if part[i] != part[j]]

    def by_part(self, two: Floats) -> Floats:
        """Return weights of pairs of hypotheses summed by pair of parts."""
        starts = self.hypotheses.part_starts
        return np.asarray(np.add.reduceat(np.add.reduceat(two, starts, axis=0), starts, axis=1))


FEW: dict[str, tuple[tuple[str, float, float], ...]] = {
    "foil": (
        ("left cord B wire, middle: broken in the middle", OPEN, 0.6),
        ("right cord A wire at the clip: broken at the clip", OPEN, 0.6),
        ("left weapon contact cup: oxidised", 300.0, 0.8),
        ("right lamé cloth under the clip: corroded or torn", 600.0, 0.4),
        ("left weapon blade tape: missing or worn through", 0.05, 0.3),
        ("left cord order of the lines at the weapon plug: B and C exchanged", 0.05, 0.0),
    ),
    "épée": (
        ("left cord A wire, middle: broken in the middle", OPEN, 0.6),
        ("left weapon contact spring: too short", OPEN, 0.3),
        ("left weapon A wire behind the guard: bare, touching the guard", 20.0, 0.5),
        ("right weapon guard surface: oxidised or dirty", 300.0, 0.4),
        ("left cord C wire at the weapon plug: broken where it leaves the plug", OPEN, 0.6),
        ("left weapon barrel bore: dirty, so that the point sticks in", OPEN, 0.5),
    ),
    "sabre": (
        ("left cord B wire, middle: broken in the middle", 300.0, 0.6),
        ("left weapon socket nut: loose, or paint between socket and guard", OPEN, 0.8),
        ("right lamé cloth under the clip: corroded or torn", 150.0, 0.4),
        ("right cord A wire at the clip: broken at the clip", OPEN, 0.6),
        ("left weapon guard insulation: worn through inside, meeting the cuff", 2.0, 0.0),
        ("left cord order of the lines at the weapon plug: B and C exchanged", 0.05, 0.0),
    ),
}
STORIES: list[tuple[str, list[Keys]]] = [
    ("foil", [{"saw": "left white"}]),
    ("foil", [{"saw": "left white flickers"}]),
    ("foil", [{"press": "left", "on": "right lamé front", "saw": "left white"}]),
    ("foil", [{"press": "left", "saw": "left white all along"}]),
    ("foil", [{"press": "left", "on": "right lamé front", "saw": ["left white sometimes", "left coloured sometimes"]}]),
    ("foil", [{"press": "left", "on": "right lamé front", "move": "tug right cord clip", "saw": "left white flickers"}]),
    ("foil", [{"press": "left", "on": "right lamé front", "swapped": "right cord", "saw": "left coloured", "times": 3}]),
    (
        "foil",
        [
            {"saw": "nothing"},
            {"press": "left", "on": "right lamé front", "saw": "left white"},
            {"move": "bend left cord middle", "saw": "left white"},
            {"press": "left", "on": "right lamé front", "swapped": "right cord", "saw": "left coloured"},
        ],
    ),
    ("épée", [{"press": "left", "saw": "nothing"}]),
    ("épée", [{"press": "left", "saw": "left coloured flickers"}]),
    ("épée", [{"press": "left", "on": "right weapon guard", "saw": ["left coloured sometimes", "right nothing"], "times": 2}]),
    (
        "épée",
        [
            {"press": "left", "saw": "nothing"},
            {"press": "left", "swapped": "left cord", "saw": "left coloured"},
            {"press": "left", "move": "bend left cord middle", "saw": "left coloured sometimes"},
        ],
    ),
    ("sabre", [{"saw": "left white"}]),
    ("sabre", [{"cut": "left", "on": "right lamé front", "saw": "left coloured flickers"}]),
    ("sabre", [{"move": "tug left cord middle", "saw": ["left white", "right nothing"]}]),
    (
        "sabre",
        [
            {"cut": "left", "on": "right lamé front", "saw": "nothing"},
            {"cut": "left", "on": "right lamé front", "swapped": ["left weapon", "left cord"], "saw": "nothing"},
            {"saw": "left white", "times": 2},
        ],
    ),
]


def close(found: Floats, expected: Floats, story: list[Keys], *, apart: float = 4e-3) -> bool:
    """Return whether weights agree: closely where nothing is learnt of readiness, else as well as a mean and a weight can.

    A pair learns the readiness of each failure as if it were alone: `apart` is what that may amount to.
    """
    learnt = len(story) > 1 or any(keys.get("times", 1) != 1 or keys.get("move") for keys in story)
    rel, least = (0.25, apart) if learnt else (2e-3, 1e-9)
    return bool(found == pytest.approx(expected, rel=rel, abs=least))


PAIRS_APART = 0.08
"""The most that the weight of a pair has been off in these stories, where one failure hides what the other would teach."""


@pytest.mark.parametrize(("weapon", "story"), STORIES)
def test_singles_and_pairs_weigh_what_brute_force_gives(weapon: str, story: list[Keys]) -> None:
    """Every way in which one or two of six failures are there in two looks, each network solved on its own, and Bayes' rule."""
    reasoner = with_few(weapon, *FEW[weapon])
    trials = [strip(weapon).trial(**keys) for keys in story]
    belief = reasoner.find(trials).belief
    known = 1 - belief.probability[UNKNOWN_AT]
    reference = BruteForce(reasoner)
    alone, two = reference.posterior(list(as_told(trials)))
    found = np.delete(belief.probability, UNKNOWN_AT) / known
    assert close(found, np.delete(alone, UNKNOWN_AT), story)
    assert close(belief.pairs / known, reference.by_part(two), story, apart=PAIRS_APART)
    assert close(np.array(belief.two / known), np.array(two.sum() / 2), story, apart=PAIRS_APART)


@pytest.mark.parametrize(("weapon", "story"), [story for story in STORIES if len(story[1]) > 1])
def test_each_hypothesis_weighs_with_its_partners_what_brute_force_gives(weapon: str, story: list[Keys]) -> None:
    """Partners are hypotheses about other parts: one part does not fail twice."""
    reasoner = with_few(weapon, *FEW[weapon])
    trials = [strip(weapon).trial(**keys) for keys in story]
    belief = reasoner.find(trials).belief
    _, two = BruteForce(reasoner).posterior(list(as_told(trials)))
    found = belief.with_partner / (1 - belief.probability[UNKNOWN_AT])
    assert close(found, two.sum(axis=1), story, apart=PAIRS_APART)
