"""A weapon's set-up and the facts of a place in; the trials that two people with two good weapons can make on a strip out.

The trials are data (`data/morning/`): those that hold something and watch the lamps, by weapon; movements and looks, for all. A
trial that holds something can be made with any of the movements, so each of them stands for several trials.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import Field

from foible.errors import Problem, ProblemsError
from foible.facts import METAL_PISTE
from foible.kit import SIDES, filled, side_words
from foible.tomlfile import Strict, Words, read_model
from foible.trials import Idea, TrialTable, read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.kit import Setup

__all__ = ["MEANWHILE", "StripTrials", "strip_trials"]

SHIPPED = Path(str(files("foible.services.control") / "data" / "morning"))
PISTE = "piste"
MEANWHILE = "; meanwhile "
"""Between what is held and what is moved, in the sentence of a trial."""


class _HoldTable(Strict):
    """A trial in which something is held and lamps are watched; “{side}” stands for both sides."""

    say: str
    seconds: float = Field(gt=0)
    once: bool = False
    press: str | None = None
    cut: str | None = None
    on: str | None = None
    touching: Words = ()
    unplugged: Words = ()


class _MoveTable(Strict):
    """A movement during a trial."""

    say: str
    seconds: float = Field(gt=0)
    move: Words
    source: str


class _LookTable(Strict):
    """Something looked at or felt."""

    say: str
    seconds: float = Field(gt=0)
    once: bool = False
    examine: Words


class _StripFile(Strict):
    """What holds for every weapon."""

    tested: Words
    brought: Words
    move: tuple[_MoveTable, ...]
    look: tuple[_LookTable, ...]


class _WeaponFile(Strict):
    """The trials of one weapon."""

    trial: tuple[_HoldTable, ...]


@dataclass(frozen=True)
class StripTrials:
    """What can be tried on a strip in the morning, and what is in question."""

    ideas: tuple[Idea, ...]
    """Every trial, movements in it; at rest first."""
    still: frozenset[str]
    """The sentences of those in which nothing is moved."""
    tested: tuple[str, ...]
    """The items that may have failed."""
    brought: tuple[str, ...]
    """The other items of the set-up, which the two bring and know to be good, or which are not there."""


def strip_trials(setup: Setup, facts: Sequence[str]) -> StripTrials:
    """Return the trials of a set-up's weapon in a place. Raises ProblemsError for slips in the files."""
    shared = _shared()
    name = SHIPPED / f"{setup.kind.word}.toml"
    own = _own(name)
    kinds = {kind for kind in shared.tested if kind != PISTE or METAL_PISTE in facts}
    tested = tuple(item.id for item in setup.items.values() if item.kind in kinds)
    brought = tuple(item.id for item in setup.items.values() if item.id not in tested)
    moves = [table for table in shared.move if all(m not in setup.movements or setup.movements[m] in tested for m in table.move)]
    holds = [(filled_, side) for table in own.trial for filled_, side in _sided(table)]
    ideas, still = [], set()
    for table, side in holds:
        if not _about(table, PISTE) or PISTE in kinds:
            idea = _idea(setup, name, table, side, None)
            still.add(idea.say)
            ideas.append(idea)
            ideas += [_idea(setup, name, table, side, move) for move in moves]
    looks = [look for look in shared.look if PISTE in kinds or not any(part.startswith(f"{PISTE} ") for part in look.examine)]
    for look in looks:
        ideas.append(_idea(setup, SHIPPED / "strip.toml", look, None, None))
        still.add(look.say)
    return StripTrials(tuple(ideas), frozenset(still), tested, brought)


@lru_cache
def _shared() -> _StripFile:
    return read_model(_StripFile, SHIPPED / "strip.toml")


@lru_cache
def _own(path: Path) -> _WeaponFile:
    return read_model(_WeaponFile, path)


def _sided(table: _HoldTable) -> Iterator[tuple[_HoldTable, str | None]]:
    """Yield a trial for each side, or once."""
    for side in SIDES[:1] if table.once else SIDES:
        yield _HoldTable.model_validate(filled(table.model_dump(), side_words(side))), None if table.once else side


def _about(table: _HoldTable, item: str) -> bool:
    return any(f" {item} " in f" {words} " for words in (table.on or "", *table.touching))


def _idea(setup: Setup, path: Path, table: _HoldTable | _LookTable, side: str | None, move: _MoveTable | None) -> Idea:
    """Return a trial, with a movement or without one. Raises ProblemsError where the set-up has no such place or part."""
    keys = set(TrialTable.model_fields)
    made = TrialTable.model_validate(table.model_dump(include=keys) | {"move": move.move if move else ()})
    trial, wrong = read_trial(setup, made, answered=False)
    if wrong:
        raise ProblemsError([Problem(str(path), None, f"“{table.say}”: {error.seen}", error.remedy) for _, error in wrong])
    say = f"{table.say}{MEANWHILE}{move.say}" if move else table.say
    seconds = table.seconds + (move.seconds if move else 0.0)
    return Idea(say, seconds, (), table.once, side, None, trial, made)
