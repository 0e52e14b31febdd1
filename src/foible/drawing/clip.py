"""Paths and a window in; what of them lies within it out."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from foible.drawing.path import Path, Rectangle

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.drawing.path import Place

__all__ = ["clipped"]

LEAST = 3
"""Corners of an area."""


def clipped(path: Path, window: Rectangle) -> list[Path]:
    """Return the pieces of a path within a window: of a closed path its area, of an open one its strokes.

    Areas are cut edge by edge (Sutherland and Hodgman, Reentrant polygon clipping, 1974), strokes by their parameter (Liang and
    Barsky, A new concept and method for line clipping, 1984).
    """
    area = Rectangle.around(path.places)
    if window.holds(area):
        return [path]
    if not window.grown(0.1).meets(area.grown(0.1)):
        return []
    return _area(path, window) if path.start == path.end else _strokes(path, window)


def _area(path: Path, window: Rectangle) -> list[Path]:
    places = list(path.places[:-1])
    for axis, edge, sign in ((0, window.left, 1), (0, window.right, -1), (1, window.top, 1), (1, window.bottom, -1)):
        places = _cut(places, lambda p, axis=axis, edge=edge, sign=sign: sign * (p[axis] - edge))  # type: ignore[misc]
    return [Path((*places, places[0]))] if len(places) >= LEAST else []


def _cut(places: list[Place], inside: Callable[[Place], float]) -> list[Place]:
    """Return a polygon's part on the inner side of one edge; `inside` is the distance from it."""
    kept: list[Place] = []
    for before, here in zip([*places[-1:], *places[:-1]], places, strict=True):
        a, b = inside(before), inside(here)
        if (a < 0) != (b < 0):
            share = a / (a - b)
            kept.append((before[0] + share * (here[0] - before[0]), before[1] + share * (here[1] - before[1])))
        if b >= 0:
            kept.append(here)
    return kept


def _strokes(path: Path, window: Rectangle) -> list[Path]:
    pieces: list[list[Place]] = []
    for a, b in pairwise(path.places):
        ends = _segment(a, b, window)
        if ends is None:
            continue
        if pieces and pieces[-1][-1] == ends[0]:
            pieces[-1].append(ends[1])
        else:
            pieces.append(list(ends))
    return [Path(tuple(piece)) for piece in pieces]


def _segment(a: Place, b: Place, window: Rectangle) -> tuple[Place, Place] | None:
    first, last = 0.0, 1.0
    dx, dy = b[0] - a[0], b[1] - a[1]
    for step, room in (
        (-dx, a[0] - window.left),
        (dx, window.right - a[0]),
        (-dy, a[1] - window.top),
        (dy, window.bottom - a[1]),
    ):
        if step == 0:
            if room < 0:
                return None
        elif step < 0:
            first = max(first, room / step)
        else:
            last = min(last, room / step)
    if first >= last:
        return None
    start = a if first == 0 else (a[0] + first * dx, a[1] + first * dy)
    return start, b if last == 1 else (a[0] + last * dx, a[1] + last * dy)
