"""Rule profiles: a name in; out the resistance from which a circuit counts as open, with the gaps that the rules leave."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Self

import numpy as np
from pydantic import ConfigDict, Field, model_validator

from foible.apparatus.timing import Window
from foible.errors import ProblemsError, UnknownNameError
from foible.kit import Weapon, all_weapons
from foible.kit.folders import Read
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

__all__ = ["Gap", "Profile", "load_profile", "profile_names"]

NO_WEAPON = Weapon(name="none", word="none")
"""Stands for the weapon of an apparatus that shows nothing."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Closed for sure up to `closed_to` [Ω], open for sure from `open_from` [Ω], either in between."""

    closed_to: float
    open_from: float

    def chance_open(self, ohms: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the probability that each resistance [Ω] counts as open; same shape.

        The threshold is taken as log-uniform over the gap, so the probability rises with log(ohms).
        """
        width = math.log(self.open_from / self.closed_to)
        with np.errstate(divide="ignore"):
            return np.asarray(np.clip(np.log(ohms / self.closed_to) / width, 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Profile:
    """How an apparatus judges the resistances it measures."""

    name: str
    kind: Weapon
    """The weapon that it is for; one without lamps where it shows nothing."""
    title: str
    anti_blocking: bool
    gaps: tuple[tuple[str, Gap], ...]
    times: tuple[tuple[str, Window], ...] = ()
    """Windows by name: `break`, `contact`, `block`."""

    @property
    def weapon(self) -> str:
        """The name of the weapon that it is for; “none” where it shows nothing."""
        return self.kind.name

    def time(self, name: str) -> Window:
        """Return a window; KeyError where the weapon has no such thing."""
        return dict(self.times)[name]

    def gap(self, name: str) -> Gap:
        """Return the gap of a measurement, such as `loop`; KeyError where the weapon has no such thing."""
        return dict(self.gaps)[name]


class _Head(Strict):
    name: str
    weapon: str
    title: str
    anti_blocking: bool = False


class _GapTable(Strict):
    closed_to: float = Field(gt=0)
    kit: float = Field(ge=0)
    open_from: float
    clause: str

    @model_validator(mode="after")
    def _gap_is_a_gap(self) -> Self:
        if self.open_from <= self.closed_to + self.kit:
            msg = f"open_from must lie above closed_to + kit = {self.closed_to + self.kit:g} Ω"
            raise ValueError(msg)
        return self

    def gap(self) -> Gap:
        return Gap(self.closed_to + self.kit, self.open_from)


class _WindowTable(Strict):
    begins: float = Field(ge=0)
    ends: float = Field(ge=0)
    what: str
    clause: str

    @model_validator(mode="after")
    def _window_is_a_window(self) -> Self:
        if self.ends < self.begins:
            msg = "a window must end after it begins"
            raise ValueError(msg)
        return self


class _ProfileFile(Strict):
    """A profile: its head, its times, and a table with limits for each measurement of its weapon."""

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, _GapTable]

    profile: _Head
    time: dict[str, _WindowTable] = Field(default_factory=dict)

    def gaps(self) -> dict[str, Gap]:
        return {name: table.gap() for name, table in (self.model_extra or {}).items()}


def _folders(overlays: Sequence[Path]) -> list[Path]:
    return [Path(str(files("foible.apparatus") / "data")), *(folder / "profiles" for folder in overlays)]


def profile_names(overlays: Sequence[Path] = ()) -> list[str]:
    """Return the names of all profiles."""
    return sorted({path.stem for folder in _folders(overlays) for path in folder.glob("*.toml")})


def load_profile(name: str, overlays: Sequence[Path] = ()) -> Profile:
    """Return a profile by name; `overlays` are kit folders whose `profiles/` is looked at first."""
    return _read(name, tuple(overlays)) if overlays else _shipped(name)


@lru_cache
def _shipped(name: str) -> Profile:
    """Return a profile of Foible's own, read once."""
    return _read(name, ())


def _read(name: str, overlays: tuple[Path, ...]) -> Profile:
    for folder in reversed(_folders(overlays)):
        path = folder / f"{name}.toml"
        if name in profile_names(overlays) and path.is_file():
            return _profile(Read(path, read_model(_ProfileFile, path)), overlays)
    raise UnknownNameError(what="rule profile", name=name, known=profile_names(overlays))


def _profile(read: Read[_ProfileFile], overlays: tuple[Path, ...]) -> Profile:
    """Return the profile in a file, or raise ProblemsError where its tables are not those of its weapon."""
    head, gaps = read.data.profile, read.data.gaps()
    weapons = {weapon.name: weapon for weapon in (*all_weapons(overlays), NO_WEAPON)}
    if head.weapon not in weapons:
        seen = f"there is no weapon called “{head.weapon}”"
        raise ProblemsError([read.problem(("profile", "weapon"), seen, f"name one of {', '.join(weapons)}")])
    kind = weapons[head.weapon]
    needed = [each.name for each in kind.measurements if each.instead_of is None]
    problems = [read.problem(("profile",), f"the table [{name}] is missing", "add it") for name in needed if name not in gaps]
    problems += [
        read.problem((name,), f"[{name}] is not a measurement at {kind.name}", f"it has {', '.join(needed) or 'none'}")
        for name in gaps
        if name not in needed
    ]
    if problems:
        raise ProblemsError(problems)
    times = tuple((key, Window(**table.model_dump())) for key, table in read.data.time.items())
    return Profile(head.name, kind, head.title, head.anti_blocking, tuple((name, gaps[name]) for name in needed), times)
