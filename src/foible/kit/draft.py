"""A set-up while it is being put together: what each file says goes in, the finished set-up or every slip comes out."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from foible.circuit import Branch, Network
from foible.errors import ProblemsError
from foible.kit.model import Connection, Failure, Item, Part, Point, Repair, Setup
from foible.kit.names import Book

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from foible.errors import Problem
    from foible.kit.folders import Read
    from foible.kit.weapon import Weapon

    Where = tuple[str | int, ...]
    """Keys and positions that lead to a value of a file."""

__all__ = ["Draft", "node_id", "node_item"]


@dataclass
class Draft:
    """What has been read so far. Slips are collected in `problems`, so that a file reports all of them at once."""

    kind: Weapon
    profile: str
    citations: Mapping[str, str]
    repairs: Mapping[str, Repair]
    problems: list[Problem]
    items: dict[str, Item] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    branches: dict[str, Branch] = field(default_factory=dict)
    failures: dict[str, Failure] = field(default_factory=dict)
    connections: dict[str, Connection] = field(default_factory=dict)
    nodes: set[str] = field(default_factory=set)
    places: dict[str, str] = field(default_factory=dict)
    movements: dict[str, str] = field(default_factory=dict)
    points: dict[str, Point] = field(default_factory=dict)
    cloth: set[str] = field(default_factory=set)
    long: set[str] = field(default_factory=set)
    broad: dict[str, tuple[str, ...]] = field(default_factory=dict)

    # --- names that later files use -------------------------------------------------------------------------------

    def far_node(self, text: str, side: str | None) -> str:
        """Return the node that “item node” names: of an item of this side, or of one that both sides share."""
        kind, node = text.rsplit(" ", 1)
        return node_id(kind if kind in self.items else f"{side} {kind}", node)

    def branch(self, item: Item, name: str, origin: Read[Any], where: Where) -> str:
        """Return the branch that a part of an item is, and complain where it does not conduct."""
        part_id = f"{item.id} {name}"
        if part_id not in self.branches:
            seen = f"no part “{name}” of this item conducts"
            self.complain(origin, where, seen, "name a part with from, to and ohms")
        return part_id

    def cut(self, item: Item, name: str, origin: Read[Any], where: Where) -> str:
        """Return the branch that a failure of an item raises: a part of it, or a line of a connection on its side or of both."""
        lines = {line for connection in self.connections.values() for line in connection.pins.values()}
        found = next((line for line in (f"{item.side} {name}", name) if line in lines), None)
        if f"{item.id} {name}" in self.branches or found is None:
            return self.branch(item, name, origin, where)
        return found

    def check_node(self, origin: Read[Any], where: Where, node: str, name: str) -> None:
        """Complain where no part begins or ends at `node`, which the file calls `name`."""
        if node not in self.nodes:
            remedy = "name a node that a part of this item begins or ends at, or “item node”"
            self.complain(origin, where, f"there is no node “{name}”", remedy)

    def check_source(self, origin: Read[Any], where: Where, source: str) -> None:
        """Complain where a source is not among the citations."""
        if source not in self.citations:
            seen = f"the source “{source}” is unknown"
            self.complain(origin, (*where, "source"), seen, "add it to a file in sources/, or name an existing one")

    def complain(self, origin: Read[Any], where: Where, seen: str, remedy: str) -> None:
        """Note a slip with its file and line."""
        self.problems.append(origin.problem(where, seen, remedy))

    # --- the end --------------------------------------------------------------------------------------------------

    def finished(self, overlays: tuple[Path, ...]) -> Setup:
        """Return the set-up. Raises ProblemsError with every slip where there are any."""
        if self.problems:
            raise ProblemsError(dict.fromkeys(self.problems))
        failures = self.failures.values()
        return Setup(
            kind=self.kind,
            profile=self.profile,
            network=Network(tuple(self.branches.values())),
            items=Book("item", self.items),
            parts=Book("part", self.parts),
            failures=Book("failure", self.failures),
            repairs=Book("repair", self.repairs),
            places=Book("place", self.places),
            cloth=frozenset(self.cloth),
            long=frozenset(self.long),
            broad=self.broad,
            connections=Book("connection", self.connections),
            movements=Book("movement", self.movements),
            points=self.points,
            signs=frozenset(sign for failure in failures for sign in failure.signs),
            gauges=frozenset(gauge for failure in failures for gauge in failure.gauges),
            overlays=overlays,
            citations=self.citations,
        )


def node_id(item: str, name: str) -> str:
    """Return the name that a node of an item has in the network."""
    return f"{item}.{name}"


def node_item(node: str) -> str:
    """Return the item that a node of the network belongs to."""
    return node.rpartition(".")[0]
