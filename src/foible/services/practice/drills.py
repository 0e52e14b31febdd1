"""A weapon, an idea and a seed in; out, drills one after the other, and why the right answer is right, ready to be drawn."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.apparatus import load_profile
from foible.diagnosis import explain_lamps, explain_tools
from foible.kit import SIDES
from foible.practice import Exercise, Result
from foible.practice.drills import DrillSet, drilled_ideas

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.diagnosis import Circuit, Explanation
    from foible.kit import Setup, Weapon
    from foible.practice.drills import Drill
    from foible.services.reasoning import Reasoning
    from foible.trials import Trial

__all__ = ["MINUTE_S", "MOST", "Reason", "Run", "drill_of", "drilled_weapons", "once", "reason_of", "result_of"]

MINUTE_S = 60.0
"""How long a run lasts: the time spent on its questions, not on reading the reasons [s]."""
MOST = 40
"""Drills in one run: more than anybody answers in a minute."""
SETS = 64
"""Runs whose drills stay in memory; any other one is made again from its seed."""


@dataclass(frozen=True)
class Run:
    """A minute of drills: how far somebody has come in it. Times are seconds, and moments seconds of a clock [s]."""

    of: str
    """Weapon, idea and seed."""
    last: int = 0
    """The last one that was answered."""
    asked: int = 0
    """The one that is being thought about."""
    since: float = 0.0
    """When it was first shown."""
    spent: float = 0.0
    """Spent on answering."""
    right: int = 0
    kept: bool = True
    """Whether what was shown could be kept."""

    @property
    def done(self) -> int:
        """How many were answered; they come in order, and none is left out."""
        return self.last

    @property
    def over(self) -> bool:
        """Whether the minute is over."""
        return self.spent >= MINUTE_S or self.last >= MOST

    def ask(self, number: int, now: float) -> Run:
        """Return the run with a question shown; the time of one that is shown again goes on."""
        return self if number <= self.last or number == self.asked else replace(self, asked=number, since=now)

    def seconds(self, number: int, now: float) -> float:
        """Return how long a question has been thought about; 0 for one that is not asked."""
        return max(now - self.since, 0.0) if number == self.asked else 0.0

    def left(self, number: int, now: float) -> float:
        """Return what is left of the minute."""
        return max(MINUTE_S - self.spent - self.seconds(number, now), 0.0)

    def answer(self, number: int, now: float, *, right: bool) -> Run:
        """Return the run with an answer."""
        spent = self.spent + self.seconds(number, now)
        return replace(self, last=number, spent=spent, right=self.right + right)


@dataclass(frozen=True)
class Reason:
    """Why the right answer is right."""

    text: str
    trial: Trial = field(repr=False)
    item: str
    """The item in which the fault is, or on which it is looked for."""
    on_bench: bool
    """Whether that item is drawn alone, rather than the strip."""
    circuit: Circuit | None = field(repr=False)
    """The measurement whose way is drawn; None where no current tells."""
    lamps: Mapping[str, Mapping[str, float]] = field(repr=False)
    """The probability of each lamp, by side; empty where none is looked at."""


def drilled_weapons(reasoning: Reasoning) -> tuple[Weapon, ...]:
    """Return the weapons for which there are drills."""
    return tuple(weapon for weapon in reasoning.weapons() if drilled_ideas(weapon.name))


def drill_of(reasoning: Reasoning, weapon: str, idea: str, seed: str, number: int) -> Drill:
    """Return a drill by the run that it belongs to and its number from 1 on. Raises UnknownNameError and InputError."""
    return _set(reasoning.setup(weapon), idea, seed).drill(number)


def reason_of(reasoning: Reasoning, drill: Drill) -> Reason:
    """Return why the right answer of a drill is right."""
    setup, (idea, (failure,)) = reasoning.setup(drill.weapon), drill.shown
    trial = idea.trial
    if trial.meter or trial.gauge or trial.examine:
        text = explain_tools(setup, trial, failure, failure.usual_ohms)
        return Reason(text, trial, idea.item or failure.item, on_bench=True, circuit=None, lamps={})
    profile = load_profile(setup.profile, setup.overlays)
    made, sound = (
        explain_lamps(setup, profile, trial.arrangement, failures) for failures in ([(failure, failure.usual_ohms)], [])
    )
    side = _side(made, sound, trial)
    lamps = {each: made[each].lamps for each in SIDES}
    circuit = _changed(made[side], sound[side])
    return Reason(made[side].text, trial, failure.item, on_bench=False, circuit=circuit, lamps=lamps)


def result_of(drill: Drill, seed: str, number: int, *, right: bool, seconds: float) -> Result:
    """Return what an answer to a drill has shown."""
    name = f"{drill.kind} {seed}-{number}"
    return Result(drill.subject, drill.weapon, Exercise.DRILL, name, right, seconds, drill.table.usual_s)


def once(learner: str, *where: object) -> str:
    """Return the token of an answer: whoever answers the same drill of the same run again changes nothing."""
    return hashlib.sha256(" ".join(map(str, (learner, *where))).encode()).hexdigest()[:40]


@lru_cache(maxsize=SETS)
def _set(setup: Setup, idea: str, seed: str) -> DrillSet:
    return DrillSet(setup, idea, seed)


def _side(made: Mapping[str, Explanation], sound: Mapping[str, Explanation], trial: Trial) -> str:
    """Return the side that a reason is about: the one whose lamps the fault changes, else the one that hits."""
    changed = [side for side in SIDES if _lit(made[side]) != _lit(sound[side])]
    press = trial.arrangement.press
    return press if press in changed or (press and not changed) else (changed or list(SIDES))[0]


def _lit(shown: Explanation) -> tuple[str, ...]:
    return tuple(lamp for lamp, chance in shown.lamps.items() if chance >= 0.5)  # noqa: PLR2004 — lit rather than dark


def _changed(made: Explanation, sound: Explanation) -> Circuit:
    """Return the measurement that a fault changes most plainly: closed by it or cut, else the first one."""
    usual = {each.name: each for each in sound.circuits}
    for each in made.circuits:
        before = usual[each.name]
        if bool(each.cuts) is not bool(before.cuts) or (each.way and not before.way) or each.high:
            return each
    return made.circuits[0]
