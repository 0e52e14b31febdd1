"""What is believed and what it costs in; out, how the case would end now: what to exchange, to mend, to set up, to take away."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING

from foible.diagnosis.advice.permitted import seen_to_injure
from foible.diagnosis.shown.hypotheses import SOUND, UNKNOWN
from foible.kit import job_parts
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.diagnosis.advice.aims import Aim
    from foible.diagnosis.advice.decision import Decision
    from foible.diagnosis.reasoner import Finding
    from foible.kit import Failure, Setup
    from foible.trials import Trial

__all__ = ["Act", "Ending", "Kind", "ending_of"]

MOST_PAIRS = 200
"""Pairs of parts that are summed up by what they ask for."""
BOTH_AT_ONCE = 0.8
"""From this probability on, two failures are named together though one is put right in seconds and what failed then tried again;
judgement, no source."""
EVEN = 0.5
"""From this probability on, something is likelier than not."""
STAYS_OUT = 0.25
"""An item that was exchanged on the way and is bad with this probability stays out until the bench has tried it; judgement."""


class Kind(Enum):
    """How a case can end."""

    EXCHANGE = "exchange"
    MEND = "mend"
    SET_UP = "set up"
    HANDLING = "handling"
    OUT_OF_USE = "out of use"
    NOTHING_WRONG = "nothing wrong"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class Act:
    """One thing to do."""

    kind: Kind
    item: str = ""
    """The item it is done to; "" where there is none."""
    repair: str = ""
    """The repair, as “item: repair”, where it is one."""
    parts: frozenset[str] = frozenset()
    """The parts that it puts right, where it is a repair."""


@dataclass(frozen=True, slots=True)
class Ending:
    """What to do where nothing more is tried."""

    acts: tuple[Act, ...]
    """One act; two where two failures are likelier than one."""
    chance: float
    """Probability that this puts everything right."""
    done: bool = False
    """Whether all of it was done, and what failed has passed since."""


def ending_of(setup: Setup, finding: Finding, decision: Decision, trials: Sequence[Trial]) -> Ending:
    """Return how a case would end now, after its trials."""
    last = trials[-1] if trials else None
    ending = _unsafe(setup, finding, trials) or _staying_out(setup, finding, decision, _ending(setup, finding, decision), last)
    done = last is not None and decision.proved and all(_done(act, last) for act in ending.acts)
    return replace(ending, done=done)


def _unsafe(setup: Setup, finding: Finding, trials: Sequence[Trial]) -> Ending | None:
    """Return the ending of a case in which the eye has just found what can injure: whatever else is wrong, that comes first."""
    if not trials:
        return None
    failure = seen_to_injure(setup.failures.values(), trials[-1])
    if failure is None:
        return None
    return Ending((Act(Kind.OUT_OF_USE, failure.item),), finding.belief.failed_part(failure.part))


def _staying_out(setup: Setup, finding: Finding, decision: Decision, ending: Ending, last: Trial | None) -> Ending:
    """Return an ending that also names what was exchanged on the way and may well be bad: it is out, and stays out."""
    if last is None or decision.mode is Mode.BENCH or {act.kind for act in ending.acts} != {Kind.EXCHANGE}:
        return ending
    named = {act.item for act in ending.acts}
    others = [item for item in last.swapped if item not in named and finding.belief.failed_item(item) >= STAYS_OUT]
    if not others or not named <= {*last.swapped}:
        return ending
    shares = {aim.name: share for aim, share in decision.aims}
    chance = min(1.0, ending.chance + sum(shares.get(item, 0.0) for item in others))
    acts = (*ending.acts, *(_exchanging(setup, item) for item in others))
    return Ending(tuple(sorted(acts, key=lambda act: (act.item, act.repair))), chance)


def _done(act: Act, last: Trial) -> bool:
    """Return whether an act was carried out by the time of a trial."""
    put_right = {act.repair, *act.parts} if act.repair else set()
    return act.item in last.swapped or not put_right.isdisjoint(last.mended)


def _ending(setup: Setup, finding: Finding, decision: Decision) -> Ending:
    if finding.belief.two > EVEN and decision.mode is Mode.PISTE:
        pairs: dict[frozenset[Act], float] = {}
        for first, second, share in finding.belief.by_pair(MOST_PAIRS):
            acts = frozenset((_of_part(setup, finding, first), _of_part(setup, finding, second)))
            pairs[acts] = pairs.get(acts, 0.0) + share
        best = max(pairs, key=lambda acts: pairs[acts])
        quick = decision.in_seconds and any(act.repair == decision.aims[0][0].name for act in best)
        if pairs[best] > (BOTH_AT_ONCE if quick else EVEN):
            return Ending(tuple(sorted(best, key=lambda act: (act.item, act.repair))), pairs[best])
    aim = decision.named
    if aim.name == SOUND:
        return Ending((Act(Kind.NOTHING_WRONG),), decision.chance)
    if aim.name == UNKNOWN:
        return Ending((Act(Kind.UNKNOWN),), decision.chance)
    return Ending((_of_aim(setup, finding, aim, quick=aim.quick or decision.mode is Mode.BENCH),), decision.chance)


def _of_aim(setup: Setup, finding: Finding, aim: Aim, *, quick: bool) -> Act:
    if any(failure.out_of_use for failure in _likely(finding, aim.item)):
        return Act(Kind.OUT_OF_USE, aim.item)
    return _repairing(setup, aim.item, aim.name) if quick else _exchanging(setup, aim.item)


def _of_part(setup: Setup, finding: Finding, part: str) -> Act:
    failure = next(suspect.failure for suspect in finding.suspects if suspect.part == part)
    repair = setup.repairs[failure.repair] if failure.repair else None
    if repair is not None and repair.piste_s is not None:
        return _repairing(setup, failure.item, failure.job)
    return _exchanging(setup, failure.item)


def _repairing(setup: Setup, item: str, job: str) -> Act:
    parts = frozenset(failure.part for failure in setup.failures.values() if failure.job == job)
    if setup.items[item].handling:
        return Act(Kind.HANDLING, item, job, parts)
    name = job_parts(job)[1]
    set_up = name in setup.repairs and setup.repairs[name].set_up
    return Act(Kind.SET_UP if set_up else Kind.MEND, item, job, parts)


def _exchanging(setup: Setup, item: str) -> Act:
    return Act(Kind.HANDLING if setup.items[item].handling else Kind.EXCHANGE, item)


def _likely(finding: Finding, item: str) -> Iterator[Failure]:
    return (suspect.failure for suspect in finding.suspects if suspect.item == item and suspect.probability > EVEN)
