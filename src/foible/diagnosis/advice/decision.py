"""What to do next, as a value: the trials worth making, whether to act instead, and on what."""

from __future__ import annotations

from dataclasses import dataclass, replace
from operator import attrgetter
from typing import TYPE_CHECKING

from foible.diagnosis.advice.permitted import fenced_on, of_other
from foible.diagnosis.shown.hypotheses import SOUND

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from foible.diagnosis.advice.aims import Aim
    from foible.situation import Mode
    from foible.trials import Idea, Trial

__all__ = ["Advice", "Decision", "acting_on", "leaving_kit", "settling_look", "stirring", "telling_hit"]

FENCES_ON = 0.6
"""From this probability on, “nothing wrong” is said once the fencer has fenced on without it; judgement, no source."""
EVEN = 0.5
"""From this probability on, what was seen is put right in seconds before its item is exchanged; judgement, no source."""
AS_MUCH = 1.06
"""Expected costs to be done that differ by less than this ratio are as good as the same; judgement, no source."""
THE_SAME = 1.01
"""Expected costs to be done that differ by less than this ratio are the same, worked out as they are; judgement, no source."""
LITTLE_MORE = 1.2
"""Up to this ratio of expected costs an item that takes long to exchange is left in for another trial; judgement, no source."""
TELLING_LOOK = 0.4
"""What a look tells at least that goes before a trial which costs as much [bit]; judgement, no source."""
NEARLY_CERTAIN = 0.9
"""An item this probable is exchanged before a trial that costs as much; judgement, no source."""
TELLING = 0.1
"""What a trial tells at least that goes before an exchange which costs as much [bit]; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Advice:
    """A trial with the information it is expected to give, and the cost to be done."""

    idea: Idea
    bits: float
    """Expected information about what should be named [bit]."""
    cost_s: float
    """Expected cost to be done when this trial is made next [s]."""
    proves: bool = False
    """Whether it does again what failed, to prove what was put right."""

    @property
    def bits_per_second(self) -> float:
        """Expected information per second of the trial's cost [bit/s]."""
        return self.bits / self.idea.seconds


@dataclass(frozen=True)
class Decision:
    """What to do next."""

    mode: Mode
    advice: tuple[Advice, ...]
    """Trials worth making, the one to make first in front."""
    enough: bool
    """Whether it is time to act: it costs less than to go on trying, or a master would stop here (`follows`)."""
    stop_s: float
    """Expected cost to be done when nothing more is tried [s]."""
    aims: tuple[tuple[Aim, float], ...]
    """What could be named, with probabilities, the most probable first."""
    named: Aim
    """What to do where nothing more is tried."""
    chance: float
    """Probability that this puts it right."""
    made_up: tuple[Idea, ...] = ()
    """Trials made for this case alone: those that exchange an item and do again what showed the fault."""
    proved: bool = False
    """Whether what failed has been done again, and passed, since something was put right."""
    follows: bool = False
    """Whether the fault came with moving what is named, and did not come with another one in its place."""

    def preferring(self, *kinds: Callable[[Advice], bool]) -> Decision:
        """Return the same decision with trials of some kinds in front of others that cost as much, the first kind foremost."""
        if not self.advice:
            return self
        least = self.advice[0].cost_s
        as_much = [advice for advice in self.advice if advice.cost_s <= AS_MUCH * least]
        first = list(dict.fromkeys(advice for kind in kinds for advice in as_much if kind(advice)))
        return replace(self, advice=(*first, *(advice for advice in self.advice if advice not in first)))

    def sparing(self, items: Collection[str]) -> Decision:
        """Return the same decision with what leaves the kit in before an exchange of one of `items` that costs hardly less."""
        first = self.advice[0] if self.advice else None
        if first is None or not set(first.idea.trial.swapped[-1:]) & {*items}:
            return self
        own = [each for each in self.advice if leaving_kit(each) and each.cost_s <= LITTLE_MORE * first.cost_s]
        return replace(self, advice=(own[0], *(each for each in self.advice if each is not own[0]))) if own else self

    def looking_first(self, parts: Collection[str]) -> Decision:
        """Return the same decision with the looks at some parts in front: blades that may be broken, plugs before they are drawn.

        One has to be made anyway, so the one that tells most in its time goes first.
        """
        looks = [advice for advice in self.advice if not {*parts}.isdisjoint(advice.idea.trial.examine)]
        looks.sort(key=lambda advice: -advice.bits_per_second)
        return replace(self, advice=(*looks, *(advice for advice in self.advice if advice not in looks))) if looks else self

    def proving_first(self, test: Idea) -> Decision:
        """Return the decision to make a test before anything else: what failed is done again once something was put right."""
        others = [advice for advice in self.advice if advice.idea.trial != test.trial]
        return replace(self, enough=False, advice=(Advice(test, 0.0, self.stop_s, proves=True), *others))

    def exchanging_first(self, aim: Aim) -> Decision:
        """Return the decision to exchange what an aim names and do again what failed, where that can be done."""
        ideas = [idea for idea in self.made_up if idea.trial.swapped[-1] == aim.name]
        return replace(self.with_first(ideas[0]), enough=False) if ideas else self

    @property
    def in_seconds(self) -> bool:
        """Whether what is likeliest, with even chances or better, is put right in seconds."""
        first, share = self.aims[0]
        return first.quick and share >= EVEN

    def acting_now(self) -> Decision:
        """Return the decision to act, and first on what is put right in seconds."""
        aim, share = self.aims[0]
        acting = replace(self, enough=True)
        return replace(acting, named=aim, chance=share) if self.in_seconds else acting

    @property
    def sound_enough(self) -> bool:
        """Whether “nothing wrong” is likely enough to be said once the fencer has fenced on, and nothing came back."""
        first, share = self.aims[0]
        return first.name == SOUND and share >= FENCES_ON

    def with_first(self, idea: Idea) -> Decision:
        """Return the same decision with one trial in front."""
        first = next((each for each in self.advice if each.idea == idea), Advice(idea, 0.0, self.stop_s))
        return replace(self, advice=(first, *(each for each in self.advice if each != first)))

    def provoking_first(self, about: str | None) -> Decision:
        """Return the decision to provoke before “nothing wrong” is said, by what tells most; `about`: the side complained of."""
        moving = [advice for advice in self.advice if advice.idea.trial.moves]
        moving = [advice for advice in moving if about is None or advice.idea.trial.arrangement.press in {None, about}]
        moving.sort(key=lambda advice: -advice.bits)
        others = (advice for advice in self.advice if advice not in moving)
        return replace(self, enough=False, advice=(*moving, *others)) if moving else self


def acting_on(aim: Aim, chance: float) -> Callable[[Advice], bool]:
    """Return what tells whether a trial exchanges the item named, where that is nearly certain to be it."""
    return lambda advice: chance >= NEARLY_CERTAIN and aim.name in advice.idea.trial.swapped[-1:]


def settling_look(advice: Advice) -> bool:
    """Return whether a trial is a look that tells much: it disturbs nothing and needs nobody."""
    return bool(advice.idea.trial.examine) and advice.bits >= TELLING_LOOK


def stirring(decision: Decision, shown: Trial | None) -> Callable[[Advice], bool]:
    """Return what tells which trial moves something, where one tells as much as the first, which would leave the kit still.

    `shown`: what showed the fault. What comes and goes by itself may hide while nothing is moved; where a hit is what fails now
    and then, the hit is tried by itself first.
    """
    first = decision.advice[0] if decision.advice else None
    by_itself = shown is not None and shown.unsteady and not shown.arrangement.press
    if first is None or not by_itself or not _still(first.idea.trial):
        return lambda _: False
    own = [each for each in decision.advice if each.idea.trial.moves and not each.idea.trial.arrangement.press]
    as_much = [each for each in own if each.cost_s <= AS_MUCH * first.cost_s and each.bits >= first.bits]
    most = max((each for each in as_much if not each.idea.trial.swapped), key=attrgetter("bits"), default=None)
    return lambda advice: advice is most


def telling_hit(decision: Decision, about: str | None) -> Callable[[Advice], bool]:
    """Return what tells which hit goes first of those in which something is moved, where one of them would anyway.

    Of those that cost the same it is the one that tells most, of the fencer who complains (`about`) if there is one. That the
    fencer fences on is not among them: it comes last.
    """
    first = decision.advice[0] if decision.advice else None
    if first is None or not _provokes(first.idea.trial):
        return lambda _: False
    same = [each for each in decision.advice if each.cost_s <= THE_SAME * first.cost_s and _provokes(each.idea.trial)]
    own = [each for each in same if about is None or not of_other(each.idea.trial, about)]
    most = max(own or same, key=attrgetter("bits"))
    return lambda advice: advice is most


def _provokes(trial: Trial) -> bool:
    """Return whether a trial hits while something is moved, with the fencer's own kit."""
    return bool(trial.moves and trial.arrangement.press and not trial.swapped) and not fenced_on(trial)


def _still(trial: Trial) -> bool:
    """Return whether a trial watches the lamps of kit in which nothing is moved."""
    return not (trial.moves or trial.examine or trial.gauge or trial.meter or trial.box)


def leaving_kit(advice: Advice) -> bool:
    """Return whether a trial leaves the fencer's own kit in, and tells something for it."""
    return not advice.idea.trial.swapped and advice.bits >= TELLING
