"""A look that is asked for in; out, the other looks that may as well be made with it, all noted at once where all was fine."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.records import EntryKind, NewEntry
from foible.trials import report_key, reported

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.records import KeptCase
    from foible.services.cases import Cases, Standing
    from foible.trials import Idea

__all__ = ["all_fine", "looks_besides"]

FINE = "fine"
MOST = 2
"""Looks that are asked for with another: three things are looked over in one go; judgement, no source."""
QUICK_S = 15.0
"""A look that takes longer opens something, and is asked for by itself [s]; judgement, no source."""
TELLING = 0.02
"""A look that is expected to tell less than this is not asked for [bit]; judgement, no source."""


def looks_besides(standing: Standing, idea: Idea) -> tuple[Idea, ...]:
    """Return further looks that are worth making while one looks anyway, the most telling first; none but with a look."""
    if not idea.trial.examine:
        return ()
    seen, found = {*idea.trial.examine}, []
    for advice in sorted(standing.diagnosis.advice, key=lambda each: -each.bits):
        looked = {*advice.idea.trial.examine}
        by_itself = advice.idea.trial.swapped or advice.idea.repair or advice.idea.seconds > QUICK_S
        if looked and not (looked & seen) and not by_itself and advice.bits >= TELLING:
            found.append(advice.idea)
            seen |= looked
    return tuple(found[:MOST])


def all_fine(cases: Cases, kept: KeptCase, says: Sequence[str], *, token: str, by: str = "") -> KeptCase:
    """Note in one go that several looks, named by their sentences, found nothing; each is kept as a trial of its own.

    Raises UnknownNameError, and InputError for a trial that is no look.
    """
    entries = []
    for number, say in enumerate(says):
        idea = cases.asked(kept, say)
        if not idea.trial.examine:
            raise InputError(seen=f"“{say}” is not a look", remedy="answer it by itself")
        table = reported(idea.table, report_key(idea), (FINE,), last=cases.last(kept))
        entry = NewEntry(EntryKind.TRIAL, f"{token}-{number}" if number else token, say=idea.say, by=by)
        entries.append(cases.checked(kept, table, entry))
    return cases.store.add(kept.id, *entries)
