"""A trial in, with what earlier ones taught; out, the chance that each failure is there: in both looks, in one, or in none.

A failure that comes and goes has a readiness of its own under each handling: at rest, at a press, and under every movement that
stirs it. Nobody knows it beforehand. It is taken as beta distributed around what the kit says, and every trial sharpens it: what
once brought a failure on will be what brings it on again. With a mean m that counts for w trials, and with A and B the chances
of what was reported where the failure is there and where it is not,

    m' = (m A (w m + 1) + (1 − m) B w m) / ((w + 1) (m A + (1 − m) B)),    w' = w + |A − B| / max(A, B),

which is the mean of the exact posterior, a mixture of two beta distributions, taken as one again (assumed-density filtering). A
movement may also cure: a wire that is broken for good still moves when the blade is bent, and a plug that is held makes contact.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.shown.hypotheses import Activity
from foible.kit import HARD_HIT, WHOLE_SIDE
from foible.trials import drawn_plugs

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.random import Generator
    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Trial

    Floats = NDArray[np.float64]

__all__ = ["NOTHING_LEARNT", "STRANGE", "UNKNOWN_AT", "Learnt", "Presence", "Regimes"]

Regimes = tuple["Floats", "Floats", "Floats"]
"""The chance that each failure is there in both looks of a trial, in one, in none; shape (N,) each."""

IDLE = {Activity.STEADY: 1.0, Activity.OFTEN: 0.75, Activity.SELDOM: 0.06}
"""Chance that a failure shows in a trial that does nothing to provoke it; judgement, no source."""
STIRRED = {Activity.STEADY: 1.0, Activity.OFTEN: 0.9, Activity.SELDOM: 0.45}
"""The same while the fencer moves about as in a bout; judgement, no source."""
NEIGHBOUR = 0.2
"""The same under a movement of the item that the kit does not say stirs the part; judgement, no source."""
UNSTEADY = 0.5
"""Share of the times an intermittent failure shows in which it comes and goes within one trial; judgement, no source."""
UNSTEADY_STIRRED = 0.8
"""The same where it is stirred meanwhile; judgement, no source."""
STEADY_FLICKERS = 0.3
"""Share of what a movement does to a failure that comes and goes with which it makes a steady one flicker; judgement."""
STEADY_CURED = 0.12
"""The same with which it cures a steady one while it lasts; judgement, no source."""
WEIGHT_IDLE, WEIGHT_STIRRED, WEIGHT_NEIGHBOUR = 2.0, 3.0, 1.0
"""How many trials the kit's word about a readiness counts for; judgement, no source."""
STRANGE = 0.15
"""Chance that an unknown cause does what no known failure does; judgement, no source."""
SLICE = 64
"""Draws whose mean stands for a slice of a beta distribution."""
UNKNOWN_AT = 1
"""Position of “something this model does not know” among the hypotheses."""


@dataclass(frozen=True)
class Learnt:
    """What trials have taught of the readiness of failures: mean and weight by handling, shape (N,) each."""

    of: Mapping[str, tuple[Floats, Floats]] = field(default_factory=dict)


NOTHING_LEARNT = Learnt()


@dataclass(frozen=True)
class _Handling:
    """What a trial does to failures: which are stirred, how ready they are for it, and how much they flicker."""

    name: str
    stirred: NDArray[np.bool_]
    mean: Floats
    weight: Floats
    flickers: Floats
    """Share of the times it shows in which it comes and goes within the trial, where stirred."""
    worked: NDArray[np.bool_]
    """Which failures the kit says that it works: not those of neighbouring parts."""


class Presence:
    """What a trial does to the failures themselves: provokes them, cures them, takes them out."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses) -> None:
        self._setup = setup
        self._hypotheses = hypotheses
        self.runs = {name: run for name, run in hypotheses.runs.items() if name in setup.parts}
        self._steady = hypotheses.activity == Activity.STEADY
        self._idle = _by_activity(IDLE, hypotheses.activity)
        self._fencing = _by_activity(STIRRED, hypotheses.activity)
        self._calm = np.where(self._steady, 0.0, UNSTEADY)
        self._repairs: dict[str, NDArray[np.intp]] = {}
        self._seats: dict[str, NDArray[np.intp]] = {}
        self._handlings: dict[tuple[str, ...], _Handling | None] = {}

    def regimes(self, trial: Trial, learnt: Learnt = NOTHING_LEARNT) -> Regimes:
        """Return the chance that the failure is there in both looks, in one, in none; shape (N,) each."""
        shows, flickers = self._ready(trial, learnt), self._flickers(trial)
        there = np.where(self.gone(trial), 0.0, shows)
        return there * (1 - flickers), there * flickers, 1 - there

    def learn(self, learnt: Learnt, trial: Trial, looks: tuple[Floats, Floats, Floats]) -> Learnt:
        """Return what is known of readiness after one more trial.

        `looks`: the chance of what it reports where the failure is there in both looks, in one, in none; shape (N,) each.
        """
        flickers, gone = self._flickers(trial), self.gone(trial)
        there = (1 - flickers) * looks[0] + flickers * looks[1]
        absent = looks[2]
        known = dict(learnt.of)
        handling = self._handling(trial.moves)
        stirred = handling.stirred if handling else np.zeros(len(gone), dtype=bool)
        if handling:
            self._sharpen(known, handling.name, there, absent, stirred & ~gone, (handling.mean, handling.weight))
        free = ~stirred & ~gone & ~self._steady
        self._sharpen(known, _base(trial), there, absent, free, (self._idle, np.full(len(gone), WEIGHT_IDLE)))
        return Learnt(known)

    def drawn_readiness(self, learnt: Learnt, trials: Iterable[Trial], count: int, rng: Generator) -> list[Learnt]:
        """Return `count` ways in which failures may in fact be ready for what trials do to them, each as likely as the others.

        Under each handling, the readiness of a failure takes the means of `count` equal slices of its beta distribution, in an
        order of its own (Latin hypercube).
        """
        starts: dict[str, tuple[Floats, Floats]] = {}
        for trial in trials:
            starts[_base(trial)] = (self._idle, np.full(len(self._idle), WEIGHT_IDLE))
            handling = self._handling(trial.moves)
            if handling:
                starts[handling.name] = (handling.mean, handling.weight)
        ways: list[dict[str, tuple[Floats, Floats]]] = [{} for _ in range(count)]
        for name, start in starts.items():
            mean, weight = learnt.of.get(name, start)
            slices = rng.permuted(_slices(mean, weight, count, rng), axis=1)
            for way, ready in zip(ways, slices.T, strict=True):
                way[name] = (ready, weight)
        return [Learnt(way) for way in ways]

    @staticmethod
    def _sharpen(  # noqa: PLR0913, PLR0917 — one equation
        known: dict[str, tuple[Floats, Floats]],
        name: str,
        there: Floats,
        absent: Floats,
        which: NDArray[np.bool_],
        start: tuple[Floats, Floats],
    ) -> None:
        mean, weight = known.get(name, start)
        told = mean * there + (1 - mean) * absent
        both = np.maximum(there, absent)
        after = mean * (there * (weight * mean + 1) + (1 - mean) * absent * weight) / np.maximum((weight + 1) * told, 1e-300)
        use = which & (told > 0)
        known[name] = (
            np.where(use, np.clip(after, 0.0, 1.0), mean),
            np.where(use, weight + np.abs(there - absent) / np.maximum(both, 1e-300), weight),
        )

    def _ready(self, trial: Trial, learnt: Learnt) -> Floats:
        known = learnt.of.get(_base(trial))
        shows = known[0] if known else self._idle
        handling = self._handling(trial.moves)
        if handling:
            own = learnt.of.get(handling.name)
            shows = np.where(handling.stirred, own[0] if own else handling.mean, shows)
        return shows

    def _flickers(self, trial: Trial) -> Floats:
        handling = self._handling(trial.moves)
        return self._calm if handling is None else np.where(handling.stirred, handling.flickers, self._calm)

    def gone(self, trial: Trial) -> NDArray[np.bool_]:
        """Return which failures are out of a trial, their part put right or their item exchanged; shape (N,)."""
        gone = np.zeros(len(self._hypotheses), dtype=bool)
        if trial.swapped or trial.mended:
            for part, run in self.runs.items():
                if self.healed(trial, part):
                    gone[run] = True
        for repair in trial.mended:
            gone[self._repaired(repair)] = True
        return gone

    def drawn_seats(self, trial: Trial) -> NDArray[np.bool_]:
        """Return the failures of how a plug sits that a trial draws, all or half the way; shape (N,)."""
        return self.seats(drawn_plugs(self._setup, trial.arrangement))

    def seats(self, plugs: Iterable[str]) -> NDArray[np.bool_]:
        """Return the failures of how some plugs sit, shape (N,)."""
        seats = np.zeros(len(self._hypotheses), dtype=bool)
        for name in plugs:
            seats[self._seat(name)] = True
        return seats

    def with_silences(self, trials: Sequence[Trial]) -> tuple[Trial, ...]:
        """Return the trials of a case with the plugs that each draws first of all, and of which nobody says how they sat."""
        looked = {name for trial in trials for name in trial.examine}
        known: set[str] = set()
        told = []
        for trial in trials:
            drawn = drawn_plugs(self._setup, trial.arrangement) if trial.seen else set[str]()
            silent = tuple(
                sorted(name for name in drawn - known if len(self._seat(name)) and looked.isdisjoint(self._places(name)))
            )
            known |= drawn
            told.append(replace(trial, unremarked=silent) if silent else trial)
        return tuple(told)

    def _places(self, connection: str) -> set[str]:
        """Return the parts, and the items, where an eye sees how a plug sits."""
        failures = (self._hypotheses.failures[int(self._hypotheses.failure[i])] for i in self._seat(connection))
        return {name for failure in failures for name in (failure.part, failure.item)}

    def worked(self, trial: Trial) -> NDArray[np.bool_]:
        """Return the failures of which the kit says that a trial works them, whether or not they show for it; shape (N,)."""
        handling = self._handling(trial.moves)
        return np.zeros(len(self._hypotheses), dtype=bool) if handling is None else handling.worked

    def _handling(self, moves: tuple[str, ...]) -> _Handling | None:
        if not moves:
            return None
        if moves not in self._handlings:
            self._handlings[moves] = self._worked_out(moves)
        return self._handlings[moves]

    def _worked_out(self, moves: tuple[str, ...]) -> _Handling | None:
        """Return what movements do together; None where they stir nothing."""
        count = len(self._hypotheses)
        listed, held, parted, neighbour, whole = (
            np.zeros(count),
            np.zeros(count),
            np.zeros(count),
            np.zeros(count, dtype=bool),
            np.zeros(count, dtype=bool),
        )
        items = {self._setup.movements[move] for move in moves if move in self._setup.movements}
        fencing = {side for move in moves for verb, _, side in [move.partition(" ")] if verb == WHOLE_SIDE}
        for part, run in self.runs.items():
            own = self._setup.parts[part]
            listed[run] = max((own.moved_by.get(move, 0.0) for move in moves), default=0.0)
            held[run] = max((own.held_by.get(move, 0.0) for move in moves), default=0.0)
            parted[run] = max((own.parted_by.get(move, 0.0) for move in moves), default=0.0)
            neighbour[run] = own.item in items
            whole[run] = self._setup.items[own.item].side in fencing
        moving = ~self._steady
        mean = np.where(moving & neighbour, NEIGHBOUR, 0.0)
        mean = np.where(moving & whole, np.maximum(mean, self._fencing), mean)
        mean = np.maximum(mean, np.where(moving, listed, 0.0))
        mean = np.where(moving & (self._hypotheses.activity == Activity.OFTEN), np.maximum(mean, self._idle), mean)
        mean = np.where(self._steady, 1 - STEADY_CURED * listed, mean) * (1 - held)
        stirred = (listed > 0) | (held > 0) | (moving & (whole | neighbour))
        if not stirred.any():
            return None
        unsteady = _unsteady_hits(mean) if all(move.startswith(f"{HARD_HIT} ") for move in moves) else UNSTEADY_STIRRED
        flickers = np.where(self._steady, STEADY_FLICKERS * np.maximum(listed, held), unsteady) * (1 - parted)
        weight = np.where((listed > 0) | (held > 0) | whole, WEIGHT_STIRRED, WEIGHT_NEIGHBOUR)
        return _Handling(" + ".join(sorted(moves)), stirred, mean, weight, flickers, listed > 0)

    def _seat(self, connection: str) -> NDArray[np.intp]:
        """Return the positions of the hypotheses that cut nothing but the lines of a connection, and that the eye can find."""
        if connection not in self._seats:
            lines = {*self._setup.connections[connection].pins.values()}
            known = self._hypotheses.failures
            own = [bool(failure.raises and failure.signs) and lines.issuperset(failure.raises) for failure in known]
            self._seats[connection] = np.flatnonzero(np.array([*own, False])[self._hypotheses.failure])
        return self._seats[connection]

    def _repaired(self, repair: str) -> NDArray[np.intp]:
        """Return the positions of the hypotheses that a repair, named “item: repair”, puts right."""
        if repair not in self._repairs:
            mended = [failure.repair is not None and failure.job == repair for failure in self._hypotheses.failures]
            self._repairs[repair] = np.flatnonzero(np.array([*mended, False])[self._hypotheses.failure])
        return self._repairs[repair]

    def healed(self, trial: Trial, part: str) -> bool:
        """Return whether a trial is made with the part put right or its item exchanged."""
        return part in trial.mended or self._setup.parts[part].item in trial.swapped

    def unknown(self, chance: Floats, blind: float) -> float:
        """Return the chance under something the model does not know.

        Mostly a trial comes out as it would with some known failure, now and then as with none. So it gains little
        from one trial, and gains on every known failure where trials fit together under none.
        """
        known = self._hypotheses.prior.copy()
        known[UNKNOWN_AT] = 0.0
        return (1 - STRANGE) * float(known @ chance / known.sum()) + STRANGE * blind


def _unsteady_hits(ready: Floats) -> Floats:
    """Return how often only one of two hits brings a failure out, where any does, each with the chance `ready`; shape (N,).

    A hard hit does not shake a joint as a tug or a beat does: the failure is there in it or not, 2 r (1 − r) / (1 − (1 − r)²).
    """
    return 2 * (1 - ready) / (2 - ready)


def _base(trial: Trial) -> str:
    """Return the handling of what a trial does not stir: the press of a side, or rest."""
    return f"press {trial.arrangement.press}" if trial.arrangement.press else ""


def _slices(mean: Floats, weight: Floats, count: int, rng: Generator) -> Floats:
    """Return the means of equal slices of beta distributions, shape (N, count); a mean of 0 or 1 is certain."""
    kinds, which = np.unique(np.stack([mean, weight], axis=1).round(4), axis=0, return_inverse=True)
    m, w = kinds[:, :1], kinds[:, 1:]
    sure = (m <= 0) | (m >= 1)
    inner = np.where(sure, 0.5, m)
    ready = np.sort(rng.beta(inner * w, (1 - inner) * w, size=(len(kinds), count * SLICE)), axis=1)
    middles = ready.reshape(len(kinds), count, SLICE).mean(axis=2)
    return np.asarray(np.where(sure, m, middles)[which.reshape(-1)])


def _by_activity(chances: Mapping[Activity, float], activity: NDArray[np.intp]) -> Floats:
    return np.array([chances[kind] for kind in Activity])[activity]
