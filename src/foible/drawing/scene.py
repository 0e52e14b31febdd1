"""Sketches and a layout in; what lies where in one picture out: figures, their lines, and where things are pointed at."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.drawing.outlined import drawn_paths
from foible.drawing.path import Path, Place, Rectangle

if TYPE_CHECKING:
    from collections.abc import Collection

    from foible.drawing.layout import Layout
    from foible.drawing.sketches import Sketch
    from foible.kit import Part, Setup

__all__ = ["SETUPS", "Figure", "Scene", "part_place"]

WIDTH = 400.0
SETUPS = 16
"""Set-ups whose drawings stay in memory, as many as `kit` holds."""


@dataclass
class Figure:
    """One item as it is drawn."""

    item: str
    sketch: Sketch
    mirrored: bool
    shapes: list[tuple[str, Path]]
    """Look and outline of each filled shape and stroke."""
    hatchings: list[Path]
    """Outlines that suspicion is hatched into."""
    cable: Path | None
    """The middle of a thing that is all line."""
    middle: Place
    part_paths: dict[str, list[tuple[bool, Path]]] = field(default_factory=dict)
    """By the name of a part: whether it is a mere stroke, and its path."""

    @property
    def rims(self) -> list[Path]:
        """What a ring around the item follows."""
        return self.hatchings or ([self.cable] if self.cable else [])


@dataclass
class Scene:
    """A whole picture before it is inked."""

    width: float
    height: float
    layout: Layout
    figures: dict[str, Figure]
    spots: dict[str, Place] = field(default_factory=dict)
    """Where parts are pointed at."""


def figure(item: str, sketch: Sketch, layout: Layout, *, have: Collection[str] = (), mirrored: bool = False) -> Figure:
    """Return the figure of one item that has the parts `have`, of which `layout` holds the lines as they lie on paper."""
    shapes: list[tuple[str, Path]] = []
    hatchings: list[Path] = []
    part_paths: dict[str, list[tuple[bool, Path]]] = {}
    for outline in sketch.outline:
        if outline.having and outline.having not in have:
            continue
        for path in drawn_paths(outline):
            turned = path.mirrored(WIDTH) if mirrored else path
            shapes.append((outline.look, turned))
            if outline.hatch:
                hatchings.append(turned)
            if outline.part:
                part_paths.setdefault(outline.part, []).append((outline.stroked, turned))
    cable = _core(layout) if not hatchings else None
    if hatchings:
        middle = Rectangle.around(place for path in hatchings for place in path.places).middle
    elif cable:
        middle = cable.at(0.5)
    else:
        middle = next(iter(layout.nodes.values()), (WIDTH / 2, sketch.height / 2))
    return Figure(item, sketch, mirrored, shapes, hatchings, cable, middle, part_paths)


def _core(layout: Layout) -> Path | None:
    """Return the middle line of a cable: B where it has one, or else the longest."""
    middle = [strand.path for strand in layout.strands if strand.letter == "B"] or [strand.path for strand in layout.strands]
    return max(middle, key=lambda path: path.length, default=None)


def part_place(setup: Setup, layout: Layout, part: Part, drawn: Figure) -> Place | None:
    """Return where a part lies: where the sketch says, in its shape, on its branch, or where its failures bite; None if nowhere.

    Of a part that is drawn several times, such as two screws, the first is meant.
    """
    if part.name in drawn.sketch.spots:
        return drawn.sketch.spots[part.name]
    if part.name in drawn.part_paths:
        return Rectangle.around(drawn.part_paths[part.name][0][1].places).middle
    if part.id in layout.paths:
        return layout.paths[part.id].at(0.5)
    bites = [place for failure in _failures(setup).get(part.id, []) for place in failure if place in layout.nodes]
    branches = [name for name in _branches(setup).get(part.id, []) if name in layout.paths]
    places = [layout.nodes[node] for node in bites] + [layout.paths[name].at(0.5) for name in branches]
    if not places:
        return None
    return sum(x for x, _ in places) / len(places), sum(y for _, y in places) / len(places)


@lru_cache(maxsize=SETUPS)
def _failures(setup: Setup) -> dict[str, list[tuple[str, ...]]]:
    """Return by part the nodes that its failures join."""
    nodes: dict[str, list[tuple[str, ...]]] = {}
    for failure in setup.failures.values():
        nodes.setdefault(failure.part, []).extend(failure.joins)
    return nodes


@lru_cache(maxsize=SETUPS)
def _branches(setup: Setup) -> dict[str, list[str]]:
    """Return by part the branches that its failures raise, hold or exchange."""
    names: dict[str, list[str]] = {}
    for failure in setup.failures.values():
        bitten = (*failure.raises, *failure.sets, *(failure.exchange or ()))
        names.setdefault(failure.part, []).extend(bitten)
    return names
