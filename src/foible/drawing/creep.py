"""Readings over time in; out, a small plot of how they creep towards their limit, as SVG."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

__all__ = ["creep_svg"]

WIDE, HIGH = 358.0, 150.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 12.0, 14.0, 26.0
"""Margins."""
LETTERING = 12.5
AIR = 0.12
"""Free room above and below what is drawn, of its height."""


def creep_svg(
    points: Sequence[tuple[datetime, float]],
    limit: float,
    unit: str,
    *,
    line: tuple[tuple[datetime, float], tuple[datetime, float]] | None = None,
    crossing: datetime | None = None,
) -> str:
    """Return a plot of values by date with their limit, the straight line through them, and where it meets the limit."""
    ends = [*(line or ()), *([(crossing, limit)] if crossing else [])]
    at = _Scale([when.timestamp() for when, _ in (*points, *ends)], [value for _, value in (*points, *ends)] + [limit])
    dots = "".join(f'<circle class="rg-dot" cx="{at.x(when):.1f}" cy="{at.y(value):.1f}" r="3.2"/>' for when, value in points)
    drawn = [f'<path class="rg-limit" d="M{LEFT:g} {at.y(limit):.1f}H{WIDE - RIGHT:g}"/>']
    if line:
        (first, low), (last, high) = line
        drawn.append(f'<path class="rg-line" d="M{at.x(first):.1f} {at.y(low):.1f}L{at.x(last):.1f} {at.y(high):.1f}"/>')
        if crossing:
            ahead = f"M{at.x(last):.1f} {at.y(high):.1f}L{at.x(crossing):.1f} {at.y(limit):.1f}"
            drawn.append(f'<path class="rg-ahead" d="{ahead}"/>')
    dates = [points[0][0], crossing or points[-1][0]]
    words = _text(LEFT - 4, at.y(limit) + 4, f"{limit:g}", "end") + _text(2, TOP + 2, unit, "start")
    words += _text(LEFT, HIGH - 6, f"{dates[0]:%b %Y}", "start") + _text(WIDE - RIGHT, HIGH - 6, f"{dates[1]:%b %Y}", "end")
    title = f"{len(points)} readings, the latest {points[-1][1]:g} {unit}, limit {limit:g} {unit}"
    frame = f'<path class="rg-frame" d="M{LEFT:g} {TOP:g}V{HIGH - BOTTOM:g}H{WIDE - RIGHT:g}"/>'
    head = f'<svg class="rg-plot" role="img" viewBox="0 0 {WIDE:g} {HIGH:g}" aria-label="{escape(title)}">'
    return f"{head}<title>{escape(title)}</title>{frame}{''.join(drawn)}{dots}{words}</svg>"


class _Scale:
    """Where moments and values lie in the plot."""

    def __init__(self, times: Sequence[float], values: Sequence[float]) -> None:
        self._times = min(times), max(max(times) - min(times), 1.0)
        span = max(max(values) - min(values), abs(max(values)) * 0.05, 1e-9)
        self._values = min(values) - AIR * span, span * (1 + 2 * AIR)

    def x(self, when: datetime) -> float:
        return LEFT + (when.timestamp() - self._times[0]) / self._times[1] * (WIDE - LEFT - RIGHT)

    def y(self, value: float) -> float:
        return HIGH - BOTTOM - (value - self._values[0]) / self._values[1] * (HIGH - TOP - BOTTOM)


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return (
        f'<text class="rg-text" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{LETTERING:g}">{escape(words)}</text>'
    )
