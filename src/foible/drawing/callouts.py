"""Names and the places they mean in; out, names in two columns beside a drawing, each with its leader line, none on another."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.drawing.ink import badge
from foible.drawing.path import Path, Rectangle, distance, toward
from foible.drawing.svg import ASCENT, DESCENT, boldness, element, text_width, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from foible.drawing.path import Place
    from foible.drawing.svg import Sheet

__all__ = ["COLUMN", "EDGE", "TEXT", "WIDTH", "Callout", "Note", "columns", "draw_callout"]

WIDTH = 400.0
AXIS = WIDTH / 2
EDGE = 3.0
COLUMN = 116.0
"""Width of a column of names."""
TEXT, LEADING = 12.6, 14.6
"""Size of lettering, which is 11 CSS pixels where the picture is 350 wide, and the distance of its lines."""
LEAST = 27.0
"""Least height of a name, to be touched: 24 CSS pixels where the picture is 358 wide (WCAG 2.2, criterion 2.5.8)."""
PILL = 17.0
GAP = 3.0
NECK = 5.0
"""How far a leader line runs straight before it turns."""
UNDECIDED = 8.0
"""Places no further than this from the axis are named on either side."""


@dataclass(frozen=True, slots=True)
class Note:
    """Something that is named on a drawing."""

    words: str
    at: Place
    key: str = ""
    """The part or item that it is; "" for what is done."""
    class_: str = "fd-text"
    pill: str = ""
    """A figure that goes with the name."""
    reach: float = 2.6
    """The leader line ends this far from the place."""


@dataclass(frozen=True, slots=True)
class Callout:
    """A note with its place in a column."""

    note: Note
    lines: tuple[str, ...]
    left: bool
    box: Rectangle
    """What can be touched."""


def columns(notes: Iterable[Note], top: float, bottom: float) -> list[Callout]:
    """Return the notes in two columns, each as near to the height of its place as its neighbours allow.

    The columns begin at `top`; they reach below `bottom` only where they have to. Names stand in the order of their places, so
    that leader lines cross as little as they can.
    """
    sides: dict[bool, list[Note]] = {True: [], False: []}
    heights = {True: 0.0, False: 0.0}
    ordered = sorted(notes, key=lambda note: (note.at[1], note.at[0], note.words))
    for note in sorted(ordered, key=lambda note: abs(note.at[0] - AXIS) <= UNDECIDED):
        undecided = abs(note.at[0] - AXIS) <= UNDECIDED
        left = heights[True] <= heights[False] if undecided else note.at[0] < AXIS
        sides[left].append(note)
        heights[left] += _height(note)
    _evened(sides, heights)
    return [callout for left, own in sides.items() for callout in _stacked(own, top, bottom, left=left)]


def _evened(sides: dict[bool, list[Note]], heights: dict[bool, float]) -> None:
    """Move the notes nearest to the axis from a column that is far longer than the other."""
    while True:
        longer = heights[True] > heights[False]
        note = min(sides[longer], key=lambda note: abs(note.at[0] - AXIS), default=None)
        if note is None or heights[longer] - heights[not longer] <= 2 * _height(note):
            return
        sides[longer].remove(note)
        sides[not longer].append(note)
        heights[longer] -= _height(note)
        heights[not longer] += _height(note)


def _lines(note: Note) -> list[str]:
    return wrapped(note.words, COLUMN / boldness(note.class_), TEXT)


def _height(note: Note) -> float:
    return max(len(_lines(note)) * LEADING + (PILL if note.pill else 0) + 4, LEAST) + GAP


def _stacked(notes: Sequence[Note], top: float, bottom: float, *, left: bool) -> list[Callout]:
    """Return one column: blocks that touch are pooled, and lie where the mean of their wishes is."""
    ordered = sorted(notes, key=lambda note: (note.at[1], note.words))
    low = max(bottom, top + sum(map(_height, ordered)))
    blocks: list[tuple[float, float, list[Note]]] = []
    for note in ordered:
        start, high, own = min(max(note.at[1] - _height(note) / 2, top), low - _height(note)), _height(note), [note]
        while blocks and blocks[-1][0] + blocks[-1][1] > start:
            before = blocks.pop()
            wish = (before[0] * len(before[2]) + (start - before[1]) * len(own)) / (len(before[2]) + len(own))
            high, own = before[1] + high, [*before[2], *own]
            start = min(max(wish, top), low - high)
        blocks.append((start, high, own))
    made = []
    for start, _, own in blocks:
        y = start
        for note in own:
            edge = EDGE if left else WIDTH - EDGE - COLUMN
            box = Rectangle(edge, y, edge + COLUMN, y + _height(note) - GAP)
            made.append(Callout(note, tuple(_lines(note)), left, box))
            y += _height(note)
    return made


def draw_callout(callout: Callout, sheet: Sheet) -> tuple[str, str]:
    """Return the leader line of a callout, and its name on the ground on which it can be touched."""
    note, box = callout.note, callout.box
    inner = box.right if callout.left else box.left
    away = 1 if callout.left else -1
    middle = box.middle[1]
    widest = max(text_width(line, TEXT, note.class_) for line in callout.lines)
    starts = (inner + 2 * away, middle), (inner + NECK * away, middle)
    end = toward(note.at, starts[1], note.reach) if distance(note.at, starts[1]) > note.reach else note.at
    line = Path((*starts, end))
    leader = element("path", d=line.data, class_="fd-leader-ground") + element("path", d=line.data, class_="fd-leader")
    tall = len(callout.lines) * LEADING + (PILL if note.pill else 0)
    foot = middle - tall / 2 + (LEADING + (ASCENT - DESCENT) * TEXT) / 2
    anchor = "end" if callout.left else "start"
    out = [element("rect", x=box.left, y=box.top, width=COLUMN, height=box.bottom - box.top, class_="fd-touch-ground")]
    if note.class_ == "fd-text fd-chosen-name":
        left = inner - widest - 4 if callout.left else inner - 2
        left, right = max(left, 1.5), min(left + widest + 6, WIDTH - 1.5)
        out.append(element("rect", x=left, y=box.top, width=right - left, height=box.bottom - box.top, rx=4, class_="fd-plate"))
    for number, words in enumerate(callout.lines):
        out.append(sheet.write(words, (inner, foot + number * LEADING), size=TEXT, anchor=anchor, class_=note.class_))
    if note.pill:
        out.append(badge(sheet, note.pill, (inner, foot + len(callout.lines) * LEADING + 1), size=TEXT, anchor=anchor))
    return leader, "".join(out)
