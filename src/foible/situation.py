"""Where the armourer is and what is at hand: the words of a place and of tools in, one checked value out."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["TOOLS", "Mode", "Situation", "tools_listed", "tools_named"]

TOOLS = ("spare", "meter", "box", "weight", "shims", "screwdriver")
"""What a trial can need: a known-good item, an ohmmeter, a test box, the weapon's weight, its shims or travel gauge, and the
hand tools that open a point, a plug or a grip."""


class Mode(Enum):
    """Where the armourer is, which decides what is named."""

    PISTE = "piste"
    """Which item to exchange, in seconds."""
    BENCH = "bench"
    """Which repair an item needs, in minutes."""

    @property
    def usual_tools(self) -> tuple[str, ...]:
        """The tools assumed to be at hand where none are given, out of `TOOLS`."""
        return ("spare",) if self is Mode.PISTE else tuple(tool for tool in TOOLS if tool != "spare")

    @property
    def wrong_s(self) -> float:
        """What naming the wrong thing costs, beyond the time to act on it [s]; judgement, no source.

        At the piste the bout is stopped again; on the bench the item comes back. Dearer, it names rightly more often and tries
        on for longer than a master would; `benchmarks/accuracy` and `benchmarks/rehearsal` show the one and the other.
        """
        return 1300.0 if self is Mode.PISTE else 1800.0

    @property
    def missed_s(self) -> float:
        """What “nothing wrong” costs where something is [s]; judgement, no source.

        At the piste they fence on and call again: less is lost than with the wrong item out and a good one in.
        """
        return 600.0 if self is Mode.PISTE else 1800.0


@dataclass(frozen=True, slots=True)
class Situation:
    """Where the armourer is, and what is at hand.

    `item` is what lies on the bench; without one, it is the item most suspected. `tools` is what is at hand, out of `TOOLS`;
    `without` are the `say` sentences of trials not to offer; `facts` of the place, as `kit.FACTS` names them, rule others out.
    """

    mode: Mode = Mode.PISTE
    item: str | None = None
    tools: tuple[str, ...] = ("spare",)
    without: tuple[str, ...] = ()
    facts: tuple[str, ...] = ()


def tools_named(names: Iterable[str]) -> tuple[str, ...]:
    """Return tools in the order of `TOOLS`, each once, whatever their capitals and spaces. Raises UnknownNameError."""
    wanted = {" ".join(name.lower().split()): name.strip() for name in names}
    for word, name in wanted.items():
        if word not in TOOLS:
            raise UnknownNameError(what="tool", name=name, known=TOOLS)
    return tuple(tool for tool in TOOLS if tool in wanted)


def tools_listed(text: str) -> tuple[str, ...]:
    """Return the tools in a comma-separated list; “none” and an empty list give none. Raises UnknownNameError."""
    return tools_named(name for name in text.split(",") if name.strip().lower() not in ("", "none"))
