"""Simulated cases diagnosed by the whole program: its first advice is followed until it says to act."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from benchmarks.accuracy.answers import Kit, expecting
from benchmarks.accuracy.cases import complains
from benchmarks.accuracy.program import EXCHANGE, NOTHING_WRONG
from benchmarks.seconds import acted_s, trial_s
from foible.trials import read_trial

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from benchmarks.accuracy.cases import Cases
    from benchmarks.accuracy.faults import Fault
    from benchmarks.accuracy.program import Deed, Program, Said
    from foible.trials import TrialTable

__all__ = ["MOST_TRIALS", "Played", "cured", "play"]

MOST_TRIALS = 20
"""A run ends here at the latest."""


@dataclass(frozen=True)
class Played:
    """How one simulated case went."""

    right: bool
    """Whether what is named puts it right; with nothing wrong, whether that is said."""
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
    steps: tuple[tuple[float, float], ...]
    """After each trial the stated share of the first name, and its true one: of two faults in two items each has half."""
    story: tuple[str, ...] = ()
    """What was wrong, what was tried and what came of it, for reading."""


def play(
    program: Program, cases: Cases, seed: int, *, misread: float, piste: bool = True, expected: float = 0.0
) -> Iterator[Played]:
    """Diagnose every case, from the complaint on, which costs nothing; `expected`: share of trials reported as expected."""
    for place in range(len(cases)):
        rng = np.random.default_rng([seed, place])
        kit = Kit(cases.networks, place, cases.ready[place], rng, misread=misread, piste=piste)
        yield _play(program, cases, place, kit, rng, expected)


def _play(program: Program, cases: Cases, place: int, kit: Kit, rng: np.random.Generator, expected: float) -> Played:
    complaint = cases.told[place].complaint
    trials = [complaint.table]
    truths = {fault.item for fault in kit.faults} or {NOTHING_WRONG}
    kinds = {item.id: item.kind for item in program.setup.items.values()}
    story = [f"{' and '.join(fault.name for fault in kit.faults) or NOTHING_WRONG}: “{complaint.say}”"]
    steps: list[tuple[float, float]] = []
    seconds = 0.0
    swapped: tuple[str, ...] = ()
    said = program.says(complaint.say, trials)
    while said.table is not None and len(steps) < MOST_TRIALS:
        asked = said.table
        newly = [item for item in asked.swapped if item not in swapped]
        swapped = (*swapped, *newly)
        seconds += trial_s(asked, kinds, newly)
        made = asked.model_copy(update={"swapped": swapped})
        trial = read_trial(program.setup, made, answered=False)[0]
        led = said.suspect is not None and rng.random() < expected
        answer = expecting(program.setup, trial, said.suspect) if led and said.suspect else kit.answer(trial)
        trials.append(made.model_copy(update=answer))
        story.append(f"{said.say} → {', '.join(answer.get('saw') or answer['found'])}{' (expected)' if led else ''}")
        said = program.says(complaint.say, trials)
        steps.append((said.stated, (said.first in truths) / len(truths)))
    story.append(f"{[(deed.kind, deed.repair or deed.item) for deed in said.deeds]} {said.chance:.2f}")
    return _ended(cases, place, said, trials[-1], kinds, steps, seconds, story)


def _ended(
    cases: Cases,
    place: int,
    said: Said,
    last: TrialTable,
    kinds: dict[str, str],
    steps: Sequence[tuple[float, float]],
    seconds: float,
    story: Sequence[str],
) -> Played:
    faults = cases.networks.cases[place]
    guilty = {fault.item for fault in faults}
    exchanged = {*last.swapped, *(deed.item for deed in said.deeds if deed.kind == EXCHANGE)}
    acted = sum(acted_s(deed.kind, kinds.get(deed.item, "")) for deed in said.deeds if deed.item not in last.swapped)
    nothing = any(deed.kind == NOTHING_WRONG for deed in said.deeds)
    right = cured(cases, place, said.deeds, last.swapped) if faults else nothing
    return Played(
        right=right,
        stated=said.chance,
        trials=len(steps),
        seconds=seconds,
        acted=acted,
        sound=not faults,
        nothing=nothing,
        wasted=len(exchanged - guilty),
        steps=tuple(steps),
        story=tuple(story),
    )


def cured(cases: Cases, place: int, deeds: Sequence[Deed], swapped: Sequence[str]) -> bool:
    """Return whether what is named puts right what was complained of, together with what was exchanged on the way.

    Something named must be at fault. What is left may not make the complaint; where nothing in the case could have made it,
    as after a misreading, nothing more is asked.
    """
    faults = cases.networks.cases[place]
    named = {number for number, fault in enumerate(faults) if any(_rights(deed, fault) for deed in deeds)}
    if not named:
        return False
    left = [n for n, fault in enumerate(faults) if n not in named and fault.item not in swapped]
    there = sum(1 << number for number in left)
    everything = (1 << len(faults)) - 1
    return not complains(cases, place, there) or not complains(cases, place, everything)


def _rights(deed: Deed, fault: Fault) -> bool:
    """Return whether a deed puts a fault right: its repair, or whatever is done to the whole of its item."""
    if deed.item != fault.item:
        return False
    if not deed.repair:
        return True
    return fault.failure is not None and (fault.failure.job == deed.repair or fault.part in deed.parts)
