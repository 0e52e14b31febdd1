"""Every part of every kit has its place on the drawing of its item, and nothing that is written lies on anything else."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from drawn import SVG, overlaps, parsed, texts
from foible.apparatus import load_profile
from foible.diagnosis.explain.circuit import explain_lamps
from foible.drawing import Marks, item_svg, part_svg, strip_svg
from foible.drawing.callouts import Note, columns
from foible.drawing.clip import clipped
from foible.drawing.item import item_scene
from foible.drawing.outlined import Outline, drawn_paths
from foible.drawing.path import Path, Rectangle
from foible.drawing.sketches import Sketch, sketch_for
from foible.kit import load_setup, plain
from foible.trials import Arrangement, Trial

if TYPE_CHECKING:
    from foible.kit import Failure, Setup

pytestmark = pytest.mark.once

KITS = (("foil", "two-pin"), ("foil", "bayonet"), ("épée", ""), ("sabre", ""))
TARGET = {"foil": "right lamé front", "épée": "right weapon guard", "sabre": "right mask mesh"}
MIDDLE = Rectangle(120, 0, 280, 1000)
"""What the two columns of names leave for the drawing; sockets and pins of the widest things reach this far."""


@cache
def kit(weapon: str, socket: str) -> Setup:
    sides = {side: {"socket": socket} for side in ("left", "right")} if socket else None
    return load_setup(weapon, fitted=sides)


@pytest.mark.parametrize(("weapon", "socket"), KITS)
def test_every_part_is_pointed_at_where_it_is_drawn(weapon: str, socket: str) -> None:
    setup = kit(weapon, socket)
    for part in setup.parts.values():
        scene = item_scene(setup, part.item).scene
        at = scene.spots[part.id]
        near = Rectangle.around([at]).grown(9)
        shapes = [path for _, path in scene.figures[part.item].part_paths.get(part.name, ())]
        lines = [scene.layout.paths[part.id]] if part.id in scene.layout.paths else []
        figure = [path for _, path in scene.figures[part.item].shapes]
        assert any(clipped(path, near) for path in ([*shapes, *lines] if shapes else [*lines, *figure])), part.id
        assert MIDDLE.holds(Rectangle.around([at])), part.id
    assert len({(part.item, item_scene(setup, part.item).scene.spots[part.id]) for part in setup.parts.values()}) == len(
        list(setup.parts)
    ), "no two parts in one place"


@pytest.mark.parametrize(("weapon", "socket"), KITS)
def test_what_the_sketches_name_is_in_the_kit(weapon: str, socket: str) -> None:
    """A misspelt part would be drawn and never marked."""
    setup = kit(weapon, socket)
    every = {
        (setup.items[part.item].kind, part.name) for each in KITS for part in kit(*each).parts.values() for setup in [kit(*each)]
    }
    for item in setup.items.values():
        sketch = sketch_for("item", item.kind, setup.weapon)
        assert sketch.outline, f"{item.id} is drawn"
        named = {outline.part for outline in sketch.outline} | {outline.having for outline in sketch.outline} | set(sketch.spots)
        assert {(item.kind, name) for name in named if name} <= every


@pytest.mark.parametrize(("weapon", "socket"), KITS)
def test_a_suspected_part_is_marked_in_its_shape_or_at_its_place(weapon: str, socket: str) -> None:
    setup = kit(weapon, socket)
    for part in setup.parts.values():
        if setup.items[part.item].side == "right":
            continue  # the same drawing
        x, y = item_scene(setup, part.item).scene.spots[part.id]
        svg = item_svg(setup, part.item, Marks({part.id: 0.42}))
        rings = [ring.attrib for ring in parsed(svg).iter(f"{SVG}circle") if ring.attrib["class"] == "fd-ring"]
        assert [(float(ring["cx"]), float(ring["cy"])) for ring in rings] == [pytest.approx((x, y), abs=0.06)], part.id
        assert [words for words in texts(svg) if "%" in words] == ["42\u00a0%"]
        own = parsed(part_svg(setup, part.id, Marks(chosen=part.id)))
        halo = [ring for ring in own.iter(f"{SVG}circle") if ring.attrib["class"] == "fd-halo"]
        assert len(halo) == 1, "the part in question is in its own picture"


@pytest.mark.parametrize(("weapon", "socket"), KITS)
def test_no_number_stands_for_a_name(weapon: str, socket: str) -> None:
    setup = kit(weapon, socket)
    for item in setup.items:
        assert not [words for words in texts(item_svg(setup, item)) if re.fullmatch(r"\d+", words)]


@pytest.mark.parametrize(("weapon", "socket"), KITS)
def test_names_of_items_and_parts_lie_on_nothing_with_every_badge_shown(weapon: str, socket: str) -> None:
    setup = kit(weapon, socket)
    everything = dict.fromkeys((*setup.items, *setup.parts), 0.997)
    lamps = {side: dict.fromkeys(("white", "coloured", "yellow"), 0.5) for side in ("left", "right")}
    for marks in (Marks(), Marks(everything, lamps=lamps)):
        assert overlaps(strip_svg(setup, marks)) == []
        for item in setup.items:
            assert overlaps(item_svg(setup, item, marks)) == [], item
        for part in setup.parts:
            assert overlaps(part_svg(setup, part, marks)) == [], part


@pytest.mark.slow
@pytest.mark.parametrize(("weapon", "socket"), KITS)
def test_the_strip_and_the_part_are_legible_with_the_marks_of_every_failure(weapon: str, socket: str) -> None:
    """Way, cuts, the press, the name of the part, lamps and the badges of its item and of two others.

    Failures of a part that do the same are the same picture.
    """
    setup = kit(weapon, socket)
    profile, seen = load_profile(setup.profile), set[str]()
    for failure in setup.failures.values():
        marks = _of_failure(setup, failure, explain_lamps(setup, profile, _press(setup), [(failure, failure.usual_ohms)]))
        if repr(marks) in seen:
            continue
        seen.add(repr(marks))
        assert overlaps(strip_svg(setup, marks)) == [], failure.id
        assert overlaps(part_svg(setup, failure.part, marks)) == [], failure.id


def _press(setup: Setup) -> Arrangement:
    return Arrangement(press="left", on=TARGET[setup.weapon])


def _of_failure(setup: Setup, failure: Failure, told: object) -> Marks:
    explained = told["left"]  # type: ignore[index]
    circuit = next((each for each in explained.circuits if each.way), None)
    return Marks(
        {failure.item: 0.62, failure.part: 0.62, "left cord": 0.2, "apparatus": 0.11},
        way=circuit.way if circuit else (),
        cuts=circuit.cuts if circuit else (),
        trial=Trial(_press(setup)),
        chosen=failure.part,
        lamps={side: each.lamps for side, each in told.items()},  # type: ignore[attr-defined]
    )


def test_an_item_that_nobody_has_drawn_still_shows_its_lines_and_names(monkeypatch: pytest.MonkeyPatch) -> None:
    """A kit of one's own may bring a kind of item that Foible has never seen."""
    setup = load_setup("sabre", fitted={"left": {"socket": "two-pin"}})
    monkeypatch.setattr("foible.drawing.item.sketch_for", lambda *_: Sketch())
    svg = item_svg(setup, "left reel", link=lambda name: f"#{name}")
    assert overlaps(svg) == []
    parts = [part for part in setup.parts.values() if part.item == "left reel"]
    assert {part.id for part in parts} == {a.attrib.get("data-part") for a in parsed(svg).iter(f"{SVG}a")} - {None}
    spots = [item_scene(setup, "left reel").scene.spots[part.id] for part in parts if part.conducts]
    assert len(spots) == len(set(spots)) == 12
    assert all(MIDDLE.holds(Rectangle.around([spot])) for spot in spots)


def test_columns_keep_the_order_of_their_places_and_never_overlap() -> None:
    notes = [Note(f"part {number}", (150 + 11 * (number % 10), 7 * number), pill="5 %") for number in range(40)]
    placed = columns(notes, 4, 200)
    assert {each.note.words for each in placed} == {note.words for note in notes}
    for left in (True, False):
        own = sorted((each for each in placed if each.left == left), key=lambda each: each.box.top)
        assert all(a.box.bottom <= b.box.top for a, b in pairwise(own))
        assert [each.note.at[1] for each in own] == sorted(each.note.at[1] for each in own)
    tall = [sum(each.box.bottom - each.box.top for each in placed if each.left == left) for left in (True, False)]
    assert max(tall) < 1.5 * min(tall), "neither column is much longer"


def test_a_single_name_stands_at_the_height_of_its_place() -> None:
    (only,) = columns([Note("blade", (210, 90))], 0, 300)
    assert only.box.middle[1] == pytest.approx(90, abs=2)
    assert not only.left


def test_areas_and_strokes_are_cut_at_the_window() -> None:
    window = Rectangle(0, 0, 10, 10)
    square = Path(((-5, -5), (5, -5), (5, 5), (-5, 5), (-5, -5)))
    (area,) = clipped(square, window)
    assert Rectangle.around(area.places) == Rectangle(0, 0, 5, 5)
    assert area.start == area.end
    (stroke,) = clipped(Path(((-5, 5), (15, 5))), window)
    assert stroke.places == ((0, 5), (10, 5))
    assert clipped(Path(((-5, 5), (5, 15))), window) == []
    assert len(clipped(Path(((2, 2), (2, 20), (4, 20), (4, 2))), window)) == 2
    inside = Path(((1, 1), (2, 2)))
    assert clipped(inside, window) == [inside]


def test_shapes_are_said_in_a_line_each() -> None:
    (turned,) = drawn_paths(Outline(half="M200 0 L210 0 L210 20 L200 20"))
    assert Rectangle.around(turned.places) == Rectangle(190, 0, 210, 20)
    (spring,) = drawn_paths(Outline(coil=(200, 10, 40, 6, 5)))
    assert Rectangle.around(spring.places) == Rectangle(194, 10, 206, 40)
    assert len(drawn_paths(Outline(thread=(0, 0, 10, 12, 4)))) == 4
    left, right = drawn_paths(Outline(box=(150, 0, 160, 10), twin=True))
    assert Rectangle.around(right.places) == Rectangle(240, 0, 250, 10)
    assert left.start == left.end
    with pytest.raises(ValueError, match="say one of d, half, box, disc, coil and thread; here 2 of them"):
        Outline(d="M0 0 L1 1", disc=(0, 0, 1, 1))
    assert plain("épée") == "epee"
