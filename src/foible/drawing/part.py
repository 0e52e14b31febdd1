"""A part in; out its picture: the place in the item where it sits, larger, with the parts around it by name."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.drawing.callouts import COLUMN, EDGE, WIDTH
from foible.drawing.clip import clipped
from foible.drawing.item import item_scene
from foible.drawing.layout import Layout
from foible.drawing.marks import NO_MARKS, no_link
from foible.drawing.path import Path, Place, Rectangle, distance
from foible.drawing.scene import Figure, Scene
from foible.drawing.strip import item_words
from foible.drawing.svg import element, picture
from foible.drawing.view import NotingSheet, View, named_parts
from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from foible.drawing.marks import Marks
    from foible.kit import Part, Setup

__all__ = ["lens", "part_svg", "seen_through"]

VIEW = 300.0
"""Height of the window."""
LEFT = EDGE + COLUMN + 7
RIGHT = WIDTH - LEFT
TALLEST, LEAST_SHOWN = 150.0, 40.0
"""Most and least of the item's drawing that the window shows, from top to bottom."""
LARGEST = 2.3
"""How much larger than on the item's drawing, at most."""
NAMED = 9
"""How many parts are named, at most: the nearest ones."""
OUT_OF_SIGHT = (-1.0, -1.0)
INSIDE = 8.0
"""A part this far within the window is named."""


def part_svg(setup: Setup, part: str, marks: Marks = NO_MARKS, *, link: Callable[[str], str | None] = no_link) -> str:
    """Return a part and its neighbours as SVG text, viewBox 400 wide, with `marks` on it. Raises UnknownNameError."""
    if part not in setup.parts:
        raise UnknownNameError(what="part", name=part, known=setup.parts)
    chosen = setup.parts[part]
    made = item_scene(setup, chosen.item)
    window = Rectangle(LEFT, 0, RIGHT, VIEW)
    scene = seen_through(made.scene, *lens(made.scene, setup, chosen, window), window)
    sheet = NotingSheet(WIDTH, VIEW)
    view = View(setup, scene, marks, sheet, link)
    under, over = view.drawing(pitch=(60, 34), size=1.5)
    near = _nearest(scene, made.parts, chosen)
    noted = [note for note in sheet.notes if window.holds(Rectangle.around([note.at]))]
    names = view.names([*named_parts(setup, scene, near, marks), *noted], 2, VIEW)
    shown = framed([*under, *over], window)
    top, foot = sheet.reach()
    group = any(link(entry.id) for entry in near)
    body = [shown, *view.hits(near), *names, *view.bench()]
    return picture(body, Rectangle(0, top, WIDTH, foot), item_words(chosen.id, marks), group=group, class_="fd fd-part")


def framed(drawn: Sequence[str], window: Rectangle) -> str:
    """Return what is drawn in a window, with its frame."""
    left, top, width, height = window.left, window.top, window.right - window.left, window.bottom - window.top
    frame = element("rect", x=left, y=top, width=width, height=height, rx=2, class_="fd-window")
    return element("g", *drawn, frame)


def _nearest(scene: Scene, parts: Sequence[Part], chosen: Part) -> list[Part]:
    """Return the parts in sight that can be named, the chosen one first."""
    here = scene.spots.get(chosen.id, (WIDTH / 2, VIEW / 2))
    others = [part for part in parts if part.id in scene.spots and part.id != chosen.id]
    others.sort(key=lambda part: distance(here, scene.spots[part.id]))
    return [chosen, *others[: NAMED - 1]]


def lens(scene: Scene, setup: Setup, chosen: Part, window: Rectangle) -> tuple[float, float, float]:
    """Return the scale and the shift that bring a part into a window, with as much around it as tells where it is."""
    del setup
    places: list[Place] = []
    if chosen.id in scene.spots:
        places.append(scene.spots[chosen.id])
    for figure in scene.figures.values():
        places += [place for _, path in figure.part_paths.get(chosen.name, ()) for place in path.places]
    if not places and chosen.id in scene.layout.paths:
        places += scene.layout.paths[chosen.id].places
    area = Rectangle.around(places or [(WIDTH / 2, scene.height / 2)])
    tall = min(max(area.bottom - area.top, LEAST_SHOWN), TALLEST) + 2 * LEAST_SHOWN
    wide = max(area.right - area.left, LEAST_SHOWN) + LEAST_SHOWN
    scale = min(LARGEST, (window.bottom - window.top) / tall, (window.right - window.left) / min(wide, RIGHT - LEFT))
    x, y = scene.spots.get(chosen.id, area.middle) if area.bottom - area.top > TALLEST else area.middle
    middle = window.middle
    dy = middle[1] - scale * y
    if scale * scene.height > window.bottom - window.top:  # no more of the window is left empty than has to be
        dy = min(window.top, max(window.bottom - scale * scene.height, dy))
    return scale, middle[0] - scale * x, dy


def seen_through(scene: Scene, scale: float, dx: float, dy: float, window: Rectangle) -> Scene:
    """Return what a window shows of a scene."""
    inner = window.grown(-INSIDE)

    def place(at: Place) -> Place:
        return at[0] * scale + dx, at[1] * scale + dy

    def path(of: Path) -> Path:
        return of.moved(scale, dx, dy)

    def in_sight(at: Place) -> bool:
        return inner.holds(Rectangle.around([at]))

    layout = Layout(
        {name: place(at) for name, at in scene.layout.nodes.items() if in_sight(place(at))},
        {name: piece for name, of in scene.layout.paths.items() for piece in clipped(path(of), window)[:1]},
        scene.layout.letters,
        through=scene.layout.through,
    )
    figures = {
        name: Figure(
            drawn.item,
            drawn.sketch,
            drawn.mirrored,
            [(look, piece) for look, of in drawn.shapes for piece in clipped(path(of), window)],
            [piece for of in drawn.hatchings for piece in clipped(path(of), window)],
            None,
            place(drawn.middle) if in_sight(place(drawn.middle)) else OUT_OF_SIGHT,
            {
                part: [(stroke, piece) for stroke, of in paths for piece in clipped(path(of), window)]
                for part, paths in drawn.part_paths.items()
            },
        )
        for name, drawn in scene.figures.items()
    }
    spots = {name: place(at) for name, at in scene.spots.items()}
    return Scene(WIDTH, window.bottom, layout, figures, {name: at for name, at in spots.items() if in_sight(at)})
