"""Sketch files in; how each kind of item looks and where its lines run out, as plain values."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path as File
from typing import Literal

from pydantic import Field

from foible.drawing.outlined import Outline
from foible.kit import plain
from foible.tomlfile import Strict, read_model

__all__ = ["Label", "Outline", "Run", "Sketch", "sketch_for"]

Spot = tuple[float, float]


class Run(Strict):
    """Where a chain of branches lies: the shortest chain between two nodes, its nodes set evenly along a path."""

    ends: tuple[str, str]
    """Names of nodes within the item; {x} stands for the letter of each of `lines` in lower case."""
    d: str
    lines: str
    """Letters of the lines that lie side by side, such as “ABC”, the first on the left of the direction; or one letter."""
    gap: float = 0
    """Distance of neighbouring lines."""
    through: bool = False
    """Whether the current runs through metal or cloth here, so that there is no wire to be seen."""


class Label(Strict):
    """Where the name of an item is written."""

    text: str
    at: Spot
    anchor: Literal["start", "middle", "end"] = "middle"
    badge: Literal["below", "after"] = "below"
    """Where its suspicion is written, if nothing is written there."""
    tie: Spot | None = None
    """The place that a thin stroke leads to from the name."""


class Sketch(Strict):
    """The picture of one kind of item."""

    outline: tuple[Outline, ...] = ()
    run: tuple[Run, ...] = ()
    nodes: dict[str, Spot] = Field(default_factory=dict)
    """Where single nodes lie; a node that is named nowhere is put beside its neighbour."""
    spots: dict[str, Spot] = Field(default_factory=dict)
    """Where parts lie, by the name of the part; others lie on their branch, or where their failures bite."""
    line: str = ""
    """The letter of lines that no run gives."""
    label: Label | None = None
    height: float = 200
    top: float = 4
    """Where the columns of names begin."""
    about: str = ""
    """What the drawing shows that a reader may not expect, such as that it is opened."""


class SketchBook(Strict):
    """All sketches of one zoom, by kind of item or by kind and weapon, such as “weapon foil”."""

    sketch: dict[str, Sketch]


_NOTHING = Sketch()


def sketch_for(zoom: Literal["strip", "item"], kind: str, weapon: str) -> Sketch:
    """Return the sketch of a kind of item; an empty one where the data have none."""
    book = _book(zoom).sketch
    return book.get(f"{kind} {plain(weapon)}") or book.get(kind, _NOTHING)


@cache
def _book(zoom: str) -> SketchBook:
    """Return the sketches of all files of a zoom."""
    folder = File(str(files("foible.drawing") / "data" / zoom))
    books = [read_model(SketchBook, file) for file in sorted(folder.glob("*.toml"))]
    return SketchBook(sketch={name: sketch for book in books for name, sketch in book.sketch.items()})
