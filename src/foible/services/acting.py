"""A diagnosis in; out, what to do instead of another trial or beside it: what costs less, what is sure enough, what was seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.diagnosis import Act as Deed
from foible.diagnosis import Ending, Kind
from foible.kit import job_parts
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.diagnosis import Decision
    from foible.kit import Setup
    from foible.services.verdict import Diagnosis

__all__ = ["Act", "act_of"]

LIKELY = 0.5
"""From this probability on, something is more likely than not."""
SURE = 0.95
"""From this probability on, acting is offered beside another trial."""
SETTLED = 0.75
"""From this probability on, that is so on the bench where no trial left is expected to tell much; judgement, no source."""
MUCH = 0.3
"""A trial that is expected to tell less than this does not tell much [bit]; judgement, no source."""
CHEAPER = "more testing costs more than acting"
"""Why one acts as a rule."""
FOLLOWS = "the fault came when it was moved, and not with a good one in its place"
"""Why one acts where that costs more than another trial."""


@dataclass(frozen=True, slots=True)
class Act:
    """What to do instead of another trial, or beside it."""

    words: str
    chance: float
    """Probability that it is the right thing to do."""
    ending: Ending
    now: bool
    """Whether it is time to do it; if not, it is only sure enough to be offered beside another trial."""
    seen: bool = False
    """Whether the eye has found it, and it is put right in seconds, whether it explains everything or not."""
    why: str = ""
    """Why nothing more is tried first; "" where that goes without saying."""


def act_of(diagnosis: Diagnosis) -> Act | None:
    """Return what to do where that is cheaper than another trial, or sure enough, or nothing is left to try; else None."""
    if not diagnosis.trials or diagnosis.trials[-1].acts:
        return None
    decision, ending, out = diagnosis.decision, diagnosis.ending, diagnosis.trials[-1].swapped
    now = decision.enough and ending.chance > LIKELY
    if now or ending.chance >= SURE or _settled(decision, ending) or not decision.advice:
        words = " and ".join(_act_words(deed, diagnosis.case.setup, decision.mode, out) for deed in ending.acts)
        why = FOLLOWS if decision.follows else CHEAPER if decision.advice else ""
        if ending.done:
            done = " and ".join(_done_words(deed) for deed in ending.acts)
            words = f"{done}, and what failed works: {'fence on' if decision.mode is Mode.PISTE else 'it is mended'}"
            why = ""
        return Act(words, ending.chance, ending, now=now, why=why if now else "")
    return _seen(diagnosis)


def _seen(diagnosis: Diagnosis) -> Act | None:
    """Return what the eye has just found at the piste, if it is put right in seconds: that comes before any other trial."""
    setup, last = diagnosis.case.setup, diagnosis.trials[-1]
    if diagnosis.decision.mode is not Mode.PISTE:
        return None
    for failure in setup.failures.values():
        repair = setup.repairs[failure.repair] if failure.repair else None
        if repair is None or repair.piste_s is None or not failure.seen(last.examine, last.found):
            continue
        chance = diagnosis.finding.belief.failed_part(failure.part)
        kind = Kind.HANDLING if setup.items[failure.item].handling else Kind.SET_UP
        deed = Deed(kind, failure.item, failure.job, frozenset({failure.part}))
        return Act(_act_words(deed, setup, Mode.PISTE, last.swapped), chance, Ending((deed,), chance), now=False, seen=True)
    return None


def _settled(decision: Decision, ending: Ending) -> bool:
    """Return whether on the bench one repair is called for whichever part it is, and trying on would hardly tell more.

    Two ends of a wire that nothing but opening the plugs tells apart are remade alike: what is sure is the repair.
    """
    told = max((advice.bits for advice in decision.advice if not advice.idea.repair), default=0.0)  # those make the repair first
    repairs = all(deed.repair for deed in ending.acts)
    return decision.mode is Mode.BENCH and repairs and ending.chance >= SETTLED and told < MUCH


def _done_words(deed: Deed) -> str:
    """Return an act as something that was done."""
    return f"{deed.repair}, done" if deed.repair else f"the {deed.item} was exchanged"


def _act_words(deed: Deed, setup: Setup, mode: Mode, out: Sequence[str]) -> str:
    """Return an act as something to do; `out` are the items that were exchanged for known-good ones and still are."""
    match deed.kind:
        case Kind.NOTHING_WRONG:
            return "nothing is wrong: fence on" if mode is Mode.PISTE else "nothing is wrong with it"
        case Kind.UNKNOWN:
            return "something outside this model: ask for help"
        case Kind.OUT_OF_USE:
            return f"take the {deed.item} out of use: it is broken and can injure"
        case Kind.EXCHANGE:
            exchange = f"leave the {deed.item} exchanged" if deed.item in out else f"exchange the {deed.item}"
            return f"{exchange}, or put it right"
        case Kind.HANDLING:
            side, repair = setup.items[deed.item].side, job_parts(deed.repair)[1] if deed.repair else ""
            return f"on the {side}, {repair}" if side and repair else f"put right {setup.items[deed.item].words}"
    return deed.repair
