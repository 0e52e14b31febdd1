"""What a diagnosis comes to: its figures in; out, what every surface prints, worked out once."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

from foible.diagnosis import Ending, ending_of
from foible.kit import job_parts
from foible.rules import judged
from foible.services.acting import Act, act_of
from foible.services.refereeing import Ruling, referee_lines
from foible.trials import made_alone

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from foible.diagnosis import Advice, AlikeSuspects, Decision, Explanation, Finding, Proof, Suspect
    from foible.kit import Repair
    from foible.rules import Judgement
    from foible.trials import Case, Idea, Trial

__all__ = [
    "AboutSuspect",
    "Act",
    "Diagnosis",
    "Doubts",
    "ItemLine",
    "Rest",
    "SuspectLine",
    "Verdict",
    "Why",
    "verdict_of",
    "wrong_words",
]

LIKELY = 0.5
"""From this probability on, something is more likely than not."""
PAIRS = 4
"""Pairs of failures that are named."""
LEAST_ITEM = 0.05
"""Items less probable than this are not listed."""
TELLING = 0.1
"""A second look that is expected to tell less than this settles nothing [bit]; judgement, no source."""
MOSTLY, HARDLY = 0.8, 0.2
"""Above the first share something is stated as a fact; below the second it is not mentioned."""


@dataclass(frozen=True)
class Why:
    """The reason for a suspect: one trial, explained."""

    suspect: Suspect
    trial: int
    """Position of the trial in the case."""
    explanation: Explanation


@dataclass(frozen=True)
class Diagnosis:
    """What a case amounts to, what to try next, and why."""

    case: Case
    trials: tuple[Trial, ...]
    finding: Finding
    decision: Decision
    """The trials worth making, or that it is time to act."""
    candidates: tuple[Idea, ...] = field(repr=False)
    """Everything that was weighed up, whatever is at hand: trials, and repairs that are made and then checked."""
    explained: Callable[[], Why | None] = field(repr=False, compare=False)

    @cached_property
    def why(self) -> Why | None:
        """The reason for the first suspect, worked out when asked for."""
        return self.explained()

    @cached_property
    def ending(self) -> Ending:
        """How the case would end now."""
        return ending_of(self.case.setup, self.finding, self.decision, self.trials)

    @property
    def alone(self) -> str | None:
        """The item on which every trial was made by itself, so that no other is in question; None where there is none."""
        return made_alone(self.case.setup, self.trials)

    @cached_property
    def judgements(self) -> tuple[tuple[int, Judgement], ...]:
        """What the readings and gauges come to against the rulebook, each with the position of its trial."""
        found = [(number, judged(self.case.setup.weapon, trial)) for number, trial in enumerate(self.trials)]
        return tuple((number, judgement) for number, judgement in found if judgement)

    @property
    def advice(self) -> tuple[Advice, ...]:
        """Trials worth making, the one to make first in front."""
        return self.decision.advice

    @property
    def hidden(self) -> tuple[str, ...]:
        """The armourer's tools, which are of no interest until a trial has used or looked at one."""
        setup, trials = self.case.setup, self.trials
        if any(trial.meter or trial.box or trial.gauge for trial in trials):
            return ()
        named = {name for trial in trials for name in (*trial.swapped, *trial.examine, *trial.mended)}
        looked_at = {setup.parts[name].item if name in setup.parts else job_parts(name)[0] for name in named}
        return tuple(item.id for item in setup.items.values() if item.tool and item.id not in looked_at)

    def made_before(self, trial: Trial) -> bool:
        """Return whether the case has a trial with the same arrangement."""
        return trial.unseen() in [made.unseen() for made in self.trials]

    def of(self, case: Case) -> Diagnosis:
        """Return the same diagnosis for a case that differs only in its wording."""
        return replace(self, case=case)


@dataclass(frozen=True)
class Doubts:
    """Reasons not to take the suspects at face value."""

    pairs: tuple[tuple[str, str, float], ...]
    """Pairs of parts with probabilities, where no single failure explains the trials; else empty."""
    misread: tuple[tuple[int, float], ...]
    """Trials by position whose lamps were more likely misread than not and are worth another look, with the probability."""
    alike: tuple[AlikeSuspects, ...]
    """Suspects that nothing at hand can separate."""


@dataclass(frozen=True, slots=True)
class SuspectLine:
    """One row of the suspects."""

    suspect: Suspect
    wrong: str
    """What is wrong with it, how much, and whether it comes and goes."""

    @property
    def part(self) -> str:
        """The part suspected."""
        return self.suspect.part

    @property
    def item(self) -> str:
        """The item it belongs to."""
        return self.suspect.item

    @property
    def probability(self) -> float:
        """Probability that it is this part."""
        return self.suspect.probability


@dataclass(frozen=True, slots=True)
class ItemLine:
    """One of the items that the suspects belong to."""

    name: str
    words: str
    """What screens call it."""
    probability: float
    """Probability that something in it has failed."""


@dataclass(frozen=True, slots=True)
class Rest:
    """The probability that belongs to none of the suspects listed; with theirs, all but that of two failures adds up to 1."""

    others: float
    """None of the suspects listed, but other parts."""
    two: float
    """Two failures at once; each such pair counts once among the suspects, divided between its two."""
    sound: float
    unknown: float
    left_out: float
    """The most that the pairs left out of the reasoning can amount to."""

    @property
    def lines(self) -> tuple[tuple[str, float], ...]:
        """Each share with its words: with those of the suspects listed they add up to 1."""
        return (
            ("other parts", self.others),
            ("nothing wrong", self.sound),
            ("not in this model", self.unknown),
        )


@dataclass(frozen=True)
class Verdict:
    """What a diagnosis comes to, for every surface alike."""

    suspects: tuple[SuspectLine, ...]
    """As many as were asked for, the most probable first."""
    items: tuple[ItemLine, ...]
    """Items worth a word, the most probable first."""
    rest: Rest
    act: Act | None
    """None where another trial is the better thing to do."""
    doubts: Doubts
    referee: tuple[Ruling, ...]
    """What the rulebook tells the referee of the fault; empty on the bench."""


@dataclass(frozen=True)
class AboutSuspect:
    """Everything that can be said of one suspect."""

    suspect: Suspect
    why: Why | None
    """The trial that shows it best, or the one asked for; None where no lamps have been seen."""
    weights: tuple[float, ...]
    """How much each trial spoke for it, or against it where negative [bit]."""
    misread: tuple[float, ...]
    """Probability that each trial was misread."""
    repair: Repair | None
    proof: Proof
    alike: AlikeSuspects | None
    """The suspects that nothing at hand separates from it; None where there are none."""


def verdict_of(diagnosis: Diagnosis, count: int, *, misread: Sequence[float], alike: Sequence[AlikeSuspects]) -> Verdict:
    """Return what a diagnosis comes to, with its first `count` suspects.

    `misread`: probability for each trial; `alike`: groups of these suspects that nothing at hand separates.
    """
    finding, belief = diagnosis.finding, diagnosis.finding.belief
    shown = finding.suspects[:count]
    others = 1 - sum(suspect.probability for suspect in shown) - finding.sound - finding.unknown
    act = act_of(diagnosis)
    return Verdict(
        suspects=tuple(SuspectLine(suspect, wrong_words(suspect, diagnosis.trials)) for suspect in shown),
        items=tuple(_item_lines(diagnosis)),
        rest=Rest(others, belief.two, finding.sound, finding.unknown, belief.left_out),
        act=act,
        doubts=Doubts(
            pairs=tuple(belief.by_pair(PAIRS)) if belief.two > LIKELY else (),
            misread=tuple((n, chance) for n, chance in enumerate(misread) if chance > LIKELY and _worth_a_look(diagnosis, n)),
            alike=tuple(alike),
        ),
        referee=referee_lines(diagnosis, act),
    )


def _item_lines(diagnosis: Diagnosis) -> Iterator[ItemLine]:
    for share in diagnosis.finding.items:
        if share.probability >= LEAST_ITEM and share.name not in diagnosis.hidden:
            yield ItemLine(share.name, diagnosis.case.setup.items[share.name].words, share.probability)


def _worth_a_look(diagnosis: Diagnosis, number: int) -> bool:
    """Return whether another look at a trial would settle whether it was misread: not where it came out alike twice."""
    trial = diagnosis.trials[number]
    if trial.times > 1 or sum(each.bare() == trial.bare() for each in diagnosis.trials) > 1:
        return False
    asked = trial.unseen()
    told = [advice.bits for advice in diagnosis.advice if advice.idea.trial == asked]
    return not told or max(told) >= TELLING


def wrong_words(suspect: Suspect, trials: Sequence[Trial]) -> str:
    """Return what is wrong with a suspect, how much, and whether it comes and goes."""
    said = (suspect.failure.mode, _severity(suspect, trials), _behaviour(suspect))
    return ", ".join(filter(None, said))


def _severity(suspect: Suspect, trials: Sequence[Trial]) -> str:
    """Return the resistance that a suspect would have, where a meter has been used; "" elsewhere."""
    low, high = suspect.ohms_range
    measured = any(trial.reads for trial in trials)
    if not measured or not suspect.failure.raises or math.isinf(high):
        return ""
    return f"{low:.2g} to {high:.2g} Ω"


def _behaviour(suspect: Suspect) -> str:
    if suspect.intermittent > MOSTLY:
        return "comes and goes"
    return "" if suspect.intermittent < HARDLY else "perhaps comes and goes"
