"""A kept case in; out, the sentences of its trials that read otherwise since a line was taken back.

A sentence leaves unsaid what was exchanged or mended before. Once the line that said it is taken back, it has to be said again.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from foible.records import EntryKind

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.records import KeptCase
    from foible.services.reasoning import Reasoning
    from foible.trials import Case

__all__ = ["said_otherwise"]


def said_otherwise(reasoning: Reasoning, kept: KeptCase, case: Case, numbers: Sequence[int]) -> Mapping[int, str]:
    """Return by entry the sentences that differ from what was kept; `numbers` are the entries of the case's trials."""
    if len(kept.standing) == len(kept.entries):
        return {}
    trials = dict(zip(numbers, case.trials, strict=True))
    refitted = [entry.number for entry in kept.standing if entry.kind is EntryKind.BACK]
    stored = {entry.number: entry.say for entry in kept.standing}
    otherwise = {}
    for before, number in pairwise((0, *numbers)):
        trial = trials[number]
        holds = None if any(before < each < number for each in refitted) else trials.get(before)
        if stored[number] in {reasoning.said(case.setup, trial), reasoning.said(case.setup, trial, trial)}:
            said = reasoning.said(case.setup, trial, holds)
            if said != stored[number]:
                otherwise[number] = said
    return otherwise
