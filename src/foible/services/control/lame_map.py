"""Figures measured square by square on a lamé in; out, where it is dead, what to do about it, and how washing has changed it.

A square fails where its ohms are above the limit of m.28.5.a, with the uncertainty of the meter; holes and oxidised patches
fail a jacket whatever the meter shows (m.28.5.b). A map is kept as a reading of the register: rows of the front beside those
of the back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

from foible.control.conformity import DecisionRule, conformity
from foible.control.shims import tolerance_of
from foible.control.trend import trend_of
from foible.errors import InputError
from foible.rules.requirements import requirements
from foible.services.control.entry import uncertainty_of
from foible.services.control.figures import figure, figure_or_none
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime

    from foible.control.trend import Trend
    from foible.records.register import Reading, RegisteredItem
    from foible.rules.requirements import Requirement

__all__ = ["FACES", "LameMap", "Layout", "MapHistory", "Square", "history_of", "lame_map", "layout_for", "map_typed"]

FACES = ("front", "back")
LAME = "lamé"
OHMS = "[Ω; 9999 where the meter is open]"
"""What a square takes, as a refusal says it."""
CLOSE = 0.05
"""A square between this and the rest to 1 of probability is too close to call."""


class _Advice(Strict):
    patch_squares: int
    patch_places: int
    wash_from: float
    retire_from: float


class _LayoutFile(Strict):
    rows: int
    columns: dict[str, int]
    advice: _Advice


@dataclass(frozen=True)
class Layout:
    """How a jacket is divided: rows and columns of each face."""

    rows: int
    columns: int
    requirement: Requirement

    @property
    def places(self) -> tuple[tuple[str, int, int], ...]:
        """Every square as (face, row, column), from 1 on, as they are typed."""
        return tuple((face, r + 1, c + 1) for face in FACES for r in range(self.rows) for c in range(self.columns))

    def fits(self, rows: Sequence[Sequence[float]] | None) -> bool:
        """Return whether a map is one of this layout."""
        return rows is not None and len(rows) == self.rows and all(len(row) == 2 * self.columns for row in rows)


@dataclass(frozen=True)
class Square:
    """One square of a map."""

    face: str
    row: int
    column: int
    ohms: float
    conforms: float
    """Probability that it keeps the limit."""

    @property
    def state(self) -> str:
        """What it comes to."""
        if CLOSE < self.conforms < 1 - CLOSE:
            return "too close to call"
        return "sound" if self.conforms >= 1 - CLOSE else "dead"

    @property
    def words(self) -> str:
        """Where it is."""
        return f"{self.face}, row {self.row}, column {self.column}"


@dataclass(frozen=True)
class LameMap:
    """What a map says of a jacket."""

    squares: tuple[Square, ...]
    limit: str
    u: float
    """Standard uncertainty of a figure [Ω]."""
    dead: tuple[tuple[Square, ...], ...]
    """Dead squares, those that touch together, the largest place first."""
    conforms: float
    """Probability that every square keeps the limit."""
    failing: tuple[int, int]
    """How many squares are above the limit: ends of the 90 % interval."""
    middle: float
    """The middle figure [Ω]."""
    advice: str
    """“sound”, “patch”, “wash” or “retire”."""
    why: str

    @property
    def share(self) -> float:
        """Share of the squares that are dead."""
        return sum(map(len, self.dead)) / len(self.squares)


@dataclass(frozen=True)
class MapHistory:
    """Maps of one jacket over its washes."""

    points: tuple[tuple[datetime, int, float, int], ...]
    """(when, washes before, middle figure [Ω], dead squares), the oldest first."""
    washes: int
    middle: Trend | None
    """Of the middle figure, over washes where there are any, else from map to map."""
    dead: Trend | None
    """Of the number of dead squares, likewise."""
    over: str
    """“wash” or “map”."""


@lru_cache
def _file() -> _LayoutFile:
    return read_model(_LayoutFile, Path(str(files("foible.services.control") / "data" / "lame-map.toml")))


def layout_for(item: RegisteredItem, edition: str = "fie-2026") -> Layout:
    """Return how a jacket is divided. Raises InputError for an item that is none."""
    known = _file()
    if item.kind != LAME or item.weapon not in known.columns:
        raise InputError(seen=f"{item.code} is no lamé", remedy="open the map of a lamé")
    found = next(
        each for each in requirements(edition, kind=LAME, weapon=item.weapon) if each.has_figure and each.tool == "meter"
    )
    return Layout(known.rows, known.columns[item.weapon], found)


def map_typed(layout: Layout, typed: Mapping[str, str], rest: str) -> tuple[tuple[float, ...], ...]:
    """Return a map as a reading keeps it, from what was typed by square (“front-1-2”) and the highest figure of the rest [Ω].

    Raises InputError for what is no figure, and where squares are empty and nothing is said of the rest.
    """
    other = figure_or_none(rest, f"the rest {OHMS}")
    values = {}
    for face, row, column in layout.places:
        said = typed.get(f"{face}-{row}-{column}", "").strip()
        value = figure(said, f"{face}, row {row}, column {column} {OHMS}") if said else other
        if value is None:
            remedy = "measure it, or sweep the squares left and write the highest figure below"
            raise InputError(seen=f"{face}, row {row}, column {column} is empty", remedy=remedy)
        values[face, row, column] = value
    columns = range(1, layout.columns + 1)
    return tuple(tuple(values[face, row, c] for face in FACES for c in columns) for row in range(1, layout.rows + 1))


def lame_map(layout: Layout, rows: Sequence[Sequence[float]], *, washed: bool) -> LameMap:
    """Return what a map says; `washed` is whether the jacket was washed since its last map, or never fails for want of it."""
    requirement = layout.requirement
    u, _ = uncertainty_of(requirement, ())
    ends = tolerance_of(requirement)
    chances = {
        value: conformity(value, u, ends, rule=DecisionRule.PLAIN).conforms for value in {each for row in rows for each in row}
    }
    squares = tuple(
        Square(face, r, c, ohms := rows[r - 1][c - 1 + FACES.index(face) * layout.columns], chances[ohms])
        for face, r, c in layout.places
    )
    dead = _places([each for each in squares if each.state == "dead"])
    middle = median(each.ohms for each in squares)
    advice, why = _advised(squares, dead, middle / (requirement.upper or math.inf), washed=washed)
    return LameMap(
        squares=squares,
        limit=requirement.text,
        u=u,
        dead=dead,
        conforms=math.prod(each.conforms for each in squares),
        failing=_interval([1 - each.conforms for each in squares]),
        middle=middle,
        advice=advice,
        why=why,
    )


def _places(dead: Sequence[Square]) -> tuple[tuple[Square, ...], ...]:
    """Return squares in groups of those that touch at an edge, the largest first."""
    left, groups = {(each.face, each.row, each.column): each for each in dead}, []
    while left:
        key = next(iter(left))
        group, edge = [], [left.pop(key)]
        while edge:
            at = edge.pop()
            group.append(at)
            near = ((at.face, at.row + dr, at.column + dc) for dr, dc in ((0, 1), (1, 0), (0, -1), (-1, 0)))
            edge += [left.pop(each) for each in near if each in left]
        groups.append(tuple(sorted(group, key=lambda each: (each.row, each.column))))
    return tuple(sorted(groups, key=len, reverse=True))


def _interval(chances: Sequence[float]) -> tuple[int, int]:
    """Return the ends of the 90 % interval of how many of independent events happen (Poisson–binomial, summed exactly)."""
    law = [1.0]
    for chance in chances:
        law = [a * (1 - chance) + b * chance for a, b in zip([*law, 0.0], [0.0, *law], strict=True)]
    total, low, high = 0.0, None, 0
    for count, share in enumerate(law):
        total += share
        if low is None and total > 0.05:  # noqa: PLR2004 — half of what a 90 % interval leaves out
            low = count
        high = count
        if total >= 0.95:  # noqa: PLR2004 — likewise
            break
    return low or 0, high


def _advised(squares: Sequence[Square], dead: Sequence[Sequence[Square]], middle: float, *, washed: bool) -> tuple[str, str]:
    """Return what to do and why; the bounds are judgement and stand in the data."""
    told, count = _file().advice, sum(map(len, dead))
    high = middle > told.wash_from
    if not count:
        close = any(each.state == "too close to call" for each in squares)
        sound = "no square is dead" + (", though some are too close to call: measure those again" if close else "")
        early = "no square is dead, but the whole cloth is on its way to the limit: wash it and measure again"
        return ("wash", early) if high and not washed else ("sound", sound)
    local = len(dead) <= told.patch_places and len(dead[0]) <= told.patch_squares
    if local and (washed or not high):
        return "patch", "what is dead lies close together and the rest is sound: patch it there and measure again"
    if not washed:
        why = "the whole cloth reads high, so dirt and salt may be all it is" if high else "it is dead in more than a patch mends"
        return "wash", f"{why}: wash it and measure again before you give it up"
    many = count / len(squares) > told.retire_from
    where = "over much of it" if many else "in a place too large, or in too many places, for patches"
    return "retire", f"it is dead {where} and a wash has not helped: it may not be used (m.28.5.b)"


def history_of(layout: Layout, readings: Sequence[Reading], washes: Sequence[datetime]) -> MapHistory:
    """Return how maps have changed over washes; readings that are no map of this layout are passed over."""
    points = []
    for each in readings:
        if layout.fits(each.map) and each.map is not None:
            made = lame_map(layout, each.map, washed=True)
            points.append((each.at, sum(when <= each.at for when in washes), made.middle, sum(map(len, made.dead))))
    washed = len({point[1] for point in points}) > 1
    steps = [point[1] if washed else number for number, point in enumerate(points)]
    return MapHistory(
        points=tuple(points),
        washes=len(washes),
        middle=trend_of(steps, [point[2] for point in points]),
        dead=trend_of(steps, [point[3] for point in points]),
        over="wash" if washed else "map",
    )
