"""The page about case files, kept true: its keys, names and examples, and what each phrase of its lamps means."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from case_files import written
from foible.errors import ImpossibleTrialError, InputError
from foible.kit import SIDES, Setup, load_setup
from foible.trials import CaseTable, Group, TrialTable, looks_of, read_case, read_seen, read_trial

if TYPE_CHECKING:
    from foible.trials import Look

ROOT = Path(__file__).parents[1]
PUBLISHED = sorted((ROOT / "examples" / "published").glob("*.toml"))
PAGE = (ROOT / "docs" / "case-file.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


# --- the page about case files ----------------------------------------------------------------------------------------


def section(title: str) -> str:
    """Return the text of the page below one of its headings, as far as the next."""
    return re.split(r"\n##+ ", PAGE.partition(f" {title}\n")[2], maxsplit=1)[0]


def rows(title: str) -> list[list[str]]:
    """Return the cells of the table below a heading, without its head."""
    lines = [line.strip("| ") for line in section(title).splitlines() if line.startswith("|")]
    return [re.split(r"\s*\|\s*", line) for line in lines[2:]]


def code(cell: str) -> list[str]:
    """Return the code in a cell."""
    return re.findall(r"`([^`]+)`", cell)


BLOCKS = re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)


def test_the_example_of_the_page_is_a_case(tmp_path: Path) -> None:
    case = read_case(written(tmp_path, BLOCKS[0]))
    assert case.title == "White on the lamé, coloured on the clip"
    assert [trial.arrangement.on for trial in case.trials] == ["right lamé front", "right cord clip"]
    assert [trial.seen.text for trial in case.trials if trial.seen] == [("left white",), ("left coloured",)]


@pytest.mark.parametrize("block", BLOCKS)
def test_every_block_of_the_page_reads(block: str, tmp_path: Path) -> None:
    assert read_case(written(tmp_path, block)).trials


def test_the_page_lists_the_keys_that_a_case_may_have() -> None:
    head = [key.strip("[]") for row in rows("Top of the file") for key in code(row[0])]
    assert sorted([*head, "trial"]) == sorted(CaseTable.model_fields)
    done = [key for row in rows("A trial: what was done") for key in code(row[0])]
    assert sorted([*done, "saw"]) == sorted(TrialTable.model_fields)


@pytest.mark.parametrize(
    ("key", "example"),
    [(code(row[0])[0], example) for row in rows("A trial: what was done") for example in code(row[2] if row[2:] else "")],
)
def test_every_example_of_the_page_fits_its_key(foil: Setup, key: str, example: str) -> None:
    besides: dict[str, dict[str, object]] = {
        "on": {"press": "left"},
        "examine": {"found": "fine"},
        "found": {"examine": "left cord"},
        "meter": {"reads": "1.6"},
        "reads": {"meter": ("left cord clip", "left cord A pin of the reel plug")},
        "box": {"lights": "nothing"},
        "lights": {"box": "left cord"},
        "plugged": {"box": "left cord", "lights": "B-C"},
        "gauge": {"found": "passes"},
    }
    beside = besides.get(key, {})
    table = TrialTable.model_validate({"saw": "nothing", **beside, **tomllib.loads(f"{key} = {example}")})
    assert read_trial(load_setup("sabre") if key == "cut" else load_setup("épée") if "shim" in example else foil, table)[1] == []


def test_every_name_of_the_page_is_a_name(foil: Setup) -> None:
    names = [name for name in code(section("Names")) if name.startswith(("left ", "right "))]
    bridges = [name for name in names if re.search(r" [A-C]-[A-C]$", name)]
    assert len(bridges) >= 4
    assert len(names) > len(bridges) + 4
    assert [name for name in names if name not in bridges and name not in foil.places] == []
    for bridge in bridges:
        assert read_trial(foil, TrialTable(bridged=bridge, saw="nothing"))[1] == []


def test_every_plug_of_the_page_is_a_connection_and_the_page_has_them_all(foil: Setup) -> None:
    sentence = re.search(r"Plugs: (.*?)\.\n", section("Names"), flags=re.DOTALL)
    assert sentence
    listed = set(code(re.sub(r"\([^)]*\)", "", sentence[1])))
    assert listed == {re.sub("^(left|right) ", "", name) for name in foil.connections}


# --- what was seen ----------------------------------------------------------------------------------------------------

HIT, YELLOW = Group.HIT, Group.YELLOW
DARK, WHITE, COLOURED, LIT_BEFORE = range(4)
"""The states of the hit lamps; the yellow lamp is dark or, like white, 1."""

Looks = dict[tuple[str, Group], set["Look"]]


def now_and_then(group: Group, state: int) -> set[Look]:
    """Return the pairs of looks of which just one shows `state`."""
    return {look for look in looks_of(group) if look.count(state) == 1}


def never(group: Group, state: int) -> set[Look]:
    """Return the pairs of looks that do not show `state`."""
    return {look for look in looks_of(group) if state not in look}


def nothing(*sides: str) -> Looks:
    """Return the looks of dark sides."""
    return {(side, group): {(DARK, DARK)} for side in sides for group in (HIT, YELLOW)}


# What each phrase of docs/case-file.md says, put down here by hand from the meaning beside it.
MEANINGS: dict[str, Looks] = {
    "nothing": nothing("left", "right"),
    "left nothing": nothing("left"),
    "left white": {("left", HIT): {(WHITE, WHITE)}},
    "left white all along": {("left", HIT): {(LIT_BEFORE, LIT_BEFORE)}},
    "left coloured": {("left", HIT): {(COLOURED, COLOURED)}},
    "red": {("left", HIT): {(COLOURED, COLOURED)}},
    "green": {("right", HIT): {(COLOURED, COLOURED)}},
    "left yellow": {("left", YELLOW): {(1, 1)}},
    "left white flickers": {("left", HIT): {(DARK, WHITE), (WHITE, COLOURED), (WHITE, LIT_BEFORE)}},
    "left white sometimes": {("left", HIT): now_and_then(HIT, WHITE)},
    "left no coloured": {("left", HIT): never(HIT, COLOURED)},
    "left orange": {("left", YELLOW): {(1, 1)}},
    "left no orange": {("left", YELLOW): {(DARK, DARK)}},
    "left no yellow": {("left", YELLOW): {(DARK, DARK)}},
}


def documented() -> list[str]:
    """Return the phrases in the table of the page."""
    return [phrase for row in rows("A trial: what was seen") for cell in row for phrase in re.findall(r'`"([^"]+)"`', cell)]


def test_the_page_lists_the_phrases_whose_meaning_is_checked_here() -> None:
    assert set(documented()) == {*MEANINGS, "left no white"}


@pytest.mark.parametrize("phrase", documented())
def test_every_phrase_of_the_page_is_read(phrase: str) -> None:
    for words in (phrase, phrase.upper(), f"  {phrase.replace(' ', '   ')} "):
        seen = read_seen([words])
        assert seen.looks
        assert seen.text == (words.strip(),)
        assert seen.looks == read_seen([phrase]).looks


@pytest.mark.parametrize("phrase", MEANINGS)
def test_a_phrase_means_what_the_page_says(phrase: str) -> None:
    assert read_seen([phrase]).looks == MEANINGS[phrase]


def test_no_white_leaves_dark_and_coloured_open() -> None:
    (allowed,) = read_seen(["left no white"]).looks.values()
    assert {(DARK, DARK), (DARK, COLOURED), (COLOURED, COLOURED)} <= allowed <= never(HIT, WHITE)


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("lamp", ["white", "coloured", "yellow"])
@pytest.mark.parametrize("form", ["{} {}", "{} {} steady", "{} {} flickers", "{} {} sometimes", "{} no {}"])
def test_every_lamp_of_either_side_can_be_said_in_every_manner(side: str, lamp: str, form: str) -> None:
    (key,) = read_seen([form.format(side, lamp)]).looks
    assert key == (side, YELLOW if lamp == "yellow" else HIT)


def test_phrases_about_several_lamps_add_up() -> None:
    seen = read_seen(["left white, right no yellow", "left yellow"])
    assert seen.looks == {
        ("left", HIT): {(WHITE, WHITE)},
        ("left", YELLOW): {(1, 1)},
        ("right", YELLOW): {(DARK, DARK)},
    }
    assert seen.text == ("left white", "right no yellow", "left yellow")


def test_sometimes_white_and_sometimes_coloured_is_one_of_each() -> None:
    assert read_seen(["left white sometimes", "left coloured sometimes"]).looks == {("left", HIT): {(WHITE, COLOURED)}}


@pytest.mark.parametrize(
    "phrases",
    [
        ["left white", "left coloured"],
        ["nothing", "left white"],
        ["nothing", "right yellow"],
        ["left nothing", "red"],
        ["left white", "left no white"],
        ["left white", "left white sometimes"],
        ["left white all along", "left white"],
        ["left no yellow", "left yellow flickers"],
        ["left no white", "left white sometimes"],
        pytest.param(
            ["left white all along", "left no white"],
        ),
    ],
    ids=" + ".join,
)
def test_lamps_that_cannot_be_lit_together_are_refused(phrases: list[str]) -> None:
    """White and coloured of one side exclude each other: FIE Material Rules (Book 3), August 2026, Annex B, A.1(a)4."""
    with pytest.raises(ImpossibleTrialError, match="the lamps contradict each other on the ") as caught:
        read_seen(phrases)
    assert all(f"“{phrase}”" in caught.value.seen for phrase in phrases)
    assert "sometimes" in caught.value.remedy


def test_white_that_flickers_without_colour_comes_and_goes_with_darkness() -> None:
    (allowed,) = read_seen(["left white flickers", "left no coloured"]).looks.values()
    assert (DARK, WHITE) in allowed
    assert (WHITE, COLOURED) not in allowed


@pytest.mark.parametrize(
    "phrase", ["white", "left", "left blue", "left white often", "middle white", "nothing sometimes", "left white left yellow"]
)
def test_a_phrase_that_cannot_be_read_is_refused_with_phrases_that_can(phrase: str) -> None:
    with pytest.raises(InputError, match=f"“{phrase}” is not a report of lamps — say “nothing”, “left white”"):
        read_seen([phrase])


WORDS = st.sampled_from(
    ["left", "right", "no", "white", "coloured", "yellow", "red", "nothing", "flickers", "sometimes", "all", ","]
)


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.lists(st.lists(WORDS, max_size=5).map(" ".join) | st.text(max_size=8), max_size=4))
def test_any_report_has_looks_for_all_it_speaks_of_or_is_refused(phrases: list[str]) -> None:
    try:
        seen = read_seen(phrases)
    except InputError:
        return
    assert all(allowed and allowed <= set(looks_of(group)) for (_, group), allowed in seen.looks.items())
