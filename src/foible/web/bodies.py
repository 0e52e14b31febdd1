"""What the JSON API takes: the bodies of its requests."""

from __future__ import annotations

from functools import partial
from secrets import token_hex
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from foible.endings import CaseEnding
from foible.kit import default_weapon
from foible.trials import TrialTable  # noqa: TC001 — pydantic reads the annotations

__all__ = ["Acted", "Answer", "Described", "Ended", "Moved", "NewCase", "OwnTrial", "Proved", "Question", "Skipped"]

Token = Annotated[str, Field(min_length=1, max_length=40)]
Line = Annotated[str, Field(max_length=200)]
Lines = Annotated[list[Line], Field(max_length=20)]
Name = Annotated[str, Field(max_length=40)]
Side = Annotated[str, Field(pattern="^(left|right)$")]
Fitted = Annotated[
    dict[Side, Annotated[dict[Name, Name], Field(max_length=5)]],
    Field(description="What is fitted, as model by slot, by side; an empty model is the usual one"),
]


class _Body(BaseModel):
    model_config = ConfigDict(extra="forbid")


class NewCase(_Body):
    """A case to open: with a complaint and the side that is complaining, or with a title only."""

    weapon: Annotated[str, Field(max_length=20, examples=[default_weapon().name])]
    title: Annotated[str, Field(max_length=120)] = ""
    piste: Annotated[str, Field(max_length=40, description="Which one, as people call it")] = ""
    fencer: Annotated[str, Field(max_length=80, description="Whose kit it is")] = ""
    fitted: Fitted = {}
    complaint: Annotated[str, Field(max_length=200)] = ""
    side: Annotated[str, Field(pattern="^(left|right)$")] = "left"
    token: Token = Field(
        default_factory=partial(token_hex, 16), description="Your own; sending the same one again opens no second case"
    )


class Described(_Body):
    """What a case is called, where it is, whose kit it is and what is fitted; what is left out stays."""

    title: Annotated[str | None, Field(min_length=1, max_length=120)] = None
    piste: Annotated[str | None, Field(max_length=40)] = None
    fencer: Annotated[str | None, Field(max_length=80)] = None
    fitted: Fitted | None = None


class Answer(_Body):
    """The result of a suggested trial, in the words of a case file."""

    say: Annotated[str, Field(max_length=200, description="The sentence of the trial")]
    report: Annotated[Lines, Field(min_length=1, description="“left white”, “nothing”, “1.6”, “fine” …")]
    token: Token


class OwnTrial(_Body):
    """A trial of your own, with the same keys as in a case file."""

    trial: TrialTable
    token: Token


class Acted(_Body):
    """What was exchanged or mended, before anything is tried with it."""

    exchanged: Annotated[Lines, Field(description="Items")] = []
    mended: Annotated[Lines, Field(description="Parts, or repairs as “item: repair”")] = []
    token: Token


class Proved(_Body):
    """How one line of a proof came out."""

    line: Annotated[str, Field(max_length=600, description="What the line says; where one trial of it failed, what that says")]
    passed: bool
    report: Annotated[Lines, Field(description="What was seen where it failed; may be left out for a gauge")] = []
    token: Token


class Ended(_Body):
    """How a case ends."""

    ending: Annotated[str, Field(max_length=40, description=", ".join(each.value for each in CaseEnding))]
    item: Annotated[str | None, Field(max_length=80, description="What is out of use or goes to the workshop")] = None
    token: Token


class Skipped(_Body):
    """A trial that cannot be done now."""

    say: Annotated[str, Field(max_length=200)]
    token: Token


class Moved(_Body):
    """Where the kit is, and what is at hand."""

    place: Annotated[str, Field(pattern="^(piste|bench)$")]
    item: Annotated[str | None, Field(max_length=80)] = None
    tools: Annotated[Lines, Field(max_length=10)] = []
    facts: Annotated[Lines | None, Field(max_length=10, description="If left out, those of the case stay")] = None


class Question(_Body):
    """Trials to diagnose without saving anything."""

    weapon: Annotated[str | None, Field(max_length=20, description="If left out, the kit's default weapon")] = None
    known_good: Annotated[Lines, Field(max_length=40)] = []
    trials: Annotated[list[TrialTable], Field(max_length=60)]
    place: Annotated[str, Field(pattern="^(piste|bench)$")] = "piste"
    item: Annotated[str | None, Field(max_length=80)] = None
    tools: Annotated[Lines, Field(max_length=10)] = ["spare"]
    facts: Annotated[Lines, Field(max_length=10)] = []
