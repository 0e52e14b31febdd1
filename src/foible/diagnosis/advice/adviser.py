"""A belief in, the next trial out: at the piste, to find the item to exchange; on the bench, to find the repair to make.

`lookahead` does the calculation; this module lays out the hypotheses, the catalogue and the prices for it.
"""

from __future__ import annotations

from dataclasses import replace
from operator import attrgetter
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.circuit import equal_rows
from foible.diagnosis.advice.aims import aims_of, covering, kinds_of, names_of, scaled
from foible.diagnosis.advice.decision import Advice, Decision, acting_on, leaving_kit, settling_look, stirring, telling_hit
from foible.diagnosis.advice.exchange import exchanges
from foible.diagnosis.advice.learnt_tables import LearntTables
from foible.diagnosis.advice.lookahead import Chooser
from foible.diagnosis.advice.mending import mending_trials
from foible.diagnosis.advice.model import DecisionModel
from foible.diagnosis.advice.permitted import (
    Repeats,
    blades,
    fenced_on,
    loose_seats,
    of_other,
    only_told,
    provoked,
    rests,
    seen_to_injure,
    sign_of,
    unsafe_weapons,
    uses,
)
from foible.diagnosis.advice.prices import ASKING_S, EXCHANGING_S, LEAST_S, OTHER_FENCER_S, acting
from foible.diagnosis.advice.proving import Proving
from foible.diagnosis.shown.hypotheses import SOUND, UNKNOWN
from foible.diagnosis.shown.presence import NOTHING_LEARNT
from foible.facts import METAL_PISTE, NO_METAL_PISTE
from foible.situation import Mode, Situation
from foible.trials import Trial

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.aims import Aim
    from foible.diagnosis.advice.outcomes import Experiment, OutcomeTables
    from foible.diagnosis.belief.posterior import Belief
    from foible.diagnosis.shown.presence import Learnt
    from foible.trials import Idea

__all__ = ["Adviser"]

WORTHLESS_BITS = 0.005
"""A trial expected to tell less than this is not offered [bit]."""
HANDY_S = 60.0
"""An item that is exchanged in less time is exchanged and tried before it is named at the end [s]; judgement, no source."""
TWO = 0.5
"""Where two failures are left with this probability, what is named with it is exchanged at once: no trial tells two apart that
are both there. So is what was moved when the fault came. Judgement, no source."""
PLAIN = 0.8
"""A cause that was seen and is this probable is put right at once, whatever it takes; judgement, no source."""
CHOOSERS = 16
"""Sets of aims acted on whose tables stay in memory; one takes some 7 MB for a whole strip."""
LEAST_SHARE = 0.02
"""An item less suspected than this is not exchanged to see whether that helps; judgement, no source."""
MOST_EXCHANGES = 6
"""Items that are weighed up for exchange at a time; judgement, no source."""
SCALE = 1e4
"""Hypotheses are merged where their chances agree to one part in this many."""


class Adviser:
    """Chooses from a catalogue under a belief. The tables are worked out once.

    `item` narrows the hypotheses to what can be wrong with one item, the others being known good: the bench.
    """

    def __init__(self, outcome_tables: OutcomeTables, ideas: Sequence[Idea], mode: Mode, item: str | None = None) -> None:
        setup, hypotheses = outcome_tables.setup, outcome_tables.hypotheses
        self.mode = mode
        found = [idea for idea in ideas if idea.item == (item if mode is Mode.BENCH else None)]
        self.aims = aims_of(setup, hypotheses, mode, item)
        self._number = number = {aim.name: i for i, aim in enumerate(self.aims)}
        self.names = tuple(names_of(setup, hypotheses, mode, item))
        """What each hypothesis asks for; "" where it is not in question."""
        group = np.array([number.get(name, -1) for name in self.names], dtype=np.intp)
        arranged = {a: None for i in found for a in (i.trial.arrangement, i.trial.arrangement.before_press())}
        lamps = [] if mode is Mode.BENCH else [outcome_tables.dictionary.lamps(a) for a in arranged]
        chosen, self._kind = kinds_of(hypotheses, group, lamps)
        self.ideas: tuple[Idea, ...] = tuple(found)
        if mode is Mode.BENCH:
            self.ideas = (*found, *mending_trials(outcome_tables, found, self.aims, group))
        chosen, self.prior, tables = self._tables(outcome_tables, group, chosen)
        self._outcome_tables, self._chosen = outcome_tables, chosen
        naming = {aim.name: aim.naming_s for aim in self.aims}
        tried, costs = zip(*(acting(idea, naming) for idea in self.ideas), strict=True) if self.ideas else ((), ())
        self.model = DecisionModel(
            tables=tables,
            cost=np.array(costs),
            group=group[chosen],
            naming=np.array([*naming.values()]),
            wrong=np.array([mode.missed_s if aim.name == SOUND else mode.wrong_s for aim in self.aims]),
            covered=covering(self.aims) if mode is Mode.PISTE else (),
            mends=np.array([number.get(name, -1) for name in tried], dtype=np.intp),
        )
        self._learnt_tables = LearntTables(outcome_tables, self.experiments, chosen, self.prior)
        self._on_piste = {i for i, idea in enumerate(self.ideas) if outcome_tables.about_piste(idea.trial)}
        self._unseen = [idea.trial.unseen() for idea in self.ideas]
        self._says = dict(zip(self._unseen, self.ideas, strict=True))
        self._unacted = Chooser(self.model)
        self._choosers: LRUCache[object, Chooser] = LRUCache(CHOOSERS)
        self._proving = Proving(self.ground, self.prior, mode)
        self._slow_to_exchange = {aim.name for aim in self.aims if aim.naming_s > HANDY_S}
        self._acts = {name: {i} for name, i in number.items()}
        for failure in hypotheses.failures:
            if failure.job in number:  # a part that is said to be mended is mended in every way
                self._acts.setdefault(failure.part, set()).add(number[failure.job])

    def _tables(
        self, outcome_tables: OutcomeTables, group: NDArray[np.intp], chosen: NDArray[np.intp]
    ) -> tuple[NDArray[np.intp], NDArray[np.float64], tuple[NDArray[np.float32], ...]]:
        """Work the experiments out and make hypotheses of one group that no trial tells apart one kind.

        Returns a hypothesis of each kind left, their prior and the tables of outcomes.
        """
        inside = self._kind >= 0
        weight = scaled(outcome_tables.hypotheses.prior, inside)
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
        last = made[-1] if made else None
        exchanged = self._acted_on(made)
        gone = self._outcome_tables.gone(last or Trial())
        weight = self.gathered(belief.seen_to_first(gone))
        unsafe = unsafe_weapons(self._outcome_tables.hypotheses, belief.attributed, made) if self.mode is Mode.PISTE else set()
        again = self._exchanges(weight, made, exchanged, situation)
        again = [idea for idea in again if not uses(idea.trial, unsafe - {*idea.trial.swapped})]
        shown = self._outcome_tables.showing(made)
        repeats = Repeats(made, situation.tools, provoked=shown is not None and not rests(shown))
        allowed = [
            i
            for i in self._possible(situation, made)
            if not repeats.tells_nothing(self.ideas[i], self._unseen[i])
            and not (self.model.mends is not None and int(self.model.mends[i]) in exchanged)
            and not (shown and self.ideas[i].trial.swapped)
            and not uses(self.ideas[i].trial, unsafe)
        ]
        acted = self._acted_on([last]) if last else set()
        chooser = self._elsewhere(self._with(again, self.after(acted, learnt), learnt), again, made)
        decided = self._decided(weight, allowed, chooser, again)
        hit = telling_hit(decided, self._outcome_tables.about(made))
        first = (acting_on(decided.named, decided.chance), settling_look, stirring(decided, shown), hit)
        decided = decided.preferring(*first, leaving_kit)
        decided = decided.sparing(self._slow_to_exchange).looking_first(blades(unsafe))
        if decided.advice:
            drawn = self._outcome_tables.drawn_seats(decided.advice[0].idea.trial)
            decided = decided.looking_first(loose_seats(self._outcome_tables.hypotheses, belief.attributed, drawn))
        two = belief.two_left(gone) >= TWO and decided.chance >= TWO
        at_once = decided.named if two else self._proving.moved(decided.aims, made)
        if at_once and self._handy(at_once, made):
            decided = decided.exchanging_first(at_once)
        return self._in_turn(decided, made, acted, allowed)

    def _possible(self, situation: Situation, made: Sequence[Trial]) -> list[int]:
        """Return the ideas that can be carried out with the tools at hand and in this place."""
        piste = METAL_PISTE in situation.facts or (
            NO_METAL_PISTE not in situation.facts and any(self._outcome_tables.about_piste(trial) for trial in made)
        )
        return [
            i
            for i, idea in enumerate(self.ideas)
            if idea.say not in situation.without
            and set(idea.needs) <= set(situation.tools)
            and (piste or i not in self._on_piste)
        ]

    def _in_turn(self, decided: Decision, made: Sequence[Trial], acted: Collection[int], allowed: Sequence[int]) -> Decision:
        """Return a decision with what goes before it: proving what was put right, provoking, exchanging, seeing for oneself."""
        test, passed = self._proving.after(made)
        if test:
            return decided.proving_first(test)
        named = decided.named
        if passed:
            return replace(decided, enough=decided.enough or self._number[named.name] in acted, proved=True)
        sound = self._nearly_sound(decided, made, allowed)
        if sound:
            return sound
        if made and (self._seen(made[-1], decided) or self._proving.gauged(made, decided.chance)):
            return decided.acting_now()
        if self._proving.passed_with(named.item, made):
            follows = decided.chance >= TWO and self._proving.follows(named.item, made)
            again = None if decided.enough else self._proving.repeats(made)
            decided = decided.with_first(again) if again else replace(decided, proved=decided.enough)
            return replace(decided, enough=decided.enough or follows, follows=follows)
        if decided.enough and self._handy(named, made):
            decided = decided.exchanging_first(named)
        once_more = self._proving.once_more(made)
        if once_more and not decided.enough:
            decided = decided.with_first(once_more)
        return replace(decided, enough=False) if decided.advice and all(trial.hearsay for trial in made) else decided

    def _handy(self, aim: Aim, made: Sequence[Trial]) -> bool:
        """Return whether an aim is acted on so quickly that one tries it, and was not yet."""
        return aim.naming_s <= HANDY_S and self._number[aim.name] not in self._acted_on(made)

    def _nearly_sound(self, decided: Decision, made: Sequence[Trial], allowed: Sequence[int]) -> Decision | None:
        """Return what goes before “nothing wrong”, or that it is said as the fencer has fenced on; None where neither is."""
        told = only_told(made)
        oneself = next((self.ideas[i] for i in allowed if told and self._unseen[i] == told), None)
        if oneself and decided.aims[0][0].name == SOUND and decided.aims[0][1] >= TWO:
            return replace(decided.with_first(oneself), enough=False)
        if decided.enough and decided.named.name == SOUND and self.mode is Mode.PISTE and not provoked(made):
            return decided.provoking_first(self._outcome_tables.about(made))
        if decided.sound_enough and made and fenced_on(made[-1]):
            aim, share = decided.aims[0]
            return replace(decided, enough=True, named=aim, chance=share)
        return None

    def _seen(self, last: Trial, decided: Decision) -> bool:
        """Return whether the eye has just found what is to be put right, which is done at once and the same trial made again."""
        parts = self._outcome_tables.setup.parts
        looked = {parts[name].item if name in parts else name for name in last.examine}
        quick = decided.in_seconds and sign_of(decided.aims[0][0].name, self._outcome_tables.hypotheses.failures, last)
        likely = decided.chance >= PLAIN or quick
        plain = last.found not in {(), ("fine",)} and decided.named.item in looked and likely
        return plain or seen_to_injure(self._outcome_tables.hypotheses.failures, last) is not None

    def _acted_on(self, made: Iterable[Trial]) -> set[int]:
        """Return the aims that trials have acted on."""
        acted = {aim for trial in made for name in (*trial.swapped, *trial.mended) for aim in self._acts.get(name, ())}
        return acted | {each for group, others in self.model.covered if group in acted for each in others}

    def _elsewhere(self, chooser: Chooser, again: Sequence[Idea], made: Sequence[Trial]) -> Chooser:
        """Return the chooser for which it costs more to have the fencer hit of whom nobody complained."""
        about = self._outcome_tables.about(made)
        if about is None:
            return chooser
        others = [of_other(idea.trial, about) for idea in (*self.ideas, *again)]
        return Chooser(chooser.model.dearer(OTHER_FENCER_S * np.array(others)))

    def _exchanges(
        self, weight: NDArray[np.float64], made: Sequence[Trial], exchanged: Collection[int], situation: Situation
    ) -> list[Idea]:
        """Return the trials that exchange a suspect item and do again what showed the fault."""
        shown = self._proving.shown(made) if self.mode is Mode.PISTE else None
        if shown is None:
            return []
        share = self.model.grouped(weight / weight.sum())
        order = [i for i in np.argsort(-share, kind="stable").tolist() if share[i] >= LEAST_SHARE and i not in exchanged]
        setup = self._outcome_tables.setup
        items = list(dict.fromkeys(self.aims[i].item for i in order if self.aims[i].item in setup.items))
        return exchanges(setup, shown, items[:MOST_EXCHANGES], self._says, situation.tools)

    def _with(self, ideas: Sequence[Idea], chooser: Chooser, learnt: Learnt) -> Chooser:
        """Return the chooser that weighs up some exchanges as well."""
        if not ideas:
            return chooser
        tables = list(self._learnt_tables.exchanged(ideas, learnt))
        groups, costs = zip(*map(self.exchanging, ideas), strict=True)
        lost = [cost - LEAST_S for cost in costs]
        return Chooser(chooser.model.further(tables, [LEAST_S] * len(ideas), groups, lost))

    def exchanging(self, idea: Idea) -> tuple[int, float]:
        """Return the aim, by number, that a trial acts on which exchanges an item, and what it costs beyond the exchange [s]."""
        aim = self._number[idea.trial.swapped[-1]]
        return aim, EXCHANGING_S + ASKING_S + max(idea.seconds - self.aims[aim].naming_s, LEAST_S)

    def failed(self, made: Sequence[Trial]) -> tuple[Experiment, int] | None:
        """Return the test that failed, and how often it is to be made again."""
        return self._proving.failed(made)

    @property
    def ground(self) -> tuple[OutcomeTables, NDArray[np.intp], Mapping[Trial, Idea]]:
        """What works tables out, a hypothesis by position for each kind, and the trials by what is done in them."""
        return self._outcome_tables, self._chosen, self._says

    def kind_of(self, hypothesis: int) -> int | None:
        """Return the kind of a hypothesis by position; None where it is not in question."""
        kind = int(self._kind[hypothesis])
        return kind if kind >= 0 else None

    def starts_of(self, name: str) -> int:
        """Return the first kind of hypothesis that asks for what is called `name`."""
        return int(self.model.starts[self._number[name]])

    def after(self, acted: Collection[int], learnt: Learnt = NOTHING_LEARNT) -> Chooser:
        """Return the chooser for when some aims have been acted on and some readiness is known."""
        if not learnt.of:
            return self._chooser(frozenset(acted)) if acted else self._unacted
        model = self.model.showing(self._learnt_tables.sharpened(self.model, learnt))
        return Chooser(model.healed(acted, self.starts_of(SOUND)) if acted else model)

    @cachedmethod(attrgetter("_choosers"))
    def _chooser(self, acted: frozenset[int]) -> Chooser:
        return Chooser(self.model.healed(acted, self.starts_of(SOUND)))

    def _of_known(self, weight: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return weights of kinds for choosing: while a known cause is likelier, one tries for that, as for no other one can."""
        share = self.model.grouped(weight)
        unknown = self._number[UNKNOWN]
        if int(np.argmax(share)) == unknown:
            return weight
        return np.where(self.model.group == unknown, 0.0, weight)

    def _decided(
        self, weight: NDArray[np.float64], allowed: Sequence[int], chooser: Chooser, made_up: Sequence[Idea]
    ) -> Decision:
        ideas = (*self.ideas, *made_up)
        choices = chooser.choices(self._of_known(weight), [*allowed, *range(len(self.ideas), len(ideas))])
        stop = next(choice for choice in choices if choice.trial is None)
        worth = [choice for choice in choices if choice.trial is not None and choice.bits >= WORTHLESS_BITS]
        advice = tuple(Advice(ideas[c.trial], c.bits, c.cost) for c in worth if c.trial is not None)
        share = self.model.grouped(weight / weight.sum())
        order = np.argsort(-share, kind="stable")
        aims = tuple((self.aims[i], float(share[i])) for i in order.tolist())
        best = self.model.named(share)
        cured = self.model.cured(share)[best]
        enough = choices[0].trial is None or not worth
        return Decision(self.mode, advice, enough, stop.cost, aims, self.aims[best], float(cured), tuple(made_up))
