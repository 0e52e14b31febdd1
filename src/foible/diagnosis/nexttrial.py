"""Which trial to make next: the one that is expected to say most about the failed part per second.

The expected information of a trial about the part is the mutual information

    I = H(outcome) − Σ_part P(part) · H(outcome | part)                                          [bit]

of its outcome and the part, under the belief so far (Lindley 1956). Of the two sides' lamps the more telling one counts, which
never overstates the information of both together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.kit import SIDES

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.dictionary import Dictionary
    from foible.diagnosis.hypotheses import Hypotheses
    from foible.diagnosis.likelihood import Witness
    from foible.diagnosis.posterior import Belief
    from foible.trials import Idea

__all__ = ["Advice", "Adviser"]

WORTHLESS_BITS = 0.01
"""A trial expected to say less than this is not offered [bit]: it would be made a hundred times for one yes or no."""


@dataclass(frozen=True, slots=True)
class Advice:
    """A trial with what it is expected to tell."""

    idea: Idea
    bits: float
    """Expected information about the failed part [bit]."""

    @property
    def bits_per_second(self) -> float:
        """Expected information per second of the trial's cost [bit/s]."""
        return self.bits / self.idea.seconds


class Adviser:
    """Ranks a catalogue of trials under a belief. The outcome tables are worked out once and kept."""

    def __init__(self, witness: Witness, dictionary: Dictionary, hypotheses: Hypotheses, ideas: Sequence[Idea]) -> None:
        self.ideas = tuple(ideas)
        arrangements = {a: None for idea in self.ideas for a in (idea.trial.arrangement, idea.trial.arrangement.before_press())}
        chosen, self._alike = _alike(hypotheses, [dictionary.lamps(a) for a in arrangements])
        self._starts = np.searchsorted(chosen, hypotheses.part_starts)
        prior = np.bincount(self._alike, weights=hypotheses.prior).astype(np.float64)
        self._outcomes: NDArray[np.float32] = np.stack(
            [[witness.outcomes(idea.trial, side, chosen, prior) for side in SIDES] for idea in self.ideas]
        ).astype(np.float32)
        """Shape (ideas, sides, outcomes, kinds of hypotheses)."""

    def ranked(self, belief: Belief, *, without: Collection[str] = (), tools: Collection[str] = ("spare",)) -> list[Advice]:
        """Return the trials that are worth making, the most bits per second first.

        `without` are the `say` sentences of trials not to offer, `tools` what is at hand.
        """
        bits = self._information(belief)
        advice = [
            Advice(idea, float(bits[i]))
            for i, idea in enumerate(self.ideas)
            if idea.say not in without and (idea.needs is None or idea.needs in tools) and bits[i] >= WORTHLESS_BITS
        ]
        return sorted(advice, key=lambda entry: -entry.bits_per_second)

    def _information(self, belief: Belief) -> NDArray[np.float64]:
        weight = np.bincount(self._alike, weights=belief.probability, minlength=self._outcomes.shape[-1])
        joint = np.add.reduceat(self._outcomes * weight.astype(np.float32), self._starts, axis=-1).astype(np.float64)
        outcome = joint.sum(axis=-1)
        part = joint.sum(axis=-2)
        information = _plogp(joint).sum(axis=(-1, -2)) - _plogp(outcome).sum(axis=-1) - _plogp(part).sum(axis=-1)
        return np.asarray(np.maximum(information, 0.0).max(axis=-1))


def _alike(hypotheses: Hypotheses, lamps: Sequence[NDArray[np.float64]]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Find hypotheses about one part that no trial at hand tells apart: same lamps everywhere, same activity.

    Returns the positions of one hypothesis of each kind, rising, and the kind of every hypothesis, shape (N,).
    """
    table = np.concatenate([entry.reshape(len(entry), -1) for entry in lamps], axis=1).astype(np.float32)
    signature = [row.tobytes() for row in table]
    kinds: dict[tuple[int, int, bytes], int] = {}
    first, kind_of = [], []
    runs = np.searchsorted(hypotheses.part_starts, np.arange(len(hypotheses)), side="right")
    for i, (run, column, activity) in enumerate(
        zip(runs.tolist(), hypotheses.column.tolist(), hypotheses.activity.tolist(), strict=True)
    ):
        key = (run, activity, signature[column])
        if key not in kinds:
            kinds[key] = len(kinds)
            first.append(i)
        kind_of.append(kinds[key])
    return np.array(first, dtype=np.intp), np.array(kind_of, dtype=np.intp)


def _plogp(p: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(p * np.log2(np.maximum(p, 1e-300)))
