"""An item in, its large picture out: its lines, a number at each part, and the parts by name below."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.drawing.doing import draw_trial
from foible.drawing.ink import shapes
from foible.drawing.lamps import draw_lamps
from foible.drawing.layout import Layout, Strand, laid_out
from foible.drawing.marks import NO_MARKS, no_link
from foible.drawing.partlist import list_rows, marker
from foible.drawing.path import Path, Place, Rectangle, closest
from foible.drawing.scene import SETUPS, Scene, figure, part_place
from foible.drawing.sketches import sketch_for
from foible.drawing.strip import branches_of, item_words, nodes_of
from foible.drawing.svg import Sheet, element, linked, picture
from foible.drawing.way import draw_course, draw_way, steps
from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from foible.drawing.marks import Marks
    from foible.kit import Part, Setup

__all__ = ["ItemScene", "Neighbour", "item_scene", "item_svg"]

WIDTH = 400.0
STUB = 34.0
APART = 23.0
"""Least distance of the numbers on the drawing."""
TEXT = 12.0
LAMP_TOP = 40.0
SCENES = 20 * SETUPS
"""Items whose drawing stays in memory."""


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
    """In the order of their numbers, which count from 1."""
    neighbours: list[Neighbour]
    letters: list[tuple[str, Place]]
    """Line letters where the lines enter."""


def item_svg(setup: Setup, item: str, marks: Marks = NO_MARKS, *, link: Callable[[str], str | None] = no_link) -> str:
    """Return one item as SVG text, viewBox 400 wide and as high as its parts need, with `marks` on it.

    `link` gives the address that a part or a neighbouring item leads to. Raises UnknownNameError.
    """
    if item not in setup.items:
        raise UnknownNameError(what="item", name=item, known=setup.items)
    item = setup.items.name(item)
    made = item_scene(setup, item)
    scene = made.scene
    sheet = Sheet(WIDTH, scene.height)
    spots = [scene.spots[part.id] for part in made.parts if part.id in scene.spots]
    sheet.taken += [Rectangle(x - 11, y - 11, x + 11, y + 11) for x, y in spots]
    letters = [sheet.write(letter, at, size=13, class_="fd-letter") for letter, at in made.letters]
    lamps = draw_lamps(sheet, setup.kind, marks.lamps, at=(WIDTH / 2, LAMP_TOP)) if item == "apparatus" else ""
    around = [_neighbour(_short(setup, item, neighbour.item), neighbour, sheet, link) for neighbour in made.neighbours]
    sheet.drawn += [Rectangle.around(path.places) for path in scene.layout.paths.values()]
    doing = draw_trial(setup, scene, marks.trial, sheet, size=1.3) if marks.trial else ""
    found = steps(setup, scene.layout, marks)
    course = draw_course(found, marks, sheet, spacing=46, gap=27)
    numbered = list(enumerate(made.parts, 1))
    rows, bottom = list_rows(numbered, marks, sheet, top=scene.height + 8)
    targets = [
        linked(part.id, item_words(part.id, marks), [_mark(scene, part, count, marks), row], link, data_part=part.id)
        for (count, part), row in zip(numbered, rows, strict=True)
    ]
    body = [
        shapes(scene.figures[item]),
        lamps,
        draw_way(found, marks),
        element("g", *(_stroke(scene.layout, branch) for branch in scene.layout.paths), class_="fd-lines"),
        *letters,
        course,
        *around,
        *targets,
        doing,
    ]
    return picture(body, (WIDTH, bottom + 6), item_words(item, marks), group=_any_link(made, link), class_="fd fd-item")


def _any_link(made: ItemScene, link: Callable[[str], str | None]) -> bool:
    return any(link(part.id) for part in made.parts) or any(link(neighbour.item) for neighbour in made.neighbours)


def _mark(scene: Scene, part: Part, count: int, marks: Marks) -> str:
    place = scene.spots.get(part.id)
    return marker(place, count, marks, part) if place else ""


def _stroke(layout: Layout, branch: str) -> str:
    letter = layout.letters[branch] or "metal"
    return element("path", d=layout.paths[branch].data, class_=f"fd-line fd-line-{letter.lower()}", data_branch=branch)


def _short(setup: Setup, item: str, other: str) -> str:
    """Return the name of another item, its side left out where it is the same."""
    return setup.items[other].kind if setup.items[other].side in {None, setup.items[item].side} else other


def _neighbour(name: str, neighbour: Neighbour, sheet: Sheet, link: Callable[[str], str | None]) -> str:
    word = sheet.write_near(f"to {name}", neighbour.at, size=TEXT, class_="fd-text fd-to")
    box = sheet.taken[-1]
    ground = element(
        "rect", x=box.left - 2, y=box.middle[1] - 13, width=box.right - box.left + 4, height=26, class_="fd-touch-ground"
    )
    return linked(neighbour.item, neighbour.item, [ground, word], link, data_item=neighbour.item)


@lru_cache(maxsize=SCENES)
def item_scene(setup: Setup, item: str) -> ItemScene:
    """Return an item before it is marked."""
    sketch = sketch_for("item", setup.items[item].kind, setup.weapon)
    layout = laid_out(sketch, item, branches_of(setup, item), nodes_of(setup, item), STUB)
    height = max(sketch.height, *(y + 30 for _, y in layout.nodes.values()), 0) if layout.nodes else sketch.height
    scene = Scene(WIDTH, height, layout, {item: figure(item, sketch, layout)})
    parts = [part for part in setup.parts.values() if part.item == item]
    scene.spots = _spread({part.id: part_place(setup, layout, part, sketch) for part in parts}, layout, height)
    order = {name: rank for rank, name in enumerate(_along(layout))}
    parts.sort(key=lambda part: order.get(part.id, len(order)))
    neighbours = _join_neighbours(setup, scene)
    return ItemScene(scene, parts, neighbours, _letters(setup, item, layout))


def _along(layout: Layout) -> Sequence[str]:
    """Return the branches line by line, each from left to right."""
    letters = {"": "Y", "cloth": "Z", "metal": "Z"}
    return sorted(
        layout.paths, key=lambda name: (letters.get(layout.letters[name], layout.letters[name]), layout.paths[name].at(0.5)[0])
    )


def _letters(setup: Setup, item: str, layout: Layout) -> list[tuple[str, Place]]:
    """Return each line's letter where it enters from the left or from the right."""
    found = []
    pins = {pin for connection in setup.connections.values() for pin in connection.pins.values()}
    for pin in sorted(pins & set(layout.paths)):
        branch = setup.network.branches[setup.network.index(pin)]
        far = branch.b if branch.a.partition(".")[0] == item else branch.a
        x, y = layout.nodes[far]
        if not WIDTH / 5 < x < WIDTH * 4 / 5:
            found.append((layout.letters[pin], (min(max(x, 8.0), WIDTH - 8), y - 9)))
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
    return [
        Neighbour(other, (sum(x for x, _ in ends) / len(ends), min(y for _, y in ends) - 30))
        for (_, other), ends in neighbours.items()
    ]


def _outward(place: Place, height: float) -> Place:
    """Return where a stub ends that leaves the item by the nearest edge."""
    x, y = place
    room = {"left": x, "right": WIDTH - x, "up": y, "down": height - y}
    edge = min(room, key=lambda side: room[side])
    step = min(18.0, max(room[edge] - 2, 6.0))
    return {"left": (x - step, y), "right": (x + step, y), "up": (x, y - step), "down": (x, y + step)}[edge]


def _spread(places: dict[str, Place | None], layout: Layout, height: float) -> dict[str, Place]:
    """Return places of numbers that keep apart, those on branches staying where they are."""
    settled = {name: place for name, place in places.items() if place and name in layout.paths}
    for name, place in places.items():
        if place and name not in settled:
            tries = [(place[0] + r * dx, place[1] + r * dy) for r in range(0, 90, 4) for dx, dy in AROUND]
            inside = [(x, y) for x, y in tries if APART / 2 < x < WIDTH - APART / 2 and APART / 2 < y < height - APART / 2]
            free = (spot for spot in inside if closest(spot, settled.values()) >= APART)
            settled[name] = next(free, place)
    return settled


AROUND = ((0, 1), (0, -1), (1, 0), (-1, 0), (0.7, 0.7), (-0.7, 0.7), (0.7, -0.7), (-0.7, -0.7))
