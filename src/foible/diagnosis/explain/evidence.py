"""Trials in; out, what each said for or against a suspect, and which suspects nothing at hand tells apart.

The weight of evidence of a trial for a suspect (Good 1950) is

    W = log₂ ( P(seen | the suspect, all other trials) / P(seen | another failure, all other trials) )          [bit]

One bit for it doubles the odds that it is the suspect.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.adviser import Adviser
    from foible.diagnosis.advice.model import DecisionModel
    from foible.diagnosis.belief.posterior import Belief
    from foible.trials import Idea

__all__ = ["AlikeSuspects", "alike", "misread_chances", "weights_of_evidence"]

TOLD_APART = 0.5
"""Two suspects are told apart by a trial that shows different things at least this often (total variation distance)."""


@dataclass(frozen=True)
class AlikeSuspects:
    """Suspects that no trial at hand tells apart."""

    parts: tuple[str, ...]
    repairs: tuple[str, ...]
    """The repairs that they would need; only one where it does not matter which of them it is."""
    splits: Idea | None
    """The trial that would tell most of them apart, with a tool that is not at hand; None where not even that would."""


def weights_of_evidence(
    prior: NDArray[np.float64], totals: Sequence[NDArray[np.float64]], whole: NDArray[np.float64], of: slice
) -> list[float]:
    """Return how many bits each trial spoke for (or against) a suspect.

    `prior`: of every hypothesis, shape (N,); `totals`: for each trial the likelihood of all others, shape (N,); `whole`: that
    of all trials together; `of`: the hypotheses about the suspect.
    """
    bits = []
    own = np.zeros(len(prior), dtype=bool)
    own[of] = True
    for others in totals:
        before, after = prior * others, prior * whole
        chances = [float(after[part].sum() / max(float(before[part].sum()), 1e-300)) for part in (own, ~own)]
        bits.append(float(np.log2(max(chances[0], 1e-12) / max(chances[1], 1e-12))))
    return bits


def misread_chances(belief: Belief, clear: Sequence[NDArray[np.float64]]) -> list[float]:
    """Return the probability that each trial's lamps were misread.

    `clear`: for each trial the probability under every hypothesis that they were read rightly, given what was reported. Where two
    failures explain what one does not, nothing need have been misread.
    """
    return [float(belief.probability @ (1 - np.minimum(chances, 1.0))) for chances in clear]


def alike(
    adviser: Adviser, kinds: Sequence[int], parts: Sequence[str], repairs: Sequence[str], tools: Collection[str]
) -> list[AlikeSuspects]:
    """Return the groups of suspects that no trial of the adviser's catalogue tells apart with the tools at hand.

    `kinds` are the kinds of the suspects' likeliest hypotheses, `parts` and `repairs` their names.
    """
    if not adviser.ideas:
        return []
    at_hand = np.array([set(idea.needs) <= set(tools) for idea in adviser.ideas], dtype=bool)
    model = adviser.model
    groups: list[list[int]] = []
    for number, kind in enumerate(kinds):
        home = next(
            (g for g in groups if all(_apart(model, kind, kinds[other])[at_hand].max(initial=0) < TOLD_APART for other in g)),
            None,
        )
        if home is None:
            groups.append([number])
        else:
            home.append(number)
    found = []
    for group in groups:
        if len(group) > 1:
            apart = np.where(at_hand, 0.0, _apart(model, kinds[group[0]], kinds[group[1]]))
            best = int(apart.argmax()) if len(apart) else None
            tells = best is not None and apart[best] >= TOLD_APART
            found.append(
                AlikeSuspects(
                    tuple(parts[i] for i in group),
                    tuple(dict.fromkeys(repairs[i] for i in group)),
                    adviser.ideas[best] if best is not None and tells else None,
                )
            )
    return found


def _apart(model: DecisionModel, first: int, second: int) -> NDArray[np.float64]:
    """Return for each trial how often it shows different things for two kinds, shape (trials,)."""
    apart = np.abs(model.by_state[first] - model.by_state[second])
    return np.add.reduceat(apart, model.first[:-1]).astype(np.float64) / 2 if len(model.tables) else np.zeros(0)
