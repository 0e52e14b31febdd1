"""The way a current takes, or where it is cut: cheapest routes through a network."""

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
"""Weight of an open branch on the search for a route: any number of sound branches is preferred to one gap."""
_PER_OHM = 10**9
"""Weight of an ohm. Weights are whole numbers, so that ohms still count beside gaps."""


@dataclass(frozen=True)
class Route:
    """The branches from one terminal to another, in order; `cuts` are those of them that are open."""

    branches: tuple[str, ...]
    cuts: tuple[str, ...]

    @property
    def closed(self) -> bool:
        """Whether current can flow along this route."""
        return not self.cuts


def route(network: Network, source: str, sinks: Sequence[str]) -> Route | None:
    """Return the route of least resistance from `source` to any of `sinks`, with as few open branches as can be.

    None where not even an open branch leads there.
    """
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from([source, *sinks])
    for branch in network.branches:
        weight = _GAP if math.isinf(branch.ohms) else round(branch.ohms * _PER_OHM)
        held = graph.get_edge_data(branch.a, branch.b)
        if held is None or weight < held["weight"]:
            graph.add_edge(branch.a, branch.b, weight=weight, branch=branch)
    lengths = nx.single_source_dijkstra_path_length(graph, source)
    reached = [sink for sink in sinks if sink in lengths]
    if not reached:
        return None
    nodes = nx.dijkstra_path(graph, source, min(reached, key=lambda sink: lengths[sink]))
    steps: list[Branch] = [graph.edges[a, b]["branch"] for a, b in pairwise(nodes)]
    return Route(
        branches=tuple(step.name for step in steps),
        cuts=tuple(step.name for step in steps if math.isinf(step.ohms)),
    )
