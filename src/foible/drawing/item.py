"""An item in, its large picture out: the thing as it looks, opened, with the name of each part at a leader line."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.drawing.callouts import WIDTH
from foible.drawing.lamps import draw_lamps
from foible.drawing.layout import Strand, laid_out
from foible.drawing.marks import NO_MARKS, no_link
from foible.drawing.path import Path, Place, Rectangle, closest
from foible.drawing.scene import SETUPS, Scene, figure, part_place
from foible.drawing.sketches import sketch_for
from foible.drawing.strip import branches_of, item_words, nodes_of
from foible.drawing.svg import picture
from foible.drawing.view import NotingSheet, View, named_parts
from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.drawing.layout import Layout
    from foible.drawing.marks import Marks
    from foible.kit import Part, Setup

__all__ = ["ItemScene", "Neighbour", "item_scene", "item_svg"]

STUB = 20.0
APART = 8.0
"""Least distance of the places that parts are pointed at."""
LAMP_TOP, LAMP_SCALE = 30.0, 1.6
SCENES = 20 * SETUPS
"""Items whose drawing stays in memory."""
REACH = 14.0
"""How far the pins of a plug go on beyond the drawing."""
LETTER = 9.0
"""From the end of a stub to the middle of its letter, and beside it to what names the neighbour."""


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Another item, at the end of the lines."""

    item: str
    at: Place


@dataclass
class ItemScene:
    """One item before it is marked."""

    scene: Scene
    parts: list[Part]
    neighbours: list[Neighbour]
    letters: list[tuple[str, Place]]
    """Line letters where the lines enter."""


def item_svg(setup: Setup, item: str, marks: Marks = NO_MARKS, *, link: Callable[[str], str | None] = no_link) -> str:
    """Return one item as SVG text, viewBox 400 wide and as high as its names need, with `marks` on it.

    `link` gives the address that a part or a neighbouring item leads to. Where a trial holds a meter or a test box to the item,
    it lies on the bench, and the tool beneath it. Raises UnknownNameError.
    """
    if item not in setup.items:
        raise UnknownNameError(what="item", name=item, known=setup.items)
    item = setup.items.name(item)
    made = item_scene(setup, item)
    scene = made.scene
    sheet = NotingSheet(WIDTH, scene.height)
    lamps = draw_lamps(sheet, setup.kind, marks.lamps, at=(WIDTH / 2, LAMP_TOP), scale=LAMP_SCALE) if item == "apparatus" else ""
    letters = [sheet.write(letter, at, size=13, class_="fd-letter") for letter, at in made.letters]
    view = View(setup, scene, marks, sheet, link)
    drawing = view.drawing(pitch=(46, 22), size=1.3)
    notes = [*named_parts(setup, scene, made.parts, marks), *view.neighbours(item, made.neighbours), *sheet.notes]
    names = view.names(notes, scene.figures[item].sketch.top, max(scene.height, sheet.bench_foot))
    body = [*drawing[0], lamps, *letters, *drawing[1], *view.hits(made.parts), *names, *view.bench()]
    top, foot = sheet.reach()
    group = any(link(note.key) for note in notes if note.key)
    return picture(body, Rectangle(0, top, WIDTH, foot), item_words(item, marks), group=group, class_="fd fd-item")


@lru_cache(maxsize=SCENES)
def item_scene(setup: Setup, item: str) -> ItemScene:
    """Return an item before it is marked."""
    sketch = sketch_for("item", setup.items[item].kind, setup.weapon)
    layout = laid_out(sketch, item, branches_of(setup, item), nodes_of(setup, item), STUB)
    parts = [part for part in setup.parts.values() if part.item == item]
    drawn = figure(item, sketch, layout, have={part.name for part in parts})
    scene = Scene(WIDTH, sketch.height, layout, {item: drawn})
    scene.spots = _spread({part.id: part_place(setup, layout, part, drawn) for part in parts}, layout, sketch.height)
    neighbours = _join_neighbours(setup, scene)
    return ItemScene(scene, parts, neighbours, _letters(setup, item, layout, sketch.height))


def _letters(setup: Setup, item: str, layout: Layout, height: float) -> list[tuple[str, Place]]:
    """Return each line's letter where it enters from above or from below."""
    found = []
    pins = {pin for connection in setup.connections.values() if len(connection.pins) > 1 for pin in connection.pins.values()}
    for pin in sorted(pins & set(layout.paths)):
        branch = setup.network.branches[setup.network.index(pin)]
        far = branch.b if branch.a.partition(".")[0] == item else branch.a
        x, y = layout.nodes[far]
        found.append((layout.letters[pin], (x, y - 4 if y < height / 2 else y + 13)))
    return found


def _join_neighbours(setup: Setup, scene: Scene) -> list[Neighbour]:
    """Draw the pins of an item's connections as stubs; return what they lead to."""
    neighbours: dict[tuple[str, str], list[Place]] = {}
    nodes = scene.layout.nodes
    for connection in setup.connections.values():
        for letter, pin in connection.pins.items():
            branch = setup.network.branches[setup.network.index(pin)]
            if (branch.a in nodes) == (branch.b in nodes):
                continue
            near, far = (branch.a, branch.b) if branch.a in nodes else (branch.b, branch.a)
            end = _outward(nodes[near], scene.height)
            path = Path((nodes[near], end) if near == branch.a else (end, nodes[near]))
            scene.layout.paths[pin], scene.layout.letters[pin] = path, letter
            scene.layout.strands.append(Strand(letter, path))
            neighbours.setdefault((connection.id, far.partition(".")[0]), []).append(end)
            nodes[far] = end
    return [Neighbour(other, _beside([x for x, _ in ends], ends[0][1], scene.height)) for (_, other), ends in neighbours.items()]


def _beside(xs: list[float], y: float, height: float) -> Place:
    """Return the place at which the neighbour at some stubs is named: beside their letters, on the nearer side."""
    lettered = len(xs) > 1
    level = (y - LETTER if y < height / 2 else y + LETTER) if lettered else y
    aside = LETTER if lettered else 3.0
    return (max(xs) + aside if sum(xs) / len(xs) >= WIDTH / 2 else min(xs) - aside), level


def _outward(place: Place, height: float) -> Place:
    """Return where a stub ends that leaves the item upwards or downwards, whichever edge is nearer."""
    x, y = place
    return (x, y - REACH) if y < height / 2 else (x, y + REACH)


def _spread(places: dict[str, Place | None], layout: Layout, height: float) -> dict[str, Place]:
    """Return the places that are pointed at, none on another; those on branches stay where they are."""
    settled = {name: place for name, place in places.items() if place and name in layout.paths}
    for name, place in places.items():
        if place and name not in settled:
            tries = [(place[0] + r * dx, place[1] + r * dy) for r in range(0, 60, 4) for dx, dy in AROUND]
            inside = [(x, y) for x, y in tries if APART < x < WIDTH - APART and APART < y < height - APART]
            free = (spot for spot in inside if closest(spot, settled.values()) >= APART)
            settled[name] = next(free, place)
    return settled


AROUND = ((0, 1), (0, -1), (1, 0), (-1, 0), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (-0.7, -0.7))
