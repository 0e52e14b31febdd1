"""A trial in; out, how well each hypothesis explains it, by lamps, test box, gauge, eye and hand.

A failure shows in both looks of a trial, in one of them, or in none; a steady one in both.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import Gap, Lamp
from foible.circuit import Port
from foible.diagnosis.belief.lamp_reports import MISREAD, Report, agreement, lamp_states, loosely, misread_of, plainly
from foible.diagnosis.belief.reading_likelihood import Meter
from foible.diagnosis.shown.presence import NOTHING_LEARNT, UNKNOWN_AT, Presence
from foible.diagnosis.shown.readings import BOX_GAP
from foible.kit import SIDES
from foible.trials import Group

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from numpy.typing import NDArray

    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.diagnosis.shown.lamps import Dictionary
    from foible.diagnosis.shown.presence import Learnt
    from foible.kit import Setup
    from foible.trials import Look, Trial

    Floats = NDArray[np.float64]
    Looks = tuple[Floats, Floats, Floats]

__all__ = ["UNREMARKED", "TrialLikelihood"]

GAUGE_FALSE = 0.001
"""Chance that a gauge fails a weapon with none of the failures that it tests for; judgement, no source."""
FAILS_AGAIN = 0.1
"""Chance that a gauge which failed such a weapon fails it again; judgement, no source."""
STILL_FAILS = 0.1
"""Share of a failure's chance to fail a gauge that is left once it was mended: repairs fail; judgement, no source."""
UNREMARKED = 0.1
"""Chance that whoever draws a plug which was not home does not notice; judgement, no source."""
FALSE_SIGN = 0.01
"""Chance that a sound part is found to show a given sign; most signs are a matter of degree. Judgement, no source."""
FALSE_PLAIN_SIGN = 0.002
"""The same for a sign that is either there or not, which nobody sees by mistake; judgement, no source."""
FALSE_UNSAFE_SIGN = 1e-6
"""The same for the sign of a failure that can injure: nobody takes a whole blade for a broken one; judgement, no source."""
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
        "reads wrong",
    }
)
LYING_ALONG = 0.3
"""How often, in a hit that a fencer tells of, the blade behind the point lay along the cloth; judgement, no source."""
HARDLY = 0.05
"""Sound kit hardly shows what it shows less than this as often as some failure does."""
SOUND_AT = 0
"""Position of “nothing wrong” among the hypotheses."""
MOST_LEARNT = 8
"""Tries of one trial after which readiness is not sharpened any further."""
SOUND_IS_FINE = 0.85
"""Chance that a sound part examined is found fine; judgement, no source."""


class TrialLikelihood:
    """Turns trials into likelihoods over the hypotheses."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses, dictionary: Dictionary, like: TrialLikelihood | None = None) -> None:
        """`like`: one of the same hypotheses with another prior, with which this one shares what a meter would read."""
        self._setup = setup
        self._hypotheses = hypotheses
        self._dictionary = dictionary
        self.presence = Presence(setup, hypotheses)
        self.meter: Meter = Meter(setup, hypotheses, dictionary, self.presence, like.meter if like else None)
        self._unsafe = [failure for failure in hypotheses.failures if failure.out_of_use]

    def likelihood(self, trial: Trial, learnt: Learnt = NOTHING_LEARNT, *, again: bool = False) -> Floats:
        """Return the probability of what `trial` reports under every hypothesis, shape (N,), but for a meter's reading.

        `learnt`: what earlier trials taught of the readiness of failures to show. `again`: the same has been reported before;
        what the model does not know then does as well as the best known failure, and looking twice at one place sees the same.
        """
        return self._likelihood_of(trial, learnt, self.looks(trial), again=again)

    def told(self, trial: Trial, learnt: Learnt, *, again: bool) -> tuple[Floats, Learnt]:
        """Return the likelihood of a trial, shape (N,), and what is known of readiness after it."""
        looks = self.looks(trial)
        chance = self._likelihood_of(trial, learnt, looks, again=again)
        told = self.meter.looks(trial) if trial.meter and trial.reads else looks
        for _ in range(min(trial.times, MOST_LEARNT) if told else 0):
            assert told is not None  # noqa: S101 — as the range says
            learnt = self.presence.learn(learnt, trial, told)
        return chance, learnt

    def _likelihood_of(self, trial: Trial, learnt: Learnt, looks: Looks | None, *, again: bool) -> Floats:
        """Return the likelihood of a trial whose looks are worked out.

        Tries of one trial are like trials of their own, but what the model does not know does the same in each.
        """
        chance = np.ones(len(self._hypotheses))
        if looks is not None:
            once = self._looked(trial, learnt, looks)
            chance, unknown = once, once[UNKNOWN_AT]
            for left in range(trial.times - 1, 0, -1):
                if trial.times - left < MOST_LEARNT:
                    learnt = self.presence.learn(learnt, trial, looks)
                    once = self._looked(trial, learnt, looks)
                chance = chance * once
            chance[UNKNOWN_AT] = float(np.delete(chance, UNKNOWN_AT).max()) if again else unknown
        for found, sound, _ in self.findings(trial):
            if not again:
                chance = chance * found
            elif trial.found == ("fails",):  # a gauge that fails again was hardly misread twice
                chance = chance * np.where(found > 2 * sound, 1.0, FAILS_AGAIN)
        if trial.hearsay:
            chance[SOUND_AT] = self._without_fault(chance, trial.hearsay)
        return chance

    def _without_fault(self, chance: Floats, share: float) -> float:
        """Return the likelihood of a fencer's report with sound kit: it makes “nothing wrong” as probable as `share`."""
        prior = self._hypotheses.prior
        rest = float(prior @ chance) - float(prior[SOUND_AT] * chance[SOUND_AT])
        return share / (1 - share) * rest / float(prior[SOUND_AT])

    def clear(self, trial: Trial, learnt: Learnt = NOTHING_LEARNT) -> Floats:
        """Return the probability, under every hypothesis, that lamps or test box were read rightly, given what was reported."""
        told, rightly = self.looks(trial), self.looks(trial, misread=0.0)
        if told is None or rightly is None:
            return np.ones(len(self._hypotheses))
        chance = self._looked(trial, learnt, told)
        return np.asarray(self._looked(trial, learnt, rightly) * self._share_clear(trial) / np.maximum(chance, 1e-300))

    @staticmethod
    def _share_clear(trial: Trial) -> float:
        """Return the chance that nothing of a trial is misread, before anything is known."""
        sides = {side for side, _ in trial.seen.looks} if trial.seen else set()
        return float((1 - misread_of(trial)) ** (len(sides) + bool(trial.box)))

    def strange(self, trial: Trial) -> bool:
        """Return whether a trial's lamps are what sound kit would hardly show."""
        looks = self.looks(trial)
        if looks is None or trial.box:
            return False
        return float(looks[2][SOUND_AT]) < HARDLY * max(float(looks[0].max()), float(looks[1].max()))

    def looks(self, trial: Trial, *, misread: float = MISREAD) -> Looks | None:
        """Return the chance of what lamps or test box are reported to show, a failure being there in both looks, in one, in none.

        Shape (N,) each; None where a trial reports neither.
        """
        misread = min(misread, misread_of(trial))
        sums: list[Floats] = []
        if trial.seen is not None and trial.seen.looks:
            told = [(share, self._of_lamps(way, trial.seen.looks, misread)) for share, way in self.ways(trial)]
            sums = [np.asarray(sum(share * sums[i] for share, sums in told)) for i in range(3)] if len(told) > 1 else told[0][1]
        if trial.box:
            box = self._of_box(trial, self._setup.items[trial.box].box, misread)
            sums = [a * b for a, b in zip(sums, box, strict=True)] if sums else box
        return (sums[0], sums[1], sums[2]) if sums else None

    def _looked(self, trial: Trial, learnt: Learnt, looks: Looks) -> Floats:
        """Return the probability of what lamps and test box are reported to have shown, shape (N,)."""
        chance = _mixed(self.presence.regimes(trial, learnt), looks)
        chance[UNKNOWN_AT] = self.presence.unknown(chance, self._blind(trial))
        return chance

    def _blind(self, trial: Trial) -> float:
        """Return the chance of what lamps and test box are reported to show under no model at all."""
        blind = 3.0 ** -len(trial.lights) if trial.box else 1.0
        if trial.seen is not None and trial.seen.looks:
            report = self.report(trial, trial.seen.looks)
            blind *= float(np.prod([report.blind(side) for side in report.sides]))
        return blind

    def findings(self, trial: Trial) -> Iterator[tuple[NDArray[np.float64], float, bool]]:
        """Yield what eye, hand and gauge found, or did not remark on: its chance under each hypothesis and with sound kit.

        The last entry says whether a finding is about all parts, as “fine” and “passes” are, or about some part.
        """
        if trial.examine:
            sound = self._background(trial)
            yield self._of_signs(trial), sound, trial.found == ("fine",)
        if trial.gauge:
            passes = trial.found == ("passes",)
            yield self._of_gauge(trial, *trial.gauge), 1 - GAUGE_FALSE if passes else GAUGE_FALSE, passes
        if trial.unremarked:
            yield np.where(self.presence.seats(trial.unremarked) & ~self.presence.gone(trial), UNREMARKED, 1.0), 1.0, True

    # --- tools ----------------------------------------------------------------------------------------------------

    def _of_box(self, trial: Trial, nodes: Mapping[str, str], misread: float) -> list[Floats]:
        """Return the chance of what the lamps of a test box show, one per pair of lines, in the three ways of `looks`."""
        pairs = [pair.split("-") for pair, _ in trial.lights]
        ohms = self._dictionary.ohms(trial.arrangement, [Port.between(nodes[a], nodes[b]) for a, b in pairs])
        lit = 1.0 - Gap(*BOX_GAP).chance_open(ohms)
        sums = [np.ones(len(self._hypotheses)) for _ in range(3)]
        for row, (_, allowed) in zip(lit, trial.lights, strict=True):
            there = np.stack([1 - row, row])[:, self._hypotheses.column]
            absent = np.array([[1 - row[0]], [row[0]]])
            for i, (first, second) in enumerate(((there, there), (there, absent), (absent, absent))):
                sums[i] = sums[i] * agreement(allowed, first, second)
        blind = 3.0 ** -len(pairs)
        return [(1 - misread) * chance + misread * blind for chance in sums]

    def _of_gauge(self, trial: Trial, side: str, gauge: str) -> NDArray[np.float64]:
        """Return the chance that a gauge passes or fails the weapon of a side; a bad gauge fails sound weapons."""
        fails = np.full(len(self._hypotheses), GAUGE_FALSE)
        for part, run in self.presence.runs.items():
            item = self._setup.items[self._setup.parts[part].item]
            if item.side in (side, None) and not self.presence.healed(trial, part):
                gauges = [self._hypotheses.failures[int(i)].gauges for i in self._hypotheses.failure[run]]
                fails[run] = [entry.get(gauge, GAUGE_FALSE) for entry in gauges]
        if trial.mended:
            fails = np.where(self.presence.gone(trial), np.maximum(GAUGE_FALSE, STILL_FAILS * fails), fails)
        chance = fails if trial.found == ("fails",) else 1 - fails
        chance[UNKNOWN_AT] = self.presence.unknown(chance, float(chance.min()))
        return chance

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _of_lamps(self, trial: Trial, looks: Mapping[tuple[str, Group], frozenset[Look]], misread: float) -> list[Floats]:
        """Return the chance of the report of lamps, in the three ways of `looks`."""
        report = replace(self.report(trial, looks), misread=misread)
        lamps, before = self._lamps(trial)
        sums = [np.zeros(1) for _ in range(3)]
        for share, shown in lamp_states(lamps, before, self.counting(trial), self._setup.kind):
            there = {key: state[:, self._hypotheses.column] for key, state in shown.items()}
            absent = {key: state[:, :1] for key, state in shown.items()}
            for i, pair in enumerate(((there, there), (there, absent), (absent, absent))):
                sums[i] = sums[i] + share * report.chance(*pair)
        return [np.broadcast_to(chance, (len(self._hypotheses),)) for chance in sums]

    def ways(self, trial: Trial) -> list[tuple[float, Trial]]:
        """Return the ways in which a trial may have been made, with their shares: a hit only told of leaves some open."""
        hit = trial.arrangement
        lying = f"{hit.press} weapon taped blade"
        if not trial.hearsay or hit.on not in self._setup.cloth or lying not in self._setup.places:
            return [(1.0, trial)]
        along = replace(hit, touching=(*hit.touching, (lying, hit.on)))
        return [(1 - LYING_ALONG, trial), (LYING_ALONG, replace(trial, arrangement=along))]

    def report(self, trial: Trial, looks: Mapping[tuple[str, Group], frozenset[Look]]) -> Report:
        """Return a report of lamps ready to be weighed."""
        counting = self.counting(trial)
        vague = bool(trial.moves or trial.hearsay)  # nobody tells then whether a lamp was lit before the press
        counted = {key: loosely(seen) if vague and key[1] is not Group.YELLOW else seen for key, seen in looks.items()}
        allowed = {key: seen if key[0] in counting else plainly(looks[key]) for key, seen in counted.items()}
        return Report(allowed, misread_of(trial))

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
        background = self._background(trial)
        chance = np.full(len(self._hypotheses), background)
        for part, run in self.presence.runs.items():
            names = {part, self._setup.parts[part].item}
            if names & set(trial.examine) and not names & {*trial.mended, *trial.swapped}:
                chance[run] = [self._of_sign(int(i), trial.found, background) for i in self._hypotheses.failure[run]]
        if background > FALSE_UNSAFE_SIGN:  # a blade that is broken is no riddle
            chance[UNKNOWN_AT] = self.presence.unknown(chance, float(chance.min()))
        return chance

    def _background(self, trial: Trial) -> float:
        """Return the chance of what an examination found, with sound kit."""
        if trial.found == ("fine",):
            return SOUND_IS_FINE
        if any(failure.seen(trial.examine, trial.found) for failure in self._unsafe):
            return FALSE_UNSAFE_SIGN
        return sum(FALSE_PLAIN_SIGN if sign in PLAIN_SIGNS else FALSE_SIGN for sign in trial.found)

    def _of_sign(self, failure: int, found: tuple[str, ...], background: float) -> float:
        """Return the chance of a finding at a part with this failure: its sign, or without a sign what a sound part shows."""
        signs = self._hypotheses.failures[failure].signs
        own = sum(signs.get(sign, 0.0) for sign in found)
        return own + (1 - sum(signs.values())) * background


def _mixed(weights: Iterable[NDArray[np.float64]], values: Iterable[NDArray[np.float64]]) -> NDArray[np.float64]:
    terms = [weight * value for weight, value in zip(weights, values, strict=True)]
    return np.asarray(np.sum(terms, axis=0))
