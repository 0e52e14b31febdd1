"""A circuit in; out, what to say about it: closed and by which path, or open and where it is cut."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.kit import other

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.kit import Condition, Failure, Setup, Weapon
    from foible.trials import Arrangement

__all__ = ["Chance", "Circuit", "Measured", "Namer", "SideFacts", "lamps_text"]

SURE = 0.95
"""A lamp more likely than this is said to light, one less likely than 1 − this to stay dark."""
PRESSED = "which is pressed"
BACK = 3
"""Stops of a path from which on it need not be told twice."""
WHOLE_OHMS = 100.0
"""Resistances from here up are given without decimals [Ω]."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """One measurement of the apparatus in a trial."""

    name: str
    """A measurement of the weapon, such as `loop`."""
    ohms: float
    """What the apparatus sees; `inf` where nothing connects [Ω]."""
    way: tuple[str, ...]
    """The branches in the order in which the current passes them."""
    cuts: tuple[str, ...]
    """Those of them that are open."""
    high: str | None
    """The branch with most of the resistance, where the path is closed but poor."""


class Namer:
    """Branch names in words."""

    def __init__(
        self, setup: Setup, arrangement: Arrangement, failures: Sequence[Failure], joints: Mapping[str, Failure]
    ) -> None:
        self._setup, self._arrangement, self._failures, self._joints = setup, arrangement, failures, joints

    def cut(self, branch: str) -> str:
        """Return where a circuit is cut."""
        if failed := self._failed(branch):
            return failed
        for side, point in self._setup.points.items():
            if branch in point.opens and side == self._arrangement.press:
                return f"the {side} point, {PRESSED}"
            if branch in point.closes:
                return f"the {side} point, which is not pressed"
        for connection in self._setup.connections.values():
            if branch in connection.pins.values():
                return f"the {connection.id}, which is undone"
        return f"the {branch}"

    def cuts(self, branches: Sequence[str]) -> str:
        """Return all places where a circuit is cut, each once."""
        return " and ".join(dict.fromkeys(self.cut(branch) for branch in branches))

    def way(self, branches: Sequence[str]) -> str:
        """Return a path as the items it passes, with whatever is remarkable on it; the same way back goes without saying."""
        stops: list[str] = []
        for branch in branches:
            stop = self._stop(branch)
            if stop and (not stops or stops[-1] != stop):
                stops.append(stop)
        there = len(stops) // 2 + 1
        if there >= BACK and stops == stops[::-1]:
            return f"{' → '.join(stops[:there])} and back"
        return " → ".join(stops)

    def measured(self, circuit: Circuit) -> str:
        """Return the resistance of a closed circuit and its way."""
        amount = f"{circuit.ohms:.1f} Ω" if circuit.ohms < WHOLE_OHMS else f"{circuit.ohms:.0f} Ω"
        high = f", most of it at {self.cut(circuit.high)}" if circuit.high else ""
        return f"{amount} by way of {self.way(circuit.way)}{high}"

    def _failed(self, branch: str) -> str:
        """Return the part that failed and how, where a branch shows it; "" where the branch is sound."""
        touching = [self._joints[branch]] if branch in self._joints else []
        touching += [f for f in self._failures if branch in (*f.raises, *f.sets, *(f.exchange or ()))]
        return f"the {touching[0].part} ({touching[0].mode})" if touching else ""

    def _stop(self, branch: str) -> str:
        if failed := self._failed(branch):
            return failed
        if branch in self._setup.parts:
            return self._setup.parts[branch].item
        return branch if " on " in branch or branch.startswith("bridge ") else ""


def lamps_text(kind: Weapon, facts: SideFacts) -> str:
    """Return why the lamps of a side do what they do, in the sentences of the weapon whose rules the apparatus judges by."""
    if not kind.lamps:
        return "The apparatus shows nothing whatever is done."
    said: dict[str, str] = {}
    for sentence in kind.sentences:
        if sentence.about not in said and all(facts.holds(condition) for condition in sentence.when):
            said[sentence.about] = sentence.say.format_map(facts.fields)
    return " ".join(text for text in said.values() if text)


class SideFacts:
    """One side in one trial, as the conditions and fields of a weapon's sentences ask for it."""

    def __init__(self, side: str, measured: Mapping[str, Measured], lamps: Mapping[str, Chance]) -> None:
        named: Mapping[str, Measured | Chance] = {**measured, **lamps}
        self._states = {name: each.states() for name, each in named.items()}
        self.fields: Mapping[str, object] = {"side": side, "opponent": other(side), **named}

    def holds(self, condition: Condition) -> bool:
        """Return whether a condition holds."""
        return condition.state in self._states[condition.of]


class Chance:
    """The probability of a lamp, in words."""

    def __init__(self, chance: float, name: str) -> None:
        """`name`: what people call the lamp of this side, such as “red”."""
        self._chance, self.name = chance, name

    @property
    def chance(self) -> str:
        """The probability in per cent."""
        return _percent(self._chance)

    @property
    def perhaps(self) -> str:
        """What follows “lights”: nothing where that is certain."""
        return "" if self._chance > SURE else f" with a chance of {self.chance}"

    def states(self) -> set[str]:
        """Return the states that it is in."""
        return {"dark"} if self._chance <= 1 - SURE else {"perhaps lit", "lit"} if self._chance > SURE else {"perhaps lit"}


def _percent(chance: float) -> str:
    return f"{chance:.0%}"[:-1] + "\N{NO-BREAK SPACE}%"


class Measured:
    """A circuit as it was measured, in words."""

    def __init__(self, circuit: Circuit, namer: Namer, opened: float | None, *, stands_in: bool) -> None:
        """Describe `circuit`; `opened`: the chance that it counts as open, None for one that only stands in for another."""
        self._circuit, self._namer, self._opened, self._stands_in = circuit, namer, opened, stands_in

    @property
    def measured(self) -> str:
        """The resistance and the way of a closed circuit."""
        return self._namer.measured(self._circuit)

    @property
    def way(self) -> str:
        """The path of the current."""
        return self._namer.way(self._circuit.way)

    @property
    def cuts(self) -> str:
        """Where it is cut."""
        return self._namer.cuts(self._circuit.cuts)

    @property
    def opened(self) -> str:
        """What makes it count as open: “is cut at the left cord”."""
        if self._circuit.cuts:
            return f"is cut at {self.cuts}"
        return f"is too poor to count as closed: {self.measured}" if self._circuit.way else "is open: nothing joins them"

    @property
    def doubt(self) -> str:
        """What to add where it may count as closed as well."""
        chance = self._opened or 0.0
        return "" if chance > SURE else f", if the apparatus takes that for open (chance {_percent(chance)})"

    def states(self) -> set[str]:
        """Return the states that it is in."""
        circuit = self._circuit
        found = {"cut"} if circuit.cuts else {"joined"} if circuit.way else {"apart"}
        if PRESSED in self.cuts:
            found.add("cut by the press")
        if self._stands_in:
            found.add("stands in")
        if self._opened is not None:
            for state, chance in (("open", self._opened), ("closed", 1 - self._opened)):
                found |= {state} if chance > SURE else set()
                found |= {f"perhaps {state}"} if chance > 1 - SURE else set()
        return found
