"""Sketch files in; how each kind of item looks and where its lines run out, as plain values."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path as File
from typing import Literal

from pydantic import Field

from foible.kit import plain
from foible.tomlfile import Strict, read_model

__all__ = ["Label", "Outline", "Run", "Sketch", "sketch_for"]

Look = Literal["body", "cloth", "metal", "edge", "faint", "dark", "mesh"]
Spot = tuple[float, float]


class Outline(Strict):
    """One stroke or one filled shape of a sketch."""

    d: str
    """SVG path data, absolute M L Q C Z."""
    look: Look = "body"
    hatch: bool = False
    """Whether suspicion of the item is hatched into it."""


class Run(Strict):
    """Where a chain of branches lies: the shortest chain between two nodes, its nodes set evenly along a path."""

    ends: tuple[str, str]
    """Names of nodes within the item; {x} stands for the letter of each of `lines` in lower case."""
    d: str
    lines: str
    """Letters of the lines that lie side by side, such as “ABC”, the first on the left of the direction; or one letter."""
    gap: float = 0
    """Distance of neighbouring lines."""


class Label(Strict):
    """Where the name of an item is written."""

    text: str
    at: Spot
    anchor: Literal["start", "middle", "end"] = "middle"
    badge: Literal["below", "after"] = "below"
    """Where its suspicion is written."""
    tie: Spot | None = None
    """The place that a thin stroke leads to from the name."""


class Sketch(Strict):
    """The picture of one kind of item."""

    outline: tuple[Outline, ...] = ()
    run: tuple[Run, ...] = ()
    nodes: dict[str, Spot] = Field(default_factory=dict)
    """Where single nodes lie; a node that is named nowhere is put beside its neighbour."""
    spots: dict[str, Spot] = Field(default_factory=dict)
    """Where parts lie that have no branch, by the name of the part; others lie where their failures bite."""
    stubs: dict[str, Spot] = Field(default_factory=dict)
    """Where the neighbour at a connection is named, by the connection without its side."""
    line: str = ""
    """The letter of lines that no run gives."""
    label: Label | None = None
    height: float = 200


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
    return read_model(SketchBook, File(str(files("foible.drawing") / "data" / f"{zoom}.toml")))
