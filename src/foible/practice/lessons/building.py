"""A lesson's table in; out the lesson, its answers worked out, or everything that is wrong with it, each with its line."""

from __future__ import annotations

import hashlib
import re
from typing import TYPE_CHECKING

from foible.errors import InputError, Problem, ProblemsError, UnknownNameError
from foible.practice.ideas import subject
from foible.practice.lessons.lesson import FIELDS, Choice, Lesson, LessonStep, Question
from foible.practice.lessons.of_causes import CauseMarker, ExcludesMarker
from foible.practice.lessons.of_lamps import CutMarker, LampsMarker, WayMarker
from foible.practice.lessons.of_tools import BoxMarker, BringsMarker, ReadsMarker, RuleMarker
from foible.practice.lessons.situation import Situation
from foible.practice.walk import RESULTS, StepTable, WalkStep, load_walk
from foible.tomlfile import line_of
from foible.trials import TrialTable, read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from foible.kit import Failure, Setup
    from foible.practice.lessons.marker import Marker
    from foible.practice.lessons.tables import ChoiceTable, LessonTable, PictureTable, QuestionTable
    from foible.practice.lessons.tables import StepTable as LessonStepTable
    from foible.trials import Trial

__all__ = ["built"]

Where = tuple[str | int, ...]
MARKERS: Mapping[str, type[Marker]] = {
    "lamps": LampsMarker,
    "cut": CutMarker,
    "way": WayMarker,
    "reads": ReadsMarker,
    "box": BoxMarker,
    "cause": CauseMarker,
    "excludes": ExcludesMarker,
    "rule": RuleMarker,
    "brings": BringsMarker,
}
LAMP_WORDS = re.compile(r"\b(white|red|green|coloured|yellow|orange)\b", re.IGNORECASE)
"""Which lamp lights is worked out, so no text may say it; a belief may, as it is wrong."""
IN_BRACES = re.compile(r"{([^}]*)}")


def built(setup: Setup, table: LessonTable, path: Path, lines: Mapping[Where, int]) -> Lesson:
    """Return the lesson of a table for the weapon of `setup`. Raises ProblemsError with all that is wrong with it."""
    builder = _Builder(setup, str(path), lines)
    builder.check_head(table, path.stem)
    steps = [builder.step(number, each) for number, each in enumerate(table.step)]
    names = [each.name for each in table.step]
    questions = [builder.question(number, each, names) for number, each in enumerate(table.question)]
    builder.check_names([*names, *(each.name for each in table.question)], len(names))
    if builder.problems:
        raise ProblemsError(builder.problems)
    return Lesson(setup, table, path, tuple(steps), tuple(each for each in questions if each))


class _Builder:
    """Builds steps and questions, and collects what is wrong with them."""

    def __init__(self, setup: Setup, file: str, lines: Mapping[Where, int]) -> None:
        self.problems: list[Problem] = []
        self._setup, self._file, self._lines = setup, file, dict(lines)

    def check_head(self, table: LessonTable, stem: str) -> None:
        """Collect what is wrong with the head of a lesson."""
        if table.name != stem:
            self._wrong(("name",), f"the lesson is called “{table.name}” and its file “{stem}”", "let both have one name")
        try:
            subject(table.subject)
        except UnknownNameError as error:
            self._told(("subject",), error)
        for paragraph in table.say:
            self._check_text(("say",), paragraph)

    def check_names(self, names: Sequence[str], steps: int) -> None:
        """Collect names that two screens have."""
        for number, name in enumerate(names):
            if name in names[:number]:
                where: Where = ("step", number, "name") if number < steps else ("question", number - steps, "name")
                self._wrong(where, f"the name “{name}” is given twice", "give each step and question a name of its own")

    def step(self, number: int, table: LessonStepTable) -> LessonStep:
        """Return a step, as far as it can be built."""
        where: Where = ("step", number)
        if table.walk:
            return self._walked(where, table)
        trial, failures = self._situation(where, table.trial or TrialTable(), table.failures)
        self._check_picture(where, table.picture)
        shown = table.trial is not None or bool(table.failures) or bool(table.circuit)
        circuit = table.circuit and self._circuit((*where, "circuit"), table.circuit)
        step = LessonStep(table, Situation(self._setup, trial, failures, circuit, table.side) if shown else None, None)
        if circuit:
            step = LessonStep(table, step.situation, _as_walk(table, trial, failures))
        self._check_say(where, step)
        return step

    def question(self, number: int, table: QuestionTable, steps: Sequence[str]) -> Question | None:
        """Return a question with its answer worked out; None where that cannot be done."""
        where: Where = ("question", number)
        before = len(self.problems)
        if table.after and table.after not in steps:
            self._told((*where, "after"), UnknownNameError(what="step", name=table.after, known=steps, all_named=True))
        self._check_text((*where, "ask"), table.ask)
        self._check_picture(where, table.picture)
        trial, failures = self._situation(where, table.trial, table.failures)
        if len(self.problems) > before:
            return None
        marker = MARKERS[table.kind](Situation(self._setup, trial, failures, table.circuit, table.side))
        try:
            marker.check()
        except InputError as error:
            self._told((*where, "trial"), error)
            return None
        choices = [self._choice((*where, "choice"), place, each, marker) for place, each in enumerate(table.choice, start=1)]
        known = tuple(each for each in choices if each is not None)
        if len(known) == len(choices):
            self._check_choices(where, table, known)
        return Question(table, marker, _mixed(table, known))

    def _walked(self, where: Where, table: LessonStepTable) -> LessonStep:
        for key in ("trial", "failures", "circuit"):
            if getattr(table, key):
                self._wrong((*where, key), f"the step takes “{key}” from its walk", "leave it out, or leave out walk")
        try:
            of_walk = load_walk(self._setup).step(table.walk)
        except UnknownNameError as error:
            self._told((*where, "walk"), error)
            return LessonStep(table, None, None)
        taken = table.model_copy(update={"circuit": of_walk.table.circuit, "side": of_walk.table.side})
        situation = Situation(self._setup, of_walk.trial, of_walk.failures, taken.circuit, taken.side)
        step = LessonStep(taken, situation, _as_walk(taken, of_walk.trial, of_walk.failures))
        self._check_say(where, step)
        return step

    def _situation(self, where: Where, table: TrialTable, named: Sequence[str]) -> tuple[Trial, tuple[Failure, ...]]:
        """Return the trial and the failures of a step or a question, as far as their names are known."""
        trial, wrong = read_trial(self._setup, table, answered=False)
        for key, error in wrong:
            self._told((*where, "trial", key), error)
        for key in RESULTS:
            if getattr(table, key):
                self._wrong((*where, "trial", key), f"a lesson cannot say “{key}”", "leave it out: it is worked out")
        for name in named:
            if name not in self._setup.failures:
                error = UnknownNameError(what="failure", name=name, known=self._setup.failures)
                self._told((*where, "failures"), error)
        return trial, tuple(self._setup.failures[name] for name in named if name in self._setup.failures)

    def _circuit(self, where: Where, name: str) -> str:
        known = [each.name for each in self._setup.kind.measurements if each.instead_of is None]
        if name in known:
            return name
        self._told(where, UnknownNameError(what="measurement", name=name, known=known, all_named=True))
        return ""

    def _check_say(self, where: Where, step: LessonStep) -> None:
        for paragraph in step.table.say:
            self._check_text((*where, "say"), paragraph)
            for name in IN_BRACES.findall(paragraph):
                if name not in FIELDS:
                    self._told((*where, "say"), UnknownNameError(what="field", name=name, known=FIELDS, all_named=True))
                elif step.situation is None:
                    self._wrong((*where, "say"), f"nothing is done in which {{{name}}} could be worked out", "give it a trial")
        try:
            _ = step.paragraphs
        except InputError as error:
            self._told((*where, "say"), error)

    def _check_text(self, where: Where, text: str) -> None:
        if found := LAMP_WORDS.search(text):
            seen = f"the text says “{found[0]}”: which lamp lights is worked out"
            self._wrong(where, seen, "say it without the lamp's colour; {lamps} stands for what lights in a step")

    def _check_picture(self, where: Where, picture: PictureTable | None) -> None:
        if picture is None:
            return
        if bool(picture.item) == bool(picture.part):
            self._wrong((*where, "picture"), "a picture is of an item or of a part", "name one of them")
        for name, book in ((picture.item, self._setup.items), (picture.part, self._setup.parts)):
            if name and name not in book:
                self._told((*where, "picture"), UnknownNameError(what=book.what, name=name, known=book))
                return
        item = self._setup.parts[picture.part].item if picture.part else self._setup.items.name(picture.item)
        known = [part.id for part in self._setup.parts.values() if part.item == item]
        for name in picture.names:
            if name not in self._setup.parts or self._setup.parts[name].item != item:
                self._told((*where, "picture"), UnknownNameError(what=f"part of the {item}", name=name, known=known))

    def _choice(self, where: Where, place: int, table: ChoiceTable, marker: Marker) -> Choice | None:
        self._check_text(where, table.say)
        try:
            answer = marker.answer(table)
            return Choice(answer, marker.words(answer), marker.right(answer), table.say, table.tempting)
        except InputError as error:
            self._wrong(where, f"choice {place}: {error.seen}", error.remedy)
            return None

    def _check_choices(self, where: Where, table: QuestionTable, choices: Sequence[Choice]) -> None:
        """Collect what is wrong with the choices together: twins, none or all of them right, a trap that is none."""
        key: Where = (*where, "choice")
        answers = [choice.answer for choice in choices]
        for place, answer in enumerate(answers):
            if answer in answers[:place]:
                twin = answers.index(answer) + 1
                self._wrong(key, f"choices {twin} and {place + 1} are the same: {choices[place].words}", "change one of them")
        right = [choice.words for choice in choices if choice.right]
        if not right:
            self._wrong(key, "no choice is right", "add the right one, or change the situation")
        elif len(right) == len(choices):
            self._wrong(key, "every choice is right", "add a wrong one, or change the situation")
        for seen, remedy in _trap_slips(table, choices):
            self._wrong((*where, "trap" if table.trap else "choice"), seen, remedy)

    def _told(self, where: Where, error: InputError) -> None:
        self._wrong(where, error.seen, error.remedy)

    def _wrong(self, where: Where, seen: str, remedy: str) -> None:
        self.problems.append(Problem(self._file, line_of(self._lines, where), seen, remedy))


def _trap_slips(table: QuestionTable, choices: Sequence[Choice]) -> Iterator[tuple[str, str]]:
    """Yield what is wrong with a trap: its belief, and the choice that it points to."""
    tempting = [choice for choice in choices if choice.tempting]
    if table.trap and not table.belief:
        yield "a trap says which belief leads into it", "add belief = …"
    if table.trap and len(tempting) != 1:
        yield f"{len(tempting)} choices are tempting", "mark the one that the belief points to: tempting = true"
    if not table.trap and (tempting or table.belief):
        yield "a belief and a tempting choice make a trap", "add trap = true, or leave them out"
    for choice in tempting:
        if choice.right:
            yield f"the tempting choice is right: {choice.words}", "a trap's belief must point to a wrong choice"


def _mixed(table: QuestionTable, choices: tuple[Choice, ...]) -> tuple[Choice, ...]:
    """Return choices in an order that gives nothing away, always the same; figures stay as they are, from low to high."""
    if table.kind in ("reads", "rule"):
        return choices
    return tuple(sorted(choices, key=lambda choice: hashlib.sha256(f"{table.name} {choice.words}".encode()).digest()))


def _as_walk(table: LessonStepTable, trial: Trial, failures: tuple[Failure, ...]) -> WalkStep:
    """Return a step of a lesson as a step of a walk, which is worked out and drawn in the same way."""
    own = StepTable(name="step", title=table.title, say=table.say, circuit=table.circuit, side=table.side, clause=table.clause)
    return WalkStep(own, trial, failures)
