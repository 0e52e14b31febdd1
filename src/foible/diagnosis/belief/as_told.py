"""The trials of a case in; out, the same with what whoever tells of them leaves unsaid."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from foible.diagnosis.belief.lamp_reports import loosely
from foible.trials import NOTHING, Group

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from foible.trials import Look, Trial

__all__ = ["as_told"]

Key = tuple[str, Group]
"""A side and a group of its lamps."""
SEVERAL = 2
"""Hits that whoever tells of one place has landed on another, all of which lit, at least; judgement, no source."""


def as_told(trials: Sequence[Trial]) -> tuple[Trial, ...]:
    """Return trials with what goes without saying.

    Who says that it comes with a movement has seen none at rest. Who says where some hits do not show has seen those on the usual
    place light, and not once only. Who has said that a lamp is lit with nothing pressed says no more than that of the next press,
    though it was lit all along.
    """
    told: list[Trial] = []
    lit = _lit_at_rest(trials)
    for trial in trials:
        told += [each if each.arrangement.on == trial.arrangement.on else _time_after_time(each) for each in trial.unsaid]
        if trial.moves and (trial.hearsay or (trial.unsteady and not told)):
            told.append(trial.at_rest())
        told.append(_perhaps_before(trial, lit.get(_kit(trial), {})) if trial.arrangement.press else trial)
    return tuple(told)


def _time_after_time(trial: Trial) -> Trial:
    """Return what lights now and then at least as what lights each time, and has done so several times."""
    assert trial.seen is not None  # noqa: S101 — what goes without saying is what lights
    looks = {key: _lasting(seen) for key, seen in trial.seen.looks.items()}
    return replace(trial, seen=replace(trial.seen, looks=looks), times=SEVERAL)


def _lasting(looks: frozenset[Look]) -> frozenset[Look]:
    """Return those looks of a report in which nothing is seen but what it allows to be seen steadily."""
    steady = {first for first, second in looks if first == second}
    return frozenset(look for look in looks if steady.issuperset(look))


def _kit(trial: Trial) -> tuple[frozenset[str], frozenset[str]]:
    """Return what was exchanged and mended for a trial."""
    return frozenset(trial.swapped), frozenset(trial.mended)


def _lit_at_rest(trials: Iterable[Trial]) -> dict[object, dict[Key, frozenset[int]]]:
    """Return the states in which hit lamps stayed lit with nothing pressed, the strip whole, for each kit that was in."""
    lit: dict[object, dict[Key, frozenset[int]]] = {}
    for trial in trials:
        on = trial.arrangement
        if trial.seen and not (on.press or on.unplugged or on.bridged):
            own = lit.setdefault(_kit(trial), {})
            for key, looks in trial.seen.looks.items():
                if key[1] is not Group.YELLOW:
                    own[key] = own.get(key, frozenset()) | _lit(looks)
    return lit


def _perhaps_before(trial: Trial, lit: Mapping[Key, frozenset[int]]) -> Trial:
    """Return a press with “lit” read as “perhaps lit all along” for the lamps that were lit before it."""
    if trial.seen is None or not any(lit.get(key) for key in trial.seen.looks):
        return trial
    looks = {key: loosely(seen, lit.get(key, ())) for key, seen in trial.seen.looks.items()}
    return replace(trial, seen=replace(trial.seen, looks=looks))


def _lit(looks: frozenset[Look]) -> frozenset[int]:
    """Return the state in which a hit lamp stayed lit, in every way in which a report can be meant; empty where it did not."""
    states = {look[0] if look[0] == look[1] else NOTHING for look in looks}
    return frozenset(states) - {NOTHING} if len(states) == 1 else frozenset()
