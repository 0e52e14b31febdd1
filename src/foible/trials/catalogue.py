"""The trials worth trying: what to do, in words and as an arrangement, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import Field

from foible.errors import Problem, ProblemsError
from foible.kit import SIDES, other, plain
from foible.kit.tomlfile import Strict, Words, line_of, read_model, read_table, toml_lines
from foible.trials.read import TrialTable, read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.kit import Setup
    from foible.trials.trial import Trial

__all__ = ["Idea", "load_catalogue"]


class IdeaTable(Strict):
    """One trial of a catalogue, with {side} and {other} to be filled in."""

    say: str
    seconds: float = Field(gt=0)
    once: bool = False
    needs: str | None = None
    press: str | None = None
    cut: str | None = None
    on: str | None = None
    touching: Words = ()
    unplugged: Words = ()
    bridged: Words = ()
    swapped: Words = ()
    move: Words = ()


class CatalogueFile(Strict):
    """The trials worth trying for one weapon."""

    idea: tuple[IdeaTable, ...]


@dataclass(frozen=True, slots=True)
class Idea:
    """A trial that could be made next."""

    say: str
    """The trial as a request: “press the left point on …”."""
    seconds: float
    needs: str | None
    once: bool
    """Whether it is about both sides alike."""
    side: str | None
    """The side that is tried; None where it is about both."""
    trial: Trial
    table: TrialTable
    """The trial as a case file would write it, without what was seen."""


def load_catalogue(setup: Setup, *, overlays: Sequence[Path] = ()) -> tuple[Idea, ...]:
    """Return the trials worth trying with `setup`, for both sides. Raises ProblemsError."""
    path = Path(str(files("foible.trials") / "data" / f"{plain(setup.weapon)}.toml"))
    for folder in overlays:
        own = folder / "catalogues" / f"{plain(setup.weapon)}.toml"
        path = own if own.is_file() else path
    ideas: dict[str, Idea] = {}
    problems = []
    for number, table in enumerate(read_model(CatalogueFile, path).idea):
        for side, say, trial_table in _both_sides(table):
            trial, wrong = read_trial(setup, trial_table)
            problems += [
                Problem(str(path), _line(path, ("idea", number, key)), error.seen, error.remedy)
                for key, error in wrong
                if key != "saw"
            ]
            if say in ideas:
                seen = f"the sentence “{say}” stands twice"
                remedy = "say each trial differently; {side} and {other} name the sides"
                problems.append(Problem(str(path), _line(path, ("idea", number, "say")), seen, remedy))
            ideas[say] = Idea(say, table.seconds, table.needs, table.once, None if table.once else side, trial, trial_table)
    if problems:
        raise ProblemsError(dict.fromkeys(problems))
    return tuple(ideas.values())


def _line(path: Path, where: tuple[str | int, ...]) -> int | None:
    return line_of(toml_lines(read_table(path)[1]), where)


def _both_sides(table: IdeaTable) -> Iterator[tuple[str, str, TrialTable]]:
    raw = table.model_dump(exclude={"say", "seconds", "once", "needs"})
    for side in SIDES[:1] if table.once else SIDES:
        yield side, _filled(table.say, side), TrialTable.model_validate(_filled(raw, side))


def _filled(value: Any, side: str) -> Any:  # noqa: ANN401 — TOML values of any kind
    match value:
        case str():
            return value.replace("{side}", side).replace("{other}", other(side))
        case dict():
            return {key: _filled(entry, side) for key, entry in value.items()}
        case tuple() | list():
            return tuple(_filled(entry, side) for entry in value)
        case _:
            return value
