"""A mesh between terminals in; what an ohmmeter between two groups of them would read out, the other terminals floating."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from foible.circuit.starmesh import Shape

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from foible.circuit.network import Network

__all__ = ["Port", "conductances_of", "port_resistances"]


@dataclass(frozen=True, slots=True)
class Port:
    """A measurement from one terminal, or several tied together, to one or several others that are tied together."""

    sources: tuple[str, ...]
    sinks: tuple[str, ...]

    def __post_init__(self) -> None:
        if not self.sources or not self.sinks or set(self.sources) & set(self.sinks):
            msg = f"port from {self.sources} to {self.sinks}: it needs one or more sinks other than its sources"
            raise ValueError(msg)

    @classmethod
    def between(cls, source: str | tuple[str, ...], *sinks: str) -> Port:
        """Return the port from `source`, or from several tied together, to `sinks`."""
        return cls((source,) if isinstance(source, str) else source, sinks)


def port_resistances(shape: Shape, mesh: NDArray[Any], ports: Iterable[Port]) -> NDArray[np.float64]:
    """Return the resistance of each port in each network, shape (ports, networks) [Ω]; `inf` where nothing connects.

    `mesh` is what `shape.conductances` returned, shape (pairs, networks) [S].
    """
    with np.errstate(divide="ignore"):
        return np.stack([1.0 / _tied(shape.terminals, port).conductances(mesh)[0] for port in ports])


@lru_cache(maxsize=256)
def _tied(terminals: tuple[str, ...], port: Port) -> Shape:
    """Return the shape of the terminal mesh with the sources merged into the first of them, and the sinks likewise."""
    for name in (*port.sources, *port.sinks):
        if name not in terminals:
            msg = f"port terminal “{name}” is not one of the terminals"
            raise ValueError(msg)
    first = dict.fromkeys(port.sources, port.sources[0]) | dict.fromkeys(port.sinks, port.sinks[0])
    names = [first.get(name, name) for name in terminals]
    count = len(terminals)
    ends = tuple((names[i], names[j]) for i in range(count) for j in range(i + 1, count))
    return Shape(ends, (port.sources[0], port.sinks[0]))


def conductances_of(network: Network, changes: Sequence[dict[str, float]] = ({},)) -> NDArray[np.float64]:
    """Return branch conductances, shape (branches, len(changes)) [S].

    Each entry of `changes` gives new resistances [Ω] by branch name for one network; the rest is as in `network`.
    """
    ohms = np.array([branch.ohms for branch in network.branches])
    table = np.repeat(ohms[:, None], len(changes), axis=1)
    for column, change in enumerate(changes):
        for name, value in change.items():
            if not value > 0:
                msg = f"change {column} of branch “{name}”: {value} Ω is not a positive resistance"
                raise ValueError(msg)
            table[network.index(name), column] = value
    return 1.0 / table
