"""How long lessons take, by what stands on their own pages, against what the lists say; and which of them somebody has taken.

Words are read at 200 a minute: fewer than the 238 of English non-fiction in Marc Brysbaert, “How many words do we read per
minute? A review and meta-analysis of reading rate”, Journal of Memory and Language 109, 2019 (from memory). Twenty seconds to
think about a question and five for a picture and a touch are judgement, no source.
"""

from __future__ import annotations

import re
from collections import Counter
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.practice.lessons import Question
from foible.practice.words import words_known, words_met
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.practice.lessons import lesson_of, lessons_about
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.practice.lessons import Lesson

pytestmark = pytest.mark.once

READ_A_MINUTE, ANSWER_S, SCREEN_S = 200, 20, 5
FIRST, MINUTES = 3, 15
"""The first lessons of a weapon take somebody new no longer than this, all together [min]."""
NOMENCLATURE = Path(__file__).parent.parent / "docs" / "nomenclature.md"
WEAPONS = [weapon.name for weapon in REASONING.weapons()]


class Read(HTMLParser):
    """What there is to read on a page: no drawings, no lamps, nothing folded, and none of the ways to other pages."""

    ALONE = frozenset({"input", "br", "img", "meta", "link", "hr"})
    LEFT_OUT = frozenset({"svg", "nav", "script", "style", "details"})
    CLASSES = frozenset({"crumbs", "bulbs", "words", "row"})

    def __init__(self) -> None:
        super().__init__()
        self.text: list[str] = []
        self._within, self._out = False, 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._within |= tag == "main"
        given = dict(attrs)
        left = tag in self.LEFT_OUT or "aria-hidden" in given or not self.CLASSES.isdisjoint((given.get("class") or "").split())
        if tag not in self.ALONE and (self._out or left):
            self._out += 1

    def handle_endtag(self, tag: str) -> None:
        if self._out and tag not in self.ALONE:
            self._out -= 1
        self._within &= tag != "main"

    def handle_data(self, data: str) -> None:
        if self._within and not self._out:
            self.text.append(data)


def words(page: str) -> Counter[str]:
    reader = Read()
    reader.feed(page)
    return Counter(re.findall(r"[\w’'-]+", " ".join(reader.text)))


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    database = Database(f"sqlite:///{tmp_path_factory.mktemp('lessons') / 'records.db'}")
    store = CaseStore(database, clock=lambda: datetime.now(UTC))
    yield TestClient(FromHere(create_app(Cases(REASONING, store), Settings(hosts=("testserver",)))))
    database.dispose()


def minutes(client: TestClient, lesson: Lesson) -> float:
    """Return how long a lesson takes somebody who answers every question wrongly and reads all that is said of it [min]."""
    base, seconds = f"/practice/lessons/{lesson.setup.kind.word}/{lesson.name}", 0.0
    for screen in lesson.screens:
        page = f"{base}/{screen.name}"
        read = words(client.get(page).text)
        count = read.total()
        if isinstance(screen, Question):
            wrong = [number for number, choice in enumerate(screen.choices) if not choice.right]
            count += max((words(client.get(f"{page}?taken={number}").text) - read).total() for number in wrong)
            seconds += ANSWER_S
        seconds += 60 * count / READ_A_MINUTE + SCREEN_S
    return seconds / 60


@pytest.mark.parametrize("weapon", WEAPONS)
def test_the_first_lessons_take_a_quarter_of_an_hour_and_no_longer_than_is_said(weapon: str, client: TestClient) -> None:
    listed = lessons_about(REASONING, REASONING.weapon(weapon))[:FIRST]
    took = [minutes(client, lesson_of(REASONING, weapon, each.name)) for each in listed]
    assert sum(took) <= MINUTES
    said = [each.minutes for each in listed]
    assert sum(said) <= MINUTES
    assert all(one <= most for one, most in zip(took, said, strict=True)), list(zip(took, said, strict=True))
    assert all(most <= 2 * one for one, most in zip(took, said, strict=True)), "what is said is no excuse"


@pytest.mark.slow
def test_every_lesson_keeps_the_minutes_that_the_list_says(client: TestClient) -> None:
    for weapon in REASONING.weapons():
        for each in lessons_about(REASONING, weapon)[FIRST:]:
            took = minutes(client, lesson_of(REASONING, weapon.name, each.name))
            assert took <= each.minutes, (each.name, took)


# --- words, and what was taken ----------------------------------------------------------------------------------------


def test_the_words_that_can_be_touched_are_those_of_the_nomenclature() -> None:
    rows = dict(re.findall(r"^\| ([^|]+) \| (.+) \|$", NOMENCLATURE.read_text(encoding="utf-8"), re.MULTILINE))
    assert len(words_known()) > 20
    for word in words_known():
        assert rows.get(word.name) == word.meaning, word.name


def test_a_longer_word_hides_the_shorter_one_in_it() -> None:
    assert [word.name for word in words_met(["The right cord’s clip bite is off."])] == ["body cord", "clip bite"]
    assert [word.name for word in words_met(["It reads 3 Ω to earth", "an unearthed pinch"])] == ["ohm, Ω", "earth"]
    assert len({word.slug for word in words_known()}) == len(words_known())


def test_a_lesson_is_marked_once_every_question_was_answered_and_one_goes_on_behind_it(client: TestClient) -> None:
    lessons = lessons_about(REASONING, REASONING.weapon("foil"))
    lesson = lesson_of(REASONING, "foil", lessons[0].name)
    assert "begin here" in client.get("/practice/lessons").text
    assert "Drills come after the lesson" in client.get("/practice/drills").text
    for question in lesson.questions:
        assert "✓" not in client.get("/practice/lessons").text
        page = f"/practice/lessons/foil/{lesson.name}/{question.name}"
        found = re.search(r'name="csrf" value="([^"]+)"', client.get(page).text)
        client.post(page, data={"csrf": found.group(1) if found else "", "taken": "0", "token": question.name, "since": "0"})
    shown = client.get("/practice/lessons").text
    assert f"✓ {lesson.table.title}" in shown
    assert f"go on here: {lessons[1].table.title if lessons[1].table else ''}" in shown
    assert "/practice/strip/foil/steady/new" in shown
    drills = client.get("/practice/drills").text
    assert drills.index("/practice/drills/foil/loop") < drills.index("All the others")
    assert f"go on here: {lessons[1].table.title if lessons[1].table else ''}" in client.get("/practice").text
