"""Meter readings in; out, how well each hypothesis explains them."""

from __future__ import annotations

from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.circuit import Port
from foible.diagnosis.shown.presence import UNKNOWN_AT
from foible.diagnosis.shown.readings import SAMPLES, chance_around, chance_of_reading, severity_interval, spread_of_port, width
from foible.trials import arranged

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.diagnosis.shown.lamps import Dictionary
    from foible.diagnosis.shown.presence import Learnt, Presence
    from foible.kit import Setup
    from foible.trials import Reading, Trial

    Floats = NDArray[np.float64]
    Measured = tuple[NDArray[np.float64], tuple[float, float]]
    Stepped = tuple[NDArray[np.float64], NDArray[np.float64]]

__all__ = ["METER_MISREAD", "Meter"]

METER_MISREAD = 0.004
"""Chance that a reading has nothing to do with the circuit; judgement, no source."""
WOBBLE_WHILE_STEADY = 0.02
"""Chance that a reading wobbles because of the clips alone; judgement, no source."""
LETS_GO = 0.3
"""Share of the looks at a bad joint or wire in which it is open while it is worked, whatever it reads at rest; judgement."""
PORTS = 1024
"""Arrangements, each with the places of a meter, whose readings stay in memory, some 10 kB each."""

STEPPED = 16_000_000
"""Chances of readings in steps that stay in memory: those of an item on the bench take some 5 MB [byte]."""


class Meter:
    """Turns readings into likelihoods over the hypotheses, and into the severity of a suspect."""

    def __init__(
        self,
        setup: Setup,
        hypotheses: Hypotheses,
        dictionary: Dictionary,
        presence: Presence,
        like: Meter | None = None,
    ) -> None:
        """`like`: one of the same hypotheses with another prior, on which what a meter would read does not depend."""
        self._setup = setup
        self._hypotheses = hypotheses
        self._dictionary = dictionary
        self._presence = presence
        self._ports: LRUCache[object, Measured] = LRUCache(PORTS)
        self._stepped: LRUCache[object, Stepped] = LRUCache(STEPPED, lambda made: made[0].nbytes)
        if like:
            self._ports, self._stepped = like._ports, like._stepped  # noqa: SLF001 — its own kind

    def readings(self, trials: Sequence[Trial], learnt: Sequence[Learnt]) -> NDArray[np.float64]:
        """Return the probability of all meter readings together under every hypothesis, shape (N,).

        `learnt`: before each trial. Readings of one failure share its severity, so they are multiplied severity by severity
        before they are averaged.
        """
        total = np.ones((len(self._hypotheses), SAMPLES))
        for trial, known in zip(trials, learnt, strict=True):
            if trial.meter and trial.reads:
                total = total * self._of_reading(trial, trial.meter, trial.reads, known) ** trial.times
        return np.asarray(total.mean(axis=1))

    def looks(self, trial: Trial) -> tuple[Floats, Floats, Floats]:
        """Return the chance of a trial's reading, the failure being there in both looks, in one, in none; shape (N,) each."""
        assert trial.meter is not None and trial.reads is not None  # noqa: S101, PT018 — asked by the caller
        both, one, none = self._in_looks(trial, trial.meter, trial.reads)
        blind = METER_MISREAD * width(trial.reads)
        means = [np.broadcast_to(each, (len(self._hypotheses), SAMPLES)).mean(axis=1) for each in (both, one, none)]
        return means[0] + blind, means[1] + blind, means[2] + blind

    def severity(self, trials: Sequence[Trial], failure: int) -> tuple[float, float] | None:
        """Return between which resistances a failure in series lies with 90 % after meter readings [Ω]; None without any."""
        finite = np.flatnonzero((self._hypotheses.failure == failure) & np.isfinite(self._hypotheses.ohms))
        if not finite.size or not self._hypotheses.failures[failure].raises:
            return None
        step = float(self._hypotheses.ohms[finite[0]])
        seen = []
        for trial in trials:
            healed = self._presence.healed(trial, self._hypotheses.failures[failure].part)
            if trial.meter and trial.reads and not trial.reads.wobbles and not healed:
                ohms, spread = self._port(trial, trial.meter)
                sound, failed = float(ohms[0]), float(ohms[self._hypotheses.column[finite[0]]])
                if np.isfinite(failed):
                    seen.append((trial.reads, sound, (failed - sound) / step, spread))
        return severity_interval(seen)

    @cachedmethod(
        attrgetter("_stepped"), key=lambda _, trial, places, reads: (trial.arrangement, trial.moves, places, tuple(reads))
    )
    def in_steps(
        self, trial: Trial, places: tuple[str, str], readings: Sequence[Reading]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the chance of steady readings with each failure there, shape (readings, N), and with sound kit, (readings,)."""
        chances = [self._there(trial, places, read) for read in readings]
        there = np.stack([chance.mean(axis=1) for chance, _ in chances])
        spoilt = np.array([*(failure.spoils == "meter" for failure in self._hypotheses.failures), False])
        blind = np.array([width(read) for read in readings])
        there = np.where(spoilt[self._hypotheses.failure], (blind / blind.sum())[:, None], there)
        return there, np.array([chance for _, chance in chances])

    def of_two_looks(
        self, trial: Trial, places: tuple[str, str], reading: Reading, ohms: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Return the chance of a reading where the meter may find one of two resistances, shape (R, R).

        `ohms`: what the port can be, shape (R,) [Ω], the first being sound kit. Any other counts as spread over a step.
        """
        _, spread = self._port(trial, places)

        def chance(read: Reading) -> NDArray[np.float64]:
            return chance_around(read, ohms, float(ohms[0]), spread)

        blind = width(reading)
        steady = chance(reading)
        if reading.wobbles:
            top, bottom = chance(reading.top), chance(reading.bottom)
            told = np.maximum(top[:, None] * bottom, top * bottom[:, None])
            np.fill_diagonal(told, WOBBLE_WHILE_STEADY * steady)
        else:
            told = (steady[:, None] + steady) / 2
        return np.asarray((1 - METER_MISREAD) * told + METER_MISREAD * blind)

    def _of_reading(self, trial: Trial, places: tuple[str, str], reading: Reading, learnt: Learnt) -> Floats:
        """Return the chance of a meter's reading at every severity, shape (N, samples)."""
        regimes = self._presence.regimes(trial, learnt)
        looks = self._in_looks(trial, places, reading)
        chance = sum((regime[:, None] * look for regime, look in zip(regimes, looks, strict=True)), np.zeros((1, 1)))
        blind = width(reading)
        spoilt = [failure.spoils == "meter" for failure in self._hypotheses.failures]
        chance = np.where(np.array([*spoilt, False])[self._hypotheses.failure, None], blind, chance)
        known = chance.mean(axis=1)  # a strange reading is blamed on the meter, not on an unknown cause
        chance[UNKNOWN_AT] = self._presence.unknown(known, float(self._hypotheses.prior @ known))
        return np.asarray((1 - METER_MISREAD) * chance + METER_MISREAD * blind)

    def _in_looks(self, trial: Trial, places: tuple[str, str], reading: Reading) -> tuple[Floats, Floats, Floats]:
        """Return the chance of a reading, the failure being there in both looks, in one, in none; shapes (N, samples) or less.

        One that wobbles is a failure that comes and goes between two readings.
        """
        there, sound = self._there(trial, places, reading)
        absent = np.full((1, 1), sound)
        if not reading.wobbles:
            return there, (there + sound) / 2, absent
        (top, _), (low, bottom) = (self._there(trial, places, read) for read in (reading.top, reading.bottom))
        worked = self._presence.worked(trial) & self._hypotheses.lets_go
        by_clips = WOBBLE_WHILE_STEADY * low  # clips only add: the least is what is there
        both = np.where(worked[:, None], np.maximum(top * low, by_clips), by_clips)
        return both, top * (bottom + there) / 2, WOBBLE_WHILE_STEADY * np.full((1, 1), bottom)

    def _there(self, trial: Trial, places: tuple[str, str], reading: Reading) -> tuple[Floats, float]:
        """Return the chance of one look at the meter with each failure there, shape (N, samples), and with sound kit.

        What is worked may let go: a dry joint of 4 Ω reads open while somebody tugs at it.
        """
        ohms, spread = self._port(trial, places)
        sound, hypotheses = float(ohms[0]), self._hypotheses
        there, absent = chance_of_reading(reading, ohms[hypotheses.column], sound, spread, hypotheses)
        worked = self._presence.worked(trial) & hypotheses.lets_go
        if worked.any():
            open_ = chance_around(reading, ohms[hypotheses.let_go], sound, spread)
            there = np.where(worked[:, None], (1 - LETS_GO) * there + LETS_GO * open_[:, None], there)
        return there, absent

    @cachedmethod(attrgetter("_ports"), key=lambda _, trial, places: (trial.arrangement, places))
    def _port(self, trial: Trial, places: tuple[str, str]) -> Measured:
        """Return what the leads of a meter see in every column, shape (columns,) [Ω], and the spread of good parts [Ω]."""
        nodes = [self._setup.places[place] for place in places]
        network = arranged(self._setup, trial.arrangement).network(self._setup.network)
        spreads = {part.id: part.spread for part in self._setup.parts.values()}
        ohms = self._dictionary.ohms(trial.arrangement, [Port.between(nodes[0], nodes[1])])[0]
        return ohms, spread_of_port(network, spreads, nodes[0], nodes[1])
