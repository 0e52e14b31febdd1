"""How ready a failure is to show in a trial, from the definition, for references that sum it up exactly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from scipy.special import roots_jacobi

from foible.diagnosis.shown.hypotheses import Activity
from foible.diagnosis.shown.presence import (
    IDLE,
    NEIGHBOUR,
    STEADY_CURED,
    STEADY_FLICKERS,
    UNSTEADY,
    UNSTEADY_STIRRED,
    WEIGHT_IDLE,
    WEIGHT_NEIGHBOUR,
    WEIGHT_STIRRED,
)

if TYPE_CHECKING:
    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Trial

    Chances = tuple[float, ...]

LEVELS = 5
EVENLY = (1 / LEVELS,) * LEVELS


@dataclass(frozen=True)
class Ready:
    """How ready a failure is to show in a trial: a beta distribution as nodes of Gauss and Jacobi, exact for nine trials."""

    handling: str
    values: Chances
    weights: Chances
    flickers: float

    @staticmethod
    def of(setup: Setup, hypotheses: Hypotheses, position: int | None, trial: Trial) -> Ready:
        """Return the readiness of a hypothesis; 0 and None are nothing that could be there."""
        calm = f"press {trial.arrangement.press}" if trial.arrangement.press else ""
        if not position:
            return Ready.around(calm, 0.0, 1.0, 0.0)
        failure = hypotheses.failures[hypotheses.failure[position]]
        if failure.item in trial.swapped:
            return Ready.around(calm, 0.0, 1.0, 0.0)
        activity = Activity(hypotheses.activity[position])
        moved = max((setup.parts[failure.part].moved_by.get(move, 0.0) for move in trial.moves), default=0.0)
        shaken = any(setup.movements[move] == failure.item for move in trial.moves)
        assert not any(setup.parts[failure.part].held_by.get(move) for move in trial.moves), "no story holds anything"
        stirring = " + ".join(trial.moves)
        if activity is Activity.STEADY:
            if moved:
                return Ready.around(stirring, 1 - STEADY_CURED * moved, WEIGHT_STIRRED, STEADY_FLICKERS * moved)
            return Ready.around(calm, 1.0, WEIGHT_IDLE, 0.0)
        if not (moved or shaken):
            return Ready.around(calm, IDLE[activity], WEIGHT_IDLE, UNSTEADY)
        often = IDLE[activity] if activity is Activity.OFTEN else 0.0
        weight = WEIGHT_STIRRED if moved else WEIGHT_NEIGHBOUR
        return Ready.around(stirring, max(moved, NEIGHBOUR if shaken else 0.0, often), weight, UNSTEADY_STIRRED)

    @staticmethod
    def around(handling: str, mean: float, weight: float, flickers: float) -> Ready:
        if mean in (0.0, 1.0):
            return Ready(handling, (mean,) * LEVELS, EVENLY, flickers)
        nodes, shares = roots_jacobi(
            LEVELS, (1 - mean) * weight - 1, mean * (weight + 1e-9) - 1
        )  # a weight of just 1 divides 0 by 0
        values, weights = (nodes + 1) / 2, shares / shares.sum()
        return Ready(handling, tuple(values.tolist()), tuple(weights.tolist()), flickers)
