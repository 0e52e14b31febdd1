"""Which lessons there are, one of them, and what comes after it: read once for each state of the kit's files."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.kit import kit_stamp
from foible.practice import Exercise, Result
from foible.practice.lessons import Lesson, Listed, check_lessons, list_lessons, load_lesson

if TYPE_CHECKING:
    from collections.abc import Container, Iterable, Sequence
    from pathlib import Path

    from foible.kit import Weapon
    from foible.practice.lessons import Marked, Question
    from foible.records.practice import KeptResult
    from foible.services.reasoning import Reasoning

__all__ = [
    "Lesson",
    "Listed",
    "ideas_taught",
    "lesson_after",
    "lesson_next",
    "lesson_of",
    "lessons_about",
    "lessons_listed",
    "lessons_taken",
    "result_of",
]


def lessons_listed(reasoning: Reasoning) -> tuple[Listed, ...]:
    """Return every lesson in order; one from a kit folder has all its problems with it, as Foible's own are held by tests."""
    return _listed(reasoning.overlays, kit_stamp(reasoning.overlays))


@lru_cache(maxsize=4)
def _listed(overlays: tuple[Path, ...], stamp: object) -> tuple[Listed, ...]:
    del stamp
    found = list_lessons(overlays)
    own = [each.path for each in found if each.table and any(each.path.is_relative_to(folder) for folder in overlays)]
    problems = check_lessons(own, overlays)
    return tuple(replace(each, problems=problems.get(each.path, each.problems)) for each in found)


def lessons_about(reasoning: Reasoning, weapon: Weapon) -> tuple[Listed, ...]:
    """Return the lessons about a weapon that can be read and are right, in order."""
    return tuple(each for each in lessons_listed(reasoning) if each.about(weapon) and not each.problems)


def lesson_of(reasoning: Reasoning, weapon: str, name: str) -> Lesson:
    """Return a lesson for a weapon. Raises UnknownNameError, and ProblemsError with every slip of its file."""
    return load_lesson(reasoning.setup(weapon), name)


def lesson_after(reasoning: Reasoning, lesson: Lesson) -> Listed | None:
    """Return the lesson that comes after one at its weapon; None behind the last."""
    names = lessons_about(reasoning, lesson.setup.kind)
    place = next((number for number, each in enumerate(names) if each.name == lesson.name), len(names))
    return names[place + 1] if place + 1 < len(names) else None


def lessons_taken(results: Iterable[KeptResult], lessons: Iterable[Listed]) -> frozenset[tuple[str, str]]:
    """Return the lessons of which every question was answered, rightly or not, each as weapon and name."""
    answered: dict[tuple[str, str], set[str]] = {}
    for each in results:
        if each.exercise == Exercise.LESSON.value:
            lesson, _, question = each.name.partition("/")
            answered.setdefault((each.weapon, lesson), set()).add(question)
    asked = {each.name: {question.name for question in each.table.question} for each in lessons if each.table}
    return frozenset(at for at, found in answered.items() if asked.get(at[1]) and asked[at[1]] <= found)


def ideas_taught(lessons: Iterable[Listed], taken: Container[object], weapons: Sequence[Weapon]) -> frozenset[tuple[str, str]]:
    """Return the ideas about which a lesson was taken, each with the weapon at which it was."""
    every = [(each, weapon) for each in lessons if each.table for weapon in weapons if (weapon.name, each.name) in taken]
    return frozenset((each.table.subject, weapon.name) for each, weapon in every if each.table)


def lesson_next(shelves: Sequence[tuple[Weapon, Sequence[Listed]]], taken: Container[object]) -> tuple[Weapon, Listed] | None:
    """Return the first lesson that was not taken, at a weapon of which some were, else at the first one; None behind the last."""
    begun = [shelf for shelf in shelves if any((shelf[0].name, each.name) in taken for each in shelf[1])]
    for weapon, lessons in (*begun, *shelves):
        for each in lessons:
            if (weapon.name, each.name) not in taken:
                return weapon, each
    return None


def result_of(lesson: Lesson, question: Question, marked: Marked, seconds: float) -> Result:
    """Return what an answer has shown, given in so many seconds."""
    return Result(
        subject=lesson.table.subject,
        weapon=lesson.setup.weapon,
        exercise=Exercise.LESSON,
        name=f"{lesson.name}/{question.name}",
        right=marked.right,
        seconds=seconds,
        usual_s=question.table.usual_s,
    )
