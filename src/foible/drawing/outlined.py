"""The shapes of a sketch file in, paths out: boxes, discs, coils and turned things are a line of data each."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Literal

from pydantic import model_validator

from foible.drawing.path import CACHED, Path, Place, outlines
from foible.tomlfile import Strict

__all__ = ["AXIS", "Outline", "drawn_paths"]

AXIS = 200.0
"""The upright line about which turned things are drawn."""
ARC_STEPS = 5
COIL_LEAN = 0.5
"""How far each turn of a coil leans, in turns."""
Look = Literal["body", "cloth", "metal", "bright", "edge", "fine", "axis", "faint", "dark", "rubber", "mesh"]
Four = tuple[float, float, float, float]
Five = tuple[float, float, float, float, float]


class Outline(Strict):
    """One stroke or one filled shape of a sketch, said in one of six ways."""

    d: str = ""
    """SVG path data, absolute M L Q C Z."""
    half: str = ""
    """The right half of something turned on the axis, from its top to its bottom; the left is its mirror image."""
    box: Four | None = None
    """Left, top, right, bottom."""
    disc: Four | None = None
    """Middle and half axes."""
    coil: Five | None = None
    """A spring seen from the side: middle, top, bottom, radius, turns."""
    thread: Five | None = None
    """The strokes of a screw thread: left, top, right, bottom, turns."""
    radius: float = 0
    """Of a box's corners."""
    twin: bool = False
    """Whether the mirror image about the axis is drawn as well."""
    look: Look = "body"
    hatch: bool = False
    """Whether suspicion of the item is hatched into it."""
    part: str = ""
    """The part of the item that it shows, by its name without side; suspicion of the part is marked in it."""
    having: str = ""
    """A part that the item has if this is to be drawn."""

    @model_validator(mode="after")
    def _one_way(self) -> Outline:
        ways = [way for way in ("d", "half", "box", "disc", "coil", "thread") if getattr(self, way)]
        if len(ways) != 1:
            msg = f"say one of d, half, box, disc, coil and thread; here {len(ways)} of them"
            raise ValueError(msg)
        return self

    @property
    def stroked(self) -> bool:
        """Whether it is a stroke that encloses nothing."""
        return bool(self.coil or self.thread) or self.look in {"edge", "fine", "axis"}


def drawn_paths(outline: Outline) -> tuple[Path, ...]:
    """Return the paths of an outline, a closed one ending where it began."""
    paths = _paths(outline)
    return (*paths, *(path.mirrored(2 * AXIS) for path in paths)) if outline.twin else paths


@lru_cache(CACHED)
def _paths(outline: Outline) -> tuple[Path, ...]:
    if outline.half:
        (right,) = outlines(outline.half)
        return (Path((*right.places, *right.mirrored(2 * AXIS).places[::-1], right.start)),)
    if outline.box:
        return (_boxed(outline.box, outline.radius),)
    if outline.disc:
        x, y, across, down = outline.disc
        turns = [k * math.tau / 24 for k in range(24)]
        places = [(x + across * math.cos(turn), y + down * math.sin(turn)) for turn in turns]
        return (Path((*places, places[0])),)
    if outline.coil:
        return (_coiled(outline.coil),)
    if outline.thread:
        return tuple(_threaded(outline.thread))
    return outlines(outline.d)


def _boxed(box: Four, radius: float) -> Path:
    left, top, right, bottom = box
    if not radius:
        return Path(((left, top), (right, top), (right, bottom), (left, bottom), (left, top)))
    places: list[Place] = []
    corners = ((right - radius, top + radius), (right - radius, bottom - radius), (left + radius, bottom - radius))
    for number, (x, y) in enumerate((*corners, (left + radius, top + radius))):
        start = -math.pi / 2 + number * math.pi / 2
        turns = (start + step * math.pi / 2 / ARC_STEPS for step in range(ARC_STEPS + 1))
        places += [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]
    return Path((*places, places[0]))


def _coiled(coil: Five) -> Path:
    """Return the wire of a spring: its front strokes lean, its back strokes join them."""
    x, top, bottom, radius, turns = coil
    pitch = (bottom - top) / turns
    places: list[Place] = [(x - radius, top), (x + radius, top)]
    for turn in range(round(turns)):
        low = top + turn * pitch
        places += [(x - radius, low + COIL_LEAN * pitch), (x + radius, low + pitch)]
    return Path((*places, (x - radius, bottom)))


def _threaded(thread: Five) -> list[Path]:
    left, top, right, bottom, turns = thread
    pitch = (bottom - top) / turns
    return [Path(((left, top + (turn + 0.7) * pitch), (right, top + (turn + 0.2) * pitch))) for turn in range(round(turns))]
