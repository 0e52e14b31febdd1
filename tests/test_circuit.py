"""Port resistances against textbook values, exact fractions, networkx and direct sparse solves."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import TYPE_CHECKING

import networkx as nx
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import coo_array, diags_array
from scipy.sparse.linalg import spsolve

from foible.circuit import OPEN, Branch, Network, Port, Shape, conductances_of, port_resistances
from foible.circuit.starmesh import CHUNK
from small_networks import Change, between, fixed, measured, networks, parallel, resistances, wired

if TYPE_CHECKING:
    from collections.abc import Iterable


# --- three references: graph library, sparse direct solve, exact fractions ----------------------------


def piece(branches: Iterable[Branch], port: Port) -> nx.MultiGraph[object]:
    """Return what hangs together with the source of `port`, its sinks merged into the first of them."""
    graph: nx.MultiGraph[object] = nx.MultiGraph()
    graph.add_node(port.sources[0])
    for branch in branches:
        a, b = (port.sinks[0] if node in port.sinks else node for node in (branch.a, branch.b))
        if a != b and branch.ohms < OPEN:
            graph.add_edge(a, b, ohms=branch.ohms)
    graph.remove_nodes_from(set(graph) - nx.node_connected_component(graph, port.sources[0]))
    return graph


def edges_of(graph: nx.MultiGraph[object]) -> list[tuple[object, object, float]]:
    return [(a, b, float(facts["ohms"])) for a, b, facts in graph.edges(data=True)]


def by_graph_library(graph: nx.MultiGraph[object], port: Port) -> float:
    """Return the resistance distance that networkx works out from the pseudo-inverse of the Laplacian [Ω]."""
    ohms = nx.resistance_distance(graph, port.sources[0], port.sinks[0], weight="ohms", invert_weight=True)
    assert isinstance(ohms, float)  # a dict where a node is left out
    return ohms


def by_direct_solve(graph: nx.MultiGraph[object], port: Port) -> float:
    """Return the volts at the source when 1 A flows from it to the grounded sinks, by sparse LU [Ω]."""
    number = {node: i for i, node in enumerate(graph)}
    edges = edges_of(graph)
    heads, tails = [number[a] for a, _, _ in edges], [number[b] for _, b, _ in edges]
    signs = np.repeat([1.0, -1.0], len(edges))
    places = (np.tile(np.arange(len(edges)), 2), np.array(heads + tails))
    incidence = coo_array((signs, places), shape=(len(edges), len(number))).tocsr()
    laplacian = (incidence.T @ diags_array([1 / ohms for _, _, ohms in edges]) @ incidence).tocsc()
    alive = [i for node, i in number.items() if node != port.sinks[0]]
    current = np.array([float(i == number[port.sources[0]]) for i in alive])
    volts = np.atleast_1d(spsolve(laplacian[alive][:, alive], current))
    return float(volts[alive.index(number[port.sources[0]])])


def by_fractions(graph: nx.MultiGraph[object], port: Port) -> Fraction:
    """Return the same by Gaussian elimination of the node equations without any rounding [Ω]."""
    inner = [node for node in graph if node not in (port.sources[0], port.sinks[0])]
    number = {node: i for i, node in enumerate((*inner, port.sources[0]))}  # the last pivot is the answer
    table = [[Fraction(0)] * len(number) for _ in number]
    for a, b, ohms in edges_of(graph):
        siemens = 1 / Fraction(ohms)
        for node, other in ((a, b), (b, a)):
            if node in number:
                table[number[node]][number[node]] += siemens
                if other in number:
                    table[number[node]][number[other]] -= siemens
    for pivot in range(len(inner)):
        for row in range(pivot + 1, len(number)):
            factor = table[row][pivot] / table[pivot][pivot]
            table[row] = [x - factor * y for x, y in zip(table[row], table[pivot], strict=True)]
    return 1 / table[-1][-1]


# --- random networks ----------------------------------------------------------------------------------

BLOCKS, NETWORKS_PER_BLOCK = 20, 50
"""1,000 random networks, each in four states."""
JOINTS = ("joint 0", "joint 1", "joint 2")


def log_uniform(rng: np.random.Generator, low: float, high: float) -> float:
    return float(10.0 ** rng.uniform(math.log10(low), math.log10(high)))


def random_network(rng: np.random.Generator, most_nodes: int, low: float, high: float) -> Network:
    """Return a random tree with chords (some parallel, some from a node to itself) and three open joints."""
    size = int(rng.integers(3, most_nodes + 1))
    ends = [(int(rng.integers(node)), node) for node in range(1, size)]
    chords = int(rng.integers(0, size + 1))
    ends += [(int(a), int(b)) for a, b in rng.integers(size, size=(chords, 2))]
    branches = list(wired(*((f"n{a}", f"n{b}", log_uniform(rng, low, high)) for a, b in ends)).branches)
    for joint in JOINTS:
        a, b = rng.choice(size, 2, replace=False)
        branches.append(Branch(joint, f"n{a}", f"n{b}", OPEN))
    return Network(tuple(branches))


def random_change(rng: np.random.Generator, network: Network, count: int) -> Change:
    """Return `count` changes: a branch raised, opened or given another value, or two nodes shorted."""
    change: Change = {}
    sound = network.branches[: -len(JOINTS)]
    for joint in JOINTS[:count]:
        branch = sound[int(rng.integers(len(sound)))]
        match rng.choice(["raise", "open", "short", "set"]):
            case "raise":
                change[branch.name] = branch.ohms + log_uniform(rng, 0.5, 1000)
            case "open":
                change[branch.name] = OPEN
            case "short":
                change[joint] = log_uniform(rng, 0.001, 0.1)
            case _:
                change[branch.name] = log_uniform(rng, 0.01, 1000)
    return change


def random_ports(rng: np.random.Generator, network: Network) -> tuple[Port, ...]:
    """Return a port between two terminals and one to several tied ones; the rest of the terminals float."""
    count = int(rng.integers(3, min(len(network.nodes), 7) + 1))
    names = [str(name) for name in rng.permutation(network.nodes)[:count]]
    tied = int(rng.integers(2, len(names)))
    return Port.between(names[0], names[-1]), Port.between(names[0], *names[1 : tied + 1])


def changed(network: Network, change: Change) -> tuple[Branch, ...]:
    return tuple(Branch(b.name, b.a, b.b, change.get(b.name, b.ohms)) for b in network.branches)


@pytest.mark.slow
@pytest.mark.parametrize("block", range(BLOCKS))
def test_random_networks_agree_with_the_graph_library_and_with_direct_solves(block: int) -> None:
    for number in range(NETWORKS_PER_BLOCK):
        rng = np.random.default_rng([block, number])
        network = random_network(rng, most_nodes=40, low=0.01, high=1000)
        changes = [random_change(rng, network, count) for count in range(4)]
        ports = random_ports(rng, network)
        found = measured(network, *ports, changes=changes)
        for (row, column), ohms in np.ndenumerate(found):
            port, where = ports[row], f"network {block}/{number}, {ports[row]}, {changes[column]}"
            graph = piece(changed(network, changes[column]), port)
            if port.sinks[0] not in graph:
                assert ohms == OPEN, where
                continue
            assert ohms == pytest.approx(by_direct_solve(graph, port), rel=1e-9), where
            assert ohms == pytest.approx(by_graph_library(graph, port), rel=1e-6), where


@pytest.mark.parametrize("seed", range(60))
def test_nothing_is_lost_though_resistances_lie_twenty_one_decades_apart(seed: int) -> None:
    """Where a direct solve in doubles has no digit left: the reference is exact arithmetic."""
    rng = np.random.default_rng([21, seed])
    network = random_network(rng, most_nodes=9, low=1e-9, high=1e12)
    changes = [random_change(rng, network, count) for count in range(4)]
    ports = random_ports(rng, network)
    found = measured(network, *ports, changes=changes)
    for (row, column), ohms in np.ndenumerate(found):
        graph = piece(changed(network, changes[column]), ports[row])
        exact = float(by_fractions(graph, ports[row])) if ports[row].sinks[0] in graph else OPEN
        assert ohms == pytest.approx(exact, rel=1e-14, abs=0)


def test_the_references_agree_with_a_bridge_worked_by_hand() -> None:
    """A bridge of 1, 2, 3, 4 Ω with 5 Ω across: node equations give 63/85 V and 58/85 V, so 170/71 Ω."""
    network = wired(("s", "u", 1), ("s", "v", 2), ("u", "t", 3), ("v", "t", 4), ("u", "v", 5))
    port = Port.between("s", "t")
    graph = piece(network.branches, port)
    assert by_fractions(graph, port) == Fraction(170, 71)
    assert by_direct_solve(graph, port) == pytest.approx(170 / 71)
    assert by_graph_library(graph, port) == pytest.approx(170 / 71)
    assert between(network, "s", "t") == pytest.approx(170 / 71, rel=1e-14)


def test_a_batch_longer_than_one_sweep_gives_each_network_its_own_answer() -> None:
    rng = np.random.default_rng(4096)
    network = random_network(rng, most_nodes=12, low=0.01, high=1000)
    shape = Shape.of(network, network.nodes[:4])
    siemens = 1 / 10 ** rng.uniform(-2, 3, size=(len(network.branches), 2 * CHUNK + 3))
    siemens[rng.random(siemens.shape) < 0.2] = 0
    given_in = siemens.copy()
    mesh = shape.conductances(siemens)
    assert np.array_equal(siemens, given_in)
    assert np.array_equal(shape.conductances(siemens[:, ::-1]), mesh[:, ::-1])
    for column in (0, CHUNK - 1, CHUNK, 2 * CHUNK - 1, 2 * CHUNK, 2 * CHUNK + 2):
        assert np.array_equal(shape.conductances(siemens[:, [column]]), mesh[:, [column]])


# --- bridges, shorts, loops, loose ends: hand formulas ------------------------------------------------


def two_triangles(bridge: float) -> Network:
    """Return two triangles of 0.01 Ω, a-b-c and d-e-f, joined by one branch c-d."""
    small = 0.01
    sides = [("a", "b"), ("b", "c"), ("c", "a"), ("d", "e"), ("e", "f"), ("f", "d")]
    return Network((*wired(*((a, b, small) for a, b in sides)).branches, Branch("bridge", "c", "d", bridge)))


CORNER_TO_CORNER = parallel(0.01, 0.02)
"""One side of a triangle beside the two others [Ω]."""


def test_an_opened_bridge_parts_the_two_sides_and_nothing_else() -> None:
    ports = [Port.between(*ends) for ends in ("af", "bd", "ab", "ac", "df")]
    ports.append(Port.between("a", "d", "b"))  # the far terminal of two tied ones falls off
    sound, opened = measured(two_triangles(0.01), *ports, changes=[{}, {"bridge": OPEN}]).T
    assert sound[0] == pytest.approx(2 * CORNER_TO_CORNER + 0.01, rel=1e-14)
    assert opened[:2].tolist() == [OPEN, OPEN]
    assert opened[2:] == pytest.approx([CORNER_TO_CORNER] * 4, rel=1e-14)
    assert opened[2:5] == pytest.approx(sound[2:5], rel=1e-14)


@pytest.mark.parametrize("bridge", [1e3, 1e6, 1e9, 1e12])
def test_a_bridge_all_but_open_keeps_every_digit_of_the_small_resistances(bridge: float) -> None:
    ports = [Port.between(*ends) for ends in ("af", "ac", "df")]
    across, left, right = measured(two_triangles(bridge), *ports)[:, 0]
    assert across == pytest.approx(CORNER_TO_CORNER + bridge + CORNER_TO_CORNER, rel=1e-15, abs=0)
    assert [left, right] == pytest.approx([CORNER_TO_CORNER] * 2, rel=1e-14)


def test_a_short_that_closes_a_loop_stands_beside_what_it_bridges() -> None:
    """A chain s, a, b, c, t of 2, 3, 4 and 5 Ω with a joint that may appear between a and c."""
    network = wired(("s", "a", 2), ("a", "b", 3), ("b", "c", 4), ("c", "t", 5), ("a", "c", OPEN))
    joints = [OPEN, 1000.0, 7.0, 0.05, 1e-6]
    found = measured(network, Port.between("s", "t"), changes=[{"4": ohms} for ohms in joints])[0]
    assert found == pytest.approx([2 + parallel(3 + 4, joint) + 5 for joint in joints], rel=1e-14)


def test_parallel_branches_add_their_conductances_between_terminals_and_at_inner_nodes() -> None:
    assert between(wired(("a", "b", 2), ("b", "a", 3), ("a", "b", 6)), "a", "b") == pytest.approx(1, rel=1e-15)
    inner = wired(("a", "m", 2), ("m", "a", 2), ("m", "b", 3), ("b", "m", 6))
    assert between(inner, "a", "b") == pytest.approx(1 + 2, rel=1e-15)


def test_a_branch_from_a_node_to_itself_carries_no_current() -> None:
    plain = wired(("a", "m", 1), ("m", "b", 2), ("a", "b", 5))
    loops = Branch("at a terminal", "a", "a", 0.01), Branch("at an inner node", "m", "m", 0.01)
    assert between(plain.with_branches(*loops), "a", "b") == between(plain, "a", "b")
    assert between(plain, "a", "b") == pytest.approx(parallel(3, 5), rel=1e-15)


def test_dead_ends_and_loose_pieces_carry_no_current() -> None:
    sound = wired(("a", "b", 3))
    dead_ends = Branch("x", "a", "x", 1), Branch("y", "x", "y", 1), Branch("z", "y", "z", OPEN)
    loose = Branch("p", "p", "q", 1), Branch("q", "q", "r", 1), Branch("u", "u", "v", OPEN)
    assert between(sound.with_branches(*dead_ends, *loose), "a", "b") == 3


@pytest.mark.parametrize("other", ["touched by an open branch alone", "touched by nothing"])
def test_nothing_is_measured_to_an_isolated_terminal(other: str) -> None:
    network = wired(("a", "b", 3), ("b", "touched by an open branch alone", OPEN))
    ports = [Port.between("a", other), Port.between(other, "a"), Port.between("a", "b")]
    assert measured(network, *ports)[:, 0].tolist() == [OPEN, OPEN, 3]
    assert measured(network, Port.between("a", other, "b"))[0, 0] == 3


def test_terminals_are_tied_for_their_own_port_only() -> None:
    """A star with arms of 1, 2, 3 and 6 Ω to the terminals a, b, c and d."""
    network = wired(("hub", "a", 1), ("hub", "b", 2), ("hub", "c", 3), ("hub", "d", 6))
    ports = [Port.between(*ends) for ends in ("ab", "abc", "adcb", "cd")]
    assert measured(network, *ports)[:, 0] == pytest.approx([3, 1 + parallel(2, 3), 1 + 1, 9], rel=1e-15)


# --- networks of the textbooks ------------------------------------------------------------------------


@pytest.mark.parametrize("middle", [1e-9, 0.01, 1, 1e9, OPEN])
def test_a_balanced_wheatstone_bridge_does_not_see_its_middle(middle: float) -> None:
    """Arms of 1 and 2 Ω beside arms of 10 and 20 Ω (textbook result)."""
    network = wired(("s", "u", 1), ("u", "t", 2), ("s", "v", 10), ("v", "t", 20), ("u", "v", middle))
    assert between(network, "s", "t") == pytest.approx(parallel(3, 30), rel=1e-14)


@pytest.mark.parametrize(("corner", "share"), [("111", 5 / 6), ("011", 3 / 4), ("001", 7 / 12)])
def test_a_cube_of_twelve_equal_resistors(corner: str, share: float) -> None:
    """Across the body diagonal, a face diagonal and an edge (textbook result)."""
    edges = [(i, i | bit) for i in range(8) for bit in (1, 2, 4) if not i & bit]
    cube = wired(*((f"{a:03b}", f"{b:03b}", 47.0) for a, b in edges))
    assert len(cube.branches) == 12
    assert between(cube, "000", corner) == pytest.approx(share * 47, rel=1e-14)


@pytest.mark.parametrize("size", [2, 3, 6, 12])
def test_between_two_nodes_of_a_complete_graph_stand_two_nths_of_a_resistor(size: int) -> None:
    """Every node joined to every other by 1 Ω (textbook result)."""
    network = wired(*((f"{a}", f"{b}", 1.0) for a in range(size) for b in range(a + 1, size)))
    assert between(network, "0", "1") == pytest.approx(2 / size, rel=1e-14)


def ladder(sections: int, along: float, across: float) -> Network:
    rails = [(f"n{i}", f"n{i + 1}", along) for i in range(sections)]
    return wired(*rails, *((f"n{i + 1}", "earth", across) for i in range(sections)))


@pytest.mark.parametrize("sections", [1, 2, 3, 10, 50])
def test_a_ladder_is_its_continued_fraction(sections: int) -> None:
    expected = OPEN
    for _ in range(sections):
        expected = 0.3 + parallel(70.0, expected)
    assert between(ladder(sections, 0.3, 70.0), "n0", "earth") == pytest.approx(expected, rel=1e-14)


def test_a_long_ladder_of_equal_resistors_tends_to_the_golden_ratio() -> None:
    """Textbook result for the infinite ladder."""
    assert between(ladder(40, 1.0, 1.0), "n0", "earth") == pytest.approx((1 + math.sqrt(5)) / 2, rel=1e-14)


# --- laws that hold for every network -----------------------------------------------------------------


def renamed(network: Network, prefix: str, keep: dict[str, str]) -> tuple[Branch, ...]:
    """Return the branches with a prefix to every name, but nodes in `keep` called as it says."""
    name = {node: keep.get(node, prefix + node) for node in network.nodes}
    return tuple(Branch(prefix + b.name, name[b.a], name[b.b], b.ohms) for b in network.branches)


N0_N1 = Port.between("n0", "n1")
N0_TIED = Port.between("n0", "n2", "n1")


@fixed
@given(networks(), st.data())
def test_raising_a_branch_never_lowers_a_port(network: Network, data: st.DataObject) -> None:
    """Rayleigh's law (Doyle & Snell 1984, *Random Walks and Electric Networks*; cited from memory)."""
    branch = data.draw(st.sampled_from(network.branches))
    raised = {branch.name: branch.ohms + data.draw(resistances | st.just(OPEN))}
    before, after = measured(network, N0_N1, N0_TIED, changes=[{}, raised]).T
    assert np.all(after >= before * (1 - 1e-13))


@fixed
@given(networks(), resistances)
def test_all_branches_times_k_give_every_port_times_k(network: Network, k: float) -> None:
    scaled = {branch.name: branch.ohms * k for branch in network.branches}
    before, after = measured(network, N0_N1, N0_TIED, changes=[{}, scaled]).T
    assert after == pytest.approx(before * k, rel=1e-13)


@fixed
@given(networks(), networks())
def test_networks_in_series_add_and_in_parallel_add_their_conductances(first: Network, second: Network) -> None:
    one, two = between(first, "n0", "n1"), between(second, "n0", "n1")
    in_series = renamed(first, "x", {"n0": "s", "n1": "m"}) + renamed(second, "y", {"n0": "m", "n1": "t"})
    in_parallel = renamed(first, "x", {"n0": "s", "n1": "t"}) + renamed(second, "y", {"n0": "t", "n1": "s"})
    assert between(Network(in_series), "s", "t") == pytest.approx(one + two, rel=1e-13)
    assert between(Network(in_parallel), "s", "t") == pytest.approx(parallel(one, two), rel=1e-13)


@fixed
@given(networks())
def test_branch_conductances_times_port_resistances_add_up_to_nodes_less_pieces(network: Network) -> None:
    """Foster's theorem (1949, *The average impedance of an electrical network*; cited from memory)."""
    graph = nx.Graph([(b.a, b.b) for b in network.branches])
    shares = [between(network, b.a, b.b) / b.ohms for b in network.branches if b.a != b.b]
    assert sum(shares) == pytest.approx(len(graph) - nx.number_connected_components(graph), rel=1e-12)


# --- refusals -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("ohms", [0.0, -0.0, -5.0, math.nan, -math.inf])
def test_a_resistance_that_is_not_positive_is_refused_by_branch_and_value(ohms: float) -> None:
    refused = rf"“blade wire”: {ohms} Ω is not a positive resistance; .* small one"
    with pytest.raises(ValueError, match=refused):
        Branch("blade wire", "socket", "point", ohms)


def test_branch_names_that_stand_twice_are_listed() -> None:
    branches = [Branch(name, "a", "b", 1.0) for name in ("pin", "clip", "wire", "clip", "pin", "pin")]
    with pytest.raises(ValueError, match=r"^repeated branch names: clip, pin$"):
        Network(tuple(branches))
    with pytest.raises(ValueError, match=r"repeated branch names: 0$"):
        wired(("a", "b", 1)).with_branches(Branch("0", "b", "c", 1.0))


@pytest.mark.parametrize("rows", [0, 2, 4])
def test_conductances_for_another_number_of_branches_are_refused_with_both_numbers(rows: int) -> None:
    shape = Shape.of(wired(("a", "b", 1), ("b", "c", 1), ("c", "d", 1)), ("a", "d"))
    with pytest.raises(ValueError, match=f"{rows} rows of conductances for a shape of 3 branches"):
        shape.conductances(np.ones((rows, 5)))


@pytest.mark.parametrize("ends", ["am", "mb", "abm"])
def test_a_port_at_a_terminal_that_was_not_kept_is_refused_by_name(ends: str) -> None:
    shape = Shape.of(wired(("a", "m", 1), ("m", "b", 1)), ("a", "b"))
    with pytest.raises(ValueError, match="port terminal “m” is not one of the terminals"):
        port_resistances(shape, np.ones((1, 1)), [Port.between(*ends)])


def test_a_change_to_a_branch_that_is_not_there_is_refused_by_name() -> None:
    with pytest.raises(KeyError, match="no such branch"):
        conductances_of(wired(("a", "b", 1)), [{"no such branch": 2.0}])


# --- what would be silently wrong is refused --------------------------------------------------------------------------

CHAIN = Network((Branch("x", "a", "b", 1.0), Branch("y", "b", "c", 2.0)))


@pytest.mark.parametrize("ends", ["aa", "aba", "aab"])
def test_a_source_among_its_own_sinks_is_refused(ends: str) -> None:
    with pytest.raises(ValueError, match="other than its sources"):
        Port.between(*ends)


def test_a_port_without_sinks_is_refused() -> None:
    with pytest.raises(ValueError, match="needs one or more sinks"):
        Port(("a",), ())


@pytest.mark.parametrize("ohms", [0.0, -5.0, math.nan])
def test_a_change_to_no_resistance_is_refused(ohms: float) -> None:
    with pytest.raises(ValueError, match=r"branch “x”: .* is not a positive resistance"):
        conductances_of(CHAIN, [{"x": ohms}])


def test_a_terminal_that_stands_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="repeated terminals: a"):
        Shape.of(CHAIN, ("a", "a", "c"))
