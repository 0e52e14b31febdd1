"""Lessons in the terminal: their list, one of them with its questions, and what is wrong with files of them."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import KitFolders, Weapon
from foible.cli.terminal import console, reasoning_at, say, todays_names
from foible.errors import ProblemsError

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.practice.lessons import Lesson, LessonStep, Question

__all__ = ["LESSONS"]


def lessons(*, weapon: Weapon = None, kit: KitFolders = None) -> None:
    """List the lessons, those of one weapon or of all."""
    from foible.services.practice.lessons import lessons_about, lessons_listed

    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        wanted = [reasoning.weapon(given.weapon(weapon))] if weapon else list(reasoning.weapons())
    for each in wanted:
        say(each.name)
        for listed in lessons_about(reasoning, each):
            assert listed.table is not None  # noqa: S101 — it could be read
            say(f"  {listed.name:<24} {listed.table.title}")
    for listed in lessons_listed(reasoning):
        for problem in listed.problems:
            say(f"not shown: {problem}")


def lesson(
    name: Annotated[str, typer.Argument(metavar="NAME", help="A lesson, as `foible practise lessons` lists them.")],
    *,
    weapon: Weapon = None,
    kit: KitFolders = None,
) -> None:
    """Go through a lesson: read, answer its questions by number, and see why."""
    from foible.services.practice.lessons import lesson_of, lessons_listed

    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        if weapon is None:
            about = next((each for each in lessons_listed(reasoning) if each.name == name), None)
            fits = [each for each in reasoning.weapons() if about and about.about(each)]
            known = (fits or [reasoning.weapon()])[0].name
        else:
            known = reasoning.weapon(given.weapon(weapon)).name
    _go_through(lesson_of(reasoning, known, name))


def check(
    place: Annotated[Path, typer.Argument(metavar="FILE", help="A lesson, or a folder with lessons (docs/practice.md).")],
    *,
    kit: KitFolders = None,
) -> None:
    """Tell everything that is wrong with a lesson or with a folder of them, and where."""
    from foible.practice.lessons import check_folder, check_lessons

    found = check_lessons(check_folder(place), tuple(kit or ()))
    problems = [problem for each in found.values() for problem in each]
    if problems:
        raise ProblemsError(problems)
    say(f"{len(found)} {'lesson' if len(found) == 1 else 'lessons'}: nothing wrong.")


LESSONS: dict[str, Callable[..., None]] = {"lessons": lessons, "lesson": lesson, "check": check}


def _go_through(lesson: Lesson) -> None:
    """Show a lesson screen by screen, and ask its questions."""
    from foible.practice.lessons import LessonStep

    _heading(f"{lesson.table.title} ({lesson.setup.weapon})")
    for paragraph in lesson.table.say:
        say(paragraph)
    for caution in lesson.table.cautions:
        say(f"Care: {caution}")
    asked = right = 0
    for screen in lesson.screens:
        if isinstance(screen, LessonStep):
            _show_step(screen)
            if _answered("Enter for the next: ") is None:
                return
            continue
        was_right = _ask(screen)
        if was_right is None:
            return
        asked, right = asked + 1, right + was_right
    say(f"\n{right} of {asked} right. Sources: {'; '.join(lesson.table.sources)}")


def _heading(words: str) -> None:
    from rich.text import Text

    console().print(Text(f"\n{words}", style="bold"))


def _show_step(step: LessonStep) -> None:
    _heading(step.table.title)
    for paragraph in step.paragraphs:
        say(paragraph)
    if step.situation and step.situation.failures:
        say(f"Fault: {'; '.join(each.id for each in step.situation.failures)}")
    if step.table.meanings and step.situation is None:
        say("`foible lamps` lists what lights in every trial.")


def _ask(question: Question) -> bool | None:
    """Ask a question; return whether the answer is right, None where nobody answers any more."""
    from foible.trials import Trial, described

    _heading(question.table.ask)
    situation = question.situation
    if situation.trial != Trial():
        say(f"Done: {described(situation.trial)}")
    if question.marker.tells_fault and situation.failures:
        say(f"Fault: {'; '.join(each.id for each in situation.failures)}")
    if seen := question.marker.seen():
        say(f"Seen: {seen}")
    for number, choice in enumerate(question.choices, start=1):
        say(f"  {number}  {choice.words}")
    numbers = _numbers("Several are right, such as 1 3: " if question.several else "Which? ", len(question.choices))
    if numbers is None:
        return None
    marked = question.marked(numbers)
    say("Right." if marked.right else f"Not right. Right: {'; '.join(each.words for each in question.choices if each.right)}.")
    for reason in marked.reasons:
        say(reason)
    return marked.right


def _numbers(prompt: str, count: int) -> list[int] | None:
    """Return the choices that are named, from 0, asking until they are there; None where nobody answers any more."""
    while (text := _answered(prompt)) is not None:
        named = [int(each) for each in re.findall(r"\d+", text)]
        if named and all(1 <= each <= count for each in named):
            return [each - 1 for each in named]
        say(f"Give a number from 1 to {count}.")
    return None


def _answered(prompt: str) -> str | None:
    """Return a line from the keyboard; None at its end."""
    try:
        return input(prompt)
    except EOFError:
        say("")
        return None
