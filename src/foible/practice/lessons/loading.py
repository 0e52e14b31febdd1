"""A lesson's name in; out the lesson, checked and worked out for a weapon, or everything that is wrong with its file.

Foible's own lessons stand beside this package; a kit folder brings more in its `lessons/`, and one of the same name takes the
place of Foible's. Each is a file of its own, so what is wrong with one leaves the others alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.kit import kit_stamp, overlaid_file
from foible.practice.lessons.building import built
from foible.practice.lessons.tables import LessonTable
from foible.tomlfile import file_bytes, parsed_model, read_model, toml_lines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Setup, Weapon
    from foible.practice.lessons.lesson import Lesson

__all__ = ["ALL", "GROUP", "Listed", "lesson_at", "lesson_names", "list_lessons", "load_lesson"]

SHIPPED = Path(str(files("foible.practice") / "data"))
GROUP = "lessons"
ALL = "all"
"""Stands for every weapon."""
LOADED = 64
"""Lessons that stay in memory."""


@dataclass(frozen=True)
class Listed:
    """A lesson as a list of contents has it: read, but not worked out."""

    name: str
    path: Path = field(repr=False)
    table: LessonTable | None = field(repr=False)
    """None where the file cannot be read."""
    problems: tuple[Problem, ...] = ()

    @property
    def minutes(self) -> int:
        """How long it takes somebody new [min]; 0 of one that cannot be read."""
        return self.table.minutes if self.table else 0

    def about(self, weapon: Weapon) -> bool:
        """Return whether it is about a weapon."""
        return self.table is not None and _about(self.table, weapon)


def lesson_names(overlays: Sequence[Path] = ()) -> list[str]:
    """Return the names of all lessons."""
    return sorted({path.stem for folder in (SHIPPED, *overlays) for path in (folder / GROUP).glob("*.toml")})


def list_lessons(overlays: Sequence[Path] = ()) -> list[Listed]:
    """Return every lesson in the order in which one learns them; those that cannot be read stand last, with their problems."""
    found = [_listed(name, overlaid_file(SHIPPED, GROUP, name, overlays)) for name in lesson_names(overlays)]
    return sorted(found, key=lambda each: (each.table is None, each.table.order if each.table else 0, each.name))


def _listed(name: str, path: Path) -> Listed:
    try:
        return Listed(name, path, read_model(LessonTable, path))
    except ProblemsError as error:
        return Listed(name, path, None, tuple(error.problems))


def load_lesson(setup: Setup, name: str) -> Lesson:
    """Return a lesson for the weapon of a set-up. Raises UnknownNameError, and ProblemsError with every slip of its file."""
    return _loaded(setup, name, kit_stamp(setup.overlays))


@lru_cache(maxsize=LOADED)
def _loaded(setup: Setup, name: str, stamp: object) -> Lesson:
    del stamp
    path = overlaid_file(SHIPPED, GROUP, name, setup.overlays)
    if name not in lesson_names(setup.overlays) or not _about(read_model(LessonTable, path), setup.kind):
        known = [each.name for each in list_lessons(setup.overlays) if each.about(setup.kind)]
        raise UnknownNameError(what=f"{setup.weapon} lesson", name=name, known=known, all_named=True)
    return lesson_at(path, setup)


def lesson_at(path: Path, setup: Setup) -> Lesson:
    """Return the lesson in a file, whatever weapons it is about. Raises ProblemsError."""
    table, text = parsed_model(LessonTable, file_bytes(path), name=str(path))
    return built(setup, table, path, toml_lines(text))


def _about(table: LessonTable, weapon: Weapon) -> bool:
    return ALL in table.weapon or weapon.name in table.weapon or weapon.word in table.weapon
