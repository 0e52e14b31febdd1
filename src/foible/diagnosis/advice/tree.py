"""A decision tree for the hand: the adviser's trials followed into what each can show, cut to what fits on a card.

The adviser's own advice unfolds into a tree that is far too big to print. A cut of it keeps some boxes and makes leaves of the
rest. Here the cut is found that names the right aim most often, and among those the one that takes least time, with every
path inside the time budget and no more leaves than asked for:

    right = Σ_leaves max_g P(leaf, g)        time = Σ_leaves P(leaf) t_leaf        [1, s]

Both are sums over questions, so the best cut with k leaves of a box follows from those of the boxes behind it (dynamic
programming over the tree). A longer budget or more leaves only add cuts to choose from: neither ever lowers `right`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.adviser import Adviser
    from foible.trials import Idea

    Floats = NDArray[np.float64]

__all__ = ["DECIDED", "Leaf", "Question", "Tree", "Way", "build_tree"]

DECIDED = 0.8
"""A leaf whose first aim is less probable than this leaves the fault undecided; judgement, no source."""
ALIKE = 0.12
"""Outcomes are told together where no aim's probability differs by more than this; judgement, no source."""
TOLD = 0.02
"""Outcomes of a trial less probable than this are not told one by one; judgement, no source."""
NAMED = 3
"""Aims that a leaf names at most."""
WORTH_NAMING = 0.05
"""Aims behind the first that are less probable than this are not named; judgement, no source."""
EVEN = 6
"""Decimals of a share that count when cuts are compared; further ones are noise of the summing."""
NO_WORDS = "something else"
"""What an experiment calls outcomes taken together; a card has a way of its own for them."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """An end of the tree: what to take the fault to be."""

    aims: tuple[tuple[str, float], ...]
    """The first aims with their probabilities here, the most probable first."""
    chance: float
    """Of coming here from the root."""
    seconds: float
    """What the trials on the way here cost [s]."""
    rare: bool = False
    """Whether what leads here is many rare things taken together, for which it is better to ask than to go by the aims."""

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
    """Outcomes of the trial that lead to the same; empty for whatever is not told."""
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
    """Of coming here from the root."""
    seconds: float
    """What the trials before this one cost [s]."""
    again: bool
    """Whether the same trial was made on the way here."""
    ways: tuple[Way, ...]
    """The most probable first, what is not told last."""


@dataclass(frozen=True)
class Tree:
    """A decision tree with what can be expected of it."""

    root: Question | Leaf
    mode: Mode
    item: str | None
    """What lies on the bench; None at the piste."""
    tools: tuple[str, ...]
    budget_s: float
    """What the trials of a path may cost at most [s]."""
    expected_s: float
    """What the trials cost on average [s]."""
    right: float
    """Share of faults in which the first aim of the leaf is right."""
    undecided: float
    """Share of faults that end in a leaf whose first aim is less probable than `DECIDED`."""
    between: tuple[tuple[tuple[str, ...], float], ...] = field(repr=False)
    """What the undecided ones are between, with shares of all faults, the greatest first."""

    def nodes(self) -> Iterator[Question | Leaf]:
        """Yield every box and leaf, each before what is behind it."""
        return _nodes(self.root)

    def questions(self) -> list[Question]:
        """Return every trial to make, each before what is behind it."""
        return [node for node in self.nodes() if isinstance(node, Question)]

    def leaves(self) -> list[Leaf]:
        """Return every end."""
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
    of hypothesis, shape (K,), the adviser's prior where left out. No trial is made where its box is less probable than
    `least_chance`.
    """
    weight = adviser.prior if start is None else start
    unfolding = _Unfolding(adviser, tools, budget_s, least_chance)
    stem = unfolding.stem(weight / weight.sum())
    best = max((cut for cut in _cuts(stem, most_leaves) if cut), key=_worth)
    root = _question(adviser, stem, best)
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
    """Return what undecided leaves are between, in whatever order they name it, with shares of all faults."""
    order: dict[frozenset[str], tuple[str, ...]] = {}
    share: dict[frozenset[str], float] = {}
    for leaf in leaves:
        if not leaf.decided:
            names = frozenset(leaf.between)
            order.setdefault(names, leaf.between)
            share[names] = share.get(names, 0.0) + leaf.chance
    return tuple((order[names], share[names]) for names in sorted(share, key=lambda names: -share[names]))


# --- the adviser's advice, unfolded -----------------------------------------------------------------------------------


@dataclass(eq=False)
class _Stem:
    """A state of knowledge: the weights of the hypotheses, not scaled, and what was done to come here."""

    weight: Floats
    of_aims: Floats
    """Weight by aim."""
    made: tuple[int, ...]
    seconds: float
    trial: int | None = None
    """What the adviser tries here; None where it would act, or where hardly anybody comes."""
    outcomes: tuple[int, ...] = ()
    """Those of the trial before that lead here."""
    groups: list[list[_Stem]] = field(default_factory=list)
    """What follows the trial, by what is told together where nothing more is tried; empty where the time is spent."""
    rest: _Stem | None = None
    """What is not told of the trial."""

    @property
    def chance(self) -> float:
        return float(self.of_aims.sum())

    @property
    def share(self) -> Floats:
        return np.asarray(self.of_aims / self.of_aims.sum())

    @property
    def first(self) -> int:
        return int(np.argmax(self.of_aims))

    @property
    def first_share(self) -> float:
        return float(self.of_aims.max())


class _Unfolding:
    """Follows the adviser's advice as far as the budget lets it."""

    def __init__(self, adviser: Adviser, tools: Collection[str], budget_s: float, least_chance: float) -> None:
        self._adviser = adviser
        self._problem = adviser.model
        self._budget_s, self._least_chance = budget_s, least_chance
        self._at_hand = [i for i, idea in enumerate(adviser.ideas) if set(idea.needs) <= set(tools)]
        self._number = {id(idea): i for i, idea in enumerate(adviser.ideas)}

    def stem(self, weight: Floats, made: tuple[int, ...] = (), seconds: float = 0.0, outcomes: tuple[int, ...] = ()) -> _Stem:
        """Return a state and all that follows."""
        stem = self._bare(weight, made, seconds, outcomes)
        waiting = [stem]
        while waiting:
            waiting += self._unfold(waiting.pop())
        return stem

    def _bare(self, weight: Floats, made: tuple[int, ...], seconds: float, outcomes: tuple[int, ...]) -> _Stem:
        stem = _Stem(weight, self._problem.grouped(weight), made, seconds, outcomes=outcomes)
        if stem.chance >= self._least_chance:
            stem.trial = self._next(weight, made)
        return stem

    def _next(self, weight: Floats, made: tuple[int, ...]) -> int | None:
        """Return the trial that the adviser makes, None where it acts. What was acted on stays so, and is not acted on again."""
        acted = self._acted(made)
        mends = self._problem.mends
        ideas = self._adviser.ideas
        allowed = [
            t
            for t in self._at_hand
            if not (t in made and ideas[t].once_only) and not (mends is not None and int(mends[t]) in acted)
        ]
        decision = self._adviser.decide_by_weights(weight, allowed, acted)
        return None if decision.enough else self._number[id(decision.advice[0].idea)]

    def _acted(self, made: tuple[int, ...]) -> frozenset[int]:
        mends = self._problem.mends
        return frozenset(int(mends[t]) for t in made if mends is not None and mends[t] >= 0)

    def _unfold(self, stem: _Stem) -> list[_Stem]:
        """Make the trial of a state, where it fits in the budget, and return the states that follow."""
        if stem.trial is None:
            return []
        idea = self._adviser.ideas[stem.trial]
        seconds = stem.seconds + idea.seconds
        if seconds > self._budget_s:
            return []
        made = (*stem.made, stem.trial)
        behind = self._adviser.after(self._acted(stem.made)).model.tables[stem.trial] * stem.weight
        chance = behind.sum(axis=1) / stem.chance
        words = [outcome.words for outcome in self._adviser.experiments[stem.trial].outcomes]
        told = [o for o in range(len(words)) if chance[o] >= TOLD and words[o] != NO_WORDS]
        rest = [o for o in range(len(words)) if o not in told]
        apart = [self._bare(behind[o], made, seconds, (o,)) for o in sorted(told, key=lambda o: -chance[o])]
        ways = [self._together(group) for group in _alike(apart, lambda way: way.trial)]
        stem.groups = _alike(ways, lambda _: None)
        if rest and chance[rest].sum() > 0:
            weight = behind[rest].sum(axis=0)
            stem.rest = _Stem(weight, self._problem.grouped(weight), made, seconds, outcomes=tuple(rest))
        return ways

    def _together(self, group: Sequence[_Stem]) -> _Stem:
        """Return one state for several in which the same is tried next."""
        first = group[0]
        weight = np.sum([stem.weight for stem in group], axis=0)
        outcomes = tuple(o for stem in group for o in stem.outcomes)
        return _Stem(weight, self._problem.grouped(weight), first.made, first.seconds, first.trial, outcomes)


def _alike(stems: Sequence[_Stem], by: Callable[[_Stem], object]) -> list[list[_Stem]]:
    """Group states that agree in `by`, have the same first aim and alike probabilities."""
    groups: list[list[_Stem]] = []
    for stem in stems:
        for group in groups:
            head = group[0]
            same = by(head) == by(stem) and head.first == stem.first
            if same and np.abs(head.share - stem.share).max() <= ALIKE:
                group.append(stem)
                break
        else:
            groups.append([stem])
    return groups


# --- the best cut -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Cut:
    """A way to cut what follows a state, or several, with what comes of it."""

    right: float
    seconds: float
    below: tuple[_Cut, ...] | None = None
    """The cuts of the ways on; None where the state is a leaf."""


def _worth(cut: _Cut) -> tuple[float, float]:
    return round(cut.right, EVEN), -cut.seconds


_NOTHING = _Cut(0.0, 0.0, ())
_Cuts = list[_Cut | None]
"""The best cut for each count of leaves."""


def _cuts(stem: _Stem, most: int) -> _Cuts:
    """Return the best cut of a state for each count of leaves up to `most`."""
    best: _Cuts = [None, _Cut(stem.first_share, 0.0), *[None] * (most - 1)]
    if not stem.groups:
        return best
    behind: _Cuts = [_NOTHING, *[None] * most]
    for group in stem.groups:
        behind = _joined(behind, _of_group(group, most))
    if stem.rest is not None:
        behind = _joined(behind, [None, _Cut(stem.rest.first_share, 0.0, ())])
    cost = stem.chance * (stem.groups[0][0].seconds - stem.seconds)
    return [*best[:2], *(cut and _Cut(cut.right, cut.seconds + cost, cut.below) for cut in behind[2:])]


def _of_group(group: Sequence[_Stem], most: int) -> _Cuts:
    """Return the best cuts of states that as leaves would be told together: all those cut short there make one leaf."""
    none: _Cuts = [_NOTHING, *[None] * most]
    """With none of them cut short so far; `some`: with one at least, its leaf not counted."""
    some: _Cuts = [None] * (most + 1)
    for stem in group:
        cuts = [cut and _Cut(cut.right, cut.seconds, (cut,)) for cut in _cuts(stem, most)]
        short, long = cuts[1:2], [None, None, *cuts[2:]]
        some = _better(_better(_joined(some, short), _joined(none, short)), _joined(some, long))
        none = _joined(none, long)
    return _better(none, [None, *some[:-1]])


def _joined(first: _Cuts, second: _Cuts) -> _Cuts:
    """Return the best cuts of two sets of states side by side, as many leaves at most as `first` has places for."""
    best: _Cuts = [None] * len(first)
    for i, left in enumerate(first):
        for j, right in enumerate(second[: len(first) - i]):
            if left is None or right is None:
                continue
            both = _Cut(left.right + right.right, left.seconds + right.seconds, (*(left.below or ()), *(right.below or ())))
            held = best[i + j]
            if held is None or _worth(both) > _worth(held):
                best[i + j] = both
    return best


def _better(first: _Cuts, second: _Cuts) -> _Cuts:
    """Return the better cut for each count."""
    pairs = zip(first, second, strict=True)
    return [max((cut for cut in pair if cut), key=_worth, default=None) for pair in pairs]


# --- the tree ---------------------------------------------------------------------------------------------------------


def _question(adviser: Adviser, stem: _Stem, cut: _Cut) -> Question | Leaf:
    """Return what a cut leaves of a state."""
    if cut.below is None or stem.trial is None:
        return _leaf(adviser, [stem])
    cuts = iter(cut.below)
    ways = []
    for group in stem.groups:
        short = []
        for way, its in zip(group, cuts, strict=False):
            if its.below is None:
                short.append(way)
            else:
                ways.append(_way(adviser, stem, [way], _question(adviser, way, its)))
        if short:
            ways.append(_way(adviser, stem, short, _leaf(adviser, short)))
    ways.sort(key=lambda way: -way.chance)
    if stem.rest is not None:
        ways.append(_way(adviser, stem, [stem.rest], _leaf(adviser, [stem.rest], rare=True)))
    again = stem.trial in stem.made
    return Question(adviser.ideas[stem.trial], stem.trial, stem.chance, stem.seconds, again, tuple(ways))


def _way(adviser: Adviser, stem: _Stem, ends: Sequence[_Stem], node: Question | Leaf) -> Way:
    assert stem.trial is not None  # noqa: S101 — only a state with a trial has ways
    outcomes = tuple(sorted(o for end in ends for o in end.outcomes))
    told = adviser.experiments[stem.trial].outcomes
    rare = isinstance(node, Leaf) and node.rare
    words = () if rare else tuple(told[o].words.replace(", ", " and ") for o in outcomes)
    return Way(words, node.chance / stem.chance, outcomes, node)


def _leaf(adviser: Adviser, stems: Sequence[_Stem], *, rare: bool = False) -> Leaf:
    of_aims = np.sum([stem.of_aims for stem in stems], axis=0)
    share = of_aims / of_aims.sum()
    order = np.argsort(-share, kind="stable")[:NAMED].tolist()
    aims = [(adviser.aims[i].name, float(share[i])) for i in order]
    named = (aims[0], *(aim for aim in aims[1:] if aim[1] >= WORTH_NAMING))
    return Leaf(named, float(of_aims.sum()), stems[0].seconds, rare)
