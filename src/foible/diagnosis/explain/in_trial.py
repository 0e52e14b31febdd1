"""A failure and the trials of a case in; out, what it makes each of them show, and which shows it best."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from foible.diagnosis.explain.circuit import Explanation, explain_lamps, explain_tools
from foible.kit import SIDES
from foible.trials import Group

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.apparatus import Profile
    from foible.kit import Failure, Setup
    from foible.trials import Idea, Trial

__all__ = ["explain_idea", "explain_trial", "telling_trial"]

TELLING = 0.5
"""A lamp shows a failure that makes it more probable, or less, by at least this much."""


def explain_trial(setup: Setup, profile: Profile, trial: Trial, failure: Failure, ohms: float) -> Explanation:
    """Return what a failure at a severity [Ω] makes a trial show on the side that it is about, and why.

    Where a meter, a test box, a gauge or the eye was used, their words come first, or alone where no lamps were seen.
    """
    there = None if _put_right(failure, trial) else failure
    made = [(there, ohms)] if there else []
    explained = explain_lamps(setup, profile, trial.arrangement, made)[_side(trial)]
    tools = explain_tools(setup, trial, there, ohms)
    if not tools:
        return explained
    if trial.seen is None:
        return replace(explained, text=tools, circuits=())
    return replace(explained, text=f"{tools} {explained.text}")


def explain_idea(setup: Setup, profile: Profile, idea: Idea, failures: Sequence[tuple[Failure, float]]) -> dict[str, Explanation]:
    """Return by side what lights in an offered trial with `failures`, each at a severity [Ω], and why."""
    there = [(failure, ohms) for failure, ohms in failures if not _put_right(failure, idea.trial)]
    return explain_lamps(setup, profile, idea.trial.arrangement, there)


def telling_trial(setup: Setup, profile: Profile, trials: Sequence[Trial], failure: Failure, ohms: float) -> int | None:
    """Return the position of the last trial in which a failure at a severity [Ω] changes what lights.

    Where there is none it is the last trial with lamps, else the last one with a tool; None where nothing was seen yet.
    """
    lit = [i for i, trial in enumerate(trials) if trial.seen and trial.seen.looks]
    for i in reversed(lit):
        if _put_right(failure, trials[i]):
            continue
        made, sound = (
            explain_lamps(setup, profile, trials[i].arrangement, failures)[_side(trials[i])]
            for failures in ([(failure, ohms)], [])
        )
        if any(abs(made.lamps[lamp] - sound.lamps[lamp]) > TELLING for lamp in made.lamps):
            return i
    shown = [i for i, trial in enumerate(trials) if trial.meter or trial.box or trial.gauge]
    return (lit or shown)[-1] if lit or shown else None


def _put_right(failure: Failure, trial: Trial) -> bool:
    """Return whether a trial is made with the part put right or its item exchanged."""
    return failure.part in trial.mended or failure.item in trial.swapped


def _side(trial: Trial) -> str:
    """Return the side whose lamps a trial is about: the one that presses, else one that was looked at."""
    looks = trial.seen.looks if trial.seen else {}
    hit = [side for side, group in looks if group is not Group.YELLOW]
    return trial.arrangement.press or (hit or [side for side, _ in looks] or list(SIDES))[0]
