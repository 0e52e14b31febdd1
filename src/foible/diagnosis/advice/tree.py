"""An adviser, the tools at hand and a time budget in; the best decision tree for a field card out.

Unfolded, the adviser's own advice is a tree far too big to print (`unfolding`). A cut of it keeps some trials and makes
leaves of the rest; of all cuts with every path inside the budget and no more leaves than asked for, the one is taken that names
the right aim most often, and among those the one that takes least time (`cuts`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.advice.cuts import best_cuts, worth
from foible.diagnosis.advice.unfolding import Unfolding
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.adviser import Adviser
    from foible.diagnosis.advice.cuts import Cut
    from foible.diagnosis.advice.unfolding import State
    from foible.trials import Idea

    Floats = NDArray[np.float64]

__all__ = ["DECIDED", "Leaf", "Question", "Tree", "Way", "build_tree"]

DECIDED = 0.8
"""A leaf whose first aim is less probable than this leaves the fault undecided; judgement, no source."""
NAMED = 3
"""The most aims that a leaf names."""
WORTH_NAMING = 0.05
"""Aims after the first that are less probable than this are not named; judgement, no source."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """An end of the tree: what to take the fault to be."""

    aims: tuple[tuple[str, float], ...]
    """The first aims with their probabilities here, the most probable first."""
    chance: float
    """The chance of coming here from the root."""
    seconds: float
    """What the trials on the way here cost [s]."""
    rare: bool = False
    """Whether many rare outcomes lead here, so that it is better to ask than to act on the aims."""

    @property
    def decided(self) -> bool:
        """Whether the first aim is probable enough to act on."""
        return self.aims[0][1] >= DECIDED

    @property
    def between(self) -> tuple[str, ...]:
        """The fewest first aims that together are probable enough, as far as they are named."""
        sums = np.cumsum([share for _, share in self.aims])
        return tuple(name for name, _ in self.aims[: int(np.searchsorted(sums, DECIDED)) + 1])


@dataclass(frozen=True, slots=True)
class Way:
    """What can be seen in a trial, and where that leads."""

    words: tuple[str, ...]
    """Outcomes of the trial that lead to the same; empty for everything else."""
    chance: float
    """Among the ways of its trial."""
    outcomes: tuple[int, ...]
    """The outcomes by number, as in the tables of the adviser's model."""
    node: Question | Leaf


@dataclass(frozen=True, slots=True)
class Question:
    """A trial to make, and the ways on from it."""

    idea: Idea
    trial: int
    """The trial by number, as in the adviser's model."""
    chance: float
    """The chance of coming here from the root."""
    seconds: float
    """What the trials before this one cost [s]."""
    again: bool
    """Whether the same trial was made on the way here."""
    ways: tuple[Way, ...]
    """The most probable first, everything else last."""


@dataclass(frozen=True)
class Tree:
    """A decision tree and how well it does."""

    root: Question | Leaf
    mode: Mode
    item: str | None
    """What lies on the bench; None at the piste."""
    tools: tuple[str, ...]
    budget_s: float
    """The most that the trials of a path may cost [s]."""
    expected_s: float
    """What the trials cost on average [s]."""
    right: float
    """Share of faults in which the first aim of the leaf is right."""
    undecided: float
    """Share of faults that end in a leaf whose first aim is less probable than `DECIDED`."""
    between: tuple[tuple[tuple[str, ...], float], ...] = field(repr=False)
    """The aims between which the undecided ones lie, with shares of all faults, the greatest first."""

    def nodes(self) -> Iterator[Question | Leaf]:
        """Yield every question and leaf, each before what follows it."""
        return _nodes(self.root)

    def questions(self) -> list[Question]:
        """Return every trial to make, each before what follows it."""
        return [node for node in self.nodes() if isinstance(node, Question)]

    def leaves(self) -> list[Leaf]:
        """Return every leaf."""
        return [node for node in self.nodes() if isinstance(node, Leaf)]


def build_tree(  # noqa: PLR0913 — what a card is made for and how big it may be, each named by the caller
    adviser: Adviser,
    tools: Collection[str],
    budget_s: float,
    *,
    start: Floats | None = None,
    most_leaves: int = 40,
    least_chance: float = 0.01,
) -> Tree:
    """Return the best tree of the adviser's trials.

    `tools`: what is at hand (`situation.TOOLS`); `budget_s`: what the trials of a path may cost [s]; `start`: weight of each kind
    of hypothesis, shape (K,), the adviser's prior where left out. No trial is made at a state less probable than
    `least_chance`.
    """
    weight = adviser.prior if start is None else start
    unfolding = Unfolding(adviser, tools, budget_s, least_chance)
    state = unfolding.unfold(weight / weight.sum())
    best = max((cut for cut in best_cuts(state, most_leaves) if cut), key=worth)
    root = _question(adviser, state, best)
    ends = [node for node in _nodes(root) if isinstance(node, Leaf)]
    return Tree(
        root=root,
        mode=adviser.mode,
        item=adviser.aims[-1].item if adviser.mode is Mode.BENCH else None,
        tools=tuple(tools),
        budget_s=budget_s,
        expected_s=sum(leaf.chance * leaf.seconds for leaf in ends),
        right=sum(leaf.chance * leaf.aims[0][1] for leaf in ends),
        undecided=sum(leaf.chance for leaf in ends if not leaf.decided),
        between=_between(ends),
    )


def _nodes(root: Question | Leaf) -> Iterator[Question | Leaf]:
    waiting = [root]
    while waiting:
        node = waiting.pop()
        yield node
        if isinstance(node, Question):
            waiting += [way.node for way in reversed(node.ways)]


def _between(leaves: Sequence[Leaf]) -> tuple[tuple[tuple[str, ...], float], ...]:
    """Return the aims between which undecided leaves lie, regardless of order, with shares of all faults."""
    order: dict[frozenset[str], tuple[str, ...]] = {}
    share: dict[frozenset[str], float] = {}
    for leaf in leaves:
        if not leaf.decided:
            names = frozenset(leaf.between)
            order.setdefault(names, leaf.between)
            share[names] = share.get(names, 0.0) + leaf.chance
    return tuple((order[names], share[names]) for names in sorted(share, key=lambda names: -share[names]))


# --- from the cut to the tree ------------------------------------------------------------------------------------------


def _question(adviser: Adviser, state: State, cut: Cut) -> Question | Leaf:
    """Return what a cut leaves of a state."""
    if cut.below is None or state.trial is None:
        return _leaf(adviser, [state])
    cuts = iter(cut.below)
    ways = []
    for group in state.groups:
        short = []
        for way, its in zip(group, cuts, strict=False):
            if its.below is None:
                short.append(way)
            else:
                ways.append(_way(adviser, state, [way], _question(adviser, way, its)))
        if short:
            ways.append(_way(adviser, state, short, _leaf(adviser, short)))
    ways.sort(key=lambda way: -way.chance)
    if state.rest is not None:
        ways.append(_way(adviser, state, [state.rest], _leaf(adviser, [state.rest], rare=True)))
    again = state.trial in state.made
    return Question(adviser.ideas[state.trial], state.trial, state.chance, state.seconds, again, tuple(ways))


def _way(adviser: Adviser, state: State, ends: Sequence[State], node: Question | Leaf) -> Way:
    assert state.trial is not None  # noqa: S101 — only a state with a trial has ways
    outcomes = tuple(sorted(o for end in ends for o in end.outcomes))
    shown = adviser.experiments[state.trial].outcomes
    rare = isinstance(node, Leaf) and node.rare
    words = () if rare else tuple(shown[o].words.replace(", ", " and ") for o in outcomes)
    return Way(words, node.chance / state.chance, outcomes, node)


def _leaf(adviser: Adviser, states: Sequence[State], *, rare: bool = False) -> Leaf:
    of_aims = np.sum([state.of_aims for state in states], axis=0)
    share = of_aims / of_aims.sum()
    best, cured = adviser.model.named(share), adviser.model.cured(share)
    spared = {best, *(each for group, others in adviser.model.covered if group == best for each in others)}
    order = [i for i in np.argsort(-share, kind="stable").tolist() if i not in spared]
    aims = [(adviser.aims[best].name, float(cured[best])), *((adviser.aims[i].name, float(share[i])) for i in order[: NAMED - 1])]
    named = (aims[0], *(aim for aim in aims[1:] if aim[1] >= WORTH_NAMING))
    return Leaf(named, float(of_aims.sum()), states[0].seconds, rare)
