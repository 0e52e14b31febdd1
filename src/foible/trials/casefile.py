"""The case file: a named list of trials, read with all its problems at once, and written back."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from pydantic import Field

from foible.apparatus import load_profile
from foible.errors import InputError, Problem, ProblemsError, UnknownNameError
from foible.kit import load_setup
from foible.tomlfile import Strict, line_of, read_model, read_table, toml_lines
from foible.trials.read import TrialTable, read_trial

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from foible.apparatus import Profile
    from foible.kit import Setup
    from foible.trials.trial import Trial

    Complain = Callable[[tuple[str | int, ...], InputError], None]

__all__ = ["Case", "CaseTable", "Expected", "case_text", "made_case", "read_case"]


class ExpectTable(Strict):
    """The known cause of a case."""

    parts: tuple[str, ...] = ()
    note: str = ""
    unexplained: str = ""


class CaseTable(Strict):
    """A case file as it is written; docs/case-file.md explains the keys."""

    title: str = ""
    weapon: str
    complaint: str = ""
    source: str = ""
    known_good: tuple[str, ...] = ()
    profile: str | None = None
    left: dict[str, str] = Field(default_factory=dict)
    right: dict[str, str] = Field(default_factory=dict)
    expect: ExpectTable | None = None
    trial: tuple[TrialTable, ...] = Field(())


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
    trials: tuple[Trial, ...]
    tables: tuple[TrialTable, ...] = field(repr=False)
    """The trials as the file writes them."""
    expected: Expected | None


def read_case(path: Path, *, overlays: Sequence[Path] = (), allow_empty: bool = False) -> Case:
    """Return the case in a file.

    `overlays` are folders with further kit files; `allow_empty` accepts a case without trials, to be filled in.
    Raises ProblemsError with every problem of the file.
    """
    table = read_model(CaseTable, path)
    _, text = read_table(path)
    lines = toml_lines(text)
    return made_case(table, overlays=overlays, allow_empty=allow_empty, name=str(path), line=lambda where: line_of(lines, where))


def made_case(
    table: CaseTable,
    *,
    overlays: Sequence[Path] = (),
    allow_empty: bool = True,
    name: str = "the case",
    line: Callable[[tuple[str | int, ...]], int | None] = lambda _: None,
) -> Case:
    """Return the case that a table describes; `name` and `line` tell where a problem stands. Raises ProblemsError with all."""
    problems: list[Problem] = []

    def complain(where: tuple[str | int, ...], error: InputError) -> None:
        problems.append(Problem(name, line(where), error.seen, error.remedy))

    try:
        setup = load_setup(table.weapon, fitted={"left": table.left, "right": table.right}, overlays=overlays)
    except UnknownNameError as unknown:
        complain(_named_at(table, unknown.name), unknown)
        raise ProblemsError(problems) from unknown
    trials = []
    for number, trial_table in enumerate(table.trial):
        trial, wrong = read_trial(setup, trial_table)
        trials.append(trial)
        for key, error in wrong:
            complain(("trial", number, key), error)
    profile = _profile(table, setup, overlays, complain)
    good = _names(table.known_good, setup.items.name, ("known_good",), complain)
    expected = None
    if table.expect:
        parts = _names(table.expect.parts, setup.parts.name, ("expect", "parts"), complain)
        items = frozenset(setup.parts[part].item for part in parts)
        expected = Expected(parts, items, table.expect.note, table.expect.unexplained)
    if not table.trial and not allow_empty:
        seen = "the case has no trials"
        problems.append(Problem(name, None, seen, "add a [[trial]] with saw = …, or start it with `foible ask`"))
    if problems or profile is None:
        raise ProblemsError(problems)
    fitted = tuple(
        (side, slot, model) for side, slots in (("left", table.left), ("right", table.right)) for slot, model in slots.items()
    )
    return Case(
        title=table.title,
        complaint=table.complaint,
        source=table.source,
        setup=setup,
        profile=profile,
        fitted=fitted,
        known_good=good,
        trials=tuple(trials),
        tables=table.trial,
        expected=expected,
    )


def _profile(table: CaseTable, setup: Setup, overlays: Sequence[Path], complain: Complain) -> Profile | None:
    """Return the rule profile that a case is judged by, or None after a complaint."""
    try:
        profile = load_profile(table.profile or setup.profile, overlays)
    except InputError as error:
        complain(("profile",), error)
        return None
    if profile.kind.lamps and profile.weapon != setup.weapon:
        remedy = f"name one for {setup.weapon}; an apparatus set wrongly is found as a failure"
        complain(("profile",), InputError(seen=f"the profile “{profile.name}” is for {profile.weapon}", remedy=remedy))
    return profile


def _named_at(table: CaseTable, name: str) -> tuple[str | int, ...]:
    """Return where a case names its weapon, or what is fitted, by the name that is not known."""
    for side, slots in (("left", table.left), ("right", table.right)):
        for slot, model in slots.items():
            if name in (slot, model):
                return (side, slot)
    return ("weapon",)


def _names(given: Sequence[str], read: Callable[[str], str], where: tuple[str | int, ...], complain: Complain) -> tuple[str, ...]:
    """Return `given` as the kit spells it, complaining about each unknown name."""
    names = []
    for name in given:
        try:
            names.append(read(name))
        except InputError as error:
            complain(where, error)
    return tuple(names)


def case_text(head: Mapping[str, object], trials: Sequence[Mapping[str, object]]) -> str:
    """Return the text of a case file with `head` keys and one table per trial, in the order given."""
    blocks = ["\n".join(f"{key} = {_value(value)}" for key, value in head.items() if value and not isinstance(value, dict))]
    for key, value in head.items():
        if value and isinstance(value, dict):
            blocks.append("\n".join([f"[{key}]", *(f"{k} = {_value(v)}" for k, v in value.items())]))
    blocks += ["\n".join(["[[trial]]", *(f"{k} = {_value(v)}" for k, v in trial.items() if v)]) for trial in trials]
    return "\n\n".join(blocks) + "\n"


def _value(value: object) -> str:
    if isinstance(value, list | tuple):
        return f"[{', '.join(_value(entry) for entry in value)}]"
    if isinstance(value, int):
        return str(value)
    return f'"{"".join(_character(c) for c in str(value))}"'


def _character(c: str) -> str:
    """Return a character as TOML writes it inside quotes."""
    if c in '"\\':
        return f"\\{c}"
    return c if c.isprintable() else f"\\U{ord(c):08x}"
