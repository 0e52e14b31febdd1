"""The pictures of the strip, of items and of parts: complete, legible without colour, and safe to put into a page."""

from __future__ import annotations

import re
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING

import pytest

from drawn import SVG, boxes, overlaps, parsed, texts
from foible.apparatus import load_profile
from foible.diagnosis.explain.circuit import explain_lamps
from foible.drawing import STYLE, Marks, item_svg, part_svg, strip_svg
from foible.drawing.item import item_scene
from foible.drawing.path import Path, hatched, outlines
from foible.drawing.svg import Sheet, wrapped
from foible.errors import UnknownNameError
from foible.kit import load_setup
from foible.trials import Arrangement, Trial, load_catalogue

if TYPE_CHECKING:
    from collections.abc import Iterator
    from xml.etree import ElementTree as ET

    from foible.kit import Setup

pytestmark = pytest.mark.once

WEAPONS = ("foil", "épée", "sabre")
SUSPICION = {"left cord": 0.34, "left weapon": 0.2, "right reel": 0.6, "piste": 0.011, "apparatus": 0.05, "right lamé": 0.009}
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@cache
def setup_of(weapon: str) -> Setup:
    return load_setup(weapon)


def link(name: str) -> str:
    return f"/kit?name={name}&look=1"


def named_links(svg: str) -> list[ET.Element]:
    """Return the links with a name, which the keyboard reaches; others are for a pointer and lead to the same addresses."""
    return [a for a in parsed(svg).iter(f"{SVG}a") if "tabindex" not in a.attrib]


def every_picture(setup: Setup, marks: Marks) -> Iterator[str]:
    yield strip_svg(setup, marks, link=link)
    yield from (item_svg(setup, item, marks, link=link) for item in setup.items)
    yield from (part_svg(setup, part, marks, link=link) for part in setup.parts)


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_picture_is_well_formed_and_asks_for_nothing_that_a_strict_page_forbids(weapon: str) -> None:
    setup = setup_of(weapon)
    marks = Marks(suspicion=SUSPICION, chosen="left cord")
    for svg in every_picture(setup, marks):
        root = parsed(svg)
        assert root.tag == f"{SVG}svg"
        assert root.attrib["role"] == "group"
        assert root.attrib["aria-label"]
        assert not re.search(r"style=|<style|script|fill=\"|stroke=\"|\sid=", svg)
        assert len(svg.encode()) < 45_000


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_item_is_on_the_strip_with_a_named_link(weapon: str) -> None:
    setup = setup_of(weapon)
    links = {a.attrib["data-item"]: a for a in parsed(strip_svg(setup, link=link)).iter(f"{SVG}a")}
    assert set(links) == set(setup.items)
    assert all(a.attrib["href"] == link(name) and a.attrib["aria-label"] == name for name, a in links.items())


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_part_is_on_its_items_drawing_with_its_whole_name(weapon: str) -> None:
    setup = setup_of(weapon)
    for item in setup.items:
        links = {a.attrib.get("data-part"): a for a in named_links(item_svg(setup, item, link=link))}
        for part in (part for part in setup.parts.values() if part.item == item):
            words = [text.text or "" for text in links[part.id].iter(f"{SVG}text")]
            assert " ".join(words).endswith(part.name), part.id
            assert links[part.id].attrib["aria-label"] == part.id


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_conducting_branch_is_drawn_on_its_item(weapon: str) -> None:
    setup = setup_of(weapon)
    for item in setup.items:
        drawn = {path.attrib.get("data-branch") for path in parsed(item_svg(setup, item)).iter(f"{SVG}path")}
        assert {part.id for part in setup.parts.values() if part.item == item and part.conducts} <= drawn


@pytest.mark.parametrize("weapon", WEAPONS)
def test_lines_run_on_from_branch_to_branch(weapon: str) -> None:
    setup = setup_of(weapon)
    for item in setup.items:
        layout = item_scene(setup, item).scene.layout
        for branch in setup.network.branches:
            if branch.name in layout.paths:
                path = layout.paths[branch.name]
                ends = (layout.nodes[branch.a], layout.nodes[branch.b])
                assert path.start == pytest.approx(ends[0], abs=0.2), branch.name
                assert path.end == pytest.approx(ends[1], abs=0.2), branch.name


@pytest.mark.parametrize("weapon", WEAPONS)
def test_the_right_side_is_the_left_in_a_mirror(weapon: str) -> None:
    svg = strip_svg(setup_of(weapon))
    found = sorted((words, round(box.middle[0], 1), round(box.middle[1], 1)) for words, box in boxes(svg))
    twice = [entry for entry in found if entry[0] in {"weapon", "cord", "reel", "floor cable", "how it is held"}]
    assert twice
    assert all((words, round(400 - x, 1), y) in twice for words, x, y in twice)


def test_what_is_hidden_is_left_out_of_the_strip_and_nothing_else() -> None:
    setup = setup_of("foil")
    items = [set(re.findall(r'data-item="([^"]*)"', strip_svg(setup, Marks(hidden=hidden)))) for hidden in ((), ("tools",))]
    assert items[0] - items[1] == {"tools"}


@pytest.mark.parametrize("weapon", WEAPONS)
def test_lettering_is_large_enough_to_read_on_a_phone(weapon: str) -> None:
    """At least 11 CSS pixels where a picture is shown 358 pixels wide, on a phone of 390; it is 400 units wide."""
    setup = setup_of(weapon)
    marks = Marks(suspicion=dict.fromkeys((*setup.items, *setup.parts), 0.3), lamps={"left": {"white": 0.5}})
    for svg in every_picture(setup, marks):
        assert all(float(text.attrib["font-size"]) * 358 / 400 >= 11 for text in parsed(svg).iter(f"{SVG}text"))


@pytest.mark.parametrize("weapon", WEAPONS)
def test_what_can_be_touched_is_large_enough_for_a_finger(weapon: str) -> None:
    """Web Content Accessibility Guidelines 2.2, success criterion 2.5.8: 24 by 24 CSS pixels; here at a width of 358."""
    setup = setup_of(weapon)
    for svg in every_picture(setup, Marks()):
        for a in named_links(svg):
            grounds = [rect for rect in a.iter(f"{SVG}rect") if rect.attrib["class"] == "fd-touch-ground"]
            least = min(float(ground.attrib[side]) for ground in grounds for side in ("width", "height"))
            assert least * 358 / 400 >= 24, a.attrib["aria-label"]


def test_a_part_can_be_touched_where_it_is_drawn_and_leads_where_its_name_does() -> None:
    setup = setup_of("foil")
    svg = item_svg(setup, "left weapon", link=link)
    named = {a.attrib["href"] for a in named_links(svg) if "data-part" in a.attrib}
    touched = [a for a in parsed(svg).iter(f"{SVG}a") if a.attrib.get("tabindex") == "-1"]
    assert {a.attrib["href"] for a in touched} == named
    assert all(a.attrib["aria-hidden"] == "true" for a in touched), "read out once, by name"
    assert "tabindex" not in item_svg(setup, "left weapon"), "without links there is nothing to touch"


def test_suspicion_is_told_in_figures_and_by_denser_hatching_as_well_as_by_colour() -> None:
    setup = setup_of("foil")
    svg = strip_svg(setup, Marks(suspicion=SUSPICION), link=link)
    assert {"34\u00a0%", "20\u00a0%", "60\u00a0%", "1\u00a0%", "5\u00a0%"} <= set(texts(svg))
    assert "left cord, suspected 34\u00a0%" in {a.attrib["aria-label"] for a in parsed(svg).iter(f"{SVG}a")}
    assert "right lamé, suspected" not in svg, "less than 1 % stays unmarked"
    lengths = [
        sum(map(len, re.findall(r'<path d="([^"]*)" class="fd-hatch"', strip_svg(setup, Marks(suspicion={"right reel": p})))))
        for p in (0.0, 0.02, 0.1, 0.2, 0.5, 0.9)
    ]
    assert lengths == sorted(set(lengths))
    part = item_svg(setup, "left cord", Marks(suspicion={"left cord sheath": 0.42}))
    assert "42\u00a0%" in texts(part)


@pytest.mark.parametrize(
    ("weapon", "on", "circuit"),
    [("foil", "right lamé front", "target"), ("épée", "right weapon guard", "loop"), ("sabre", "right mask mesh", "target")],
)
def test_the_way_of_a_hit_is_marked_branch_by_branch_with_its_contacts(weapon: str, on: str, circuit: str) -> None:
    setup = setup_of(weapon)
    trial = Trial(Arrangement(press="left", on=on))
    told = explain_lamps(setup, load_profile(setup.profile), trial.arrangement)["left"]
    way = next(entry.way for entry in told.circuits if entry.name == circuit)
    assert len(way) > 10
    svg = strip_svg(setup, Marks(way=way, trial=trial))
    assert re.findall(r'data-way="([^"]*)"', svg) == [name.replace("'", "&#x27;") for name in way]
    for item in setup.items:
        own = {name for name in way if name in setup.parts and setup.parts[name].item == item}
        drawn = set(re.findall(r'data-way="([^"]*)"', item_svg(setup, item, Marks(way=way, trial=trial))))
        assert {name.replace("'", "&#x27;") for name in own} <= drawn


def test_arrow_heads_point_along_the_current() -> None:
    """From line B at the apparatus to the weapon: on the left floor cable, away from the apparatus, which is to its right."""
    setup = setup_of("foil")
    way = tuple(f"left floor cable B wire{end}" for end in (" in the plug at the apparatus", "", " in the plug at the reel"))
    (heads,) = re.findall(r'<path d="([^"]*)" class="fd-head"', strip_svg(setup, Marks(way=way)))
    for head in outlines(heads):
        (ax, _), (tip, _), (bx, _) = head.places
        assert tip < max(ax, bx), "the tip lies further from the apparatus than the wings"


def test_a_cut_is_a_gap_a_cross_and_a_word() -> None:
    setup = setup_of("foil")
    branch = "left cord B wire, middle"
    marks = Marks(way=(branch,), cuts=(branch,))
    for svg in (strip_svg(setup, marks), item_svg(setup, "left cord", marks), part_svg(setup, branch, marks)):
        (group,) = (g for g in parsed(svg).iter(f"{SVG}g") if g.attrib.get("data-cut") == branch)
        assert {child.attrib["class"].split()[0] for child in group} >= {"fd-gap", "fd-cut-disc", "fd-cross"}
        (disc,) = (child for child in group if child.attrib["class"] == "fd-cut-disc")
        assert 2 * float(disc.attrib["r"]) * 358 / 400 >= 16, "as large as a letter in capitals, to be seen on a phone"
        assert " ".join(texts(svg)).count("cut here") == 1


def test_the_point_that_is_pressed_is_open_and_not_cut() -> None:
    """A foil's point opens when it is pressed (FIE m.11): that is the trial and not the fault."""
    setup = setup_of("foil")
    seat, broken = "left weapon point seat", "left weapon wire along the blade"
    marks = Marks(way=(broken,), cuts=(seat, broken), trial=Trial(Arrangement(press="left")), chosen=seat)
    for svg in (strip_svg(setup, marks), item_svg(setup, "left weapon", marks), part_svg(setup, seat, marks)):
        assert re.findall(r'data-open="([^"]*)"', svg) == [seat]
        assert seat not in re.findall(r'data-cut="([^"]*)"', svg)
        assert "open while pressed" in " ".join(texts(svg))
    assert f'data-cut="{seat}"' in strip_svg(setup, Marks(way=(broken,), cuts=(seat,))), "with nobody pressing, it is cut"


def test_what_is_taken_to_have_failed_bears_no_figure() -> None:
    setup = setup_of("foil")
    marks = Marks(failed={"left weapon": "dirty", "left weapon point seat": "dirty or corroded"}, chosen="left weapon point seat")
    assert "failed here" in texts(strip_svg(setup, marks))
    assert "dirty or corroded" in " ".join(texts(item_svg(setup, "left weapon", marks))).replace("  ", " ")
    for svg in (strip_svg(setup, marks), item_svg(setup, "left weapon", marks), part_svg(setup, "left weapon point seat", marks)):
        assert "%" not in "".join(texts(svg))
        assert "fd-ring" in svg


def test_branches_that_nobody_knows_are_passed_over_and_joints_between_known_nodes_drawn() -> None:
    setup = setup_of("foil")
    way = ("no such branch", "left cord.b4 = left cord.c4", "left cord.b4 = nowhere")
    assert re.findall(r'data-way="([^"]*)"', strip_svg(setup, Marks(way=way, cuts=("nor this",)))) == [way[1]]


@pytest.mark.slow
@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_trial_of_the_catalogue_shows_what_is_done_in_words(weapon: str) -> None:
    setup = setup_of(weapon)
    for idea in load_catalogue(setup):
        svg = strip_svg(setup, Marks(trial=idea.trial))
        group = next(g for g in parsed(svg).iter(f"{SVG}g") if g.attrib.get("class") == "fd-doing")
        words = " / ".join(text.text or "" for text in group.iter(f"{SVG}text"))
        trial, arrangement = idea.trial, idea.trial.arrangement
        expected = [
            *(("hit" if weapon == "sabre" else "press") for _ in range(bool(arrangement.press))),
            *("touching" for _ in arrangement.touching[:1]),
            *(f"bridge {first}–{second}" for _, first, second in arrangement.bridged),
            *("undone" for _ in arrangement.unplugged[:1]),
            *("known good" for _ in trial.swapped[:1]),
            *("mended" for _ in trial.mended[:1]),
            *(move.partition(" ")[0] for move in trial.moves),
            *("look" for _ in trial.examine[:1]),
            *("meter" for _ in (trial.meter or ())[:1]),
            *("test box" for _ in range(bool(trial.box))),
            *(trial.gauge or ())[1:],
        ] or ["at rest"]
        assert all(word in words for word in expected), f"{idea.say}: {words}"
        assert overlaps(svg) == [], idea.say


@pytest.mark.slow
@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_trial_can_be_drawn_on_each_item_and_part_that_it_names(weapon: str) -> None:
    setup = setup_of(weapon)
    for idea in load_catalogue(setup):
        for name in idea.trial.examine:
            part = setup.parts[name] if name in setup.parts else None  # noqa: SIM401 — a Book has no get
            svg = part_svg(setup, name, Marks(trial=idea.trial)) if part else item_svg(setup, name, Marks(trial=idea.trial))
            assert "look" in texts(svg), idea.say
        if idea.item:
            svg = item_svg(setup, idea.item, Marks(trial=idea.trial))
            assert overlaps(svg) == [], idea.say


@pytest.mark.parametrize(
    ("weapon", "lamps", "letters", "classes"),
    [
        ("foil", {"left": {"coloured": 1.0}, "right": {"white": 1.0}}, {"R", "W"}, {"red", "white"}),
        ("foil", {"left": {"yellow": 1.0}, "right": {"coloured": 1.0}}, {"Y", "G"}, {"yellow", "green"}),
        ("épée", {"left": {"yellow": 1.0, "white": 0.0}, "right": {"coloured": 0.01}}, {"O"}, {"orange"}),
        ("sabre", {"left": {"white": 0.4}}, {"W", "40%"}, {"white"}),
    ],
)
def test_a_lit_lamp_has_its_colour_and_its_letter(
    weapon: str, lamps: dict[str, dict[str, float]], letters: set[str], classes: set[str]
) -> None:
    """Red on the left, green on the right: rules of the FIE, material rules, Annex B."""
    plain = texts(strip_svg(setup_of(weapon)))
    svg = strip_svg(setup_of(weapon), Marks(lamps=lamps))
    assert sorted(texts(svg)) == sorted([*plain, *letters])
    assert set(re.findall(r'data-lamp="([^"]*)"', svg)) == classes


def test_red_and_green_are_for_lamps_only() -> None:
    for selector, rules in re.findall(r"([^{}]+)\{([^{}]*)\}", STYLE):
        if "--lamp" in rules:
            assert selector.strip().startswith(".fd-lamp"), selector


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_class_in_a_picture_has_its_rule(weapon: str) -> None:
    setup = setup_of(weapon)
    told = set(re.findall(r"\.(fd[\w-]*)", STYLE))
    marks = Marks(suspicion=SUSPICION, lamps={"left": {"white": 0.5}}, chosen="left weapon")
    pictures = [strip_svg(setup, marks), *(item_svg(setup, item, marks) for item in setup.items)]
    used = {name for svg in pictures for names in re.findall(r'class="([^"]*)"', svg) for name in names.split()}
    assert used <= told | {"fd-strip", "fd-lines", "fd-leaders", "fd-to"}


def test_without_links_a_picture_is_one_image() -> None:
    setup = setup_of("foil")
    for svg in (strip_svg(setup), item_svg(setup, "left cord"), part_svg(setup, "left cord sheath")):
        assert parsed(svg).attrib["role"] == "img"
        assert "<a " not in svg


def test_names_as_people_write_them_are_found_and_unknown_ones_refused() -> None:
    setup = setup_of("épée")
    assert item_svg(setup, "Left  Cord") == item_svg(setup, "left cord")
    with pytest.raises(UnknownNameError, match="there is no item called “left cuff”"):
        item_svg(setup, "left cuff")
    with pytest.raises(UnknownNameError, match="there is no part called “left cord clip bite”"):
        part_svg(setup, "left cord clip bite")


def test_markup_in_addresses_names_and_marks_does_no_harm() -> None:
    setup = setup_of("foil")
    evil = '"><script>alert(1)</script>'
    svg = strip_svg(setup, Marks(way=(evil,), suspicion={evil: 0.5}, chosen=evil), link=lambda name: evil + name)
    assert "<script" not in svg
    assert all(a.attrib["href"].startswith(evil) for a in parsed(svg).iter(f"{SVG}a"))


def test_a_picture_does_not_change_when_it_is_drawn_again_after_another() -> None:
    setup = setup_of("foil")
    plain = strip_svg(setup), item_svg(setup, "left weapon"), part_svg(setup, "left weapon blade")
    busy = Marks(suspicion=SUSPICION, trial=Trial(Arrangement(press="left", on="right lamé front")), chosen="left weapon")
    assert strip_svg(setup, busy) != plain[0]
    assert (strip_svg(setup), item_svg(setup, "left weapon"), part_svg(setup, "left weapon blade")) == plain


def test_path_data_is_measured_and_cut() -> None:
    (line,) = outlines("M0 0 L30 0 L30 40")
    assert line.length == 70
    assert line.at(0.5) == (30, 5)
    assert line.piece(0.0, 0.5).places == ((0, 0), (30, 0), (30, 5))
    (curve,) = outlines("M0 0 Q50 100 100 0")
    assert curve.at(0.5) == pytest.approx((50, 50), abs=1)
    (square,) = outlines("M0 0 L10 0 L10 10 L0 10 Z")
    assert square.start == square.end


def test_a_shifted_path_keeps_its_distance() -> None:
    places = Path(((0, 0), (10, 0), (10, 10))).beside(2).places
    assert [round(value, 6) for place in places for value in place] == [0, 2, 8, 2, 8, 10]


def test_hatching_stays_within_its_outline() -> None:
    (square,) = outlines("M0 0 L20 0 L20 20 L0 20 Z")
    numbers = list(map(float, NUMBER.findall(hatched(square, 4))))
    assert len(numbers) // 4 == 6, "strokes 4 apart across a diagonal of 28.3, but for those in the corners"
    assert min(numbers) >= 0
    assert max(numbers) <= 20


def test_lettering_evades_lettering_and_breaks_between_words() -> None:
    sheet = Sheet(200, 100)
    for _ in range(6):
        sheet.write_near("here", (100, 50))
    assert not any(first.meets(second) for first, second in combinations(sheet.taken, 2))
    assert wrapped("order of the lines at the plug", 100, 12) == ["order of the", "lines at the", "plug"]
