"""A trial in; out, a picture of how it is made: a frame for each step, with what is held where, and a sentence under it."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from foible.drawing.callouts import TEXT, WIDTH
from foible.drawing.glyphs import arrow, lens, motion, ticked
from foible.drawing.ink import shapes
from foible.drawing.item import item_scene
from foible.drawing.part import framed, seen_through
from foible.drawing.path import Rectangle, distance
from foible.drawing.props import gauge_prop, prop, prop_box
from foible.drawing.svg import Sheet, boldness, element, picture, wrapped
from foible.kit import SIDES, node_item, plain

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from foible.drawing.path import Place
    from foible.kit import Setup
    from foible.trials import Trial

__all__ = ["Frame", "how_frames", "how_svg"]

FRAME, TALL, GUTTER = 193.0, 168.0, 14.0
"""Width and height of a frame, and what is between two."""
CLOSE = 1.45
"""How much larger than on the item's drawing a place is shown."""
LEADING = 15.0
MOST = 4
"""Frames of one picture, at most."""
VERBS = {"tug": "tug at", "bury": "drive home", "hold": "hold firmly"}
"""How a movement is said, where its name alone would not do."""
ALONE = 4
"""From this many connections undone on, the item lies by itself on the bench, which is the same as saying so."""
TOOL = 96.0
"""Height of the bench under the frames, on which a meter or a test box lies."""
TOGETHER = 240.0
"""Parts of an item that are no farther apart than this are looked at in one frame."""
PROBE = 34.0
"""Length of a probe."""
MARKED = 14.0
"""Radius of the mark at a place."""


@dataclass(frozen=True, slots=True)
class Frame:
    """One step: a place on an item, what is drawn over it, and what is said."""

    item: str
    at: Place | None
    """Where to look, on the item's drawing; None for the whole item."""
    words: str
    over: Callable[[Place, int], str]
    """What is drawn over the place: given where it is in the frame, and whether its thing leads up (−1) or down (1)."""
    tool: str = ""
    """The tool on the bench that a lead goes to from here."""


def how_svg(setup: Setup, trial: Trial, *, bench: str | None = None) -> str:
    """Return how a trial is made as SVG text, viewBox 400 wide; the item on the `bench` is called “this foil” or “this cord”."""
    frames = [replace(frame, words=_at_hand(setup, bench, frame.words)) for frame in how_frames(setup, trial)]
    sheet = Sheet(WIDTH, 0)
    drawn, y = [], 2.0
    plugs: list[tuple[Rectangle, int]] = []
    for first in range(0, len(frames), 2):
        row = frames[first : first + 2]
        left = (WIDTH - len(row) * FRAME - (len(row) - 1) * GUTTER) / 2
        deepest = 0
        for column, frame in enumerate(row):
            x = left + column * (FRAME + GUTTER)
            window = Rectangle(x, y, x + FRAME, y + TALL)
            drawn.append(_framed(setup, frame, window))
            plugs += [(window, -1 if column == 0 else 1)] if frame.tool else []
            lines = wrapped(frame.words, (FRAME - 4) / boldness(CAPTION), TEXT)
            deepest = max(deepest, len(lines))
            for number, line in enumerate(lines):
                at = (x + FRAME / 2, y + TALL + LEADING * (number + 1))
                drawn.append(sheet.write(line, at, size=TEXT, class_=CAPTION))
        y += TALL + LEADING * deepest + GUTTER
    tool = next((frame.tool for frame in frames if frame.tool), "")
    if tool:
        drawn.append(_on_bench(tool, plugs, y))
        y += TOOL
    said = "; ".join(frame.words for frame in frames)
    return picture(drawn, Rectangle(0, 0, WIDTH, y), f"how to do it: {said}", group=False, class_="fd fd-how")


CAPTION = "fd-word fd-do-word"


def _at_hand(setup: Setup, item: str | None, words: str) -> str:
    """Return words in which the item on the bench is “this foil”, not that of a side."""
    if item is None or setup.items[item].side is None:
        return words
    kind = setup.items[item].kind
    side, name = re.escape(str(setup.items[item].side)), re.escape(kind)
    this = f"this {setup.weapon if kind == 'weapon' else kind}"
    words = re.sub(rf"(the )?{side} {name}(?= (?!plug|clip|in\b|on\b))", f"{this}’s", words)
    words = re.sub(rf"(the )?{side} {name}(?! plug| clip)", this, words)
    return re.sub(rf"the {side} (point|blade|edge)", r"its \1", words)


def how_frames(setup: Setup, trial: Trial) -> list[Frame]:
    """Return the steps of a trial in the order in which they are made; watching alone is one step too."""
    steps = _Steps(setup, trial)
    frames = list(steps.frames())
    if not frames:
        frames = [Frame("apparatus", None, "touch nothing and watch the lamps", lambda at, _: lens((at[0], at[1] - 62), MARKED))]
    return frames[:MOST]


class _Steps:
    """Finds the steps of one trial."""

    def __init__(self, setup: Setup, trial: Trial) -> None:
        self._setup, self._trial = setup, trial

    def frames(self) -> Iterator[Frame]:
        """Yield the steps."""
        trial = self._trial
        for name in trial.mended:
            item = self._item(name)
            yield Frame(item, self._spot(name), f"mended: {name}", lambda at, _: ticked(at, MARKED))
        for name in trial.swapped:
            yield Frame(name, None, f"put in a known-good {self._short(name)}", lambda at, _: _exchanged(at))
        yield from self._undone()
        yield from self._contacts()
        yield from self._press()
        for move in trial.moves:
            yield self._move(move)
        yield from self._looked()
        yield from self._measured()

    def _short(self, item: str) -> str:
        return self._setup.items[item].words if item in self._setup.items else item

    def _item(self, name: str) -> str:
        setup = self._setup
        if name in setup.parts:
            return setup.parts[name].item
        return name if name in setup.items else name.partition(":")[0]

    def _spot(self, name: str) -> Place | None:
        item = self._item(name)
        return item_scene(self._setup, item).scene.spots.get(name)

    def _node(self, node: str) -> tuple[str, Place | None]:
        item = node_item(node)
        return item, item_scene(self._setup, item).scene.layout.nodes.get(node)

    def _place(self, name: str) -> tuple[str, Place | None]:
        return self._node(self._setup.places[name])

    def _pin(self, connection: str) -> tuple[str, Place | None]:
        """Return the plug or clip of a connection: its item, and the middle of its pins on that item's drawing."""
        network = self._setup.network
        branches = [network.branches[network.index(pin)] for pin in self._setup.connections[connection].pins.values()]
        ends = [end for branch in branches for end in (branch.a, branch.b)]
        item = next((node_item(end) for end in ends if "cord" in end or "cable" in end), node_item(ends[0]))
        nodes = item_scene(self._setup, item).scene.layout.nodes
        places = [nodes[end] for end in ends if end in nodes and node_item(end) == item]
        return item, (sum(x for x, _ in places) / len(places), sum(y for _, y in places) / len(places)) if places else None

    def _undone(self) -> Iterator[Frame]:
        arrangement = self._trial.arrangement
        if len(arrangement.unplugged) < ALONE:
            for name in arrangement.unplugged:
                item, at = self._pin(name)
                yield Frame(item, at, f"undo the {name}", lambda at, out: arrow(at, (at[0], at[1] + out * 44)))
        for name, first, second in arrangement.bridged:
            bridge = self._setup.connections[name].bridge
            (item, a), (_, b) = self._node(bridge[first]), self._node(bridge[second])
            middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) if a and b else None
            half = abs(b[0] - a[0]) / 2 * CLOSE if a and b else MARKED
            yield Frame(item, middle, f"join {first} and {second} at the {name}", _bridge(half))

    def _contacts(self) -> Iterator[Frame]:
        for a, b in self._trial.arrangement.touching:
            item, at = self._place(b)
            blade = "blade" in a.rpartition("weapon")[2] and "weapon" in a
            over = _laid if blade else _touched
            yield Frame(item, at, f"hold the {a} on the {b}", over)

    def _press(self) -> Iterator[Frame]:
        side, on = self._trial.arrangement.press, self._trial.arrangement.on
        if not side:
            return
        kind = plain(self._setup.weapon)
        verb = f"press the {side} point" if self._setup.points[side].moves else f"cut with the {side} blade"
        if on is None:
            weapon, at = self._node(self._setup.points[side].face)
            alone = self._trial.meter or self._trial.box
            words = verb if alone else f"{verb} on what does not conduct: a shoe, a rubber mat"
            yield Frame(weapon, at, words, lambda at, _: _pressed_up(at))
        else:
            item, at = self._place(on)
            yield Frame(item, at, f"{verb} on the {on}", lambda at, _: shapes(prop(kind, at, 0.95)) + _target(at))

    def _move(self, move: str) -> Frame:
        setup = self._setup
        verb, _, rest = move.partition(" ")
        item = setup.movements[move] if move in setup.movements else ""  # noqa: SIM401 — a book has no get
        if not item:
            words = f"have the {rest} fencer {verb} on" if rest in SIDES else move
            return Frame(f"{rest if rest in SIDES else SIDES[0]} weapon", None, words, lambda at, _: motion("beat", at, 1))
        words = f"{VERBS.get(verb, verb)} the {rest}"
        return Frame(item, self._grip(item, rest, move), words, lambda at, out: motion(verb, at, out))

    def _grip(self, item: str, held: str, move: str) -> Place | None:
        """Return where a movement grips: at the place or the plug it names, at the parts it names, or at those it moves most."""
        setup = self._setup
        if held in setup.places:
            return self._place(held)[1]
        handle = held.removeprefix(item).strip()
        plug = f"{setup.items[item].side} {handle}"
        if plug in setup.connections and self._pin(plug)[0] == item:
            return self._pin(plug)[1]
        spots = item_scene(setup, item).scene.spots
        parts = [part for part in setup.parts.values() if part.item == item and part.id in spots]
        grip = {part.id: max(part.moved_by.get(move, 0.0), part.held_by.get(move, 0.0)) for part in parts}
        best = max(grip.values(), default=0.0)
        named = [part.id for part in parts if handle in part.name]
        chosen = [spots[name] for name in named or grip if named or grip[name] == best > 0]
        return (sum(x for x, _ in chosen) / len(chosen), sum(y for _, y in chosen) / len(chosen)) if chosen else None

    def _looked(self) -> Iterator[Frame]:
        """Yield a frame for each place that is looked at: parts of an item that lie together share one."""
        seen: list[tuple[str, Place | None, list[str]]] = []
        for name in self._trial.examine:
            item, at = self._item(name), self._spot(name)
            known = next((each for each in seen if each[0] == item and _together(each[1], at)), None)
            if known is None:
                known = (item, at, [])
                seen.append(known)
            if name in self._setup.parts:
                known[2].append(self._setup.parts[name].name)
        for item, at, names in seen:
            words = f"look at the {item}: {', '.join(names[:3])}" if names else f"look at the {item}"
            yield Frame(item, at, words, lambda at, _: lens(at, MARKED))

    def _measured(self) -> Iterator[Frame]:
        trial = self._trial
        for place in trial.meter or ():
            item, at = self._place(place)
            yield Frame(item, at, f"one lead on the {place}", lambda at, _: shapes(prop("probe", at, 1.0)), "meter")
        if trial.box:
            words = f"{self._short(trial.box)} in the test box"
            yield Frame(trial.box, None, words, lambda _at, _: "", "test box")
        if trial.gauge:
            side, gauge = trial.gauge
            item, at = self._node(self._setup.points[side].face)
            held = gauge_prop(gauge)
            yield Frame(item, at, f"{gauge} on the {side} point", lambda at, _: shapes(prop(held, at, 1.1)))


def _together(one: Place | None, other: Place | None) -> bool:
    """Return whether two places of an item can be looked at in one frame."""
    return one is None or other is None or distance(one, other) < TOGETHER


def _framed(setup: Setup, frame: Frame, window: Rectangle) -> str:
    """Return one frame."""
    scene = item_scene(setup, frame.item).scene
    middle = window.middle
    if frame.at is None:
        scale = min((window.bottom - window.top - 8) / scene.height, 1.0)
        centre = (WIDTH / 2, scene.height / 2)
    else:
        scale, centre = CLOSE, frame.at
    shift = middle[0] - scale * centre[0], middle[1] - scale * centre[1]
    seen = seen_through(scene, scale, *shift, window)
    outward = -1 if centre[1] < scene.height / 2 else 1
    wires = [
        element("path", d=path.data, class_=f"fd-line fd-line-{seen.layout.letters[name].lower()}")
        for name, path in seen.layout.paths.items()
        if name not in seen.layout.through and seen.layout.letters[name] in {"A", "B", "C"}
    ]
    drawn = [*(shapes(figure) for figure in seen.figures.values()), *wires, frame.over(middle, outward)]
    return framed(drawn, window)


def _on_bench(tool: str, plugs: Sequence[tuple[Rectangle, int]], y: float) -> str:
    """Return the bench with a tool on it, and its leads, which enter each frame from its outer side."""
    at = (WIDTH / 2, y + TOOL / 2 - 6)
    box = prop_box(tool, at, 0.95)
    leads = []
    for number, (window, side) in enumerate(plugs):
        start = box.left + (number + 1) * (box.right - box.left) / (len(plugs) + 1)
        edge = max(window.left - 3, 2.0) if side < 0 else min(window.right + 3, WIDTH - 2.0)
        (x, probe), low = window.middle, y + 24
        leads.append(
            f"M{start:.1f} {box.middle[1]:.1f}C{edge:.1f} {low + 40:.1f} {edge:.1f} {low:.1f} {edge:.1f} {window.bottom:.1f}"
            f"C{edge:.1f} {window.bottom - 30:.1f} {x:.1f} {window.bottom:.1f} {x:.1f} {probe + PROBE:.1f}"
        )
    bench = f"M8 {y + TOOL - 8:.1f}L{WIDTH - 8:.1f} {y + TOOL - 8:.1f}"
    leads_drawn = element("path", d="".join(leads), class_="fd-lead")
    return leads_drawn + shapes(prop(tool, at, 0.95)) + element("path", d=bench, class_="fd-bench")


def _exchanged(at: Place) -> str:
    x, y = at
    return arrow((x - 58, y), (x - 24, y)) + arrow((x + 24, y), (x + 58, y)) + ticked((x, y), MARKED)


def _bridge(half: float) -> Callable[[Place, int], str]:
    """Return what draws a wire between two pins that are twice `half` apart."""
    return lambda at, _: _bridged(at, half)


def _bridged(at: Place, half: float) -> str:
    x, y = at
    data = f"M{x - half:.1f} {y:.1f}C{x - half:.1f} {y - 34:.1f} {x + half:.1f} {y - 34:.1f} {x + half:.1f} {y:.1f}"
    dots = "".join(element("circle", cx=x + side * half, cy=y, r=4, class_="fd-dot") for side in (-1, 1))
    return element("path", d=data, class_="fd-clip") + dots


def _laid(at: Place, _: int) -> str:
    return shapes(prop("blade", at, 0.95)) + _target(at)


def _touched(at: Place, _: int) -> str:
    x, y = at
    return arrow((x - 56, y - 30), (x - 9, y - 5)) + _target(at)


def _target(at: Place) -> str:
    return element("circle", cx=at[0], cy=at[1], r=MARKED - 4, class_="fd-do")


def _pressed_up(at: Place) -> str:
    x, y = at
    block = element("rect", x=x - 44, y=y - 34, width=88, height=32, rx=5, class_="fd-rubber")
    return block + arrow((x - 30, y + 54), (x - 30, y + 10)) + arrow((x + 30, y + 54), (x + 30, y + 10))
