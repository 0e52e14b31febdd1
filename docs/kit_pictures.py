"""The drawings of the kit as files of the documentation, each with its own style."""

from __future__ import annotations

import re

from foible.drawing import STYLE, item_svg
from foible.kit import Setup, plain

__all__ = ["kit_pictures", "pictures_listed"]

PAPER = "#fffdf8"


def kit_pictures(setup: Setup) -> dict[str, str]:
    """Return the drawing of each thing of the left side and of each that is shared, by the title it has in the documentation."""
    return {
        thing.words.removeprefix("left ").removeprefix("the "): _alone(item_svg(setup, thing.id))
        for thing in setup.items.values()
        if thing.side != "right"
    }


def pictures_listed(stem: str, pictures: dict[str, str], known: dict[str, str]) -> tuple[dict[str, str], str]:
    """Return what has to be written, by file name, and the Markdown that shows it; `known` is what was written for others."""
    made, lines = {}, []
    for title, svg in pictures.items():
        own = f"pictures/kit/{stem}-{plain(title).replace(' ', '-')}.svg"
        name = next((name for name, other in known.items() if other == svg), own)
        made[name] = svg
        lines.append(f"### {title[0].upper()}{title[1:]}\n\n![{title}]({name})\n")
    return made, "\n".join(lines)


def _alone(svg: str) -> str:
    """Return a drawing that needs no page around it: with its style, and paper under it."""
    opening, inside = re.match(r"(<svg[^>]*>)(.*)", svg, re.DOTALL).groups()  # type: ignore[union-attr]
    left, top, width, height = re.search(r'viewBox="([^"]*)"', opening)[1].split()  # type: ignore[index]
    paper = f'<rect x="{left}" y="{top}" width="{width}" height="{height}" fill="{PAPER}"/>'
    sized = opening.replace("<svg", '<svg width="400"', 1)
    face = ".fd { font-family: system-ui, sans-serif; }"
    return f"{sized}<style>{STYLE}{face}</style>{paper}{inside}\n"
