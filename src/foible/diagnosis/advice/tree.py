"""What complaints leave open and a time budget in; the decision trees of a field card out.

A card begins with what the fencer says: a tree for each complaint, from what that leaves open (`starting_point`). Unfolded, good
advice is far too big to print (`unfolding`); a cut of it keeps some trials and makes ends of the rest, and all trees share one
sheet (`cuts`). On the bench, where nobody complains, there is one tree.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.advice.cuts import fitting_cuts
from foible.diagnosis.advice.unfolding import DECIDED, Unfolding

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.cuts import Cut
    from foible.diagnosis.advice.starting_point import StartingPoint, Try
    from foible.diagnosis.advice.unfolding import State
    from foible.situation import Mode, Situation

    Floats = NDArray[np.float64]

__all__ = ["DECIDED", "ROOM", "Leaf", "Plan", "Question", "Tree", "Way", "plan_of"]

ROOM = 400.0
"""What the steps of a card may take [lines]: one sheet of A4, both sides, three columns, letters of 8 pt or more."""
LEAST_CHANCE = 0.01
"""No trial is made where fewer of a complaint's cases lead."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """An end of a tree: what to take the fault to be."""

    aims: tuple[tuple[str, float], ...]
    """The aims to name with their probabilities here, the first to act on in front; one where it is decided."""
    chance: float
    """The chance of coming here from the root."""
    seconds: float
    """What the trials on the way here take at most [s]."""

    @property
    def decided(self) -> bool:
        """Whether the first aim is probable enough to act on."""
        return self.aims[0][1] >= DECIDED


@dataclass(frozen=True, slots=True)
class Way:
    """What can be seen in a trial, and where that leads."""

    words: tuple[str, ...]
    """Outcomes of the trial that lead to the same."""
    rest: bool
    """Whether everything that is not listed leads here as well."""
    chance: float
    """Among the ways of its trial."""
    outcomes: tuple[int, ...]
    """The outcomes by number, those not listed among them."""
    node: Question | Leaf


@dataclass(frozen=True, slots=True)
class Question:
    """A trial to make, and the ways on from it."""

    each: Try
    trial: int
    """The trial by number, as in the starting point."""
    chance: float
    """The chance of coming here from the root."""
    seconds: float
    """What the trials before this one take at most [s]."""
    again: bool
    """Whether the same trial was made on the way here."""
    ways: tuple[Way, ...]
    """The most probable first, everything else last."""


@dataclass(frozen=True)
class Tree:
    """The decision tree of a complaint and how well it does."""

    say: str
    """What the fencer says; empty on the bench."""
    share: float
    """Of all complaints."""
    root: Question | Leaf
    expected_s: float
    """What the trials take on average, each at its longest [s]."""
    right: float
    """Share of cases in which acting on the first name puts it right."""
    undecided: float
    """Share of cases that end with a first name less probable than `DECIDED`."""
    mirrored: tuple[tuple[str, float], ...] = ()
    """What leads here with fencer and opponent exchanged: what is said, and its share of all complaints."""

    @property
    def weight(self) -> float:
        """The share of all complaints that this tree serves."""
        return self.share + sum(share for _, share in self.mirrored)

    def nodes(self) -> Iterator[Question | Leaf]:
        """Yield every question and leaf, each before what follows it."""
        waiting = [self.root]
        while waiting:
            node = waiting.pop()
            yield node
            if isinstance(node, Question):
                waiting += [way.node for way in reversed(node.ways)]

    def questions(self) -> list[Question]:
        """Return every trial to make, each before what follows it."""
        return [node for node in self.nodes() if isinstance(node, Question)]

    def leaves(self) -> list[Leaf]:
        """Return every leaf."""
        return [node for node in self.nodes() if isinstance(node, Leaf)]


@dataclass(frozen=True)
class Plan:
    """The decision trees of a card."""

    trees: tuple[Tree, ...]
    mode: Mode
    item: str | None
    """What lies on the bench; None at the piste."""
    tools: tuple[str, ...]
    facts: tuple[str, ...]
    budget_s: float
    """The most that the trials of a path may take [s]."""
    starts: tuple[StartingPoint, ...] = field(repr=False, compare=False, default=())
    """What each tree was made for."""

    @property
    def expected_s(self) -> float:
        """What the trials take on average, each at its longest [s]."""
        return sum(tree.weight * tree.expected_s for tree in self.trees)

    @property
    def right(self) -> float:
        """Share of cases in which acting on the first name puts it right."""
        return sum(tree.weight * tree.right for tree in self.trees)

    @property
    def undecided(self) -> float:
        """Share of cases that end with a first name less probable than `DECIDED`."""
        return sum(tree.weight * tree.undecided for tree in self.trees)


def plan_of(  # noqa: PLR0913 — as above, each named
    starts: Sequence[StartingPoint],
    shares: Sequence[float],
    situation: Situation,
    budget_s: float,
    mirrored: Sequence[tuple[tuple[str, float], ...]] = (),
    *,
    room: float = ROOM,
) -> Plan:
    """Return the best decision trees for some starts, each with its share of all cases and what leads to it mirrored."""
    states = [Unfolding(origin, budget_s, LEAST_CHANCE).unfold() for origin in starts]
    twins = mirrored or [()] * len(starts)
    weights = [share + sum(part for _, part in twin) for share, twin in zip(shares, twins, strict=True)]
    cuts = fitting_cuts(states, weights, room)
    trees = [_tree(*each) for each in zip(starts, shares, twins, states, cuts, strict=True)]
    tools, facts = tuple(situation.tools), tuple(situation.facts)
    return Plan(tuple(trees), situation.mode, situation.item, tools, facts, budget_s, tuple(starts))


# --- from the cut to the tree ------------------------------------------------------------------------------------------


def _tree(origin: StartingPoint, share: float, mirrored: tuple[tuple[str, float], ...], state: State, cut: Cut) -> Tree:
    root = _node(origin, state, cut)
    tree = Tree(origin.say, share, root, 0.0, 0.0, 0.0, mirrored)
    ends = tree.leaves()
    return replace(
        tree,
        expected_s=sum(leaf.chance * leaf.seconds for leaf in ends),
        right=sum(leaf.chance * leaf.aims[0][1] for leaf in ends),
        undecided=sum(leaf.chance for leaf in ends if not leaf.decided),
    )


def _node(origin: StartingPoint, state: State, cut: Cut) -> Question | Leaf:
    """Return what a cut leaves of a state."""
    if cut.below is None:
        return _leaf(origin, [state])
    cuts, option = iter(cut.below), state.options[cut.option]
    ways = []
    for group in option.groups:
        short = []
        for way, its in zip(group, cuts, strict=False):
            if its.below is None:
                short.append(way)
            else:
                ways.append(_way(origin, option.trial, [way], state.chance, _node(origin, way, its)))
        if short:
            ways.append(_way(origin, option.trial, short, state.chance, _leaf(origin, short)))
    ways.sort(key=lambda way: (way.rest, -way.chance))
    say = origin.tries[option.trial].idea.say
    again = say in [origin.tries[number].idea.say for number in state.made]
    return Question(origin.tries[option.trial], option.trial, state.chance, state.seconds, again, tuple(ways))


def _way(origin: StartingPoint, trial: int, ends: Sequence[State], chance: float, node: Question | Leaf) -> Way:
    listed = sorted(o for end in ends for o in end.outcomes)
    rest = sorted(o for end in ends for o in end.rest)
    words = tuple(origin.tries[trial].outcomes[o] for o in listed)
    return Way(words, bool(rest), node.chance / chance, tuple(sorted([*listed, *rest])), node)


def _leaf(origin: StartingPoint, states: Sequence[State]) -> Leaf:
    of_aims = np.sum([state.of_aims for state in states], axis=0)
    share, names = of_aims / of_aims.sum(), states[0].names
    first = float(origin.model.cured(share)[names[0]])
    named = ((origin.aims[names[0]].name, first), *((origin.aims[i].name, float(share[i])) for i in names[1:]))
    return Leaf(named, float(of_aims.sum()), max(state.seconds for state in states))
