"""A network and two groups of terminals in; out, the path of the current between them, or where it is cut."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, cast

import networkx as nx

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.circuit.network import Branch, Network

__all__ = ["Route", "Routes", "route"]

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


class Routes:
    """All routes of one network: the search graph is made once, however many pairs of terminals are asked about."""

    def __init__(self, network: Network) -> None:
        self._graph: nx.Graph[str] = nx.Graph()
        for branch in network.branches:
            weight = _GAP if math.isinf(branch.ohms) else round(min(branch.ohms, _LARGEST_OHMS) * _PER_OHM)
            held = self._graph.get_edge_data(branch.a, branch.b)
            if held is None or weight < held["weight"]:
                self._graph.add_edge(branch.a, branch.b, weight=weight, branch=branch)

    def between(self, sources: Sequence[str], sinks: Sequence[str]) -> Route | None:
        """Return the route of least resistance from any of `sources` to any of `sinks`, with as few open branches as possible.

        None where not even an open branch leads there.
        """
        self._graph.add_nodes_from([*sources, *sinks])  # a terminal that nothing leads to
        found = nx.multi_source_dijkstra(self._graph, set(sources))
        lengths, ways = cast("tuple[dict[str, int], dict[str, list[str]]]", found)
        reached = [sink for sink in sinks if sink in lengths]
        if not reached:
            return None
        nodes = ways[min(reached, key=lambda sink: lengths[sink])]
        steps: list[Branch] = [self._graph.edges[a, b]["branch"] for a, b in pairwise(nodes)]
        return Route(
            branches=tuple(step.name for step in steps),
            cuts=tuple(step.name for step in steps if math.isinf(step.ohms)),
        )


def route(network: Network, sources: Sequence[str], sinks: Sequence[str]) -> Route | None:
    """Return the route of least resistance in a network that is asked about once; see `Routes.between`."""
    return Routes(network).between(sources, sinks)
