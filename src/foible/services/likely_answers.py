"""A trial that is asked for in; out, the lamps that it most likely shows: those of sound kit, and those that were complained of.

They are what an armourer mostly has to say, so each can be one button. Nothing of it is believed before somebody says it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from foible.diagnosis import explain_lamps
from foible.kit import SIDES, plain

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.apparatus import Profile
    from foible.kit import Setup
    from foible.services.verdict import Diagnosis
    from foible.trials import Arrangement, Idea

__all__ = ["LitLamps", "likely_answers", "sound_answer"]

LitLamps = tuple[tuple[str, str, str], ...]
"""(side, word of a lamp, manner) of every lamp that is lit; the manner is “steady”, “flickers” or “sometimes”."""
MOST = 2
LIKELIER = 0.5
"""A lamp lights in sound kit where it is likelier lit than dark."""
ARRANGEMENTS = 1024
"""Arrangements whose lamps stay in memory, for all set-ups together: a catalogue has some 110."""
MANNERS = ("steady", "flickers", "sometimes")
COLOURS = {"red": "left coloured", "green": "right coloured"}


def likely_answers(diagnosis: Diagnosis, idea: Idea) -> tuple[LitLamps, ...]:
    """Return what a trial with lamps most likely shows, but for nothing at all: at most two reports, sound kit's in front."""
    sound = sound_answer(diagnosis, idea)
    told = (lit for trial in reversed(diagnosis.trials) if trial.seen for lit in [_lit(diagnosis, trial.seen.text)])
    strange = next((lit for lit in told if lit and lit != sound and not _mixed(lit)), ())
    return tuple(lit for lit in (sound, strange) if lit)[:MOST]


def sound_answer(diagnosis: Diagnosis, idea: Idea) -> LitLamps:
    """Return what a trial shows in sound kit: the lamps that are likelier lit than dark."""
    arrangement = idea.trial.arrangement
    if arrangement == type(arrangement)():
        return ()  # sound kit at rest, or moved, shows nothing
    return _sound(diagnosis.case.setup, diagnosis.case.profile, arrangement)


@lru_cache(maxsize=ARRANGEMENTS)
def _sound(setup: Setup, profile: Profile, arrangement: Arrangement) -> LitLamps:
    shown = explain_lamps(setup, profile, arrangement)
    words = {lamp.kind: lamp.word for lamp in setup.kind.lamps}
    lit = ((side, words[lamp]) for side in SIDES for lamp, chance in shown[side].lamps.items() if chance > LIKELIER)
    return tuple((side, word, "steady") for side, word in lit)


def _lit(diagnosis: Diagnosis, phrases: Sequence[str]) -> LitLamps:
    return tuple(_lamps(diagnosis, phrases))


def _lamps(diagnosis: Diagnosis, phrases: Sequence[str]) -> Iterator[tuple[str, str, str]]:
    """Yield the lamps that a report says were lit."""
    lamps = diagnosis.case.setup.kind.lamps
    for phrase in phrases:
        first, *rest = plain(phrase).split(" ")
        side, word, *manner = [*COLOURS.get(first, first).split(" "), *rest, "", ""]
        lamp = next((lamp for lamp in lamps if word in {lamp.word, lamp.kind}), None)
        told = next(filter(None, manner), "steady")
        if side in SIDES and lamp and told in MANNERS:
            yield side, lamp.word, told


def _mixed(lit: LitLamps) -> bool:
    """Return whether both sides lit, which an armourer says lamp by lamp."""
    return len({side for side, _, _ in lit}) > 1
