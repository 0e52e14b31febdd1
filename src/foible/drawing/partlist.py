"""Parts in; out, their numbers on a drawing and the list that explains them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.drawing.ink import RING, TICKS, badge
from foible.drawing.marks import percent, strength
from foible.drawing.svg import element, wrapped

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.drawing.marks import Marks
    from foible.drawing.path import Place
    from foible.drawing.svg import Sheet
    from foible.kit import Part

__all__ = ["list_rows", "marker"]

WIDTH = 400.0
COLUMNS = 2
MARGIN = 4.0
INDENT = 42.0
"""From a row's edge to its words: room for the number and the badge."""
TEXT, LEADING = 13.0, 16.0
ROW = 44.0
"""Least height of a row, to be touched; 40 CSS pixels at a width of 390."""
RADIUS = 10.5


def marker(at: Place, count: int, marks: Marks, part: Part, radius: float = RADIUS) -> str:
    """Return the number of a part, ringed the more broadly the more it is suspected."""
    x, y = at
    chance = marks.suspected(part.id)
    parts = []
    if chance is not None:
        degree = strength(chance)
        parts.append(
            element("circle", cx=x, cy=y, r=radius + 4, class_="fd-marker-ticks", stroke_dasharray=TICKS[degree])
            + element("circle", cx=x, cy=y, r=radius + RING[degree] / 2, class_="fd-marker-ring", stroke_width=RING[degree])
        )
    chosen = " fd-chosen" if marks.chosen == part.id else ""
    loose = "" if part.conducts else " fd-loose"
    parts += [
        element("circle", cx=x, cy=y, r=radius, class_=f"fd-marker{loose}{chosen}"),
        element("text", str(count), x=x, y=y + 4.4, font_size=12.5, text_anchor="middle", class_="fd-number"),
    ]
    return "".join(parts)


def list_rows(
    numbered: Sequence[tuple[int, Part]], marks: Marks, sheet: Sheet, *, top: float, columns: int = COLUMNS
) -> tuple[list[str], float]:
    """Return one row for each part, column by column, and how far down the list reaches."""
    each = (WIDTH - MARGIN * (columns + 1)) / columns
    deep = -(-len(numbered) // columns)
    bottoms = [top] * columns
    rows = []
    for rank, (count, part) in enumerate(numbered):
        column = rank // max(deep, 1)
        words = wrapped(part.name, each - INDENT - 4, TEXT)
        height = max(ROW, len(words) * LEADING + 14)
        left = MARGIN + column * (each + MARGIN)
        rows.append(_row(sheet, (count, part), words, marks, (left, bottoms[column], each, height)))
        bottoms[column] += height + 3
    return rows, max(bottoms)


def _row(
    sheet: Sheet, numbered: tuple[int, Part], words: list[str], marks: Marks, frame: tuple[float, float, float, float]
) -> str:
    count, part = numbered
    left, top, width, height = frame
    chance = marks.suspected(part.id)
    plate = "fd-row fd-chosen" if marks.chosen == part.id else "fd-row"
    drawn = [element("rect", x=left, y=top, width=width, height=height, rx=5, class_=plate)]
    if chance is not None:
        drawn.append(_bar(left + INDENT, top + height - 8, (width - INDENT - 6), chance))
    loose = "" if part.conducts else " fd-loose"
    middle = top + (15 if chance is not None else height / 2)
    drawn.append(element("circle", cx=left + 20, cy=middle, r=RADIUS, class_=f"fd-marker{loose}"))
    drawn.append(sheet.write(str(count), (left + 20, middle + 4.4), size=12.5, class_="fd-number"))
    if chance is not None:
        drawn.append(badge(sheet, percent(chance), (left + 20, top + height - 5), size=12))
    first = top + (height - (8 if chance is not None else 0) - (len(words) - 1) * LEADING) / 2 + TEXT * 0.34
    for number, line in enumerate(words):
        drawn.append(
            sheet.write(line, (left + INDENT, first + number * LEADING), size=TEXT, anchor="start", class_="fd-row-text")
        )
    return "".join(drawn)


def _bar(left: float, top: float, width: float, chance: float) -> str:
    """Return a bar of hatching as long as a suspicion is great."""
    ends = f"M{left:.1f} {top + 2.5:.1f}L{left + width * chance:.1f} {top + 2.5:.1f}"
    base = f"M{left:.1f} {top + 5.4:.1f}L{left + width:.1f} {top + 5.4:.1f}"
    return element("path", d=base, class_="fd-bar-base") + element("path", d=ends, class_="fd-bar")
