"""An offered trial and its result in, the trial to write down out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from foible.errors import InputError
from foible.kit import SIDES
from foible.trials.read import TrialTable
from foible.trials.seen import read_seen
from foible.trials.trial import NOTHING, Group

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Setup
    from foible.trials.catalogue import Idea
    from foible.trials.trial import Trial

    Key = Literal["saw", "found", "reads", "lights"]

__all__ = ["earth_unsaid", "put_right", "report_key", "reported", "signs_of"]

CARRIED = ("swapped", "mended")
"""What carries over from one trial to the next: a known-good item, a mended part."""


def report_key(idea: Idea) -> Key:
    """Return the key of a case file for the result of a trial."""
    trial = idea.trial
    if trial.meter:
        return "reads"
    return "lights" if trial.box else "found" if trial.examine or trial.gauge else "saw"


def reported(table: TrialTable, key: Key, report: Sequence[str], *, last: TrialTable | None = None) -> TrialTable:
    """Return a trial with its result, including the exchanges and repairs of the `last` trial besides its own."""
    told = " to ".join(report) if key == "reads" else tuple(report)
    return _carried(table, last).model_copy(update={key: told})


def put_right(last: TrialTable | None, exchanged: Sequence[str], mended: Sequence[str]) -> TrialTable:
    """Return the trial that says what was exchanged and mended, besides that of the `last` trial, before anything is tried."""
    return _carried(TrialTable(swapped=tuple(exchanged), mended=tuple(mended)), last)


def _carried(table: TrialTable, last: TrialTable | None) -> TrialTable:
    carried = {name: tuple(dict.fromkeys((*(getattr(last, name) if last else ()), *getattr(table, name)))) for name in CARRIED}
    return table.model_copy(update=carried)


def earth_unsaid(trials: Sequence[Trial], phrases: Sequence[str]) -> tuple[str, ...]:
    """Return the sides whose yellow or orange lamp was lit before, and which a report speaks of without a word of that lamp."""
    lit = {
        side
        for trial in trials
        for (side, group), looks in (trial.seen.looks.items() if trial.seen else ())
        if group is Group.YELLOW and (NOTHING, NOTHING) not in looks
    }
    try:
        told = read_seen(phrases, hit=Group.CUT).looks
    except InputError:  # which is refused later, with its reason
        return ()
    spoken = {side for side, group in told if group is not Group.YELLOW}
    return tuple(side for side in SIDES if side in lit & spoken and (side, Group.YELLOW) not in told)


def signs_of(setup: Setup, idea: Idea) -> tuple[str, ...]:
    """Return the possible answers to an examination, or to a gauge; the first means that all is well."""
    if idea.trial.gauge:
        return ("passes", "fails")
    looked = set(idea.trial.examine)
    found = {sign for failure in setup.failures.values() if {failure.part, failure.item} & looked for sign in failure.signs}
    return ("fine", *sorted(found))
