"""A fault in the kit, and what really lights with it: by the circuit model, outside all reasoning about suspects."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field, replace
from functools import cached_property

from foible.apparatus import load_profile
from foible.diagnosis import explain_lamps
from foible.kit import SIDES, Failure, Setup, load_setup
from foible.trials import Idea, load_catalogue

__all__ = ["Truth"]


@dataclass
class Truth:
    """A weapon with one failure in it, a clean break. Items that are exchanged stay so."""

    weapon: str
    failure_id: str
    exchanged: set[str] = field(default_factory=set)

    @cached_property
    def setup(self) -> Setup:
        """The kit."""
        return load_setup(self.weapon)

    @cached_property
    def ideas(self) -> dict[str, Idea]:
        """Every trial of the catalogue by the heading that asks for it."""
        return {idea.say[0].upper() + idea.say[1:]: idea for idea in load_catalogue(self.setup)}

    def asked(self, heading: str) -> Idea:
        """Return the trial that a heading asks for: one of the catalogue, or such a one with an item exchanged for it."""
        if heading in self.ideas:
            return self.ideas[heading]
        exchanged = re.fullmatch(r"Exchange the (.+?) for (?:a known-good one|the \w+ fencer's) and (.+)", heading)
        assert exchanged is not None, heading
        item, say = exchanged.groups()
        again = self.ideas[say[0].upper() + say[1:]]
        return replace(again, trial=replace(again.trial, swapped=(item,)))

    @property
    def failure(self) -> Failure:
        """What is wrong."""
        return self.setup.failures[self.failure_id]

    @property
    def item(self) -> str:
        """The item that is at fault."""
        return self.failure.item

    def lit(self, idea: Idea) -> list[str]:
        """Make a trial; return the lamps that light, by the names that people call them."""
        self.exchanged |= set(idea.trial.swapped)
        made = [] if self.item in self.exchanged else [(self.failure, math.inf)]
        shown = explain_lamps(self.setup, load_profile(self.setup.profile), idea.trial.arrangement, made)
        return [
            f"{side} {shown[side].lamp_name(lamp)} lamp"
            for side in SIDES
            for lamp, chance in shown[side].lamps.items()
            if chance > 0.5
        ]

    def found(self, idea: Idea) -> str:
        """Look at what a trial says; return what there is to be seen."""
        looked = {self.failure.part, self.item} & set(idea.trial.examine) and self.item not in self.exchanged
        if looked and self.failure.signs:
            return max(self.failure.signs, key=self.failure.signs.__getitem__)
        return "passes" if idea.trial.gauge else "fine"
