"""The repairs in question and the trials for the bench in; out, each repair as a trial: make it, then check whether it helped."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from foible.kit import job_parts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.aims import Aim
    from foible.diagnosis.advice.outcomes import OutcomeTables
    from foible.trials import Idea

__all__ = ["mending_trials"]

RETESTS = 4
"""Ways of checking whether a repair helped, for each tool."""


def mending_trials(
    outcome_tables: OutcomeTables, ideas: Sequence[Idea], aims: Sequence[Aim], group: NDArray[np.intp]
) -> list[Idea]:
    """Return for each repair the trials that make it and check whether it helped, by the tool that shows it best.

    There is one for each way of checking, so that at least one is possible whatever is at hand.
    """
    hypotheses = outcome_tables.hypotheses
    mended = []
    chosen = np.flatnonzero(group >= 0)
    prior = hypotheses.prior[chosen]
    tested = [
        (idea, outcome_tables.experiment(idea, chosen, prior).chance)
        for idea in ideas
        if idea.trial.meter or idea.trial.box or idea.trial.gauge
    ]
    sound = int(np.flatnonzero(chosen == 0)[0])
    tools = dict.fromkeys(idea.needs for idea, _ in tested)
    for number, aim in enumerate(aims):
        own = group[chosen] == number
        if aim.item == aim.name or not own.any():
            continue
        shown = [np.minimum(chance[:, own], chance[:, [sound]]).sum(axis=0) for _, chance in tested]
        ways = [_covering(shown, prior[own], [i for i, (idea, _) in enumerate(tested) if idea.needs == needs]) for needs in tools]
        _, repair = job_parts(aim.name)
        mended += [
            replace(
                idea,
                say=f"{repair}; then {idea.say}",
                seconds=aim.naming_s + idea.seconds,
                trial=replace(idea.trial, mended=(aim.name,)),
                table=idea.table.model_copy(update={"mended": (aim.name,)}),
                repair=aim.name,
            )
            for idea in (tested[i][0] for i in chain.from_iterable(ways))
        ]
    return mended


def _covering(same: Sequence[NDArray[np.float64]], prior: NDArray[np.float64], tests: Sequence[int]) -> list[int]:
    """Return tests that together show most failures, greedily chosen.

    `same`: for each test the chance that a failure shows what sound kit shows, shape (failures,).
    """
    hidden = prior.copy()
    chosen: list[int] = []
    while tests and len(chosen) < RETESTS:
        left = {i: float((hidden * same[i]).sum()) for i in tests}
        best = min(left, key=lambda i: left[i])
        if left[best] > 0.9 * hidden.sum():
            break
        chosen.append(best)
        hidden = hidden * same[best]
    return chosen
