"""Simulated cases diagnosed by the whole program: its first advice is followed until it says to act, and that is done.

What failed is then made again, as the program asks; where it still fails, the case goes on.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from benchmarks.accuracy.answers import Kit, expecting, gone
from benchmarks.accuracy.cases import complains
from benchmarks.accuracy.program import EXCHANGE, NOTHING_WRONG
from benchmarks.seconds import acted_s, trial_s
from foible.trials import read_trial

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from benchmarks.accuracy.cases import Cases
    from benchmarks.accuracy.faults import Fault
    from benchmarks.accuracy.program import Deed, Program, Said
    from foible.kit import Setup
    from foible.trials import TrialTable

__all__ = ["MOST_TRIALS", "Played", "Step", "cured", "cures", "play"]

MOST_TRIALS = 20
"""A run ends here at the latest."""


class Step(NamedTuple):
    """What was said after a trial."""

    stated: float
    """The stated share of the first name."""
    cures: float
    """How far exchanging it cures, as `cures` counts."""
    halves: float
    """The same, where of two faults in two items each counts half, whatever it makes."""


@dataclass(frozen=True)
class Played:
    """How one simulated case went."""

    right: bool
    """Whether what is named puts it right; with nothing wrong, whether that is said."""
    at_once: bool
    """The same of what was named first, before anything named was put right and tried."""
    stated: float
    """The stated probability of the ending."""
    trials: int
    seconds: float
    """Spent on trials [s]."""
    acted: float
    """What doing what is named takes besides, where it was not done in a trial [s]."""
    sound: bool
    """Whether nothing was wrong."""
    nothing: bool
    """Whether “nothing wrong” was said."""
    wasted: int
    """Sound items exchanged, in trials and at the end."""
    steps: tuple[Step, ...]
    """What was said after each trial."""
    story: tuple[str, ...] = ()
    """What was wrong, what was tried and what came of it, for reading."""


def play(
    program: Program,
    cases: Cases,
    seed: int,
    *,
    misread: float,
    piste: bool = True,
    expected: float = 0.0,
    proving: bool = True,
) -> Iterator[Played]:
    """Diagnose every case, from the complaint on, which costs nothing.

    `expected`: share of trials reported as expected; `proving`: is what is named done and tried, or the case over with its name.
    """
    for place in range(len(cases)):
        rng = np.random.default_rng([seed, place])
        kit = Kit(cases.networks, place, cases.ready[place], rng, misread=misread, piste=piste)
        yield _play(program, cases, place, kit, rng, expected, proving=proving)


@dataclass
class _Course:
    """A case that is being diagnosed."""

    trials: list[TrialTable]
    story: list[str]
    steps: list[Step] = field(default_factory=list)
    seconds: float = 0.0
    swapped: tuple[str, ...] = ()
    mended: tuple[str, ...] = ()
    done: set[str] = field(default_factory=set)
    """Items and repairs that were named, and exchanged or done."""


def _play(
    program: Program, cases: Cases, place: int, kit: Kit, rng: np.random.Generator, expected: float, *, proving: bool
) -> Played:
    complaint = cases.told[place].complaint
    wrong = " and ".join(fault.name for fault in kit.faults) or NOTHING_WRONG
    course = _Course([complaint.table], [f"{wrong}: “{complaint.say}”"])
    at_once = None
    said = program.says(complaint.say, course.trials)
    while len(course.steps) < MOST_TRIALS:
        if said.table is not None:
            said = _made(program, complaint.say, course, kit, said, led=lambda: rng.random() < expected)
            course.steps.append(_step(cases, place, said))
            continue
        at_once = _right(cases, place, said, course) if at_once is None else at_once
        todo = [deed for deed in said.deeds if deed.done and deed.done not in course.done]
        if said.done or not todo or not proving:
            break
        _carry_out(program, course, said.deeds)
        said = program.says(complaint.say, course.trials)
    course.story.append(f"{[(deed.kind, deed.repair or deed.item) for deed in said.deeds]} {said.chance:.2f}")
    return _ended(cases, place, said, course, program.setup, at_once)


def _made(program: Program, complaint: str, course: _Course, kit: Kit, said: Said, led: Callable[[], bool]) -> Said:
    """Make the trial that is asked for, and return what the program says then; `led`: is what it suspects reported."""
    asked = said.table
    assert asked is not None
    newly = [item for item in asked.swapped if item not in course.swapped]
    course.swapped = (*course.swapped, *newly)
    course.seconds += trial_s(asked, _kinds(program.setup), newly)
    made = asked.model_copy(update={"swapped": course.swapped, "mended": course.mended})
    trial = read_trial(program.setup, made, answered=False)[0]
    as_led = said.suspect is not None and led()
    answer = expecting(program.setup, trial, said.suspect) if as_led and said.suspect else kit.answer(trial)
    noticed = kit.remarked(trial)
    look = {"examine": (noticed[0],), "found": (noticed[1],)} if noticed else {}
    course.trials.append(made.model_copy(update={**answer, **look}))
    shown = ", ".join(answer.get("saw") or answer["found"])
    course.story.append(f"{said.say} → {shown}{' (expected)' if as_led else ''}")
    if noticed:
        course.story.append(f"{noticed[0]}: {noticed[1]}")
    return program.says(complaint, course.trials)


def _step(cases: Cases, place: int, said: Said) -> Step:
    truths = {fault.item for fault in cases.networks.cases[place]} or {NOTHING_WRONG}
    return Step(said.stated, cures(cases, place, said.first), (said.first in truths) / len(truths))


def _carry_out(program: Program, course: _Course, deeds: Sequence[Deed]) -> None:
    """Do what is named, before it is tried."""
    from foible.trials import put_right  # noqa: PLC0415 — earlier programs, whose endings are not carried out, have no such thing

    kinds = _kinds(program.setup)
    exchanged = [deed.item for deed in deeds if deed.kind == EXCHANGE]
    repairs = [deed.repair for deed in deeds if deed.repair]
    anew = [deed for deed in deeds if deed.done not in {*course.swapped, *course.mended}]
    course.seconds += sum(acted_s(deed.kind, kinds.get(deed.item, "")) for deed in anew)
    course.swapped = (*course.swapped, *(item for item in exchanged if item not in course.swapped))
    course.mended = (*course.mended, *(repair for repair in repairs if repair not in course.mended))
    course.done |= {deed.done for deed in deeds}
    course.trials.append(put_right(course.trials[-1], exchanged, repairs))
    course.story.append(f"done: {', '.join(sorted(deed.done for deed in deeds))}")


def _kinds(setup: Setup) -> dict[str, str]:
    return {item.id: item.kind for item in setup.items.values()}


def _right(cases: Cases, place: int, said: Said, course: _Course) -> bool:
    """Return whether what is named puts it right; with nothing wrong, whether that is said."""
    if cases.networks.cases[place]:
        return cured(cases, place, said.deeds, course.swapped, course.mended)
    return any(deed.kind == NOTHING_WRONG for deed in said.deeds)


def _ended(cases: Cases, place: int, said: Said, course: _Course, setup: Setup, at_once: bool | None) -> Played:  # noqa: FBT001
    faults, kinds = cases.networks.cases[place], _kinds(setup)
    guilty = {fault.item for fault in faults}
    exchanged = {*course.swapped, *(deed.item for deed in said.deeds if deed.kind == EXCHANGE)}
    done = {*course.swapped, *course.mended}
    acted = sum(acted_s(deed.kind, kinds.get(deed.item, "")) for deed in said.deeds if deed.done not in done)
    right = _right(cases, place, said, course)
    return Played(
        right=right,
        at_once=right if at_once is None else at_once,
        stated=said.chance,
        trials=len(course.steps),
        seconds=course.seconds,
        acted=acted,
        sound=not faults,
        nothing=any(deed.kind == NOTHING_WRONG for deed in said.deeds),
        wasted=len(exchanged - guilty),
        steps=tuple(course.steps),
        story=tuple(course.story),
    )


def cured(cases: Cases, place: int, deeds: Sequence[Deed], swapped: Sequence[str], mended: Sequence[str] = ()) -> bool:
    """Return whether what is named puts right what was complained of, together with what was exchanged or mended on the way.

    Something named must be at fault. What is left may not make the complaint; where nothing in the case could have made it,
    as after a misreading, nothing more is asked.
    """
    faults = cases.networks.cases[place]
    named = {number for number, fault in enumerate(faults) if any(_rights(deed, fault) for deed in deeds)}
    if not named:
        return False
    left = [n for n, fault in enumerate(faults) if n not in named and not gone(fault.item, fault.failure, swapped, mended)]
    there = sum(1 << number for number in left)
    everything = (1 << len(faults)) - 1
    return not complains(cases, place, there) or not complains(cases, place, everything)


def cures(cases: Cases, place: int, name: str) -> float:
    """Return how far exchanging an item by itself cures what was complained of; with nothing wrong, whether that is named.

    One half where both items of a pair are needed: either makes the complaint, or only both together do.
    """
    faults = cases.networks.cases[place]
    if not faults:
        return float(name == NOTHING_WRONG)
    everything = (1 << len(faults)) - 1
    own = sum(1 << number for number, fault in enumerate(faults) if fault.item == name)
    if not own:
        return 0.0
    if own == everything or not complains(cases, place, everything & ~own):
        return 1.0
    return 0.5 if complains(cases, place, own) or not complains(cases, place, everything) else 0.0


def _rights(deed: Deed, fault: Fault) -> bool:
    """Return whether a deed puts a fault right: its repair, or whatever is done to the whole of its item."""
    if deed.item != fault.item:
        return False
    if not deed.repair:
        return True
    return fault.failure is not None and (fault.failure.job == deed.repair or fault.part in deed.parts)
