"""A trial in; out, how well each hypothesis explains it, by lamps, test box, gauge, eye and hand.

A failure shows in both looks of a trial, in one of them, or in none; a steady one in both.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import Gap, Lamp
from foible.circuit import Port
from foible.diagnosis.belief.lamp_reports import MISREAD, Report, agreement, lamp_states, plainly
from foible.diagnosis.belief.reading_likelihood import Meter
from foible.diagnosis.shown.presence import UNKNOWN_AT, Presence
from foible.diagnosis.shown.readings import BOX_GAP
from foible.kit import SIDES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.diagnosis.shown.lamps import Dictionary
    from foible.kit import Setup
    from foible.trials import Group, Look, Trial

__all__ = ["TrialLikelihood"]

GAUGE_FALSE = 0.02
"""Chance that a gauge fails a weapon with none of the failures that it tests for; judgement, no source."""
FALSE_SIGN = 0.02
"""Chance that a sound part is found to show a given sign; most signs are a matter of degree. Judgement, no source."""
FALSE_PLAIN_SIGN = 0.002
"""The same for a sign that is either there or not, which nobody sees by mistake; judgement, no source."""
PLAIN_SIGNS = frozenset(
    {
        "broken",
        "cracked",
        "missing",
        "off",
        "comes away",
        "stray strand",
        "bare wire",
        "touching",
        "torn",
        "wrong kind",
        "wrong setting",
        "exchanged",
    }
)
SOUND_IS_FINE = 0.85
"""Chance that a sound part examined is found fine; judgement, no source."""


class TrialLikelihood:
    """Turns trials into likelihoods over the hypotheses."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses, dictionary: Dictionary) -> None:
        self._setup = setup
        self._hypotheses = hypotheses
        self._dictionary = dictionary
        self.presence = Presence(setup, hypotheses)
        self.meter = Meter(setup, hypotheses, dictionary, self.presence)

    def likelihood(self, trial: Trial, *, again: bool = False) -> NDArray[np.float64]:
        """Return the probability of what `trial` reports under every hypothesis, shape (N,).

        Repeats are independent, misreadings of them too. What the model does not know may do anything in a trial, but does the
        same when it is repeated. `again`: the same has been reported before; looking twice at one place sees the same.
        """
        looked = self._looked(trial)
        chance = looked**trial.times
        chance[UNKNOWN_AT] = 1.0 if again else looked[UNKNOWN_AT]
        for found, _, _ in () if again else self.findings(trial):
            chance = chance * found
        return chance

    def clear(self, trial: Trial) -> NDArray[np.float64]:
        """Return the probability, under every hypothesis, that lamps or test box were read rightly, given what was reported."""
        told = self._looked(trial)
        return np.asarray(self._looked(trial, misread=0.0) * self._share_clear(trial) / np.maximum(told, 1e-300))

    @staticmethod
    def _share_clear(trial: Trial) -> float:
        """Return the chance that nothing of a trial is misread, before anything is known."""
        sides = {side for side, _ in trial.seen.looks} if trial.seen and not trial.sure else set()
        return float((1 - MISREAD) ** (len(sides) + bool(trial.box and not trial.sure)))

    def _looked(self, trial: Trial, *, misread: float = MISREAD) -> NDArray[np.float64]:
        """Return the probability of what lamps and test box are reported to have shown, shape (N,)."""
        total = np.ones(len(self._hypotheses))
        misread = 0.0 if trial.sure else misread
        if trial.seen is not None and trial.seen.looks:
            total = total * self._of_lamps(trial, trial.seen.looks, misread)
        if trial.box:
            total = total * self._of_box(trial, self._setup.items[trial.box].box, misread)
        return total

    def findings(self, trial: Trial) -> Iterator[tuple[NDArray[np.float64], float, bool]]:
        """Yield what eye, hand and gauge found: its chance under each hypothesis and with sound kit.

        The last entry says whether a finding is about all parts, as “fine” and “passes” are, or about some part.
        """
        if trial.examine:
            sound = _background(trial.found)
            yield self._of_signs(trial), sound, trial.found == ("fine",)
        if trial.gauge:
            passes = trial.found == ("passes",)
            yield self._of_gauge(trial, *trial.gauge), 1 - GAUGE_FALSE if passes else GAUGE_FALSE, passes

    # --- tools ----------------------------------------------------------------------------------------------------

    def _of_box(self, trial: Trial, nodes: Mapping[str, str], misread: float) -> NDArray[np.float64]:
        """Return the chance of what the lamps of a test box show, one per pair of lines."""
        pairs = [pair.split("-") for pair, _ in trial.lights]
        ohms = self._dictionary.ohms(trial.arrangement, [Port.between(nodes[a], nodes[b]) for a, b in pairs])
        lit = 1.0 - Gap(*BOX_GAP).chance_open(ohms)
        sums = [np.ones(len(self._hypotheses)) for _ in range(3)]
        for row, (_, allowed) in zip(lit, trial.lights, strict=True):
            there = np.stack([1 - row, row])[:, self._hypotheses.column]
            absent = np.array([[1 - row[0]], [row[0]]])
            for i, (first, second) in enumerate(((there, there), (there, absent), (absent, absent))):
                sums[i] = sums[i] * agreement(allowed, first, second)
        chance = _mixed(self.presence.regimes(trial), sums)
        blind = 3.0 ** -len(pairs)
        chance[UNKNOWN_AT] = self.presence.unknown(chance, blind)
        return np.asarray((1 - misread) * chance + misread * blind)

    def _of_gauge(self, trial: Trial, side: str, gauge: str) -> NDArray[np.float64]:
        """Return the chance that a gauge passes or fails the weapon of a side; a bad gauge fails sound weapons."""
        fails = np.full(len(self._hypotheses), GAUGE_FALSE)
        for part, run in self.presence.runs.items():
            item = self._setup.items[self._setup.parts[part].item]
            if item.side in (side, None) and not self.presence.healed(trial, part):
                gauges = [self._hypotheses.failures[int(i)].gauges for i in self._hypotheses.failure[run]]
                fails[run] = [entry.get(gauge, GAUGE_FALSE) for entry in gauges]
        chance = fails if trial.found == ("fails",) else 1 - fails
        chance[UNKNOWN_AT] = self.presence.unknown(chance, float(chance.min()))
        return chance

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _of_lamps(self, trial: Trial, looks: Mapping[tuple[str, Group], frozenset[Look]], misread: float) -> NDArray[np.float64]:
        """Return the chance of the report of lamps."""
        report = replace(self.report(trial, looks), misread=misread)
        lamps, before = self._lamps(trial)
        shown = lamp_states(lamps, before, self.counting(trial))
        there = {key: state[:, self._hypotheses.column] for key, state in shown.items()}
        absent = {key: state[:, :1] for key, state in shown.items()}
        sums = [report.chance(*pair) for pair in ((there, there), (there, absent), (absent, absent))]
        chance = _mixed(self.presence.regimes(trial), sums)
        chance[UNKNOWN_AT] = self.presence.unknown(chance, float(np.prod([report.blind(side) for side in report.sides])))
        return chance

    def report(self, trial: Trial, looks: Mapping[tuple[str, Group], frozenset[Look]]) -> Report:
        """Return a report of lamps ready to be weighed."""
        counting = self.counting(trial)
        allowed = {key: seen if key[0] in counting else plainly(seen) for key, seen in looks.items()}
        return Report(allowed, 0.0 if trial.sure else MISREAD)

    def counting(self, trial: Trial) -> tuple[str, ...]:
        """Return the sides for which it matters that a hit lamp was lit before the press."""
        return tuple(side for side in SIDES if self._before_counts(trial, side))

    def _lamps(self, trial: Trial) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return self._dictionary.lamps(trial.arrangement), self._dictionary.lamps(trial.arrangement.before_press())

    def _before_counts(self, trial: Trial, side: str) -> bool:
        """Return whether it matters that a hit lamp was lit before the press.

        It does for the side that presses, unless the arrangement lights it with sound kit as well, as an unplugged weapon does.
        """
        if side != trial.arrangement.press:
            return False
        sound = self._dictionary.lamps(trial.arrangement.before_press())[0, SIDES.index(side)]
        return bool(sound[Lamp.WHITE] + sound[Lamp.COLOURED] < 0.5)  # noqa: PLR2004 — less likely than not

    # --- examinations ---------------------------------------------------------------------------------------------

    def _of_signs(self, trial: Trial) -> NDArray[np.float64]:
        """Return the chance that the examination found what it did."""
        background = _background(trial.found)
        chance = np.full(len(self._hypotheses), background)
        for part, run in self.presence.runs.items():
            names = {part, self._setup.parts[part].item}
            if names & set(trial.examine) and not names & {*trial.mended, *trial.swapped}:
                chance[run] = [self._of_sign(int(i), trial.found, background) for i in self._hypotheses.failure[run]]
        chance[UNKNOWN_AT] = self.presence.unknown(chance, float(chance.min()))
        return chance

    def _of_sign(self, failure: int, found: tuple[str, ...], background: float) -> float:
        """Return the chance of a finding at a part with this failure: its sign, or without a sign what a sound part shows."""
        signs = self._hypotheses.failures[failure].signs
        own = sum(signs.get(sign, 0.0) for sign in found)
        return own + (1 - sum(signs.values())) * background


def _mixed(weights: Iterable[NDArray[np.float64]], values: Iterable[NDArray[np.float64]]) -> NDArray[np.float64]:
    terms = [weight * value for weight, value in zip(weights, values, strict=True)]
    return np.asarray(np.sum(terms, axis=0))


def _background(found: tuple[str, ...]) -> float:
    """Return the chance of a finding at a sound part."""
    if found == ("fine",):
        return SOUND_IS_FINE
    return sum(FALSE_PLAIN_SIGN if sign in PLAIN_SIGNS else FALSE_SIGN for sign in found)
