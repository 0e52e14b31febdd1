"""Making up new: kinds of job that are steps with measured checks, as data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from foible.errors import UnknownNameError
from foible.services.register.kinds import DATA
from foible.tomlfile import Strict, read_model

__all__ = ["CHECK", "MEND", "Making", "Step", "job_kinds", "making_named"]

MEND, CHECK = "mend", "check"
"""Kinds of job without steps of their own."""


class StepTable(Strict):
    """One step as the file writes it."""

    say: str
    measure: str = ""
    lines: tuple[str, ...] = ()
    weapons: tuple[str, ...] = ()


class MakingTable(Strict):
    """One kind of job as the file writes it."""

    name: str
    words: str
    kind: str
    weapons: tuple[str, ...]
    cautions: tuple[str, ...] = ()
    step: tuple[StepTable, ...]


class _MakingFile(Strict):
    making: tuple[MakingTable, ...]


@dataclass(frozen=True)
class Step:
    """A step of making up. With `measure` it ends with a value of that quantity, of each of `lines` where there are some."""

    say: str
    measure: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Making:
    """How something is made up new."""

    name: str
    words: str
    cautions: tuple[str, ...]
    steps: tuple[Step, ...]


@lru_cache
def _tables() -> tuple[MakingTable, ...]:
    return read_model(_MakingFile, DATA / "making-up.toml").making


def job_kinds(kind: str, weapon: str | None) -> dict[str, str]:
    """Return the kinds of job that there are for an item, each with what screens call it."""
    made = {each.name: each.words for each in _tables() if each.kind == kind and weapon in each.weapons}
    return {MEND: "mend it", CHECK: "check it"} | made


def making_named(name: str, kind: str, weapon: str | None) -> Making | None:
    """Return the steps of a kind of job on an item; None where it has none. Raises UnknownNameError."""
    known = job_kinds(kind, weapon)
    if name not in known:
        raise UnknownNameError(what=f"kind of job for the {kind}", name=name, known=known, all_named=True)
    table = next((each for each in _tables() if (each.name, each.kind) == (name, kind) and weapon in each.weapons), None)
    if table is None:
        return None
    steps = tuple(Step(s.say, s.measure, s.lines) for s in table.step if not s.weapons or weapon in s.weapons)
    return Making(table.name, table.words, table.cautions, steps)
