"""An attempt in; out, the talk afterwards: what each step could have told, what was best, what could be known by then."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.diagnosis import SOUND, UNKNOWN
from foible.practice import NOTHING_WRONG, Deed, Judged, judged, points
from foible.services.practice.flaws import Flaw, flaws_of
from foible.services.practice.plans import exchanging_in_turn, following_advice, knowing, told_again
from foible.services.practice.reasoned import advised, first_advice, share_of, situation_of
from foible.services.practice.strip import items_of

if TYPE_CHECKING:
    from foible.practice import Attempt, Done
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Idea

__all__ = ["Plan", "Talk", "TalkLine", "lines_about", "talk_about"]

SHOWN = 3
"""Items whose standing is told after each step."""
SUSPECTED, RULED_OUT = 0.03, 0.02
"""An item is suspected from the one probability on, and ruled out below the other; judgement, no source."""
KNOWN = 0.8
"""An item is as good as known from this probability on; judgement, no source."""
AS_GOOD = 0.8
"""A trial that tells this share of what the best one tells in the same time is as good; judgement, no source."""


@dataclass(frozen=True, slots=True)
class TalkLine:
    """What is to be said of one step."""

    done: Done
    bits: float
    """What it could have told about the item, expected [bit]; 0 of a step that is no trial."""
    learnt: float
    """By how much less was open afterwards [bit]; below zero where it surprised."""
    best: str
    """What was best to do next; empty where it was this."""
    best_bits: float
    why: str
    """Why, in one line."""
    standing: tuple[tuple[str, float], ...]
    """The items most suspected afterwards, with probabilities."""
    share: float
    """How probable was what was named or exchanged, at the time; 0 of a trial."""
    ruled_out: tuple[str, ...]
    """The items that what it showed ruled out."""
    cleared: int | None
    """The line whose lamps had spoken most against that; None where none had."""

    @property
    def told(self) -> tuple[str, ...]:
        """What the trial showed."""
        table = self.done.table
        if table is None:
            return ()
        return (*table.saw, *table.found, *table.lights, *((table.reads,) if table.reads else ()))


@dataclass(frozen=True, slots=True)
class Plan:
    """What somebody else takes for the same fault."""

    who: str
    seconds: float
    euro: float
    trials: int
    right: bool


@dataclass(frozen=True)
class Talk:
    """Everything that is to be said of an attempt."""

    attempt: Attempt
    judged: Judged
    points: int
    lines: tuple[TalkLine, ...]
    flaws: tuple[Flaw, ...]
    plans: tuple[Plan, ...]


def talk_about(reasoning: Reasoning, attempt: Attempt) -> Talk:
    """Return the talk after an attempt."""
    hidden, ideas = attempt.hidden, attempt.ideas
    best, result = knowing(hidden, ideas), judged(attempt)
    lines = lines_about(reasoning, attempt)
    others = (
        ("somebody who knows where it is", best),
        ("a master: the advice, followed", following_advice(reasoning, hidden, ideas)),
        ("a beginner: one item after another", exchanging_in_turn(hidden, ideas)),
    )
    plans = tuple(Plan(who, each.seconds, each.euro, each.trials_made, judged(each).right) for who, each in others)
    found = flaws_of(reasoning, attempt, result, lines)
    return Talk(attempt, result, points(result, attempt.seconds, best.seconds), lines, found, plans)


def lines_about(reasoning: Reasoning, attempt: Attempt) -> tuple[TalkLine, ...]:
    """Return what is to be said of each step of an attempt."""
    lines: list[TalkLine] = []
    count = len(attempt.told)
    before = advised(reasoning, attempt, count)
    for number, done in enumerate(attempt.done):
        count += done.table is not None
        after = advised(reasoning, attempt, count) if done.table is not None else before
        lines.append(_line(reasoning, attempt, number, before, after))
        before = after
    return tuple(lines)


def _line(reasoning: Reasoning, attempt: Attempt, number: int, before: Diagnosis, after: Diagnosis) -> TalkLine:
    done, best = attempt.done[number], first_advice(before, attempt.hidden.level)
    best_bits = next((each.bits for each in before.advice if each.idea == best), 0.0)
    bits = _bits(before, done)
    if done.idea is None:
        share, cleared = share_of(before, done.item), _cleared(reasoning, attempt, before, done.item)
        highest = max((part for _, part in _standing(before)), default=0.0)
        good = _begins(done, best) if best is not None else share >= highest - 1e-9
    else:
        share, cleared = 0.0, None
        good = best is not None and (_same(done, best) or bits >= AS_GOOD * best_bits > 0)
        good = good or _proving(attempt, number) or _after_the_part(attempt, before, done.idea)
    return TalkLine(
        done=done,
        bits=bits,
        learnt=_open(before) - _open(after),
        best="" if good else _best_words(before, best),
        best_bits=0.0 if good else best_bits,
        why="" if good or best is None else reasoning.at(situation_of(attempt.hidden)).why_now(before, best),
        standing=_standing(after),
        share=share,
        ruled_out=_ruled_out(before, after) if done.idea is not None else (),
        cleared=cleared,
    )


def _ruled_out(before: Diagnosis, after: Diagnosis) -> tuple[str, ...]:
    """Return the items that were suspected before a trial and hardly are any longer, the most suspected first."""
    left = {share.name: share.probability for share in after.finding.belief.by_item()}
    were = [share for share in before.finding.belief.by_item() if share.probability >= SUSPECTED]
    gone = (share.name for share in were if left.get(share.name, 0.0) < min(RULED_OUT, share.probability / 3))
    return tuple(NOTHING_WRONG if name == SOUND else name for name in gone if name != UNKNOWN)


def _best_words(before: Diagnosis, best: Idea | None) -> str:
    if best is not None:
        return best.say
    acts = before.ending.acts
    return " and ".join(f"{act.kind.value} {act.item}".strip() for act in acts)


def _bits(before: Diagnosis, done: Done) -> float:
    """Return what a trial was expected to tell; one that is not worth offering tells nothing."""
    if done.idea is None:
        return 0.0
    return next((each.bits for each in before.advice if _same(done, each.idea)), 0.0)


def _same(done: Done, idea: Idea) -> bool:
    """Return whether what was done is a trial, what it would have exchanged being exchanged by then."""
    if done.idea is None or done.table is None:
        return False
    return done.idea.trial.with_own_kit() == idea.trial.with_own_kit() and {*done.table.swapped} >= {*idea.trial.swapped}


def _after_the_part(attempt: Attempt, before: Diagnosis, idea: Idea) -> bool:
    """Return whether a trial looks for the part at an item that is as good as known: an exchange would not tell that."""
    first, trial = before.finding.belief.by_item()[0], idea.trial
    if first.probability < KNOWN:
        return False
    finds = trial.examine or trial.meter or trial.box or trial.gauge
    return bool(finds) and first.name in items_of(attempt.setup, idea)


def _begins(done: Done, best: Idea) -> bool:
    """Return whether an exchange or a repair is how the best trial begins."""
    if done.step.deed is Deed.EXCHANGE:
        return done.item in best.trial.swapped
    return done.step.deed is Deed.MEND and done.say in best.trial.mended


def _proving(attempt: Attempt, number: int) -> bool:
    """Return whether a trial does again what had been told or done before something was put right."""
    before = attempt.done[number - 1] if number else None
    if before is None or before.idea is not None or before.item == NOTHING_WRONG:
        return False
    idea = attempt.done[number].idea
    earlier = [each.idea for each in attempt.done[:number]]
    again = told_again(attempt.hidden, attempt.ideas)
    return idea is not None and (idea in earlier or (again is not None and idea == attempt.ideas[again]))


def _standing(diagnosis: Diagnosis) -> tuple[tuple[str, float], ...]:
    shares = diagnosis.finding.belief.by_item()[:SHOWN]
    words = {SOUND: NOTHING_WRONG, UNKNOWN: "something else"}
    return tuple((words.get(share.name, share.name), min(share.probability, 1.0)) for share in shares)


def _open(diagnosis: Diagnosis) -> float:
    """Return how much is open about the item [bit]: the entropy of what is believed."""
    shares = [share.probability for share in diagnosis.finding.belief.by_item() if share.probability > 0]
    total = sum(shares)
    return -sum(share / total * math.log2(share / total) for share in shares)


def _cleared(reasoning: Reasoning, attempt: Attempt, before: Diagnosis, item: str) -> int | None:
    """Return the number, from 0, of the step that had spoken most against an item, where one spoke at all."""
    suspect = next((each for each in before.finding.suspects if each.item == item), None)
    if suspect is None or not before.trials:
        return None
    weights = reasoning.at(situation_of(attempt.hidden)).weighed(before, suspect.part)
    worst = min(range(len(weights)), key=lambda place: weights[place])
    told = len(attempt.told)
    if weights[worst] > -1 or worst < told:
        return None
    numbers = [number for number, each in enumerate(attempt.done) if each.table is not None]
    return numbers[worst - told]
