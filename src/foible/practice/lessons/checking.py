"""Files of lessons in; out, everything that is wrong with them, worked out for every weapon that each is about."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.errors import Problem, ProblemsError
from foible.kit import all_weapons, load_setup
from foible.practice.lessons.loading import ALL, GROUP, lesson_at
from foible.practice.lessons.tables import LessonTable
from foible.tomlfile import file_bytes, line_of, parsed_model, toml_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

__all__ = ["check_folder", "check_lessons"]


def check_folder(place: Path) -> list[Path]:
    """Return the lesson files at a path: the file itself, those of a kit folder's `lessons/`, or those of the folder.

    Raises ProblemsError where there are none.
    """
    if place.is_file():
        return [place]
    found = sorted((place / GROUP).glob("*.toml")) or sorted(place.glob("*.toml"))
    if not found:
        raise ProblemsError([Problem(str(place), None, "there are no lessons here", "give a lesson, or a folder with lessons")])
    return found


def check_lessons(paths: Iterable[Path], overlays: Sequence[Path] = ()) -> dict[Path, tuple[Problem, ...]]:
    """Return by file what is wrong with it; nothing where all is well."""
    return {path: tuple(dict.fromkeys(_problems(path, overlays))) for path in paths}


def _problems(path: Path, overlays: Sequence[Path]) -> list[Problem]:
    """Return what is wrong with a file for any of its weapons."""
    try:
        table, text = parsed_model(LessonTable, file_bytes(path), name=str(path))
    except ProblemsError as error:
        return list(error.problems)
    weapons = {word: weapon for weapon in all_weapons(overlays) for word in (weapon.name, weapon.word)}
    line = line_of(toml_lines(text), ("weapon",))
    known = f"there is {', '.join(dict.fromkeys(each.name for each in weapons.values()))}, or “{ALL}”"
    found = [
        Problem(str(path), line, f"there is no weapon called “{name}”", known)
        for name in table.weapon
        if name != ALL and name not in weapons
    ]
    named = weapons.values() if ALL in table.weapon else [weapons[name] for name in table.weapon if name in weapons]
    for weapon in dict.fromkeys(each.name for each in named):
        try:
            lesson_at(path, load_setup(weapon, overlays=overlays))
        except ProblemsError as error:
            found += error.problems
    return found
