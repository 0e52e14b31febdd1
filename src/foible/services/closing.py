"""The end of a kept case: lines of the proof answered one by one, and the case closed with what became of the kit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.endings import CaseEnding
from foible.errors import InputError, Problem, ProblemsError, UnknownNameError
from foible.records import EntryKind, NewEntry
from foible.services.given_names import GivenNames
from foible.services.proving import LineState, passing_report
from foible.trials import report_key, reported

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.services.proving import Proving, ProvingLine

__all__ = ["close_with", "line_failed", "line_passed"]


def line_passed(cases: Cases, name: str, line: str, *, token: str, by: str = "") -> KeptCase:
    """Note that a line of the proof, named by what it says, has shown what it must; each of its trials is noted as made.

    Raises UnknownNameError.
    """
    kept = cases.store.case(name)
    if kept.has_heard(token):
        return kept
    known = {each.say: each for each in _proof(cases, kept).lines}
    if line not in known:
        raise UnknownNameError(what="line of the proof", name=line, known=known)
    return cases.store.add(kept.id, *_passes(cases, kept, known[line], token, by))


def line_failed(  # noqa: PLR0913 — all of it is one answer
    cases: Cases, name: str, line: str, report: Sequence[str] = (), *, token: str, by: str = ""
) -> KeptCase:
    """Note that a trial of the proof, named by its sentence, has failed; `report` is written as in a case file.

    For a gauge it may be left out. Raises UnknownNameError, and ProblemsError with all that is wrong.
    """
    kept = cases.store.case(name)
    if kept.has_heard(token):
        return kept
    known = {each.say: each for proved in _proof(cases, kept).lines for each in proved.ideas}
    if line not in known:
        raise UnknownNameError(what="trial of the proof", name=line, known=known)
    idea = known[line]
    told = tuple(report) or (("fails",) if idea.trial.gauge else ())
    if not told:
        raise ProblemsError([Problem("your answer", None, "it says that a line failed, but not how", "say what was seen")])
    return cases.answer(kept, idea, told, token=token, by=by)


def close_with(  # noqa: PLR0913 — all of it is one ending
    cases: Cases, name: str, ending: CaseEnding, *, item: str | None = None, token: str, by: str = ""
) -> KeptCase:
    """Close a case with an ending; `item` is what was taken out of use or sent to the workshop.

    Raises InputError where something must have been put right for it, or proved, and was not.
    """
    kept = cases.store.case(name)
    if kept.has_heard(token):
        return kept
    things: tuple[str, ...] = ()
    if ending.puts_right:
        things = _put_right(_proof(cases, kept), ending)
    elif ending.about_item and item:
        setup = cases.setup_of(kept)
        things = (setup.items.name(GivenNames(cases.reasoning.overlays).item(item, setup.weapon)),)
    said = f"closed: {ending.value}" + (f" ({', '.join(things)})" if things else "")
    return cases.store.end(kept.id, NewEntry(EntryKind.END, token, say=said, by=by, names=cases.names), ending, things)


def _proof(cases: Cases, kept: KeptCase) -> Proving:
    proving = cases.proving(cases.standing_of(kept))
    if proving is None:
        raise InputError(seen="nothing is exchanged or mended in this case", remedy="say first what was put right")
    return proving


def _put_right(proving: Proving, ending: CaseEnding) -> tuple[str, ...]:
    """Return what was put right, where an ending may say so."""
    if proving.failed:
        raise InputError(seen="a line of the proof has failed", remedy="put right what the case leads to next, and prove that")
    if ending.needs_proof and not proving.passed:
        left = sum(line.state is not LineState.PASSED for line in proving.lines)
        seen = f"{left} of the {len(proving.lines)} lines of the proof have not passed"
        raise InputError(seen=seen, remedy=f"make them pass, or close the case as “{CaseEnding.UNPROVED.value}”")
    if ending is CaseEnding.EXCHANGED and not proving.exchanged:
        remedy = f"close the case as “{CaseEnding.MENDED.value}”"
        raise InputError(seen="something was mended last, and nothing exchanged", remedy=remedy)
    return proving.things


def _passes(cases: Cases, kept: KeptCase, line: ProvingLine, token: str, by: str) -> list[NewEntry]:
    entries = []
    for number, idea in enumerate(line.ideas):
        told = reported(idea.table, report_key(idea), passing_report(idea, line.shows), last=cases.last(kept))
        entry = NewEntry(EntryKind.TRIAL, f"{token}-{number}" if number else token, say=idea.say, by=by)
        entries.append(cases.checked(kept, told.model_copy(update={"times": line.times}), entry))
    return entries
