"""A place in; out, a small mark of what is done there: looked at, turned, pulled, bent, held."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from foible.drawing.path import Path
from foible.drawing.svg import element
from foible.drawing.way import chevron

if TYPE_CHECKING:
    from foible.drawing.path import Place

__all__ = ["arrow", "lens", "motion", "strokes", "ticked", "turning"]

PULL, HEAD = 46.0, 9.0
"""Length of an arrow, and of its head."""


def turning(at: Place, radius: float) -> str:
    """Return a curved double arrow over a place."""
    places = tuple(
        (at[0] + radius * math.cos(turn), at[1] + radius * math.sin(turn))
        for turn in (math.radians(200 + 20 * k) for k in range(8))
    )
    path = Path(places)
    heads = chevron(path.end, path.heading(1.0), 6) + chevron(path.start, path.heading(0.0) + math.pi, 6)
    return element("path", d=path.data + heads, class_="fd-do")


def strokes(places: list[Place]) -> str:
    """Return path data through places."""
    return Path(tuple(places)).data


def lens(at: Place, radius: float) -> str:
    """Return a magnifier over a place."""
    (x, y), rim, end = at, 0.7 * radius, 1.7 * radius
    handle = strokes([(x + rim, y + rim), (x + end, y + end)])
    return element("circle", cx=x, cy=y, r=radius, class_="fd-do") + element("path", d=handle, class_="fd-do fd-handle")


def ticked(at: Place, radius: float) -> str:
    """Return a tick beside a place."""
    (x, y), arm = at, 0.6 * radius
    tick = strokes([(x - arm, y), (x - 0.1 * radius, y + 0.5 * radius), (x + arm, y - arm)])
    return element("circle", cx=x, cy=y, r=radius, class_="fd-tool") + element("path", d=tick, class_="fd-do")


def arrow(start: Place, end: Place) -> str:
    """Return a straight arrow."""
    path = Path((start, end))
    return element("path", d=path.data + chevron(end, path.heading(1.0), HEAD), class_="fd-do fd-strong")


def motion(verb: str, at: Place, outward: int) -> str:
    """Return the mark of a movement such as “tug” at a place; `outward` is −1 where the thing pulled leads up, 1 where down."""
    x, y = at
    match verb:
        case "tug" | "pull" | "run":
            return arrow((x + 16, y), (x + 16, y + outward * PULL)) + arrow((x - 16, y), (x - 16, y + outward * PULL))
        case "bend":
            return _bent(at, -1) + _bent(at, 1)
        case "beat" | "tap" | "bury":
            return arrow((x - PULL, y - 12), (x - 12, y - 12)) + arrow((x - PULL, y + 12), (x - 12, y + 12))
        case "hold":
            return arrow((x - PULL, y), (x - 12, y)) + arrow((x + PULL, y), (x + 12, y))
        case "wet":
            drops = ((x - 12, y - 18), (x + 4, y - 26), (x + 16, y - 14))
            return "".join(element("path", d=_drop(drop), class_="fd-do") for drop in drops)
        case _:
            return turning(at, 22)


def _bent(at: Place, side: int) -> str:
    x, y = at
    turns = [math.radians(200 + 14 * step) for step in range(6)]
    places = [(x + side * (24 - 16 * math.cos(turn) - 16), y + 30 * math.sin(turn) + 14) for turn in turns]
    path = Path(tuple(places[::-1]))
    return element("path", d=path.data + chevron(path.end, path.heading(1.0), HEAD), class_="fd-do fd-strong")


def _drop(at: Place) -> str:
    x, y = at
    return f"M{x:.1f} {y:.1f}C{x - 8:.1f} {y + 12:.1f} {x + 8:.1f} {y + 12:.1f} {x:.1f} {y:.1f}"
