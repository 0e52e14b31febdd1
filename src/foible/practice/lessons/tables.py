"""What a lesson's file may say, as tables: its head, its steps and its questions with their choices.

Lamps, readings and ways of the current have no keys here: they are worked out, so no lesson can be wrong about them.
"""

from __future__ import annotations

import math
from typing import Literal

from pydantic import Field

from foible.tomlfile import Strict, Words
from foible.trials import TrialTable

__all__ = ["ChoiceTable", "LessonTable", "PictureTable", "QuestionTable", "StepTable"]

READ_A_MINUTE = 200
"""Words that somebody reads in a minute: fewer than the 238 of English non-fiction in Marc Brysbaert, “How many words do
we read per minute? A review and meta-analysis of reading rate”, Journal of Memory and Language 109, 2019 (from memory)."""
ANSWER_S = 20.0
"""What thinking about a question takes besides reading it [s]; judgement, no source."""
SCREEN_S = 5.0
"""What a picture and a touch on “next” take on each screen [s]; judgement, no source."""
WORKED_WORDS, OF_CAUSES, OF_MEANINGS = 42, 50, 90
"""Words on a screen that the model finds itself: what is seen, why, what is drawn; more where causes are weighed, or where it is
told what each lamp means; by counting them on Foible's own lessons."""
NAME = r"^[a-z0-9]+(-[a-z0-9]+)*$"
USUAL_S = 20.0
"""What somebody who knows takes for a question, where the file does not say [s]; judgement, no source."""


class PictureTable(Strict):
    """A picture from the kit: an item opened, or a part close up."""

    item: str = ""
    part: str = ""
    names: Words = ()
    """The parts whose names stand on it, the part itself aside; all where left out."""


class StepTable(Strict):
    """One thing to read and look at."""

    name: str = Field(pattern=NAME)
    """What its address calls it."""
    title: str
    say: Words = Field(min_length=1)
    """Paragraphs; `{lamps}` and `{ohms}` stand for what is worked out."""
    walk: str = ""
    """A step of the weapon's walk, whose trial, failures and circuit it takes."""
    trial: TrialTable | None = None
    failures: Words = Field((), max_length=2)
    circuit: str = ""
    side: Literal["left", "right"] = "left"
    meanings: bool = False
    """Whether it lists what each lamp of the weapon means."""
    picture: PictureTable | None = None
    clause: str = ""


class ChoiceTable(Strict):
    """One choice: which of its keys it has depends on the kind of question."""

    lights: Words | None = None
    """Lamps, such as “left white”, or pairs of lines of a test box; “nothing” for none."""
    at: str | None = None
    """An item, a part or a connection."""
    of: str | None = None
    """What may be wrong: a failure, a part or an item."""
    reads: str | None = None
    """A reading or a range of readings, as a case file writes it."""
    value: float | None = None
    """What a gauge would find, in the unit of its limit."""
    move: str | None = None
    """A movement, such as “bend left weapon blade”."""
    say: str = ""
    """What is told to somebody who takes it."""
    tempting: bool = False
    """Whether the belief of a trap points to it."""


class QuestionTable(Strict):
    """One question: a situation, and choices of which the right ones are worked out."""

    name: str = Field(pattern=NAME)
    kind: Literal["lamps", "cut", "way", "reads", "box", "cause", "excludes", "rule", "brings"]
    ask: str
    after: str = ""
    """The step behind which it is asked; behind the last one where left out."""
    trial: TrialTable = TrialTable()
    failures: Words = Field((), max_length=2)
    circuit: str = ""
    side: Literal["left", "right"] = "left"
    picture: PictureTable | None = None
    choice: tuple[ChoiceTable, ...] = Field(min_length=2, max_length=8)
    trap: bool = False
    """Whether a common wrong belief points to a wrong choice."""
    belief: str = ""
    """That belief, in words."""
    usual_s: float = Field(USUAL_S, gt=0, le=600)


class LessonTable(Strict):
    """A lesson."""

    name: str = Field(pattern=NAME)
    """What its address and its file are called."""
    title: str
    weapon: Words = Field(min_length=1)
    """The weapons that it is about; “all” for every one."""
    subject: str
    """The idea it teaches."""
    order: int = 100
    """Lessons of a weapon stand in this order."""
    say: Words = ()
    """Paragraphs in front of the first step."""
    cautions: Words = ()
    sources: Words = Field(min_length=1)
    """Clause and edition, or “common practice, no source”, or “judgement”."""
    step: tuple[StepTable, ...] = Field(min_length=1)
    question: tuple[QuestionTable, ...] = ()

    @property
    def minutes(self) -> int:
        """How long the lesson takes somebody new, from what there is to read and to answer [min]."""
        read = [*self.say, *self.cautions]
        for step in self.step:
            read += [step.title, *step.say]
        for question in self.question:
            read += [question.ask, question.belief]
            for choice in question.choice:
                read += [f"{choice.at or choice.of or choice.move or choice.reads or choice.lights}", choice.say]
        words = sum(len(text.split()) for text in read) + WORKED_WORDS * (len(self.step) + len(self.question))
        words += OF_MEANINGS * sum(step.meanings for step in self.step)
        words += OF_CAUSES * sum(question.kind in ("cause", "excludes") for question in self.question)
        seconds = 60 * words / READ_A_MINUTE
        seconds += ANSWER_S * len(self.question) + SCREEN_S * (len(self.step) + len(self.question))
        return math.ceil(seconds / 60)
