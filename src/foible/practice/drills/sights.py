"""A trial and a fault in; out, what is seen, in words; None where the model is not sure, so that no drill can ask for it.

Lamps are those of the fault at its usual severity on an apparatus that keeps to the rule profile; a meter reads in bands; gauge,
eye and finger find what the kit says; a movement brings a fault on as often as the kit says.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.apparatus import Lamp, load_profile
from foible.circuit import Port
from foible.diagnosis.shown.hypotheses import all_hypotheses
from foible.diagnosis.shown.lamps import Dictionary
from foible.kit import HARD_HIT, SIDES, WHOLE_SIDE
from foible.trials import load_catalogue

if TYPE_CHECKING:
    from foible.kit import Failure, Setup
    from foible.trials import Arrangement, Idea

__all__ = ["BANDS", "FINE", "FLICKERS", "Sights", "sights_of"]

SURE = 0.95
"""A lamp more likely than this lights, one less likely than 1 − this stays dark."""
FOUND = 0.6
"""Gauge, eye or finger find a fault that they find at least as often as this."""
BROUGHT, HARDLY = 0.5, 0.2
"""A movement brings on what shows under it at least as often as the first, hardly what shows at most as often as the second."""
BANDS = (
    ("10 Ω or less", 0.0, 10.0),
    ("10 to 100 Ω", 10.0, 100.0),
    ("100 Ω to 1 kΩ", 100.0, 1000.0),
    ("open (nothing gets through)", math.inf, math.inf),
)
"""What a meter reads: words, least and greatest [Ω]."""
CLEAR = 1.3
"""A reading is clear of a band's edges by this ratio; what good parts and leads add is less."""
FINE = "nothing wrong"
FLICKERS = "flickers"


class Sights:
    """What each trial of a set-up's catalogue shows under each fault."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.ideas = load_catalogue(setup, overlays=setup.overlays)
        hypotheses = all_hypotheses(setup)
        self._dictionary = Dictionary(setup, load_profile(setup.profile, setup.overlays), hypotheses)
        self._columns = {
            failure.id: column for column, (failure, ohms) in enumerate(hypotheses.columns, start=1) if ohms == failure.usual_ohms
        }
        self._lamps = [lamp for lamp in setup.kind.lamps if not lamp.optional]

    def knows(self, failure: Failure) -> bool:
        """Return whether a lamp could show a fault at its usual severity."""
        return failure.id in self._columns

    def seen(self, idea: Idea, failure: Failure | None) -> str | None:
        """Return what a trial shows with one fault, or with sound kit; None where that is not sure."""
        trial = idea.trial
        if trial.gauge:
            return self._gauged(trial.gauge, failure)
        if trial.examine:
            return self._found(trial.examine, failure)
        if trial.meter:
            return self._read(idea, trial.meter, failure)
        if trial.moves:
            return self._moved(idea, failure)
        return self.lit(trial.arrangement, failure)

    def lit(self, arrangement: Arrangement, failure: Failure | None) -> str | None:
        """Return which lamps light in an arrangement."""
        lit = self._lit(arrangement, failure)
        return None if lit is None else (" and ".join(lit) or "no lamp")

    def stirred(self, idea: Idea, failure: Failure) -> float | None:
        """Return how often the movements of a trial bring a fault on; None where they may cure it or stir everything."""
        moves, part = idea.trial.moves, self.setup.parts[failure.part]
        if any(move.startswith((f"{WHOLE_SIDE} ", f"{HARD_HIT} ")) or move in part.held_by for move in moves):
            return None
        return max((part.moved_by.get(move, 0.0) for move in moves), default=0.0)

    def _lit(self, arrangement: Arrangement, failure: Failure | None) -> tuple[str, ...] | None:
        if failure is not None and failure.id not in self._columns:
            return None
        chances = self._dictionary.lamps(arrangement)[self._columns[failure.id] if failure else 0]
        found = []
        for number, side in enumerate(SIDES):
            for lamp in self._lamps:
                chance = chances[number, Lamp[lamp.kind.upper()]]
                if 1 - SURE < chance < SURE:
                    return None
                if chance >= SURE:
                    found.append(f"{side} {lamp.names[side]}")
        return tuple(found)

    def _moved(self, idea: Idea, failure: Failure | None) -> str | None:
        """Return what a movement shows: a fault that it brings on flickers, one of another item stays away."""
        arrangement = idea.trial.arrangement
        sound = self._lit(arrangement, None)
        if sound is None or failure is None:
            return None if sound is None else (" and ".join(sound) or "no lamp")
        brought, there = self.stirred(idea, failure), self._lit(arrangement, failure)
        if brought is None or there is None:
            return None
        if brought >= BROUGHT:
            changed = [lamp for lamp in (*sound, *there) if (lamp in sound) is not (lamp in there)]
            return " and ".join(f"{lamp} {FLICKERS}" for lamp in changed) or None
        own = any(self.setup.movements[move] == failure.item for move in idea.trial.moves if move in self.setup.movements)
        return None if brought > 0 or own else (" and ".join(sound) or "no lamp")

    def _gauged(self, gauge: tuple[str, str], failure: Failure | None) -> str | None:
        """Return whether a gauge passes; a fault of another item leaves it alone."""
        side, name = gauge
        chance = failure.gauges.get(name, 0.0) if failure and failure.item == f"{side} weapon" else 0.0
        if 0 < chance < FOUND:
            return None
        return "it fails" if chance >= FOUND else "it passes"

    def _found(self, looked: tuple[str, ...], failure: Failure | None) -> str | None:
        """Return what eye and finger find where they look."""
        if failure is None or not {failure.part, failure.item} & set(looked):
            return FINE
        sign, chance = max(failure.signs.items(), key=lambda each: each[1], default=("", 0.0))
        return f"something is {sign}" if chance >= FOUND else None

    def _read(self, idea: Idea, places: tuple[str, str], failure: Failure | None) -> str | None:
        """Return the band that a meter reads between two places."""
        if idea.trial.moves or (failure is not None and failure.id not in self._columns):
            return None
        port = Port.between(*(self.setup.places[place] for place in places))
        ohms = float(self._ohms(idea.trial.arrangement, port)[self._columns[failure.id] if failure else 0])
        for words, low, high in BANDS:
            if ohms == low == high or (math.isfinite(high) and low * CLEAR <= ohms <= high / CLEAR):
                return words
        return None

    @lru_cache(maxsize=512)  # noqa: B019 — lives as long as the set-up's sights, of which few are kept
    def _ohms(self, arrangement: Arrangement, port: Port) -> tuple[float, ...]:
        return tuple(self._dictionary.ohms(arrangement, [port])[0].tolist())


@lru_cache(maxsize=6)
def sights_of(setup: Setup) -> Sights:
    """Return what the trials of a set-up show."""
    return Sights(setup)
