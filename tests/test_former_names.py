"""Former names: followed to what a thing is called today, told, and refused where their file is wrong. All names are invented."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from foible.errors import ProblemsError
from foible.kit import load_former, load_setup
from foible.trials import TrialTable, former_names, read_case, todays_trial
from foible.trials.known import slips

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Overlay = Callable[[str], Path]

JAW = """
[[former]]
what = "part"
was = "{side} cord clip jaw"
is = "{side} cord clip bite"
"""
FOIL = load_setup("foil")


@pytest.fixture
def overlay(tmp_path: Path) -> Overlay:
    """Return what makes a kit folder with a names file."""

    def make(text: str) -> Path:
        folder = tmp_path / "ours"
        folder.mkdir(exist_ok=True)
        (folder / "names.toml").write_text(text, encoding="utf-8")
        return folder

    return make


def entry(what: str, was: str, now: str, until: int | None = None, more: str = "") -> str:
    versions = "" if until is None else f"until = {until}\n"
    return f'[[former]]\nwhat = "{what}"\nwas = "{was}"\nis = "{now}"\n{versions}{more}\n'


def problems_of(folder: Path) -> list[str]:
    with pytest.raises(ProblemsError) as refused:
        former_names([folder])
    return [str(problem) for problem in refused.value.problems]


def test_what_foible_itself_has_renamed_fits_its_kit() -> None:
    names = load_former()
    assert names.version >= 1
    assert [problem for each in names.entries for problem in slips(each, names)] == []


def test_a_former_name_of_either_side_is_read_as_todays_and_told(overlay: Overlay) -> None:
    names = former_names([overlay(JAW)])
    for side in ("left", "right"):
        table = TrialTable(examine=(f"{side} Cord clip JAW",), found=("fine",))
        todays, told = todays_trial(table, FOIL, names)
        assert todays.examine == (f"{side} cord clip bite",)
        assert [str(each) for each in told] == [f"“{side} Cord clip JAW” is now called “{side} cord clip bite”"]


def test_the_notice_says_since_when(overlay: Overlay) -> None:
    (told,) = todays_trial(TrialTable(examine=("left cord clip jaw",)), FOIL, former_names([overlay(JAW + "until = 0")]))[1]
    assert str(told) == "“left cord clip jaw” is now called “left cord clip bite” (since version 1 of the names)"


def test_a_name_of_today_is_left_alone(overlay: Overlay) -> None:
    table = TrialTable(press="left", on="right lamé front", saw=("left white",))
    assert todays_trial(table, FOIL, former_names([overlay(JAW)])) == (table, ())


@pytest.mark.parametrize(
    ("renamed", "written", "read"),
    [
        (("place", "{side} lamé chest", "{side} lamé front"), {"on": "right lamé chest"}, {"on": "right lamé front"}),
        (
            ("place", "{side} lamé front on top", "{side} lamé front"),
            {"touching": "left weapon blade on right lamé front on top"},
            {"touching": "left weapon blade on right lamé front"},
        ),
        (("connection", "{side} gun", "{side} weapon plug"), {"unplugged": "left gun"}, {"unplugged": "left weapon plug"}),
        (("connection", "{side} gun", "{side} weapon plug"), {"bridged": "left gun B-C"}, {"bridged": "left weapon plug B-C"}),
        (("item", "{side} lead", "{side} cord"), {"swapped": "left lead"}, {"swapped": "left cord"}),
        (("item", "{side} lead", "{side} cord"), {"box": "right lead"}, {"box": "right cord"}),
        (("item", "{side} lead", "{side} cord"), {"examine": "left lead"}, {"examine": "left cord"}),
        (
            ("movement", "bow {side} blade", "bend {side} weapon blade"),
            {"move": "bow left blade"},
            {"move": "bend left weapon blade"},
        ),
        (("sign", "wobbly", "loose"), {"found": "wobbly"}, {"found": "loose"}),
        (("gauge", "half a kilo", "500 g weight"), {"gauge": "left half a kilo"}, {"gauge": "left 500 g weight"}),
    ],
)
def test_every_kind_of_name_in_a_trial_is_read(
    overlay: Overlay, renamed: tuple[str, str, str], written: dict[str, str], read: dict[str, str]
) -> None:
    todays, told = todays_trial(TrialTable.model_validate(written), FOIL, former_names([overlay(entry(*renamed))]))
    assert todays == TrialTable.model_validate(read)
    assert told


def test_a_repair_and_the_item_it_was_made_on_are_read(overlay: Overlay) -> None:
    repair = next(iter(FOIL.repairs))
    folder = overlay(entry("repair", "tinker with it", repair) + entry("item", "{side} lead", "{side} cord"))
    todays, told = todays_trial(TrialTable(mended=("left lead: tinker with it",)), FOIL, former_names([folder]))
    assert todays.mended == (f"left cord: {repair}",)
    assert len(told) == 2


def test_a_name_that_changed_twice_is_followed_to_the_end(overlay: Overlay) -> None:
    folder = overlay(entry("part", "left cord pincer", "left cord clip jaw") + JAW)
    todays, (told,) = todays_trial(TrialTable(examine=("left cord pincer",)), FOIL, former_names([folder]))
    assert todays.examine == ("left cord clip bite",)
    assert (told.was, told.now) == ("left cord pincer", "left cord clip bite")


def test_a_former_name_that_meant_two_things_is_read_by_the_version_it_was_written_in(overlay: Overlay) -> None:
    twice = entry("part", "left cord jaw", "left cord clip bite", 0) + entry("part", "left cord jaw", "left weapon grip nut", 1)
    names, table = former_names([overlay(twice)]), TrialTable(examine=("left cord jaw",))
    read = [todays_trial(table, FOIL, names, written=version)[0].examine[0] for version in (0, 1, 2)]
    assert read == ["left cord clip bite", "left weapon grip nut", "left cord jaw"]
    assert todays_trial(table, FOIL, names)[0].examine == ("left weapon grip nut",), "without a version the latest use counts"


@pytest.mark.parametrize(
    ("text", "line", "message"),
    [
        (entry("part", "left cord x", "left cord y"), 4, "there is no part called “left cord y”"),
        (entry("part", "left cord x", "left cord y") + entry("part", "left cord y", "left cord x"), 4, "leads in a circle"),
        (entry("part", "left cord x", "Left cord X"), 4, "leads in a circle"),
        (entry("item", "left cord", "left reel"), 3, "“left cord” is in use again as a name (item, foil)"),
        (entry("part", "left cord x", "{side} cord clip bite"), 4, "{side} is only in the new name"),
        (JAW + JAW, 9, "“left cord clip jaw” is defined twice"),
        (entry("part", "left cord x", "left cord clip bite", 7), 5, "version 7 is still current"),
        (entry("part", "left cord x", "left cord clip bite", more='weapons = "rapier"'), 5, "there is no weapon “rapier”"),
        ("version = 3", 1, "a version of the names — leave it out"),
        (entry("colour", "red", "green"), 2, "[1] what: input should be 'part'"),
    ],
)
def test_what_is_wrong_with_a_names_file_is_said_with_its_line(overlay: Overlay, text: str, line: int, message: str) -> None:
    found = problems_of(overlay(text))
    assert any(f"names.toml:{line}: " in problem and message in problem for problem in found), found


def test_a_part_of_a_socket_that_can_be_fitted_is_a_name(overlay: Overlay) -> None:
    usual = set(FOIL.parts)
    own = [part for part in load_setup("foil", fitted={"left": {"socket": "bayonet"}}).parts if part not in usual]
    assert former_names([overlay(entry("part", "left old name", own[0], more='weapons = "foil"'))]).entries


def test_a_case_file_in_former_names_is_read_and_says_so(overlay: Overlay, tmp_path: Path) -> None:
    renamed = (
        ("item", "{side} lead", "{side} cord"),
        ("weapon", "floret", "foil"),
        ("profile", "house rules", "fie-2026-foil"),
        ("slot", "fixture", "socket"),
        ("model", "twist", "bayonet"),
    )
    folder = overlay(JAW + "".join(entry(*each) for each in renamed))
    path = tmp_path / "case.toml"
    path.write_text(
        'weapon = "Floret"\nknown_good = ["right lead"]\nprofile = "house rules"\n[left]\nfixture = "twist"\n'
        '[expect]\nparts = ["left cord clip jaw"]\n[[trial]]\nexamine = "left cord clip jaw"\nfound = "fine"\n'
    )
    case = read_case(path, overlays=[folder])
    assert (case.setup.weapon, case.known_good, case.profile.name) == ("foil", ("right cord",), "fie-2026-foil")
    assert case.fitted == (("left", "socket", "bayonet"),)
    assert case.expected
    assert case.expected.parts == case.trials[0].examine == ("left cord clip bite",)
    assert [(each.was, each.now) for each in case.notices] == [
        ("Floret", "foil"),
        ("fixture", "socket"),
        ("twist", "bayonet"),
        ("house rules", "fie-2026-foil"),
        ("right lead", "right cord"),
        ("left cord clip jaw", "left cord clip bite"),
    ]


def test_a_case_file_says_which_version_its_names_are(overlay: Overlay, tmp_path: Path) -> None:
    folder = overlay(entry("part", "left cord jaw", "left cord clip bite", 0))
    path = tmp_path / "case.toml"
    trial = 'weapon = "foil"\nnames = {}\n[[trial]]\nexamine = "left cord jaw"\nfound = "fine"\n'
    path.write_text(trial.format(0))
    assert read_case(path, overlays=[folder]).notices
    path.write_text(trial.format(1))
    with pytest.raises(ProblemsError, match=r"case.toml:4: there is no part or item called “left cord jaw”"):
        read_case(path, overlays=[folder])
