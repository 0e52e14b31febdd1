"""A part in; out its picture, with its neighbours along the lines, larger still."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from foible.drawing.doing import draw_trial
from foible.drawing.ink import shapes
from foible.drawing.item import item_scene
from foible.drawing.layout import Layout
from foible.drawing.marks import NO_MARKS, no_link
from foible.drawing.partlist import list_rows, marker
from foible.drawing.path import Path, Place, Rectangle, distance
from foible.drawing.scene import Figure, Scene
from foible.drawing.strip import item_words
from foible.drawing.svg import Sheet, element, linked, picture
from foible.drawing.way import draw_course, draw_way, steps
from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.drawing.item import ItemScene
    from foible.drawing.marks import Marks
    from foible.kit import Part, Setup

__all__ = ["part_svg"]

WIDTH, VIEW = 400.0, 240.0
LARGEST = 2.6
"""How much larger than on the item's drawing, at most."""
EDGE = 46.0
NEAR_COUNT = 2
"""How many neighbours a part without a branch gets: the nearest on the drawing."""


def part_svg(setup: Setup, part: str, marks: Marks = NO_MARKS, *, link: Callable[[str], str | None] = no_link) -> str:
    """Return a part and its neighbours as SVG text, viewBox 400 wide, with `marks` on it. Raises UnknownNameError."""
    if part not in setup.parts:
        raise UnknownNameError(what="part", name=part, known=setup.parts)
    chosen = setup.parts[part]
    made = item_scene(setup, chosen.item)
    shown = _shown(setup, made, chosen)
    sheet = Sheet(WIDTH, VIEW)
    view = _view(setup, replace(made, scene=_moved(made.scene, *_lens(made, shown))), chosen, marks, sheet)
    listed = [chosen, *(entry for entry in shown if entry.id != chosen.id)]
    numbers = {entry.id: count for count, entry in enumerate(made.parts, 1)}
    rows, bottom = list_rows([(numbers[entry.id], entry) for entry in listed], marks, sheet, top=VIEW + 10, columns=1)
    targets = [
        linked(entry.id, item_words(entry.id, marks), [row], link, data_part=entry.id)
        for entry, row in zip(listed, rows, strict=True)
    ]
    group = any(link(entry.id) for entry in listed)
    words = item_words(chosen.id, marks)
    return picture([view, *targets], (WIDTH, bottom + 6), words, group=group, class_="fd fd-part")


def _view(setup: Setup, seen: ItemScene, chosen: Part, marks: Marks, sheet: Sheet) -> str:
    """Return the picture above the list of parts: what the lens shows of the item."""
    scene = seen.scene
    inside = [(number, entry) for number, entry in enumerate(seen.parts, 1) if entry.id in scene.spots]
    sheet.taken += [Rectangle(x - 17, y - 17, x + 17, y + 17) for x, y in (scene.spots[entry.id] for _, entry in inside)]
    sheet.drawn += [Rectangle.around(path.places) for path in scene.layout.paths.values()]
    found = steps(setup, scene.layout, marks)
    course = draw_course(found, marks, sheet, spacing=60, gap=38)
    doing = draw_trial(setup, scene, marks.trial, sheet, size=1.6) if marks.trial else ""
    lines = [
        element(
            "path", d=path.data, class_=f"fd-line fd-line-{(scene.layout.letters[name] or 'metal').lower()}", data_branch=name
        )
        for name, path in scene.layout.paths.items()
    ]
    spots = [marker(scene.spots[entry.id], number, marks, entry, 15 if entry.id == chosen.id else 11) for number, entry in inside]
    return element(
        "svg",
        *(shapes(drawn) for drawn in scene.figures.values()),
        draw_way(found, marks),
        element("g", *lines, class_="fd-lines"),
        course,
        *spots,
        _halo(scene, chosen),
        doing,
        x="0",
        y="0",
        width=WIDTH,
        height=VIEW,
        viewBox=f"0 0 {WIDTH:.0f} {VIEW:.0f}",
        class_="fd-view",
    )


def _shown(setup: Setup, made: ItemScene, chosen: Part) -> list[Part]:
    """Return a part and those that share a node with it; for one without branch, the nearest ones."""
    network = setup.network
    if chosen.conducts:
        own = network.branches[network.index(chosen.id)]
        ends = {own.a, own.b}
        return [
            part
            for part in made.parts
            if part.conducts and ends & {network.branches[network.index(part.id)].a, network.branches[network.index(part.id)].b}
        ]
    place = made.scene.spots.get(chosen.id)
    if place is None:
        return [chosen]
    others = [part for part in made.parts if part.id in made.scene.spots and part.id != chosen.id]
    others.sort(key=lambda part: distance(place, made.scene.spots[part.id]))
    return [chosen, *others[:NEAR_COUNT]]


def _lens(made: ItemScene, shown: list[Part]) -> tuple[float, float, float]:
    """Return the scale and the shift that bring the shown parts into view."""
    layout, spots = made.scene.layout, made.scene.spots
    places: list[Place] = [place for part in shown if part.id in layout.paths for place in layout.paths[part.id].places]
    places += [spots[part.id] for part in shown if part.id in spots]
    area = Rectangle.around(places or [(0.0, 0.0), (WIDTH, made.scene.height)])
    width, height = max(area.right - area.left, 1.0), max(area.bottom - area.top, 1.0)
    scale = min(LARGEST, (WIDTH - 2 * EDGE) / width, (VIEW - 2 * EDGE) / height)
    x, y = area.middle
    return scale, WIDTH / 2 - scale * x, VIEW / 2 - scale * y


def _moved(scene: Scene, scale: float, dx: float, dy: float) -> Scene:
    """Return what the lens shows of a scene."""

    def place(at: Place) -> Place:
        return at[0] * scale + dx, at[1] * scale + dy

    def path(of: Path) -> Path:
        return of.moved(scale, dx, dy)

    paths = {name: path(of) for name, of in scene.layout.paths.items()}
    seen = {name: of for name, of in paths.items() if any(map(_in_view, (of.start, of.at(0.5), of.end)))}
    nodes = {name: place(at) for name, at in scene.layout.nodes.items()}
    layout = Layout({name: at for name, at in nodes.items() if _in_view(at)}, seen, scene.layout.letters)
    figures = {
        name: Figure(
            drawn.item,
            drawn.sketch,
            drawn.mirrored,
            [(look, path(of)) for look, of in drawn.shapes],
            [path(of) for of in drawn.hatchings],
            path(drawn.cable) if drawn.cable else None,
            place(drawn.middle),
        )
        for name, drawn in scene.figures.items()
    }
    spots = {name: place(at) for name, at in scene.spots.items()}
    return Scene(WIDTH, VIEW, layout, figures, {name: at for name, at in spots.items() if _in_view(at)})


def _in_view(place: Place) -> bool:
    return 0 <= place[0] <= WIDTH and 0 <= place[1] <= VIEW


def _halo(scene: Scene, chosen: Part) -> str:
    place = scene.spots.get(chosen.id)
    return element("circle", cx=place[0], cy=place[1], r=21, class_="fd-halo") if place else ""
