"""All single changes and pairs of one network at once, against dense solves of every changed network on its own."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations

import networkx as nx
import numpy as np
import pytest
from scipy.linalg import inv

from foible.circuit import OPEN, Change, Nest, Port, port_resistances

Ends = tuple[str, str]
Contact = tuple[str, str, float]
Ohms = dict[Ends, float]

RELATIVE = 1e-4
"""The nest works in single precision and takes meshes for equal that agree in one part in 10⁵."""


# --- the reference: one dense solve per changed network ---------------------------------------------------------------


def changed(ohms: tuple[float, ...], *changes: Change) -> list[float]:
    """Return the conductance of every branch with some changes made [S]: what is held stays so, whatever is put in series."""
    series, held, across = list(ohms), dict[int, float](), [0.0] * len(ohms)
    for change in changes:
        for branch, value in change.raised:
            series[branch] += value
        for branch, value in change.joined:
            across[branch] += 1 / value
        held |= dict(change.held)
    return [1 / held.get(branch, value) + beside for branch, (value, beside) in enumerate(zip(series, across, strict=True))]


def between_terminals(edges: list[tuple[str, str, float]], terminals: tuple[str, ...]) -> Ohms:
    """Return the resistance between all pairs of terminals by inverting the Laplacian of each connected piece [Ω].

    `edges` are (node, node, conductance [S]). With one node grounded and Z the inverse, Rᵢⱼ = Zᵢᵢ + Zⱼⱼ − 2 Zᵢⱼ (textbook).
    """
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from(terminals)
    for a, b, siemens in edges:
        if a != b and siemens > 0:
            graph.add_edge(a, b, siemens=siemens + graph.get_edge_data(a, b, {"siemens": 0.0})["siemens"])
    found = dict.fromkeys(combinations(terminals, 2), OPEN)
    for piece in nx.connected_components(graph):
        nodes = sorted(piece)
        impedance = np.zeros((len(nodes), len(nodes)))
        if len(nodes) > 1:
            laplacian = nx.laplacian_matrix(graph, nodes, weight="siemens").toarray().astype(float)
            impedance[1:, 1:] = inv(laplacian[1:, 1:])
        for a, b in found:
            if a in piece and b in piece:
                i, j = nodes.index(a), nodes.index(b)
                found[a, b] = float(impedance[i, i] + impedance[j, j] - 2 * impedance[i, j])
    return found


def test_the_reference_agrees_with_a_bridge_worked_by_hand() -> None:
    """A bridge of 1, 2, 3, 4 Ω with 5 Ω across: node equations give 63/85 V and 58/85 V, so 170/71 Ω."""
    edges = [("s", "u", 1), ("s", "v", 1 / 2), ("u", "t", 1 / 3), ("v", "t", 1 / 4), ("u", "v", 1 / 5)]
    assert between_terminals(edges, ("s", "t", "alone")) == {
        ("s", "t"): pytest.approx(170 / 71, rel=1e-12),
        ("s", "alone"): OPEN,
        ("t", "alone"): OPEN,
    }


# --- random networks --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Puzzle:
    """A network in groups, what may change in it, and the nodes that are asked about."""

    ends: tuple[Ends, ...]
    groups: tuple[str, ...]
    changes: tuple[Change, ...]
    terminals: tuple[str, ...]

    @property
    def nest(self) -> Nest:
        return Nest(self.ends, self.groups, self.changes, self.terminals)

    def direct(self, ohms: tuple[float, ...], contacts: tuple[Contact, ...], *made: Change) -> Ohms:
        """Return the resistances between terminals with some changes made, by the reference [Ω]."""
        edges = [(*ends, siemens) for ends, siemens in zip(self.ends, changed(ohms, *made), strict=True)]
        return between_terminals(edges + [(a, b, 1 / value) for a, b, value in contacts], self.terminals)

    def check(self, nest: Nest, ohms: tuple[float, ...], contacts: tuple[Contact, ...]) -> int:
        """Compare every state of a nest with the reference; return how many pairs of changes were compared."""
        found = Found(nest, self.terminals, ohms, contacts)
        assert found.between(0) == close(self.direct(ohms, contacts))
        assert np.array_equal(found.two, found.two.T)
        for number, change in enumerate(self.changes):
            assert found.between(found.one[number]) == close(self.direct(ohms, contacts, change)), change
        pairs = [(i, j) for i, j in combinations(range(len(self.changes)), 2) if not self.contradict(i, j)]
        for i, j in pairs:
            expected = self.direct(ohms, contacts, self.changes[i], self.changes[j])
            assert found.between(found.two[i, j]) == close(expected), (self.changes[i], self.changes[j])
        return len(pairs)

    def contradict(self, i: int, j: int) -> bool:
        """Return whether two changes hold the same branch, at what may be different resistances."""
        return bool(dict(self.changes[i].held).keys() & dict(self.changes[j].held).keys())


class Found:
    """What a nest finds, read as resistances between terminals."""

    def __init__(self, nest: Nest, terminals: tuple[str, ...], ohms: tuple[float, ...], contacts: tuple[Contact, ...]) -> None:
        out = nest.outcomes(ohms, contacts)
        self._pairs = list(combinations(terminals, 2))
        self._ohms = port_resistances(out.shape, out.mesh, [Port.between(a, b) for a, b in self._pairs])
        self.two = out.states.table()
        self.one = self.two.diagonal()

    def between(self, state: int) -> Ohms:
        """Return the resistances in a state [Ω]."""
        return dict(zip(self._pairs, self._ohms[:, state].tolist(), strict=True))


def close(expected: Ohms) -> object:
    """Return what compares equal with resistances that differ by less than `RELATIVE`; open is open on both sides."""
    return pytest.approx(expected, rel=RELATIVE, abs=0)


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(10.0 ** rng.uniform(math.log10(low), math.log10(high)))


def random_puzzle(rng: np.random.Generator, *, branches_a_change: int = 3) -> Puzzle:
    """Return a random tree with chords in up to five groups, with open branches that changes may close."""
    size = int(rng.integers(4, 15))
    ends = [(f"n{rng.integers(node)}", f"n{node}") for node in range(1, size)]
    ends += [(f"n{a}", f"n{b}") for a, b in rng.integers(size, size=(int(rng.integers(3, size + 1)), 2))]
    groups = [f"group {number}" for number in rng.integers(rng.integers(1, 6), size=len(ends))]
    changes = []
    for _ in range(int(rng.integers(3, 11))):
        group = rng.choice(groups)
        members = [branch for branch, name in enumerate(groups) if name == group]
        count = min(len(members), int(rng.integers(1, branches_a_change + 1)))
        changes.append(random_change(rng, [int(branch) for branch in rng.permutation(members)[:count]]))
    terminals = [f"n{node}" for node in rng.permutation(size)[: int(rng.integers(2, min(size, 6) + 1))]]
    return Puzzle(tuple(ends), tuple(groups), tuple(changes), tuple(terminals))


def random_change(rng: np.random.Generator, branches: list[int]) -> Change:
    raised, held, joined = [], [], []
    for branch in branches:
        match rng.choice(["raise", "cut", "open", "hold", "join"]):
            case "raise":
                raised.append((branch, log_uniform(rng, 0.5, 1000)))
            case "cut":
                raised.append((branch, OPEN))
            case "open":
                held.append((branch, OPEN))
            case "hold":
                held.append((branch, log_uniform(rng, 0.01, 1000)))
            case _:
                joined.append((branch, log_uniform(rng, 0.001, 1000)))
    return Change(tuple(raised), tuple(held), tuple(joined))


def random_ohms(rng: np.random.Generator, puzzle: Puzzle) -> tuple[float, ...]:
    """Return a resistance for every branch, a fifth of them open."""
    return tuple(OPEN if rng.random() < 0.2 else log_uniform(rng, 0.01, 1000) for _ in puzzle.ends)


def random_contacts(rng: np.random.Generator, puzzle: Puzzle) -> tuple[Contact, ...]:
    """Return up to three contacts between any nodes."""
    nodes = sorted({node for pair in puzzle.ends for node in pair})
    chosen = [rng.choice(nodes, 2, replace=False) for _ in range(int(rng.integers(4)))]
    return tuple((str(a), str(b), log_uniform(rng, 0.05, 10)) for a, b in chosen)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(60))
def test_every_single_change_and_every_pair_agrees_with_a_dense_solve_of_its_own(seed: int) -> None:
    """Three arrangements of one network, so that what is kept of one must not leak into another; the first comes back."""
    rng = np.random.default_rng([1973, seed])
    puzzle = random_puzzle(rng)
    nest = puzzle.nest
    ohms = random_ohms(rng, puzzle)
    contacts = random_contacts(rng, puzzle)
    for arrangement in ((ohms, contacts), (ohms, random_contacts(rng, puzzle)), (random_ohms(rng, puzzle), contacts)):
        assert puzzle.check(nest, *arrangement) > 0
    puzzle.check(nest, ohms, contacts)


@pytest.mark.parametrize("seed", range(30))
def test_the_result_does_not_depend_on_how_branches_are_grouped(seed: int) -> None:
    """Every branch for itself, all in one group, and random groups; each change touches one branch, so any grouping will do."""
    rng = np.random.default_rng([1974, seed])
    puzzle = random_puzzle(rng, branches_a_change=1)
    ohms, contacts = random_ohms(rng, puzzle), random_contacts(rng, puzzle)
    groupings = [
        tuple(f"{branch}" for branch in range(len(puzzle.ends))),
        ("all",) * len(puzzle.ends),
        *(tuple(f"{group}" for group in rng.integers(4, size=len(puzzle.ends))) for _ in range(3)),
    ]
    first = Found(puzzle.nest, puzzle.terminals, ohms, contacts)
    for groups in groupings:
        again = Found(Nest(puzzle.ends, groups, puzzle.changes, puzzle.terminals), puzzle.terminals, ohms, contacts)
        for i, j in combinations(range(len(puzzle.changes)), 2):
            if not puzzle.contradict(i, j):
                assert again.between(again.two[i, j]) == close(first.between(first.two[i, j])), groups
        for i in range(len(puzzle.changes)):
            assert again.between(again.one[i]) == close(first.between(first.one[i])), groups


# --- by hand ----------------------------------------------------------------------------------------------------------

CHAIN = (("s", "a"), ("a", "b"), ("b", "t"), ("a", "t"))
"""s —2 Ω— a —3 Ω— b —4 Ω— t, and a branch from a to t that is open in sound kit."""
CHAIN_OHMS = (2.0, 3.0, 4.0, OPEN)


def chain(groups: str, *changes: Change) -> Found:
    return Found(Nest(CHAIN, tuple(groups), changes, ("s", "t")), ("s", "t"), CHAIN_OHMS, ())


@pytest.mark.parametrize("groups", ["xxxx", "xyzz", "xyyx", "wxyz"])
def test_a_chain_worked_by_hand(groups: str) -> None:
    """Series and parallel: 10 Ω in series, a cut, and 7 Ω across what the cut opens, so that the pair reads 2 + 7 Ω."""
    raised, cut, joined = Change(raised=((0, 10.0),)), Change(held=((1, OPEN),)), Change(joined=((3, 7.0),))
    found = chain(groups, raised, cut, joined)
    ohms = {name: found.between(state)["s", "t"] for name, state in zip(("raised", "cut", "joined"), found.one, strict=True)}
    assert ohms == {"raised": pytest.approx(19), "cut": OPEN, "joined": pytest.approx(2 + 7 * 7 / 14)}
    assert found.between(found.two[0, 1])["s", "t"] == OPEN
    assert found.between(found.two[1, 2])["s", "t"] == pytest.approx(9)
    assert found.between(found.two[0, 2])["s", "t"] == pytest.approx(12 + 3.5)


def test_two_changes_of_one_branch_add_up() -> None:
    """5 and 10 Ω in series with 3 Ω; 6 and 3 Ω side by side across it; open and joined by 5 Ω."""
    changes = (
        Change(raised=((1, 5.0),)),
        Change(raised=((1, 10.0),)),
        Change(joined=((1, 6.0),)),
        Change(joined=((1, 3.0),)),
        Change(held=((1, OPEN),)),
    )
    found = chain("xyzz", *changes)
    assert found.between(found.two[0, 1])["s", "t"] == pytest.approx(2 + 18 + 4)
    assert found.between(found.two[2, 3])["s", "t"] == pytest.approx(2 + 1 / (1 / 3 + 1 / 6 + 1 / 3) + 4)
    assert found.between(found.two[0, 3])["s", "t"] == pytest.approx(2 + 1 / (1 / 8 + 1 / 3) + 4)
    assert found.between(found.two[0, 4])["s", "t"] == OPEN
    assert found.between(found.two[2, 4])["s", "t"] == pytest.approx(2 + 6 + 4)


def test_a_network_in_which_nothing_can_change_has_the_sound_state_alone() -> None:
    found = chain("xyyz")
    assert found.one.shape == (0,)
    assert found.two.shape == (0, 0)
    assert found.between(0)["s", "t"] == pytest.approx(9)


def test_a_change_that_touches_nothing_changes_nothing() -> None:
    found = chain("xyyz", Change(), Change(raised=((2, 1.0),)))
    assert found.between(found.one[0])["s", "t"] == pytest.approx(9)
    assert found.between(found.two[0, 1])["s", "t"] == pytest.approx(10)


def test_nothing_is_measured_to_a_terminal_that_no_branch_touches() -> None:
    """As `Shape` has it: a terminal stays one though nothing, or a contact alone, leads to it."""
    nest = Nest(CHAIN, tuple("xyyz"), (), ("s", "t", "alone"))
    assert Found(nest, ("s", "t", "alone"), CHAIN_OHMS, ()).between(0) == {
        ("s", "t"): pytest.approx(9),
        ("s", "alone"): OPEN,
        ("t", "alone"): OPEN,
    }
    assert Found(nest, ("s", "alone"), CHAIN_OHMS, (("a", "alone", 1.0),)).between(0)["s", "alone"] == pytest.approx(3)


def test_a_change_that_reaches_into_two_groups_is_refused() -> None:
    both = Change(raised=((0, 1.0),), joined=((1, 1.0),))
    with pytest.raises(ValueError, match="change 1 reaches into several groups: x, y"):
        Nest(CHAIN, tuple("xyyz"), (Change(), both), ("s", "t"))
