"""Faults in; out, the lamps of every case with any of its faults there, worked out on a network of its own.

Nothing here goes through the tables that the advice is made with: good parts vary, and every case is solved in every arrangement.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np

from benchmarks.accuracy.groups import groups_of, hit_chances
from foible.apparatus import TERMINALS, Gap, Lamp, lamp_chances, load_profile
from foible.circuit import Shape
from foible.kit import SIDES
from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from benchmarks.accuracy.faults import Fault
    from foible.apparatus import Profile
    from foible.kit import Setup
    from foible.trials import Arrangement, Group

    Floats = NDArray[np.float64]

__all__ = ["Networks"]

SETS = 4
"""Sets of at most two faults: none, the first, the second, both; the set's number has a bit for each."""


class Networks:
    """The networks of many cases, each with at most two faults."""

    def __init__(
        self,
        setup: Setup,
        profile: Profile,
        cases: Sequence[tuple[Fault, ...]],
        seed: int,
        *,
        spread: float = 1.0,
        thresholds: bool = False,
    ) -> None:
        """`spread`: good parts vary by their spread to this power; `thresholds`: each apparatus has its own within a gap."""
        self.setup, self._profile = setup, profile
        self.cases = tuple(cases)
        self._thresholds = thresholds
        count = len(self.cases)
        self._place = np.random.default_rng([seed, 1]).random((count, SETS))
        """Where in each gap the threshold of each case's apparatus lies."""
        self._lamps: dict[Arrangement, Floats] = {}
        branches = setup.network.branches
        normal = np.stack([np.random.default_rng([seed, crc32(b.name.encode())]).standard_normal(count) for b in branches])
        vary = np.array([setup.parts[b.name].spread if b.name in setup.parts else 1.0 for b in branches])
        good = np.array([b.ohms for b in branches])[:, None] * np.exp(np.log(vary)[:, None] / 1.96 * spread * normal)
        self._fail(good)

    def _fail(self, good: Floats) -> None:
        """Lay out the resistances of every case with each set of its faults there."""
        index = self.setup.network.index
        pairs = {pair: None for faults in self.cases for fault in faults for pair, _ in fault.changes.joined}
        self._joints = {pair: i for i, pair in enumerate(pairs)}
        self._ohms = np.repeat(good[:, :, None], SETS, axis=2)
        self._held = np.full_like(self._ohms, np.nan)
        self._across = np.zeros((len(pairs), len(self.cases), SETS))
        for case, faults in enumerate(self.cases):
            for number, fault in enumerate(faults):
                there = _sets_with(number)
                for name, ohms in fault.changes.raised:
                    self._ohms[index(name), case, there] += ohms
                for name, ohms in fault.changes.held:
                    self._held[index(name), case, there] = ohms
                for pair, ohms in fault.changes.joined:
                    self._across[self._joints[pair], case, there] += 1 / ohms

    def only(self, places: Sequence[int]) -> Networks:
        """Return the networks of some cases."""
        chosen = np.array(places, dtype=np.intp)
        made = object.__new__(Networks)
        made.setup, made._profile, made._thresholds = self.setup, self._profile, self._thresholds
        made.cases = tuple(self.cases[i] for i in chosen.tolist())
        made._place, made._lamps, made._joints = self._place[chosen], {}, self._joints
        made._ohms, made._held, made._across = self._ohms[:, chosen], self._held[:, chosen], self._across[:, chosen]
        return made

    def lamps(self, arrangement: Arrangement) -> Floats:
        """Return the chance of each lamp in each case, shape (cases, sets of faults, sides, lamps)."""
        if arrangement not in self._lamps:
            shape, mesh = self._mesh(arrangement)
            lamps = self._judged(shape, mesh)
            for case, faults in enumerate(self.cases):
                for number, fault in enumerate(faults):
                    name = fault.failure.profile if fault.failure else None
                    if name:
                        other = load_profile(name, self.setup.overlays)
                        for there in _sets_with(number):
                            column = case * SETS + there
                            lamps[column] = lamp_chances(other, shape, mesh[:, column : column + 1])[0]
            self._lamps[arrangement] = lamps.reshape(len(self.cases), SETS, len(SIDES), len(Lamp))
        return self._lamps[arrangement]

    def states(self, arrangement: Arrangement, place: int, there: int, side: str) -> dict[Group, Floats]:
        """Return the chance of each state of a side's groups of lamps in one case, with a set of its faults there.

        It matters for the side that presses that a hit lamp was lit before, unless sound kit lights it as well.
        """
        number, kind = SIDES.index(side), self.setup.kind
        lamps, before = self.lamps(arrangement)[place], self.lamps(arrangement.before_press())[place]
        lit = np.minimum(before[:, number, [Lamp.WHITE, Lamp.COLOURED]].sum(axis=1), 1.0)
        already = float(lit[there]) if side == arrangement.press and lit[0] < 0.5 else 0.0  # noqa: PLR2004 — less likely than not
        white, coloured, yellow = lamps[there, number].tolist()
        hit, earth = groups_of(kind)
        chances = hit_chances(white, coloured, already, kind, float(self._place[place, -1]))  # one apparatus to a case
        return {hit: np.clip(chances, 0.0, 1.0), earth: np.array([1 - yellow, yellow])}

    def _mesh(self, arrangement: Arrangement) -> tuple[Shape, Floats]:
        made = arranged(self.setup, arrangement)
        branches = self.setup.network.branches
        opened = np.array([b.name in made.opened for b in branches])
        siemens = 1 / np.where(np.isnan(self._held), np.where(opened[:, None, None], np.inf, self._ohms), self._held)
        contacts = np.ones((len(made.contacts), *siemens.shape[1:]))
        for row, contact in enumerate(made.contacts):
            contacts[row] /= contact.ohms
        ends = (*((b.a, b.b) for b in branches), *self._joints, *((b.a, b.b) for b in made.contacts))
        shape = Shape(ends, TERMINALS)
        return shape, shape.conductances(np.concatenate([siemens, self._across, contacts]).reshape(len(ends), -1))

    def _judged(self, shape: Shape, mesh: Floats) -> Floats:
        if not self._thresholds:
            return lamp_chances(self._profile, shape, mesh)
        gaps = []
        for place, (name, gap) in zip(self._place.T, self._profile.gaps, strict=False):
            edge = gap.closed_to * (gap.open_from / gap.closed_to) ** place
            gaps.append((name, _Edge(np.repeat(edge, SETS))))
        return lamp_chances(replace(self._profile, gaps=tuple(gaps)), shape, mesh)


def _sets_with(number: int) -> list[int]:
    """Return the sets of faults that hold the first or the second."""
    return [each for each in range(SETS) if each >> number & 1]


@dataclass(frozen=True)
class _Edge(Gap):
    """A threshold for each network: open above it, closed below."""

    edges: Floats

    def __init__(self, edges: Floats) -> None:
        object.__setattr__(self, "edges", edges)

    def chance_open(self, ohms: Floats) -> Floats:
        """Return 1 where the resistance [Ω] lies above the threshold of its network, shape (…, networks)."""
        return (ohms > self.edges).astype(np.float64)
