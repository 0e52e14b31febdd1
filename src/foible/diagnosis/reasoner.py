"""The whole of the reasoning for one set-up: trials in, suspects and the next trial out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from itertools import islice
from operator import attrgetter
from threading import RLock
from typing import TYPE_CHECKING

import numpy as np
from cachetools import LRUCache, cachedmethod

from foible.diagnosis.advice.adviser import Adviser
from foible.diagnosis.advice.outcomes import OutcomeTables
from foible.diagnosis.advice.proof import Proof, proof
from foible.diagnosis.belief.as_told import as_told
from foible.diagnosis.belief.likelihood import TrialLikelihood
from foible.diagnosis.belief.pair_likelihood import PairLikelihood
from foible.diagnosis.belief.pair_states import PairStates
from foible.diagnosis.belief.pairs import Pairs
from foible.diagnosis.belief.posterior import Belief, Share, believe
from foible.diagnosis.explain.evidence import AlikeSuspects, alike, misread_chances, weights_of_evidence
from foible.diagnosis.shown.hypotheses import NO_RATES, SOUND, UNKNOWN, Activity, Rates, all_hypotheses
from foible.diagnosis.shown.lamps import Dictionary
from foible.diagnosis.shown.pair_lamps import PairDictionary
from foible.diagnosis.shown.presence import NOTHING_LEARNT
from foible.situation import Mode, Situation

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.diagnosis.advice.decision import Decision
    from foible.diagnosis.shown.presence import Learnt, Regimes
    from foible.kit import Failure, Setup
    from foible.trials import Idea, Trial

__all__ = ["Finding", "Reasoner", "Suspect"]


PREPARED = 2
"""Hits for which pairs are solved ahead of time: one on each side."""
PISTE = Situation()
ADVISERS = 8
"""Advisers that stay in memory, for the piste and for items on the bench; the piste's takes some 10 MB."""
SINGLES = 256
"""Trials for which the likelihood under every hypothesis stays in memory."""
FINDINGS = 64
"""Runs of trials for which the finding stays in memory."""
MEASURED = 12
"""Suspects for which the severity is worked out from meter readings; for the rest, the steps of the ladder are precise enough."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A part with the probability that it is the one that failed."""

    part: str
    item: str
    probability: float
    failure: Failure
    """Its most probable failure."""
    ohms: float
    """The severity of the most probable hypothesis about it [Ω]."""
    ohms_range: tuple[float, float]
    """Where its severity lies with a probability of 90 %, given this failure [Ω]."""
    intermittent: float
    """Probability that the failure comes and goes, given that it is this part."""


@dataclass(frozen=True)
class Finding:
    """What a run of trials amounts to."""

    belief: Belief
    suspects: tuple[Suspect, ...]
    """All parts, most probable first."""
    items: tuple[Share, ...]
    """All items, most probable first."""
    sound: float
    """Probability that nothing is wrong."""
    unknown: float
    """Probability of something that the model does not know."""

    @property
    def part_order(self) -> list[str]:
        """Parts with “nothing wrong” and “not in this model” among them, most probable first."""
        return [share.name for share in self.belief.by_part()]

    @property
    def item_order(self) -> list[str]:
        """The same for items."""
        return [share.name for share in self.belief.by_item()]


@dataclass(frozen=True)
class _Step:
    """One trial after others: what was known of readiness before, its likelihood, shape (N,), and what is known after."""

    before: Learnt
    likelihood: NDArray[np.float64]
    after: Learnt


class Reasoner:
    """Reasons about one set-up. Its results are cached, so that further trials cost little."""

    def __init__(  # noqa: PLR0913 — all that it depends on
        self,
        setup: Setup,
        profile: Profile,
        *,
        known_good: Sequence[str] = (),
        facts: Sequence[str] = (),
        ideas: Sequence[Idea] = (),
        rates: Rates = NO_RATES,
        like: Reasoner | None = None,
    ) -> None:
        """`rates`: a club's own. `like`: a reasoner made of the same but for them, whose networks need not be solved again."""
        self.setup = setup
        self.profile = profile
        self.hypotheses = all_hypotheses(setup, known_good, facts, rates)
        self.dictionary: Dictionary = like.dictionary if like else Dictionary(setup, profile, self.hypotheses)
        alike = like.trial_likelihood if like else None
        self.trial_likelihood: TrialLikelihood = TrialLikelihood(setup, self.hypotheses, self.dictionary, alike)
        self.ideas = tuple(ideas)
        self.says = {idea.say: idea for idea in ideas}
        """Trials by the sentence that asks for them."""
        self.lock: RLock = like.lock if like else RLock()
        """For callers with several threads: only one may reason at a time, with this reasoner or one that shares its networks."""
        self._ladders: dict[int, tuple[NDArray[np.intp], list[tuple[float, float]]]] = {}
        self._advisers: LRUCache[object, Adviser] = LRUCache(ADVISERS)
        self._steps: LRUCache[object, _Step] = LRUCache(SINGLES)
        self._clear: LRUCache[object, NDArray[np.float64]] = LRUCache(SINGLES)
        self._findings: LRUCache[object, Finding] = LRUCache(FINDINGS)
        self._pairs = Pairs(self.hypotheses)
        self._pair_dictionary: PairDictionary = like._pair_dictionary if like else PairDictionary(setup, profile, self.hypotheses)  # noqa: SLF001 — its own kind
        self._pair_likelihood = PairLikelihood(setup, self.trial_likelihood, self._pair_dictionary)
        self._pair_states = PairStates(self._pairs, self._pair_likelihood.pair_evidence, self._regimes)

    def adviser(self, mode: Mode = Mode.PISTE, item: str | None = None) -> Adviser:
        """Return what chooses trials at the piste, or on the bench for one item."""
        return self._made_adviser(mode, item)

    @cachedmethod(attrgetter("_advisers"))
    def _made_adviser(self, mode: Mode, item: str | None) -> Adviser:
        outcome_tables = OutcomeTables(self.setup, self.hypotheses, self.dictionary, self.trial_likelihood)
        return Adviser(outcome_tables, self.ideas, mode, item)

    def find(self, trials: Sequence[Trial]) -> Finding:
        """Return what `trials` amount to."""
        return self._found(tuple(trials))

    @cachedmethod(attrgetter("_findings"))
    def _found(self, trials: tuple[Trial, ...]) -> Finding:
        belief = believe(self.hypotheses, self._likelihoods(trials), (self._pairs, self._pair_states.after(self._told(trials))))
        shares = belief.by_part()
        known = {share.name: share.probability for share in shares}
        ranked = [share for share in shares if share.name not in (SOUND, UNKNOWN)]
        measured = trials if any(trial.reads for trial in trials) else ()
        suspects = self._suspects(belief, ranked, measured)
        items = [share for share in belief.by_item() if share.name not in (SOUND, UNKNOWN)]
        return Finding(belief, tuple(suspects), tuple(items), known[SOUND], known[UNKNOWN])

    def _likelihoods(self, trials: Sequence[Trial]) -> list[NDArray[np.float64]]:
        """Return the likelihood of every trial, shape (N,) each.

        An unknown cause may do anything in a trial, but the same when the trial is repeated.
        """
        made = self._told(trials)
        steps = [self._step(made[: number + 1]) for number in range(len(made))]
        likelihoods = [step.likelihood for step in steps]
        if any(trial.meter for trial in trials):
            likelihoods.append(self.trial_likelihood.meter.readings(made, [step.before for step in steps]))
        return likelihoods

    def _regimes(self, trial: Trial, before: tuple[Trial, ...]) -> Regimes:
        """Return the chance that each failure is there in both looks of a trial, in one, in none, after other trials."""
        return self.trial_likelihood.presence.regimes(trial, self._after(before))

    def learnt(self, trials: Sequence[Trial]) -> Learnt:
        """Return what trials have taught of the readiness of failures to show."""
        return self._after(self._told(trials))

    def _told(self, trials: Sequence[Trial]) -> tuple[Trial, ...]:
        """Return trials with what goes without saying, and what nobody said."""
        return self.trial_likelihood.presence.with_silences(as_told(trials))

    def _after(self, made: tuple[Trial, ...]) -> Learnt:
        return self._step(made).after if made else NOTHING_LEARNT

    @cachedmethod(attrgetter("_steps"))
    def _step(self, made: tuple[Trial, ...]) -> _Step:
        """Return what the last of some trials says, after those before it."""
        before = self._after(made[:-1])
        bare = [trial.bare() for trial in made]
        likelihood, after = self.trial_likelihood.told(made[-1], before, again=bare[-1] in bare[:-1])
        return _Step(before, likelihood, after)

    def decide(self, finding: Finding, situation: Situation = PISTE, made: Sequence[Trial] = ()) -> Decision:
        """Return what to do next after the trials `made`: the trials worth making, and whether to act instead."""
        return self._adviser(finding, situation).decide(finding.belief, situation, made, self.learnt(made))

    def candidate_trials(self, finding: Finding, situation: Situation = PISTE) -> tuple[Idea, ...]:
        """Return everything that `decide` chooses among, whatever is at hand: trials, and repairs made and then checked."""
        return tuple(self._adviser(finding, situation).ideas)

    def _adviser(self, finding: Finding, situation: Situation) -> Adviser:
        item = situation.item
        if situation.mode is Mode.BENCH and item is None:
            item = finding.items[0].name
        return self.adviser(situation.mode, item)

    def prepare(self) -> None:
        """Solve all pairs for the commonest hits ahead of time, so that trials that share their networks are quick later on."""
        for step in islice(self.preparations(), PREPARED):
            step()

    def preparations(self) -> Iterator[Callable[[], object]]:
        """Work out ahead of time what can be, one arrangement a step: the commonest hits first, then everything else.

        One step diagnoses a first answer, so that every loop is compiled by the time a real one comes.
        """
        trials = [idea.trial for idea in self.ideas if idea.item is None]
        hits = [trial for trial in trials if trial.arrangement.on]
        for trial in {trial.arrangement: trial for trial in (*hits, *trials)}.values():
            yield partial(self._pair_likelihood.prepare, trial)
        answers = (outcome.trial for experiment in self.adviser().experiments for outcome in experiment.outcomes)
        yield from (partial(self.find, (answer,)) for answer in islice(filter(None, answers), 1))

    def proof(
        self, finding: Finding, suspect: Suspect, situation: Situation = PISTE, made: Sequence[Trial] = (), *, sure: float = 0.95
    ) -> Proof:
        """Return the few lines that prove the repair of a suspect, to the probability `sure`, after the trials `made`."""
        adviser = self._adviser(finding, situation)
        repair = suspect.failure.repair
        positions = [
            i
            for i, position in enumerate(self.hypotheses.failure.tolist())
            if position >= 0
            and self.hypotheses.failures[position].item == suspect.item
            and (repair is None or self.hypotheses.failures[position].repair == repair)
        ]
        mended = {adviser.kind_of(i) for i in positions}
        gauges = {
            f"{self.setup.items[suspect.item].side} {gauge}"
            for i in positions
            for gauge in self.hypotheses.failures[int(self.hypotheses.failure[i])].gauges
        }
        return proof(
            adviser,
            adviser.weights(finding.belief),
            {kind for kind in mended if kind is not None},
            situation.tools,
            sure=sure,
            again=adviser.failed(made),
            gauges=sorted(gauges),
        )

    def weighed(self, trials: Sequence[Trial], part: str) -> list[float]:
        """Return how many bits each trial spoke for a part, or, where negative, against it."""
        whole = self._product(trials)
        others = [self._product([*trials[:i], *trials[i + 1 :]]) for i in range(len(trials))]
        return weights_of_evidence(self.hypotheses.prior, others, whole, self.hypotheses.runs[part])

    def misread(self, finding: Finding, trials: Sequence[Trial]) -> list[float]:
        """Return for each trial the probability that its lamps, or the test box, were misread."""
        made = tuple(trials)
        return misread_chances(finding.belief, [self._clearly(made[: number + 1]) for number in range(len(made))])

    @cachedmethod(attrgetter("_clear"))
    def _clearly(self, made: tuple[Trial, ...]) -> NDArray[np.float64]:
        return self.trial_likelihood.clear(made[-1], self.learnt(made[:-1]))

    def alike(self, finding: Finding, count: int, situation: Situation = PISTE) -> list[AlikeSuspects]:
        """Return which of the first `count` suspects no trial at hand tells apart."""
        adviser = self._adviser(finding, situation)
        chosen = []
        for suspect in finding.suspects[:count]:
            kind = adviser.kind_of(finding.belief.best_of(suspect.part))
            if kind is not None:
                chosen.append((kind, suspect))
        repairs = [suspect.failure.repair or suspect.failure.mode for _, suspect in chosen]
        return alike(adviser, [kind for kind, _ in chosen], [suspect.part for _, suspect in chosen], repairs, situation.tools)

    def _product(self, trials: Sequence[Trial]) -> NDArray[np.float64]:
        logs = np.zeros(len(self.hypotheses))
        for likelihood in self._likelihoods(trials):
            logs += np.log(np.maximum(likelihood, 1e-300))
        return np.asarray(np.exp(logs))

    def _suspects(self, belief: Belief, ranked: Sequence[Share], measured: Sequence[Trial]) -> list[Suspect]:
        """Return parts as suspects, in the order given, with severities from meter readings for the first of them."""
        hypotheses = self.hypotheses
        weight = belief.probability + belief.with_partner
        moving = np.add.reduceat(np.where(hypotheses.activity == Activity.STEADY, 0.0, weight), hypotheses.part_starts)
        share_moving = moving / np.maximum(np.add.reduceat(weight, hypotheses.part_starts), 1e-300)
        comes_and_goes = dict(zip(hypotheses.part_names, share_moving.tolist(), strict=True))
        suspects = []
        for number, share in enumerate(ranked):
            run = hypotheses.runs[share.name]
            best = int(run.start) + int(weight[run].argmax())
            index = int(hypotheses.failure[best])
            failure = hypotheses.failures[index]
            read = self.trial_likelihood.meter.severity(measured, index) if measured and number < MEASURED else None
            suspects.append(
                Suspect(
                    part=share.name,
                    item=failure.item,
                    probability=share.probability,
                    failure=failure,
                    ohms=float(hypotheses.ohms[best]),
                    ohms_range=read or self._severity(weight, index),
                    intermittent=comes_and_goes[share.name],
                )
            )
        return suspects

    def _severity(self, weight: NDArray[np.float64], failure: int) -> tuple[float, float]:
        """Return the severities between which a failure lies with a probability of 90 %, in whole steps of its ladder [Ω]."""
        order, edges = self._ladder(failure)
        share = weight[order].cumsum()
        first, last = (min(int(share.searchsorted(edge * share[-1])), len(order) - 1) for edge in (0.05, 0.95))
        return edges[first][0], edges[last][1]

    def _ladder(self, failure: int) -> tuple[NDArray[np.intp], list[tuple[float, float]]]:
        """Return the hypotheses about a failure by rising severity, and the edges of the step that each stands for [Ω]."""
        if failure not in self._ladders:
            hypotheses = self.hypotheses
            chosen = np.flatnonzero(hypotheses.failure == failure)
            order = chosen[np.argsort(hypotheses.ohms[chosen], kind="stable")]
            low, high = hypotheses.step_edges
            steps = [
                (float(low[i]), float(high[i])) if np.isfinite(hypotheses.ohms[i]) else (float("inf"), float("inf"))
                for i in order.tolist()
            ]
            self._ladders[failure] = order, steps
        return self._ladders[failure]
