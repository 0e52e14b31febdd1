"""For whoever trains: a fault made by hand in; out, the address that hides it, and what it did in a trial that was made of it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from foible.diagnosis import Activity, StagedFault
from foible.errors import InputError
from foible.services.practice.strip import MADE, MOST_MADE, hidden_at, lamps_lit, made_address, made_faults

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from foible.diagnosis import Explanation
    from foible.kit import Failure, Setup
    from foible.practice import Attempt, Done, Hidden
    from foible.services.reasoning import Reasoning

__all__ = [
    "BEHAVIOURS",
    "Laid",
    "Made",
    "behaviours",
    "chosen_fault",
    "fault_words",
    "laid_open",
    "made_by_hand",
    "severities",
    "written_fault",
]

BEHAVIOURS = {
    Activity.STEADY: "always there",
    Activity.OFTEN: "comes and goes, there in most trials",
    Activity.SELDOM: "comes and goes, hides until it is provoked",
}
"""How a fault behaves, in words."""
AS_IT_IS = "as it is"
"""How bad something is of which there is but one degree."""
RAISED = ((10.0, "a little poor"), (100.0, "poor"), (500.0, "bad"), (math.inf, "almost open"))
JOINED = ((1.0, "dead short"), (50.0, "poor short"), (475.0, "leak"), (math.inf, "faint leak"))
"""What a resistance up to so many ohms is called, in series and between lines; judgement, but for 475 Ω, up to which an apparatus
may show a leak (FIE Material Rules, August 2026, Annex B)."""


@dataclass(frozen=True)
class Made:
    """Faults that somebody made, with the address that hides them."""

    hidden: Hidden
    number: str
    """What stands in the address; it does not say what is wrong."""

    @property
    def address(self) -> str:
        """Where they are looked for."""
        return f"/practice/strip/{self.hidden.setup.kind.word}/{MADE}/{self.number}"

    @property
    def screen(self) -> str:
        """Where they stand on a big screen."""
        return f"/practice/screen/{self.hidden.setup.kind.word}/{MADE}/{self.number}"


@dataclass(frozen=True)
class Laid:
    """A trial laid open: the faults that were there in it, and by side the current's way and where it is cut."""

    there: tuple[StagedFault, ...]
    sides: Mapping[str, Explanation]
    side: str
    """The side whose way is drawn: the one that presses, else that of the fencer who complains, else one whose lamps lit."""


def severities(failure: Failure) -> tuple[str, ...]:
    """Return the steps of a failure's ladder in words; one step where it has no severity."""
    steps = tuple(ohms for ohms, _ in failure.ladder) or (math.nan,)
    if len(steps) == 1 or not (failure.raises or failure.joins):
        return (AS_IT_IS,) * len(steps)
    return tuple(_words(failure, ohms) for ohms in steps)


def behaviours(failure: Failure) -> tuple[Activity, ...]:
    """Return the ways in which a failure may behave, as the kit says; the usual one first."""
    moving = (Activity.OFTEN, Activity.SELDOM)
    if failure.intermittent <= 0:
        return (Activity.STEADY,)
    return moving if failure.intermittent >= 1 else (Activity.STEADY, *moving)


def chosen_fault(setup: Setup, name: str, step: int | None = None, behaves: int | None = None) -> StagedFault:
    """Return a failure as it was chosen: `step` of its ladder, by default the commonest, and how it `behaves`.

    Raises UnknownNameError and InputError.
    """
    failure = setup.failures[name]
    ladder = [ohms for ohms, _ in failure.ladder] or [math.nan]
    if step is not None and not 0 <= step < len(ladder):
        raise InputError(seen=f"{failure.id} has no severity number {step}", remedy="choose one of those offered")
    if behaves is not None and behaves not in {activity.value for activity in BEHAVIOURS}:
        raise InputError(seen=f"no fault behaves in way number {behaves}", remedy="choose one of those offered")
    ohms = failure.usual_ohms if step is None else ladder[step]
    return StagedFault(failure, ohms, behaviours(failure)[0] if behaves is None else Activity(behaves))


def made_by_hand(reasoning: Reasoning, weapon: str, faults: Sequence[StagedFault], seed: int) -> Made:
    """Return faults made by hand with the address that hides them. Raises InputError for too many, none, or the same twice."""
    setup = reasoning.setup(weapon)
    if not 1 <= len(faults) <= MOST_MADE or len({fault.failure.id for fault in faults}) < len(faults):
        raise InputError(seen=f"{len(faults)} failures were chosen", remedy=f"choose one, or {MOST_MADE} that differ")
    number = made_address(setup, faults, seed)
    return Made(hidden_at(reasoning, weapon, MADE, number), number)


def fault_words(fault: StagedFault) -> str:
    """Return what is wrong, how bad it is and how it behaves."""
    failure = fault.failure
    ladder = [ohms for ohms, _ in failure.ladder]
    severity = severities(failure)[ladder.index(fault.ohms)] if fault.ohms in ladder else AS_IT_IS
    behaves = [BEHAVIOURS[fault.activity]] if fault.activity is not Activity.STEADY else []
    return ", ".join([failure.id, *([] if severity == AS_IT_IS else [severity]), *behaves])


def written_fault(reasoning: Reasoning, weapon: str, number: str) -> str:
    """Return in words what an address of faults made by hand hides. Raises NotFoundError."""
    faults, _ = made_faults(reasoning.setup(weapon), number)
    return "; and ".join(fault_words(fault) for fault in faults)


def laid_open(reasoning: Reasoning, attempt: Attempt, done: Done) -> Laid | None:
    """Return what went on in a step with lamps; None in one without.

    A fault that comes and goes was there if only then the lamps are as they were seen.
    """
    if done.idea is None or done.table is None or not done.table.saw:
        return None
    setup, table = attempt.setup, done.table
    seen = lamps_lit(setup, table)
    left = [
        fault for fault in attempt.hidden.faults if fault.failure.item not in table.swapped and not _mended(fault, table.mended)
    ]
    ways = [(there, _sides(reasoning, attempt, done, there)) for there in _some_of(left)]
    there, sides = max(ways, key=lambda way: _agreeing(way[1], seen))
    press = done.idea.trial.arrangement.press
    lit = [side for side, lamps in seen.items() if any(state != "dark" for state in lamps.values())]
    told = [attempt.hidden.complaint.side] if attempt.hidden.complaint else []
    return Laid(there, sides, press or next(iter([*told, *lit, *seen])))


def _sides(reasoning: Reasoning, attempt: Attempt, done: Done, there: Sequence[StagedFault]) -> dict[str, Explanation]:
    assert done.idea is not None  # noqa: S101 — looked at before
    return reasoning.shown(attempt.setup.weapon, [(fault.failure, fault.ohms) for fault in there], done.idea)


def _some_of(faults: Sequence[StagedFault]) -> Iterator[tuple[StagedFault, ...]]:
    """Yield all of them first, then those that were there without the ones that come and go."""
    moving = [fault for fault in faults if fault.activity is not Activity.STEADY]
    for count in range(len(moving) + 1):
        for gone in combinations(moving, count):
            yield tuple(fault for fault in faults if fault not in gone)


def _mended(fault: StagedFault, mended: Sequence[str]) -> bool:
    return not {fault.failure.part, fault.failure.job}.isdisjoint(mended)


def _agreeing(sides: Mapping[str, Explanation], seen: Mapping[str, Mapping[str, str]]) -> int:
    """Return how many lamps are as they were seen."""
    likelier = 0.5
    return sum(
        (sides[side].lamps[lamp] > likelier) == (state != "dark") for side, lamps in seen.items() for lamp, state in lamps.items()
    )


def _words(failure: Failure, ohms: float) -> str:
    if math.isinf(ohms):
        return "open"
    names = RAISED if failure.raises else JOINED
    name = next(word for limit, word in names if ohms <= limit)
    if name == JOINED[0][1]:
        return name
    return f"{name}: {ohms:,.0f} Ω{' more' if failure.raises else ''}".replace(",", "\N{NARROW NO-BREAK SPACE}")
