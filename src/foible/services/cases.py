"""The façade for cases that are kept: opened from a complaint, answered trial by trial, taken up again after a restart."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.records import EntryKind, NewCase, NewEntry
from foible.situation import Mode, Situation, tools_named
from foible.trials import (
    CaseTable,
    TrialTable,
    complaint_named,
    described,
    load_complaints,
    made_case,
    read_trial,
    report_key,
    reported,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.records import CaseStore, KeptCase
    from foible.services.reasoning import Diagnosis, Reasoning
    from foible.trials import Case, Complaint, Idea

__all__ = ["Cases", "Standing"]

FULL = 60
"""Trials that a case takes; nobody tries so often, and each one costs time to reckon with."""


@dataclass(frozen=True)
class Standing:
    """Where a kept case stands."""

    kept: KeptCase
    case: Case = field(repr=False)
    numbers: tuple[int, ...]
    """The entry that each trial of the case stands in."""
    diagnosis: Diagnosis = field(repr=False)
    exchanged: tuple[str, ...]
    """Items that are known-good ones since an earlier trial."""
    mended: tuple[str, ...]
    skipped: tuple[tuple[int, str], ...]
    """(entry, sentence) of every trial that cannot be made now."""

    @property
    def situation(self) -> Situation:
        """Where the case is worked on, and with what."""
        return _situation(self.kept)


class Cases:
    """Everything a surface can do with kept cases. Each call that changes something is kept before it returns."""

    def __init__(self, reasoning: Reasoning, store: CaseStore) -> None:
        self.reasoning = reasoning
        self.store = store

    def complaints(self, weapon: str, side: str) -> tuple[Complaint, ...]:
        """Return what a fencer on `side` may complain of."""
        return load_complaints(self.reasoning.setup(weapon), side)

    # --- opening --------------------------------------------------------------------------------------------------

    def open(self, weapon: str, *, title: str = "") -> KeptCase:
        """Open a case of which nothing is known yet."""
        setup = self.reasoning.setup(weapon)
        words = title.strip() or f"{setup.weapon.capitalize()}, something is wrong"
        return self.store.open(NewCase(setup.weapon, words, tools=Mode.PISTE.usual_tools))

    def open_complaint(  # noqa: PLR0913 — all of it is one complaint
        self, weapon: str, say: str, side: str, *, token: str, title: str = "", by: str = ""
    ) -> KeptCase:
        """Open a case with what a fencer complains of; without a `title` these words are its title."""
        setup = self.reasoning.setup(weapon)
        complaint = complaint_named(load_complaints(setup, side), say)
        first = NewEntry(EntryKind.TRIAL, token, say=complaint.say, trial=_dumped(complaint.table), by=by)
        words = title.strip() or f"{setup.weapon.capitalize()}, {side}: {complaint.say}"
        new = NewCase(setup.weapon, words, complaint=complaint.say, tools=Mode.PISTE.usual_tools, token=token)
        return self.store.open(new, [first])

    # --- standing -------------------------------------------------------------------------------------------------

    def standing(self, name: str) -> Standing:
        """Return where a case stands. Raises UnknownNameError."""
        return self.standing_of(self.store.case(name))

    def standing_of(self, kept: KeptCase) -> Standing:
        """Return where a kept case stands."""
        trials = [entry for entry in kept.standing if entry.kind is EntryKind.TRIAL]
        tables = tuple(TrialTable.model_validate(entry.trial) for entry in trials)
        table = CaseTable(title=kept.title, weapon=kept.weapon, complaint=kept.complaint, trial=tables)
        case = made_case(table, overlays=self.reasoning.overlays, name=f"case {kept.id}")
        skipped = tuple((entry.number, entry.say) for entry in kept.standing if entry.kind is EntryKind.SKIP)
        last = _last(kept)
        reasoning = self.reasoning.at(_situation(kept))
        diagnosis = reasoning.diagnose(case, without=[say for _, say in skipped])
        return Standing(
            kept=kept,
            case=case,
            numbers=tuple(entry.number for entry in trials),
            diagnosis=diagnosis,
            exchanged=last.swapped if last else (),
            mended=last.mended if last else (),
            skipped=skipped,
        )

    def reasoning_of(self, standing: Standing) -> Reasoning:
        """Return the reasoning in the situation of a case."""
        return self.reasoning.at(standing.situation)

    def offered(self, standing: Standing, say: str | None = None) -> Idea | None:
        """Return the trial that a sentence asks for, or the one worth making first; None where nothing tells more."""
        if say is None:
            advice = standing.diagnosis.advice
            return advice[0].idea if advice else None
        return self.asked(standing.kept, say)

    def asked(self, kept: KeptCase, say: str) -> Idea:
        """Return the trial that a sentence asks for in a case: one of the catalogue, or a repair to be made and looked at.

        Raises UnknownNameError.
        """
        idea = self.reasoning.idea(kept.weapon, say)
        if idea is None:
            standing = self.standing_of(kept)
            known = {each.say: each for each in self.reasoning_of(standing).offered(standing.diagnosis)}
            if say not in known:
                raise UnknownNameError(what="trial", name=say, known=known)
            idea = known[say]
        return idea

    # --- answering ------------------------------------------------------------------------------------------------

    def answer(self, case: KeptCase | str, say: str, report: Sequence[str], *, token: str, by: str = "") -> KeptCase:
        """Note what came of an offered trial: `report` as a case file has it. Raises ProblemsError with all that is wrong."""
        kept = self.store.case(case) if isinstance(case, str) else case
        idea = self.asked(kept, say)
        table = reported(idea.table, report_key(idea), report, last=_last(kept))
        return self._note(kept, table, NewEntry(EntryKind.TRIAL, token, say=say, by=by))

    def note(self, name: str, table: TrialTable, *, token: str, by: str = "") -> KeptCase:
        """Note a trial of the user's own. Raises ProblemsError with all that is wrong."""
        kept = self.store.case(name)
        return self._note(kept, table, NewEntry(EntryKind.TRIAL, token, by=by))

    def _note(self, kept: KeptCase, table: TrialTable, entry: NewEntry) -> KeptCase:
        trial, wrong = read_trial(self.reasoning.setup(kept.weapon), table)
        problems = [Problem("your answer", None, error.seen, error.remedy) for _, error in wrong]
        if sum(entry.kind is EntryKind.TRIAL for entry in kept.standing) >= FULL:
            problems.append(Problem(f"case {kept.id}", None, f"it has {FULL} trials already", "open another case"))
        if problems:
            raise ProblemsError(problems)
        return self.store.add(kept.id, replace(entry, say=entry.say or described(trial), trial=_dumped(table)))

    def skip(self, name: str, say: str, *, token: str, by: str = "") -> KeptCase:
        """Note that a trial cannot be made now."""
        idea = self.asked(self.store.case(name), say)
        return self.store.add(name, NewEntry(EntryKind.SKIP, token, say=idea.say, by=by))

    def back(self, name: str, *, token: str, by: str = "") -> KeptCase:
        """Note that everything exchanged is the fencer's own again."""
        return self.store.add(name, NewEntry(EntryKind.BACK, token, by=by))

    def take_back(self, name: str, number: int) -> KeptCase:
        """Take an entry back."""
        return self.store.take_back(name, number)

    def move(self, name: str, *, place: Mode, item: str | None, tools: Sequence[str]) -> KeptCase:
        """Work on a case at the piste or on the bench, with these tools. Raises UnknownNameError."""
        setup = self.reasoning.setup(self.store.case(name).weapon)
        item = setup.items.name(item) if item and place is Mode.BENCH else None
        return self.store.move(name, place=place.value, item=item, tools=tools_named(tools))


def _situation(kept: KeptCase) -> Situation:
    return Situation(mode=Mode(kept.place), item=kept.item, tools=kept.tools)


def _last(kept: KeptCase) -> TrialTable | None:
    """Return the trial whose exchanged and mended things are still so; None once they are the fencer's own again."""
    for entry in reversed(kept.standing):
        if entry.kind is EntryKind.BACK:
            return None
        if entry.kind is EntryKind.TRIAL:
            return TrialTable.model_validate(entry.trial)
    return None


def _dumped(table: TrialTable) -> dict[str, object]:
    return table.model_dump(mode="json", exclude_defaults=True)
