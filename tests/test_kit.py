"""The shipped kit against the rulebook, and kit files of one's own: what they can add, how their mistakes are told."""

from __future__ import annotations

import math
import re
from importlib.resources import files
from itertools import combinations
from pathlib import Path
from textwrap import dedent
from typing import TYPE_CHECKING

import numpy as np
import pytest

from foible.apparatus import Gap, load_profile, profile_names
from foible.circuit import Network, Port, Shape, conductances_of, port_resistances
from foible.errors import ProblemsError, UnknownNameError
from foible.kit import SIDES, Book, Setup, load_setup, other, plain
from foible.kit.expand import expanded
from foible.kit.schema import PartTable

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.errors import Problem

SHIPPED = Path(str(files("foible.kit") / "data"))
LINES = ("a", "b", "c")


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


# --- the shipped kit against the rulebook -----------------------------------------------------------------------------


def ohms_between(setup: Setup, item: str, a: str, b: str) -> float:
    """Return what an ohmmeter reads between two nodes of `item` taken out of the set-up [Ω]."""
    own = [each for each in setup.network.branches if each.name in setup.parts and setup.parts[each.name].item == item]
    network = Network(tuple(own))
    ends = (f"{item}.{a}", f"{item}.{b}")
    shape = Shape.of(network, ends)
    mesh = shape.conductances(conductances_of(network))
    return float(port_resistances(shape, mesh, [Port.between(*ends)])[0, 0])


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
        assert touched or failure.joins or failure.profile or failure.gauges or failure.spoils


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


# --- folders laid over the kit ----------------------------------------------------------------------------------------


def kit_folder(folder: Path, files_of_it: Mapping[str, str]) -> Path:
    """Write kit files below `folder`."""
    for name, text in files_of_it.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(dedent(text), encoding="utf-8")
    return folder


LANTERN_SOCKET = """
    [socket]
    name = "Lanternfield socket, invented for this test"

    [[part]]
    name = "ring spring"
    from = "socket_b"
    to = "socket_screw"
    ohms = 0.07
    spread = 2.0
    source = "Lanternfield bench book"
    moved_by = { "twist socket" = 0.5, "tug cord weapon plug" = 0.25 }

      [[part.failure]]
      mode = "ring open"
      raise = ["ring spring"]
      severity = "joint"
      rate = 6
      source = "judgement"
      signs = { "ring bent" = 0.6 }

    [[part]]
    name = "socket frame contact"
    from = "socket_c"
    to = "socket_frame"
    ohms = 0.03
    source = "judgement"

    [[plug_part]]
    each = ["B", "C"]
    name = "ring plug {x} pin"
    from = "{lower}4"
    to = "weapon_{lower}"
    ohms = 0.03
    source = "judgement"
    held_by = { "hold weapon socket" = 0.5 }
"""
LANTERN_SOURCES = '[sources]\n"Lanternfield bench book" = "Bench book of the invented Lanternfield club, page 3"\n'


def test_a_new_kind_of_socket_needs_no_more_than_its_file(tmp_path: Path, foil: Setup) -> None:
    overlay = kit_folder(tmp_path, {"sockets/ring.toml": LANTERN_SOCKET, "sources/club.toml": LANTERN_SOURCES})
    setup = load_setup("foil", overlays=[overlay], fitted={"left": {"socket": "ring"}})
    assert set(setup.parts) - set(foil.parts) == {
        "left weapon ring spring",
        "left weapon socket frame contact",
        "left cord ring plug B pin",
        "left cord ring plug C pin",
    }
    assert {part for part in set(foil.parts) - set(setup.parts) if part.startswith("right")} == set()
    assert ohms_between(setup, "left weapon", "socket_b", "socket_c") == pytest.approx(
        ohms_between(foil, "left weapon", "socket_b", "socket_c") + 0.07 - 0.03
    )
    assert setup.parts["left weapon ring spring"].moved_by == {
        "twist left weapon socket": 0.5,
        "tug left cord weapon plug": 0.25,
    }
    assert setup.parts["left cord ring plug B pin"].held_by == {"hold left weapon socket": 0.5}
    assert setup.failures["left weapon ring spring: ring open"].ladder == foil.failures["left weapon grip nut: loose"].ladder
    assert "ring bent" in setup.signs - foil.signs
    assert setup.citations["Lanternfield bench book"].startswith("Bench book of the invented")
    assert set(foil.citations) < set(setup.citations)


LANTERN_FAILURES = """
    [[failure]]
    part = "weapon grip nut"
    mode = "thread stripped, invented for this test"
    raise = ["grip nut"]
    severity = "parted"
    rate = 4
    intermittent = 0.25
    source = "Lanternfield bench book"

    [[failure]]
    part = "piste earth bond"
    mode = "wrong lead, invented for this test"
    set = { "earth bond" = "open" }
    severity = "parted"
    only = "intermittent"
    rate = 4
    source = "judgement"

    [[failure]]
    part = "weapon blade tape"
    mode = "wet, invented for this test"
    join = [["blade", "cord weapon_b"]]
    severity = "leak"
    only = "steady"
    intermittent = 0.5
    rate = 1
    source = "judgement"
"""


def test_a_new_failure_of_a_part_needs_no_more_than_its_entry(tmp_path: Path, foil: Setup) -> None:
    overlay = kit_folder(tmp_path, {"failures/club.toml": LANTERN_FAILURES, "sources/club.toml": LANTERN_SOURCES})
    setup = load_setup("foil", overlays=[overlay])
    added = {failure.id: failure for failure in setup.failures.values() if failure.id not in foil.failures}
    invented = "invented for this test"
    assert set(added) == {
        f"left weapon grip nut: thread stripped, {invented}",
        f"right weapon grip nut: thread stripped, {invented}",
        f"piste earth bond: wrong lead, {invented}",
        f"left weapon blade tape: wet, {invented}",
        f"right weapon blade tape: wet, {invented}",
    }
    stripped = added[f"right weapon grip nut: thread stripped, {invented}"]
    assert (stripped.part, stripped.item, stripped.raises) == (
        "right weapon grip nut",
        "right weapon",
        ("right weapon grip nut",),
    )
    assert (stripped.ladder, stripped.rate, stripped.intermittent) == (((math.inf, 1.0),), 2.0, 0.25)
    lead = added[f"piste earth bond: wrong lead, {invented}"]
    assert (lead.sets, lead.rate, lead.intermittent) == ({"piste earth bond": math.inf}, 4.0, 1.0)
    wet = added[f"left weapon blade tape: wet, {invented}"]
    assert (wet.joins, wet.intermittent) == ((("left weapon.blade", "left cord.weapon_b"),), 0.0)
    assert set(setup.parts) == set(foil.parts)


def test_of_two_files_with_one_name_the_later_folder_counts(tmp_path: Path) -> None:
    bib = (SHIPPED / "items" / "bib.toml").read_text(encoding="utf-8")
    first = kit_folder(tmp_path / "first", {"items/bib.toml": bib.replace("ohms = 0.8", "ohms = 1.5")})
    second = kit_folder(tmp_path / "second", {"items/bib.toml": bib.replace("ohms = 0.8", "ohms = 2.5")})
    for overlays, ohms in (([first], 1.5), ([first, second], 2.5), ([second, first], 1.5)):
        assert ohms_between(load_setup("foil", overlays=overlays), "right bib", "edge", "spot") == pytest.approx(ohms)


# --- mistakes in kit files --------------------------------------------------------------------------------------------


def problems_of(overlay: Path, **fitted: Mapping[str, str]) -> list[Problem]:
    """Return the problems for which a set-up with `overlay` is refused."""
    with pytest.raises(ProblemsError) as caught:
        load_setup("foil", overlays=[overlay], fitted=fitted)
    assert all(problem.remedy for problem in caught.value.problems)
    assert len(set(caught.value.problems)) == len(caught.value.problems)
    return list(caught.value.problems)


def assert_as_marked(problems: list[Problem], overlay: Path) -> None:
    """Check that the problems are those that “# <- words” marks in the files: on that line, with those words."""
    marks = {
        (str(path), number, words)
        for path in overlay.rglob("*.toml")
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        for words in re.findall(r"<- ([^;]+)", line)
    }
    found = {mark for mark in marks for p in problems if (p.file, p.line) == mark[:2] and mark[2] in p.seen}
    assert found == marks
    assert len(problems) == len(marks), problems


def test_all_that_is_misshapen_in_a_file_is_reported_at_once(tmp_path: Path) -> None:
    overlay = kit_folder(
        tmp_path,
        {
            "sockets/slip.toml": """
                [socket]
                name = "slips"
                colour = "grey"                      # <- colour: extra inputs

                [[part]]
                name = "one"
                from = "socket_b"
                to = "socket_screw"
                ohms = -0.5                          # <- greater than 0
                spread = 0.5                         # <- greater than or equal to 1
                source = "judgement"
                moved_by = { "twist socket" = 1.5 }  # <- less than or equal to 1

                  [[part.failure]]                   # <- changes nothing
                  mode = "m"
                  severity = "joint"
                  rate = 1
                  source = "judgement"

                  [[part.failure]]
                  mode = "n"
                  raise = ["one"]
                  severity = "joint"
                  rate = 0                           # <- greater than 0
                  onyl = "steady"                    # <- onyl: extra inputs
                  source = "judgement"

                [[part]]                             # <- needs all of from, to and ohms
                name = "two"
                from = "socket_c"
                to = "socket_frame"
                source = "judgement"

                [[plug_part]]                        # <- source: field required
                name = "three"
                """
        },
    )
    assert_as_marked(problems_of(overlay, left={"socket": "slip"}), overlay)


SENSELESS_SOCKET = """
    [socket]
    name = "senseless"

    [[part]]
    name = "spring"
    from = "socket_b"
    to = "socket_screw"
    ohms = 0.05
    source = "hearsay"                 # <- the source “hearsay” is not in the list

      [[part.failure]]
      mode = "tired"
      raise = ["socket insulation"]    # <- no part “socket insulation” of this item conducts
      severity = "joint"
      rate = 1
      source = "judgement"

      [[part.failure]]
      mode = "tired"                   # <- “tired” stands twice
      raise = ["spring"]
      severity = "joint"
      rate = 1
      source = "rumour"                # <- the source “rumour” is not in the list

      [[part.failure]]
      mode = "melted"
      raise = ["spring"]
      severity = "awful"               # <- there is no severity “awful”
      rate = 1
      source = "judgement"

      [[part.failure]]
      mode = "short"
      join = [["socket_b", "nowhere"]] # <- there is no node “nowhere”
      set = { "sprig" = 1 }            # <- no part “sprig” of this item conducts
      severity = "short"
      rate = 1
      source = "judgement"

    [[part]]
    name = "frame"
    from = "socket_c"
    to = "socket_frame"
    ohms = 0.05
    source = "judgement"
    moved_by = { "shake socket" = 0.5, "twist socket" = 0.5 } # <- “shake socket” is no movement

    [[part]]
    name = "frame"                     # <- the part “frame” stands twice
    source = "judgement"

    [[plug_part]]
    each = ["B", "C"]
    name = "pin {x}"
    from = "{lower}4"
    to = "weapon_{lower}"
    ohms = 0.05
    source = "judgement"

      [[plug_part.failure]]
      mode = "bent"
      exchange = ["pin B", "pin D"]    # <- no part “pin D” of this item conducts
      severity = "whole"
      rate = 1
      source = "judgement"
"""
SENSELESS_FAILURES = """
    [[failure]]
    part = "weapon grip nuts"          # <- there is no part “weapon grip nuts”
    mode = "m"
    raise = ["grip nut"]
    severity = "joint"
    rate = 1
    source = "judgement"

    [[failure]]
    part = "weapon grip nut"
    mode = "m"
    raise = ["spring", "blade tape"]   # <- no part “blade tape” of this item conducts
    severity = "joint"
    rate = 1
    source = "judgement"
"""


@pytest.mark.parametrize("sides", [("left", "right"), ("right", "left")])
def test_all_that_makes_no_sense_is_reported_at_once_and_once_only(tmp_path: Path, sides: tuple[str, str]) -> None:
    overlay = kit_folder(tmp_path, {"sockets/odd.toml": SENSELESS_SOCKET, "failures/odd.toml": SENSELESS_FAILURES})
    problems = problems_of(overlay, **{side: {"socket": "odd"} for side in sides})
    assert_as_marked(problems, overlay)


def test_the_remedy_names_what_would_do(tmp_path: Path) -> None:
    overlay = kit_folder(tmp_path, {"sockets/odd.toml": SENSELESS_SOCKET})
    remedies = {problem.seen: problem.remedy for problem in problems_of(overlay, left={"socket": "odd"})}
    assert "joint, break, cloth" in remedies["there is no severity “awful”"]
    assert "twist socket" in remedies["“shake socket” is no movement"]
    assert "sources/" in remedies["the source “hearsay” is not in the list"]
    assert "from, to and ohms" in remedies["no part “socket insulation” of this item conducts"]


def test_an_unknown_socket_is_refused_with_those_there_are(tmp_path: Path) -> None:
    overlay = kit_folder(tmp_path, {"sockets/ring.toml": LANTERN_SOCKET})
    with pytest.raises(UnknownNameError, match="no socket called “rign” — did you mean “ring”"):
        load_setup("foil", fitted={"left": {"socket": "rign"}}, overlays=[overlay])
    with pytest.raises(UnknownNameError, match="there is bayonet, ring, sabre, two-pin"):
        load_setup("foil", fitted={"left": {"socket": "zzzz"}}, overlays=[overlay])


def test_a_missing_overlay_folder_is_refused_with_its_path(tmp_path: Path) -> None:
    for wrong in (tmp_path / "none", kit_folder(tmp_path, {"file": ""}) / "file"):
        (problem,) = problems_of(wrong)
        assert problem.file == str(wrong)
        assert problem.seen == "there is no such folder"


def test_an_unknown_weapon_is_refused_with_those_there_are(tmp_path: Path) -> None:
    with pytest.raises(UnknownNameError, match="no weapon called “longsword” — there is foil, épée, sabre"):
        load_setup("longsword", overlays=[tmp_path])


def test_an_empty_overlay_folder_changes_nothing(tmp_path: Path, foil: Setup) -> None:
    setup = load_setup("foil", overlays=[tmp_path])
    assert setup.network == foil.network
    assert set(setup.failures) == set(foil.failures)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("share = [0.70, 0.15, 0.10, 0.05]", "share = [0.70, 0.15, 0.10, 0.04]"),
        ("share = [0.70, 0.15, 0.10, 0.05]", "share = [0.70, 0.15, 0.15]"),
    ],
    ids=["adds up to less", "one step short"],
)
def test_a_ladder_whose_shares_do_not_add_up_is_refused_at_its_header(tmp_path: Path, right: str, wrong: str) -> None:
    text = (SHIPPED / "severities.toml").read_text(encoding="utf-8")
    marked = text.replace(right, wrong).replace("[ladder.short]", "[ladder.short] # <- the shares add up to 1;")
    overlay = kit_folder(tmp_path, {"severities.toml": marked})
    assert_as_marked(problems_of(overlay), overlay)


# The shipped files with one slip each; every one of them would leave a circuit that is not what the file's author meant.
@pytest.mark.parametrize(
    ("file", "right", "wrong"),
    [
        pytest.param("items/bib.toml", '"cloth" = "spot"', '"cloth" = "spto"', id="place at no node"),
        pytest.param("items/foil.toml", 'opens = ["point seat"]', 'opens = ["point saet"]', id="switch is no part"),
        pytest.param("items/foil.toml", 'face = "face"', 'face = "fcae"', id="face at no node"),
        pytest.param("setups/foil.toml", '"cord weapon_b"', '"cord waepon_b"', id="pin at no node"),
        pytest.param("setups/foil.toml", '"cord weapon_b"', '"cord"', id="pin without a node"),
        pytest.param("setups/foil.toml", 'name = "mask clip"', 'name = "clip"', id="connection named twice"),
    ],
)
def test_a_slip_in_a_name_is_refused_at_its_line(tmp_path: Path, file: str, right: str, wrong: str) -> None:
    text = (SHIPPED / file).read_text(encoding="utf-8")
    overlay = kit_folder(tmp_path, {file: text.replace(right, wrong, 1)})
    line = text[: text.index(right)].count("\n") + 1
    assert {(p.file, p.line) for p in problems_of(overlay)} == {(str(overlay / file), line)}


@pytest.mark.parametrize("fitted", [{"left": {"sokcet": "bayonet"}}, {"lfet": {"socket": "bayonet"}}])
def test_fitting_a_slot_that_is_not_there_is_refused(fitted: dict[str, dict[str, str]]) -> None:
    with pytest.raises(UnknownNameError):
        load_setup("foil", fitted=fitted)


@pytest.mark.parametrize("name", ["../setups/foil", "x" * 300], ids=["out of its folder", "too long for a file"])
def test_a_name_that_cannot_be_a_kit_file_is_refused(name: str) -> None:
    with pytest.raises(UnknownNameError):
        load_setup(name)


# --- rule profiles ----------------------------------------------------------------------------------------------------


def test_the_shipped_profiles_keep_to_annex_b() -> None:
    """FIE Material Rules (Book 3), August 2026, Annex B.

    A.1(b)4: no white for a rise of up to 200 Ω; A.1(b)2: valid hit with up to 500 Ω; A.2: yellow below 450 Ω, not above 475 Ω;
    A.1(b)6 foresees apparatus with anti-blocking and without.
    """
    modern, older = (load_profile(name) for name in ("fie-2026-foil", "no-anti-blocking-foil"))
    for profile in (modern, older):
        assert profile.gap("loop").closed_to >= 200
        assert profile.gap("target").closed_to >= 500
        assert 450 <= profile.gap("leak").closed_to < profile.gap("leak").open_from <= 475
    assert modern.anti_blocking
    assert not older.anti_blocking
    assert load_setup("foil").profile == modern.name


def test_within_a_gap_the_chance_rises_with_the_logarithm() -> None:
    """Closed for sure up to 100 Ω, open for sure from 10 000 Ω: at the geometric mean, 1000 Ω, either is as likely."""
    chances = Gap(100.0, 10_000.0).chance_open(np.array([0.0, 100.0, 1000.0, 10_000.0, math.inf]))
    assert chances.tolist() == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])
    steps = Gap(100.0, 10_000.0).chance_open(np.geomspace(50, 20_000, 40))
    assert (np.diff(steps) >= 0).all()


def profile_text() -> str:
    """Return the shipped profile."""
    return (Path(str(files("foible.apparatus") / "data")) / "fie-2026-foil.toml").read_text(encoding="utf-8")


def test_a_profile_of_ones_own_is_looked_at_first(tmp_path: Path) -> None:
    text = profile_text()
    kit_folder(
        tmp_path,
        {
            "profiles/fie-2026-foil.toml": text.replace("closed_to = 200 ", "closed_to = 250 "),
            "profiles/lanternfield.toml": text.replace('"fie-2026-foil"', '"lanternfield"'),
        },
    )
    assert load_profile("fie-2026-foil", [tmp_path]).gap("loop") == Gap(265.0, 2000.0)
    assert load_profile("lanternfield", [tmp_path]).name == "lanternfield"
    assert load_profile("fie-2026-foil").gap("loop") == Gap(215.0, 2000.0)
    assert set(profile_names([tmp_path])) - set(profile_names()) == {"lanternfield"}


def test_an_unknown_profile_is_refused_with_a_near_one() -> None:
    with pytest.raises(UnknownNameError, match="rule profile called “fie-2025-foil” — did you mean “fie-2026-foil”"):
        load_profile("fie-2025-foil")


def test_a_profile_whose_gap_is_upside_down_is_refused_at_its_header(tmp_path: Path) -> None:
    text = profile_text().replace("open_from = 475 ", "open_from = 460 ").replace("[leak]", "[leak] # <- must lie above;")
    overlay = kit_folder(tmp_path, {"profiles/odd.toml": text.replace("kit = 20", "kit = -1 # <- kit: input should be")})
    with pytest.raises(ProblemsError) as caught:
        load_profile("odd", [overlay])
    assert_as_marked(list(caught.value.problems), overlay)
