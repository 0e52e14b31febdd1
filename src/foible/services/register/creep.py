"""Readings of one quantity over time in; out, how it creeps towards its limit, and when it will probably get there.

A straight line is fitted by least squares. That the next reading at a time t passes the limit is judged by the prediction
interval of the fit, m + b·(t − t̄) ± q·s·√(1 + 1/n + (t − t̄)² / S), with Student's t of n − 2 degrees of freedom
(Draper & Smith, Applied Regression Analysis, 3rd ed. 1998, 1.4 and 3.2). Wear is seldom straight for long: it is said no further
ahead than twice as far as the readings reach back.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = ["Creep", "creep_of", "student_quantile"]

LEAST = 4
"""Readings below which nothing is said."""
CHANCE = 0.9
"""Of the interval in which the limit is passed."""
AHEAD = 2.0
"""How far ahead anything is said, in lengths of what the readings cover; judgement, no source."""
DAY_S = 86400.0


@dataclass(frozen=True)
class Creep:
    """A straight line through readings, and where it leads."""

    per_year: float
    """Slope [unit/year]."""
    towards: float
    """Chance that it creeps towards the limit at all, rather than away."""
    crossing: datetime | None
    """When the line meets the limit; None where it leads away, or is too far ahead to say."""
    earliest: datetime | None
    """When the nearer end of the 90 % prediction interval meets it."""
    latest: datetime | None
    """When the farther end does; None where that may never be, or is too far ahead to say."""
    line: tuple[tuple[datetime, float], tuple[datetime, float]]
    """The ends of the line, over the readings."""


def creep_of(readings: Sequence[tuple[datetime, float]], limit: float, *, above: bool) -> Creep | None:
    """Return how readings creep towards a limit, which is passed `above` it or below it.

    None where there are fewer than four, all at one time, or where the last of them has passed it already.
    """
    times = [at.timestamp() / DAY_S for at, _ in readings]
    values = [value if above else 2 * limit - value for _, value in readings]  # below a limit is above its mirror image
    count = len(values)
    if count < LEAST or max(times) == min(times) or values[-1] > limit:
        return None
    mid, mean = math.fsum(times) / count, math.fsum(values) / count
    spread = math.fsum((t - mid) ** 2 for t in times)
    slope = math.fsum((t - mid) * (v - mean) for t, v in zip(times, values, strict=True)) / spread
    over = math.fsum((v - mean - slope * (t - mid)) ** 2 for t, v in zip(times, values, strict=True))
    deviation = math.sqrt(over / (count - 2))
    last, reach = max(times), max(times) - min(times)
    band = _Band(mid, mean, slope, deviation * student_quantile((1 + CHANCE) / 2, count - 2), count, spread)
    error = deviation / math.sqrt(spread)
    towards = student_chance(slope / error, count - 2) if error else float(slope > 0)
    ends = tuple((_moment(t), _seen(mean + slope * (t - mid), limit, above=above)) for t in (min(times), last))
    return Creep(
        per_year=slope * 365.25 * (1 if above else -1),
        towards=towards,
        crossing=_date(band.meets(limit, 0, last, reach)),
        earliest=_date(band.meets(limit, 1, last, reach)),
        latest=_date(band.meets(limit, -1, last, reach)),
        line=(ends[0], ends[1]),
    )


@dataclass(frozen=True)
class _Band:
    """A line with its prediction interval."""

    mid: float
    mean: float
    slope: float
    half: float
    count: int
    spread: float

    def at(self, t: float, side: int) -> float:
        """Return the line (side 0), or the upper or lower end of the interval, at a time [day]."""
        away = t - self.mid
        return self.mean + self.slope * away + side * self.half * math.sqrt(1 + 1 / self.count + away * away / self.spread)

    def meets(self, limit: float, side: int, last: float, reach: float) -> float | None:
        """Return when one of them meets a limit, from the last reading on, `AHEAD` times as far as they reach back [day]."""
        if self.at(last, side) >= limit:
            return last
        low, high = last, last + AHEAD * reach
        if self.at(high, side) < limit:
            return None
        for _ in range(60):  # halved 60 times, a lifetime is less than a microsecond
            middle = (low + high) / 2
            low, high = (low, middle) if self.at(middle, side) >= limit else (middle, high)
        return high


def student_chance(t: float, freedom: int) -> float:
    """Return the chance of a value below `t` by Student's distribution (Abramowitz & Stegun 1964, 26.7.3 and 26.7.4)."""
    angle = math.atan2(t, math.sqrt(freedom))
    cos2 = math.cos(angle) ** 2
    term, total = (math.cos(angle), 0.0) if freedom % 2 else (1.0, 0.0)
    for k in range(freedom // 2):
        total += term
        term *= cos2 * ((2 * k + 2) / (2 * k + 3) if freedom % 2 else (2 * k + 1) / (2 * k + 2))
    within = (angle + math.sin(angle) * total) * 2 / math.pi if freedom % 2 else math.sin(angle) * total
    return (1 + within) / 2


def student_quantile(chance: float, freedom: int) -> float:
    """Return the value below which Student's distribution has this chance, which is more than a half."""
    low, high = 0.0, 1.0
    while student_chance(high, freedom) < chance:
        low, high = high, high * 2
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if student_chance(middle, freedom) < chance else (low, middle)
    return high


def _seen(value: float, limit: float, *, above: bool) -> float:
    return value if above else 2 * limit - value


def _moment(days: float) -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=days)


def _date(days: float | None) -> datetime | None:
    return None if days is None else _moment(days)
