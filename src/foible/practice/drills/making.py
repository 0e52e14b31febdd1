"""A set-up, an idea and a seed in; out, drills one after the other, no two alike in network and question."""

from __future__ import annotations

from random import Random
from threading import Lock
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.practice.drills.kinds import MAKERS
from foible.practice.drills.pools import drilled_ideas, pool_of

if TYPE_CHECKING:
    from foible.kit import Setup
    from foible.practice.drills.drill import Drill

__all__ = ["ANY", "DrillSet", "one_drill"]

ANY = "any"
"""Stands for every idea in turn."""
TRIES = 400
"""How often a drill of one kind is drawn before there is none."""


def one_drill(setup: Setup, idea: str, kind: str, rng: Random, *, but: set[tuple[str, ...]]) -> Drill | None:
    """Return a drill of a kind about an idea that is like none of `but`; None where the pool has no other."""
    pool = pool_of(setup, idea)
    for _ in range(TRIES):
        made = MAKERS[kind](pool, rng)
        if made is not None and made.alike not in but:
            return made
    return None


class DrillSet:
    """The drills of one seed about one idea, or about every idea in turn: the same seed makes the same ones.

    The kinds take turns in an order of their own. Raises UnknownNameError where there are no drills about an idea.
    """

    def __init__(self, setup: Setup, idea: str, seed: str) -> None:
        self.setup, self.idea, self.seed = setup, idea, seed
        self._ideas = drilled_ideas(setup.weapon) if idea == ANY else (pool_of(setup, idea).table.idea,)
        if not self._ideas:
            raise InputError(seen=f"there are no drills for the {setup.weapon}", remedy="choose another weapon")
        self._rng = Random(f"{setup.weapon} {idea} {seed}")  # noqa: S311 — nothing here is a secret
        self._made: list[Drill] = []
        self._used: set[tuple[str, ...]] = set()
        self._lock = Lock()

    def drill(self, number: int) -> Drill:
        """Return a drill by its number from 1 on. Raises InputError where there are no more."""
        with self._lock:
            while len(self._made) < number:
                self._made.append(self._next())
        return self._made[number - 1]

    def _next(self) -> Drill:
        place = len(self._made)
        idea = self._ideas[place % len(self._ideas)]
        kinds = pool_of(self.setup, idea).kinds
        turn = Random(f"{self.seed} {idea} {place // len(self._ideas) // len(kinds)}")  # noqa: S311 — nor here
        order = turn.sample(kinds, len(kinds))
        first = place // len(self._ideas) % len(kinds)
        for kind in (*order[first:], *order[:first]):
            made = one_drill(self.setup, idea, kind, self._rng, but=self._used)
            if made is not None:
                self._used.add(made.alike)
                return made
        raise InputError(seen="there are no more drills of this kind", remedy="begin another run")
