"""Files that are too long, too deep or too much: refused before anything that takes long, in few words and without escapes.

Each of these took more than half a minute or a gigabyte, or printed megabytes, before there were limits.
"""

from __future__ import annotations

import re
import tracemalloc
from pathlib import Path

import pytest
from typer.testing import CliRunner

from foible.cli.main import command
from foible.cli.terminal import console
from foible.errors import MOST_TOLD, InputError, Problem, ProblemsError
from foible.kit import load_setup
from foible.kit.unused import GROUPS
from foible.trials import read_case

FOIL = 'weapon = "foil"\n'
TRIAL = '[[trial]]\npress = "left"\nsaw = "left white"\n'
ANSI = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]")

BAD = {
    "3,000 trials": (FOIL + TRIAL * 3_000, "61|3,000 trials are too many"),
    "a move of 30,000": (
        FOIL + "[[trial]]\nmove = [\n" + '"bend",\n' * 20_000 + ']\nsaw = "left white"\n',
        "20,000 are too many",
    ),
    "a key of 20,000 dots": (FOIL + ".".join(["a"] * 20_000) + " = 1\n", "line of .* too long"),
    "keys of 900 dots": (FOIL + (".".join(["a"] * 900) + " = 1\n") * 90, "too many names with dots"),
    "a deep key in a table of one line": (FOIL + "x = {" + ".".join(["a"] * 900) + " = 1}\n", "too many names with dots"),
    "a header of quoted names": (FOIL + "[" + " . ".join(['"a"'] * 300) + "]\n", "too many names with dots"),
    "dots and spaces": (FOIL + "a ." * 60_000, "line of .* too long"),
    "40,000 unknown headers": (FOIL + "".join(f"[x{number:x}]\n" for number in range(20_000)), r"more problems are not listed"),
    "a title of 190 kB": (FOIL + f'title = """{("x" * 1_900 + chr(10)) * 100}"""\n', "a text of .* too long"),
    "more than 200 kB": ("#\n" * 100_001, "more than 200,000 bytes"),
}


@pytest.mark.parametrize("name", BAD)
def test_is_refused_in_few_words(tmp_path: Path, name: str) -> None:
    text, message = BAD[name]
    path = tmp_path / "case.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProblemsError, match=message) as told:
        read_case(path)
    assert len(str(told.value)) < 100_000
    assert len(told.value.problems) <= MOST_TOLD + 1


def test_names_with_a_few_dots_and_sixty_trials_are_read(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_text(f'{FOIL}title = "a.b.c.d.e.f.g.h.i.j is no key"\n{TRIAL * 60}', encoding="utf-8")
    assert len(read_case(path).trials) == 60


def test_at_most_twenty_problems_are_told_and_how_many_more() -> None:
    path = "case.toml"
    for count, last in (
        (20, f"{path}:20: seen"),
        (21, "one more problem is not listed"),
        (1_000, "980 more problems are not listed"),
    ):
        told = str(ProblemsError(Problem(path, number, "seen", "do") for number in range(1, count + 1))).splitlines()
        assert len(told) == min(count, 21)
        assert last in told[-1]


def test_nothing_that_a_file_says_is_an_escape_in_the_terminal(tmp_path: Path) -> None:
    evil = "\\u001b]0;owned\\u0007\\u009b31m"
    path = tmp_path / "case.toml"
    for text in (
        FOIL + f'title = "{evil}"\n{TRIAL}',
        FOIL + f'"{evil}" = 1\n{TRIAL}',
        f'weapon = "{evil}"\n{TRIAL}',
        FOIL + f'[[trial]]\npress = "{evil}"\nsaw = "left white"\n',
    ):
        path.write_text(text, encoding="utf-8")
        result = CliRunner().invoke(command, ["diagnose", str(path)])
        told = str(result.exception) if isinstance(result.exception, InputError) else result.output
        assert told
        assert not isinstance(result.exception, ProblemsError) or not ANSI.search(str(result.exception))
        assert not ANSI.search(result.output)


def test_what_is_printed_keeps_its_own_colours() -> None:
    shown = console()
    with shown.capture() as caught:
        shown.print("a\x1b[31mb\x9b31m\tc")
    assert caught.get().startswith("a�[31mb�31m")


def test_a_figure_stays_with_its_sign_on_a_narrow_terminal() -> None:
    shown = console()
    shown.width = 20
    with shown.capture() as caught:
        shown.print("left cord weapon 13\N{NO-BREAK SPACE}% sure")
    assert [line.strip() for line in caught.get().splitlines()] == ["left cord weapon", "13\N{NO-BREAK SPACE}% sure"]


def test_the_folders_of_a_kit_are_those_of_its_page() -> None:
    page = (Path(__file__).parents[1] / "docs" / "kit-files.md").read_text(encoding="utf-8")
    assert set(GROUPS) == set(re.findall(r"^\| `(\w+)/`", page, re.MULTILINE))


@pytest.mark.parametrize("number", [0, 1], ids=["a device without an end", "a gigabyte of nothing"])
def test_a_file_without_an_end_is_not_read_to_its_end(tmp_path: Path, number: int) -> None:
    """`cases take` used to read all of it first: three gigabytes for a file of that size."""
    hole = tmp_path / "hole.toml"
    with hole.open("wb") as file:
        file.truncate(1 << 30)
    path = [Path("/dev/zero"), hole][number]
    tracemalloc.start()
    try:
        result = CliRunner().invoke(command, ["cases", "take", str(path), "--data", str(tmp_path / "records.db")])
        assert tracemalloc.get_traced_memory()[1] < 50_000_000
    finally:
        tracemalloc.stop()
    assert isinstance(result.exception, ProblemsError)


SHIPPED_KIT = {
    "item/foil.toml": "is not used",
    "items/foill.toml": "is not used",
    "setups/rapier.toml": "is not used",
    "foil.toml": "is not used",
}


@pytest.mark.parametrize("name", SHIPPED_KIT)
def test_a_kit_file_that_is_not_used_is_told(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text("", encoding="utf-8")
    with pytest.raises(ProblemsError, match=SHIPPED_KIT[name]) as told:
        load_setup("foil", overlays=[tmp_path])
    assert told.value.problems[0].file == str(path)


@pytest.mark.parametrize("target", ["nowhere", "more.toml", "."], ids=["leads nowhere", "leads to itself", "a folder"])
def test_what_is_no_file_in_a_kit_folder_is_told(tmp_path: Path, target: str) -> None:
    (tmp_path / "failures").mkdir()
    (tmp_path / "failures" / "more.toml").symlink_to(target)
    with pytest.raises(ProblemsError, match="this is not a file"):
        load_setup("foil", overlays=[tmp_path])


@pytest.mark.parametrize(
    ("name", "text"), [("setups/foil.toml", "[setup]\nweapon = 3\n"), ("severities.toml", "[ladder.break]\nohms = []\n")]
)
def test_the_file_at_fault_is_blamed(tmp_path: Path, name: str, text: str) -> None:
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ProblemsError) as told:
        load_setup("foil", overlays=[tmp_path])
    assert {problem.file for problem in told.value.problems} == {str(path)}
