"""Cases that are kept, from the terminal; and former names wherever the terminal reads a name. Renamed things are invented."""

from __future__ import annotations

import json
import re
import tomllib
from typing import TYPE_CHECKING

import pytest

from command import CASE, foible, said
from usual import PUBLISHED

if TYPE_CHECKING:
    from pathlib import Path

OLD = """
title = "Old words"
weapon = "floret"

[[trial]]
press = "left"
on = "right lead clip"
saw = "left white"

[[trial]]
swapped = "left lead"
saw = "left white"
"""
NAMES = """
[[former]]
what = "weapon"
was = "floret"
is = "foil"

[[former]]
what = "item"
was = "{side} lead"
is = "{side} cord"

[[former]]
what = "place"
was = "{side} lead clip"
is = "{side} cord clip"

[[former]]
what = "part"
was = "{side} cord clip jaw"
is = "{side} cord clip bite"
"""


@pytest.fixture
def data(tmp_path: Path) -> tuple[str, str]:
    return "--data", str(tmp_path / "kept.db")


@pytest.fixture
def ours(tmp_path: Path) -> tuple[str, str]:
    """Return the option for a folder that says what things were called before."""
    (tmp_path / "ours").mkdir()
    (tmp_path / "ours" / "names.toml").write_text(NAMES, encoding="utf-8")
    return "--kit", str(tmp_path / "ours")


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "old.toml"
    path.write_text(OLD, encoding="utf-8")
    return path


@pytest.mark.slow
class TestCases:
    def test_a_file_that_is_taken_in_is_listed_and_saved_as_it_was(self, data: tuple[str, str], tmp_path: Path) -> None:
        taken = foible("cases", "take", CASE, *data)
        assert taken.returncode == 0, taken.stderr
        (name,) = re.findall(r"imported as case (\w+):", said(taken))
        assert name in said(foible("cases", "list", "lamé", "clip", "--weapon", "foil", "--open", *data))
        assert said(foible("cases", "list", "sabre", *data)) == "There are no such cases."
        out = tmp_path / "out.toml"
        assert foible("cases", "save", name, out, *data).returncode == 0
        written, saved = (tomllib.loads(path.read_text(encoding="utf-8")) for path in (CASE, out))
        assert {key: saved[key] for key in ("title", "weapon", "source", "expect")} == {
            key: written[key] for key in ("title", "weapon", "source", "expect")
        }
        assert len(saved["trial"]) == len(written["trial"])
        ranks = [json.loads(foible("diagnose", path, "--json").stdout)["suspects"] for path in (CASE, out)]
        assert ranks[0] == ranks[1]

    def test_the_list_says_how_many_more_there_are(self, data: tuple[str, str]) -> None:
        foible("cases", "take", *sorted(PUBLISHED.glob("epee-*.toml"))[:3], *data)
        printed = foible("cases", "list", "--count", "1", *data).stdout
        assert "and 2 more" in printed

    def test_a_file_is_not_written_over_unasked(self, data: tuple[str, str], tmp_path: Path) -> None:
        (name,) = re.findall(r"imported as case (\w+):", said(foible("cases", "take", CASE, *data)))
        out = tmp_path / "out.toml"
        out.write_text("mine", encoding="utf-8")
        refused = foible("cases", "save", name, out, *data)
        assert refused.returncode == 2
        assert "--replace" in refused.stderr
        assert out.read_text(encoding="utf-8") == "mine"
        assert foible("cases", "save", name, out, "--replace", *data).returncode == 0
        assert out.read_text(encoding="utf-8") == foible("cases", "save", name, *data).stdout

    @pytest.mark.parametrize(
        ("arguments", "words"),
        [
            (("save", "nosuch"), "there is no case called “nosuch”"),
            (("take", "nowhere.toml"), "nowhere.toml: the file cannot be read"),
            (("list", "--weapon", "rapier"), "there is no weapon called “rapier” — there is foil, épée, sabre"),
        ],
        ids=lambda arguments: str(arguments[0]),
    )
    def test_what_there_is_not_is_refused(self, arguments: tuple[str, ...], words: str, data: tuple[str, str]) -> None:
        refused = foible("cases", *arguments, *data)
        assert refused.returncode == 2
        assert words in " ".join(refused.stderr.split())

    def test_a_file_with_a_slip_is_refused_at_its_line_and_nothing_is_kept(self, data: tuple[str, str], old: Path) -> None:
        refused = foible("cases", "take", old, *data)
        assert refused.returncode == 2
        assert f"{old}:3: there is no weapon called “floret”" in " ".join(refused.stderr.split())
        assert said(foible("cases", "list", *data)) == "There are no such cases."


@pytest.mark.slow
class TestFormerNames:
    @pytest.mark.parametrize(
        ("arguments", "was", "now"),
        [
            (("times", "--weapon", "floret"), "floret", "foil"),
            (("kit", "--weapon", "floret"), "floret", "foil"),
            (("card", "--weapon", "floret", "--bench", "left cord", "--budget", "1"), "floret", "foil"),
            (("lamps", "left cord clip jaw: off, dirty or corroded"), "left cord clip jaw", "left cord clip bite"),
            (("diagnose", CASE, "--bench", "right lead"), "right lead", "right cord"),
        ],
        ids=lambda arguments: str(arguments[0]) if isinstance(arguments, tuple) else "",
    )
    def test_an_option_takes_one_and_says_so(self, arguments: tuple[str, ...], was: str, now: str, ours: tuple[str, str]) -> None:
        result = foible(*arguments, *ours)
        assert result.returncode == 0, result.stderr
        assert f"“{was}” is now called “{now}”" in result.stderr

    def test_a_case_file_is_read_and_says_so_beside_what_is_printed(self, old: Path, ours: tuple[str, str]) -> None:
        result = foible("diagnose", old, *ours)
        assert result.returncode == 0, result.stderr
        for was, now in (("floret", "foil"), ("right lead clip", "right cord clip"), ("left lead", "left cord")):
            assert f"“{was}” is now called “{now}”" in result.stderr
        notices = json.loads(foible("diagnose", old, "--json", *ours).stdout)["notices"]
        assert [(notice["was"], notice["now"]) for notice in notices] == [
            ("floret", "foil"),
            ("right lead clip", "right cord clip"),
            ("left lead", "left cord"),
        ]

    def test_a_conversation_goes_on_with_one_and_says_so(self, old: Path, ours: tuple[str, str]) -> None:
        result = foible("ask", old, *ours, stdin="done\n")
        assert result.returncode == 0, result.stderr
        assert "“left lead” is now called “left cord”" in said(result)

    def test_one_in_a_folder_that_is_scored_is_read_and_told(self, tmp_path: Path, ours: tuple[str, str]) -> None:
        (tmp_path / "cases").mkdir()
        text = OLD.replace('weapon = "floret"', 'weapon = "floret"\nexpect = { parts = ["left cord clip jaw"] }')
        (tmp_path / "cases" / "old.toml").write_text(text, encoding="utf-8")
        result = foible("score", tmp_path / "cases", *ours)
        assert result.returncode == 0, result.stderr
        for was, now in (("left lead", "left cord"), ("left cord clip jaw", "left cord clip bite")):
            assert f"“{was}” is now called “{now}”" in result.stderr


def test_a_kept_case_is_closed_with_an_ending_and_reopened(data: tuple[str, str], tmp_path: Path) -> None:
    file = tmp_path / "case.toml"
    file.write_text('title = "White (invented)"\nweapon = "foil"\n\n[[trial]]\nsaw = "left white"\n', encoding="utf-8")
    name = re.findall(r"as case (\w+)", said(foible("cases", "take", file, *data)))[0]
    told = foible("cases", "about", name, "--piste", "3", "--fencer", "N. N.", *data)
    assert "White (invented), piste 3, N. N." in said(told)
    assert "piste 3 · N. N." in said(foible("cases", "list", *data))
    closed = foible("cases", "close", name, "out", "of", "use", "--item", "left weapon", *data)
    assert f"Case {name}: closed: out of use (left weapon)" in said(closed)
    assert "out of use" in said(foible("cases", "list", *data))
    wrong = foible("cases", "close", name, "sold", *data)
    assert wrong.returncode == 2
    assert "open again" in said(foible("cases", "reopen", name, *data))
    assert "out of use" not in said(foible("cases", "list", *data))
