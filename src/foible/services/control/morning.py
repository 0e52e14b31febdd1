"""A weapon and the facts of a place in; out, the shortest list of trials that proves a strip before anybody complains.

Two people with two good weapons make the trials; the reasoning knows what each failure of reels, floor cables, piste and
apparatus would show. The list catches every failure that is there all the time and that a lamp shows, and goes on until what
comes and goes is left with no more doubt than asked. The probability at its end is that of the reasoning itself, with pairs
and with what repeats teach; what no trial here shows is named and weighed beside it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import load_profile
from foible.control.shortest import CAUGHT, Battery, short_list
from foible.diagnosis import PRIOR_SOUND, SOUND, Activity, Rates, Reasoner
from foible.facts import ORANGE_LAMPS
from foible.services.control.morning_list import Left, Morning, MorningLine
from foible.services.control.strip_trials import MEANWHILE, strip_trials
from foible.services.reasoners import Remembered, telling_facts
from foible.services.register.kinds import bare
from foible.trials import Group

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.control.shortest import ShortList
    from foible.diagnosis import Finding
    from foible.kit import Failure
    from foible.services.control.strip_trials import StripTrials
    from foible.services.reasoning import Reasoning
    from foible.trials import Idea, Trial

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

__all__ = ["SURE", "WRONG", "morning_of"]

SURE = 0.95
"""How certain it is to be by default."""
WRONG = 0.2
"""Share of strips with something wrong when they have just been laid out, by default; judgement, no source."""
TWICE = 2
"""How often a trial is made at most: the same handling again tells less and less."""
HIDDEN = 0.95
"""What passes every trial at least this often, against sound kit, is shown by none; judgement, no source."""
PLAIN_LOOK = 0.25
"""A failure is to be looked for where its sign is seen so often that no more than this share is missed; judgement, no source."""
UNLIT = 0.02
"""How often a lamp that stays dark is taken for lit: as often as any is misread; judgement, no source."""
STRICTER = 0.75
"""By this the doubt is lowered where repeats taught less than if each had been a trial of its own."""
ROUNDS = 8
LEAST_LEFT = 0.0005


_known: Remembered[Morning] = Remembered()


def morning_of(
    reasoning: Reasoning, weapon: str | None = None, *, facts: Sequence[str] = (), sure: float = SURE, wrong: float = WRONG
) -> Morning:
    """Return the proof of a strip of a weapon; `wrong` is the share of strips with something wrong. It stays in memory.

    Raises UnknownNameError for a weapon that there is not.
    """
    setup = reasoning.setup(weapon)
    key = (id(setup), tuple(facts), reasoning.rates(setup), sure, wrong)
    return _known.get(setup, key, lambda: _Search(reasoning, weapon, tuple(facts), wrong).morning(sure))


class _Search:
    """The trials of one strip set-up, with what each failure does to them."""

    def __init__(self, reasoning: Reasoning, weapon: str | None, facts: tuple[str, ...], wrong: float) -> None:
        self.setup = reasoning.setup(weapon)
        self.facts, self.wrong = facts, wrong
        self.trials: StripTrials = strip_trials(self.setup, facts)
        own = reasoning.rates(self.setup)
        odds = (1 - wrong) / wrong * (1 - PRIOR_SOUND) / PRIOR_SOUND
        self.reasoner = Reasoner(
            self.setup,
            load_profile(self.setup.profile, reasoning.overlays),
            known_good=self.trials.brought,
            facts=telling_facts(self.setup, facts),
            ideas=self.trials.ideas,
            rates=Rates(own.of, odds),
        )
        self.adviser = self.reasoner.adviser()
        self.sound = self.adviser.starts_of(SOUND)
        kinds = [self.adviser.kind_of(i) for i in range(len(self.reasoner.hypotheses))]
        self.kind = np.array([-1 if kind is None else kind for kind in kinds])
        passing = np.array([self._passes(i) for i in range(len(self.ideas))])
        self.ratio: Floats = np.minimum(passing / passing[:, [self.sound]], 1.0)
        """How often a trial comes out right against sound kit, by kind of hypothesis, shape (T, K)."""
        hidden = self.ratio.min(axis=0) > HIDDEN
        hidden[self.sound] = False
        self.hidden: Bools = hidden

    @property
    def ideas(self) -> Sequence[Idea]:
        """The trials, in the order of their tables."""
        return self.adviser.ideas

    def _shown(self, number: int) -> tuple[Trial, str]:
        """Return what sound kit shows in a trial: the trial that reports it, and the words."""
        experiment = self.adviser.experiments[number]
        outcome = experiment.outcomes[int(np.argmax(experiment.chance[:, self.sound]))]
        assert outcome.trial is not None  # noqa: S101 — sound kit shows one thing most of the time, which a report can say
        right = self._visible(outcome.trial)
        return right, outcome.words if right.seen is None else ", ".join(right.seen.text)

    def _visible(self, trial: Trial) -> Trial:
        """Return a trial without lamps that this apparatus does not have."""
        if trial.seen is None or ORANGE_LAMPS in self.facts or not any(lamp.optional for lamp in self.setup.kind.lamps):
            return trial
        looks = {key: look for key, look in trial.seen.looks.items() if key[1] is not Group.YELLOW}
        earth = self.setup.kind.lamp_word("yellow")
        text = tuple(phrase for phrase in trial.seen.text if earth not in phrase.split())
        return replace(trial, seen=replace(trial.seen, looks=looks, text=text or ("nothing",)))

    def _passes(self, number: int) -> Floats:
        """Return the chance that what can be seen in a trial is what sound kit shows, by kind, shape (K,)."""
        experiment = self.adviser.experiments[number]
        right, _ = self._shown(number)
        same = [outcome.trial is not None and self._same(self._visible(outcome.trial), right) for outcome in experiment.outcomes]
        return np.asarray(experiment.chance[np.array(same)].sum(axis=0), dtype=np.float64)

    @staticmethod
    def _same(one: Trial, other: Trial) -> bool:
        return one.found == other.found and (one.seen.looks if one.seen else None) == (other.seen.looks if other.seen else None)

    # --- the list -------------------------------------------------------------------------------------------------

    def battery(self) -> Battery:
        """Return the trials as tests: what is hidden from all of them counts for nothing, what lamps show must be caught."""
        prior = self.adviser.prior
        odds = np.where(self.hidden, 0.0, prior) / prior[self.sound]
        odds[self.sound] = 0.0
        looks = np.array([bool(idea.trial.examine) for idea in self.ideas])
        steady = np.zeros(len(prior), dtype=bool)
        steady[self.kind[self._steady()]] = True
        by_lamp = (self.ratio[~looks] <= CAUGHT).any(axis=0)
        by_eye = (self.ratio <= PLAIN_LOOK).any(axis=0)
        most = np.where([idea.once_only for idea in self.ideas], 1, TWICE)
        cost = np.array([idea.seconds for idea in self.ideas])
        dark = self._unlit()
        passing = np.concatenate([self.ratio, np.where(dark, 1.0, UNLIT)], axis=1)
        odds = np.concatenate([odds, np.zeros(dark.shape[1])])
        return Battery(
            cost, most, odds, passing, np.concatenate([steady & (by_lamp | by_eye), np.ones(dark.shape[1], dtype=bool)])
        )

    def _unlit(self) -> Bools:
        """Return which lamp stays dark in which trial, shape (T, lamps): each is to be seen lit, as one may be dead alone."""
        lit = [self._shown(number) for number in range(len(self.ideas))]
        words = [set(trial.seen.text) - {"nothing"} if trial.seen else set() for trial, _ in lit]
        lamps = sorted({word for each in words for word in each})
        return np.array([[lamp not in each for lamp in lamps] for each in words]).reshape(len(words), len(lamps))

    def _steady(self) -> NDArray[np.intp]:
        """Return the positions of the failures that are there all the time."""
        hypotheses = self.reasoner.hypotheses
        return np.flatnonzero((hypotheses.activity == Activity.STEADY) & (hypotheses.failure >= 0))

    def morning(self, sure: float) -> Morning:
        """Return the proof: the list is lengthened until the reasoning itself is as certain as asked."""
        battery, doubt = self.battery(), (1 - sure) / sure
        for _ in range(ROUNDS):
            found = short_list(battery, doubt)
            finding = self.reasoner.find(self._made(found))
            certain = self._certain(finding)
            if certain >= sure or not found.enough:
                break
            doubt *= STRICTER
        return self._told(sure, found, finding, certain)

    def _made(self, found: ShortList) -> list[Trial]:
        return [self._shown(number)[0] for number, times in enumerate(found.counts.tolist()) for _ in range(times)]

    def _certain(self, finding: Finding) -> float:
        """Return the probability that nothing is wrong which a trial here could show."""
        alone = finding.belief.probability[self.hidden[self.kind] & (self.kind >= 0)]
        return finding.sound + float(alone.sum())

    def _told(self, sure: float, found: ShortList, finding: Finding, certain: float) -> Morning:
        order, passes, mean_s = self._in_order(found)
        lines = []
        for number in order:
            idea, (trial, words) = self.ideas[number], self._shown(number)
            lines.append(MorningLine(idea.say, words, int(found.counts[number]), idea.seconds, bool(idea.trial.moves), trial))
        moved = {say for line in lines for say in (line.say.partition(MEANWHILE)[2],) if say}
        every = dict.fromkeys(idea.say.partition(MEANWHILE)[2] for idea in self.ideas if idea.trial.moves)
        return Morning(
            weapon=self.setup.weapon,
            facts=self.facts,
            asked=sure,
            lines=tuple(lines),
            before=1 - self.wrong,
            certain=certain,
            sound=finding.sound,
            enough=certain >= sure,
            passes=passes,
            mean_s=mean_s,
            least_s=found.least,
            left=self._left(finding),
            left_out=tuple(say for say in every if say not in moved),
            never_shown=self._never_shown(),
            let_through=self._let_through(found),
        )

    def _in_order(self, found: ShortList) -> tuple[list[int], float, float]:
        """Return the trials so that a bad strip is found soon, the chance that all come out right, and the mean time [s].

        The next is always the one that comes out wrong most often for its time, given that those before came out right; what
        shakes or draws something comes after what leaves all still.
        """
        weight, order, mean_s = self.adviser.prior / self.adviser.prior.sum(), [], 0.0
        left = [number for number, times in enumerate(found.counts.tolist()) if times]
        while left:
            still = [number for number in left if not self.ideas[number].trial.moves] or left

            def soon(number: int, now: Floats = weight) -> float:
                return float(1 - (now @ self.ratio[number]) / now.sum()) / self.ideas[number].seconds

            best = max(still, key=soon)
            for _ in range(int(found.counts[best])):
                mean_s += float(weight.sum()) * self.ideas[best].seconds
                weight = weight * self.ratio[best]
            order.append(best)
            left.remove(best)
        return order, float(weight.sum()), mean_s

    # --- what it cannot show --------------------------------------------------------------------------------------

    def _left(self, finding: Finding) -> tuple[Left, ...]:
        """Return what may be wrong all the same, by failure and reason."""
        hypotheses = self.reasoner.hypotheses
        shares: Counter[tuple[str, str]] = Counter()
        for number, share in enumerate(finding.belief.attributed.tolist()):
            at = int(hypotheses.failure[number])
            if at >= 0 and self.kind[number] >= 0:
                shares[bare(hypotheses.failures[at].id), self._why(number)] += share
        told = (Left(name, why, share) for (name, why), share in shares.most_common() if share >= LEAST_LEFT)
        return tuple(told)

    def _why(self, number: int) -> str:
        if self.hidden[self.kind[number]]:
            return "no trial here shows it"
        if self.reasoner.hypotheses.activity[number] != Activity.STEADY:
            return "it comes and goes"
        return "seen or not, depending on the apparatus" if not self._is_look(number) else "the eye may miss it"

    def _is_look(self, number: int) -> bool:
        best = int(np.argmin(self.ratio[:, self.kind[number]]))
        return bool(self.ideas[best].trial.examine)

    def _never_shown(self) -> tuple[str, ...]:
        """Return the failures that no trial here shows at any severity."""
        hypotheses = self.reasoner.hypotheses
        shown: dict[str, bool] = {}
        for number in self._steady().tolist():
            failure: Failure = hypotheses.failures[int(hypotheses.failure[number])]
            name = bare(failure.id)
            shown[name] = shown.get(name, False) or not self.hidden[self.kind[number]]
        return tuple(name for name, seen in shown.items() if not seen)

    def _let_through(self, found: ShortList) -> tuple[tuple[str, tuple[float, ...]], ...]:
        """Return the failures, each once for both sides, with the severities at which no line of the list catches them."""
        hypotheses = self.reasoner.hypotheses
        still = {idea.say: number for number, idea in enumerate(self.ideas)}
        listed = [still[self.ideas[number].say.partition(MEANWHILE)[0]] for number in np.flatnonzero(found.counts).tolist()]
        least = self.ratio[listed].min(axis=0, initial=1.0)  # a shake may move what is broken for good, but nobody counts on it
        missed: dict[str, set[float]] = {}
        for number in self._steady().tolist():
            if least[self.kind[number]] > CAUGHT:
                name = bare(hypotheses.failures[int(hypotheses.failure[number])].id)
                missed.setdefault(name, set()).add(float(hypotheses.ohms[number]))
        return tuple((name, tuple(sorted(ohms))) for name, ohms in missed.items())
