"""One case while it is diagnosed: a trial in, what the person at the piste reports of it out, as a case file says it.

A trial is two looks at the lamps, as it is for the program; what comes and goes differs between them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from benchmarks.accuracy.groups import BOTH, groups_of
from foible.apparatus import TERMINALS, Lamp, lamp_chances, load_profile
from foible.circuit import Shape, conductances_of
from foible.diagnosis.shown.effects import edits, failed_network
from foible.kit import SIDES
from foible.trials import LIT_BEFORE, NOTHING, STATE, Group, arranged

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.random import Generator
    from numpy.typing import NDArray

    from benchmarks.accuracy.networks import Networks
    from benchmarks.accuracy.readiness import Readiness
    from foible.kit import Failure, Setup
    from foible.trials import Arrangement, Look, Trial

    Answer = dict[str, tuple[str, ...]]

__all__ = ["Kit", "expecting", "gone", "said"]

Sides = dict[tuple[str, Group], "Look"]
"""For each side and group of lamps the states of two looks."""
WHITE, COLOURED = STATE[Lamp.WHITE], STATE[Lamp.COLOURED]
FALSE_SIGN, FALSE_PLAIN_SIGN = 0.01, 0.002
"""Chance that a sound part is found to show a sign, and one that is either there or not; the program's own judgement."""
MATTERS_OF_DEGREE = frozenset(
    [
        "painted",
        "stuck",
        "crooked",
        "weak",
        "rusty",
        "loose",
        "dull",
        "dirty",
        "wet",
        "green",
        "frayed",
        "stiff",
        "long",
        "short",
        "worn",
        "crushed",
    ]
) | {"standing out of the groove"}
"""Signs that are a matter of degree."""


NOTICED = 0.9
"""How often whoever draws a plug that is not home notices; judgement, no source."""


class Kit:
    """The kit of one case, and who reports of it."""

    def __init__(
        self, networks: Networks, place: int, ready: Sequence[Readiness], rng: Generator, *, misread: float, piste: bool = True
    ) -> None:
        """`place` of the case among the networks; `misread`: how often the lamps of a side are; `piste`: is there a metal one."""
        self._networks, self._place, self._ready, self._rng = networks, place, ready, rng
        self._misread, self._piste = misread, piste
        self.faults = networks.cases[place]
        self._setup: Setup = networks.setup
        self._noticed: dict[str, bool] = {}

    def answer(self, trial: Trial) -> Answer:
        """Return the keys of a case file that say what a trial showed."""
        if trial.examine:
            return {"found": self._look(trial)}
        return {"saw": said(self._setup, trial, self.lit(trial))}

    def remarked(self, trial: Trial) -> tuple[str, str] | None:
        """Return the plug that was not home as a trial drew it all the way, and what was noticed; mostly somebody does."""
        lines = [{*self._setup.connections[name].pins.values()} for name in trial.arrangement.unplugged]
        for fault in self.faults:
            cut, signs = (fault.failure.raises, fault.failure.signs) if fault.failure else ((), {})
            loose = bool(cut and signs) and any(own.issuperset(cut) for own in lines)
            if loose and not gone(fault.item, fault.failure, trial.swapped, trial.mended):
                if fault.part not in self._noticed:
                    self._noticed[fault.part] = bool(self._rng.random() < NOTICED)
                if self._noticed[fault.part]:
                    return fault.part, max(signs, key=lambda sign: signs[sign])
        return None

    def lit(self, trial: Trial) -> Sides:
        """Return what two looks at the lamps show, as it is reported."""
        looks = self._there(trial)
        arrangement = trial.arrangement if self._piste else _without_piste(trial.arrangement)
        seen: Sides = {}
        for side in SIDES:
            told = [self._networks.states(arrangement, self._place, look, side) for look in looks]
            hit, earth = groups_of(self._setup.kind)
            hits, glows = ([self._drawn(each[group]) for each in told] for group in (hit, earth))
            if self._rng.random() < self._misread:
                hits, glows = self._anything(len(hit.states)), self._anything(2)
            seen[side, hit], seen[side, earth] = _look(*hits), _look(*glows)
        return seen

    def _drawn(self, chances: NDArray[np.float64]) -> int:
        """Return a state of a group of lamps."""
        return min(int(np.searchsorted(chances.cumsum(), self._rng.random(), side="right")), len(chances) - 1)

    def _anything(self, states: int) -> list[int]:
        """Return two looks that have nothing to do with the circuit: every state, and a change, equally likely."""
        state = int(self._rng.integers(states + 1))
        return [state, state] if state < states else [NOTHING, int(self._rng.integers(1, min(states, LIT_BEFORE)))]

    def _there(self, trial: Trial) -> tuple[int, int]:
        """Return which faults are there in each of two looks, as bits."""
        looks = [0, 0]
        for number, (fault, ready) in enumerate(zip(self.faults, self._ready, strict=True)):
            chance, flickers = ready.shows(trial)
            if gone(fault.item, fault.failure, trial.swapped, trial.mended) or self._rng.random() >= chance:
                continue
            if self._rng.random() < flickers:
                looks[int(self._rng.integers(2))] |= 1 << number
            else:
                looks = [look | 1 << number for look in looks]
        return looks[0], looks[1]

    def _look(self, trial: Trial) -> tuple[str, ...]:
        """Return what the eye finds: a sign of a fault there, now and then a false one, else nothing."""
        looked = set(trial.examine)
        for fault in self.faults:
            away = gone(fault.item, fault.failure, trial.swapped, trial.mended)
            if fault.failure and {fault.part, fault.item} & looked and not away:
                drawn = self._rng.random()
                for sign, share in fault.failure.signs.items():
                    drawn -= share
                    if drawn < 0:
                        return (sign,)
        signs = {sign: None for f in self._setup.failures.values() if {f.part, f.item} & looked for sign in f.signs}
        for sign in signs:
            if self._rng.random() < (FALSE_SIGN if sign in MATTERS_OF_DEGREE else FALSE_PLAIN_SIGN):
                return (sign,)
        return ("fine",)


def gone(item: str, failure: Failure | None, swapped: Collection[str], mended: Collection[str]) -> bool:
    """Return whether an item with a fault was exchanged, or the fault mended by its repair (“item: repair”)."""
    return item in swapped or (failure is not None and failure.job in mended)


def said(setup: Setup, trial: Trial, seen: Mapping[tuple[str, Group], Look]) -> tuple[str, ...]:
    """Return the report of the lamps of both sides as the pages make it: what lit, and what stayed dark beside it."""
    earth = setup.kind.lamp_word("yellow")
    manner = "flickers" if trial.moves else "sometimes"
    phrases: list[str] = []
    for side in SIDES:
        hit, glow = (seen[side, group] for group in groups_of(setup.kind))
        own = _phrases(side, hit, {"white": {WHITE, LIT_BEFORE, BOTH}, "coloured": {COLOURED, BOTH}}, manner)
        if hit == (LIT_BEFORE, LIT_BEFORE):
            own = [f"{side} white all along"]
        shone = _phrases(side, glow, {earth: {STATE[Lamp.YELLOW]}}, manner)
        if own and not shone and earth == "yellow":  # an orange lamp that stays dark says nothing: it need not be there
            shone = [f"{side} no yellow"]
        elif shone and not own:
            own = [f"{side} no {word}" for word in ("white", "coloured") if (word, setup.weapon) != ("white", "épée")]
        phrases += [*own, *shone] or [f"{side} nothing"]
    return tuple(phrases)


def _phrases(side: str, look: Look, lamps: Mapping[str, Collection[int]], manner: str) -> list[str]:
    """Return what is said of two looks; `lamps`: the states in which each is lit."""
    lit = {word: sum(state in states for state in look) for word, states in lamps.items()}
    return [f"{side} {word}" if times > 1 else f"{side} {word} {manner}" for word, times in lit.items() if times]


def expecting(setup: Setup, trial: Trial, suspect: tuple[Failure, float]) -> Answer:
    """Return the report of a person who sees what a suspect, at a severity [Ω], would show."""
    failure, ohms = suspect
    there = not gone(failure.item, failure, trial.swapped, trial.mended)
    if trial.examine:
        named = bool({failure.part, failure.item} & set(trial.examine)) and there
        signs = failure.signs if named else {}
        return {"found": (max(signs, key=lambda sign: signs[sign]),) if signs else ("fine",)}
    network = arranged(setup, trial.arrangement).network(setup.network)
    if there:
        network = failed_network(network, edits(setup, failure, ohms))
    shape = Shape.of(network, TERMINALS)
    profile = load_profile(failure.profile or setup.profile, setup.overlays)
    lamps = lamp_chances(profile, shape, shape.conductances(conductances_of(network)))[0]
    seen: Sides = {}
    for number, side in enumerate(SIDES):
        white, coloured, yellow = (bool(lamps[number, lamp] > 0.5) for lamp in (Lamp.WHITE, Lamp.COLOURED, Lamp.YELLOW))  # noqa: PLR2004 — likelier lit than not
        group, earth = groups_of(setup.kind)
        both = BOTH if group is not Group.HIT else WHITE
        hit = (both if coloured else WHITE) if white else COLOURED if coloured else NOTHING
        seen[side, group], seen[side, earth] = (hit, hit), (int(yellow), int(yellow))
    return {"saw": said(setup, trial, seen)}


def _without_piste(arrangement: Arrangement) -> Arrangement:
    """Return an arrangement as it is on a floor without a metal piste: what touches that touches nothing."""
    on = None if _is_piste(arrangement.on) else arrangement.on
    touching = tuple(pair for pair in arrangement.touching if not any(_is_piste(place) for place in pair))
    return replace(arrangement, on=on, touching=touching)


def _is_piste(place: str | None) -> bool:
    return place is not None and place.split()[0] == "piste"


def _look(first: int, second: int) -> Look:
    return (min(first, second), max(first, second))
