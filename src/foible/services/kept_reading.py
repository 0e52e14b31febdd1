"""A kept case in; out, what today's kit can read of it: its trials in today's names, and the lines it cannot read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple

from pydantic import ValidationError

from foible.errors import InputError, UnknownNameError
from foible.records import EntryKind
from foible.situation import Mode, Situation
from foible.trials import CaseTable, TrialTable, case_reading, former_names, names_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from foible.kit import Renamed
    from foible.records import Entry, KeptCase
    from foible.trials import Case, Slip

__all__ = ["KeptReading", "Unread", "UnreadableCaseError", "kept_reading", "kept_table", "todays_weapon"]

OF_THE_HEAD = {
    "left": "fitted on the left",
    "right": "fitted on the right",
    "known_good": "known to be good",
    "facts": "facts of the place",
    "profile": "the rule profile",
    "expect": "the known cause",
}
"""What to call the keys at the top of a case in a line that cannot be read."""


@dataclass(frozen=True)
class Unread:
    """A line that today's kit cannot read; it stays in the records as it is and is left out of the reasoning."""

    number: int | None
    """The entry; None where it is something at the top of the case."""
    text: str
    """What was done, or what it is about."""
    seen: str
    """The result, as it was written."""
    problems: tuple[str, ...]
    """Why it cannot be read, a sentence each."""

    @property
    def words(self) -> str:
        """What is wrong, in one sentence."""
        return f"{'; '.join(self.problems)}: left out of the reasoning"


class UnreadableCaseError(InputError):
    """A kept case of a weapon that the kit does not have: its lines can be shown, but nothing else."""

    def __init__(self, kept: KeptCase, unknown: UnknownNameError) -> None:
        self.kept = kept
        self.lines = tuple(_unread(entry, ()) for entry in kept.standing)
        super().__init__(seen=unknown.seen, remedy="the case can only be looked at until the kit has that weapon again")


@dataclass(frozen=True)
class KeptReading:
    """What can be read of a kept case."""

    case: Case = field(repr=False)
    numbers: tuple[int, ...]
    """The entry that each trial of the case comes from."""
    last: TrialTable | None
    """The trial whose exchanges and repairs still hold; None once the fencer's own kit is refitted."""
    skipped: tuple[tuple[int, str], ...]
    """(entry, sentence) of every trial that cannot be made now."""
    situation: Situation
    unread: tuple[Unread, ...]
    notices: tuple[Renamed, ...]
    """Former names that were read as today's."""


class _Line(NamedTuple):
    """An entry and the trial it holds."""

    entry: Entry
    table: TrialTable


def kept_reading(kept: KeptCase, overlays: Sequence[Path] = ()) -> KeptReading:
    """Return what can be read of a kept case. Raises UnreadableCaseError where the kit does not have its weapon."""
    lines, unread = _lines(kept)
    try:
        reading = case_reading(_head(kept, [line.table for line in lines]), overlays=overlays, written=_versions(lines))
    except UnknownNameError as unknown:
        raise UnreadableCaseError(kept, unknown) from unknown
    setup, notices = reading.case.setup, dict.fromkeys(reading.case.notices)
    former, item = former_names(overlays), kept.item
    if item and (found := former.renamed("item", item, setup.items, weapon=setup.weapon)):
        notices[found], item = None, found.now
    if item and item not in setup.items:
        unread.append(Unread(None, "on the bench", item, (_gone(item),)))
        item = None
    skipped = []
    for entry in kept.standing:
        if entry.kind is EntryKind.SKIP:
            say = entry.say
            if former.entries:
                known = names_in("trial", setup.weapon, overlays)
                changed = former.renamed("trial", say, known, weapon=setup.weapon, written=entry.names)
                say = changed.now if changed else say
            skipped.append((entry.number, say))
    numbers = tuple(lines[number].entry.number for number in reading.numbers)
    return KeptReading(
        case=reading.case,
        numbers=numbers,
        last=_last(kept, dict(zip(numbers, reading.case.tables, strict=True))),
        skipped=tuple(skipped),
        situation=Situation(mode=Mode(kept.place), item=item, tools=kept.tools),
        unread=tuple(sorted((*unread, *_unread_of(reading.slips, kept, lines)), key=lambda each: each.number or 0)),
        notices=tuple(notices),
    )


def kept_table(kept: KeptCase) -> tuple[CaseTable, list[int | None]]:
    """Return a kept case as a case file writes it, and the version of the names that each trial is written in.

    Trials with keys that no trial has are left out.
    """
    lines, _ = _lines(kept)
    return _head(kept, [line.table for line in lines]), _versions(lines)


def todays_weapon(kept: KeptCase, overlays: Sequence[Path] = ()) -> str:
    """Return what the weapon of a kept case is called today; one that the kit does not have, as it is."""
    former = former_names(overlays)
    found = former.entries and former.renamed("weapon", kept.weapon, names_in("weapon", "", overlays))
    return found.now if found else kept.weapon


def _head(kept: KeptCase, trials: Sequence[TrialTable]) -> CaseTable:
    return CaseTable.model_validate(
        {
            "title": kept.title,
            "weapon": kept.weapon,
            "piste": kept.piste,
            "fencer": kept.fencer,
            "complaint": kept.complaint,
            "source": kept.source,
            "names": kept.entries[0].names if kept.entries else None,
            "known_good": kept.known_good,
            "facts": kept.facts,
            "ending": kept.ending.value if kept.ending else "",
            "ended_with": kept.ended_with,
            "profile": kept.profile,
            "left": kept.fitted.get("left", {}),
            "right": kept.fitted.get("right", {}),
            "expect": kept.expect,
            "trial": tuple(trials),
        }
    )


def _lines(kept: KeptCase) -> tuple[list[_Line], list[Unread]]:
    """Return the trials of a case, and those with keys that no trial has."""
    lines, unread = [], []
    for entry in kept.standing:
        if entry.kind is EntryKind.TRIAL:
            try:
                lines.append(_Line(entry, TrialTable.model_validate(entry.trial)))
            except ValidationError as error:
                keys = dict.fromkeys(str(problem["loc"][0]) for problem in error.errors())
                unread.append(_unread(entry, tuple(f"this line has a “{key}” that cannot be read" for key in keys)))
    return lines, unread


def _versions(lines: Sequence[_Line]) -> list[int | None]:
    return [line.entry.names for line in lines]


def _last(kept: KeptCase, tables: Mapping[int, TrialTable]) -> TrialTable | None:
    for entry in reversed(kept.standing):
        if entry.kind is EntryKind.BACK:
            return None
        if entry.number in tables:
            return tables[entry.number]
    return None


def _unread_of(slips: Sequence[Slip], kept: KeptCase, lines: Sequence[_Line]) -> list[Unread]:
    """Return the lines that slips are in, each once."""
    found: dict[int | str, list[InputError]] = {}
    for slip in slips:
        key = slip.where[1] if slip.where[0] == "trial" else slip.where[0]
        found.setdefault(key, []).append(slip.error)
    unread = []
    for key, errors in found.items():
        problems = tuple(dict.fromkeys(_why(error) for error in errors))
        if isinstance(key, int):
            unread.append(_unread(lines[key].entry, problems))
        else:
            unread.append(Unread(None, OF_THE_HEAD[key], _at_the_top(kept, key), problems))
    return unread


def _at_the_top(kept: KeptCase, key: str) -> str:
    """Return the value of a key at the top of a case, in words."""
    match key:
        case "left" | "right":
            return ", ".join(f"{slot}: {model}" for slot, model in kept.fitted.get(key, {}).items())
        case "known_good":
            return ", ".join(kept.known_good)
        case "facts":
            return ", ".join(kept.facts)
        case "profile":
            return kept.profile or ""
        case _:
            return ", ".join((kept.expect or {}).get("parts", ()))


def _why(error: InputError) -> str:
    return _gone(error.name) if isinstance(error, UnknownNameError) else f"this line is impossible with this kit ({error.seen})"


def _gone(name: str) -> str:
    return f"this line names “{name}”, which the kit no longer has"


def _unread(entry: Entry, problems: tuple[str, ...]) -> Unread:
    said = [_words(entry.trial[key]) for key in ("saw", "found", "reads", "lights") if entry.trial.get(key)]
    return Unread(entry.number, entry.say, ", ".join(said), problems)


def _words(value: Any) -> str:  # noqa: ANN401 — JSON as it was kept
    return ", ".join(str(each) for each in value) if isinstance(value, list | tuple) else str(value)
