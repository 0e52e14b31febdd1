"""SVG path data in; paths in the plane out, to be measured, cut, shifted and hatched."""

from __future__ import annotations

import math
import re
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

__all__ = ["Path", "Place", "Rectangle", "closest", "distance", "hatched", "number", "outlines", "polylines", "toward"]

Place = tuple[float, float]
"""x to the right and y downwards, in units of the picture's viewBox."""

STEPS = 8
"""Straight pieces that stand for one curve."""
MITRE = 0.5
"""A shifted corner moves out by no more than the shift divided by this."""
CACHED = 4096
"""Outlines and hatchings that stay in memory: pictures of one kit repeat them."""
_TOKEN = re.compile(r"[A-Za-z]|-?\d+(?:\.\d+)?")
_TAKES = {"M": 2, "L": 2, "Q": 4, "C": 6, "Z": 0}


@dataclass(frozen=True, slots=True)
class Rectangle:
    """An upright rectangle."""

    left: float
    top: float
    right: float
    bottom: float

    def grown(self, by: float) -> Rectangle:
        """Return the rectangle with a border of `by`."""
        return Rectangle(self.left - by, self.top - by, self.right + by, self.bottom + by)

    def meets(self, other: Rectangle) -> bool:
        """Whether the two have some area in common."""
        return self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom

    def holds(self, other: Rectangle) -> bool:
        """Whether `other` lies within."""
        return self.left <= other.left and other.right <= self.right and self.top <= other.top and other.bottom <= self.bottom

    @property
    def middle(self) -> Place:
        """The centre."""
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    @classmethod
    def around(cls, places: Iterable[Place]) -> Rectangle:
        """Return the least rectangle that holds all `places`, of which there is at least one."""
        xs, ys = zip(*places, strict=True)
        return cls(min(xs), min(ys), max(xs), max(ys))


@dataclass(frozen=True)
class Path:
    """A line through places, two or more."""

    places: tuple[Place, ...]

    @cached_property
    def _lengths(self) -> tuple[float, ...]:
        return tuple(accumulate((distance(a, b) for a, b in pairwise(self.places)), initial=0.0))

    @property
    def length(self) -> float:
        """In units of the picture."""
        return self._lengths[-1]

    @property
    def start(self) -> Place:
        """Where it begins."""
        return self.places[0]

    @property
    def end(self) -> Place:
        """Where it stops."""
        return self.places[-1]

    def at(self, share: float) -> Place:
        """Return the place after `share` of the length."""
        return self._at(share)[1]

    def heading(self, share: float) -> float:
        """Return the direction after `share` of the length [rad], 0 to the right and growing clockwise."""
        number = min(max(self._at(share)[0], 1), len(self.places) - 1)
        (ax, ay), (bx, by) = self.places[number - 1], self.places[number]
        return math.atan2(by - ay, bx - ax)

    def piece(self, first: float, last: float) -> Path:
        """Return what lies between two shares of the length, first < last."""
        start, begin = self._at(first)
        stop, end = self._at(last)
        return Path((begin, *(p for p in self.places[start:stop] if p not in {begin, end}), end))

    def turned(self) -> Path:
        """Return the path from its end to its start."""
        return Path(self.places[::-1])

    def mirrored(self, width: float) -> Path:
        """Return the path seen in a mirror that stands upright in the middle of a picture `width` wide."""
        return Path(tuple((width - x, y) for x, y in self.places))

    def moved(self, scale: float, dx: float, dy: float) -> Path:
        """Return the path scaled and then shifted."""
        return Path(tuple((x * scale + dx, y * scale + dy) for x, y in self.places))

    def beside(self, by: float) -> Path:
        """Return the path shifted sideways by `by`, to the right of its direction."""
        if not by:
            return self
        places = []
        for number, (x, y) in enumerate(self.places):
            before = self.places[max(number - 1, 0)]
            after = self.places[min(number + 1, len(self.places) - 1)]
            first = _normal(before, (x, y)) if number else _normal((x, y), after)
            second = _normal((x, y), after) if number < len(self.places) - 1 else first
            nx, ny = (first[0] + second[0]) / 2, (first[1] + second[1]) / 2
            size = max(math.hypot(nx, ny), MITRE) ** 2
            places.append((x + by * nx / size, y + by * ny / size))
        return Path(tuple(places))

    def between(self, start: Place | None, end: Place | None) -> Path:
        """Return the path with its ends put elsewhere."""
        return Path((start or self.start, *self.places[1:-1], end or self.end))

    @cached_property
    def data(self) -> str:
        """SVG path data."""
        (x, y), *rest = self.places
        return f"M{number(x)} {number(y)}L" + " ".join(f"{number(x)} {number(y)}" for x, y in rest)

    def _at(self, share: float) -> tuple[int, Place]:
        """Return the number of the next place after `share` of the length, and the place at it."""
        wanted = min(max(share, 0.0), 1.0) * self.length
        following = min(bisect_right(self._lengths, wanted), len(self.places) - 1)
        (ax, ay), (bx, by) = self.places[following - 1], self.places[following]
        piece = self._lengths[following] - self._lengths[following - 1]
        part = (wanted - self._lengths[following - 1]) / piece if piece else 0.0
        return following, (ax + part * (bx - ax), ay + part * (by - ay))


def number(value: float) -> str:
    """Return a coordinate to a tenth of a unit, as short as can be."""
    text = f"{value:.1f}"
    return text.removesuffix(".0") if text != "-0.0" else "0"


def distance(a: Place, b: Place) -> float:
    """Return how far two places are apart."""
    return math.hypot(a[0] - b[0], a[1] - b[1])


def toward(a: Place, b: Place, by: float) -> Place:
    """Return the place `by` units from `a` in the direction of `b`."""
    share = by / (distance(a, b) or 1.0)
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def closest(place: Place, places: Iterable[Place]) -> float:
    """Return the distance to the nearest of `places`; infinite where there are none."""
    return min((distance(place, other) for other in places), default=math.inf)


@lru_cache(CACHED)
def outlines(data: str) -> tuple[Path, ...]:
    """Return SVG path data as paths, a closed one ending where it began; M, L, Q, C and Z in absolute units, one set each."""
    return tuple(Path(tuple(places)) for places in polylines(data))


def polylines(data: str) -> Iterator[list[Place]]:
    """Yield the places of each subpath of SVG path data."""
    places: list[Place] = []
    tokens = _TOKEN.findall(data)
    position, command = 0, ""
    while position < len(tokens):
        if tokens[position] in _TAKES:
            command, position = tokens[position], position + 1
        values = [float(token) for token in tokens[position : position + _TAKES[command]]]
        position += _TAKES[command]
        points = list(zip(values[::2], values[1::2], strict=True))
        if command == "M":
            if len(places) > 1:
                yield places
            places, command = points, "L"
        elif command == "Z":
            places.append(places[0])
        else:
            places += _curve(places[-1], points)
    if len(places) > 1:
        yield places


@lru_cache(CACHED)
def hatched(outline: Path, gap: float, slope: float = 1.0) -> str:
    """Return SVG path data of strokes `gap` apart that fill a closed outline; one unit right is `slope` units up."""
    pieces = []
    heights = [y + slope * x for x, y in outline.places]
    step = gap * math.hypot(1.0, slope)
    for turn in range(math.ceil(min(heights) / step), math.floor(max(heights) / step) + 1):
        crossings = sorted(_crossings(outline, turn * step, slope))
        for (ax, ay), (bx, by) in zip(crossings[::2], crossings[1::2], strict=False):
            if bx - ax > 1:
                pieces.append(f"M{number(ax)} {number(ay)}L{number(bx)} {number(by)}")
    return "".join(pieces)


def _crossings(outline: Path, height: float, slope: float) -> Iterator[Place]:
    for (ax, ay), (bx, by) in pairwise(outline.places):
        first, second = ay + slope * ax - height, by + slope * bx - height
        if (first < 0) != (second < 0):
            part = first / (first - second)
            yield ax + part * (bx - ax), ay + part * (by - ay)


def _curve(start: Place, points: list[Place]) -> list[Place]:
    """Return the places that stand for a straight, quadratic or cubic piece after `start`."""
    if len(points) == 1:
        return points
    made = []
    for step in range(1, STEPS + 1):
        level = [start, *points]
        share = step / STEPS
        while len(level) > 1:
            level = [(a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])) for a, b in pairwise(level)]
        made.append(level[0])
    return made


def _normal(a: Place, b: Place) -> Place:
    length = distance(a, b)
    return ((a[1] - b[1]) / length, (b[0] - a[0]) / length) if length else (0.0, 0.0)
