"""Case files that cannot be: every mistake refused on its line, with what would do instead."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from case_files import written
from foible.errors import InputError, ProblemsError
from foible.kit import SIDES, Setup, load_setup
from foible.trials import TrialTable, read_case, read_trial

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


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
saw = "left wite"                                   # <- “left wite” is not a report & “left white”

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
colour = "grey"                  # <- colour: extra inputs are not permitted & the keys allowed here are title, weapon

[left]
socket = 2                       # <- left socket: input should be a valid string

[[trial]]
press = "left"
prss = "left"                    # <- trial [1] prss: extra inputs are not permitted & correct its spelling
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
    "on without press": 'on = "right lamé front" # <- no point is pressed & add press\nsaw = "nothing"',
    "on its own face": 'press = "left"\non = "left weapon point" # <- cannot hit with its point on itself\nsaw = "nothing"',
    "place on itself": 'touching = "left bib on left bib cloth" # <- “left bib” cannot touch itself\nsaw = "nothing"',
    "unknown place touched": 'touching = "left grip on piste" # <- no place called “left grip”\nsaw = "nothing"',
    "pin of another plug": 'bridged = "left weapon plug A-B" # <- has no pin “A” & its pins are B, C\nsaw = "nothing"',
    "one pin": 'bridged = "left reel plug B" # <- has no pin & “left reel plug B-C”\nsaw = "nothing"',
    "pins of a clip": 'bridged = "right clip A-B" # <- the right clip has no pins to bridge & right reel plug\nsaw = "nothing"',
    "pins of the piste lead": 'bridged = "piste lead C-C" # <- the piste lead has no pins to bridge\nsaw = "nothing"',
    "pins of no plug": 'bridged = "left wepon plug B-C" # <- “left wepon plug” & “left weapon plug”\nsaw = "nothing"',
    "lamps against each other": 'saw = ["left white", "left coloured"] # <- contradict each other & add “sometimes”',
    "a lamp lit and none lit": 'saw = ["nothing", "left white"] # <- contradict each other on the left',
    "a phrase of no sense": 'saw = "it went white" # <- “it went white” is not a report of lamps & “left white”',
    "found without examine": 'found = "loose" # <- it needs “examine” as well & add examine\nsaw = "nothing"',
    "fine and yet loose": 'examine = "left cord"\nfound = ["fine", "loose"] # <- “fine” is given along with other signs & alone',
    "nobody looked at the lamps": 'press = "left"\nsaw = [] # <- does not say what was seen & add saw',
}


@pytest.mark.parametrize("trial", SINGLE.values(), ids=SINGLE)
def test_a_trial_that_cannot_be_is_refused_at_its_line(tmp_path: Path, trial: str) -> None:
    assert_refused_as_marked(written(tmp_path, f'weapon = "foil"\n\n[[trial]]\n{trial}\n'))


@pytest.mark.parametrize(
    ("keys", "words"),
    [('examine = "left cord"', "it needs “found” as well & add found"), ('press = "left"', "add saw")],
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
            'press = "left"\nsaw = "" # <- no lamps are given',
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
