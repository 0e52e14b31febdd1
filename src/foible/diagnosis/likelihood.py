"""How well each hypothesis explains a trial: by lamps, test box, gauge, eye and hand.

A failure shows in both looks of a trial, in one of them, or in none; a steady one in both.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import Gap, Lamp
from foible.circuit import Port
from foible.diagnosis.measuring import BOX_GAP
from foible.diagnosis.metering import Meter
from foible.diagnosis.presence import STRANGE, UNKNOWN_AT, Presence
from foible.diagnosis.report import MISREAD, Report, agreement, coarse_outcomes, lamp_states, plainly, steady_or_changing
from foible.kit import SIDES
from foible.trials import Group

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from numpy.typing import NDArray

    from foible.diagnosis.dictionary import Dictionary
    from foible.diagnosis.hypotheses import Hypotheses
    from foible.kit import Setup
    from foible.trials import Look, Trial

__all__ = ["Witness"]

GAUGE_FALSE = 0.02
"""Chance that a gauge fails a weapon that has none of the failures it is made for; judgement, no source."""
FALSE_SIGN = 0.02
"""Chance that a sound part shows a given sign when examined; judgement, no source."""
SOUND_IS_FINE = 0.85
"""Chance that a sound part examined is found fine; judgement, no source."""


class Witness:
    """Turns trials into likelihoods over the hypotheses."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses, dictionary: Dictionary) -> None:
        self._setup = setup
        self._hypotheses = hypotheses
        self._dictionary = dictionary
        self.presence = Presence(setup, hypotheses)
        self.meter = Meter(setup, hypotheses, dictionary, self.presence)

    def likelihood(self, trial: Trial) -> NDArray[np.float64]:
        """Return the probability of what `trial` reports under every hypothesis, shape (N,).

        Repeats are independent, misreadings of them too. What the model does not know may do anything in a trial, but does the
        same when it is repeated.
        """
        once = self._once(trial)
        chance = once**trial.times
        chance[UNKNOWN_AT] = once[UNKNOWN_AT]
        return chance

    def _once(self, trial: Trial) -> NDArray[np.float64]:
        total = np.ones(len(self._hypotheses))
        if trial.seen is not None and trial.seen.looks:
            total = total * self._of_lamps(trial, trial.seen.looks)
        if trial.box:
            total = total * self._of_box(trial, self._setup.items[trial.box].box)
        for chance, _, _ in self.findings(trial):
            total = total * chance
        return total

    def findings(self, trial: Trial) -> Iterator[tuple[NDArray[np.float64], float, bool]]:
        """Yield what eye, hand and gauge found: its chance under each hypothesis and with sound kit.

        The last entry says whether a finding speaks of all parts, as “fine” and “passes” do, or of some part.
        """
        if trial.examine:
            sound = SOUND_IS_FINE if trial.found == ("fine",) else FALSE_SIGN * len(trial.found)
            yield self._of_signs(trial), sound, trial.found == ("fine",)
        if trial.gauge:
            passes = trial.found == ("passes",)
            yield self._of_gauge(trial, *trial.gauge), 1 - GAUGE_FALSE if passes else GAUGE_FALSE, passes

    # --- tools ----------------------------------------------------------------------------------------------------

    def _of_box(self, trial: Trial, nodes: Mapping[str, str]) -> NDArray[np.float64]:
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
        return np.asarray((1 - MISREAD) * chance + MISREAD * blind)

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

    def _of_lamps(self, trial: Trial, looks: Mapping[tuple[str, Group], frozenset[Look]]) -> NDArray[np.float64]:
        """Return the chance of the report of lamps."""
        report = self.report(trial, looks)
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
        return Report({key: seen if key[0] in counting else plainly(seen) for key, seen in looks.items()})

    def counting(self, trial: Trial) -> tuple[str, ...]:
        """Return the sides for which it matters that a hit lamp was lit before the press."""
        return tuple(side for side in SIDES if self._before_counts(trial, side))

    def _lamps(self, trial: Trial) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return self._dictionary.lamps(trial.arrangement), self._dictionary.lamps(trial.arrangement.before_press())

    def outcomes(self, trial: Trial, side: str, chosen: NDArray[np.intp], prior: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the probability of every outcome that one side's lamps can show, shape (outcomes, len(chosen)).

        An outcome is one of `coarse_outcomes` for the hit lamps and one for the yellow lamp; `chosen` are the positions of the
        hypotheses to work it out for, `prior` the prior probability that each of them stands for, shape (len(chosen),).
        """
        regimes = [regime[chosen] for regime in self.presence.regimes(trial)]
        shown = lamp_states(*self._lamps(trial), self.counting(trial))
        tables = []
        for group in Group:
            states = shown[side, group]
            there, absent = states[:, self._hypotheses.column[chosen]], states[:, :1]
            tables.append([steady_or_changing(*pair) for pair in ((there, there), (there, absent), (absent, absent))])
        rows = sum(
            (hit[:, None] * yellow[None] * weight for weight, hit, yellow in zip(regimes, *tables, strict=True)),
            np.zeros((len(coarse_outcomes(Group.HIT)), len(coarse_outcomes(Group.YELLOW)), len(chosen))),
        )
        table = rows.reshape(-1, len(chosen))
        known = prior * (chosen != UNKNOWN_AT)
        some = table @ known / known.sum()
        table[:, chosen == UNKNOWN_AT] = ((1 - STRANGE) * some + STRANGE / len(table))[:, None]
        return np.asarray((1 - MISREAD) * table + MISREAD / len(table))

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
        background = SOUND_IS_FINE if trial.found == ("fine",) else FALSE_SIGN * len(trial.found)
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
