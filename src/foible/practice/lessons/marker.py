"""What every kind of question has in common: it reads a choice, says whether it is right and why, and tells what was seen."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, ClassVar

from foible.apparatus import load_profile
from foible.diagnosis import explain_lamps
from foible.errors import ImpossibleTrialError, InputError
from foible.kit import SIDES
from foible.practice.lessons.situation import lamps_said

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable, Mapping

    from foible.diagnosis import Explanation
    from foible.kit import Failure
    from foible.practice.lessons.situation import Made, Situation
    from foible.practice.lessons.tables import ChoiceTable

__all__ = ["Marker", "because_of_lamps", "explained"]

KEYS = ("lights", "at", "of", "reads", "value", "move")
"""The keys of a choice that can be an answer."""


class Marker(ABC):
    """Marks one kind of question, in one situation."""

    key: ClassVar[str]
    """The key of a choice that is the answer."""
    tells_fault: ClassVar[bool] = False
    """Whether the learner is told what has failed, and asked what would be seen; else it is the other way round."""

    def __init__(self, situation: Situation) -> None:
        self.situation = situation

    def answer(self, table: ChoiceTable) -> Hashable:
        """Return what a choice stands for; two choices that stand for the same are equal. Raises InputError."""
        given = getattr(table, self.key)
        if given is None or any(getattr(table, key) is not None for key in KEYS if key != self.key):
            raise ImpossibleTrialError(seen=f"a choice of this kind of question has “{self.key}”", remedy=f"write {self.key} = …")
        return self.read(given)

    @abstractmethod
    def read(self, given: object) -> Hashable:
        """Return what the key of a choice stands for. Raises InputError."""

    @abstractmethod
    def words(self, answer: Hashable) -> str:
        """Return a choice as a learner reads it."""

    @abstractmethod
    def right(self, answer: Hashable) -> bool:
        """Return whether a choice is right. Raises LeftOpenError."""

    @abstractmethod
    def because(self, answer: Hashable) -> str:
        """Return the reason why a choice is right or wrong."""

    def shown_by(self, answer: Hashable) -> Situation:  # noqa: ARG002 — where causes are asked for, it is the answer's own
        """Return the situation to draw once it is known that a choice is right."""
        return self.situation

    def seen(self) -> str:
        """Return what was seen, where a learner is told that; "" where it is what is asked."""
        return "" if self.tells_fault else seen_words(self.situation)

    def check(self) -> None:  # noqa: B027 — most situations are fit for most kinds
        """Raise InputError where the situation is not one for this kind of question."""


def seen_words(situation: Situation) -> str:
    """Return what is seen in a situation, in words."""
    trial = situation.trial
    if trial.meter:
        return f"the meter reads {ohms_words(situation.ohms)}"
    if trial.box:
        return f"on the test box {_box_words(situation.box)}"
    if trial.gauge:
        return f"it {'passes' if situation.gauge_passes else 'fails'} the {trial.gauge[1]}"
    lamps = lamps_said(situation.setup, situation.lamps)
    before = situation.lamps_before
    if before is None or before == situation.lamps == frozenset():
        return lamps
    if before == situation.lamps:
        return f"{lamps}, already before the press"
    return f"{lamps_said(situation.setup, before)} before the press, then {lamps}"


def _box_words(pairs: Iterable[str]) -> str:
    names = sorted(pairs)
    return f"{' and '.join(names)} {'lights' if len(names) == 1 else 'light'}" if names else "nothing lights"


def ohms_words(ohms: float) -> str:
    """Return a resistance as a meter shows it."""
    return "open" if ohms >= 1e6 else f"{ohms:.1f} Ω" if ohms < 100 else f"{ohms:.0f} Ω"  # noqa: PLR2004 — as meters do


def because_of_lamps(situation: Situation, made: Iterable[Made] | None = None) -> str:
    """Return why the lamps do what they do, on the sides where something happens; `made` in place of what has failed."""
    found = explained(situation, made)
    sides = [side for side in SIDES if any(chance > 0.5 for chance in found[side].lamps.values())]  # noqa: PLR2004 — a half
    press = situation.trial.arrangement.press or situation.side
    sides += [press] if press not in sides else []
    return " ".join(found[side].text for side in sorted(sides))


def explained(situation: Situation, made: Iterable[Made] | None = None) -> Mapping[str, Explanation]:
    """Return what lights and why, by side."""
    setup = situation.setup
    profile = load_profile(setup.profile, setup.overlays)
    failures = situation.made if made is None else tuple(made)
    return explain_lamps(setup, profile, situation.trial.arrangement, failures)


def failures_of(situation: Situation, name: str) -> tuple[str, tuple[Failure, ...]]:
    """Return a failure, a part or an item by its name as the kit spells it, with the failures that it covers."""
    setup = situation.setup
    if name in setup.failures:
        found = setup.failures[name]
        return found.id, (found,)
    if name in setup.parts:
        part = setup.parts.name(name)
        return part, tuple(each for each in setup.failures.values() if each.part == part)
    if name in setup.items:
        item = setup.items.name(name)
        return item, tuple(each for each in setup.failures.values() if each.item == item)
    raise InputError(seen=f"there is no failure, part or item called “{name}”", remedy="`foible kit` lists the names")
