"""Case files: read, written back, and refused with every mistake on its line; and the page about them, kept true."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from foible.errors import ImpossibleTrialError, InputError, ProblemsError
from foible.kit import SIDES, Setup, load_setup, other, plain
from foible.trials import (
    Arrangement,
    CaseTable,
    Group,
    Idea,
    TrialTable,
    case_text,
    load_catalogue,
    looks_of,
    read_case,
    read_seen,
    read_trial,
)

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.trials import Case, Look

ROOT = Path(__file__).parents[1]
PUBLISHED = sorted((ROOT / "examples" / "published").glob("*.toml"))
PAGE = (ROOT / "docs" / "case-file.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


def written(folder: Path, text: str) -> Path:
    """Write a case file."""
    path = folder / "case.toml"
    path.write_text(text, encoding="utf-8")
    return path


# --- published cases --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", PUBLISHED, ids=lambda path: path.stem)
def test_a_published_case_reads_and_reads_again_as_it_is_written_back(path: Path, tmp_path: Path) -> None:
    case = read_case(path)
    assert case.title
    assert case.trials
    assert case.expected
    assert all(part in case.setup.parts for part in case.expected.parts)
    assert case.expected.parts or case.expected.unexplained
    table = tomllib.loads(path.read_text(encoding="utf-8"))
    trials = table.pop("trial")
    again = read_case(written(tmp_path, case_text(table, trials)))
    assert head_of(again) == head_of(case)
    assert again.trials == case.trials


def test_there_are_published_cases() -> None:
    assert len(PUBLISHED) >= 30


def head_of(case: Case) -> tuple[object, ...]:
    """Return what a case says besides its trials."""
    known = set(case.setup.parts), case.profile, case.known_good
    return (case.title, case.complaint, case.source, *known, case.expected)


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
    return {(side, group): {(DARK, DARK)} for side in sides for group in Group}


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
    with pytest.raises(InputError, match=f"“{phrase}” says nothing about lamps that can be read — say “nothing”, “left white”"):
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


# --- written and read again -------------------------------------------------------------------------------------------

# Characters beyond the 16-bit plane that cannot be printed have a test of their own below.
TEXT = st.text(st.characters(codec="utf-8").filter(lambda c: ord(c) < 0x10000 or c.isprintable()), max_size=20)
MANNERS = st.sampled_from(["{} {}", "{} {} flickers", "{} {} sometimes", "{} no {}"])


@st.composite
def trial_tables(draw: st.DrawFn, setup: Setup) -> dict[str, Any]:
    """Return a trial as a case file writes it, every name of it one of `setup`."""

    def some(names: Sequence[str], most: int = 2) -> list[str]:
        return draw(st.lists(st.sampled_from(names), max_size=most, unique=True))

    places = list(setup.places)
    bridges = [f"{c.id} {a}-{b}" for c in setup.connections.values() for a in c.bridge for b in c.bridge if a != b]
    table: dict[str, Any] = {
        "unplugged": some(list(setup.connections)),
        "bridged": some(bridges),
        "swapped": some([item.id for item in setup.items.values() if item.exchange_s]),
        "mended": some(list(setup.parts)),
        "move": some([*setup.movements, "fence left", "fence right"]),
        "times": draw(st.integers(1, 100)),
        "note": draw(TEXT),
    }
    pairs = st.tuples(st.sampled_from(places), st.sampled_from(places)).filter(
        lambda pair: setup.places[pair[0]] != setup.places[pair[1]]
    )
    table["touching"] = [f"{a} on {b}" for a, b in draw(st.lists(pairs, max_size=2))]
    side = draw(st.none() | st.sampled_from(SIDES))
    if side:
        table["press"] = side
        table["on"] = draw(st.none() | st.sampled_from([p for p in places if setup.places[p] != setup.points[side].face]))
    table["saw"] = [
        draw(MANNERS).format(lamp_side, draw(st.sampled_from(lamps)))
        for lamp_side, lamps in draw(
            st.lists(
                st.sampled_from([(s, lamps) for s in SIDES for lamps in (("white", "coloured"), ("yellow",))]),
                min_size=1,
                unique=True,
            )
        )
    ]
    if draw(st.booleans()):
        table["examine"] = some([*setup.parts, *setup.items]) or ["left cord"]
        table["found"] = draw(st.just(["fine"]) | st.lists(st.sampled_from(sorted(setup.signs)), min_size=1, max_size=3))
    keys = draw(st.permutations([key for key, value in table.items() if value]))
    return {key: table[key] for key in keys}


@settings(max_examples=30, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), title=TEXT, complaint=TEXT)
def test_a_case_reads_as_it_was_written(foil: Setup, tmp_path: Path, data: st.DataObject, title: str, complaint: str) -> None:
    tables = data.draw(st.lists(trial_tables(foil), min_size=1, max_size=4))
    head = {"title": title, "weapon": "foil", "complaint": complaint, "known_good": ["piste", "left cord"]}
    case = read_case(written(tmp_path, case_text(head, tables)))
    assert (case.title, case.complaint, case.known_good) == (title, complaint, ("piste", "left cord"))
    assert len(case.trials) == len(tables)
    for trial, table in zip(case.trials, tables, strict=True):
        assert trial.arrangement == Arrangement(
            press=table.get("press"),
            on=table.get("on"),
            touching=tuple(tuple(text.split(" on ")) for text in table.get("touching", [])),
            unplugged=tuple(table.get("unplugged", [])),
            bridged=tuple((text[:-4], text[-3], text[-1]) for text in table.get("bridged", [])),
        )
        assert (trial.swapped, trial.mended) == (tuple(table.get("swapped", [])), tuple(table.get("mended", [])))
        assert trial.moves == tuple(table.get("move", []))
        assert (trial.examine, trial.found) == (tuple(table.get("examine", [])), tuple(table.get("found", [])))
        assert (trial.times, trial.note) == (table["times"], table.get("note", ""))
        assert trial.seen == read_seen(table["saw"])


@settings(max_examples=100, deadline=None, derandomize=True)
@given(TEXT, st.integers(1, 100))
def test_any_text_stands_in_a_case_file_as_it_is(text: str, times: int) -> None:
    table = tomllib.loads(case_text({"title": text, "known_good": [text]}, [{"note": text, "times": times}]))
    assert table.get("title", "") == table["known_good"][0] == table["trial"][0].get("note", "") == text


@pytest.mark.parametrize("character", ["\U000e0001", "\U0010ffff"])
def test_a_character_of_more_than_16_bits_that_cannot_be_printed_is_kept(character: str) -> None:
    assert tomllib.loads(case_text({"title": character}, []))["title"] == character


def test_a_number_is_written_as_one() -> None:
    assert tomllib.loads(case_text({}, [{"times": 3}]))["trial"][0]["times"] == 3


def test_what_is_fitted_and_expected_is_written_back(tmp_path: Path) -> None:
    head = {
        "weapon": "foil",
        "profile": "no-anti-blocking-foil",
        "left": {"socket": "bayonet"},
        "expect": {"parts": ["left weapon socket shell"], "note": 'a "quoted" note'},
    }
    case = read_case(written(tmp_path, case_text(head, [{"saw": "nothing"}])))
    assert case.profile.name == "no-anti-blocking-foil"
    assert "left weapon socket shell" in case.setup.parts
    assert "right weapon socket shell" not in case.setup.parts
    assert case.expected
    assert case.expected.parts == ("left weapon socket shell",)
    assert case.expected.items == {"left weapon"}
    assert case.expected.note == 'a "quoted" note'


def test_one_word_stands_for_a_list_of_one(foil: Setup) -> None:
    one = TrialTable(move="fence left", unplugged="left clip", examine="left cord", found="fine", saw="red")
    many = TrialTable(move=("FENCE left",), unplugged=("Left  Clip",), examine=("LEFT CORD",), found=("Fine",), saw=("red",))
    assert read_trial(foil, one) == read_trial(foil, many)


def test_accents_and_capitals_do_not_matter_in_a_trial(foil: Setup) -> None:
    sharp = TrialTable(press="left", on="right lamé front, elsewhere", bridged="left reel plug A-C", saw="left white")
    blunt = TrialTable(press="Left", on="Right LAME Front,  elsewhere", bridged="left Reel Plug a-c", saw="Left WHITE")
    (one, no), (two, none) = read_trial(foil, sharp), read_trial(foil, blunt)
    assert no == none == []
    assert one.arrangement == two.arrangement


def test_the_point_of_a_weapon_that_is_unplugged_may_be_pressed(foil: Setup) -> None:
    table = TrialTable(press="left", on="right lamé front", unplugged="left weapon plug", saw="left white all along")
    trial, wrong = read_trial(foil, table)
    assert wrong == []
    assert trial.arrangement.before_press() == Arrangement(unplugged=("left weapon plug",))


# --- mistakes ---------------------------------------------------------------------------------------------------------


def assert_refused_as_marked(path: Path) -> None:
    """Check that the case is refused for what “# <- words” marks in it: on that line, with those words seen or advised."""
    with pytest.raises(ProblemsError) as caught:
        read_case(path)
    lines = path.read_text(encoding="utf-8").splitlines()
    marks = {
        (number, words.strip())
        for number, line in enumerate(lines, start=1)
        if "# <- " in line
        for words in line.partition("# <- ")[2].split(" & ")
    }
    problems = caught.value.problems
    assert {mark for mark in marks for p in problems if p.line == mark[0] and mark[1] in f"{p.seen} — {p.remedy}"} == marks
    assert {problem.line for problem in problems} == {number for number, _ in marks}
    assert all(problem.file == str(path) and problem.remedy for problem in problems)


ALL_WRONG = """
title = "all wrong"
weapon = "foil"
profile = "fie-2062-foil"                           # <- no rule profile called “fie-2062-foil” & did you mean “fie-2026-foil”
known_good = ["left crod"]                          # <- no item called “left crod” & did you mean “left cord”

[expect]
parts = ["left weapon grip nut", "left weapon nut"] # <- no part called “left weapon nut” & “left weapon grip nut”

[[trial]]
press = "up"                                        # <- no side called “up”
saw = "left wite"                                   # <- “left wite” says nothing & “left white”

[[trial]]
press = "left"
on = "right lamé frnt"                              # <- no place called “right lamé frnt” & “right lamé front”
touching = ["left weapon guard"]                    # <- does not name two places & one place on another place
unplugged = ["left cork"]                           # <- no connection called “left cork”
bridged = [                                         # <- the left clip has no pins to bridge
  "left weapon plug B-C",
  "left clip A-B",
]
swapped = "left sword"                              # <- no item called “left sword”
mended = ["left bib"]                               # <- no part called “left bib” & “left bib cloth”
move = "bend left blade"                            # <- no movement called “bend left blade” & “bend left weapon blade”
examine = "left weapon grip"                        # <- no part or item called “left weapon grip” & “left weapon grip nut”
found = "lose"                                      # <- no sign called “lose” & “loose”
saw = ["nothing", "left white"]                     # <- contradict each other on the left
"""


def test_all_mistakes_of_a_case_are_reported_at_once(tmp_path: Path) -> None:
    assert_refused_as_marked(written(tmp_path, ALL_WRONG))


MISSHAPEN = """
weapon = "foil"
title = 3                        # <- title: input should be a valid string
known_good = "left cord"         # <- known_good: input should be a valid tuple
colour = "grey"                  # <- colour: extra inputs are not permitted & here may stand title, weapon

[left]
socket = 2                       # <- left socket: input should be a valid string

[[trial]]
press = "left"
prss = "left"                    # <- trial [1] prss: extra inputs are not permitted & mend its spelling
times = 0                        # <- trial [1] times: input should be greater than or equal to 1
saw = "nothing"

[[trial]]
times = 101                      # <- trial [2] times: input should be less than or equal to 100
saw = ["nothing", 3]             # <- trial [2] saw
note = ["a"]                     # <- trial [2] note: input should be a valid string
"""


def test_all_values_of_the_wrong_kind_are_reported_at_once(tmp_path: Path) -> None:
    assert_refused_as_marked(written(tmp_path, MISSHAPEN))


SINGLE = {
    "on without press": 'on = "right lamé front" # <- nobody presses a point & add press\nsaw = "nothing"',
    "on its own face": 'press = "left"\non = "left weapon point" # <- cannot hit with its point on itself\nsaw = "nothing"',
    "place on itself": 'touching = "left bib on left bib cloth" # <- “left bib” cannot touch itself\nsaw = "nothing"',
    "unknown place touched": 'touching = "left grip on piste" # <- no place called “left grip”\nsaw = "nothing"',
    "pin of another plug": 'bridged = "left weapon plug A-B" # <- has no pin “A” & its pins are B, C\nsaw = "nothing"',
    "one pin": 'bridged = "left reel plug B" # <- has no pin & “left reel plug B-C”\nsaw = "nothing"',
    "pins of a clip": 'bridged = "right clip A-B" # <- the right clip has no pins to bridge & right reel plug\nsaw = "nothing"',
    "pins of the piste lead": 'bridged = "piste lead C-C" # <- the piste lead has no pins to bridge\nsaw = "nothing"',
    "pins of no plug": 'bridged = "left wepon plug B-C" # <- “left wepon plug” & “left weapon plug”\nsaw = "nothing"',
    "lamps against each other": 'saw = ["left white", "left coloured"] # <- contradict each other & say “sometimes”',
    "a lamp lit and none lit": 'saw = ["nothing", "left white"] # <- contradict each other on the left',
    "a phrase of no sense": 'saw = "it went white" # <- “it went white” says nothing about lamps & “left white”',
    "found without examine": 'found = "loose" # <- there is no “examine” to go with it & add examine\nsaw = "nothing"',
    "fine and yet loose": 'examine = "left cord"\nfound = ["fine", "loose"] # <- “fine” stands beside other signs & alone',
    "nobody looked at the lamps": 'press = "left"\nsaw = [] # <- does not say what was seen & add saw',
}


@pytest.mark.parametrize("trial", SINGLE.values(), ids=SINGLE)
def test_a_trial_that_cannot_be_is_refused_at_its_line(tmp_path: Path, trial: str) -> None:
    assert_refused_as_marked(written(tmp_path, f'weapon = "foil"\n\n[[trial]]\n{trial}\n'))


@pytest.mark.parametrize(
    ("keys", "words"),
    [('examine = "left cord"', "there is no “found” to go with it & add found"), ('press = "left"', "add saw")],
)
def test_a_key_that_is_missing_is_missed_at_the_head_of_its_trial(tmp_path: Path, keys: str, words: str) -> None:
    assert_refused_as_marked(written(tmp_path, f'weapon = "foil"\n\n[[trial]] # <- {words}\n{keys}\n'))


@pytest.mark.parametrize(
    "trial",
    [
        pytest.param(
            'touching = "left bib on piste on right bib" # <- left bib on piste on right bib\nsaw = "nothing"',
            id="three places",
        ),
        pytest.param(
            'bridged = "left weapon plug B-B" # <- left weapon plug\nsaw = "nothing"',
            id="a pin with itself",
        ),
        pytest.param(
            'press = "left"\nsaw = "" # <- the report of lamps is empty',
            id="an empty report",
        ),
    ],
)
def test_a_trial_without_sense_is_refused(tmp_path: Path, trial: str) -> None:
    assert_refused_as_marked(written(tmp_path, f'weapon = "foil"\n\n[[trial]]\n{trial}\n'))


def refusals(path: Path, *, allow_empty: bool = False) -> list[tuple[int | None, str, str]]:
    """Return (line, seen, remedy) of all for which a case is refused."""
    with pytest.raises(ProblemsError) as caught:
        read_case(path, allow_empty=allow_empty)
    assert all(problem.file == str(path) for problem in caught.value.problems)
    return [(problem.line, problem.seen, problem.remedy) for problem in caught.value.problems]


def test_an_empty_case_lacks_its_weapon(tmp_path: Path) -> None:
    assert refusals(written(tmp_path, "")) == [(None, "weapon: field required", "add the key")]


def test_a_case_without_trials_is_refused_unless_it_is_to_be_filled_in(tmp_path: Path) -> None:
    path = written(tmp_path, 'weapon = "foil"\n')
    ((line, seen, remedy),) = refusals(path)
    assert (line, seen) == (None, "the case has no trials")
    assert "[[trial]]" in remedy
    assert read_case(path, allow_empty=True).trials == ()
    written(tmp_path, 'weapon = "foil"\nprofile = "none such"\n')
    assert [line for line, _, _ in refusals(path, allow_empty=True)] == [2]


def test_a_single_table_for_the_trials_is_refused_at_its_header(tmp_path: Path) -> None:
    ((line, seen, _),) = refusals(written(tmp_path, 'weapon = "foil"\n[trial]\nsaw = "nothing"\n'))
    assert line == 2
    assert seen.startswith("trial: ")


def test_a_file_that_is_no_case_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "case.toml"
    path.write_bytes(b"\x7fELF\0\0\1")
    ((line, seen, remedy),) = refusals(path)
    assert (line, seen) == (None, "this is not a text file")
    assert "docs/case-file.md" in remedy
    path.unlink()
    assert "cannot be read" in refusals(path)[0][1]


@pytest.mark.parametrize(
    ("wrong", "known"),
    [('weapon = "longsword"\n', "foil"), ('weapon = "foil"\n[left]\nsocket = "bayonett"\n', "did you mean “bayonet”")],
)
def test_an_unknown_weapon_or_socket_is_refused_with_those_there_are(tmp_path: Path, wrong: str, known: str) -> None:
    with pytest.raises(ProblemsError, match=known):
        read_case(written(tmp_path, f'{wrong}\n[[trial]]\nsaw = "nothing"\n'))


@pytest.mark.parametrize(
    "head",
    [
        'weapon = "longsword" # <- longsword & foil\n',
        'weapon = "foil"\n[left]\nsocket = "bayonett" # <- bayonett & bayonet\n',
        'weapon = "foil"\n[left]\nsokcet = "bayonet" # <- sokcet & socket\n',
    ],
    ids=["weapon", "socket", "slot"],
)
def test_what_is_not_in_the_kit_is_refused_at_its_line_of_the_case(tmp_path: Path, head: str) -> None:
    assert_refused_as_marked(written(tmp_path, f'{head}\n[[trial]]\nsaw = "nothing"\n'))


@pytest.mark.parametrize("key", ["weapon", "profile", "left.socket"])
def test_a_name_of_any_length_is_refused_like_any_other(tmp_path: Path, key: str) -> None:
    head = {"weapon": '"foil"', key: f'"{"x" * 300}"'}
    text = "\n".join(f"{name} = {value}" for name, value in head.items())
    with pytest.raises(InputError):
        read_case(written(tmp_path, f'{text}\n[[trial]]\nsaw = "nothing"\n'))


def test_a_dash_in_a_report_does_not_cut_what_was_seen(tmp_path: Path) -> None:
    ((_, seen, _),) = refusals(written(tmp_path, 'weapon = "foil"\n[[trial]]\nsaw = "white — then none"\n'))
    assert "“white — then none”" in seen


def test_a_misspelt_trial_header_is_refused_at_its_line(tmp_path: Path) -> None:
    text = 'weapon = "foil"\n\n[[trail]]\nsaw = "nothing"\n'
    assert [line for line, _, _ in refusals(written(tmp_path, text))] == [3]


@st.composite
def careless_tables(draw: st.DrawFn, setup: Setup) -> dict[str, Any]:
    """Return a trial as one might write it who has not read the page."""
    known = [*SIDES, *setup.places, *setup.connections, *setup.items, *setup.parts, *setup.movements, *setup.signs]
    phrases = ["nothing", "left white", "right coloured sometimes", "fine", "fence left", "left reel plug A-B", "left clip B-C"]
    word = st.sampled_from([*known, *phrases]) | st.text(max_size=6)
    pair = st.tuples(word, word).map(" on ".join)
    values: Mapping[str, st.SearchStrategy[Any]] = {
        **dict.fromkeys(("press", "cut", "on", "reads", "box", "gauge"), word),
        "meter": st.tuples(word, word),
        **dict.fromkeys(
            ("unplugged", "bridged", "swapped", "mended", "move", "examine", "found", "lights", "plugged", "saw"),
            st.lists(word, max_size=2),
        ),
        "touching": pair | st.lists(pair, max_size=2),
    }
    return {key: draw(value) for key, value in values.items() if draw(st.booleans())}


@settings(max_examples=100, deadline=None, derandomize=True)
@given(data=st.data())
def test_whatever_stands_in_a_trial_is_read_or_refused_for_a_reason(foil: Setup, data: st.DataObject) -> None:
    table = TrialTable.model_validate(data.draw(careless_tables(foil)))
    trial, wrong = read_trial(foil, table)
    assert all(key in TrialTable.model_fields and isinstance(error, InputError) and " — " in str(error) for key, error in wrong)
    if not wrong:
        assert trial.seen or trial.examine or trial.reads or trial.lights or trial.gauge
        assert trial.arrangement.press or not trial.arrangement.on


# --- the trials worth trying ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def ideas(foil: Setup) -> tuple[Idea, ...]:
    """Return the ideas for the piste; those for the bench are in test_catalogue.py."""
    return tuple(idea for idea in load_catalogue(foil) if idea.place == "piste")


def mirrored(table: TrialTable) -> TrialTable:
    """Return a trial with left and right exchanged."""
    text = re.sub("left|right", lambda side: other(side[0]), table.model_dump_json())
    return TrialTable.model_validate_json(text)


def test_there_are_plenty_of_different_ideas(ideas: tuple[Idea, ...]) -> None:
    assert len(ideas) >= 60
    assert len({plain(idea.say) for idea in ideas}) == len(ideas)
    assert len({idea.table for idea in ideas}) == len(ideas)


def test_every_idea_is_there_for_the_other_side_at_the_same_cost(ideas: tuple[Idea, ...]) -> None:
    known = {idea.table: idea for idea in ideas}
    for idea in ideas:
        twin = known[mirrored(idea.table)]
        assert (twin.seconds, twin.needs) == (idea.seconds, idea.needs)
        assert twin.say == re.sub("left|right", lambda side: other(side[0]), idea.say)


def test_every_idea_costs_time_and_tells_no_result(ideas: tuple[Idea, ...]) -> None:
    assert all(idea.seconds > 0 for idea in ideas)
    assert all(idea.trial.seen is None and not idea.trial.found for idea in ideas)
    assert all("{" not in idea.say for idea in ideas)


def test_an_idea_that_swaps_an_item_needs_a_spare(ideas: tuple[Idea, ...]) -> None:
    assert all(("spare" in idea.needs) == bool(idea.trial.swapped) for idea in ideas)


def test_every_idea_can_be_written_into_a_case_and_read_again(ideas: tuple[Idea, ...], tmp_path: Path) -> None:
    lamps = [idea for idea in ideas if not (idea.trial.examine or idea.trial.gauge or idea.trial.meter)]
    tables = [{**idea.table.model_dump(exclude_defaults=True), "saw": "nothing"} for idea in lamps]
    case = read_case(written(tmp_path, case_text({"weapon": "foil"}, tables)))
    assert [(t.arrangement, t.moves, t.swapped) for t in case.trials] == [
        (i.trial.arrangement, i.trial.moves, i.trial.swapped) for i in lamps
    ]


def catalogue(folder: Path, text: str) -> Path:
    """Write an overlay folder with a catalogue of its own."""
    (folder / "catalogues").mkdir()
    (folder / "catalogues" / "foil.toml").write_text(text, encoding="utf-8")
    return folder


def test_a_catalogue_of_ones_own_takes_the_place_of_the_shipped_one(foil: Setup, tmp_path: Path) -> None:
    folder = catalogue(
        tmp_path,
        '[[idea]]\nsay = "press {side} on {other}"\nseconds = 3\npress = "{side}"\non = "{other} bib"\n\n'
        '[[idea]]\nsay = "look"\nseconds = 1\nonce = true\n',
    )
    ideas = load_catalogue(foil, overlays=[folder])
    assert [(idea.say, idea.trial.arrangement) for idea in ideas] == [
        ("press left on right", Arrangement(press="left", on="right bib")),
        ("press right on left", Arrangement(press="right", on="left bib")),
        ("look", Arrangement()),
    ]


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('press = "{side}"\non = "{other} lamé frnt"\n', 7, "right lamé front"),
        ('on = "piste"\n', 6, "nobody presses a point"),
        ('bridged = ["{side} clip A-B"]\n', 6, "no pins to bridge"),
        ('move = [\n"bend {side} reel",\n]\n', 6, "no movement called “bend left reel”"),
        ('prss = "{side}"\n', 6, "extra inputs"),
        ("seconds = 0\n", 6, "greater than 0"),
    ],
)
def test_a_mistake_in_a_catalogue_is_refused_at_its_line(foil: Setup, tmp_path: Path, text: str, line: int, words: str) -> None:
    sound = '[[idea]]\nsay = "look {side}"\nseconds = 3\n[[idea]]\nsay = "{side}"\n'
    rest = "" if "seconds" in text else "seconds = 3\n"
    folder = catalogue(tmp_path, f"{sound}{text}{rest}")
    with pytest.raises(ProblemsError, match=words) as caught:
        load_catalogue(foil, overlays=[folder])
    assert {(problem.file, problem.line) for problem in caught.value.problems} == {
        (str(folder / "catalogues" / "foil.toml"), line)
    }


def test_two_ideas_with_one_sentence_are_refused(foil: Setup, tmp_path: Path) -> None:
    folder = catalogue(tmp_path, '[[idea]]\nsay = "press a point"\nseconds = 3\npress = "{side}"\n')
    with pytest.raises(ProblemsError):
        load_catalogue(foil, overlays=[folder])
