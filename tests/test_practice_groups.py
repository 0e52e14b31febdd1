"""Groups of learners: joined by a code, set series, seen where they are stuck; forgotten when they leave or are erased."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from foible.errors import InputError, NotFoundError
from foible.practice import Exercise, Result, subjects
from foible.records import Database
from foible.records.people import NewPerson
from foible.records.register import RegisterStore
from foible.records.trail import NOBODY, TrailQuery, TrailStore
from foible.services.demo_club import fill_practice
from foible.services.practice.drills import drilled_weapons
from foible.services.practice.groups import Groups, drill_task, page_task
from foible.services.practice.progress import Progress
from foible.services.practice.standing import next_of, standings, weeks_of
from foible.services.register.people import People
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

NOW = datetime(2026, 11, 28, 18, 0, tzinfo=UTC)
DAY = timedelta(days=1)
WREN, PIERS = "token-of-wren", "token-of-piers"
"""Invented, like everybody here."""


def result(subject: str, *, right: bool, weapon: str = "foil", exercise: Exercise = Exercise.DRILL, name: str = "d") -> Result:
    return Result(subject, weapon, exercise, name, right, 20, 20)


@pytest.fixture
def groups(database_url: str) -> Iterator[Groups]:
    store = RegisterStore(Database(database_url), clock=lambda: NOW)
    yield Groups(store)
    store.database.dispose()


def test_a_coach_sees_who_is_stuck_where_and_who_has_done_what(groups: Groups) -> None:
    progress, foil = Progress(groups.store.database), REASONING.weapon("foil")
    group = groups.make("Tuesday", by=NOBODY, token="form")
    assert groups.make("Tuesday", by=NOBODY, token="form") == group, "the same form makes one group"
    for token, name in ((WREN, "Wren"), (PIERS, " Piers  Oakenshaw ")):
        groups.join(f" {group.code[:3].upper()}-{group.code[3:]}", token, name)
    progress.note(WREN, result("earth", right=True), NOW - 40 * DAY)
    links = ("http://here.example/practice/lessons/foil/foil-loop/the-ring", "/practice/strip/foil/one/new?did=t3")
    tasks = [drill_task(foil, "earth", 2), *(page_task(link, [foil]) for link in links)]
    groups.set(group.code, "Earth", tasks, date(2026, 12, 5), by=NOBODY)
    for right in (False, False, True, False, False, False):
        progress.note(PIERS, result("earth", right=right), NOW)
    for question in ("which", "where", "which"):
        progress.note(WREN, result("loop", right=True, exercise=Exercise.LESSON, name=f"foil-loop/{question}"), NOW)
    progress.note(WREN, result("loop", right=True, exercise=Exercise.LESSON, name="foil-loop-more/which"), NOW)
    progress.note(WREN, result("loop", right=False, exercise=Exercise.HIDDEN, name="one/4711"), NOW)
    progress.note(WREN, result("loop", right=True, exercise=Exercise.HIDDEN, name="one/12", weapon="sabre"), NOW)
    view = groups.view(group.code)
    place = [each.name for each in subjects()].index("earth")
    piers, wren = view.rows
    assert (piers.learner.nickname, wren.learner.nickname) == ("Piers Oakenshaw", "Wren")
    assert (piers.cells[place].last, piers.cells[place].stuck) == ("✗✓✗✗✗", "foil: 3 wrong in a row")
    assert wren.cells[place].last == "✓"
    assert wren.cells[place].stuck.startswith("foil: due for ")
    assert [row.done for row in view.rows] == [((1, 3),), ((1, 3),)], "of what was done before it was set nothing counts"
    found = groups.of_learner(WREN)
    assert found
    assert [(task.words, done) for set_, of in found[2] for task, done in zip(set_.tasks, of, strict=True)] == [
        ("2 drills: Earth, foil", 0),
        ("lesson: foil loop, foil", 2),
        ("hidden fault: one, foil", 1),
    ]
    groups.end(group.code, view.series[0].series.id, by=NOBODY)
    assert groups.view(group.code).rows[0].done == ()
    trail = TrailStore(groups.store.database).stretch(TrailQuery(kind="group"))
    assert [each.did for each in trail] == ["ended", "set", "made"]


def test_what_makes_no_sense_is_refused_and_nothing_is_kept(groups: Groups) -> None:
    foil = REASONING.weapon("foil")
    group = groups.make("Tuesday", by=NOBODY)
    for name in ("", "  ", "a\x07b", "x" * 41):
        with pytest.raises(InputError):
            groups.join(group.code, WREN, name)
    for link in (
        "https://elsewhere.example/",
        "/practice/drills",
        "/practice/lessons/spear/x",
        "javascript:/practice/strip/foil",
    ):
        with pytest.raises(InputError, match="no page to be set"):
            page_task(link, [foil])
    for tasks in ([], [drill_task(foil, "earth", 1)] * 21, [drill_task(foil, "earth", 0)]):
        with pytest.raises(InputError):
            groups.set(group.code, "Earth", tasks, None, by=NOBODY)
    for code in ("zzzzzz", "", group.code[:-1]):
        with pytest.raises(NotFoundError):
            groups.join(code, WREN, "Wren")
    groups.close(group.code, closed=True, by=NOBODY)
    with pytest.raises(InputError, match="this group is closed"):
        groups.join(group.code, WREN, "Wren")
    assert groups.view(group.code).rows == ()
    assert groups.view(group.code).series == ()


def test_whoever_leaves_or_is_erased_is_forgotten_and_what_was_learnt_stays(groups: Groups) -> None:
    store, progress = groups.store, Progress(groups.store.database)
    people, group = People(store), groups.make("Tuesday", by=NOBODY)
    piers = people.add(NewPerson("Piers Oakenshaw"), by=NOBODY)
    assert progress.of_person(piers.id, PIERS, NOW) == PIERS, "the device's own learner becomes theirs"
    assert progress.of_person(piers.id, "another", NOW) == PIERS, "and so they are the same on every other device"
    other = people.add(NewPerson("Nuala Tamsin"), by=NOBODY)
    assert progress.of_person(other.id, PIERS, NOW) not in {PIERS, WREN}, "nobody becomes somebody else"
    for token, name in ((PIERS, "Piers"), (WREN, "Wren")):
        groups.join(group.code, token, name)
        progress.note(token, result("earth", right=True), NOW)
    kept = people.export(piers.id)
    assert [row["nickname"] for row in kept["learners"]] == ["Piers"]
    assert [(row["subject"], row["right"]) for row in kept["practice_results"]] == [("earth", True)]
    assert len(kept["practice_cards"]) == 1
    assert PIERS not in str(kept), "the token lets whoever has it go on as them"
    people.erase(piers.id, by=NOBODY)
    groups.leave(WREN)
    assert [row.learner.nickname for row in groups.view(group.code).rows] == [""]
    assert "Piers" not in str(people.export(piers.id))
    assert len(progress.cards(PIERS)) == len(progress.cards(WREN)) == 1
    groups.remove(group.code, groups.view(group.code).rows[0].learner.id, by=NOBODY)
    assert groups.view(group.code).rows == ()


def test_what_is_due_and_least_known_comes_next_and_then_what_has_not_begun(groups: Groups) -> None:
    progress, weapons = Progress(groups.store.database), drilled_weapons(REASONING)

    def next_now(now: datetime) -> tuple[str, str] | None:
        cards = [(card.subject, card.weapon, card.memory) for card in progress.cards(WREN)]
        found = next_of(standings(cards, weapons, now), {("loop", "foil"), ("loop", "épée")})
        return (found.subject, found.weapon) if found else None

    assert next_now(NOW) == ("loop", "foil")
    for _ in range(3):
        progress.note(WREN, result("earth", right=True, weapon="épée"), NOW)
    assert next_now(NOW) == ("loop", "épée"), "one goes on with the weapon that one has begun with"
    progress.note(WREN, result("loop", right=False, weapon="épée"), NOW)
    assert next_now(NOW + DAY) == ("loop", "épée"), "what was wrong is asked again first"
    assert next_now(NOW + 60 * DAY) == ("loop", "épée")
    weeks = weeks_of(progress.results(WREN, NOW - DAY), NOW)
    assert [(each.ago, each.right, each.wrong) for each in weeks][-2:] == [(1, 0, 0), (0, 3, 1)]


def test_the_demo_has_a_group_with_progress_of_some_weeks(groups: Groups) -> None:
    assert fill_practice(groups.store, REASONING, NOW)
    assert not fill_practice(groups.store, REASONING, NOW), "it is filled once"
    (group,) = groups.all()
    view = groups.view(group.code)
    assert "(invented)" in group.name
    assert len(view.rows) >= 5
    assert sum(bool(cell.stuck) for row in view.rows for cell in row.cells) >= 2
    assert sum(bool(cell.last) for row in view.rows for cell in row.cells) >= 20
    assert any(done > 0 for row in view.rows for done, _ in row.done)
    tobias = next(row for row in view.rows if row.learner.nickname == "Tobias")
    results = Progress(groups.store.database).results(tobias.learner.token, NOW - 60 * DAY)
    assert len({each.at.date() for each in results}) >= 3
    assert all(each.at <= NOW for each in results)
