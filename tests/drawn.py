"""What tests of pictures share: the boxes of all lettering in an SVG text, and which of them lie on one another."""

from __future__ import annotations

from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from foible.drawing.path import Rectangle
from foible.drawing.svg import text_extent

if TYPE_CHECKING:
    from collections.abc import Iterator

__all__ = ["SVG", "boxes", "overlaps", "paper", "parsed", "texts"]

SVG = "{http://www.w3.org/2000/svg}"


@lru_cache(maxsize=8)
def parsed(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 — our own text


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in parsed(svg).iter(f"{SVG}text")]


def paper(svg: str) -> Rectangle:
    left, top, width, height = map(float, parsed(svg).attrib["viewBox"].split())
    return Rectangle(left, top, left + width, top + height)


def boxes(svg: str) -> Iterator[tuple[str, Rectangle]]:
    """Yield all lettering with its box, 0.6 em to a character, more where it is bold; and badges with their plates."""
    root = parsed(svg)
    for text in root.iter(f"{SVG}text"):
        at = float(text.attrib["x"]), float(text.attrib["y"])
        size, anchor = float(text.attrib["font-size"]), text.attrib.get("text-anchor", "start")
        words = text.text or ""
        yield words, text_extent(words, at, size, anchor, text.attrib["class"])


def overlaps(svg: str) -> list[str]:
    """Return what is written over something else or beyond the edge, and plates of badges that lie over lettering."""
    found = list(boxes(svg))
    over = [
        f"“{a}” over “{b}”" for (a, first), (b, second) in combinations(found, 2) if first.grown(-0.5).meets(second.grown(-0.5))
    ]
    plates = [
        Rectangle(x, y, x + width, y + height)
        for rect in parsed(svg).iter(f"{SVG}rect")
        if rect.attrib["class"] == "fd-badge"
        for x, y, width, height in [tuple(float(rect.attrib[key]) for key in ("x", "y", "width", "height"))]
    ]
    hidden = [
        f"a badge over “{words}”" for plate in plates for words, box in found if "%" not in words and plate.grown(-0.5).meets(box)
    ]
    hidden += ["a badge over a badge" for a, b in combinations(plates, 2) if a.meets(b)]
    sheet = paper(svg)
    return over + hidden + [f"“{words}” beyond the edge" for words, box in found if not sheet.holds(box)]
