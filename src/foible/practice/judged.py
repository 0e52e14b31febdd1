"""An attempt in; out, whether what was named is right, whether the repair was proved, and what that is worth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.practice.attempt import NOTHING_WRONG
from foible.trials import read_trial

if TYPE_CHECKING:
    from foible.practice.attempt import Attempt, Done

__all__ = ["Judged", "judged", "points", "shows_fault"]

RIGHT, PART, PROVED, PLAN = 50, 10, 10, 30
"""Points for the right item, the right part, a proof, and for as little time as the best plan takes; judgement, no source."""

AT_ONCE = 2
"""Names that count as given at once: two faults have two. Whoever names one item after another names the right one last."""


@dataclass(frozen=True, slots=True)
class Judged:
    """How an attempt came out."""

    right: bool
    """Whether what was named last, with what was exchanged on the way, puts right what was complained of."""
    part: bool
    """Whether the part was named too, and is one that failed."""
    proved: bool
    """Whether what failed was done again afterwards, and passed."""
    found: frozenset[str]
    """The items with a fault that were named."""
    missed: frozenset[str]
    """The items with a fault that were not."""
    wrongly: tuple[str, ...]
    """What was named and is sound, in turn."""


def judged(attempt: Attempt) -> Judged:
    """Return how an attempt came out; one in which nothing was named is not right."""
    hidden = attempt.hidden
    named = [naming.item for naming in attempt.namings]
    if not hidden.faults:
        right = bool(named) and named[-1] == NOTHING_WRONG
        wrongly = tuple(item for item in named if item != NOTHING_WRONG)
        return Judged(right, right, right, frozenset(), frozenset(), wrongly)
    found = hidden.items & set(named)
    last = not hidden.items.isdisjoint(named[-AT_ONCE:])
    right = last and not hidden.left_by({*named, *attempt.swapped}) and (hidden.item is None or _same_repair(attempt))
    parts = {naming.part for naming in attempt.namings if naming.part}
    wrongly = tuple(item for item in named if item not in hidden.items)
    return Judged(right, right and bool(parts & hidden.parts), right and _proved(attempt), found, hidden.items - found, wrongly)


def _same_repair(attempt: Attempt) -> bool:
    """Return whether the part that was named last is mended as one that failed: on the bench the item alone is no answer."""
    setup, part = attempt.setup, attempt.namings[-1].part
    jobs = {failure.job for failure in setup.failures.values() if failure.part == part}
    return any(fault.failure.job in jobs for fault in attempt.hidden.faults)


def _proved(attempt: Attempt) -> bool:
    """Return whether, once all that was at fault was out, a trial that had shown it was made again, and showed sound kit."""
    done = attempt.done
    at = max(min(n for n, each in enumerate(done) if _out(each, item)) for item in _found(attempt))
    failed = {
        _bare(attempt, table) for table in (*attempt.told, *(e.table for e in done[:at] if e.table and shows_fault(attempt, e)))
    }
    return any(e.table is not None and _bare(attempt, e.table) in failed and not shows_fault(attempt, e) for e in done[at + 1 :])


def _found(attempt: Attempt) -> frozenset[str]:
    return attempt.hidden.items & {*attempt.swapped, *(naming.item for naming in attempt.namings)}


def _out(done: Done, item: str) -> bool:
    """Return whether a step put an item out, or right."""
    named = done.naming is not None and done.naming.item == item
    return named or (done.table is not None and item in done.table.swapped)


def shows_fault(attempt: Attempt, done: Done) -> bool:
    """Return whether a trial showed something that sound kit would not."""
    if done.idea is None or done.table is None:
        return False
    trial = read_trial(attempt.setup, done.table)[0]
    sound = attempt.hidden.without_faults.answer(trial.unseen(), 0)
    told = getattr(done.table, sound.key)
    if sound.key == "reads":  # a meter differs by its leads
        said, usual = str(told), str(sound.told[0])
        return said != usual if "open" in {said, usual} else _far(said, usual)
    return tuple(told) != sound.told


def _far(told: str, sound: str) -> bool:
    try:
        return float(told) > 2 * float(sound) + 1.0
    except ValueError:  # it wobbles
        return True


def _bare(attempt: Attempt, table: object) -> object:
    trial = read_trial(attempt.setup, table, answered=False)[0]  # type: ignore[arg-type]
    return trial.with_own_kit()


def points(result: Judged, seconds: float, best_s: float) -> int:
    """Return what an attempt is worth, 0 to 100, `best_s` being the time of the best plan [s]; what is wrong is worth nothing."""
    if not result.right:
        return 0
    quick = min(1.0, best_s / max(seconds, 1.0))
    spoilt = 10 * len(result.wrongly)
    return max(0, round(RIGHT + PART * result.part + PROVED * result.proved + PLAN * quick) - spoilt)
