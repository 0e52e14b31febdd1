"""A hidden fault in; out, what three others would have done: who knows it, who follows the advice, and who exchanges in turn.

Each is an attempt like any other, so that it is timed and judged by the same rules.
"""

from __future__ import annotations

import math
from threading import Lock
from typing import TYPE_CHECKING

from cachetools import LRUCache, cached

from foible.diagnosis import Kind, asking_s
from foible.practice import NOTHING_WRONG, Attempt, Deed, Level, Step, judged, shows_fault
from foible.services.practice.reasoned import advised, first_advice
from foible.trials import read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.diagnosis import Ending
    from foible.practice import Hidden
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Idea, Trial

__all__ = ["MOST_TRIALS", "carried_out", "exchanging_in_turn", "following_advice", "knowing", "told_again"]

MOST_TRIALS = 20
"""Whoever follows the advice gives up after so many trials."""
PATIENCE = 12
"""After so many trials an exchange is preferred to trials that tell little each; judgement, no source."""
MOST_CALLS = 3
"""How often they fence on before whoever follows the advice gives up; judgement, no source."""
KEPT = 64
"""Hidden faults of which it is remembered how whoever knows them goes about it, and a beginner."""
LOOKS_TWICE = 2
"""How often a beginner sees it work before believing it; judgement, no source."""


def _of(hidden: Hidden, ideas: Sequence[Idea]) -> tuple[object, ...]:
    """Return what tells a hidden fault from others, beside which a kit has the same trials."""
    faults = tuple((fault.failure.id, repr(fault.ohms), fault.activity) for fault in hidden.faults)
    return hidden.setup, hidden.level, hidden.seed, faults, hidden.complaint and hidden.complaint.say, len(ideas)


@cached(LRUCache(KEPT), key=_of, lock=Lock())
def knowing(hidden: Hidden, ideas: Sequence[Idea]) -> Attempt:
    """Return what somebody does who knows what is wrong: puts it right and sees it work. Nobody who proves it can be quicker.

    What the fencer told of is done again; where a shorter trial shows the fault too, that is made before and after instead, and
    so it is on the bench. Where nothing is wrong, it is tried once.
    """
    again = told_again(hidden, ideas)
    tries = [Step(Deed.TRIAL, again)] if again is not None else []
    if not hidden.faults:
        return Attempt(hidden, ideas, (*tries, Step(Deed.NAME, 0)))
    named = [_naming(hidden, fault.failure.item, fault.failure.part) for fault in hidden.faults]
    best = Attempt(hidden, ideas, (*named, *tries))
    seconds = best.seconds if _proved(best) else math.inf
    spent = Attempt(hidden, ideas, tuple(named)).seconds
    for trial_s, place in _quickest(hidden, ideas):
        if spent + 2 * trial_s >= seconds:
            break
        step = Step(Deed.TRIAL, place)
        seen = Attempt(hidden, ideas, (step,))
        if shows_fault(seen, seen.done[0]) and _proved(other := Attempt(hidden, ideas, (step, *named, step))):
            return other
    return best


def _proved(attempt: Attempt) -> bool:
    """Return whether an attempt has everything that one can have."""
    result = judged(attempt)
    return result.right and result.part and result.proved


def _quickest(hidden: Hidden, ideas: Sequence[Idea]) -> list[tuple[float, int]]:
    """Return the trials of the place where a fault is looked for, the quickest first, each with its time [s]."""
    fitting = ((place, idea) for place, idea in enumerate(ideas) if idea.item == hidden.item and not idea.repair)
    return sorted((idea.seconds + asking_s(idea), place) for place, idea in fitting if not idea.trial.swapped)


def following_advice(reasoning: Reasoning, hidden: Hidden, ideas: Sequence[Idea], *, most: int = MOST_TRIALS) -> Attempt:
    """Return what somebody does who follows this program's first advice until it says to act, and then acts.

    Nobody looks and taps for ever: after a dozen trials the item that is suspected most is exchanged, and it is tried again; on
    the bench what is always there is then measured for, place by place.
    When they fence on and the fencer comes again, that is a trial too. On the bench nothing is mended before something was found.
    """
    number = {idea.trial: place for place, idea in enumerate(ideas)}
    attempt = Attempt(hidden, ideas, ())
    while attempt.trials_made + _calls(attempt) < most:
        diagnosis = advised(reasoning, attempt)
        idea = first_advice(diagnosis, hidden.level)
        if idea is not None and attempt.trials_made >= PATIENCE:
            idea = (_measuring if hidden.item else _exchanging)(attempt, diagnosis) or idea
        if hidden.item and (idea is None or idea.repair) and not _shown(attempt):
            idea = next((each.idea for each in diagnosis.advice if not each.idea.repair), idea)
        if idea is None:
            failed = _fails_again(attempt, diagnosis)
            if failed is None:
                break
            attempt = failed
            continue
        steps = carried_out(attempt, idea, number)
        if not steps:
            break
        attempt = Attempt(hidden, ideas, (*attempt.steps, *steps))
    return Attempt(hidden, ideas, (*attempt.steps, *named_by(hidden, advised(reasoning, attempt))))


def _exchanging(attempt: Attempt, diagnosis: Diagnosis) -> Idea | None:
    """Return the first of the trials advised by which the suspected item is exchanged; None where there is none."""
    suspected = {act.item for act in diagnosis.ending.acts} - {*attempt.swapped}
    return next((each.idea for each in diagnosis.advice if not suspected.isdisjoint(each.idea.trial.swapped)), None)


def _measuring(attempt: Attempt, diagnosis: Diagnosis) -> Idea | None:
    """Return the first measurement advised that was not made yet, with nothing moved; None where a fault comes and goes."""
    if attempt.hidden.level is not Level.STEADY:
        return None
    measured = (each.idea for each in diagnosis.advice if each.idea.trial.meter or each.idea.trial.gauge or each.idea.trial.box)
    return next((idea for idea in measured if not (idea.trial.moves or diagnosis.made_before(idea.trial))), None)


def _fails_again(attempt: Attempt, diagnosis: Diagnosis) -> Attempt | None:
    """Return the attempt with what an ending names done, where something fails all the same.

    None where nothing does, where all of it had been done before, and where nobody would try any longer.
    """
    named, known = list(named_by(attempt.hidden, diagnosis)), {naming.item for naming in attempt.namings}
    if all(act.kind is Kind.NOTHING_WRONG for act in diagnosis.ending.acts):
        return _called_again(attempt)
    if not named or all(act.item in known for act in diagnosis.ending.acts):
        return None
    if attempt.hidden.item:
        return _measured_again(attempt, diagnosis.ending)
    return _tried_again(Attempt(attempt.hidden, attempt.ideas, (*attempt.steps, *named)))


def _tried_again(attempt: Attempt) -> Attempt | None:
    """Return the attempt with what the fencer told of done again, where it fails; where it passes twice, they fence on."""
    again = told_again(attempt.hidden, attempt.ideas)
    for _ in range(LOOKS_TWICE if again is not None else 0):
        attempt = attempt.then(Step(Deed.TRIAL, again or 0))
        if shows_fault(attempt, attempt.done[-1]):
            return attempt
    return _called_again(attempt)


def _measured_again(attempt: Attempt, ending: Ending) -> Attempt | None:
    """Return the attempt on the bench with what is to be mended mended, where what had shown a fault shows it all the same."""
    jobs = [act.repair for act in ending.acts if act.repair in attempt.jobs and act.repair not in attempt.mended]
    shown = _shown(attempt)
    if not jobs or not shown:
        return None
    mended = [Step(Deed.MEND, attempt.jobs.index(job)) for job in jobs]
    tried = Attempt(attempt.hidden, attempt.ideas, (*attempt.steps, *mended, shown[-1]))
    return tried if shows_fault(tried, tried.done[-1]) else None


def _shown(attempt: Attempt) -> list[Step]:
    """Return the trials that showed something that sound kit would not."""
    return [each.step for each in attempt.done if shows_fault(attempt, each)]


def _called_again(attempt: Attempt) -> Attempt | None:
    """Return the attempt once they have fenced on and the same complaint has come again; nobody is called for ever."""
    called = attempt.then(Step(Deed.NAME, 0))
    return called if called.done[-1].table is not None and _calls(attempt) < MOST_CALLS else None


def _calls(attempt: Attempt) -> int:
    """Return how often they fenced on and the fencer came again."""
    return sum(naming.item == NOTHING_WRONG for naming in attempt.namings)


def named_by(hidden: Hidden, diagnosis: Diagnosis) -> Iterator[Step]:
    """Yield the steps that name what a case ends with; of the parts that one repair puts right, the most suspected."""
    for act in diagnosis.ending.acts:
        if act.kind is Kind.NOTHING_WRONG:
            yield Step(Deed.NAME, 0)
        elif act.item:
            suspected = (each.part for each in diagnosis.finding.suspects if each.part in act.parts)
            yield _naming(hidden, act.item, next(suspected, next(iter(sorted(act.parts)), "")))


@cached(LRUCache(KEPT), key=_of, lock=Lock())
def exchanging_in_turn(hidden: Hidden, ideas: Sequence[Idea]) -> Attempt:
    """Return what a beginner does: exchanges what fails most often first, and hits again each time, until it works twice."""
    again = told_again(hidden, ideas)
    rates: dict[str, float] = {}
    for failure in hidden.setup.failures.values():
        rates[failure.item] = rates.get(failure.item, 0.0) + failure.rate
    exchanged = [item for item in sorted(rates, key=lambda item: -rates[item]) if hidden.setup.items[item].exchange_s is not None]
    attempt = Attempt(hidden, ideas, () if again is None else (Step(Deed.TRIAL, again),))
    for item in exchanged:
        tries = [Step(Deed.TRIAL, again)] * LOOKS_TWICE if again is not None else []
        attempt = Attempt(hidden, ideas, (*attempt.steps, Step(Deed.EXCHANGE, list(hidden.setup.items).index(item)), *tries))
        if not hidden.left_by(attempt.swapped):
            return attempt.then(_naming(hidden, item, ""))
    return attempt


def told_again(hidden: Hidden, ideas: Sequence[Idea]) -> int | None:
    """Return the place of the trial that does again what the fencer tells of; None where there is none."""
    if hidden.complaint is None:
        return None
    told = read_trial(hidden.setup, hidden.complaint.table)[0].with_own_kit()
    return next((place for place, idea in enumerate(ideas) if idea.trial == told), None)


def carried_out(attempt: Attempt, idea: Idea, number: dict[Trial, int]) -> list[Step]:
    """Return the steps that make a trial: what is new of its exchanges and repairs, then the trial itself."""
    if idea.trial in number:
        return [Step(Deed.TRIAL, number[idea.trial])]
    items, jobs = list(attempt.setup.items), list(attempt.jobs)
    bare = idea.trial.with_own_kit()
    steps = [Step(Deed.EXCHANGE, items.index(item)) for item in idea.trial.swapped if item not in attempt.swapped]
    steps += [Step(Deed.MEND, jobs.index(job)) for job in idea.trial.mended if job in jobs and job not in attempt.mended]
    place = number.get(bare)
    return [*steps, Step(Deed.TRIAL, place)] if place is not None else []


def _naming(hidden: Hidden, item: str, part: str) -> Step:
    parts = list(hidden.setup.parts)
    return Step(Deed.NAME, list(hidden.setup.items).index(item) + 1, parts.index(part) if part else None)
