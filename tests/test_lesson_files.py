"""Lessons of one's own: every slip is told with its line, one bad file leaves the others alone; pages and terminal go through."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from html import unescape
from typing import TYPE_CHECKING

import pytest
from sqlalchemy import text
from typer.testing import CliRunner

from client import FromHere, TestClient
from foible.cli.main import command
from foible.errors import ProblemsError, UnknownNameError
from foible.kit import load_setup
from foible.practice.lessons import check_lessons, load_lesson
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.reasoning import Reasoning
from foible.web.application import create_app
from foible.web.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from typer.testing import Result

GOOD = """\
name = "ours"
title = "Our own lesson"
weapon = "foil"
subject = "loop"
sources = "judgement"

[[step]]
name = "rest"
title = "At rest"
say = "Nobody presses anything, and {lamps}."
circuit = "loop"
trial = {}

[[question]]
name = "pressed"
kind = "lamps"
ask = "The point is pressed on a sleeve. What lights?"
trial = { press = "left" }
trap = true
belief = "Only hits on the lamé light a lamp."
choice = [ { lights = "left white" }, { lights = "nothing", tempting = true } ]

[[question]]
name = "cause"
kind = "cause"
ask = "Which could it be?"
failures = "left cord B wire, middle: broken in the middle"
choice = [ { of = "left cord C wire, middle" }, { of = "left cord A wire, middle" } ]
"""
SLIPS = [
    ('name = "ours"', 'name = "theirs"', 1, "called “theirs” and its file “ours”"),
    ('weapon = "foil"', 'weapon = "rapier"', 3, "no weapon called “rapier”"),
    ('subject = "loop"', 'subject = "loops"', 4, "no idea called “loops”"),
    ("sources =", "source =", None, "sources: field required"),
    ('name = "rest"', 'name = "pressed"', 15, "the name “pressed” is given twice"),
    ("{lamps}", "{lamp}", 10, "no field called “lamp”"),
    ("and {lamps}", "and a white lamp lights", 10, "the text says “white”"),
    ('circuit = "loop"', 'circuit = "ring"', 11, "no measurement called “ring”"),
    ("trial = {}", 'walk = "nowhere"', 12, "no step called “nowhere”"),
    ('press = "left"', 'press = "middle"', 18, "no side called “middle”"),
    ('press = "left"', 'press = "left", saw = "left white"', 18, "a lesson cannot say “saw”"),
    ("belief = ", "# belief = ", 19, "a trap says which belief"),
    (", tempting = true", "", 19, "0 choices are tempting"),
    (
        '"left white" }, { lights = "nothing", tempting',
        '"nothing" }, { lights = "left white", tempting',
        19,
        "the tempting choice is right",
    ),
    ('"left white" }', '"left yellow" }', 21, "no choice is right"),
    ('"nothing", tempting', '"left white", tempting', 21, "choices 1 and 2 are the same"),
    ('lights = "left white"', 'lights = "left blue"', 21, "choice 1: there is no lamp called “left blue”"),
    ('lights = "left white"', 'reads = "open"', 21, "choice 1: a choice of this kind of question has “lights”"),
    ("B wire, middle: broken in the middle", "B wire, middle: gone", 27, "left cord B wire, middle: gone"),
    ("left cord A wire, middle", "left reel C slip ring", 28, "every choice is right"),
    ("left cord A wire, middle", "left cord Z wire", 28, "choice 2: there is no failure, part or item called “left cord Z wire”"),
    ('kind = "cause"', 'kind = "riddle"', 25, "kind"),
    ('ask = "Which could', 'after = "later"\nask = "Which could', 26, "no step called “later”"),
    (
        'say = "Nobody',
        'picture = { item = "left cord", names = ["left weapon grip nut"] }\nsay = "Nobody',
        10,
        "no part of the left cord called “left weapon grip nut”",
    ),
]


@pytest.fixture
def ours(tmp_path: Path) -> Path:
    """Return a lesson of one's own in a kit folder."""
    (tmp_path / "lessons").mkdir()
    path = tmp_path / "lessons" / "ours.toml"
    path.write_text(GOOD, encoding="utf-8")
    return path


@pytest.mark.parametrize(("was", "becomes", "line", "told"), SLIPS)
def test_every_slip_is_told_with_its_line(ours: Path, was: str, becomes: str, line: int | None, told: str) -> None:
    assert was in GOOD
    ours.write_text(GOOD.replace(was, becomes, 1), encoding="utf-8")
    found = check_lessons([ours])[ours]
    assert any(told in problem.seen and (line is None or problem.line == line) for problem in found), found


def test_a_lamp_that_the_rules_leave_open_is_no_question(ours: Path) -> None:
    """Annex B, C names no lamp for a cut while the control loop is open; most apparatus let none count (judgement)."""
    asked = GOOD.replace('weapon = "foil"', 'weapon = "sabre"').replace(
        'trial = { press = "left" }',
        'trial = { cut = "left", on = "right lamé front" }\nfailures = "left cord B wire, middle: broken in the middle"',
    )
    ours.write_text(asked, encoding="utf-8")
    assert any("it is left open whether the left coloured lamp lights" in each.seen for each in check_lessons([ours])[ours])


def test_a_lesson_of_a_kit_folder_is_loaded_by_its_name_and_may_take_the_place_of_another(ours: Path) -> None:
    setup = load_setup("foil", overlays=[ours.parents[1]])
    assert load_lesson(setup, "ours").table.title == "Our own lesson"
    with pytest.raises(UnknownNameError, match=r"foil-loop, .*ours"):
        load_lesson(setup, "nobody’s")
    (ours.parent / "foil-loop.toml").write_text(GOOD.replace('"ours"', '"foil-loop"'), encoding="utf-8")
    assert load_lesson(setup, "foil-loop").table.title == "Our own lesson"
    with pytest.raises(UnknownNameError):
        load_lesson(load_setup("sabre"), "foil-loop")


@pytest.fixture
def client(ours: Path, tmp_path: Path) -> Iterator[TestClient]:
    (ours.parent / "bad.toml").write_text(
        GOOD.replace('"ours"', '"bad"').replace('"left white" }', '"left yellow" }'), encoding="utf-8"
    )
    store = CaseStore(Database(f"sqlite:///{tmp_path / 'r.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    app = create_app(Cases(Reasoning(overlays=[ours.parents[1]]), store), Settings())
    with TestClient(FromHere(app), base_url="http://localhost") as made:
        yield made
    store.database.dispose()


def test_pages_lead_through_lessons_and_answers_without_a_script_and_what_was_shown_is_kept(client: TestClient) -> None:
    assert 'href="/practice/lessons"' in client.get("/practice").text
    assert 'href="/practice/lessons#of-foil"' in client.get("/circuit/foil").text
    shelf = unescape(client.get("/practice/lessons").text)
    assert "bad.toml:21: no choice is right" in shelf
    assert 'href="/practice/lessons/foil/bad"' not in shelf
    assert client.get("/practice/lessons/foil/bad").status_code == 422
    assert {client.get(f"/practice/lessons/{path}").status_code for path in ("foil/no", "epee/ours", "foil/ours/no")} == {404}
    address, seen = "/practice/lessons/foil/foil-loop", []
    while address.startswith("/practice/lessons/foil/foil-loop"):
        page = client.get(address).text
        seen.append(address.rpartition("/")[2])
        if 'class="answer"' in page:
            fields = dict(re.findall(r'name="(csrf|token|since)" value="([^"]*)"', page))
            page = client.post(address, data={**fields, "taken": "1"}).text
            assert "Right." in page or "Not right." in page
            assert "The loop of lines B and C" in page
        address = re.search(r'rel="next" href="([^"]*)"', page)[1]  # type: ignore[index]
    assert seen[1:] == ["the-hit", "where-is-it-open", "cannot-tell", "c-broken", "what-could-it-be"]
    assert address == "/practice/lessons/foil/foil-lines"
    progress = client.app.app.state.progress  # type: ignore[attr-defined]
    kept = text("select name, exercise from practice_results order by id")
    rows = progress.database.read(lambda session: session.execute(kept).all(), what="results")
    assert [tuple(row) for row in rows] == [
        (f"foil-loop/{name}", "lesson") for name in ("where-is-it-open", "c-broken", "what-could-it-be")
    ]


def test_a_choice_touched_in_the_picture_is_offered_and_one_that_is_not_there_refused(client: TestClient) -> None:
    here = "/practice/lessons/foil/foil-loop/where-is-it-open"
    asked = client.get(here).text
    touched = re.search(r'href="([^"]*touched=\d)"[^>]*aria-label="left cord"', asked)
    assert touched
    assert "touched in the picture" in client.get(touched[1]).text
    assert {client.get(f"{here}?taken={each}").status_code for each in ("9", "x")} == {404, 422}


def test_the_terminal_lists_checks_and_goes_through_lessons(ours: Path) -> None:
    def practise(*words: str, keys: str = "") -> Result:
        return CliRunner().invoke(command, ["practise", *words], input=keys)

    assert "nothing wrong" in practise("check", str(ours.parents[1])).output
    ours.write_text(GOOD.replace('"left white" }', '"left yellow" }'), encoding="utf-8")
    refused = practise("check", str(ours)).exception
    assert isinstance(refused, ProblemsError)
    assert [problem.line for problem in refused.problems] == [21]
    assert "foil-loop" in practise("lessons", "--weapon", "foil").output
    told = practise("lesson", "foil-loop", keys="\n\n1\n\n1\n1\n").output
    assert re.search(r"[0-3] of 3 right", told)
    assert "The loop of lines B and C on the left" in told


def test_once_answered_the_picture_is_of_the_fault_that_was_rightly_named(client: TestClient) -> None:
    """The right choice of this question is a part of the weapon; the question itself was about a wire of the cord."""
    here = "/practice/lessons/foil/foil-loop/what-could-it-be"
    lesson = load_lesson(load_setup("foil"), "foil-loop")
    (right,) = (number for number, choice in enumerate(lesson.questions[2].choices) if choice.right)
    for taken in range(len(lesson.questions[2].choices)):  # whoever was wrong sees the right one
        page = unescape(client.get(f"{here}?taken={taken}").text)
        assert "Drawn with one that shows this: left weapon wire along the blade: broken in the groove." in page
        assert ("Right." in page) is (taken == right)
        assert "Thick line: the way of the current, and where it is open." in page
    excluded = unescape(client.get("/practice/lessons/foil/foil-lamps/what-it-excludes?taken=0").text)
    assert "Drawn with one that shows this: right cord clip bite: come off, or never put on." in excluded


def test_only_where_the_way_is_open_is_that_spoken_of(client: TestClient) -> None:
    steps = {name: client.get(f"/practice/lessons/foil/foil-loop/{name}").text for name in ("the-ring", "the-hit")}
    assert "Thick line: the current." in steps["the-ring"]
    assert "Thick line: the way of the current, and where it is open." in steps["the-hit"]


def test_a_picture_names_only_the_parts_that_a_lesson_speaks_of(client: TestClient) -> None:
    page = client.get("/practice/lessons/foil/foil-lines/which-pin").text
    assert 'data-part="left cord reel plug B pin"' in page
    assert 'data-part="left cord sheath"' not in page


def test_once_answered_the_way_is_drawn_that_the_fault_cuts(client: TestClient) -> None:
    """A clip wire is no part of the loop, which the press has opened: FIE Material Rules, August 2026, Annex B, A.1."""
    page = client.get("/practice/lessons/foil/foil-lines/whose-fault?taken=1").text
    assert "cut here" in page
    assert "failed here" not in page
