"""Kit files of one's own: what they can add, and how their mistakes are told."""

from __future__ import annotations

import math
from importlib.resources import files
from pathlib import Path

import pytest

from foible.errors import ProblemsError, UnknownNameError
from foible.kit import Setup, load_setup
from kit_files import assert_as_marked, kit_folder, ohms_between, problems_of

SHIPPED = Path(str(files("foible.kit") / "data"))
LINES = ("a", "b", "c")


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


# --- folders laid over the kit ----------------------------------------------------------------------------------------


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


MISSHAPEN_SOCKET = """
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


def test_all_that_is_misshapen_in_a_file_is_reported_at_once(tmp_path: Path) -> None:
    overlay = kit_folder(tmp_path, {"sockets/slip.toml": MISSHAPEN_SOCKET})
    assert_as_marked(problems_of(overlay, left={"socket": "slip"}), overlay)


@pytest.mark.parametrize("mode", ["", "  ", "ru\\u0007st", "ru\\nst"], ids=["empty", "blank", "a bell", "two lines"])
def test_a_failure_needs_a_name_that_can_be_read(tmp_path: Path, mode: str) -> None:
    text = f'[[failure]]\npart = "weapon tang in the guard"\nmode = "{mode}"\nsource = "judgement"\nrate = 4\n'
    overlay = kit_folder(tmp_path, {"failures/odd.toml": text + 'severity = "joint"\nraise = ["tang in the guard"]\n'})
    with pytest.raises(ProblemsError, match="a name needs at least one letter, and nothing that cannot be printed"):
        load_setup("foil", overlays=[overlay])


SENSELESS_SOCKET = """
    [socket]
    name = "senseless"

    [[part]]
    name = "spring"
    from = "socket_b"
    to = "socket_screw"
    ohms = 0.05
    source = "hearsay"                 # <- the source “hearsay” is unknown

      [[part.failure]]
      mode = "tired"
      raise = ["socket insulation"]    # <- no part “socket insulation” of this item conducts
      severity = "joint"
      rate = 1
      source = "judgement"

      [[part.failure]]
      mode = "tired"                   # <- “tired” is defined twice
      raise = ["spring"]
      severity = "joint"
      rate = 1
      source = "rumour"                # <- the source “rumour” is unknown

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
    moved_by = { "shake socket" = 0.5, "twist socket" = 0.5 } # <- there is no movement “shake socket”

    [[part]]
    name = "frame"                     # <- the part “frame” is defined twice
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
    assert "twist socket" in remedies["there is no movement “shake socket”"]
    assert "sources/" in remedies["the source “hearsay” is unknown"]
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
