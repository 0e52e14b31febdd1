"""The whole of the reasoning for one set-up: trials in, suspects and the next trial out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.dictionary import Dictionary
from foible.diagnosis.hypotheses import SOUND, UNKNOWN, Activity, all_hypotheses
from foible.diagnosis.likelihood import Witness
from foible.diagnosis.nexttrial import Adviser
from foible.diagnosis.posterior import Belief, Share, believe
from foible.diagnosis.presence import UNKNOWN_AT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.diagnosis.nexttrial import Advice
    from foible.kit import Failure, Setup
    from foible.trials import Idea, Trial

__all__ = ["Finding", "Reasoner", "Suspect"]


MEASURED = 12
"""Suspects whose severity is worked out from meter readings; those behind them are told by the steps of their ladder."""


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
    """Where its severity lies with 90 %, its failure being this one [Ω]."""
    intermittent: float
    """Probability that the failure comes and goes, given that it is this part."""


@dataclass(frozen=True)
class Finding:
    """What some trials amount to."""

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


class Reasoner:
    """Reasons about one set-up. What it works out once is kept, so that further trials cost little."""

    def __init__(self, setup: Setup, profile: Profile, *, known_good: Sequence[str] = (), ideas: Sequence[Idea] = ()) -> None:
        self.setup = setup
        self.profile = profile
        self.hypotheses = all_hypotheses(setup, known_good)
        self.dictionary = Dictionary(setup, profile, self.hypotheses)
        self._witness = Witness(setup, self.hypotheses, self.dictionary)
        self._ideas = tuple(ideas)

    @cached_property
    def _adviser(self) -> Adviser:
        return Adviser(self._witness, self.dictionary, self.hypotheses, self._ideas)

    def find(self, trials: Sequence[Trial]) -> Finding:
        """Return what `trials` amount to."""
        belief = believe(self.hypotheses, self._likelihoods(trials))
        shares = belief.by_part()
        known = {share.name: share.probability for share in shares}
        ranked = [share for share in shares if share.name not in (SOUND, UNKNOWN)]
        measured = trials if any(trial.reads for trial in trials) else ()
        suspects = [self._suspect(belief, share, measured if i < MEASURED else ()) for i, share in enumerate(ranked)]
        items = [share for share in belief.by_item() if share.name not in (SOUND, UNKNOWN)]
        return Finding(belief, tuple(suspects), tuple(items), known[SOUND], known[UNKNOWN])

    def _likelihoods(self, trials: Sequence[Trial]) -> list[NDArray[np.float64]]:
        """Return the likelihood of every trial, shape (N,) each.

        What the model does not know may do anything in a trial, but the same when the same trial is made again.
        """
        likelihoods = [self._witness.likelihood(trial) for trial in trials]
        if any(trial.meter for trial in trials):
            likelihoods.append(self._witness.meter.readings(trials))
        bare = [trial.bare() for trial in trials]
        for i, trial in enumerate(bare):
            if trial in bare[:i]:
                likelihoods[i][UNKNOWN_AT] = 1.0
        return likelihoods

    def advise(self, finding: Finding, *, without: Sequence[str] = (), tools: Sequence[str] = ("spare",)) -> list[Advice]:
        """Return the trials worth making next, the most telling per second first.

        `without` are the sentences of ideas not to offer; `tools` what is at hand.
        """
        return self._adviser.ranked(finding.belief, without=without, tools=tools)

    def _suspect(self, belief: Belief, share: Share, measured: Sequence[Trial]) -> Suspect:
        hypotheses = self.hypotheses
        best = belief.best_of(share.name)
        run = belief.run_of(share.name)
        total = max(share.probability, 1e-300)
        steady = hypotheses.activity[run] == Activity.STEADY
        failure = hypotheses.failures[int(hypotheses.failure[best])]
        moving = float(np.sum(belief.probability[run][~steady]))
        return Suspect(
            part=share.name,
            item=failure.item,
            probability=share.probability,
            failure=failure,
            ohms=float(hypotheses.ohms[best]),
            ohms_range=(measured and self._witness.meter.severity(measured, int(hypotheses.failure[best])))
            or self._severity(belief, run, int(hypotheses.failure[best])),
            intermittent=moving / total,
        )

    def _severity(self, belief: Belief, run: slice, failure: int) -> tuple[float, float]:
        """Return between which severities a failure lies with 90 %, steps of its ladder taken whole [Ω]."""
        hypotheses = self.hypotheses
        chosen = np.flatnonzero(hypotheses.failure[run] == failure) + run.start
        order = chosen[np.argsort(hypotheses.ohms[chosen], kind="stable")]
        share = np.cumsum(belief.probability[order]) / max(float(belief.probability[order].sum()), 1e-300)
        low, high = hypotheses.step_edges
        first, last = order[np.searchsorted(share, 0.05)], order[min(np.searchsorted(share, 0.95), len(order) - 1)]
        ohms = hypotheses.ohms
        return (
            float(low[first]) if np.isfinite(ohms[first]) else float("inf"),
            float(high[last]) if np.isfinite(ohms[last]) else float("inf"),
        )
