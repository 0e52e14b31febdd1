"""A network and two groups of terminals in; out, the path of the current between them, or where it is cut."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import networkx as nx

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.circuit.network import Branch, Network

__all__ = ["Route", "route"]

_GAP = 10**40
"""Weight of an open branch in the search for a route: any number of sound branches is better than one gap."""
_PER_OHM = 10**9
"""Weight of an ohm. Weights are whole numbers, so that ohms still count beside gaps."""


_LARGEST_OHMS = 1e20
"""What a larger resistance counts as in the search for a route [Ω]."""


@dataclass(frozen=True)
class Route:
    """The branches from one terminal to another, in order; `cuts` are those of them that are open."""

    branches: tuple[str, ...]
    cuts: tuple[str, ...]

    @property
    def closed(self) -> bool:
        """Whether current can flow along this route."""
        return not self.cuts


def route(network: Network, sources: Sequence[str], sinks: Sequence[str]) -> Route | None:
    """Return the route of least resistance from any of `sources` to any of `sinks`, with as few open branches as possible.

    None where not even an open branch leads there.
    """
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from([*sources, *sinks])
    for branch in network.branches:
        weight = _GAP if math.isinf(branch.ohms) else round(min(branch.ohms, _LARGEST_OHMS) * _PER_OHM)
        held = graph.get_edge_data(branch.a, branch.b)
        if held is None or weight < held["weight"]:
            graph.add_edge(branch.a, branch.b, weight=weight, branch=branch)
    lengths = nx.multi_source_dijkstra_path_length(graph, set(sources))
    reached = [sink for sink in sinks if sink in lengths]
    if not reached:
        return None
    nodes = _way(graph, set(sources), min(reached, key=lambda sink: lengths[sink]))
    steps: list[Branch] = [graph.edges[a, b]["branch"] for a, b in pairwise(nodes)]
    return Route(
        branches=tuple(step.name for step in steps),
        cuts=tuple(step.name for step in steps if math.isinf(step.ohms)),
    )


def _way(graph: nx.Graph[str], sources: set[str], sink: str) -> list[str]:
    """Return the nodes of the cheapest way."""
    _, nodes = nx.multi_source_dijkstra(graph, sources, sink)
    return [str(node) for node in nodes]
