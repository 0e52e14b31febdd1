"""A trial in, what was done in it as a phrase out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.kit import WHOLE_SIDE

if TYPE_CHECKING:
    from foible.trials.trial import Trial

__all__ = ["described"]


def _moved(move: str) -> str:
    """Return a movement as it is told; that of a whole side is fencing on."""
    verb, _, side = move.partition(" ")
    return f"{side} fencer fencing on" if verb == WHOLE_SIDE else move


def described(trial: Trial) -> str:
    """Return what was done in a trial, as a phrase without a full stop."""
    arrangement = trial.arrangement
    done = []
    if trial.examine:
        done.append(f"{' and '.join(trial.examine)} examined")
    done += [f"{item} exchanged for a known-good one" for item in trial.swapped]
    done += [f"{part} put right" for part in trial.mended]
    if trial.gauge:
        done.append(f"{' '.join(trial.gauge)} tried")
    if trial.meter:
        done.append(f"meter from {' to '.join(trial.meter)}")
    elif trial.box:
        done.append(f"{trial.box} in the test box")
    else:
        done += [f"{name} undone" for name in arrangement.unplugged]
    done += [f"{first} and {second} of the {name} bridged" for name, first, second in arrangement.bridged]
    done += [f"{a} on {b}" for a, b in arrangement.touching]
    done += map(_moved, trial.moves)
    if arrangement.press:
        done.append(f"{arrangement.press} hit on {arrangement.on or 'something that does not conduct'}")
    again = f", {trial.times} times" if trial.times > 1 else ""
    return (", ".join(done) or "everything at rest") + again
