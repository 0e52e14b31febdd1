"""A trial that bridges a line in; out, the same bridge made farther down, and all of them noted at once.

A line that does not come through is followed joint by joint to the apparatus: at the cord, at the reel, at the floor cable.
Whoever walks there anyway says once where the lamps first do what a bridge makes them do.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from foible.errors import InputError
from foible.records import EntryKind, NewEntry
from foible.services.likely_answers import sound_answer
from foible.trials import report_key, reported

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.services.likely_answers import LitLamps
    from foible.services.verdict import Diagnosis
    from foible.trials import Idea, Trial

__all__ = ["DownTheLine", "down_the_line", "followed"]


@dataclass(frozen=True)
class DownTheLine:
    """A bridge, where else it can be made, and what tells that the line comes through."""

    farther: tuple[Idea, ...]
    """The same bridge at the joints towards the apparatus, the nearest first."""
    through: LitLamps
    """What is lit where the line comes through."""
    broken: LitLamps
    """What is lit where it does not: as if nothing were bridged."""

    @property
    def tells(self) -> tuple[str, str, str]:
        """(side, word of the lamp, “light” or “go out”): what shows that the line comes through."""
        lit = next((each for each in self.through if each not in self.broken), None)
        side, word, _ = lit or next(each for each in self.broken if each not in self.through)
        return side, word, "light" if lit else "go out"


def down_the_line(diagnosis: Diagnosis, ideas: Sequence[Idea], idea: Idea) -> DownTheLine | None:
    """Return where the bridge of a trial can be made farther down, out of `ideas`; None where it is no such trial."""
    if not _bridges(idea.trial):
        return None
    here = _place(diagnosis, idea.trial)
    lines = {pins[1:] for pins in idea.trial.arrangement.bridged}
    alike = (
        each
        for each in ideas
        if each.side == idea.side and _bridges(each.trial) and {pins[1:] for pins in each.trial.arrangement.bridged} == lines
    )
    farther = sorted(
        (each for each in alike if _place(diagnosis, each.trial) > here and not diagnosis.made_before(each.trial)),
        key=lambda each: _place(diagnosis, each.trial),
    )
    parted = replace(idea.trial.arrangement, bridged=(), unplugged=(idea.trial.arrangement.bridged[0][0],))
    apart = replace(idea, trial=replace(idea.trial, arrangement=parted))
    through, broken = sound_answer(diagnosis, idea), sound_answer(diagnosis, apart)
    return DownTheLine(tuple(farther), through, broken) if farther and through != broken else None


def followed(  # noqa: PLR0913 — all of it is one answer
    cases: Cases, kept: KeptCase, made: Sequence[Idea], reports: Sequence[Sequence[str]], *, token: str, by: str = ""
) -> KeptCase:
    """Note in one go what bridges down a line have shown, each as a trial of its own; `reports` as in a case file.

    Raises InputError for a trial that bridges nothing.
    """
    entries = []
    for number, (idea, report) in enumerate(zip(made, reports, strict=True)):
        if not _bridges(idea.trial):
            raise InputError(seen=f"“{idea.say}” bridges nothing", remedy="answer it by itself")
        table = reported(idea.table, report_key(idea), report, last=cases.last(kept))
        entry = NewEntry(EntryKind.TRIAL, f"{token}-{number}" if number else token, say=idea.say, by=by)
        entries.append(cases.checked(kept, table, entry))
    return cases.store.add(kept.id, *entries)


def _bridges(trial: Trial) -> bool:
    """Return whether a trial does nothing but bridge one connection."""
    arrangement = trial.arrangement
    alone = trial.unseen() == type(trial)(arrangement=arrangement) and not arrangement.touching and arrangement.press is None
    undone = {name for name, _, _ in arrangement.bridged}
    return alone and len(undone) == 1 and {*arrangement.unplugged} <= undone  # a plug drawn half out can be bridged, too


def _place(diagnosis: Diagnosis, trial: Trial) -> int:
    """Return how far down the line a bridge is: the kit names the connections of a side from the weapon to the apparatus."""
    return list(diagnosis.case.setup.connections).index(trial.arrangement.bridged[0][0])
