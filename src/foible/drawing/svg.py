"""Shapes and words in, SVG text out, with labels that keep clear of one another."""

from __future__ import annotations

from dataclasses import dataclass, field
from html import escape
from itertools import product
from typing import TYPE_CHECKING

from foible.drawing.path import Place, Rectangle, distance, number

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

__all__ = [
    "ASCENT",
    "DESCENT",
    "LEAST_TEXT",
    "Sheet",
    "boldness",
    "element",
    "linked",
    "picture",
    "text_extent",
    "text_width",
    "wrapped",
]

EM_PER_CHARACTER = 0.6
"""Width of a character of common sans-serif faces, a wide guess."""
WIDER = 0.6
"""How much wider than others the per cent sign is, in characters."""
BOLD = 1.14
"""How much wider bold lettering is."""
BOLD_CLASSES = ("fd-do-word", "fd-cut-word", "fd-badge-text", "fd-side", "fd-chosen-name")
ASCENT, DESCENT = 0.82, 0.24
"""Of a line of lettering, in em."""
LEAST_TEXT = 12.5
"""Least size of lettering: 11 CSS pixels where a picture 400 wide is shown 358 wide."""
FAR = 26.0
"""From this distance on, a label is tied to what it names."""
GRID = 12
"""Steps in which a free spot is looked for."""
RINGS = (0, 14, 22, 32, 44, 58, 74, 92)
"""Steps by which a label is moved from its best place, in turn, until it is clear."""
DIRECTIONS = ((0, -1), (0, 1), (1, 0), (-1, 0), (0.8, -0.8), (-0.8, -0.8), (0.8, 0.8), (-0.8, 0.8))


def element(name: str, *children: str, **attributes: str | float | None) -> str:
    """Return an SVG element; `class_` stands for class and underscores for hyphens. Children are SVG text already."""
    said = "".join(
        f' {key.strip("_").replace("_", "-")}="{escape(value) if isinstance(value, str) else number(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{said}>{''.join(children)}</{name}>" if children else f"<{name}{said}/>"


def linked(name: str, words: str, inside: Iterable[str], link: Callable[[str], str | None], **attributes: str | None) -> str:
    """Return drawn things as a link where `link` has an address for `name`, else as a group; `words` are for a screen reader."""
    address = link(name)
    if address is None:
        return element("g", element("title", escape(words)), *inside, **attributes)
    return element("a", element("title", escape(words)), *inside, href=address, aria_label=words, **attributes)


def picture(body: Iterable[str], area: Rectangle, words: str, *, group: bool, class_: str) -> str:
    """Return a whole SVG text that shows an area, read out as `words`; a group where it has links inside."""
    return element(
        "svg",
        *body,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=" ".join(map(number, (area.left, area.top, area.right - area.left, area.bottom - area.top))),
        role="group" if group else "img",
        aria_label=words,
        class_=class_,
    )


def text_width(text: str, size: float, class_: str = "") -> float:
    """Return the width that lettering takes at most."""
    return (len(text) + text.count("%") * WIDER) * size * EM_PER_CHARACTER * boldness(class_)


def boldness(class_: str) -> float:
    """Return how much wider than plain lettering that of a class is."""
    return BOLD if any(name in BOLD_CLASSES for name in class_.split()) else 1.0


def text_extent(text: str, at: Place, size: float, anchor: str = "middle", class_: str = "") -> Rectangle:
    """Return the area of a line of lettering with its foot at `at`."""
    width = text_width(text, size, class_)
    left = at[0] - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    return Rectangle(left, at[1] - ASCENT * size, left + width, at[1] + DESCENT * size)


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Return lines no wider than `width`, broken only between words."""
    lines: list[str] = []
    for word in text.split():
        if lines and text_width(f"{lines[-1]} {word}", size) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


@dataclass
class Sheet:
    """The paper of one picture, which knows where something is written."""

    width: float
    height: float
    taken: list[Rectangle] = field(default_factory=list)
    """Where something is written or numbered."""
    drawn: list[Rectangle] = field(default_factory=list)
    """Where something is drawn that labels should leave clear."""

    def write(self, text: str, at: Place, *, size: float = 12, anchor: str = "middle", class_: str = "fd-text") -> str:
        """Return a label with its baseline at `at`."""
        self.taken.append(text_extent(text, at, size, anchor, class_))
        return _lettering(text, at, size, anchor, class_)

    def write_near(
        self, text: str, at: Place, *, size: float = LEAST_TEXT, class_: str = "fd-text", tied: Place | None = None
    ) -> str:
        """Return a label centred on `at`, or as near to it as there is room, and from afar a stroke to what it is `tied` to."""
        foot = (at[0], at[1] + (ASCENT - DESCENT) / 2 * size)
        half = text_width(text, size, class_) / 2
        tries = ((foot[0] + r * (dx * (1 + half / 40)), foot[1] + r * dy) for r, (dx, dy) in product(RINGS, DIRECTIONS))
        fitted = [(min(max(x, half + 2), self.width - half - 2), y) for x, y in tries]
        areas = ((place, text_extent(text, place, size, class_=class_)) for place in fitted)
        place = self._best_of((place, area.grown(1), area) for place, area in areas) or fitted[0]
        area = text_extent(text, place, size, class_=class_)
        near = tied is None or distance(place, tied) <= FAR or area.grown(6).holds(Rectangle.around([tied]))
        tie = "" if near or tied is None else _tie(area, tied)
        return tie + self.write(text, place, size=size, class_=class_)

    def is_free(self, area: Rectangle) -> bool:
        """Whether an area is on the paper and nothing is written in it."""
        return Rectangle(1, 1, self.width - 1, self.height - 1).holds(area) and not any(area.meets(other) for other in self.taken)

    def free_spot(self, near: Place, room: Rectangle) -> Place:
        """Return the place nearest to `near` about which there is `room`, an area around (0, 0)."""
        across = range(0, int(self.width), GRID)
        places = sorted(
            ((float(x), float(y)) for x in across for y in range(0, int(self.height), GRID)), key=lambda p: distance(p, near)
        )
        rooms = ((x, y, Rectangle(x + room.left, y + room.top, x + room.right, y + room.bottom)) for x, y in places)
        return self._best_of(((x, y), area, area) for x, y, area in rooms) or near

    def _best_of(self, spots: Iterable[tuple[Place, Rectangle, Rectangle]]) -> Place | None:
        """Return the first place whose area is free and over nothing drawn, failing that the first that is free.

        `spots`: places with the area that is to be free of words, and the one that is to be clear of what is drawn.
        """
        first = None
        for place, area, own in spots:
            if self.is_free(area):
                if not any(own.meets(other) for other in self.drawn):
                    return place
                first = first or place
        return first


def _tie(area: Rectangle, to: Place) -> str:
    """Return a stroke from the edge of a label to what it names."""
    start = min(max(to[0], area.left), area.right), area.top if to[1] < area.top else area.bottom
    return element("path", d=f"M{number(start[0])} {number(start[1])}L{number(to[0])} {number(to[1])}", class_="fd-tie")


def _lettering(text: str, at: Place, size: float, anchor: str, class_: str) -> str:
    return element(
        "text", escape(text), x=at[0], y=at[1], font_size=size, text_anchor=None if anchor == "start" else anchor, class_=class_
    )
