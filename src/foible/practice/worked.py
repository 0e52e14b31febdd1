"""A step of a walk in; out, what the model makes of it: which lamps light on either side, what is measured, and why."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.apparatus import load_profile
from foible.diagnosis import explain_lamps
from foible.practice.meanings import measured_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.diagnosis import Circuit, Explanation
    from foible.kit import Setup
    from foible.practice.walk import WalkStep

__all__ = ["StepShown", "worked"]


@dataclass(frozen=True)
class StepShown:
    """What a step shows."""

    step: WalkStep
    shown: Mapping[str, Explanation] = field(repr=False)
    """By side, what lights and why."""
    measured: tuple[tuple[str, str, float], ...]
    """(measurement, between which lines, what an apparatus measures there [Ω]) on the side of the step; open is infinite."""

    @property
    def side(self) -> str:
        """The side that it is about."""
        return self.step.table.side

    @property
    def lamps(self) -> Mapping[str, Mapping[str, float]]:
        """The probability of each lamp, by side."""
        return {side: each.lamps for side, each in self.shown.items()}

    @property
    def circuit(self) -> Circuit:
        """The measurement that is drawn."""
        return next(each for each in self.shown[self.side].circuits if each.name == self.step.table.circuit)

    @property
    def text(self) -> str:
        """Why the lamps of its side do what they do."""
        return self.shown[self.side].text


def worked(setup: Setup, step: WalkStep) -> StepShown:
    """Return what a step shows on an apparatus that keeps to the usual rule profile; each failure at its usual severity."""
    profile = load_profile(setup.profile, setup.overlays)
    made = [(failure, failure.usual_ohms) for failure in step.failures]
    shown = explain_lamps(setup, profile, step.trial.arrangement, made)
    own = shown[step.table.side]
    measured = [(each.name, measured_words(setup.kind.measurement(each.name)), each.ohms) for each in own.circuits]
    return StepShown(step, shown, tuple(measured))
