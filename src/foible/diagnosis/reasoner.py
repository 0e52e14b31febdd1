"""The whole of the reasoning for one set-up: trials in, suspects and the next trial out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.dictionary import Dictionary
from foible.diagnosis.hypotheses import SOUND, UNKNOWN, Activity, all_hypotheses
from foible.diagnosis.likelihood import UNKNOWN_AT, Witness
from foible.diagnosis.nexttrial import Adviser
from foible.diagnosis.posterior import Belief, Share, believe

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from foible.apparatus import Profile
    from foible.diagnosis.nexttrial import Advice
    from foible.kit import Failure, Setup
    from foible.trials import Idea, Trial

__all__ = ["Finding", "Reasoner", "Suspect"]


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
        suspects = [self._suspect(belief, share) for share in shares if share.name not in (SOUND, UNKNOWN)]
        items = [share for share in belief.by_item() if share.name not in (SOUND, UNKNOWN)]
        return Finding(belief, tuple(suspects), tuple(items), known[SOUND], known[UNKNOWN])

    def _likelihoods(self, trials: Sequence[Trial]) -> list[NDArray[np.float64]]:
        """Return the likelihood of every trial, shape (N,) each.

        What the model does not know may do anything in a trial, but the same when the same trial is made again.
        """
        likelihoods = [self._witness.likelihood(trial) for trial in trials]
        for i, trial in enumerate(trials):
            if trial in trials[:i]:
                likelihoods[i][UNKNOWN_AT] = 1.0
        return likelihoods

    def advise(self, finding: Finding, *, without: Sequence[str] = (), tools: Sequence[str] = ("spare",)) -> list[Advice]:
        """Return the trials worth making next, the most telling per second first.

        `without` are the sentences of ideas not to offer; `tools` what is at hand.
        """
        return self._adviser.ranked(finding.belief, without=without, tools=tools)

    def _suspect(self, belief: Belief, share: Share) -> Suspect:
        hypotheses = self.hypotheses
        best = belief.best_of(share.name)
        run = belief.run_of(share.name)
        total = max(share.probability, 1e-300)
        steady = hypotheses.activity[run] == Activity.STEADY
        failure = hypotheses.failures[int(hypotheses.failure[best])]
        moving = float(np.sum(belief.probability[run][~steady]))
        return Suspect(share.name, failure.item, share.probability, failure, float(hypotheses.ohms[best]), moving / total)
