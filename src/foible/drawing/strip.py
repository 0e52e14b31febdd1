"""A set-up in, the picture of the whole strip out: both fencers' kit, the piste and the apparatus."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from foible.drawing.doing import draw_trial
from foible.drawing.ink import badge, double, lines, pill_width, ring, shapes, suspicion
from foible.drawing.lamps import draw_lamps, lamp_words
from foible.drawing.layout import Layout, laid_out
from foible.drawing.marks import NO_MARKS, no_link, percent
from foible.drawing.path import Path, Rectangle
from foible.drawing.scene import SETUPS, Figure, Scene, figure, part_place
from foible.drawing.sketches import sketch_for
from foible.drawing.svg import DESCENT, LEAST_TEXT, Sheet, element, linked, picture
from foible.drawing.way import draw_course, draw_way, steps

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from foible.circuit import Branch
    from foible.drawing.marks import Marks
    from foible.drawing.path import Place
    from foible.drawing.sketches import Label
    from foible.kit import Item, Setup

__all__ = ["branches_of", "item_words", "nodes_of", "strip_scene", "strip_svg"]

WIDTH, HEIGHT = 400.0, 470.0
STUB = 9.0
TARGET = 27.0
"""Least width and height of what can be touched."""
TEXT = LEAST_TEXT
BADGE = 17.0
"""Height of a badge, and of the room about it."""
SPOT = 8.0
"""Radius of the ring at a place."""
LETTERED = 40.0
"""Least length of a line that bears its letter."""
KEY = (12.0, 428.0)
"""Where the kinds of line are told apart."""
ORDER = ("handling", "lamé", "bib", "mask", "mask cord", "cuff", "cord", "weapon")
"""Kinds drawn over others, the uppermost last."""


def strip_svg(setup: Setup, marks: Marks = NO_MARKS, *, link: Callable[[str], str | None] = no_link) -> str:
    """Return the strip set-up as SVG text, viewBox 400 × 470, with `marks` on it.

    `link` gives the address that an item leads to. Colours are those of `STYLE`, which the page has to include.
    """
    scene = strip_scene(setup)
    sheet = Sheet(WIDTH, HEIGHT)
    shown = [item for item in setup.items.values() if item.id not in marks.hidden]
    items = sorted(shown, key=lambda item: ORDER.index(item.kind) if item.kind in ORDER else -1)
    sides = [sheet.write(side, (x, 16), size=13, anchor=anchor, class_="fd-side") for side, x, anchor in SIDE_NAMES]
    key = _key(sheet)
    letters = _letters(setup, scene, sheet)
    written = [_name(setup, item, sheet) for item in items]
    named = [_touched(scene.figures[item.id], name, sheet, marks) for item, name in zip(items, written, strict=True)]
    linked_names = [
        linked(
            item.id,
            item_words(item.id, marks),
            [_touch(scene.figures[item.id], thin=item.kind == ORDER[-1]), name],
            link,
            data_item=item.id,
        )
        for item, name in zip(items, named, strict=True)
    ]
    found = steps(setup, scene.layout, marks)
    body = [
        _people(setup),
        *sides,
        *(_ink(setup, scene.figures[item.id], marks) for item in items),
        draw_lamps(sheet, setup.kind, marks.lamps, at=(WIDTH / 2, 386)),
        draw_way(found, marks),
        element("g", _lines(setup), key, letters, class_="fd-lines"),
        draw_course(setup, found, marks, sheet, pitch=(30, 12)),
        *linked_names,  # above the way, which runs past the plates of suspicion
        *_places(setup, scene, marks, sheet),
        draw_trial(setup, scene, marks.trial, sheet) if marks.trial else "",
    ]
    words = f"{setup.weapon} strip set-up" + (f", {lamp_words(marks.lamps, setup.kind)}" if marks.lamps else "")
    return picture(body, Rectangle(0, 0, WIDTH, HEIGHT), words, group=any(link(item.id) for item in items), class_="fd fd-strip")


SIDE_NAMES = (("left", 6, "start"), ("right", WIDTH - 6, "end"))


def item_words(name: str, marks: Marks) -> str:
    """Return the name of a thing with its suspicion."""
    chance = marks.suspected(name)
    return name if chance is None else f"{name}, suspected {percent(chance)}"


@lru_cache(maxsize=SETUPS)
def strip_scene(setup: Setup) -> Scene:
    """Return the strip before it is marked."""
    scene = Scene(WIDTH, HEIGHT, Layout(), {})
    for item in setup.items.values():
        sketch = sketch_for("strip", item.kind, setup.weapon)
        layout = laid_out(sketch, item.id, branches_of(setup, item.id), nodes_of(setup, item.id), STUB)
        mirrored = item.side == "right"
        if mirrored:
            layout = layout.mirrored(WIDTH)
        scene.layout.add(layout)
        drawn = scene.figures[item.id] = figure(item.id, sketch, layout, mirrored=mirrored)
        places = {p.id: part_place(setup, layout, p, drawn) for p in setup.parts.values() if p.item == item.id}
        scene.spots |= {name: place for name, place in places.items() if place}
    for branch in setup.network.branches:
        if branch.name not in scene.layout.paths:
            scene.layout.join(branch, _pin_letter(setup, branch.name))
    return scene


def branches_of(setup: Setup, item: str) -> list[Branch]:
    """Return the branches that are parts of an item."""
    return [b for b in setup.network.branches if b.name in setup.parts and setup.parts[b.name].item == item]


def nodes_of(setup: Setup, item: str) -> set[str]:
    """Return the nodes of an item, those of places that nothing touches yet among them."""
    return {node for node in (*setup.places.values(), *setup.network.nodes) if node.partition(".")[0] == item}


def _pin_letter(setup: Setup, name: str) -> str:
    return next((letter for c in setup.connections.values() for letter, pin in c.pins.items() if pin == name), "")


@lru_cache(maxsize=SETUPS)
def _people(setup: Setup) -> str:
    """Return the two fencers, who are there to be recognised and are no part of the kit."""
    sketch = sketch_for("strip", "figure", setup.weapon)
    drawn = [shapes(figure("", sketch, Layout(), mirrored=mirrored)) for mirrored in (False, True)]
    return element("g", *drawn, aria_hidden="true")


def _ink(setup: Setup, drawn: Figure, marks: Marks) -> str:
    chosen = double(drawn) if marks.chosen == drawn.item else ""
    chance = 1.0 if drawn.item in marks.failed else marks.suspected(drawn.item)
    return chosen + _shapes(setup, drawn.item) + suspicion(drawn, chance)


def _touch(drawn: Figure, *, thin: bool = False) -> str:
    """Return the unseen ground on which an item can be touched where it is drawn, above the lines that cross it.

    What is drawn `thin`, such as a blade, can be touched a finger's width around its outline.
    """
    if drawn.cable and not drawn.hatchings:
        return ring([drawn.cable], "fd-touch", TARGET)
    ground = element("path", d="".join(f"{path.data}Z" for path in drawn.hatchings), class_="fd-touch-ground")
    return ground + (ring(drawn.hatchings, "fd-touch", TARGET) if thin else "")


def _places(setup: Setup, scene: Scene, marks: Marks, sheet: Sheet) -> Iterator[str]:
    """Yield a ring and a word at what is taken to have failed, and at the part in question."""
    named = {name: "failed here" for name in marks.failed if name in setup.parts and name not in marks.cuts}
    if marks.chosen in setup.parts and marks.chosen not in named:
        named[str(marks.chosen)] = setup.parts[str(marks.chosen)].name
    for name, words in named.items():
        if name in scene.spots:
            x, y = scene.spots[name]
            sheet.taken.append(Rectangle.around([(x, y)]).grown(SPOT))
            yield element("circle", cx=x, cy=y, r=SPOT, class_="fd-place")
            yield sheet.write_near(words, (x, y - 24), class_="fd-word fd-cut-word", tied=(x, y))


@lru_cache(maxsize=20 * SETUPS)
def _shapes(setup: Setup, item: str) -> str:
    return shapes(strip_scene(setup).figures[item])


@lru_cache(maxsize=SETUPS)
def _lines(setup: Setup) -> str:
    return lines(strip_scene(setup).layout.strands)


def _name(setup: Setup, item: Item, sheet: Sheet) -> tuple[str, Rectangle]:
    """Return the name of an item, with the stroke that leads to it, and where it stands."""
    drawn = strip_scene(setup).figures[item.id]
    label = drawn.sketch.label
    if label is None:
        word = sheet.write_near(item.kind, drawn.middle, size=TEXT)
        return word, sheet.taken[-1]
    at, anchor = _mirrored(label, mirrored=drawn.mirrored)
    word = sheet.write(label.text, at, size=TEXT, anchor=anchor)
    area = sheet.taken[-1]
    return (_tie(label, area, mirrored=drawn.mirrored) if label.tie else "") + word, area


def _touched(drawn: Figure, name: tuple[str, Rectangle], sheet: Sheet, marks: Marks) -> str:
    """Return the name of an item with its badge if it is suspected, on the ground on which it can be touched."""
    word, area = name
    chance = None if drawn.item in marks.failed else marks.suspected(drawn.item)
    pill = ""
    if chance is not None:
        pill = _pill(sheet, percent(chance), area, drawn)
        shown = sheet.taken[-1]
        area = Rectangle(
            min(area.left, shown.left), min(area.top, shown.top), max(area.right, shown.right), max(area.bottom, shown.bottom)
        )
    x, y = area.middle
    width, height = max(area.right - area.left, TARGET), max(area.bottom - area.top, TARGET)
    ground = element("rect", x=x - width / 2, y=y - height / 2, width=width, height=height, class_="fd-touch-ground")
    return ground + word + pill


def _mirrored(label: Label, *, mirrored: bool) -> tuple[Place, str]:
    if not mirrored:
        return label.at, label.anchor
    return (WIDTH - label.at[0], label.at[1]), {"start": "end", "end": "start"}.get(label.anchor, label.anchor)


def _tie(label: Label, area: Rectangle, *, mirrored: bool) -> str:
    """Return a thin stroke from a name to what it names."""
    x, y = label.tie or label.at
    end = (WIDTH - x, y) if mirrored else (x, y)
    start = (area.left - 2 if end[0] < area.left else area.right + 2, area.middle[1])
    return element("path", d=Path((start, end)).data, class_="fd-tie")


def _pill(sheet: Sheet, text: str, area: Rectangle, drawn: Figure) -> str:
    """Return the badge of a name that stands in `area`: where the sketch wants it, or wherever nothing is written near by."""
    half, foot = pill_width(text, TEXT) / 2 + 2, area.bottom - TEXT * DESCENT
    after, before, middle = area.right + half, area.left - half, area.middle[0]
    beside = [(x, foot) for x in ((before, after) if drawn.mirrored else (after, before))]
    below = [(x, foot + level * BADGE) for level in (1, -1, 2, -2) for x in (middle, after, before)]
    wanted_after = drawn.sketch.label is not None and drawn.sketch.label.badge == "after"
    tries = [*beside, *below] if wanted_after else [below[0], *beside, *below[1:]]
    inside = [(min(max(x, half), sheet.width - half), y) for x, y in tries]
    plates = ((at, Rectangle(at[0] - half, at[1] - TEXT, at[0] + half, at[1] + TEXT * 0.4)) for at in inside)
    return badge(sheet, text, next((at for at, plate in plates if sheet.is_free(plate)), inside[0]), size=TEXT)


def _key(sheet: Sheet) -> str:
    """Return the three kinds of line with their letters."""
    parts = []
    for rank, letter in enumerate("ABC"):
        y = KEY[1] + rank * 15
        parts.append(sheet.write(letter, (KEY[0], y), size=TEXT, class_="fd-letter"))
        path = Path(((KEY[0] + 9, y - 4), (KEY[0] + 45, y - 4)))
        parts.append(element("path", d=path.data, class_=f"fd-line fd-line-{letter.lower()}"))
    return "".join(parts)


def _letters(setup: Setup, scene: Scene, sheet: Sheet) -> str:
    """Return the letters of the lines, written on the floor cables."""
    parts = []
    for item in setup.items.values():
        if item.kind != "floor cable":
            continue
        ends = {place for name, place in scene.layout.nodes.items() if name.partition(".")[0] == item.id}
        strands = [s for s in scene.layout.strands if s.path.length > LETTERED and {s.path.start, s.path.end} <= ends]
        for rank, strand in enumerate(sorted(strands, key=lambda s: s.letter)):
            x, y = strand.path.at(0.22 + 0.16 * rank)
            parts.append(element("circle", cx=x, cy=y, r=6.4, class_="fd-letter-ground"))
            parts.append(sheet.write(strand.letter, (x, y + 4), size=TEXT, class_="fd-letter"))
    return "".join(parts)
