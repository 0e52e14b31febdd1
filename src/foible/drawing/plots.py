"""Figures in, small plots as SVG out: an interval on a line, causes and their running share, survival over time, answers."""

from __future__ import annotations

import itertools
from math import log
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

__all__ = ["answers_svg", "interval_svg", "pareto_svg", "survival_svg"]

LINE_W, LINE_H = 140.0, 24.0
"""Size of the plot of an interval [px]."""
FARTHEST = 8.0
"""An interval is shown from an eighth to eight times, by its logarithm."""
WIDE, HIGH, EDGE = 340.0, 200.0, 44.0
"""Size of a larger plot, and the room for its words [px]."""
MOST_BARS = 10


def interval_svg(low: float, times: float, high: float, *, label: str) -> str:
    """Return an interval of a multiplier and where in it the best guess lies, with a line at 1; `label` says it in words."""
    left, middle, right, one = (_along(value) for value in (low, times, high, 1.0))
    half = LINE_H / 2
    return (
        f'<svg class="fd fd-plot-line" viewBox="0 0 {LINE_W:g} {LINE_H:g}" role="img" aria-label="{escape(label, _QUOTE)}">'
        f'<line class="fd-axis" x1="{one:.1f}" x2="{one:.1f}" y1="1" y2="{LINE_H - 1:g}"/>'
        f'<line class="fd-plate" x1="{left:.1f}" x2="{right:.1f}" y1="{half:g}" y2="{half:g}"/>'
        f'<circle class="fd-badge" cx="{middle:.1f}" cy="{half:g}" r="4.5"/></svg>'
    )


def pareto_svg(causes: Sequence[tuple[str, int, float]], *, label: str) -> str:
    """Return bars of the commonest causes and the running share; `causes`: name, count, share of it and all commoner ones."""
    shown = causes[:MOST_BARS]
    most, step = max((count for _, count, _ in shown), default=1), (WIDE - 2 * EDGE) / max(len(shown), 1)
    parts, line = [], []
    for place, (name, count, together) in enumerate(shown):
        x, tall = EDGE + place * step, (HIGH - 2 * EDGE) * count / most
        parts.append(
            f'<rect class="fd-metal" x="{x + 2:.1f}" y="{HIGH - EDGE - tall:.1f}" width="{step - 4:.1f}" height="{tall:.1f}">'
            f"<title>{escape(name)}: {count}</title></rect>"
            f'<text class="fd-text" x="{x + step / 2:.1f}" y="{HIGH - EDGE + 15:g}" text-anchor="middle" font-size="12">'
            f"{place + 1}</text>"
        )
        line.append(f"{x + step / 2:.1f},{HIGH - EDGE - (HIGH - 2 * EDGE) * together:.1f}")
    return _framed(
        "".join(parts)
        + f'<polyline class="fd-double" stroke-width="2" points="{" ".join(line)}"/>'
        + _word(EDGE - 6, EDGE + 4, str(most), "end")
        + _word(EDGE - 6, HIGH - EDGE, "0", "end")
        + _word(WIDE - EDGE + 4, EDGE + 4, "100 %", "start"),
        label,
    )


def survival_svg(
    steps: Sequence[tuple[float, float, float, float]], until: float, fitted: Callable[[float], float] | None, *, label: str
) -> str:
    """Return the share that survives over the age, with its interval, and a fitted life as a dashed line.

    `steps`: age [years], share, lower and upper bound, at each failure; `until`: the last age shown [years].
    """
    last = max(until, 1e-6)

    def at(age: float, share: float) -> str:
        return f"{EDGE + (WIDE - 2 * EDGE) * min(age / last, 1):.1f},{HIGH - EDGE - (HIGH - 2 * EDGE) * share:.1f}"

    curves = [_stairs([(0.0, 1.0), *((step[0], step[place]) for step in steps)], last, at) for place in (1, 2, 3)]
    band = f'<polygon class="fd-plot-band" points="{" ".join(curves[2])} {" ".join(reversed(curves[1]))}"/>' if steps else ""
    drawn = f'<polyline class="fd-double" stroke-width="2" points="{" ".join(curves[0])}"/>'
    if fitted:
        points = " ".join(at(last * i / 40, fitted(last * i / 40)) for i in range(41))
        drawn += f'<polyline class="fd-tie" stroke-dasharray="5 4" points="{points}"/>'
    words = _word(EDGE - 6, EDGE + 4, "100 %", "end") + _word(EDGE - 6, HIGH - EDGE + 4, "0", "end")
    years = f"{last:.1f} years"
    return _framed(band + drawn + words + _word(WIDE - EDGE, HIGH - EDGE + 16, years, "end"), label)


def answers_svg(weeks: Sequence[tuple[str, int, int]], *, label: str) -> str:
    """Return what was answered week by week: right ones as full bars, wrong ones as empty ones on top, each with its count.

    `weeks`: name, right, wrong.
    """
    most, step = max((right + wrong for _, right, wrong in weeks), default=0) or 1, (WIDE - 2 * EDGE) / max(len(weeks), 1)
    parts = []
    for place, (name, right, wrong) in enumerate(weeks):
        x, base, scale = EDGE + place * step, HIGH - EDGE, (HIGH - 2 * EDGE) / most
        for sort, count, below in (("fd-plot-right", right, 0), ("fd-plot-wrong", wrong, right)):
            if count:
                y = base - (below + count) * scale
                place_and_size = f'x="{x + 4:.1f}" y="{y:.1f}" width="{step - 8:.1f}" height="{count * scale:.1f}"'
                parts.append(f'<rect class="{sort}" {place_and_size}/>')
                parts.append(_word(x + step / 2, max(y + count * scale / 2 + 4, EDGE + 4), str(count), "middle"))
        parts.append(_word(x + step / 2, base + 15, name, "middle"))
    return _framed("".join(parts), label)


def _stairs(points: Sequence[tuple[float, float]], last: float, at: Callable[[float, float], str]) -> list[str]:
    """Return the corners of a curve that falls in steps."""
    corners = [at(*points[0])]
    for (_, before), (age, share) in itertools.pairwise(points):
        corners += [at(age, before), at(age, share)]
    return [*corners, at(last, points[-1][1])]


_QUOTE = {'"': "&quot;"}


def _framed(inside: str, label: str) -> str:
    base, right = HIGH - EDGE, WIDE - EDGE
    return (
        f'<svg class="fd fd-plot" viewBox="0 0 {WIDE:g} {HIGH:g}" role="img" aria-label="{escape(label, _QUOTE)}">'
        f'<path class="fd-edge" d="M{EDGE:g} {EDGE:g}V{base:g}H{right:g}"/>{inside}</svg>'
    )


def _word(x: float, y: float, text: str, anchor: str) -> str:
    return f'<text class="fd-text" x="{x:g}" y="{y:g}" text-anchor="{anchor}" font-size="11">{escape(text)}</text>'


def _along(times: float) -> float:
    """Return where a multiplier stands on the line."""
    share = 0.5 + log(max(times, 1e-9)) / (2 * log(FARTHEST))
    return 6 + (LINE_W - 12) * min(max(share, 0.0), 1.0)
