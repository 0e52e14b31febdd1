"""The weapons there are: files of `weapons/` in, values by name or by the word in addresses out."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from string import Formatter
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.kit.folders import KitFolders, Read
from foible.kit.names import SIDES, plain
from foible.kit.weapon import Condition, Measurement, Sentence, Weapon, WeaponLamp
from foible.tomlfile import Strict

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

__all__ = ["all_weapons", "default_weapon", "weapon_at", "weapon_names"]

LAMP_STATES = ("lit", "perhaps lit", "dark")
WAY_STATES = ("joined", "cut", "cut by the press", "apart")
MEASURED_STATES = ("open", "closed", "perhaps open", "perhaps closed", *WAY_STATES)
LAMP_FIELDS = ("chance", "name", "perhaps")
MEASURED_FIELDS = ("measured", "opened", "way", "cuts", "doubt")
SIDE_FIELDS = ("side", "opponent")
GROUPS = {"white": ("hit", "control"), "coloured": ("hit",), "yellow": ("earth",)}
"""The group of each kind of lamp: what a report says of white and coloured is read as one answer."""

Input = Literal["A", "B", "C", "opponent A", "opponent B", "opponent C", "piste"]
Inputs = Annotated[
    tuple[Input, ...], Field(min_length=1), BeforeValidator(lambda given: (given,) if isinstance(given, str) else given)
]


class _Head(Strict):
    name: str
    default: bool = False


class _MeasurementTable(Strict):
    name: str
    from_: Inputs = Field(alias="from")
    to: Inputs
    instead_of: str | None = None
    when_opponent: str | None = None

    @model_validator(mode="after")
    def _has_two_ends(self) -> Self:
        if (self.instead_of is None) != (self.when_opponent is None):
            msg = "instead_of and when_opponent go together"
            raise ValueError(msg)
        if set(self.from_) & set(self.to):
            msg = "an input is at both ends"
            raise ValueError(msg)
        return self


class _LampTable(Strict):
    kind: Literal["white", "coloured", "yellow"]
    word: str | None = None
    names: dict[Literal["left", "right"], str] = Field(default_factory=dict)
    group: Literal["hit", "control", "earth"]
    optional: bool = False
    lights: Annotated[tuple[str, ...], Field(min_length=1)]
    blocked_when: str | None = None
    blocked: Annotated[float, Field(ge=0, le=1)] = 0.0

    @model_validator(mode="after")
    def _group_is_that_of_its_kind(self) -> Self:
        if self.group not in GROUPS[self.kind]:
            msg = f"reports of a {self.kind} lamp are read in the group “{'” or “'.join(GROUPS[self.kind])}”"
            raise ValueError(msg)
        if (self.blocked_when is None) != (self.blocked == 0):
            msg = "blocked_when and blocked go together"
            raise ValueError(msg)
        return self

    def lamp(self, lights: tuple[Condition, ...], blocked_when: Condition | None) -> WeaponLamp:
        word = self.word or self.kind
        names = {side: self.names.get(side, word) for side in SIDES}  # type: ignore[call-overload]
        return WeaponLamp(self.kind, word, names, self.group, self.optional, lights, blocked_when, self.blocked)


class _SentenceTable(Strict):
    about: str
    when: tuple[str, ...] = ()
    say: str


class _WeaponFile(Strict):
    weapon: _Head
    measurement: Annotated[tuple[_MeasurementTable, ...], Field(min_length=1)]
    lamp: Annotated[tuple[_LampTable, ...], Field(min_length=1)]
    sentence: tuple[_SentenceTable, ...] = ()


def all_weapons(overlays: Sequence[Path] = ()) -> tuple[Weapon, ...]:
    """Return every weapon, the default one first; `overlays` are folders with further kit files.

    Raises ProblemsError with all problems of the files.
    """
    return _loaded(tuple(overlays), KitFolders(overlays).stamp())


def weapon_names(overlays: Sequence[Path] = ()) -> tuple[str, ...]:
    """Return the names of all weapons, the default one first."""
    return tuple(weapon.name for weapon in all_weapons(overlays))


def default_weapon(overlays: Sequence[Path] = ()) -> Weapon:
    """Return the weapon that is meant where nobody says which."""
    return all_weapons(overlays)[0]


def weapon_at(name: str, overlays: Sequence[Path] = ()) -> Weapon:
    """Return a weapon by its name or its word in addresses, capitals and accents aside. Raises UnknownNameError."""
    weapons = all_weapons(overlays)
    found = next((weapon for weapon in weapons if plain(name) in (plain(weapon.name), weapon.word)), None)
    if found is None:
        raise UnknownNameError(what="weapon", name=name, known=[weapon.name for weapon in weapons], all_named=True)
    return found


@lru_cache(maxsize=16)
def _loaded(overlays: tuple[Path, ...], stamp: object) -> tuple[Weapon, ...]:
    """Return the weapons, read anew only where the files laid over the kit have changed, which `stamp` tells."""
    del stamp
    folders = KitFolders(overlays)
    reads = {word: folders.read(_WeaponFile, "weapons", word) for word in folders.names("weapons")}
    problems = [problem for word, read in reads.items() for problem in _problems(word, read)]
    defaults = [read for read in reads.values() if read.data.weapon.default]
    problems += [
        read.problem(("weapon", "default"), "another weapon is the default already", "keep default = true in only one of them")
        for read in defaults[1:]
    ]
    if not defaults:
        problems.append(Problem("weapons/", None, "no weapon is the default", "add default = true to the [weapon] of one file"))
    if problems:
        raise ProblemsError(problems)
    order = sorted(reads, key=lambda word: (not reads[word].data.weapon.default, word))
    return tuple(_weapon(word, reads[word].data) for word in order)


def _weapon(word: str, data: _WeaponFile) -> Weapon:
    subjects = [*(table.name for table in data.measurement), *(table.kind for table in data.lamp)]

    def conditions(*texts: str) -> tuple[Condition, ...]:
        return tuple(_condition(text, subjects) for text in texts)

    return Weapon(
        name=data.weapon.name,
        word=word,
        measurements=tuple(
            Measurement(
                table.name,
                table.from_,
                table.to,
                table.instead_of,
                _condition(table.when_opponent, subjects) if table.when_opponent else None,
            )
            for table in data.measurement
        ),
        lamps=tuple(
            table.lamp(conditions(*table.lights), _condition(table.blocked_when, subjects) if table.blocked_when else None)
            for table in data.lamp
        ),
        sentences=tuple(Sentence(table.about, conditions(*table.when), table.say) for table in data.sentence),
    )


def _condition(text: str, subjects: Sequence[str]) -> Condition:
    """Return “loop open” as what must be how; the longest subject that it begins with counts, and "" where none does."""
    of = max((name for name in subjects if text.startswith(f"{name} ")), key=len, default="")
    return Condition(of, text[len(of) :].strip())


# --- what can be wrong with a file ------------------------------------------------------------------------------------


def _problems(word: str, read: Read[_WeaponFile]) -> Iterator[Problem]:
    """Yield what the tables of a file say of one another that cannot be."""
    data = read.data
    if plain(data.weapon.name) != word:
        right = f"{plain(data.weapon.name)}.toml"
        yield read.problem(("weapon", "name"), f"the weapon “{data.weapon.name}” is in {word}.toml", f"rename the file {right}")
    listed: dict[str, list[str]] = {
        "measurement": [table.name for table in data.measurement],
        "lamp": [table.kind for table in data.lamp],
    }
    for key, names in listed.items():
        for name in (name for name, count in Counter(names).items() if count > 1):
            number = len(names) - 1 - names[::-1].index(name)
            yield read.problem((key, number), f"“{name}” is defined twice", "give each its own name, or remove one")
    measured = {table.name for table in data.measurement if table.instead_of is None}
    for number, table in enumerate(data.measurement):
        if table.instead_of is not None and table.instead_of not in measured:
            seen = f"“{table.instead_of}” is not a measurement that another can replace"
            yield read.problem(("measurement", number, "instead_of"), seen, f"name one of {', '.join(sorted(measured))}")
    for number, second in enumerate(data.lamp):
        for first in data.lamp[:number]:
            if first.group == second.group and first.kind != second.kind and not _exclude_each_other(first, second):
                seen = f"{first.kind} and {second.kind} could light together, but belong to one group"
                yield read.problem(("lamp", number, "lights"), seen, "let one require open where the other requires closed")
    yield from _condition_problems(read, measured)
    yield from _field_problems(read)


def _exclude_each_other(first: _LampTable, second: _LampTable) -> bool:
    """Return whether one asks for a measurement to be open that the other asks to be closed."""
    opposite = {"open": "closed", "closed": "open"}
    asked = (text.rpartition(" ") for text in first.lights)
    return any(f"{name} {opposite.get(state)}" in second.lights for name, _, state in asked)


def _condition_problems(read: Read[_WeaponFile], measured: set[str]) -> Iterator[Problem]:
    data = read.data
    sayable: dict[str, tuple[str, ...]] = {
        **{each.name: MEASURED_STATES if each.instead_of is None else ("stands in", *WAY_STATES) for each in data.measurement},
        **{each.kind: LAMP_STATES for each in data.lamp},
    }
    judged: dict[str, tuple[str, ...]] = dict.fromkeys(sorted(measured), ("open", "closed"))
    asked: list[tuple[tuple[str, int, str], str, dict[str, tuple[str, ...]]]] = [
        *((("lamp", i, "lights"), text, judged) for i, table in enumerate(data.lamp) for text in table.lights),
        *((("lamp", i, "blocked_when"), table.blocked_when, judged) for i, table in enumerate(data.lamp) if table.blocked_when),
        *(
            (("measurement", i, "when_opponent"), table.when_opponent, judged)
            for i, table in enumerate(data.measurement)
            if table.when_opponent
        ),
        *((("sentence", i, "when"), text, sayable) for i, table in enumerate(data.sentence) for text in table.when),
    ]
    for where, text, states in asked:
        condition = _condition(text, list(states))
        if condition.state not in states.get(condition.of, ()):
            known = " · ".join(f"{name} {'|'.join(each)}" for name, each in states.items())
            yield read.problem(where, f"“{text}” is not a condition", f"use one of {known}")


def _field_problems(read: Read[_WeaponFile]) -> Iterator[Problem]:
    data = read.data
    known = {*SIDE_FIELDS}
    known |= {f"{table.name}.{field}" for table in data.measurement for field in MEASURED_FIELDS}
    known |= {f"{table.kind}.{field}" for table in data.lamp for field in LAMP_FIELDS}
    for number, table in enumerate(data.sentence):
        where = ("sentence", number, "say")
        try:
            fields = [field for _, field, _, _ in Formatter().parse(table.say) if field is not None]
        except ValueError as error:
            yield read.problem(where, f"the braces do not match ({error})", "write each field as {name}")
            continue
        for field in fields:
            if field not in known:
                yield read.problem(where, f"there is no field “{{{field}}}”", f"use one of {', '.join(sorted(known))}")
