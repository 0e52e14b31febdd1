"""What would be seen, worked out from the rules as they are printed and by searching a graph: nothing of `foible.practice`.

A circuit counts as closed where a way leads through it and as open where none does. That is enough, as long as nothing on the way
has a resistance for which the rules leave either open (FIE Material Rules (Book 3), August 2026, Annex B).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import networkx as nx

from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.kit import Failure, Setup
    from foible.trials import Arrangement

__all__ = ["CLOSED_TO", "OPEN_FROM", "graph_of", "joined", "lamps_by_rule", "usable"]

CLOSED_TO, OPEN_FROM = 60.0, 2000.0
"""What is taken for a closed way and for an open one [Ω]: Annex B leaves open nothing below 100 or above 500."""
OTHER = {"left": "right", "right": "left"}


def graph_of(setup: Setup, arrangement: Arrangement, made: Iterable[tuple[Failure, float]]) -> nx.MultiGraph[str]:
    """Return the strip as a graph with failures in it; its edges bear names, and resistances as weights [Ω]."""
    graph: nx.MultiGraph[str] = nx.MultiGraph()
    for branch in arranged(setup, arrangement).network(setup.network).branches:
        graph.add_edge(branch.a, branch.b, key=branch.name, weight=branch.ohms)
    ends = {name: (a, b) for a, b, name in graph.edges(keys=True)}
    for failure, ohms in made:
        for name in failure.raises:
            graph.edges[(*ends[name], name)]["weight"] += ohms
        for name, held in failure.sets.items():
            graph.edges[(*ends[name], name)]["weight"] = held
        for a, b in failure.joins:
            graph.add_edge(a, b, weight=ohms)
        if failure.exchange:
            _exchange(graph, setup, failure.exchange)
    graph.remove_edges_from([each for each in graph.edges(keys=True) if graph.edges[each]["weight"] >= OPEN_FROM])
    return graph


def _exchange(graph: nx.MultiGraph[str], setup: Setup, names: tuple[str, str]) -> None:
    """Lead two wires to each other's far end."""
    first, second = (setup.network.branches[setup.network.index(name)] for name in names)
    graph.remove_edge(first.a, first.b, key=first.name)
    graph.remove_edge(second.a, second.b, key=second.name)
    graph.add_edge(first.a, second.b, weight=first.ohms)
    graph.add_edge(second.a, first.b, weight=second.ohms)


def joined(graph: nx.MultiGraph[str], sources: Sequence[str], sinks: Sequence[str]) -> bool:
    """Return whether a way leads from any of some places to any of others."""
    reached: set[str] = set()
    for source in sources:
        reached |= nx.node_connected_component(graph, source) if source in graph else {source}
    return not reached.isdisjoint(sinks)


def lamps_by_rule(weapon: str, graph: nx.MultiGraph[str]) -> set[str]:
    """Return the lamps that an apparatus set to a weapon lights, as Annex B has it."""
    return {f"{side} {lamp}" for side in OTHER for lamp in _of_side(weapon, graph, side)}


def _of_side(weapon: str, graph: nx.MultiGraph[str], side: str) -> set[str]:
    def line(letter: str, of: str = side) -> str:
        return f"apparatus.{of}_{letter}"

    a, b, c, piste = line("a"), line("b"), line("c"), "apparatus.piste"
    their_a, their_c = line("a", OTHER[side]), line("c", OTHER[side])
    if weapon == "épée":  # B(a), B(d), B(e)4
        earth = joined(graph, [a, b], [c, their_c, piste])
        return ({"yellow"} if earth else set()) | ({"coloured"} if joined(graph, [a], [b]) and not earth else set())
    leak = {"yellow"} if joined(graph, [a], [c]) else set()
    if weapon == "sabre":  # C(a)5–6, C(b)3
        control = joined(graph, [b], [c])
        hit = control and joined(graph, [b, c], [their_a])
        return leak | (set() if control else {"white"}) | ({"coloured"} if hit else set())
    their_leak = joined(graph, [their_a], [their_c])  # A.1, A.2 with anti-blocking
    earth = joined(graph, [b], [piste] if their_leak else [their_c, piste])
    if joined(graph, [b], [c]) or earth:
        return leak
    return leak | {"coloured" if joined(graph, [b], [their_a]) else "white"}


def usable(ohms: float) -> bool:
    """Return whether a severity is clearly closed or clearly open [Ω]."""
    return ohms <= CLOSED_TO or ohms >= OPEN_FROM or math.isnan(ohms)
