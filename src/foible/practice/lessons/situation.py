"""A trial and failures in; out, what would be seen: which lamps light, what a meter reads, what a test box and a gauge show.

It goes through the same network and the same rule profile as the reasoning. Where the rules leave open whether a lamp
lights, that is no answer to a question, so whoever asks for it is refused.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import TERMINALS, Lamp, lamp_chances, load_profile
from foible.circuit import Port, Shape, conductances_of, port_resistances
from foible.diagnosis.shown.effects import edits, failed_network, together
from foible.diagnosis.shown.readings import BOX_GAP
from foible.errors import InputError
from foible.kit import SIDES
from foible.trials import OVER_RANGE_OHMS, arranged

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from foible.circuit import Network
    from foible.kit import Failure, Setup
    from foible.trials import Arrangement, Trial

__all__ = ["LeftOpenError", "Situation", "lamp_list", "lamps_said"]

SURE = 0.95
"""A lamp more likely than this lights, one less likely than 1 − this stays dark; in between it is left open."""
GAUGE_FAILS = 0.5
"""From this probability on a gauge is said to fail."""
LIKE = 1.3
"""Readings within this ratio, and a few tenths of an ohm, are not told apart."""
TENTHS = 0.3


class LeftOpenError(InputError):
    """The rules, or the kit's data, leave open what would be seen."""


Made = tuple["Failure", float]
"""A failure at a severity [Ω]."""


@dataclass(frozen=True)
class Situation:
    """What is done, with what has failed; whatever the trial exchanges or mends is sound in it."""

    setup: Setup = field(repr=False)
    trial: Trial
    failures: tuple[Failure, ...]
    circuit: str
    """The measurement whose way is asked for or drawn."""
    side: str

    @property
    def made(self) -> tuple[Made, ...]:
        """What has failed and is still in place, each at its usual severity."""
        return tuple((each, each.usual_ohms) for each in self.failures if not self._cured(each))

    @cached_property
    def lamps(self) -> frozenset[str]:
        """The lamps that light, as “left white”. Raises LeftOpenError."""
        return self._definite(self.trial.arrangement)

    @cached_property
    def lamps_before(self) -> frozenset[str] | None:
        """The lamps that light before the point is pressed; None where nothing is pressed. Raises LeftOpenError."""
        return self._definite(self.trial.arrangement.before_press()) if self.trial.arrangement.press else None

    @cached_property
    def ohms(self) -> float:
        """What the meter of the trial reads [Ω]; open is infinite."""
        if self.trial.meter is None:
            raise InputError(seen="no meter is held to anything", remedy="add meter = [place, place] to the trial")
        return self.ohms_between(self.meter_nodes, self.made)

    @cached_property
    def box(self) -> frozenset[str]:
        """The pairs of lines whose lamp lights on the test box. Raises LeftOpenError."""
        lit = set()
        for pair, ohms in self.box_ohms(self.made).items():
            if BOX_GAP[0] < ohms < BOX_GAP[1]:
                raise LeftOpenError(seen=f"{ohms:.0f} Ω leaves open whether the box's lamp {pair} lights", remedy="ask otherwise")
            lit |= {pair} if ohms <= BOX_GAP[0] else set()
        return frozenset(lit)

    @cached_property
    def gauge_passes(self) -> bool:
        """Whether the weapon passes the gauge of the trial."""
        return self._gauge_chance(self.made) < GAUGE_FAILS

    def chance_of_this(self, failure: Failure) -> float:
        """Return how well one failure, at its best-fitting severity, agrees with what is seen here, 0 to 1."""
        ladder = [ohms for ohms, _ in failure.ladder] or [failure.usual_ohms]
        gone = self._cured(failure)
        if self.trial.gauge:
            fails = self._gauge_chance(() if gone else ((failure, failure.usual_ohms),))
            agrees = 1.0 - fails if self.gauge_passes else fails
            return 1.0 if agrees >= GAUGE_FAILS else agrees
        if self.trial.meter:
            found = [self.ohms_between(self.meter_nodes, [(failure, each)] if not gone else []) for each in ladder]
            return float(any(_alike(self.ohms, each) for each in found))
        if self.trial.box:
            return max(self._box_agrees([(failure, each)] if not gone else []) for each in ladder)
        every: list[Sequence[Made]] = [()] if gone else [[(failure, each)] for each in ladder]
        agrees = self._agreement(self._chances(self.trial.arrangement, every), self.lamps)
        if self.lamps_before is not None:
            before = self._chances(self.trial.arrangement.before_press(), every)
            agrees = np.minimum(agrees, self._agreement(before, self.lamps_before))
        return float(agrees.max())

    def ohms_between(self, ends: tuple[str, str], made: Sequence[Made]) -> float:
        """Return the resistance between two nodes [Ω]."""
        network = self.network(self.trial.arrangement, made)
        shape = Shape.of(network, ends)
        return float(port_resistances(shape, shape.conductances(conductances_of(network)), [Port.between(*ends)])[0, 0])

    def network(self, arrangement: Arrangement, made: Sequence[Made]) -> Network:
        """Return the network of an arrangement with failures in it."""
        base = arranged(self.setup, arrangement).network(self.setup.network)
        return failed_network(base, together(edits(self.setup, failure, ohms) for failure, ohms in made))

    def box_ohms(self, made: Sequence[Made]) -> Mapping[str, float]:
        """Return the resistance that each lamp of the test box sees, by pair of lines [Ω]."""
        if self.trial.box is None:
            raise InputError(seen="nothing is in the test box", remedy="add box = an item to the trial")
        nodes = self.setup.items[self.trial.box].box
        pairs = combinations(nodes, 2)
        return {f"{one}-{two}": self.ohms_between((nodes[one], nodes[two]), made) for one, two in pairs}

    @property
    def meter_nodes(self) -> tuple[str, str]:
        """The nodes that the meter of the trial is held to."""
        assert self.trial.meter is not None  # noqa: S101 — asked only where there is one
        first, second = self.trial.meter
        return self.setup.places[first], self.setup.places[second]

    def _cured(self, failure: Failure) -> bool:
        trial = self.trial
        return failure.item in trial.swapped or failure.part in trial.mended or failure.job in trial.mended

    def _definite(self, arrangement: Arrangement) -> frozenset[str]:
        lit = set()
        for name, chance in self._by_lamp(self._chances(arrangement, [self.made])[0]).items():
            if 1 - SURE < chance < SURE:
                seen = f"it is left open whether the {name} lamp lights ({chance:.0%})"
                raise LeftOpenError(seen=seen, remedy="choose a trial and a failure with a certain answer")
            lit |= {name} if chance >= SURE else set()
        return frozenset(lit)

    def _by_lamp(self, chances: NDArray[np.float64]) -> dict[str, float]:
        """Return the probability of each lamp by name; `chances`: shape (sides, lamps)."""
        return {f"{side} {lamp.name.lower()}": float(chances[number, lamp]) for number, side in enumerate(SIDES) for lamp in Lamp}

    def _agreement(self, chances: NDArray[np.float64], seen: frozenset[str]) -> NDArray[np.float64]:
        """Return by network the least probability of any lamp's being as it was seen; `chances`: (networks, sides, lamps)."""
        wanted = np.array([[f"{side} {lamp.name.lower()}" in seen for lamp in Lamp] for side in SIDES])
        least: NDArray[np.float64] = np.where(wanted, chances, 1.0 - chances).min(axis=(1, 2))
        return least

    def _chances(self, arrangement: Arrangement, every: Sequence[Sequence[Made]]) -> NDArray[np.float64]:
        """Return the probability of each lamp for each row of failures, shape (rows, sides, lamps)."""
        networks = [self.network(arrangement, made) for made in every]
        found = np.zeros((len(every), len(SIDES), len(Lamp)))
        profile = load_profile(self.setup.profile, self.setup.overlays)
        for failure, _ in every[0]:
            if failure.profile:
                profile = load_profile(failure.profile, self.setup.overlays)
        groups: dict[tuple[str, ...], list[int]] = {}
        for number, network in enumerate(networks):
            groups.setdefault(tuple(branch.name for branch in network.branches), []).append(number)
        for rows in groups.values():
            first = networks[rows[0]]
            shape = Shape.of(first, TERMINALS)
            changes = [{branch.name: branch.ohms for branch in networks[row].branches} for row in rows]
            found[rows] = lamp_chances(profile, shape, shape.conductances(conductances_of(first, changes)))
        return found

    def _box_agrees(self, made: Sequence[Made]) -> float:
        for pair, ohms in self.box_ohms(made).items():
            if not (ohms <= BOX_GAP[0] if pair in self.box else ohms >= BOX_GAP[1]):
                return 0.0
        return 1.0

    def _gauge_chance(self, made: Sequence[Made]) -> float:
        if self.trial.gauge is None:
            raise InputError(seen="no gauge is tried", remedy="add gauge = “left 500 g weight” or the like to the trial")
        side, gauge = self.trial.gauge
        own = [failure for failure, _ in made if self.setup.items[failure.item].side in (side, None)]
        return max((failure.gauges.get(gauge, 0.0) for failure in own), default=0.0)


def _alike(seen: float, other: float) -> bool:
    """Return whether a meter would show two resistances [Ω] as much the same."""
    if seen >= OVER_RANGE_OHMS or math.isinf(seen):
        return other >= OVER_RANGE_OHMS
    low, high = sorted((seen, other))
    return high <= low * LIKE + TENTHS


def lamp_list(setup: Setup, lamps: frozenset[str]) -> list[str]:
    """Return lamps as people call them, such as “left white” and “right green”, in the order in which they stand."""
    every = [f"{side} {lamp.name.lower()}" for side in SIDES for lamp in Lamp]
    found = [name.split(" ") for name in every if name in lamps]
    return [f"{side} {setup.kind.lamp_name(kind, side)}" for side, kind in found]


def lamps_said(setup: Setup, lamps: frozenset[str]) -> str:
    """Return the part of a sentence that says what lights: “no lamp lights”, “the left white lamp lights”."""
    names = lamp_list(setup, lamps)
    if not names:
        return "no lamp lights"
    if len(names) == 1:
        return f"the {names[0]} lamp lights"
    return f"the {', '.join(names[:-1])} and {names[-1]} lamps light"
