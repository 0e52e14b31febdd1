"""A printed card in, and a world; out, how often its first name is right when people follow it line by line.

A case is a fault that somebody complains of, with a readiness of its own under every handling, or nothing wrong. A trial shows
what Foible's networks say for that fault alone, each time anew; what is seen is looked up in the printed lines, and what is not
printed is “anything else”. The card's own probabilities play no part.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis import SOUND, Leaf
from foible.diagnosis.shown.hypotheses import Activity
from foible.diagnosis.shown.presence import NOTHING_LEARNT, Learnt
from foible.output.card_text import NOTHING_LISTED
from foible.output.card_words import seen
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from foible.diagnosis import Plan, Question, Reasoner, Tree
    from foible.diagnosis.advice.outcomes import Experiment
    from foible.output import Card, Row, Step
    from foible.trials import Trial

    Floats = NDArray[np.float64]

__all__ = ["WORLDS", "Game", "Played", "World"]

WAYS = 64
"""How many ways in which faults may be ready are drawn."""
OPTIONAL = " orange"
"""A lamp that is not seen on an apparatus without it."""


@dataclass(frozen=True)
class World:
    """How a simulated world differs from the model's own."""

    name: str
    words: str
    sound: float | None = None
    """How often nothing is wrong; None is as often as the kit says of each complaint."""
    ready_anyhow: bool = False
    """Faults that come and go are as ready under any handling as under any other, from never to always."""


WORLDS = (
    World("own", "the model's own world"),
    World("nothing wrong", "nothing is wrong in a fifth of complaints", sound=0.2),
    World(
        "other handlings",
        "how ready a fault is under each handling is drawn anew, evenly from never to always",
        ready_anyhow=True,
    ),
)


@dataclass(frozen=True, slots=True)
class Played:
    """How a case went."""

    right: bool
    decided: bool
    seconds: float
    sound: bool
    """Whether nothing was wrong."""


@dataclass(frozen=True, slots=True)
class _Case:
    hypothesis: int
    way: int


class Game:
    """A printed card and a world to play it in."""

    def __init__(self, reasoner: Reasoner, plan: Plan, card: Card, world: World, seed: int) -> None:
        self._reasoner, self._plan, self._world = reasoner, plan, world
        self._rng = np.random.default_rng(seed)
        self._adviser = reasoner.adviser(Mode.PISTE)
        self._names = [aim.name for aim in self._adviser.aims]
        self._questions = [question for tree in plan.trees for question in tree.questions()]
        self._steps: dict[int, Step] = {id(question): step for question, step in zip(self._questions, card.steps, strict=True)}
        self._experiments: dict[Trial, Experiment] = {}
        trials = [question.each.idea.trial for question in self._questions]
        told = [origin.shown for origin in plan.starts if origin.shown is not None]
        self._ways = [self._way(way) for way in self._drawn([*trials, *told])]

    def play(self, tree: Tree, shown: Trial, hearsay: float, count: int) -> Iterator[Played]:
        """Yield how `count` cases go in which what a tree begins with is complained of."""
        for case in self._cases(shown, hearsay, count):
            yield self._played(tree, case)

    # --- cases ----------------------------------------------------------------------------------------------------

    def _drawn(self, trials: list[Trial]) -> list[Learnt]:
        return self._reasoner.trial_likelihood.presence.drawn_readiness(NOTHING_LEARNT, trials, WAYS, self._rng)

    def _way(self, way: Learnt) -> Learnt:
        if not self._world.ready_anyhow:
            return way
        moving = self._reasoner.hypotheses.activity != Activity.STEADY
        return Learnt(
            {name: (np.where(moving, self._rng.random(len(moving)), ready), weight) for name, (ready, weight) in way.of.items()}
        )

    def _cases(self, shown: Trial, hearsay: float, count: int) -> list[_Case]:
        """Return faults that are complained of, as often as the rates and what they show make them."""
        likelihood, prior = self._reasoner.trial_likelihood, self._reasoner.hypotheses.prior.copy()
        prior[:2] = 0.0
        looks = likelihood.looks(shown)
        assert looks is not None
        weights = []
        for way in self._ways:
            regimes = likelihood.presence.regimes(shown, way)
            told = np.sum([regime * look for regime, look in zip(regimes, looks, strict=True)], axis=0)
            weights.append(told * prior)
        flat = np.concatenate(weights)
        chosen = self._rng.choice(len(flat), size=count, p=flat / flat.sum())
        sound = self._rng.random(count) < (hearsay if self._world.sound is None else self._world.sound)
        return [
            _Case(0 if nothing else int(i) % len(prior), int(i) // len(prior))
            for i, nothing in zip(chosen.tolist(), sound.tolist(), strict=True)
        ]

    # --- following the card -----------------------------------------------------------------------------------------

    def _played(self, tree: Tree, case: _Case) -> Played:
        node, exchanged, seconds = tree.root, set[int](), 0.0
        while not isinstance(node, Leaf):
            step = self._steps[id(node)]
            word, goes = self._shown(node, case, exchanged)
            if node.each.acts >= 0:
                exchanged |= self._cured(node.each.acts)
            further = (node.each.seconds - node.each.idea.seconds) / max(node.each.goes - 1, 1)
            seconds += node.each.idea.seconds + (goes - 1) * further
            node = node.ways[step.rows.index(_row(step, word))].node
        truth = self._names.index(self._adviser.names[case.hypothesis])
        right = truth in self._cured(self._names.index(node.aims[0][0]))
        return Played(right, node.decided, seconds, self._adviser.names[case.hypothesis] == SOUND)

    def _cured(self, aim: int) -> set[int]:
        return {aim, *dict(self._adviser.model.covered).get(aim, ())}

    def _shown(self, question: Question, case: _Case, exchanged: set[int]) -> tuple[str, int]:
        """Return what a trial shows, as the card would print it, and how often it was done."""
        goes, word = 0, ""
        while goes < question.each.goes:
            goes += 1
            word = self._look(question.each.idea.trial, question, case, exchanged)
            if word != question.each.quiet:
                break
        return seen(word, sides=True) + (" each time" if word == question.each.quiet else ""), goes

    def _look(self, trial: Trial, question: Question, case: _Case, exchanged: set[int]) -> str:
        experiment = self._experiment(trial, question)
        truth = self._names.index(self._adviser.names[case.hypothesis])
        kind = self._adviser.starts_of(SOUND) if truth in exchanged else self._adviser.kind_of(case.hypothesis)
        assert kind is not None
        if experiment.looks is None:
            chance = experiment.chance[:, kind].astype(np.float64)
        else:
            regimes = self._reasoner.trial_likelihood.presence.regimes(trial, self._ways[case.way])
            there = [float(regime[case.hypothesis]) for regime in regimes]
            chance = np.sum([share * look[:, kind] for share, look in zip(there, experiment.looks, strict=True)], axis=0)
        words = experiment.outcomes[int(self._rng.choice(len(chance), p=chance / chance.sum()))].words
        optional = any(lamp.optional for lamp in self._reasoner.setup.kind.lamps) and "orange lamps" not in self._plan.facts
        if optional and experiment.looks is not None:
            words = ", ".join(part for part in words.split(", ") if OPTIONAL not in part) or "nothing"
        return words

    def _experiment(self, trial: Trial, question: Question) -> Experiment:
        if trial not in self._experiments:
            outcome_tables, chosen, _ = self._adviser.ground
            self._experiments[trial] = outcome_tables.experiment(question.each.idea, chosen, self._adviser.prior)
        return self._experiments[trial]


def _row(step: Step, word: str) -> Row:
    """Return the printed line for what was seen."""
    listed = next((row for row in step.rows if word in row.sees), None)
    return listed or next((row for row in step.rows if NOTHING_LISTED in row.sees), step.rows[-1])
