"""Squares of a lamé with their figures in; out, the jacket from the front and from the back as SVG, dead squares marked.

What a square comes to is told three ways at once, by its figure, by its hatching and by its edge, so that no colour is needed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.drawing.path import Rectangle
from foible.drawing.svg import element, picture

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

__all__ = ["lame_map_svg"]

SIDE, GAP, HEAD, FOOT = 44.0, 26.0, 46.0, 8.0
"""Of a square, between the two faces, above the squares for collar and name, below them."""
LETTERING = 14.0
HATCHED = {"dead": ("M0 0L{s} {s}M{s} 0L0 {s}", 3), "too close to call": ("M0 {s}L{s} 0", 2)}
"""Strokes across a square by what it comes to, and how many beside one another."""
EDGES = {"dead": 3.2, "too close to call": 2.0, "sound": 0.7}


def lame_map_svg(
    faces: Sequence[str], rows: int, columns: int, squares: Mapping[tuple[str, int, int], tuple[float, str]], *, words: str
) -> str:
    """Return a jacket's faces side by side; `squares`: ohms and state by face, row and column, from 1 on.

    A square without an entry stays empty, so that an empty jacket can be printed to write on.
    """
    wide = columns * SIDE
    body: list[str] = []
    for number, face in enumerate(faces):
        left = FOOT + number * (wide + GAP)
        body += [_jacket(left, rows, columns), _text(left + wide / 2, LETTERING, face, bold=True)]
        for row in range(1, rows + 1):
            for column in range(1, columns + 1):
                at = (left + (column - 1) * SIDE, HEAD + (row - 1) * SIDE)
                body += _square(at, squares.get((face, row, column)))
    area = Rectangle(0, 0, 2 * FOOT + len(faces) * wide + (len(faces) - 1) * GAP, HEAD + rows * SIDE + FOOT)
    return picture(body, area, words, group=False, class_="fd fd-lame-map")


def _jacket(left: float, rows: int, columns: int) -> str:
    """Return the outline behind the squares: shoulders, collar, hem."""
    wide, foot, middle = columns * SIDE, HEAD + rows * SIDE + 4, left + columns * SIDE / 2
    neck = SIDE * 0.55
    d = (
        f"M{left - 5:.1f} {foot:.1f}V{HEAD + 6:.1f}C{left - 5:.1f} {HEAD - 8:.1f} {middle - neck - 16:.1f} {HEAD - 16:.1f} "
        f"{middle - neck:.1f} {HEAD - 22:.1f}C{middle - neck / 2:.1f} {HEAD - 10:.1f} {middle + neck / 2:.1f} {HEAD - 10:.1f} "
        f"{middle + neck:.1f} {HEAD - 22:.1f}C{middle + neck + 16:.1f} {HEAD - 16:.1f} {left + wide + 5:.1f} {HEAD - 8:.1f} "
        f"{left + wide + 5:.1f} {HEAD + 6:.1f}V{foot:.1f}Z"
    )
    return element("path", d=d, class_="fd-cloth")


def _square(at: tuple[float, float], told: tuple[float, str] | None) -> Iterator[str]:
    state = told[1] if told else "sound"
    kind = f"fd-square fd-square-{state.replace(' ', '-')}"
    yield element("rect", x=at[0], y=at[1], width=SIDE, height=SIDE, class_=kind, stroke_width=EDGES[state])
    if state in HATCHED:
        strokes, count = HATCHED[state]
        step = SIDE / count
        for across in range(count):
            for down in range(count):
                d = strokes.format(s=f"{step:.2f}")
                place = f"translate({at[0] + across * step:.2f} {at[1] + down * step:.2f})"
                yield element("path", d=d, transform=place, class_="fd-square-hatch")
    if told:
        ohms = f"{told[0]:.3g}" if told[0] < 100 else "open"  # noqa: PLR2004 — beyond, nobody needs the figure
        yield _text(at[0] + SIDE / 2, at[1] + SIDE / 2 + LETTERING * 0.35, ohms, bold=state == "dead")


def _text(x: float, y: float, words: str, *, bold: bool) -> str:
    return element("text", words, x=x, y=y, font_size=LETTERING, text_anchor="middle", class_="fd-side" if bold else "fd-text")
