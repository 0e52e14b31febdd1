"""Routes: the way of a current and its cuts, beside the graph library and the resistance between its ends."""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from foible.circuit import OPEN, Branch, Network
from foible.circuit.routes import route
from small_networks import between, fixed, networks, resistances, wired


def test_a_closed_route_lists_its_branches_in_order_and_no_cuts() -> None:
    network = wired(("m", "s", 1), ("t", "u", 1), ("m", "u", 1), ("s", "t", 5))
    found = route(network, ["s"], ["t"])
    assert found is not None
    assert found.closed
    assert (found.branches, found.cuts) == (("0", "2", "1"), ())


def test_an_opened_route_names_the_cut() -> None:
    found = route(wired(("s", "m", 1), ("m", "u", OPEN), ("u", "t", 1)), "s", ["t"])
    assert found is not None
    assert not found.closed
    assert (found.branches, found.cuts) == (("0", "1", "2"), ("1",))


def test_a_route_goes_by_any_number_of_sound_branches_rather_than_over_one_gap() -> None:
    chain = [(f"n{i}", f"n{i + 1}", 5000.0) for i in range(500)]
    found = route(wired(("n0", "n500", OPEN), *chain), ["n0"], ["n500"])
    assert found is not None
    assert found.closed
    assert found.branches == tuple(str(i + 1) for i in range(500))


def test_a_route_crosses_as_few_gaps_as_can_be() -> None:
    network = wired(("s", "a", OPEN), ("a", "t", OPEN), ("s", "b", 900), ("b", "c", OPEN), ("c", "t", 900))
    found = route(network, ["s"], ["t"])
    assert found is not None
    assert (found.branches, found.cuts) == (("2", "3", "4"), ("3",))


def test_a_route_takes_the_smaller_of_two_parallel_branches_and_the_nearer_of_two_sinks() -> None:
    network = wired(("s", "t", OPEN), ("s", "t", 3), ("t", "s", 2), ("s", "far", 2.5), ("s", "farther", OPEN))
    for sinks in (["far", "t"], ["t", "farther", "far"]):
        found = route(network, ["s"], sinks)
        assert found is not None
        assert (found.branches, found.cuts) == (("2",), ())


@pytest.mark.parametrize("sinks", [["t"], ["touched by nothing"], ["t", "touched by nothing"]])
def test_there_is_no_route_where_not_even_an_open_branch_leads(sinks: list[str]) -> None:
    assert route(wired(("s", "a", 1), ("a", "b", OPEN), ("t", "u", 1)), "s", sinks) is None


@fixed
@given(networks(resistances | st.just(OPEN)))
def test_a_route_is_closed_where_the_port_conducts_and_is_no_better_than_the_port(network: Network) -> None:
    """Current uses every way at once, so the port lies below any one of them (Rayleigh's law again)."""
    assume("n0" in network.nodes)
    ohms = between(network, "n0", "n1")
    found = route(network, ["n0"], ["n1"])
    graph = nx.Graph([(b.a, b.b) for b in network.branches])
    assert (found is not None) == ("n1" in nx.node_connected_component(graph, "n0"))
    assert (found is not None and found.closed) == (ohms < OPEN)
    if found is not None:
        along = [network.branches[network.index(name)].ohms for name in found.branches]
        assert found.cuts == tuple(n for n, each in zip(found.branches, along, strict=True) if each == OPEN)
        assert ohms <= sum(along) * (1 + 1e-13)


@pytest.mark.parametrize("ohms", [6e8, 1e9, 2e9])
def test_a_route_prefers_any_resistance_to_a_gap(ohms: float) -> None:
    """An open branch beside two large ones."""
    beside = Network((Branch("gap", "a", "c", OPEN), Branch("x", "a", "b", ohms), Branch("y", "b", "c", ohms)))
    found = route(beside, ["a"], ["c"])
    assert found is not None
    assert found.branches == ("x", "y")
