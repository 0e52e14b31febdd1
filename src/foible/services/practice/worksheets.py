"""A weapon, a level and a seed in, or faults made by hand; out, exercises for paper that trials narrow down, and answers.

The trials are those that the program advises, made until one item is left, or a group that lamps cannot tell apart. Whoever looks
for it on paper sees no signs and exchanges nothing where lamps and meters tell as much: those would give it away.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING
from zlib import crc32

import numpy as np

from foible.diagnosis import SOUND, UNKNOWN
from foible.errors import InputError
from foible.practice import NOTHING_WRONG, Attempt, Level
from foible.services.acting import act_of
from foible.services.practice.plans import carried_out, told_again
from foible.services.practice.reasoned import advised, situation_of
from foible.services.practice.strip import HIGHEST, MADE, hidden_at, lamps_lit
from foible.services.practice.trainer import fault_words, laid_open

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.kit import Setup
    from foible.practice import Done, Hidden
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Idea

__all__ = [
    "MOST_EXERCISES",
    "ON_PAPER",
    "Clue",
    "Narrowed",
    "Sheet",
    "SheetAnswer",
    "SheetExercise",
    "exercises_by_hand",
    "narrowed_down",
    "worksheet",
]

MOST_EXERCISES = 12
"""Exercises of one worksheet."""
SURE = 0.9
"""One item at least this probable is the one."""
LEAST_BITS = 0.05
"""A trial that is expected to tell less than this is not made [bit]."""
MOST_TRIALS = 9
"""Trials of one exercise: more than these find no room."""
ON_PAPER = tuple(level for level in Level if level is not Level.TOLD_WRONGLY)
"""Levels that a sheet can set: what a fencer has told wrongly comes out by asking again, which paper does not answer."""
DRAWS = 8
"""Draws for each exercise before one that comes out is given up."""


@dataclass(frozen=True)
class Clue:
    """One trial of an exercise: what was done and what it showed."""

    say: str
    told: tuple[str, ...]
    """What a meter, a box, a gauge or the eye told; of lamps the phrases of a case file."""
    lamps: tuple[tuple[str, str, str], ...]
    """Side, lamp and how it was; empty where no lamps were looked at."""


@dataclass(frozen=True)
class SheetExercise:
    """What stands on the sheet for one fault."""

    number: int
    complaint: str
    """What the fencer says, or that an item is gone over."""
    clues: tuple[Clue, ...]


@dataclass(frozen=True)
class Narrowed:
    """What the trials come to."""

    items: tuple[tuple[str, float], ...]
    """The item that is left, or the group that cannot be told apart, each with its probability."""
    sound: bool
    """Whether what really was wrong is among them; of two faults, the first to be found."""

    @property
    def single(self) -> bool:
        """Whether one item is left."""
        return len(self.items) == 1 and self.items[0][1] >= SURE


@dataclass(frozen=True)
class SheetAnswer:
    """What stands on the answer sheet for one fault."""

    number: int
    wrong: tuple[str, ...]
    """What is wrong, in words; empty where nothing is."""
    narrowed: Narrowed
    reasons: tuple[str, ...]
    """For each clue what it says of the fault."""
    next: str
    """What the program would try next, or do."""
    repair: str
    proof: str
    address: str
    """Where the same fault is practised."""


@dataclass(frozen=True)
class Sheet:
    """A worksheet with its answers."""

    weapon: str
    level: str
    seed: int
    exercises: tuple[SheetExercise, ...]
    answers: tuple[SheetAnswer, ...]


def worksheet(reasoning: Reasoning, weapon: str, level: Level, count: int, seed: int) -> Sheet:
    """Return `count` exercises drawn by a seed: the same seed gives the same ones.

    One whose trials would mislead is not set: what was wrong is always what is left, or among it. Raises InputError.
    """
    if not 1 <= count <= MOST_EXERCISES:
        raise InputError(seen=f"a worksheet of {count} exercises", remedy=f"ask for 1 to {MOST_EXERCISES}")
    if level not in ON_PAPER:
        raise InputError(seen=f"“{level.title}” is nothing for paper", remedy="look for it on the strip, where one can ask again")
    setup = reasoning.setup(weapon)
    rng = np.random.default_rng([seed, crc32(f"{setup.kind.word} {level.value}".encode())])
    done: list[tuple[SheetExercise, SheetAnswer]] = []
    met: set[object] = set()
    for number in rng.integers(1_000_000, size=count * DRAWS):
        hidden = hidden_at(reasoning, setup.weapon, level.value, str(number))
        what = (tuple(fault.failure.id for fault in hidden.faults), hidden.complaint and hidden.complaint.say)
        if what in met:
            continue
        met.add(what)
        made = _exercise(reasoning, hidden, len(done) + 1, f"/practice/strip/{setup.kind.word}/{level.value}/{number}")
        if made[1].narrowed.sound and made[0].clues:
            done.append(made)
        if len(done) == count:
            break
    return _sheet(setup.weapon, level.title, seed, done)


def exercises_by_hand(reasoning: Reasoning, weapon: str, numbers: Sequence[str]) -> Sheet:
    """Return exercises about faults made by hand, by what stands in their addresses.

    Where the trials mislead, the answer says so. Raises NotFoundError and InputError.
    """
    if not 1 <= len(numbers) <= MOST_EXERCISES:
        raise InputError(seen=f"a worksheet of {len(numbers)} exercises", remedy=f"ask for 1 to {MOST_EXERCISES}")
    setup = reasoning.setup(weapon)
    base = f"/practice/strip/{setup.kind.word}/{MADE}"
    hidden = [hidden_at(reasoning, setup.weapon, MADE, number) for number in numbers]
    done = [_exercise(reasoning, each, n + 1, f"{base}/{numbers[n]}") for n, each in enumerate(hidden)]
    return _sheet(setup.weapon, "chosen by hand", 0, done)


def _sheet(weapon: str, level: str, seed: int, done: Sequence[tuple[SheetExercise, SheetAnswer]]) -> Sheet:
    return Sheet(weapon, level, seed % HIGHEST, tuple(each for each, _ in done), tuple(answer for _, answer in done))


def _exercise(reasoning: Reasoning, hidden: Hidden, number: int, address: str) -> tuple[SheetExercise, SheetAnswer]:
    attempt, diagnosis = _followed(reasoning, hidden)
    clues, told = _clues(attempt), hidden.complaint
    says = f"The fencer on the {told.side} says: “{told.say}”." if told else f"Nobody complains; the {hidden.item} is gone over."
    answer = SheetAnswer(
        number=number,
        wrong=tuple(fault_words(fault) for fault in hidden.faults),
        narrowed=_narrowed(hidden, diagnosis),
        reasons=tuple(_reasons(reasoning, attempt, diagnosis)),
        next=_next(diagnosis),
        repair="; ".join(dict.fromkeys(fault.failure.repair or fault.failure.job for fault in hidden.faults)),
        proof=_proof(hidden, attempt),
        address=address,
    )
    return SheetExercise(number, says, clues), answer


def narrowed_down(reasoning: Reasoning, hidden: Hidden) -> tuple[tuple[Clue, ...], Narrowed]:
    """Return the trials that narrow a hidden fault down, and what they come to."""
    attempt, diagnosis = _followed(reasoning, hidden)
    return _clues(attempt), _narrowed(hidden, diagnosis)


def _clues(attempt: Attempt) -> tuple[Clue, ...]:
    return tuple(Clue(each.say, _told(each), _lamps(attempt.setup, each)) for each in attempt.done if each.table is not None)


def _followed(reasoning: Reasoning, hidden: Hidden) -> tuple[Attempt, Diagnosis]:
    """Return the trials that narrow a fault down, with what they come to."""
    ideas = reasoning.ideas(hidden.setup)
    number = {idea.trial: place for place, idea in enumerate(ideas)}
    attempt = Attempt(hidden, ideas, ())
    while True:
        diagnosis = advised(reasoning, attempt)
        idea = None if _settled(diagnosis) or attempt.trials_made >= MOST_TRIALS else _fit(diagnosis)
        steps = carried_out(attempt, idea, number) if idea else []
        if not steps:
            return attempt, diagnosis
        attempt = Attempt(hidden, ideas, (*attempt.steps, *steps))


def _settled(diagnosis: Diagnosis) -> bool:
    return any(share.probability >= SURE for share in diagnosis.finding.belief.by_item())


def _fit(diagnosis: Diagnosis) -> Idea | None:
    """Return the trial to make next on paper; None where none tells anything."""
    telling = [each.idea for each in diagnosis.advice if each.bits >= LEAST_BITS and not each.idea.trial.examine]
    own = (each for each in telling if not each.trial.swapped and not each.trial.mended)
    return next(own, next(iter(telling), None))


def _narrowed(hidden: Hidden, diagnosis: Diagnosis) -> Narrowed:
    """Return the item that is sure, or as many of the likeliest as together are."""
    shares = [share for share in diagnosis.finding.belief.by_item() if share.probability > 0]
    group = [share for share in shares if share.probability >= SURE]
    total = 0.0
    for share in () if group else shares:
        if total < SURE:
            group.append(share)
            total += share.probability
    names = {share.name for share in group}
    real = set(hidden.items) or {SOUND}
    found = bool(names & real) if len(hidden.faults) > 1 else real <= names
    items = hidden.setup.items
    words = {SOUND: NOTHING_WRONG, UNKNOWN: "something that the program does not know"}
    named = ((words[each.name] if each.name in words else items[each.name].words, each.probability) for each in group)
    return Narrowed(tuple((name, min(chance, 1.0)) for name, chance in named), found)


def _told(done: Done) -> tuple[str, ...]:
    table = done.table
    if table is None or done.idea is None:
        return ()
    return (*table.saw, *table.found, *table.lights, *((_reading(table.reads),) if table.reads else ()))


def _reading(reads: object) -> str:
    return str(reads) if str(reads) == "open" else f"{reads} Ω"


def _lamps(setup: Setup, done: Done) -> tuple[tuple[str, str, str], ...]:
    shown = lamps_lit(setup, done.table)
    return tuple(
        (side, setup.kind.lamp_name(lamp, side), state) for side, lamps in shown.items() for lamp, state in lamps.items()
    )


def _reasons(reasoning: Reasoning, attempt: Attempt, diagnosis: Diagnosis) -> Iterator[str]:
    """Yield for each clue, in words that the engine finds, why it showed what it did."""
    here = reasoning.at(situation_of(attempt.hidden))
    suspect = next((each for each in diagnosis.finding.suspects if each.part in attempt.hidden.parts), None)
    place = len(attempt.told)
    for done in attempt.done:
        if done.table is None:
            continue
        laid = laid_open(reasoning, attempt, done)
        why = here.why(diagnosis, suspect, place) if suspect and done.idea and not laid else None
        yield laid.sides[laid.side].text if laid else why.explanation.text if why else ""
        place += 1


def _next(diagnosis: Diagnosis) -> str:
    act = act_of(diagnosis)
    return act.words if act else diagnosis.advice[0].idea.say if diagnosis.advice else "nothing more"


def _proof(hidden: Hidden, attempt: Attempt) -> str:
    again = told_again(hidden, attempt.ideas)
    if again is not None:
        return attempt.ideas[again].say
    failed = [done.say for done in attempt.done if done.idea is not None]
    return failed[-1] if failed else "go over it again"
