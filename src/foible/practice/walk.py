"""A weapon's file of steps in; out, the steps in which its circuit is gone through, each with the trial that shows it.

A step says what is done and why it matters, never what lights: that is worked out (`worked`), so no text can be wrong about it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from pydantic import Field

from foible.errors import InputError, Problem, ProblemsError, UnknownNameError
from foible.kit import kit_stamp, overlaid_file
from foible.tomlfile import Strict, Words, line_of, read_model, read_table, toml_lines
from foible.trials import TrialTable, read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.kit import Failure, Setup
    from foible.trials import Trial

__all__ = ["Walk", "WalkStep", "load_walk"]

SHIPPED = Path(str(files("foible.practice") / "data"))
GROUP = "circuits"
RESULTS = ("saw", "reads", "found", "lights")
"""Keys of a trial that say what was seen, which a step must leave to the model."""


class StepTable(Strict):
    """One step of a file."""

    name: str = Field(pattern=r"^[a-z]+(-[a-z]+)*$")
    """What its address calls it."""
    title: str
    say: Words = Field(min_length=1)
    """Paragraphs."""
    trial: TrialTable = TrialTable()
    """What is done, as a case file writes it; nothing is the strip at rest."""
    failures: Words = Field((), max_length=2)
    """What has failed, as “part: mode”; nothing is sound kit."""
    circuit: str
    """The measurement whose way is drawn."""
    side: Literal["left", "right"] = "left"
    """The side whose measurement it is."""
    clause: str = ""


class WalkFile(Strict):
    """The steps of one weapon."""

    edition: str
    step: tuple[StepTable, ...]


@dataclass(frozen=True)
class WalkStep:
    """One step in which a circuit is gone through."""

    table: StepTable = field(repr=False)
    trial: Trial = field(repr=False)
    failures: tuple[Failure, ...] = field(repr=False)

    @property
    def name(self) -> str:
        """What its address calls it."""
        return self.table.name

    @property
    def title(self) -> str:
        """What it is about."""
        return self.table.title


@dataclass(frozen=True)
class Walk:
    """How the circuit of a weapon works, step by step."""

    setup: Setup = field(repr=False)
    edition: str
    """The rulebook that its clauses are of."""
    steps: tuple[WalkStep, ...] = field(repr=False)

    def step(self, name: str) -> WalkStep:
        """Return a step by its name. Raises UnknownNameError."""
        found = next((step for step in self.steps if step.name == name), None)
        if found is None:
            raise UnknownNameError(what="step", name=name, known=[step.name for step in self.steps])
        return found


def load_walk(setup: Setup) -> Walk:
    """Return the steps of the weapon of a set-up; a weapon of a kit folder that brings no file has none.

    Raises ProblemsError with every slip of the file: names that the kit does not have, results that are the model's to say.
    """
    return _loaded(setup, kit_stamp(setup.overlays))


@lru_cache(maxsize=8)
def _loaded(setup: Setup, stamp: object) -> Walk:
    del stamp
    path = overlaid_file(SHIPPED, GROUP, setup.kind.word, setup.overlays)
    if not path.is_file():
        return Walk(setup, "", ())
    file = read_model(WalkFile, path)
    steps, problems = [], []
    lines = toml_lines(read_table(path)[1])
    for number, table in enumerate(file.step):
        trial, wrong = read_trial(setup, table.trial, answered=False)
        failures = tuple(setup.failures[name] for name in table.failures if name in setup.failures)
        for key, error in (*(((f"trial {key}"), error) for key, error in wrong), *_slips(setup, table, file.step[:number])):
            line = line_of(lines, ("step", number, *key.split(" ")))
            problems.append(Problem(str(path), line, error.seen, error.remedy))
        steps.append(WalkStep(table, trial, failures))
    if problems:
        raise ProblemsError(problems)
    return Walk(setup, file.edition, tuple(steps))


def _slips(setup: Setup, table: StepTable, before: Sequence[StepTable]) -> Iterator[tuple[str, InputError]]:
    """Yield what is wrong with a step beside its trial, each with the key that it stands at."""
    if table.name in {other.name for other in before}:
        yield "name", InputError(seen=f"the step “{table.name}” is defined twice", remedy="give each step its own name")
    for name in table.failures:
        if name not in setup.failures:
            yield "failures", UnknownNameError(what="failure", name=name, known=setup.failures)
    if table.circuit not in {each.name for each in setup.kind.measurements if each.instead_of is None}:
        known = [each.name for each in setup.kind.measurements if each.instead_of is None]
        yield "circuit", UnknownNameError(what="measurement", name=table.circuit, known=known)
    for key in RESULTS:
        if getattr(table.trial, key):
            yield f"trial {key}", InputError(seen=f"a step cannot say “{key}”", remedy="leave it out: it is worked out")
