"""An attempt at a hidden fault in; out, what it has shown of somebody's grasp of the idea that the fault is about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.practice import Exercise, Level, Result, subjects
from foible.practice.drills import drilled_ideas, pool_of

if TYPE_CHECKING:
    from foible.practice import Hidden
    from foible.services.practice.talk import Talk

__all__ = ["result_of", "subject_of"]

MOVING = "intermittents"


def subject_of(hidden: Hidden) -> str:
    """Return the idea that a hidden fault is about: the most special one whose drills are made of it, else the first of all."""
    if hidden.level is Level.COMES_AND_GOES:
        return MOVING
    setup, failures = hidden.setup, {fault.failure.id for fault in hidden.faults}
    pools = {idea: pool_of(setup, idea).failures for idea in drilled_ideas(setup.weapon) if idea != MOVING}
    fitting = [idea for idea, pool in pools.items() if any(failure.id in failures for failure in pool)]
    return min(fitting, key=lambda idea: len(pools[idea]), default=subjects()[0].name)


def result_of(talk: Talk, name: str) -> Result:
    """Return what an attempt has shown, timed by the piste's clock beside who follows the advice; `name`: the fault's address."""
    hidden = talk.attempt.hidden
    usual = talk.plans[1].seconds
    return Result(subject_of(hidden), hidden.setup.weapon, Exercise.HIDDEN, name, talk.judged.right, talk.attempt.seconds, usual)
