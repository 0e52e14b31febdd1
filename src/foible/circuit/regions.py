"""Branches in groups, and changes to them, in; the tree of regions out, by which the groups are joined two at a time."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Change", "Region", "region_tree"]


@dataclass(frozen=True, slots=True)
class Change:
    """What one change does: branches that get a resistance in series, are held at one, or get one across [Ω]."""

    raised: tuple[tuple[int, float], ...] = ()
    held: tuple[tuple[int, float], ...] = ()
    joined: tuple[tuple[int, float], ...] = ()

    @property
    def branches(self) -> set[int]:
        """The branches that it touches."""
        return {branch for branch, _ in (*self.raised, *self.held, *self.joined)}


@dataclass(frozen=True)
class Region:
    """A group of branches, or two regions with the branches between them."""

    children: tuple[Region, ...]
    branches: tuple[int, ...]
    changes: tuple[int, ...]
    """The changes whose branches are the region's own."""
    nodes: frozenset[str]

    @cached_property
    def all_changes(self) -> tuple[int, ...]:
        """The changes of the region and those inside it, in the order of the state tables."""
        return (*(c for child in self.children for c in child.all_changes), *self.changes)

    @cached_property
    def all_branches(self) -> tuple[int, ...]:
        """The branches of the region and those inside it."""
        return (*(b for child in self.children for b in child.all_branches), *self.branches)


def region_tree(
    ends: tuple[tuple[str, str], ...], groups: tuple[str, ...], changes: tuple[Change, ...], terminals: frozenset[str]
) -> Region:
    """Return all groups joined two at a time, always the two that leave the fewest nodes to the outside."""
    members: dict[str, list[int]] = {}
    for branch, group in enumerate(groups):
        members.setdefault(group, []).append(branch)
    inside: dict[str, list[int]] = {group: [] for group in members}
    for number, change in enumerate(changes):
        homes = {groups[branch] for branch in change.branches} or {groups[0]}
        if len(homes) > 1:
            msg = f"change {number} reaches into several groups: {', '.join(sorted(homes))}"
            raise ValueError(msg)
        inside[homes.pop()].append(number)
    regions = [
        Region((), tuple(branches), tuple(inside[group]), frozenset(node for b in branches for node in ends[b]))
        for group, branches in members.items()
    ]
    while len(regions) > 1:
        pair = min(combinations(regions, 2), key=lambda pair: _boundary_left(pair, regions, terminals))
        regions = [region for region in regions if region not in pair]
        regions.append(Region(pair, (), (), pair[0].nodes | pair[1].nodes))
    root = regions[0]
    largest = max(root.children, key=lambda child: len(child.all_changes), default=None)
    if largest is None or not largest.children:
        return root
    # the last two steps are made in one, for the tables are largest there
    others = tuple(child for child in root.children if child is not largest)
    return Region((*largest.children, *others), largest.branches, largest.changes, root.nodes)


def _boundary_left(pair: tuple[Region, Region], regions: Sequence[Region], terminals: frozenset[str]) -> tuple[int, int]:
    """Return how many nodes of two regions the rest still has, and how many changes they hold; strangers go last."""
    nodes = pair[0].nodes | pair[1].nodes
    rest = terminals.union(*(region.nodes for region in regions if region not in pair))
    strangers = not pair[0].nodes & pair[1].nodes
    return len(nodes & rest) + 1000 * strangers, len(pair[0].all_changes) + len(pair[1].all_changes)
