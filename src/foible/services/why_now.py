"""A trial that is asked for in; out, one line that says why now: what it tells from what, or what it brings back."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from foible.diagnosis import explain_trial, telling_trial
from foible.kit import job_parts
from foible.services.verdict import Why
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis import Reasoner, Suspect
    from foible.services.verdict import Diagnosis
    from foible.situation import Situation
    from foible.trials import Case, Idea, Trial

__all__ = ["why_now", "why_of"]

LOOKED_AT = 12
"""Suspects that a trial is weighed for."""
LEAST = 0.04
"""An item or a part less suspected than this is not named."""
APART = 0.4
"""Two things are told apart where a trial is this much likelier to end one way with the one than with the other."""


class _Thing(NamedTuple):
    """An item at the piste or a part on the bench, how much it is suspected, and what a trial would show with it."""

    words: str
    share: float
    shown: NDArray[np.float64]
    """Probability of each outcome, shape (outcomes,)."""


def why_now(reasoner: Reasoner, diagnosis: Diagnosis, idea: Idea, situation: Situation) -> str:
    """Return the line, without a full stop; the shortest reason that is true."""
    trial = idea.trial
    known = _known(diagnosis, idea)
    if known:
        return known
    things = list(_things(reasoner, diagnosis, trial, situation))
    if trial.examine:
        return _look(diagnosis, trial)
    best = max(combinations(things, 2), key=lambda two: min(two[0].share, two[1].share) * _apart(*two), default=None)
    if best and _apart(*best) >= APART:
        return f"tells the {best[0].words} from the {best[1].words}"
    if trial.moves:
        return f"tries to bring it back, most likely from the {things[0].words}" if things else "tries to bring it back"
    if trial.gauge:
        return "the check that the rulebook asks for"
    return f"shows whether the {things[0].words} is at fault at all" if things else "shows whether the fault is there now"


def _known(diagnosis: Diagnosis, idea: Idea) -> str:
    """Return the reason that the case itself gives; "" where only the suspects tell."""
    trial, made = idea.trial, diagnosis.trials
    if any(advice.proves and advice.idea == idea for advice in diagnosis.advice):
        return "does again what failed, now that something has been put right"
    last = made[-1] if made else None
    new = [name for name in trial.swapped if last is None or name not in last.swapped]
    if new:
        return f"if it is gone with another {_bare(new[0])}, the {new[0]} was it"
    if idea.repair:
        return f"puts the likeliest right and looks again: {job_parts(idea.repair)[1] or idea.repair}"
    return _once_more(trial, made) if made else "what everything else is compared with"


def _once_more(trial: Trial, made: Sequence[Trial]) -> str:
    """Return why a trial is made again; "" where it was not made before."""
    asked = trial.unseen()
    told = [each for each in made if each.unseen() == asked]
    if told and all(each.hearsay for each in told):
        return "so far only the fencer has seen it: see it for yourself"
    if told and trial.gauge:
        return "once more before anything is opened: the gauge may be worn, or was held askew"
    return "once more, as what comes and goes may hide" if told else ""


def _bare(item: str) -> str:
    return item.removeprefix("left ").removeprefix("right ")


def _look(diagnosis: Diagnosis, trial: Trial) -> str:
    """Return what a look is for: the likeliest of what it looks at."""
    found = next((suspect for suspect in diagnosis.finding.suspects if {suspect.part, suspect.item} & {*trial.examine}), None)
    seen = f"the {found.part}" if found else f"the {trial.examine[0]}"
    return f"a look takes seconds, and shows whether it is {seen.replace(' handling ', ' ')}"


def _things(reasoner: Reasoner, diagnosis: Diagnosis, trial: Trial, situation: Situation) -> Iterator[_Thing]:
    """Yield what is suspected with what the trial would show, the most suspected first."""
    finding = diagnosis.finding
    item = situation.item or (finding.items[0].name if situation.mode is Mode.BENCH else None)
    adviser = reasoner.adviser(situation.mode, item)
    asked = trial.unseen()
    experiment = next((each for each in adviser.experiments if each.idea.trial == asked), None)
    if experiment is None:
        return
    gathered: dict[str, list[tuple[float, NDArray[np.float64]]]] = {}
    for suspect in finding.suspects[:LOOKED_AT]:
        kind = adviser.kind_of(finding.belief.best_of(suspect.part))
        if kind is not None:
            name = suspect.part if situation.mode is Mode.BENCH else suspect.item
            gathered.setdefault(name, []).append((suspect.probability, experiment.chance[:, kind].astype(np.float64)))
    made = [
        _Thing(name, sum(share for share, _ in some), sum((s * c for s, c in some), np.zeros(1)) / sum(s for s, _ in some))
        for name, some in gathered.items()
    ]
    yield from sorted((thing for thing in made if thing.share >= LEAST), key=lambda thing: -thing.share)


def _apart(one: _Thing, other: _Thing) -> float:
    """Return how differently a trial ends with the one and with the other: the total variation distance, 0 to 1."""
    return float(np.abs(one.shown - other.shown).sum() / 2)


def why_of(case: Case, trials: Sequence[Trial], suspect: Suspect, trial: int | None = None) -> Why | None:
    """Return the reason for a suspect in the trial at a position, or in the one that shows it best."""
    failure, ohms = suspect.failure, suspect.ohms
    number = telling_trial(case.setup, case.profile, trials, failure, ohms) if trial is None else trial
    if number is None:
        return None
    return Why(suspect, number, explain_trial(case.setup, case.profile, trials[number], failure, ohms))
