"""Between kept cases and case files: a kept case in, the text of its file out, and the other way round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from foible.endings import ending_named
from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.kit import SIDES
from foible.records import EntryKind, NewCase, NewEntry
from foible.services.cases import FULL, dumped
from foible.services.kept_reading import kept_table
from foible.situation import Mode
from foible.trials import CaseReading, case_reading, file_text, former_names, parsed_case

if TYPE_CHECKING:
    from foible.kit import Renamed
    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.trials import Case, CaseTable, Expected, ExpectTable

__all__ = ["CaseFile", "TakenIn", "save_case", "take_in"]

LONGEST = {"title": 200, "piste": 40, "fencer": 80}
"""The longest text that the records take for each key [characters]."""


@dataclass(frozen=True)
class CaseFile:
    """A kept case as a file."""

    name: str
    """A name for the file."""
    text: str


@dataclass(frozen=True)
class TakenIn:
    """An imported case file."""

    kept: KeptCase
    notices: tuple[Renamed, ...]
    """Former names in the file that were read as today's."""


def save_case(cases: Cases, name: str) -> CaseFile:
    """Return a kept case as a case file, in today's names where they are known. Raises UnknownNameError."""
    kept = cases.store.case(name)
    table, notices, unread = _todays(cases, kept)
    remarks = [f"Saved by Foible: case {kept.id}. Who said what, and when, is not in the file.", *_left_out(kept)]
    remarks += [str(renamed) for renamed in notices]
    if unread:
        remarks.append("It has names that this kit does not know; it can be read where the kit has them.")
    comment = "".join(f"# {_printable(remark)}\n" for remark in remarks)
    return CaseFile(f"case-{kept.id}.toml", f"{comment}\n{file_text(table)}")


def take_in(cases: Cases, raw: bytes, *, name: str, token: str | None = None, by: str = "") -> TakenIn:
    """Keep the case that the bytes of a case file hold; `name` is what messages call the file.

    A `token` that has imported a file already imports no second one. Raises ProblemsError with everything that is wrong.
    """
    table, case, line = parsed_case(raw, name=name, overlays=cases.reasoning.overlays, allow_empty=True)
    problems = []
    if len(table.trial) > FULL:
        seen = f"{len(table.trial)} trials are too many for one case"
        problems.append(Problem(name, line(("trial", FULL)), seen, f"keep at most {FULL} of them"))
    for key, most in LONGEST.items():
        if (length := len(getattr(table, key))) > most:
            seen = f"a {key} of {length} characters is too long"
            problems.append(Problem(name, line((key,)), seen, f"shorten it to at most {most}"))
    if problems:
        raise ProblemsError(problems)
    version = cases.names
    entries, known = [], None
    for number, (trial, written) in enumerate(zip(case.trials, case.tables, strict=True), start=1):
        said = cases.reasoning.said(case.setup, trial, known)
        entries.append(NewEntry(EntryKind.TRIAL, f"file-{number}", say=said, trial=dumped(written), by=by, names=version))
        known = trial
    return TakenIn(cases.store.open(_new(table, case, token), entries), case.notices)


def _new(table: CaseTable, case: Case, token: str | None) -> NewCase:
    weapon = case.setup.weapon
    return NewCase(
        weapon=weapon,
        title=table.title or table.complaint[: LONGEST["title"]] or f"{weapon.capitalize()}, from a case file",
        piste=table.piste,
        fencer=table.fencer,
        complaint=table.complaint,
        tools=Mode.PISTE.usual_tools,
        token=token,
        fitted={side: slots for side in SIDES if (slots := {slot: model for s, slot, model in case.fitted if s == side})},
        known_good=case.known_good,
        facts=case.facts,
        ending=ending_named(table.ending) if table.ending else None,
        ended_with=table.ended_with if table.ending else (),
        profile=table.profile and case.profile.name,
        source=table.source,
        expect=_expect(table.expect, case.expected) if table.expect and case.expected else None,
    )


def _expect(table: ExpectTable, expected: Expected) -> dict[str, Any]:
    """Return the known cause as the records take it, parts by today's names."""
    return table.model_copy(update={"parts": expected.parts}).model_dump(mode="json")


def _todays(cases: Cases, kept: KeptCase) -> tuple[CaseTable, tuple[Renamed, ...], bool]:
    """Return a kept case as a file writes it, what was renamed, and whether the kit cannot read some of it."""
    (table, versions), overlays = kept_table(kept), cases.reasoning.overlays
    try:
        reading = case_reading(table, overlays=overlays, written=versions)
    except UnknownNameError:  # of the weapon
        return table, (), True
    named = _named(table, reading).model_copy(update={"names": former_names(overlays).version})
    return named, reading.case.notices, bool(reading.slips)


def _named(table: CaseTable, reading: CaseReading) -> CaseTable:
    """Return a case in today's names, and what cannot be read as it is."""
    trials = list(table.trial)
    for number, todays in zip(reading.numbers, reading.case.tables, strict=True):
        trials[number] = todays
    unfit = {slip.where[0] for slip in reading.slips}
    fitted = {side: getattr(table if side in unfit else reading.table, side) for side in SIDES}
    return reading.table.model_copy(update={"trial": tuple(trials), **fitted})


def _left_out(kept: KeptCase) -> list[str]:
    """Return what was said in a case but is missing from its file, in words."""
    back = sum(entry.taken_back for entry in kept.entries)
    skipped = sum(entry.kind is EntryKind.SKIP for entry in kept.standing)
    counts = ((back, "taken back"), (skipped, "that could not be made"))
    said = [f"{number} {words}" for number, words in counts if number]
    photos = sum(bool(entry.photo) for entry in kept.standing)
    return [
        *([f"Left out: trials, {' and '.join(said)}."] if said else []),
        *([f"Left out: {photos} photo{'s' * (photos != 1)}."] if photos else []),
    ]


def _printable(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text)
