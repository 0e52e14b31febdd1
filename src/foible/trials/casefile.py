"""A case file or its table in; the case out, or every problem in it at once."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from foible.apparatus import load_profile
from foible.endings import ending_named
from foible.errors import InputError, Problem, ProblemsError, UnknownNameError
from foible.facts import ORANGE_LAMPS, facts_named
from foible.kit import SIDES, load_setup
from foible.tomlfile import LARGEST_FILE, file_bytes, line_of, parsed_model, toml_lines
from foible.trials.casetable import CaseTable
from foible.trials.complaints import with_unsaid
from foible.trials.known import former_names
from foible.trials.read import read_trial
from foible.trials.renaming import todays_head, todays_names, todays_trial
from foible.trials.seen import speaks_of_earth

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from foible.apparatus import Profile
    from foible.kit import Renamed, Setup
    from foible.trials.read import TrialTable
    from foible.trials.trial import Trial

    Where = tuple[str | int, ...]
    Complain = Callable[[Where, InputError], None]

__all__ = [
    "LARGEST_CASE",
    "Case",
    "CaseReading",
    "Expected",
    "ParsedCase",
    "Slip",
    "case_reading",
    "file_bytes",
    "made_case",
    "parsed_case",
    "read_case",
]

LARGEST_CASE = LARGEST_FILE
"""The largest case file [bytes]."""


@dataclass(frozen=True)
class Expected:
    """The known cause: any of `parts` is right; `unexplained` says why the model cannot express it."""

    parts: tuple[str, ...]
    items: frozenset[str]
    note: str
    unexplained: str


@dataclass(frozen=True)
class Case:
    """A case ready for reasoning."""

    title: str
    complaint: str
    source: str
    setup: Setup = field(repr=False)
    profile: Profile = field(repr=False)
    fitted: tuple[tuple[str, str, str], ...]
    """(side, slot, model) for everything that is not fitted as usual."""
    known_good: tuple[str, ...]
    facts: tuple[str, ...]
    """What is known of the place and the kit, as `kit.FACTS` names it."""
    trials: tuple[Trial, ...]
    tables: tuple[TrialTable, ...] = field(repr=False)
    """The trials as a file writes them, in today's names."""
    expected: Expected | None
    notices: tuple[Renamed, ...] = ()
    """Former names that were read as today's."""


@dataclass(frozen=True)
class Slip:
    """Something in a case that cannot be read, and where: keys and numbers, counted from 0."""

    where: Where
    error: InputError


class ParsedCase(NamedTuple):
    """A case file, read."""

    table: CaseTable
    """The file as it is written."""
    case: Case
    line: Callable[[Where], int | None]
    """Returns the line that a key is on."""


@dataclass(frozen=True)
class CaseReading:
    """What can be read of a case, and what cannot."""

    case: Case
    table: CaseTable = field(repr=False)
    """The case as it was written, names at its top those of today, without what cannot be fitted."""
    numbers: tuple[int, ...]
    """Where each trial of `case` stands among those of the table, from 0."""
    slips: tuple[Slip, ...]


def read_case(path: Path, *, overlays: Sequence[Path] = (), allow_empty: bool = False) -> Case:
    """Return the case in a file.

    `overlays` are folders with further kit files; `allow_empty` accepts a case without trials, to be filled in.
    Raises ProblemsError with every problem of the file.
    """
    return parsed_case(file_bytes(path), name=str(path), overlays=overlays, allow_empty=allow_empty).case


def parsed_case(raw: bytes, *, name: str, overlays: Sequence[Path] = (), allow_empty: bool = False) -> ParsedCase:
    """Return what the bytes of a case file hold; `name` is what messages call the file.

    Raises ProblemsError with every problem of the file.
    """
    table, text = parsed_model(CaseTable, raw, name=name)
    line = partial(line_of, toml_lines(text))
    return ParsedCase(table, made_case(table, overlays=overlays, allow_empty=allow_empty, name=name, line=line), line)


def made_case(
    table: CaseTable,
    *,
    overlays: Sequence[Path] = (),
    allow_empty: bool = True,
    name: str = "the case",
    line: Callable[[Where], int | None] = lambda _: None,
) -> Case:
    """Return the case that a table describes; `name` and `line` locate a problem. Raises ProblemsError with all."""
    try:
        reading = case_reading(table, overlays=overlays)
    except UnknownNameError as unknown:
        raise ProblemsError([Problem(name, line(("weapon",)), unknown.seen, unknown.remedy)]) from unknown
    fitting = [slip for slip in reading.slips if slip.where[0] in SIDES]  # with other models, other names would be known
    problems = [Problem(name, line(slip.where), slip.error.seen, slip.error.remedy) for slip in fitting or reading.slips]
    if not table.trial and not allow_empty:
        seen = "the case has no trials"
        problems.append(Problem(name, None, seen, "add a [[trial]] with saw = …, or start it with `foible ask`"))
    if problems:
        raise ProblemsError(problems)
    return reading.case


def case_reading(table: CaseTable, *, overlays: Sequence[Path] = (), written: Sequence[int | None] | None = None) -> CaseReading:
    """Return what can be read of a case, in today's names, and what cannot.

    `written` gives the version of the names that each trial is written in; without it, it is that of the whole table. What is
    not known is left out: a trial, a model that is fitted, an item that is known to be good, a part of the known cause; for a
    rule profile the usual one stands in. Raises UnknownNameError where there is no such weapon.
    """
    former = former_names(overlays)
    table, notices = todays_head(table, former, overlays, written=table.names)
    setup, table, slips = _fitted(table, overlays)
    table, more = todays_names(table, setup, former, written=table.names)
    found = dict.fromkeys((*notices, *more))

    def complain(where: Where, error: InputError) -> None:
        slips.append(Slip(where, error))

    todays = [
        todays_trial(trial, setup, former, written=version)
        for trial, version in zip(table.trial, written or [table.names] * len(table.trial), strict=True)
    ]
    found |= dict.fromkeys(renamed for _, of_trial in todays for renamed in of_trial)
    facts = facts_named(_names(table.facts, lambda name: facts_named([name])[0], ("facts",), complain))
    lamps = (*facts, ORANGE_LAMPS) if any(speaks_of_earth(trial.saw) for trial, _ in todays) else facts
    _names([table.ending] if table.ending else [], lambda name: ending_named(name).value, ("ending",), complain)
    read = dict(_readable([trial for trial, _ in todays], setup, lamps, complain))
    case = Case(
        title=table.title,
        complaint=table.complaint,
        source=table.source,
        setup=setup,
        profile=_profile(table, setup, overlays, complain),
        fitted=tuple((side, slot, model) for side in SIDES for slot, model in getattr(table, side).items()),
        known_good=_names(table.known_good, setup.items.name, ("known_good",), complain),
        facts=facts,
        trials=with_unsaid(setup, table.complaint, tuple(read.values())),
        tables=tuple(todays[number][0] for number in read),
        expected=_expected(table, setup, complain),
        notices=tuple(found),
    )
    return CaseReading(case, table, tuple(read), tuple(slips))


def _readable(
    tables: Sequence[TrialTable], setup: Setup, facts: Sequence[str], complain: Complain
) -> Iterator[tuple[int, Trial]]:
    """Yield the trials that can be read, each with its number from 0, and complain of what is wrong with the others."""
    for number, table in enumerate(tables):
        trial, wrong = read_trial(setup, table, facts=facts)
        for key, error in wrong:
            complain(("trial", number, key), error)
        if not wrong:
            yield number, trial


def _expected(table: CaseTable, setup: Setup, complain: Complain) -> Expected | None:
    """Return the known cause of a case; None where the case does not give it."""
    if not table.expect:
        return None
    parts = _names(table.expect.parts, setup.parts.name, ("expect", "parts"), complain)
    items = frozenset(setup.parts[part].item for part in parts)
    return Expected(parts, items, table.expect.note, table.expect.unexplained)


def _fitted(table: CaseTable, overlays: Sequence[Path]) -> tuple[Setup, CaseTable, list[Slip]]:
    """Return the set-up that a case asks for, the case without what cannot be fitted, and what that is."""
    slips: list[Slip] = []
    while True:
        try:
            setup = load_setup(table.weapon, fitted={side: getattr(table, side) for side in SIDES}, overlays=overlays)
        except UnknownNameError as unknown:
            where = _named_at(table, unknown.name)
            if where is None:
                raise
            slips.append(Slip(where, unknown))
            side, wrong = where
            fitting = {slot: model for slot, model in getattr(table, side).items() if slot != wrong}
            table = table.model_copy(update={side: fitting})
        except ProblemsError as error:  # of the kit's own files, or of a model that is made for another slot
            unfit = [(side, slot) for side in SIDES for slot in getattr(table, side)]
            if not unfit:
                raise
            remedy = f"name another model; {error.problems[0]}"
            slips += [Slip(where, InputError(seen=f"this {where[1]} does not fit", remedy=remedy)) for where in unfit]
            table = table.model_copy(update={side: {} for side in SIDES})
        else:
            return setup, table, slips


def _profile(table: CaseTable, setup: Setup, overlays: Sequence[Path], complain: Complain) -> Profile:
    """Return the rule profile that a case follows; after a complaint, the usual one."""
    usual = load_profile(setup.profile, overlays)
    try:
        profile = load_profile(table.profile or setup.profile, overlays)
    except InputError as error:
        complain(("profile",), error)
        return usual
    if profile.kind.lamps and profile.weapon != setup.weapon:
        remedy = f"name one for {setup.weapon}; an apparatus set wrongly is found as a failure"
        complain(("profile",), InputError(seen=f"the profile “{profile.name}” is for {profile.weapon}", remedy=remedy))
        return usual
    return profile


def _named_at(table: CaseTable, name: str) -> tuple[str, str] | None:
    """Return where a case names an unknown model; None where it is the weapon that is unknown."""
    for side in SIDES:
        for slot, model in getattr(table, side).items():
            if name in (slot, model):
                return (side, slot)
    return None


def _names(given: Sequence[str], read: Callable[[str], str], where: Where, complain: Complain) -> tuple[str, ...]:
    """Return `given` as the kit spells it, complaining about each unknown name."""
    names = []
    for name in given:
        try:
            names.append(read(name))
        except InputError as error:
            complain(where, error)
    return tuple(names)
