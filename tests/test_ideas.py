"""The trials worth trying, as the catalogue has them: written into cases and read again; a catalogue of one's own."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from case_files import written
from foible.errors import ProblemsError
from foible.kit import Setup, load_setup, other, plain
from foible.trials import Arrangement, Idea, TrialTable, case_text, load_catalogue, read_case

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def foil() -> Setup:
    return load_setup("foil")


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
    parts = [tables[start : start + 60] for start in range(0, len(tables), 60)]  # a case has at most 60 trials
    cases = [read_case(written(tmp_path, case_text({"weapon": "foil"}, part))) for part in parts]
    assert [(t.arrangement, t.moves, t.swapped) for case in cases for t in case.trials] == [
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
        ('on = "piste"\n', 6, "no point is pressed"),
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
