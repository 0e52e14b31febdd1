"""Named branches in, a resistor network as a plain value out. Nothing here knows about fencing."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property

__all__ = ["OPEN", "Branch", "Network"]

OPEN = math.inf
"""The resistance of an open circuit [Ω]."""


@dataclass(frozen=True, slots=True)
class Branch:
    """A two-ended resistor between nodes `a` and `b`; `ohms` is positive, or `OPEN`."""

    name: str
    a: str
    b: str
    ohms: float

    def __post_init__(self) -> None:
        if not self.ohms > 0:
            msg = f"branch “{self.name}”: {self.ohms} Ω is not a positive resistance; a dead short is a small one"
            raise ValueError(msg)


@dataclass(frozen=True)
class Network:
    """Branches between named nodes. Branch names are unique; several branches may join the same two nodes."""

    branches: tuple[Branch, ...]
    _index: dict[str, int] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        index = {branch.name: i for i, branch in enumerate(self.branches)}
        if len(index) != len(self.branches):
            names = [branch.name for branch in self.branches]
            twice = sorted({name for name in names if names.count(name) > 1})
            msg = f"repeated branch names: {', '.join(twice)}"
            raise ValueError(msg)
        object.__setattr__(self, "_index", index)

    @cached_property
    def nodes(self) -> tuple[str, ...]:
        """All nodes that a branch touches, in order of appearance."""
        return tuple(dict.fromkeys(node for branch in self.branches for node in (branch.a, branch.b)))

    def index(self, name: str) -> int:
        """Return the position of the branch called `name`; KeyError where there is none."""
        return self._index[name]

    def with_branches(self, *extra: Branch) -> Network:
        """Return the network with branches added after its own."""
        return Network((*self.branches, *extra))
