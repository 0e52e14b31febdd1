"""A trial in; out what is done in it, drawn where it is done."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from foible.drawing.glyphs import lens, strokes, ticked, turning
from foible.drawing.ink import double, shapes
from foible.drawing.path import Path, Rectangle, distance, toward
from foible.drawing.props import gauge_prop, prop, prop_box
from foible.drawing.svg import element
from foible.drawing.way import bowed, chevron
from foible.kit import SIDES
from foible.trials import Trial

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from foible.drawing.path import Place
    from foible.drawing.scene import Scene
    from foible.drawing.svg import Sheet
    from foible.kit import Setup

__all__ = ["draw_trial"]

MANY = 4
"""From this many on, undone connections are not lettered one by one."""
_REST = Trial()
WORD = "fd-word fd-do-word"
WORD_ROOM = 32.0
"""Half the width of the longest name of a tool."""


def draw_trial(setup: Setup, scene: Scene, trial: Trial, sheet: Sheet, *, size: float = 1.0) -> str:
    """Return the marks of a trial, each with a word; what is on items outside the scene is only named."""
    hand = _Hand(setup, scene, trial, sheet, size)
    return element("g", *hand.marks(), class_="fd-doing")


class _Hand:
    """Draws the marks of one trial on one scene."""

    def __init__(self, setup: Setup, scene: Scene, trial: Trial, sheet: Sheet, size: float) -> None:
        self._setup, self._scene, self._trial, self._sheet, self._size = setup, scene, trial, sheet, size

    def marks(self) -> Iterator[str]:
        """Yield the marks from the bottom up."""
        trial = self._trial
        drawn = [
            *self._swapped(),
            *self._undone(),
            *self._bridges(),
            *self._contacts(),
            *self._press(),
            *self._moves(),
            *self._parts(trial.examine, "look", lens),
            *self._parts(trial.mended, "mended", ticked),
            *self._meter(),
            *self._box(),
            *self._gauge(),
        ]
        if trial.unseen() == _REST and self._size == 1:
            drawn = [self._sheet.write_near("at rest", (self._scene.width / 2, 14), class_=WORD)]
        yield from drawn

    def _place(self, name: str) -> Place | None:
        return self._scene.layout.nodes.get(self._setup.places[name]) if name in self._setup.places else None

    def _word(self, text: str, at: Place, of: Place | None = None) -> str:
        return self._sheet.write_near(text, at, class_=WORD, tied=of)

    def _where(self, name: str) -> Place | None:
        """Return where an item or a part is pointed at."""
        scene = self._scene
        if name in scene.spots:
            return scene.spots[name]
        item = self._setup.parts[name].item if name in self._setup.parts else name
        if item not in scene.figures:
            return None
        x, y = scene.figures[item].middle
        return (x, y) if 0 <= x <= scene.width and 0 <= y <= scene.height else None

    def _swapped(self) -> Iterator[str]:
        for item in self._trial.swapped:
            drawn = self._scene.figures.get(item)
            if drawn:
                yield double(drawn)
                yield self._word("known good", (drawn.middle[0], drawn.middle[1] - 22))

    def _undone(self) -> Iterator[str]:
        names = self._trial.arrangement.unplugged
        for name in names:
            ends = self._pins(name)
            if ends:
                yield self._parted(*ends)
                if len(names) < MANY:
                    yield self._word("undone", (self._between(*ends)[0], self._between(*ends)[1] - 18))
        if len(names) >= MANY:
            yield self._word("all undone", (self._scene.width / 2, 14))

    def _pins(self, name: str) -> tuple[Place, Place] | None:
        """Return the middles of the two sides of a connection."""
        nodes = self._scene.layout.nodes
        network = self._setup.network
        found = [network.branches[network.index(pin)] for pin in self._setup.connections[name].pins.values()]
        pairs = [(nodes[b.a], nodes[b.b]) for b in found if b.a in nodes and b.b in nodes]
        if not pairs:
            return None
        sides = zip(*pairs, strict=True)
        first, second = ((sum(x for x, _ in side) / len(pairs), sum(y for _, y in side) / len(pairs)) for side in sides)
        return first, second

    @staticmethod
    def _between(a: Place, b: Place) -> Place:
        return (a[0] + b[0]) / 2, (a[1] + b[1]) / 2

    def _parted(self, a: Place, b: Place) -> str:
        """Return a gap in a connection, with its two halves drawn apart."""
        (x, y), half = self._between(a, b), 6 * self._size
        turn = math.atan2(b[1] - a[1], b[0] - a[0]) if distance(a, b) > 1 else 0.0
        ux, uy = math.cos(turn), math.sin(turn)
        data = ""
        for sign in (-1, 1):
            px, py = x + sign * half * ux, y + sign * half * uy
            data += strokes([(px - 8 * uy, py + 8 * ux), (px + 8 * uy, py - 8 * ux)])
            data += strokes([(px, py), (px + sign * 5 * ux, py + sign * 5 * uy)])
        return element("circle", cx=x, cy=y, r=half + 3, class_="fd-parted") + element("path", d=data, class_="fd-do")

    def _bridges(self) -> Iterator[str]:
        for name, first, second in self._trial.arrangement.bridged:
            nodes = self._setup.connections[name].bridge
            ends = [self._scene.layout.nodes.get(nodes[letter]) for letter in (first, second)]
            if ends[0] and ends[1]:
                yield element("path", d=bowed(ends[0], ends[1], 0.9).data, class_="fd-clip")
                yield "".join(element("circle", cx=x, cy=y, r=3, class_="fd-dot") for x, y in (ends[0], ends[1]))
                yield self._word(f"bridge {first}–{second}", (ends[0][0], ends[0][1] - 20))

    def _contacts(self) -> Iterator[str]:
        for a, b in self._trial.arrangement.touching:
            yield from self._reach(self._place(a), self._place(b), "touching", f"{a} on {b}", "fd-do fd-contact")

    def _press(self) -> Iterator[str]:
        side, on = self._trial.arrangement.press, self._trial.arrangement.on
        if not side:
            return
        point = self._setup.points[side]
        face = self._scene.layout.nodes.get(point.face)
        verb = "press" if point.moves else "hit"
        if on is not None:
            yield from self._reach(face, self._place(on), verb, f"{verb} on {on}", "fd-do")
        elif face:
            yield self._arrow((face[0], face[1] - 26), face)
            yield self._word(f"{verb}, on no metal", (face[0], face[1] - 32))

    def _reach(self, a: Place | None, b: Place | None, word: str, words: str, class_: str) -> Iterator[str]:
        """Yield an arrow from one place to another with `word`; where only one of them is in sight, `words` beside it."""
        if a and b:
            path = bowed(a, b)
            yield element("path", d=path.data, class_=class_)
            yield element("path", d=chevron(path.end, path.heading(1.0), 8), class_="fd-do")
            yield self._ringed(b)
            yield self._word(word, path.at(0.5))
        elif a or b:
            seen = a or b or (0.0, 0.0)
            yield self._ringed(seen)
            yield self._word(words, (seen[0], seen[1] - 24))

    def _ringed(self, at: Place) -> str:
        return element("circle", cx=at[0], cy=at[1], r=6 * self._size, class_="fd-do fd-target")

    def _arrow(self, a: Place, b: Place) -> str:
        path = Path((a, toward(b, a, 4)))
        return element("path", d=path.data, class_="fd-do") + element(
            "path", d=chevron(path.end, path.heading(1.0), 8), class_="fd-do"
        )

    def _moves(self) -> Iterator[str]:
        for number_, move in enumerate(self._trial.moves):
            place = self._moved(move)
            if place:
                yield turning((place[0], place[1] + 4 * number_), 11 * self._size)
                yield self._word(move.partition(" ")[0], (place[0], place[1] - 20 * self._size), place)

    def _moved(self, move: str) -> Place | None:
        """Return where a movement grips: at the parts of its item that it moves, or holds, most."""
        setup = self._setup
        item = setup.movements[move] if move in setup.movements else None  # noqa: SIM401 — as above
        if item is None:
            side = next((side for side in SIDES if move.endswith(side)), None)
            return self._where(f"{side} weapon")
        parts = [part for part in setup.parts.values() if part.item == item and (move in part.moved_by or move in part.held_by)]
        places = {part.id: self._scene.spots[part.id] for part in parts if part.id in self._scene.spots}
        if not places:
            return self._where(item)
        grip = {part.id: max(part.moved_by.get(move, 0.0), part.held_by.get(move, 0.0)) for part in parts}
        firmest = max(grip[name] for name in places)
        held = [place for name, place in places.items() if grip[name] == firmest]
        return sum(x for x, _ in held) / len(held), sum(y for _, y in held) / len(held)

    def _parts(self, names: tuple[str, ...], word: str, shape: Callable[[Place, float], str]) -> Iterator[str]:
        drawn: list[Place] = []
        for name in names:
            place = self._where(name)
            if place and all(distance(place, other) > 4 for other in drawn):  # noqa: PLR2004 — as good as the same place
                yield shape(place, 8 * self._size)
                drawn.append(place)
        if drawn:
            yield self._word(word, (drawn[0][0], drawn[0][1] - 18 * self._size), drawn[0])

    def _meter(self) -> Iterator[str]:
        if not self._trial.meter:
            return
        seen = [end for end in map(self._place, self._trial.meter) if end]
        if seen:
            scale = self._tool_scale()
            x, y = self._aside("meter", seen)
            for side, end in zip((-1, 1), sorted(seen), strict=False):
                plug = (x + side * 9 * scale, y + 27 * scale)
                yield element("path", d=_lead(plug, end), class_="fd-lead")
                yield element("circle", cx=end[0], cy=end[1], r=3.4, class_="fd-dot")
            yield self._tool("meter", (x, y), "meter")

    def _tool_scale(self) -> float:
        return 0.5 if self._size == 1 else 0.95

    def _aside(self, name: str, seen: list[Place]) -> Place:
        """Return where a tool lies: free, at some distance from the middle of what it is held to."""
        area = prop_box(name, (0.0, 0.0), self._tool_scale())
        x, y = sum(x for x, _ in seen) / len(seen), sum(y for _, y in seen) / len(seen)
        inward = 1 if x < self._scene.width / 2 else -1
        room = Rectangle(min(area.left, -WORD_ROOM) - 3, area.top - 2, max(area.right, WORD_ROOM) + 3, area.bottom + 18)
        return self._sheet.free_spot((x + 48 * inward, y + 30), room)

    def _tool(self, name: str, at: Place, word: str) -> str:
        """Return a tool with its name under it."""
        scale = self._tool_scale()
        box = prop_box(name, at, scale)
        self._sheet.taken.append(box)
        word = self._sheet.write_near(word, (at[0], box.bottom + 9), class_=WORD, tied=(box.left, box.middle[1]))
        return shapes(prop(name, at, scale)) + word

    def _box(self) -> Iterator[str]:
        if self._trial.box and self._trial.box in self._scene.figures:
            ends = self._box_ends()
            x, y = self._aside("test box", ends)
            scale = self._tool_scale()
            for socket, end in zip((-22, -4, 20), ends, strict=False):
                yield element("path", d=_lead((x + socket * scale, y + 13 * scale), end), class_="fd-lead")
            yield self._tool("test box", (x, y), "test box")

    def _box_ends(self) -> list[Place]:
        """Return where the lines of the test box are joined to its item."""
        box = self._trial.box or ""
        nodes = self._scene.layout.nodes
        ends = [nodes[node] for node in self._setup.items[box].box.values() if node in nodes]
        return ends or [self._scene.figures[box].middle]

    def _gauge(self) -> Iterator[str]:
        if not self._trial.gauge:
            return
        side, gauge = self._trial.gauge
        face = self._scene.layout.nodes.get(self._setup.points[side].face)
        if face:
            scale = self._tool_scale()
            at = face[0], face[1] + 4 * scale
            box = prop_box(gauge_prop(gauge), at, scale)
            self._sheet.taken.append(box)
            yield shapes(prop(gauge_prop(gauge), at, scale))
            yield self._word(gauge, (at[0], box.top - 10))


def _lead(a: Place, b: Place) -> str:
    """Return the wire from a tool's socket, which it leaves downwards, to where it is held."""
    (ax, ay), (bx, by) = a, b
    slack = min(24.0, 6 + distance(a, b) / 8)
    bend = 0.22 * (by - ay)
    return (
        f"M{ax:.1f} {ay:.1f}C{ax:.1f} {ay + slack:.1f} {(ax + bx) / 2 + (8 if bx > ax else -8):.1f} {ay + slack:.1f} "
        f"{(ax + bx) / 2:.1f} {(ay + by) / 2:.1f}C{bx:.1f} {by - bend:.1f} {bx:.1f} {by - bend / 2:.1f} {bx:.1f} {by:.1f}"
    )
