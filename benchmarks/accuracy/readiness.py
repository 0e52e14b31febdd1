"""How ready simulated faults are to show in a trial: as the program has it, drawn anew, or cured for a while by a movement.

As the program has it: a readiness for each handling, beta distributed around what the kit files say, drawn once for each case.
The constants are the program's own; the rule is written a second time, and a test holds both to each other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from foible.diagnosis.shown import presence as model
from foible.diagnosis.shown.hypotheses import Activity
from foible.kit import HARD_HIT, WHOLE_SIDE

if TYPE_CHECKING:
    from numpy.random import Generator

    from benchmarks.accuracy.faults import Fault
    from foible.kit import Setup
    from foible.trials import Trial

__all__ = ["Anew", "AsModel", "Curing", "Expected", "Readiness", "expected"]

Shows = tuple[float, float]
"""The chance that a fault shows in a trial, and the share of those times in which it comes and goes within it."""

BY_ITSELF = (0.6, 1.4)
"""Beta distribution of how ready a fault drawn anew is at rest and at the press of a side; judgement, no source."""
HANDLED = (0.7, 0.7)
"""The same under a movement of its own item, whatever the kit files say of it; judgement, no source."""
FENCED = (1.5, 1.0)
"""The same while the fencer of its side fences on; judgement, no source."""
FLICKERS = (0.3, 1.0)
"""Between what the share lies in which it comes and goes within a trial; judgement, no source."""
TOUCHY, TOUCHED = 1 / 3, 0.5
"""Share of steady faults drawn anew that flicker under a movement of their item, and how often at most; judgement, no source."""
CURED, BACK = 0.7, 0.5
"""Chance that the curing movement does cure, and that the next press or movement of the item brings the fault back; judgement."""


class Readiness(Protocol):
    """How one fault of one case behaves, trial after trial."""

    def shows(self, trial: Trial) -> Shows:
        """Return how likely the fault is to show in a trial."""


@dataclass(frozen=True)
class Expected:
    """What the program expects of a fault in a trial, before anything is learnt."""

    handling: str
    mean: float
    weight: float
    flickers: float


def expected(setup: Setup, fault: Fault, trial: Trial) -> Expected:
    """Return what the program expects of a fault in a trial."""
    part, steady = setup.parts[fault.part], fault.activity is Activity.STEADY
    listed = max((part.moved_by.get(move, 0.0) for move in trial.moves), default=0.0)
    parted = max((part.parted_by.get(move, 0.0) for move in trial.moves), default=0.0)
    held = max((part.held_by.get(move, 0.0) for move in trial.moves), default=0.0)
    neighbour = any(_moves(setup, move) == fault.item for move in trial.moves)
    fenced = any(_fences(setup, move, fault.item) for move in trial.moves)
    if not (listed or held or (not steady and (neighbour or fenced))):
        press = trial.arrangement.press
        calm = 0.0 if steady else model.UNSTEADY
        return Expected(f"press {press}" if press else "", model.IDLE[fault.activity], model.WEIGHT_IDLE, calm)
    weight = model.WEIGHT_STIRRED if listed or held or fenced else model.WEIGHT_NEIGHBOUR
    handling = " + ".join(sorted(trial.moves))
    if steady:
        mean = (1 - model.STEADY_CURED * listed) * (1 - held)
        return Expected(handling, mean, weight, (1 - parted) * model.STEADY_FLICKERS * max(listed, held))
    often = model.IDLE[fault.activity] if fault.activity is Activity.OFTEN else 0.0
    mean = max(model.NEIGHBOUR * neighbour, model.STIRRED[fault.activity] * fenced, listed, often)
    shown = mean * (1 - held)
    hits = all(move.startswith(f"{HARD_HIT} ") for move in trial.moves)  # of two, one does what the other does not
    return Expected(handling, shown, weight, (1 - parted) * (2 * (1 - shown) / (2 - shown) if hits else model.UNSTEADY_STIRRED))


class AsModel:
    """A fault that behaves as the program expects."""

    def __init__(self, setup: Setup, fault: Fault, rng: Generator) -> None:
        self._setup, self._fault, self._rng = setup, fault, rng
        self._ready: dict[str, float] = {}

    def shows(self, trial: Trial) -> Shows:
        """Return the readiness of the handling, drawn when it first happens."""
        own = expected(self._setup, self._fault, trial)
        if own.handling not in self._ready:
            a, b = own.mean * own.weight, (1 - own.mean) * own.weight
            self._ready[own.handling] = float(self._rng.beta(a, b)) if a > 0 and b > 0 else own.mean
        return self._ready[own.handling], own.flickers


class Anew:
    """A fault whose readiness is drawn anew for every handling, without a look at what the kit files say."""

    def __init__(self, setup: Setup, fault: Fault, rng: Generator) -> None:
        self._setup, self._fault, self._rng = setup, fault, rng
        self._ready: dict[str, float] = {}
        self._flickers = float(rng.uniform(*FLICKERS))
        self._touchy = bool(rng.random() < TOUCHY)

    def shows(self, trial: Trial) -> Shows:
        """Return the chance to show: the greatest among what the trial does."""
        own = [move for move in trial.moves if _moves(self._setup, move) == self._fault.item]
        if self._fault.activity is Activity.STEADY:
            flickers = max((TOUCHED * self._drawn(move, (1.0, 1.0)) for move in own), default=0.0)
            return 1.0, flickers if self._touchy else 0.0
        press = trial.arrangement.press
        chances = [self._drawn(f"press {press}" if press else "", BY_ITSELF)]
        chances += [self._drawn(move, HANDLED) for move in own]
        chances += [self._drawn(move, FENCED) for move in trial.moves if _fences(self._setup, move, self._fault.item)]
        return max(chances), self._flickers

    def _drawn(self, handling: str, shape: tuple[float, float]) -> float:
        if handling not in self._ready:
            self._ready[handling] = float(self._rng.beta(*shape))
        return self._ready[handling]


class Curing:
    """A fault that one movement of its item cures for a while; otherwise it behaves as the program expects."""

    def __init__(self, setup: Setup, fault: Fault, rng: Generator) -> None:
        self._setup, self._fault, self._rng = setup, fault, rng
        self._usual = AsModel(setup, fault, rng)
        moves = sorted(move for move in setup.movements if setup.movements[move] == fault.item)
        self._cure = moves[int(rng.integers(len(moves)))] if moves else ""
        self._away = False

    def shows(self, trial: Trial) -> Shows:
        """Return 0 while the fault is cured."""
        moved = any(_moves(self._setup, move) == self._fault.item for move in trial.moves)
        if self._cure in trial.moves and self._rng.random() < CURED:
            self._away = True
        elif self._away and (moved or trial.arrangement.press) and self._rng.random() < BACK:
            self._away = False
        return (0.0, 0.0) if self._away else self._usual.shows(trial)


def _moves(setup: Setup, move: str) -> str:
    """Return the item that a movement moves; "" for a whole side."""
    return setup.movements[move] if move in setup.movements else ""  # noqa: SIM401 — a Book of names has no get


def _fences(setup: Setup, move: str, item: str) -> bool:
    """Return whether in a movement the fencer fences on whose item it is."""
    verb, _, side = move.partition(" ")
    return verb == WHOLE_SIDE and setup.items[item].side == side
