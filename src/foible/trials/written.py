"""A trial in; out, what was done in it as a case file writes it, so that it can be asked for again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.trials.read import TrialTable

if TYPE_CHECKING:
    from foible.kit import Setup
    from foible.trials.trial import Trial

__all__ = ["written"]


def written(setup: Setup, trial: Trial) -> TrialTable:
    """Return the table of a trial without its result."""
    arrangement = trial.arrangement
    alone = trial.meter is not None or trial.box is not None  # then everything is undone but what is said to be plugged
    hits = arrangement.press
    with_point = hits is None or setup.points[hits].moves
    return TrialTable(
        press=hits if with_point else None,
        cut=None if with_point else hits,
        on=arrangement.on,
        touching=tuple(f"{a} on {b}" for a, b in arrangement.touching),
        unplugged=() if alone else arrangement.unplugged,
        plugged=tuple(name for name in setup.connections if name not in arrangement.unplugged) if alone else (),
        bridged=tuple(f"{name} {first}-{second}" for name, first, second in arrangement.bridged),
        swapped=trial.swapped,
        mended=trial.mended,
        move=trial.moves,
        examine=trial.examine,
        gauge=" ".join(trial.gauge) if trial.gauge else None,
        meter=trial.meter,
        box=trial.box,
    )
