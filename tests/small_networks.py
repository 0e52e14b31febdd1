"""Small networks for a test: wired up by hand or drawn at random, and what is read between their nodes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import settings
from hypothesis import strategies as st

from foible.circuit import OPEN, Branch, Network, Port, Shape, conductances_of, port_resistances

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

Change = dict[str, float]

fixed = settings(derandomize=True, deadline=None)
"""The same examples in every run; the first one also pays for imports, hence no deadline."""


def measured(network: Network, *ports: Port, changes: Sequence[Change] = ({},)) -> NDArray[np.float64]:
    """Return what Foible reads, shape (ports, changes) [Ω]; terminals of other ports float meanwhile."""
    terminals = tuple(dict.fromkeys(name for port in ports for name in (port.sources[0], *port.sinks)))
    shape = Shape.of(network, terminals)
    return port_resistances(shape, shape.conductances(conductances_of(network, changes)), ports)


def between(network: Network, a: str, b: str) -> float:
    return float(measured(network, Port.between(a, b))[0, 0])


def wired(*branches: tuple[str, str, float]) -> Network:
    """Return a network of (node, node, ohms), its branches named “0”, “1” … in order."""
    return Network(tuple(Branch(str(i), a, b, ohms) for i, (a, b, ohms) in enumerate(branches)))


def parallel(*ohms: float) -> float:
    siemens = sum(1 / each for each in ohms)
    return 1 / siemens if siemens else OPEN


resistances = st.floats(-2, 3).map(lambda exponent: 10.0**exponent)


@st.composite
def networks(draw: st.DrawFn, values: st.SearchStrategy[float] = resistances) -> Network:
    """Draw a network of a few nodes, n0 and n1 among them; it may fall into pieces."""
    node = st.integers(0, draw(st.integers(1, 7))).map("n{}".format)
    return wired(*draw(st.lists(st.tuples(node, node, values), min_size=1, max_size=16)))
