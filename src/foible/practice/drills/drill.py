"""A drill as a plain value: what is given, what is asked, choices of which exactly one is right, and why."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.practice.drills.sights import FLICKERS

if TYPE_CHECKING:
    from collections.abc import Sequence
    from random import Random

    from foible.kit import Failure
    from foible.practice.drills.pools import KindTable
    from foible.trials import Idea

__all__ = ["CHOICES", "Choice", "Drill", "fault_words", "mixed", "see_words"]

CHOICES = 4
"""As many as fit under a thumb on a phone."""
TELLING_OHMS = 2.0
"""A severity is told from here on [Ω]; below, things simply meet."""


@dataclass(frozen=True)
class Choice:
    """One answer that can be taken."""

    words: str
    right: bool
    because: str
    """What the model says of it, in a sentence."""


@dataclass(frozen=True)
class Drill:
    """One question."""

    kind: str
    table: KindTable = field(repr=False)
    subject: str
    weapon: str
    given: tuple[str, ...]
    """What is told first, in sentences."""
    question: str
    choices: tuple[Choice, ...]
    shown: tuple[Idea, tuple[Failure, ...]] = field(repr=False)
    """The trial and the faults that are drawn with the reason."""
    about: tuple[str, ...] = field(repr=False)
    """The faults and trials that it is about: two drills with the same ones and of the same kind are alike."""

    @property
    def title(self) -> str:
        """What its kind is called."""
        return self.table.title

    @property
    def right(self) -> int:
        """The place of the right choice, from 0."""
        return next(place for place, choice in enumerate(self.choices) if choice.right)

    @property
    def alike(self) -> tuple[str, ...]:
        """What two drills that are alike in network and question have in common."""
        return (self.kind, *self.about)


def mixed(rng: Random, right: Choice, wrong: Sequence[Choice]) -> tuple[Choice, ...]:
    """Return the choices in any order."""
    found = [right, *wrong]
    rng.shuffle(found)
    return tuple(found)


def fault_words(failure: Failure) -> str:
    """Return a fault in words, with how bad it is where that is not clear from its name."""
    ohms = failure.usual_ohms
    if failure.raises and ohms == float("inf"):
        return f"{failure.id} (no contact)"
    if TELLING_OHMS <= ohms < float("inf"):
        return f"{failure.id} ({'adds' if failure.raises else 'joined by'} {ohms:g} Ω)"
    return failure.id


def see_words(seen: str) -> str:
    """Return what is seen, as part of a sentence."""
    if seen == "no lamp":
        return "no lamp is lit"
    if seen.endswith(FLICKERS) or seen.startswith(("it ", "something ", "nothing ")):
        return seen
    return f"{seen} {'are' if ' and ' in seen else 'is'} lit"
