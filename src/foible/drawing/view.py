"""A scene of one item in; out its drawing with what is marked on it, and its names in columns."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from foible.drawing.callouts import Note, columns, draw_callout
from foible.drawing.doing import draw_trial
from foible.drawing.ink import RING, shapes
from foible.drawing.marks import percent, strength
from foible.drawing.path import Rectangle, hatched
from foible.drawing.strip import item_words
from foible.drawing.svg import LEAST_TEXT, Sheet, element, linked
from foible.drawing.way import draw_course, draw_way, steps

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from foible.drawing.item import Neighbour
    from foible.drawing.marks import Marks
    from foible.drawing.path import Path, Place
    from foible.drawing.scene import Scene
    from foible.kit import Part, Setup

__all__ = ["CHOSEN", "NotingSheet", "View", "named_parts"]

CHOSEN = "fd-text fd-chosen-name"
HALO = 10.0
FINGER = 7.0
"""Radius at a place within which a touch is meant for it: as much as its neighbours leave."""
GAPS = {1: 6.0, 2: 5.0, 3: 4.2, 4: 3.4, 5: 2.7}
"""Distance of hatching strokes in a part, by strength of suspicion."""
MARGIN = 4.0
BENCH = 112.0
"""Height of the bench beneath an item, on which a tool lies."""


@dataclass
class NotingSheet(Sheet):
    """A sheet on which what would be written beside a mark is named in the columns instead."""

    notes: list[Note] = field(default_factory=list)
    bench_foot: float = 0.0
    """How far down the bench reaches; 0 where nothing lies on it."""

    def write_near(
        self, text: str, at: Place, *, size: float = LEAST_TEXT, class_: str = "fd-text", tied: Place | None = None
    ) -> str:
        """Note a word for the columns; nothing is written here."""
        del size
        self.notes.append(Note(text, tied or at, class_=class_, reach=9))
        return ""

    def reach(self) -> tuple[float, float]:
        """Return how far up and down the picture has to reach."""
        up = min((area.top for area in self.taken), default=0.0)
        down = max((area.bottom for area in self.taken), default=0.0)
        return min(up - MARGIN, 0.0), max(down, self.height, self.bench_foot) + MARGIN

    def free_spot(self, near: Place, room: Rectangle) -> Place:
        """Return the middle of the bench beneath the drawing."""
        del near, room
        self.bench_foot = self.height + BENCH
        return self.width / 2, self.height + BENCH / 2


@dataclass
class View:
    """One item as it is shown."""

    setup: Setup
    scene: Scene
    marks: Marks
    sheet: NotingSheet
    link: Callable[[str], str | None]

    def drawing(self, *, pitch: Place, size: float) -> tuple[list[str], list[str]]:
        """Return the item with its lines and suspicion, and what lies on top of it: the way, its cuts, and what is done."""
        setup, scene, marks, sheet = self.setup, self.scene, self.marks, self.sheet
        found = steps(setup, scene.layout, marks)
        course = draw_course(setup, found, marks, sheet, pitch=pitch)
        doing = draw_trial(setup, scene, marks.trial, sheet, size=size) if marks.trial else ""
        lines = element("g", *(self._stroke(branch) for branch in scene.layout.paths), class_="fd-lines")
        drawn = [shapes(figure) for figure in scene.figures.values()]
        return [*drawn, draw_way(found, marks), lines, *self._suspicion()], [course, *self._rings(), doing]

    def names(self, notes: Sequence[Note], top: float, bottom: float) -> list[str]:
        """Return the leader lines and the names."""
        leaders, linked_names = [], []
        for callout in columns(notes, top, bottom):
            leader, name = draw_callout(callout, self.sheet)
            leaders.append(leader)
            key = callout.note.key
            if key:
                where = {"data_part": key} if key in self.setup.parts else {"data_item": key}
                name = linked(key, item_words(key, self.marks), [name], self.link, **where)
            linked_names.append(name)
            self.sheet.taken.append(callout.box)
        return [element("g", *leaders, class_="fd-leaders"), *linked_names]

    def hits(self, parts: Iterable[Part]) -> list[str]:
        """Return the unseen grounds on which parts can be touched where they are drawn, the large ones first.

        They are for a pointer alone: the keyboard and a screen reader have the names.
        """
        grounds: list[tuple[float, str]] = []
        for part in parts:
            address, at = self.link(part.id), self.scene.spots.get(part.id)
            if address is None or at is None:
                continue
            figure = self.scene.figures[part.item]
            shown = [path for stroke, path in figure.part_paths.get(part.name, ()) if not stroke]
            size = sum(_room(Rectangle.around(path.places)) for path in shown)
            drawn = element("path", d="".join(f"{path.data}Z" for path in shown), class_="fd-touch-ground") if shown else ""
            spot = element("circle", cx=at[0], cy=at[1], r=FINGER, class_="fd-touch-ground")
            hidden = {"href": address, "tabindex": "-1", "aria_hidden": "true"}
            grounds.append((size, element("a", drawn, spot, **hidden)))
        return [ground for _, ground in sorted(grounds, key=lambda pair: -pair[0])]

    def neighbours(self, item: str, found: Iterable[Neighbour]) -> list[Note]:
        """Return what the lines lead to, to be named."""
        items = self.setup.items
        names = {n.item: n.item if items[n.item].side not in {None, items[item].side} else items[n.item].kind for n in found}
        return [Note(f"to the {names[n.item]}", n.at, key=n.item, class_="fd-text fd-to") for n in found]

    def bench(self) -> list[str]:
        """Return the edge of the bench where a tool lies on it."""
        if not self.sheet.bench_foot:
            return []
        y = self.sheet.height + 2
        return [element("path", d=f"M8 {y:.0f}L{self.sheet.width - 8:.0f} {y:.0f}", class_="fd-bench")]

    def _stroke(self, branch: str) -> str:
        layout = self.scene.layout
        look = f"fd-line fd-line-{(layout.letters[branch] or 'metal').lower()}"
        if branch in layout.through:
            look += " fd-through"
        return element("path", d=layout.paths[branch].data, class_=look, data_branch=branch)

    def _suspicion(self) -> list[str]:
        """Return hatching in the shapes of suspected parts, the denser the more they are suspected."""
        drawn = []
        for part, shown in self._shown_parts():
            chance = 1.0 if part.id in self.marks.failed else self.marks.suspected(part.id)
            if chance is None:
                continue
            degree = strength(chance)
            hatch = "".join(hatched(path, GAPS[degree]) for stroke, path in shown if not stroke)
            rims = "".join(path.data for _, path in shown)
            drawn.append(element("path", d=hatch, class_="fd-hatch") if hatch else "")
            drawn.append(element("path", d=rims, class_="fd-ring", stroke_width=RING[degree] * 0.6))
        return drawn

    def _rings(self) -> list[str]:
        """Return a ring at the place of each suspected part, and another at the chosen one."""
        drawn = []
        for name, (x, y) in self.scene.spots.items():
            chance = 1.0 if name in self.marks.failed else self.marks.suspected(name)
            if chance is not None:
                drawn.append(element("circle", cx=x, cy=y, r=5.5, class_="fd-ring", stroke_width=RING[strength(chance)] * 0.7))
            else:
                drawn.append(element("circle", cx=x, cy=y, r=1.9, class_="fd-spot"))
            if name == self.marks.chosen:
                drawn.append(element("circle", cx=x, cy=y, r=HALO, class_="fd-halo"))
        return drawn

    def _shown_parts(self) -> Iterable[tuple[Part, list[tuple[bool, Path]]]]:
        for part in self.setup.parts.values():
            figure = self.scene.figures.get(part.item)
            if figure and part.name in figure.part_paths:
                yield part, figure.part_paths[part.name]


def _room(area: Rectangle) -> float:
    return (area.right - area.left) * (area.bottom - area.top)


def named_parts(setup: Setup, scene: Scene, parts: Iterable[Part], marks: Marks) -> list[Note]:
    """Return the parts of an item, to be named; a part that is drawn nowhere is named at the drawing's middle."""
    del setup
    notes = []
    for part in parts:
        if marks.named and part.id not in {*marks.named, *marks.failed, marks.chosen}:
            continue
        chance = marks.suspected(part.id)
        at = scene.spots.get(part.id, (scene.width / 2, scene.height / 2))
        note = Note(part.name, at, key=part.id, pill=percent(chance) if chance is not None else "", reach=7 if chance else 2.6)
        if part.id in marks.failed:
            note = replace(note, words=f"{part.name}: {marks.failed[part.id]}", class_=CHOSEN, pill="", reach=7)
        if part.id == marks.chosen:
            note = replace(note, class_=CHOSEN, reach=HALO + 1)
        notes.append(note)
    return notes
