"""A network and a sketch in, where each node and branch lies on the paper out."""

from __future__ import annotations

import math
import re
from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from foible.drawing.path import Path, Place, closest, outlines

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.circuit import Branch
    from foible.drawing.sketches import Sketch

__all__ = ["Layout", "Strand", "laid_out"]

_LETTER = re.compile(r"(?:^|_)([abc])\d*(?:_|$)")
ROWS = {"A": 60.0, "B": 110.0, "C": 160.0, "": 205.0}
"""Height of the lines where no sketch places them."""
FIRST_RANK, RANK_STEP = 40.0, 46.0


@dataclass(frozen=True, slots=True)
class Strand:
    """A stretch of one line that is drawn as one stroke."""

    letter: str
    path: Path


@dataclass
class Layout:
    """Places of nodes and paths of branches of one item or of several."""

    nodes: dict[str, Place] = field(default_factory=dict)
    paths: dict[str, Path] = field(default_factory=dict)
    """By branch."""
    letters: dict[str, str] = field(default_factory=dict)
    """Line letter by branch; "" for metal and cloth that belong to no line."""
    strands: list[Strand] = field(default_factory=list)
    through: set[str] = field(default_factory=set)
    """Branches that run through metal or cloth, where no wire is to be seen."""

    def join(self, branch: Branch, letter: str) -> None:
        """Draw a straight branch between two nodes that have their places."""
        path = Path((self.nodes[branch.a], self.nodes[branch.b]))
        self.paths[branch.name], self.letters[branch.name] = path, letter
        self.strands.append(Strand(letter, path))

    def add(self, other: Layout) -> None:
        """Take in another layout."""
        self.nodes |= other.nodes
        self.paths |= other.paths
        self.letters |= other.letters
        self.strands += other.strands
        self.through |= other.through

    def mirrored(self, width: float) -> Layout:
        """Return the layout seen in a mirror."""
        return Layout(
            {name: (width - x, y) for name, (x, y) in self.nodes.items()},
            {name: path.mirrored(width) for name, path in self.paths.items()},
            self.letters,
            [Strand(strand.letter, strand.path.mirrored(width)) for strand in self.strands],
            self.through,
        )


def laid_out(sketch: Sketch, item: str, branches: Sequence[Branch], extra: Iterable[str], stub: float) -> Layout:
    """Return the layout of one item's `branches` and of its `extra` nodes that no branch touches.

    Nodes that the sketch names and chains that its runs name lie where it says; the rest is put `stub` units beside its
    neighbours. An item of which the sketch places nothing gets a row for each line, and a rank along it for each step.
    """
    layout = Layout({f"{item}.{name}": place for name, place in sketch.nodes.items()})
    known = {node for branch in branches for node in (branch.a, branch.b)} | set(extra)
    layout.nodes = {name: place for name, place in layout.nodes.items() if name in known}
    for run in sketch.run:
        for number, letter in enumerate(run.lines):
            start, end = (f"{item}.{name.replace('{x}', letter.lower())}" for name in run.ends)
            shift = (number - (len(run.lines) - 1) / 2) * run.gap
            path = outlines(run.d)[0].beside(shift).between(layout.nodes.get(start), layout.nodes.get(end))
            chain = _chain(branches, start, end)
            _lay(layout, chain, path, letter)
            layout.through |= {branch.name for _, _, branch in chain if run.through}
    if not layout.nodes:
        _lay_in_rows(layout, branches)
    _hang(layout, branches, stub)
    for branch in branches:
        if branch.name not in layout.paths:
            layout.join(branch, sketch.line or _letter(branch.a) or _letter(branch.b))
    for node in sorted(known - set(layout.nodes)):
        layout.nodes[node] = _beside((200.0, sketch.height / 2), layout.nodes.values(), stub)
    return layout


def _lay(layout: Layout, chain: Sequence[tuple[str, str, Branch]], path: Path, letter: str) -> None:
    """Lay a chain along a path, each branch taking as much of it."""
    if chain:
        layout.strands.append(Strand(letter, path))
    for number, (a, b, branch) in enumerate(chain):
        piece = path.piece(number / len(chain), (number + 1) / len(chain))
        layout.nodes.setdefault(a, piece.start)
        layout.nodes.setdefault(b, piece.end)
        layout.paths[branch.name] = piece if branch.a == a else piece.turned()
        layout.letters[branch.name] = letter


def _chain(branches: Sequence[Branch], start: str, end: str) -> list[tuple[str, str, Branch]]:
    """Return the shortest chain from `start` to `end` as (node, next node, branch); empty where there is none."""
    came: dict[str, tuple[str, Branch] | None] = {start: None}
    waiting = deque([start])
    while waiting and end not in came:
        here = waiting.popleft()
        for branch in branches:
            if here in {branch.a, branch.b}:
                there = branch.b if branch.a == here else branch.a
                if there not in came:
                    came[there] = (here, branch)
                    waiting.append(there)
    chain = []
    step = came.get(end)
    while step:
        chain.append((step[0], end, step[1]))
        end = step[0]
        step = came[end]
    return chain[::-1]


def _lay_in_rows(layout: Layout, branches: Sequence[Branch]) -> None:
    """Give every node a row by its line letter and a rank by its distance along the item."""
    ranks: dict[str, int] = {}
    for branch in branches:
        if branch.a not in ranks and branch.b not in ranks:
            ranks[branch.a] = 0
        ranks.setdefault(branch.b, ranks.get(branch.a, 0) + 1)
        ranks.setdefault(branch.a, ranks[branch.b] + 1)
    taken: set[Place] = set()
    for node, rank in ranks.items():
        x, y = FIRST_RANK + RANK_STEP * rank, ROWS[_letter(node)]
        while (x, y) in taken:
            y += RANK_STEP
        taken.add((x, y))
        layout.nodes[node] = (x, y)


def _hang(layout: Layout, branches: Sequence[Branch], stub: float) -> None:
    """Place what is left beside its neighbours, from what is placed outwards."""
    left = [branch for branch in branches if not (branch.a in layout.nodes and branch.b in layout.nodes)]
    while left:
        branch = next((b for b in left if b.a in layout.nodes or b.b in layout.nodes), left[0])
        near, far = (branch.a, branch.b) if branch.a in layout.nodes else (branch.b, branch.a)
        place = layout.nodes.setdefault(near, (stub, stub))
        layout.nodes[far] = _beside(place, [*layout.nodes.values(), *_middles(layout)], stub)
        left = [branch for branch in left if not (branch.a in layout.nodes and branch.b in layout.nodes)]


def _middles(layout: Layout) -> list[Place]:
    return [path.at(0.5) for path in layout.paths.values()]


def _beside(place: Place, taken: Iterable[Place], stub: float) -> Place:
    """Return the place `stub` units from `place` that lies furthest from what is `taken`."""
    others = [other for other in taken if other != place]
    turns = [turn * math.tau / 16 for turn in range(16)]
    tries = [(place[0] + stub * math.cos(turn), place[1] + stub * math.sin(turn)) for turn in turns]
    inside = [(x, y) for x, y in tries if stub / 2 < x < 400 - stub / 2 and y > stub / 2] or tries
    return max(inside, key=lambda spot: round(closest(spot, others), 3))


def _letter(node: str) -> str:
    """Return the line letter in the name of a node, or ""."""
    found = _LETTER.search(node.partition(".")[2])
    return found[1].upper() if found else ""
