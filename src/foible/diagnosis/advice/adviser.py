"""A belief in, the next trial out: at the piste, to find the item to exchange; on the bench, to find the repair to make.

`lookahead` does the calculation; this module lays out the hypotheses, the catalogue and the prices for it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.circuit import equal_rows
from foible.diagnosis.advice.aims import aims_of, kinds_of, names_of
from foible.diagnosis.advice.lookahead import Chooser, DecisionModel
from foible.diagnosis.advice.mending import mending_trials
from foible.diagnosis.shown.hypotheses import SOUND
from foible.diagnosis.shown.presence import NOTHING_LEARNT
from foible.situation import Mode, Situation

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.aims import Aim
    from foible.diagnosis.advice.outcomes import Experiment, OutcomeTables
    from foible.diagnosis.belief.posterior import Belief
    from foible.diagnosis.shown.presence import Learnt
    from foible.trials import Idea, Trial

__all__ = ["Advice", "Adviser", "Decision"]

WORTHLESS_BITS = 0.005
"""A trial expected to tell less than this is not offered [bit]."""
LEAST_S = 3.0
"""The least that a trial costs besides the repair or exchange in it [s]; judgement, no source."""
TOLD = 2
"""How often a trial is made in which something is pressed or moved; judgement, no source. One look at what lies still is enough
where its answer was steady."""
CHOOSERS = 16
"""Sets of aims acted on whose tables stay in memory; one takes some 7 MB for a whole strip."""
SCALE = 1e4
"""Hypotheses are merged where their chances agree to one part in this many."""


@dataclass(frozen=True, slots=True)
class Advice:
    """A trial with the information it is expected to give, and the cost to be done."""

    idea: Idea
    bits: float
    """Expected information about what should be named [bit]."""
    cost_s: float
    """Expected cost to be done when this trial is made next [s]."""

    @property
    def bits_per_second(self) -> float:
        """Expected information per second of the trial's cost [bit/s]."""
        return self.bits / self.idea.seconds


@dataclass(frozen=True)
class Decision:
    """What to do next."""

    mode: Mode
    advice: tuple[Advice, ...]
    """Trials worth making, the one to make first in front."""
    enough: bool
    """Whether it costs less to act now than to go on trying."""
    stop_s: float
    """Expected cost to be done when nothing more is tried [s]."""
    aims: tuple[tuple[Aim, float], ...]
    """What could be named, with probabilities, the most probable first."""


class Adviser:
    """Chooses from a catalogue under a belief. The tables are worked out once.

    `item` narrows the hypotheses to what can be wrong with one item, the others being known good: the bench.
    """

    def __init__(self, outcome_tables: OutcomeTables, ideas: Sequence[Idea], mode: Mode, item: str | None = None) -> None:
        setup, hypotheses = outcome_tables.setup, outcome_tables.hypotheses
        self.mode = mode
        found = [idea for idea in ideas if idea.item == (item if mode is Mode.BENCH else None)]
        self.aims = aims_of(setup, hypotheses, mode, item)
        number = {aim.name: i for i, aim in enumerate(self.aims)}
        self.names = tuple(names_of(hypotheses, mode, item))
        """What each hypothesis asks for; "" where it is not in question."""
        group = np.array([number.get(name, -1) for name in self.names], dtype=np.intp)
        lamps = (
            []
            if mode is Mode.BENCH
            else [
                outcome_tables.dictionary.lamps(a)
                for a in {a: None for i in found for a in (i.trial.arrangement, i.trial.arrangement.before_press())}
            ]
        )
        chosen, self._kind = kinds_of(hypotheses, group, lamps)
        self.ideas: tuple[Idea, ...] = tuple(found)
        if mode is Mode.BENCH:
            self.ideas = (*found, *mending_trials(outcome_tables, found, self.aims, group))
        chosen, prior, tables = self._tables(outcome_tables, group, chosen)
        self._outcome_tables, self._chosen = outcome_tables, chosen
        tried, costs = zip(*(self._acting(idea, number) for idea in self.ideas), strict=True) if self.ideas else ((), ())
        self.model = DecisionModel(
            tables=tables,
            cost=np.array(costs),
            group=group[chosen],
            naming=np.array([aim.naming_s for aim in self.aims]),
            wrong=mode.wrong_s,
            mends=np.array([number.get(name, -1) for name in tried], dtype=np.intp),
        )
        self.prior = prior
        self._unseen = [idea.trial.unseen() for idea in self.ideas]
        self._unacted = Chooser(self.model)
        self._choosers: LRUCache[object, Chooser] = LRUCache(CHOOSERS)

    def _acting(self, idea: Idea, number: Mapping[str, int]) -> tuple[str, float]:
        """Return what a trial acts on, "" for nothing, and what it costs beyond that [s]."""
        acted = idea.repair or (idea.trial.swapped[0] if len(idea.trial.swapped) == 1 else "")
        if acted not in number:
            return "", idea.seconds
        return acted, max(idea.seconds - self.aims[number[acted]].naming_s, LEAST_S)

    def _tables(
        self, outcome_tables: OutcomeTables, group: NDArray[np.intp], chosen: NDArray[np.intp]
    ) -> tuple[NDArray[np.intp], NDArray[np.float64], tuple[NDArray[np.float32], ...]]:
        """Work the experiments out and make hypotheses of one group that no trial tells apart one kind.

        Returns a hypothesis of each kind left, their prior and the tables of outcomes.
        """
        inside = self._kind >= 0
        weight = _scaled(outcome_tables.hypotheses.prior, inside)
        prior = np.bincount(self._kind[inside], weights=weight, minlength=len(chosen)).astype(np.float64)
        self.experiments: tuple[Experiment, ...] = tuple(outcome_tables.experiment(idea, chosen, prior) for idea in self.ideas)
        tables = [experiment.chance for experiment in self.experiments]
        shown = np.concatenate([group[None, chosen], *(np.rint(table * SCALE) for table in tables)]).astype(np.int32)
        first, kind = equal_rows(shown.T)
        self._kind[inside] = kind[self._kind[inside]]
        merged = np.bincount(self._kind[inside], weights=weight, minlength=len(first)).astype(np.float64)
        self.experiments = tuple(experiment.taken(first) for experiment in self.experiments)
        return chosen[first], merged, tuple(experiment.chance for experiment in self.experiments)

    def weights(self, belief: Belief) -> NDArray[np.float64]:
        """Return the weight of each kind of hypothesis; a pair is divided between its two failures."""
        return self.gathered(belief.attributed)

    def gathered(self, weight: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return weights of hypotheses, shape (N,), as weights of kinds, shape (K,)."""
        inside = self._kind >= 0
        return np.bincount(self._kind[inside], weights=weight[inside], minlength=len(self.model.group)).astype(np.float64)

    def decide(
        self, belief: Belief, situation: Situation, made: Sequence[Trial] = (), learnt: Learnt = NOTHING_LEARNT
    ) -> Decision:
        """Return what to do next.

        `made` are the trials made so far, and `learnt` what they taught of the readiness of failures to show. Whatever the last
        of them exchanged or mended is taken to stay that way.
        """
        bare = {trial.unseen() for trial in made}
        number = {aim.name: i for i, aim in enumerate(self.aims)}
        last = made[-1] if made else None
        exchanged = {number[name] for trial in made for name in (*trial.swapped, *trial.mended) if name in number}
        acted = {number[name] for name in (*last.swapped, *last.mended) if name in number} if last else set()
        tired = _tired(made)
        mends = self.model.mends
        allowed = [
            i
            for i, idea in enumerate(self.ideas)
            if idea.say not in situation.without
            and set(idea.needs) <= set(situation.tools)
            and not (idea.once_only and self._unseen[i] in bare)
            and (last is None or _carried(self._unseen[i], last) not in tired)
            and not (mends is not None and int(mends[i]) in exchanged)
        ]
        return self.decide_by_weights(self.weights(belief), allowed, acted, learnt)

    def kind_of(self, hypothesis: int) -> int | None:
        """Return the kind of a hypothesis by position; None where it is not in question."""
        kind = int(self._kind[hypothesis])
        return kind if kind >= 0 else None

    def starts_of(self, name: str) -> int:
        """Return the first kind of hypothesis that asks for what is called `name`."""
        return int(self.model.starts[[aim.name for aim in self.aims].index(name)])

    def bits(self, weight: NDArray[np.float64], allowed: Sequence[int]) -> NDArray[np.float64]:
        """Return the expected information of some trials, shape (allowed,) [bit]."""
        return self.after(()).bits(weight, allowed)

    def after(self, acted: Collection[int], learnt: Learnt = NOTHING_LEARNT) -> Chooser:
        """Return the chooser for when some aims have been acted on and some readiness is known."""
        if not learnt.of:
            return self._chooser(frozenset(acted)) if acted else self._unacted
        model = self.model.showing(self._sharpened(learnt))
        return Chooser(model.healed(acted, self.starts_of(SOUND)) if acted else model)

    def _sharpened(self, learnt: Learnt) -> NDArray[np.float32]:
        """Return the chances of the outcomes of all trials, after what others taught of readiness; shape (K, R)."""
        table = self.model.by_state.copy()
        for number, experiment in enumerate(self.experiments):
            if experiment.looks is not None:
                regimes = self._outcome_tables.regimes(experiment.idea.trial, self._chosen, learnt)
                both, one, none = (
                    regime.astype(np.float32) * look for regime, look in zip(regimes, experiment.looks, strict=True)
                )
                table[:, self.model.first[number] : self.model.first[number + 1]] = (both + one + none).T
        return table

    @cachedmethod(attrgetter("_choosers"))
    def _chooser(self, acted: frozenset[int]) -> Chooser:
        return Chooser(self.model.healed(acted, self.starts_of(SOUND)))

    def decide_by_weights(
        self,
        weight: NDArray[np.float64],
        allowed: Sequence[int],
        acted: Collection[int] = (),
        learnt: Learnt = NOTHING_LEARNT,
    ) -> Decision:
        """Return what to do next, from the weight of each kind of hypothesis, shape (K,); `acted`: aims acted on already."""
        choices = self.after(acted, learnt).choices(weight, allowed)
        stop = next(choice for choice in choices if choice.trial is None)
        worth = [choice for choice in choices if choice.trial is not None and choice.bits >= WORTHLESS_BITS]
        advice = tuple(Advice(self.ideas[c.trial], c.bits, c.cost) for c in worth if c.trial is not None)
        share = self.model.grouped(weight / weight.sum())
        order = np.argsort(-share, kind="stable")
        aims = tuple((self.aims[i], float(share[i])) for i in order.tolist())
        return Decision(self.mode, advice, choices[0].trial is None or not worth, stop.cost, aims)


def _tired(made: Sequence[Trial]) -> set[Trial]:
    """Return the trials, as they would be made, of which another look tells nothing new."""
    looks: dict[Trial, int] = {}
    for trial in made:
        still = not (trial.moves or trial.arrangement.press)
        if not trial.hearsay or still:  # what is told of a hit or a movement is worth a look of one's own
            unseen = trial.unseen()
            looks[unseen] = looks.get(unseen, 0) + (TOLD if still and not trial.unsteady else trial.times)
    return {trial for trial, count in looks.items() if count >= TOLD}


def _carried(trial: Trial, last: Trial) -> Trial:
    """Return a trial as it would be made, with whatever the last one exchanged or mended still in place."""
    swapped = tuple(dict.fromkeys((*last.swapped, *trial.swapped)))
    return replace(trial, swapped=swapped, mended=tuple(dict.fromkeys((*last.mended, *trial.mended))))


def _scaled(prior: NDArray[np.float64], inside: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the prior of the hypotheses in question, the failures among them scaled to weigh as much as all failures do."""
    weight = prior[inside].copy()
    failures = np.flatnonzero(inside) >= 2  # noqa: PLR2004 — behind “nothing wrong” and “not in this model”
    weight[failures] *= (1 - weight[~failures].sum()) / weight[failures].sum()
    return weight
