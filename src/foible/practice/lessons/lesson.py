"""A lesson as plain values: steps, questions, choices, and what marking an answer comes to."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.practice.lessons.marker import ohms_words
from foible.practice.lessons.situation import lamps_said

if TYPE_CHECKING:
    from collections.abc import Collection, Hashable, Iterator
    from pathlib import Path

    from foible.kit import Setup
    from foible.practice.lessons.marker import Marker
    from foible.practice.lessons.situation import Situation
    from foible.practice.lessons.tables import LessonTable, QuestionTable, StepTable
    from foible.practice.walk import WalkStep

__all__ = ["FIELDS", "Choice", "Lesson", "LessonStep", "Marked", "Question"]

FIELDS = ("lamps", "ohms")
"""What a paragraph of a step can have filled in."""


@dataclass(frozen=True)
class LessonStep:
    """Something to read, with what is worked out for it."""

    table: StepTable = field(repr=False)
    situation: Situation | None = field(repr=False)
    """What is done and what has failed; None where nothing is."""
    walk: WalkStep | None = field(repr=False)
    """The same as a step of a walk, whose way is drawn; None where no circuit is named."""

    @property
    def name(self) -> str:
        """What its address calls it."""
        return self.table.name

    @property
    def paragraphs(self) -> tuple[str, ...]:
        """Its text, with what is worked out in its place."""
        return tuple(self._filled(each) for each in self.table.say)

    def _filled(self, text: str) -> str:
        if self.situation is not None and "{lamps}" in text:
            text = text.replace("{lamps}", lamps_said(self.situation.setup, self.situation.lamps))
        if self.situation is not None and "{ohms}" in text:
            text = text.replace("{ohms}", ohms_words(self.situation.ohms))
        return text


@dataclass(frozen=True)
class Choice:
    """One choice of a question."""

    answer: Hashable = field(repr=False)
    words: str
    right: bool
    say: str = field(repr=False)
    """What the lesson tells somebody who takes it; often nothing."""
    tempting: bool = field(repr=False, default=False)


@dataclass(frozen=True)
class Marked:
    """What an answer comes to."""

    right: bool
    taken: tuple[Choice, ...]
    missed: tuple[Choice, ...]
    """Right choices that were not taken."""
    reasons: tuple[str, ...]
    """What the lesson says of what was taken, and the model's own reasons."""


@dataclass(frozen=True)
class Question:
    """One question with its choices, marked."""

    table: QuestionTable = field(repr=False)
    marker: Marker = field(repr=False)
    choices: tuple[Choice, ...]

    @property
    def name(self) -> str:
        """What its address calls it."""
        return self.table.name

    @property
    def situation(self) -> Situation:
        """What is done and what has failed."""
        return self.marker.situation

    @property
    def several(self) -> bool:
        """Whether more than one choice is right, so that all of them are to be taken."""
        return sum(choice.right for choice in self.choices) > 1

    def is_right(self, taken: Collection[int]) -> bool:
        """Return whether choices, by number from 0, are all that are right and nothing else."""
        return set(taken) == {number for number, choice in enumerate(self.choices) if choice.right}

    def marked(self, taken: Collection[int]) -> Marked:
        """Return what taking some choices, by number from 0, comes to. Raises IndexError for a number that there is not."""
        chosen = tuple(self.choices[number] for number in sorted(set(taken)))
        missed = tuple(choice for choice in self.choices if choice.right and choice not in chosen)
        return Marked(self.is_right(taken), chosen, missed, tuple(dict.fromkeys(self._reasons(chosen, missed))))

    def _reasons(self, chosen: tuple[Choice, ...], missed: tuple[Choice, ...]) -> Iterator[str]:
        wrong = [choice for choice in chosen if not choice.right]
        for choice in (*wrong, *(choice for choice in chosen if choice.right)):
            if choice.say:
                yield choice.say
        if self.table.trap and any(choice.tempting for choice in wrong):
            yield f"Many believe this: “{self.table.belief}” It is not so."
        for choice in (*wrong, *missed, *(choice for choice in chosen if choice.right)):
            yield self.marker.because(choice.answer)


@dataclass(frozen=True)
class Lesson:
    """A lesson for one weapon."""

    setup: Setup = field(repr=False)
    table: LessonTable = field(repr=False)
    path: Path = field(repr=False)
    steps: tuple[LessonStep, ...] = field(repr=False)
    questions: tuple[Question, ...] = field(repr=False)

    @property
    def name(self) -> str:
        """What its address calls it."""
        return self.table.name

    @property
    def screens(self) -> tuple[LessonStep | Question, ...]:
        """Steps and questions in the order in which one goes through them."""
        last = self.steps[-1].name
        found: list[LessonStep | Question] = []
        for step in self.steps:
            found += [step, *(each for each in self.questions if (each.table.after or last) == step.name)]
        return tuple(found)
