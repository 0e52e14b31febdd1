"""A file in; out, the ideas by which progress is kept, and what an exercise has shown of somebody's grasp of one."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from pydantic import Field

from foible.errors import UnknownNameError
from foible.tomlfile import Strict, read_model

__all__ = ["Exercise", "Result", "Subject", "subject", "subjects"]

FILE = Path(str(files("foible.practice") / "data" / "ideas.toml"))


class Subject(Strict):
    """One idea: something to understand, about which there are lessons, drills and hidden faults."""

    name: str = Field(pattern=r"^[a-z]+(-[a-z]+)*$")
    """What files and addresses call it."""
    title: str
    about: str
    """One sentence."""


class SubjectsFile(Strict):
    """Every idea."""

    idea: tuple[Subject, ...]


class Exercise(Enum):
    """What was done to learn; the value is what records call it."""

    LESSON = "lesson"
    DRILL = "drill"
    HIDDEN = "hidden fault"


@dataclass(frozen=True, slots=True)
class Result:
    """What one question, drill or hidden fault has shown. Nobody grades himself: it is right or not, and took its time."""

    subject: str
    """The idea it is about."""
    weapon: str
    exercise: Exercise
    name: str
    """Which lesson and question, which drill, which hidden fault."""
    right: bool
    seconds: float
    """Time taken [s]; at a hidden fault the time spent at the piste."""
    usual_s: float
    """What somebody who knows takes for it [s]."""


@lru_cache(maxsize=1)
def subjects() -> tuple[Subject, ...]:
    """Return every idea, in the order in which one learns them."""
    return read_model(SubjectsFile, FILE).idea


def subject(name: str) -> Subject:
    """Return an idea by its name. Raises UnknownNameError."""
    found = next((each for each in subjects() if each.name == name), None)
    if found is None:
        raise UnknownNameError(what="idea", name=name, known=[each.name for each in subjects()], all_named=True)
    return found
