"""A scene in; out, the drawn kit: shapes, lines, suspicion."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.drawing.marks import strength
from foible.drawing.path import Rectangle, hatched
from foible.drawing.svg import LEAST_TEXT, element, text_width

if TYPE_CHECKING:
    from collections.abc import Iterable

    from foible.drawing.layout import Strand
    from foible.drawing.path import Path, Place
    from foible.drawing.scene import Figure
    from foible.drawing.svg import Sheet

__all__ = ["badge", "double", "lines", "pill_width", "ring", "shapes", "suspicion"]

HATCH_GAP = {1: 9.0, 2: 7.0, 3: 5.5, 4: 4.2, 5: 3.2}
"""Distance of hatching strokes by strength of suspicion."""
RING = {1: 1.6, 2: 2.4, 3: 3.2, 4: 4.2, 5: 5.4}
"""Width of the ring around a suspected thing, by strength of suspicion."""
TICKS = {1: "1.4 9", 2: "1.6 7", 3: "1.8 5.4", 4: "2 4.2", 5: "2.2 3.2"}
"""Dashes of the broad stroke that stands for hatching along a cable, by strength of suspicion."""


def shapes(figure: Figure) -> str:
    """Return the filled shapes and strokes of an item."""
    return "".join(
        element("path", d=path.data + _close(path), class_=f"fd-{look}")
        + (element("path", d=hatched(path, 4.5) + hatched(path, 4.5, -1.0), class_="fd-mesh-wire") if look == "mesh" else "")
        for look, path in figure.shapes
    )


def lines(strands: Iterable[Strand]) -> str:
    """Return lines, each kind with its own dashes."""
    drawn: dict[str, list[str]] = {}
    for strand in strands:
        drawn.setdefault(strand.letter or "m", []).append(strand.path.data)
    return "".join(
        element("path", d="".join(data), class_=f"fd-line fd-line-{letter.lower()}") for letter, data in sorted(drawn.items())
    )


def suspicion(figure: Figure, chance: float | None) -> str:
    """Return the hatching and the ring of a suspected item; the denser and the wider, the more it is suspected."""
    if chance is None:
        return ""
    degree = strength(chance)
    hatch = "".join(hatched(path, HATCH_GAP[degree]) for path in figure.hatchings)
    parts = [element("path", d=hatch, class_="fd-hatch")] if hatch else []
    if figure.cable and not figure.hatchings:
        parts.append(element("path", d=figure.cable.data, class_="fd-ticks", stroke_dasharray=TICKS[degree]))
    else:
        parts.append(ring(figure.hatchings, "fd-ring", RING[degree]))
    return "".join(parts)


def ring(rims: Iterable[Path], class_: str, width: float) -> str:
    """Return a stroke along the rims of an item."""
    return element("path", d="".join(path.data + _close(path) for path in rims), class_=class_, stroke_width=width)


def double(figure: Figure) -> str:
    """Return two strokes around an item, the mark of an exchange."""
    if figure.cable and not figure.hatchings:
        sides = [figure.cable.beside(by) for by in (-14.0, -11.0, 11.0, 14.0)]
        return ring(sides, "fd-double fd-double-side", 1.4)
    return ring(figure.rims, "fd-double", 7.0) + ring(figure.rims, "fd-double-inside", 3.8)


def pill_width(text: str, size: float) -> float:
    """Return the width of a badge that bears `text`."""
    return text_width(text, size) + 4


def badge(sheet: Sheet, text: str, at: Place, *, size: float = LEAST_TEXT, anchor: str = "middle") -> str:
    """Return a badge with the baseline of its text at the height of `at`."""
    width = pill_width(text, size)
    left = at[0] - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    plate = Rectangle(left, at[1] - size * 0.98, left + width, at[1] + size * 0.34)
    drawn = element("rect", x=left, y=plate.top, width=width, height=plate.bottom - plate.top, rx=3, class_="fd-badge")
    written = sheet.write(text, (left + width / 2, at[1]), size=size, class_="fd-badge-text")
    sheet.taken.append(plate)
    return drawn + written


def _close(path: Path) -> str:
    return "Z" if path.start == path.end else ""
