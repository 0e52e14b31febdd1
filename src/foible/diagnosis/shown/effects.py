"""A failure in; out, the edits it makes to a network, one list shared by solving and explaining."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

from foible.circuit import OPEN, Branch, Network

if TYPE_CHECKING:
    from collections.abc import Iterable

    from foible.kit import Failure, Setup

__all__ = ["Edits", "edits", "failed_network", "joint_name", "together"]


@dataclass(frozen=True, slots=True)
class Edits:
    """Changes to a network: branches raised or held [Ω], and joints between nodes [Ω]."""

    raised: tuple[tuple[str, float], ...]
    held: tuple[tuple[str, float], ...]
    joined: tuple[tuple[tuple[str, str], float], ...]


def edits(setup: Setup, failure: Failure, ohms: float) -> Edits:
    """Return what `failure` at severity `ohms` [Ω] changes in any arrangement of `setup`."""
    held = list(failure.sets.items())
    joined = [(pair, ohms) for pair in failure.joins]
    if failure.exchange:
        first, second = (setup.network.branches[setup.network.index(name)] for name in failure.exchange)
        held += [(first.name, OPEN), (second.name, OPEN)]
        joined += [((first.a, second.b), first.ohms), ((second.a, first.b), second.ohms)]
    return Edits(tuple((name, ohms) for name in failure.raises), tuple(held), tuple(joined))


def together(made: Iterable[Edits]) -> Edits:
    """Return what several failures change at once."""
    found = tuple(made)
    return Edits(*(tuple(chain.from_iterable(getattr(each, key) for each in found)) for key in ("raised", "held", "joined")))


def failed_network(network: Network, failure_edits: Edits) -> Network:
    """Return `network`, in whatever arrangement, with a failure in it. Joints bear the names of `joint_name`."""
    raised, held = dict[str, float](), dict(failure_edits.held)
    for name, ohms in failure_edits.raised:
        raised[name] = raised.get(name, 0.0) + ohms
    branches = [Branch(b.name, b.a, b.b, held.get(b.name, b.ohms + raised.get(b.name, 0.0))) for b in network.branches]
    joints = [Branch(joint_name(*pair), *pair, ohms) for pair, ohms in failure_edits.joined if not math.isinf(ohms)]
    return Network((*branches, *joints))


def joint_name(a: str, b: str) -> str:
    """Return the branch name of a joint that a failure makes between two nodes."""
    return f"{a} = {b}"
