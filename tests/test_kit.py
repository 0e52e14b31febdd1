"""The shipped kit against the rulebook, what it holds, and its names."""

from __future__ import annotations

import math
import re
from importlib.resources import files
from itertools import combinations
from pathlib import Path

import pytest

from foible.circuit import Port, Shape, conductances_of, port_resistances
from foible.errors import UnknownNameError
from foible.kit import SIDES, Book, Setup, load_setup, other, plain
from foible.kit.expand import expanded
from foible.kit.schema import PartTable
from kit_files import ohms_between

SHIPPED = Path(str(files("foible.kit") / "data"))
LINES = ("a", "b", "c")


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


# --- the shipped kit against the rulebook -----------------------------------------------------------------------------


# Limits of FIE Material Rules (Book 3), August 2026. Item, two nodes, limit [Ω], clause.
LIMITS = [
    pytest.param("cord", ("reel_a", "jaw"), 1.0, id="m.29.1.c, cord, A line, pin to clip"),
    pytest.param("cord", ("reel_b", "weapon_b"), 1.0, id="m.29.1.c, cord, B line, pin to pin"),
    pytest.param("cord", ("reel_c", "weapon_c"), 1.0, id="m.29.1.c, cord, C line, pin to pin"),
    *(pytest.param("reel", (f"front_{x}", f"back_{x}"), 3.0, id=f"m.55.1, reel, line {x}") for x in LINES),
    *(pytest.param("floor cable", (f"reel_{x}", f"apparatus_{x}"), 2.5, id=f"m.55.5, floor cable, {x}") for x in LINES),
    pytest.param("weapon", ("socket_b", "socket_c"), 2.0, id="m.5.4.a, foil, socket to socket through the point"),
    pytest.param("mask cord", ("teeth_lame", "teeth_bib"), 1.0, id="m.27.3, mask wire, clip to clip"),
    pytest.param("bib", ("edge", "spot"), 5.0, id="m.27.2, bib as the jacket of m.28.5.a: derived"),
]


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(("kind", "ends", "limit"), LIMITS)
def test_sound_kit_keeps_within_the_material_rules(
    foil: Setup, side: str, kind: str, ends: tuple[str, str], limit: float
) -> None:
    assert 0.02 < ohms_between(foil, f"{side} {kind}", *ends) <= limit


@pytest.mark.parametrize("side", SIDES)
def test_a_sound_lame_measures_at_most_5_ohms_between_any_two_places(foil: Setup, side: str) -> None:
    """FIE Material Rules (Book 3), August 2026, m.28.5.a."""
    item = f"{side} lamé"
    nodes = sorted({node.removeprefix(f"{item}.") for node in foil.network.nodes if node.startswith(f"{item}.")})
    assert {"flap", "front_spot", "front_rest"} <= set(nodes)
    for a, b in combinations(nodes, 2):
        assert 0 < ohms_between(foil, item, a, b) <= 5.0, (a, b)


def test_the_sound_piste_measures_at_most_5_ohms_as_far_as_its_lead(foil: Setup) -> None:
    """FIE Material Rules (Book 3), August 2026, m.57.1: at most 5 Ω end to end."""
    assert 0 < ohms_between(foil, "piste", "spot", "lead_end") <= 5.0


@pytest.mark.parametrize("side", SIDES)
def test_the_wire_side_of_a_foil_reads_near_what_an_armourer_measures(foil: Setup, side: str) -> None:
    """Armoury Tip 3, Blackheath FC: socket screw to tip well under 2 Ω, near 0.9 Ω; the whole foil about 2 Ω."""
    wire_side = ohms_between(foil, f"{side} weapon", "socket_screw", "head")
    assert 0.6 <= wire_side <= 1.2
    assert wire_side < ohms_between(foil, f"{side} weapon", "socket_screw", "socket_frame") <= 2.0


@pytest.mark.parametrize("model", ["bayonet", "two-pin"])
def test_either_socket_keeps_foil_and_cord_within_the_material_rules(model: str) -> None:
    """FIE Material Rules (Book 3), August 2026, m.5.4.a and m.29.1.c."""
    setup = load_setup("foil", fitted={"left": {"socket": model}})
    assert ohms_between(setup, "left weapon", "socket_b", "socket_c") <= 2.0
    assert all(ohms_between(setup, "left cord", f"reel_{x}", f"weapon_{x}") <= 1.0 for x in "bc")


def test_the_whole_strip_at_rest_is_closed_for_both_sides(foil: Setup) -> None:
    """FIE Material Rules (Book 3), August 2026: 2 + 2 × (1 + 3 + 2.5) = 15 Ω at most (m.5.4.a, m.29, m.55: derived)."""
    inputs = tuple(f"apparatus.{side}_{x}" for side in SIDES for x in "bc")
    shape = Shape.of(foil.network, inputs)
    mesh = shape.conductances(conductances_of(foil.network))
    ports = [Port.between(f"apparatus.{side}_b", f"apparatus.{side}_c") for side in SIDES]
    across = Port.between("apparatus.left_b", "apparatus.right_b")
    left, right, between = port_resistances(shape, mesh, [*ports, across])[:, 0]
    assert 0 < left == pytest.approx(right)
    assert left <= 15.0
    assert math.isinf(between)


# --- what the shipped kit holds ---------------------------------------------------------------------------------------


def test_every_branch_is_a_part_with_a_cited_source_or_a_plugged_pin(foil: Setup) -> None:
    pins = {branch for connection in foil.connections.values() for branch in connection.pins.values()}
    named = {branch.name for branch in foil.network.branches}
    assert named == {part.id for part in foil.parts.values() if part.conducts} | pins
    assert {part.source for part in foil.parts.values()} <= set(foil.citations)
    assert {failure.source for failure in foil.failures.values()} <= set(foil.citations)
    assert all(len(citation) > 10 for citation in foil.citations.values())


def test_every_failure_changes_branches_and_nodes_that_are_there(foil: Setup) -> None:
    branches, nodes = {branch.name for branch in foil.network.branches}, set(foil.network.nodes)
    insulated = {f"{side} weapon.{node}" for side in SIDES for node in ("foible", "collar")}  # no branch ends there
    for failure in foil.failures.values():
        touched = {*failure.raises, *failure.sets, *(failure.exchange or ())}
        assert touched <= branches, failure
        assert {node for pair in failure.joins for node in pair} <= nodes | insulated, failure
        assert touched or failure.joins or failure.profile or failure.gauges or failure.spoils or failure.signs


def test_every_failure_has_a_ladder_of_shares_and_signs_that_can_be_probabilities(foil: Setup) -> None:
    for failure in foil.failures.values():
        assert sum(share for _, share in failure.ladder) == pytest.approx(1.0)
        assert sum(failure.signs.values()) <= 1.0
        assert failure.rate > 0
        assert 0 <= failure.intermittent <= 1


FAULTY_PARTS = {
    "weapon": [
        "point face",
        "point seat",
        "grub screws",
        "pressure spring",
        "contact cup",
        "wire at the socket",
        "wire behind the guard",
        "wire along the blade",
        "wire at the point",
        "barrel sleeve",
        "barrel thread",
        "blade",
        "tang in the guard",
        "grip nut",
        "socket nut",
        "socket insulation",
        "socket B contact",
        "socket C contact",
        "blade tape",
    ],
    "cord": [
        "weapon plug B pin",
        "weapon plug C pin",
        "weapon plug insulation B-C",
        *(f"{x} wire{place}" for x in "ABC" for place in (" at the reel plug", ", middle")),
        "B wire at the weapon plug",
        "C wire at the weapon plug",
        "A wire at the clip",
        "clip solder",
        "clip bite",
        *(f"reel plug {x} pin" for x in "ABC"),
    ],
    "handling": ["weapon on own lamé", "lamé on the piste"],
    "lamé": ["front panel", "flank panel", "back panel", "shoulder panel", "cloth under the clip"],
    "bib": ["cloth"],
    "mask cord": ["wire", "clip at the lamé", "clip at the bib"],
    "reel": [f"{x} {place}" for x in "ABC" for place in ("slip ring", "wire of the cable", "contact of the back socket")],
    "floor cable": [
        f"{x} wire{place}" for x in "ABC" for place in ("", " in the plug at the reel", " in the plug at the apparatus")
    ],
}
"""Parts that published fault-finding pages name; common practice, no single source."""


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("item", FAULTY_PARTS)
def test_every_place_that_armourers_mend_can_be_a_suspect(foil: Setup, side: str, item: str) -> None:
    suspects = {failure.part for failure in foil.failures.values()}
    wanted = {f"{side} {item} {part}" for part in FAULTY_PARTS[item]}
    assert wanted - suspects == set()


def test_the_shared_kit_can_be_suspect_too(foil: Setup) -> None:
    suspects = {failure.part for failure in foil.failures.values()}
    inputs = {f"apparatus {side} {x} input" for side in SIDES for x in "ABC"}
    assert {"piste earth bond", "piste surface", "apparatus piste input", *inputs} <= suspects


def mirrored(name: str) -> str:
    """Return `name` with left and right exchanged."""
    return re.sub("left|right", lambda side: other(side[0]), name)


def test_left_and_right_are_mirror_images(foil: Setup) -> None:
    for book in (foil.items, foil.parts, foil.failures, foil.places, foil.connections, foil.movements):
        assert {mirrored(name) for name in book} == set(book), book.what
    ohms = {branch.name: branch.ohms for branch in foil.network.branches}
    assert {mirrored(name): value for name, value in ohms.items()} == ohms
    assert {failure.id: failure.rate for failure in foil.failures.values()} == {
        mirrored(failure.id): failure.rate for failure in foil.failures.values()
    }


# --- names ------------------------------------------------------------------------------------------------------------


def test_every_name_is_found_in_capitals_and_without_accents(foil: Setup) -> None:
    for book in (foil.items, foil.parts, foil.places, foil.connections, foil.movements):
        assert [book.name(plain(f"  {name.upper()} ")) for name in book] == list(book)
        assert [book.name(name.replace("é", "e").replace(" ", "  ")) for name in book] == list(book)
        assert len({plain(name) for name in book}) == len(book)


def test_an_unknown_name_is_refused_with_near_ones() -> None:
    book = Book("part", {"left weapon grip nut": 1, "left cord clip bite": 2})
    with pytest.raises(UnknownNameError, match="there is no part called “left grip nut” — did you mean “left weapon grip nut”"):
        book["left grip nut"]
    with pytest.raises(UnknownNameError, match="there is left weapon grip nut"):
        book.name("zzz")
    assert "LEFT Weapon  grip nut" in book
    assert book["LEFT Weapon  grip nut"] == 1


def test_a_part_table_with_each_stands_for_one_part_per_entry() -> None:
    table = PartTable.model_validate(
        {
            "each": ["A-B", "Left Lamé to right C"],
            "name": "between {x}",
            "insulates": ["{first}1", "{second}1"],
            "source": "judgement",
            "moved_by": {"tug {lower}": 0.5},
            "failure": [{"mode": "{plain}", "join": [["{snake}", "n"]], "severity": "s", "rate": 1, "source": "judgement"}],
        }
    )
    one, two = expanded(table)
    assert (one.name, one.insulates, one.moved_by) == ("between A-B", ("a1", "b1"), {"tug a-b": 0.5})
    assert (two.name, two.insulates) == ("between Left Lamé to right C", ("left lamé1", "right c1"))
    assert two.failure[0].mode == "left lame to right c"
    assert two.failure[0].join == (("left_lamé_to_right_c", "n"),)
    assert one.each == two.each == ()
