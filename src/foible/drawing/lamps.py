"""The chance of each lamp in, the lamps of the scoring apparatus out, distinguished by letter and rays as well as by colour."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.drawing.marks import percent
from foible.drawing.svg import element

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.drawing.path import Place
    from foible.drawing.svg import Sheet
    from foible.kit import Weapon

__all__ = ["draw_lamps", "lamp_words"]

SURE = 0.95
"""A lamp more likely than this is drawn lit, one less likely than 1 − this dark."""
WINDOW, PITCH, HEIGHT = 26.0, 32.0, 24.0
LAMP_TEXT = 12.5
INNER = 2.0
"""From the middle of the apparatus to the first window."""


def lamp_words(lamps: Mapping[str, Mapping[str, float]], weapon: Weapon) -> str:
    """Return what lights, for a screen reader."""
    said = [
        f"{side} {weapon.lamp_name(lamp, side)}" + ("" if chance > SURE else f" {percent(chance)}")
        for side, chances in lamps.items()
        for lamp, chance in chances.items()
        if chance >= 1 - SURE
    ]
    return ", ".join(said) or "no lamp lit"


def draw_lamps(sheet: Sheet, weapon: Weapon, lamps: Mapping[str, Mapping[str, float]], *, at: Place, scale: float = 1.0) -> str:
    """Return the windows of both sides about the middle of their upper edge, those of the left to its left."""
    middle, top = at
    parts = []
    for side, sign in (("left", -1), ("right", 1)):
        shown = lamps.get(side, {})
        kinds = list(dict.fromkeys([*(lamp.kind for lamp in weapon.lamps), *shown]))
        for rank, lamp in enumerate(reversed(kinds)):
            centre = middle + scale * sign * (INNER + WINDOW / 2 + rank * PITCH)
            parts.append(_window(sheet, weapon.lamp_name(lamp, side), shown.get(lamp, 0.0), (centre, top), scale))
    return "".join(parts)


def _window(sheet: Sheet, name: str, chance: float, at: Place, scale: float) -> str:
    (centre, top), width, height = at, WINDOW * scale, HEIGHT * scale
    left = centre - width / 2
    glass = element("rect", x=left, y=top, width=width, height=height, rx=3, class_="fd-glass")
    if chance < 1 - SURE:
        return glass
    lit = chance > SURE
    low = 0.0 if lit else height / 2
    fill = element(
        "rect", x=left, y=top + low, width=width, height=height - low, rx=3, class_=f"fd-lamp fd-lamp-{name}", data_lamp=name
    )
    rays = ""
    if lit:
        data = "".join(f"M{centre + dx:.1f} {top - 2:.1f}L{centre + dx * 1.55:.1f} {top - 9:.1f}" for dx in (-8, 0, 8))
        rays = element("path", d=data, class_="fd-rays")
    word = sheet.write(name[0].upper(), (centre, top + height / 2 + 5), size=13, class_="fd-lamp-letter")
    amount = (
        ""
        if lit
        else sheet.write(percent(chance).replace("\u00a0", ""), (centre, top + height + 12), class_="fd-word", size=LAMP_TEXT)
    )
    return glass + fill + rays + word + amount
