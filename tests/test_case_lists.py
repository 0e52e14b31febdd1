"""Lists of cases on both kinds of database: what is looked for is found, all of it and nothing else, whatever is kept."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import event

from foible.records import CaseQuery, CaseState, CaseStore, Database, EntryKind, NewCase, NewEntry

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.records import CaseHead

START = datetime(2026, 10, 3, 22, 0, tzinfo=UTC)


class Hours:
    """A clock that goes on by an hour each time it is looked at."""

    def __init__(self) -> None:
        self.now = START

    def __call__(self) -> datetime:
        self.now += timedelta(hours=1)
        return self.now


@pytest.fixture
def store(database_url: str) -> Iterator[CaseStore]:
    database = Database(database_url)
    yield CaseStore(database, clock=Hours())
    database.dispose()


@pytest.fixture
def club(store: CaseStore) -> CaseStore:
    """Keep four invented cases, an hour apart from 3 October 2026, 23:00 UTC on; the third is put away at the end."""
    store.open(NewCase("foil", "Lamé of the left fencer", complaint="It goes white"))
    store.open(NewCase("épée", "ÉPÉE: nothing lights", complaint="I hit and nothing lit"))
    away = store.open(NewCase("sabre", "100 % of my cuts_fail", source="An invented case"))
    store.open(NewCase("foil", "Reel on piste 3"))
    store.close(away.id, closed=True)
    return store


def titles(store: CaseStore, query: CaseQuery) -> list[str]:
    return [head.title for head in store.heads(query).rows]


def test_the_latest_changed_comes_first(club: CaseStore) -> None:
    found = club.heads()
    assert [head.title for head in found.rows] == [
        "100 % of my cuts_fail",
        "Reel on piste 3",
        "ÉPÉE: nothing lights",
        "Lamé of the left fencer",
    ]
    assert found.total == club.count() == 4


WORDS = [
    ("lame", ["Lamé of the left fencer"]),
    ("LAMÉ", ["Lamé of the left fencer"]),
    (unicodedata.normalize("NFD", "lamé"), ["Lamé of the left fencer"]),
    ("épée", ["ÉPÉE: nothing lights"]),
    ("fencer  white", ["Lamé of the left fencer"]),
    ("fencer reel", []),
    ("%", ["100 % of my cuts_fail"]),
    ("s_f", ["100 % of my cuts_fail"]),
    ("t_f", []),
    ("invented", ["100 % of my cuts_fail"]),
    ("foil", ["Reel on piste 3", "Lamé of the left fencer"]),
    ("/", []),
    ("\0 reel", ["Reel on piste 3"]),
]
"""Words, and the titles of the cases that they find."""


def test_all_words_must_occur_whatever_their_case_and_accents(club: CaseStore) -> None:
    for words, found in WORDS:
        assert titles(club, CaseQuery(words)) == found, words


def test_a_case_is_found_by_its_name_and_by_the_item_it_is_moved_to(club: CaseStore) -> None:
    case = club.heads(CaseQuery("reel")).rows[0]
    assert titles(club, CaseQuery(case.id.upper())) == [case.title]
    assert titles(club, CaseQuery("reel cord")) == []
    club.move(case.id, place="bench", item="left cord", tools=())
    assert titles(club, CaseQuery("reel cord")) == [case.title]


IN_UTC = CaseQuery(zone=UTC)

EVERY_OPEN = ["Reel on piste 3", "ÉPÉE: nothing lights", "Lamé of the left fencer"]
QUERIES = [
    (CaseQuery(weapon="épée"), ["ÉPÉE: nothing lights"]),
    (CaseQuery(state=CaseState.CLOSED), ["100 % of my cuts_fail"]),
    (CaseQuery(state=CaseState.OPEN, weapon="foil"), ["Reel on piste 3", "Lamé of the left fencer"]),
    (replace(IN_UTC, until=date(2026, 10, 3)), ["Lamé of the left fencer"]),
    (replace(IN_UTC, since=date(2026, 10, 4), state=CaseState.OPEN), ["Reel on piste 3", "ÉPÉE: nothing lights"]),
    (replace(IN_UTC, since=date(2026, 10, 3), until=date(2026, 10, 3)), ["Lamé of the left fencer"]),
    (CaseQuery(since=date.min, until=date.max, words="reel"), ["Reel on piste 3"]),
    (CaseQuery(since=date.min, until=date.max, words="reel", zone=ZoneInfo("Asia/Tokyo")), ["Reel on piste 3"]),
    (CaseQuery(since=date(2026, 10, 6)), []),
    (CaseQuery(until=date(2026, 10, 3), zone=ZoneInfo("Asia/Tokyo")), []),
    (CaseQuery(until=date(2026, 10, 3), zone=ZoneInfo("America/New_York"), state=CaseState.OPEN), EVERY_OPEN),
]
"""Questions, and the titles of the cases that they find: at 23:00 UTC it is 8 in the morning in Tokyo, and 19:00 in New York."""


def test_weapon_state_and_days_narrow_a_list(club: CaseStore) -> None:
    for query, found in QUERIES:
        assert titles(club, query) == found, query
        assert club.count(query) == len(found), query


def test_a_head_counts_the_trials_that_stand(club: CaseStore) -> None:
    case = club.heads(CaseQuery("reel")).rows[0]
    for number, kind in enumerate((EntryKind.TRIAL, EntryKind.SKIP, EntryKind.TRIAL, EntryKind.BACK, EntryKind.TRIAL)):
        club.add(case.id, NewEntry(kind, f"t{number}"))
    kept = club.take_back(case.id, 3)
    head = club.heads(CaseQuery("reel")).rows[0]
    assert head.trials == 2
    shared = ("id", "title", "weapon", "complaint", "place", "item", "tools", "version", "opened", "changed", "closed")
    assert [getattr(head, name) for name in shared] == [getattr(kept, name) for name in shared]


def test_a_list_reads_no_entries_and_asks_as_often_for_many_cases_as_for_few(club: CaseStore) -> None:
    asked: list[str] = []
    engine = club.database._engine
    event.listen(engine, "before_cursor_execute", lambda _1, _2, statement, *_: asked.append(statement))
    club.heads(limit=1)
    few = len(asked)
    for number in range(30):
        club.open(NewCase("foil", f"Case {number}"), [NewEntry(EntryKind.TRIAL, "a", trial={"saw": ["nothing"]})])
    asked.clear()
    assert len(club.heads(limit=30).rows) == 30
    assert len(asked) == few
    assert not any("trial," in statement or "entries.say" in statement for statement in asked)


WORD = st.sampled_from(["reel", "Lamé", "LAME", "épée", "cord_3", "50%", "x"])
CASE = st.tuples(st.lists(WORD, max_size=3).map(" ".join), st.sampled_from(["foil", "épée", "sabre"]), st.booleans())
QUERY = st.builds(
    CaseQuery,
    words=st.lists(st.sampled_from(["reel", "lame", "ÉP", "_", "%", "cord_", "zz"]), max_size=2).map(" ".join),
    weapon=st.none() | st.sampled_from(["foil", "épée", "sabre"]),
    state=st.sampled_from(CaseState),
    since=st.none() | st.dates(date(2026, 10, 3), date(2026, 10, 8)),
    until=st.none() | st.dates(date(2026, 10, 3), date(2026, 10, 8)),
)


def bare(text: str) -> str:
    """Return `text` without accents and capitals, one character after the other."""
    return "".join(unicodedata.normalize("NFD", char)[0] for char in text).lower()


def asked_for(head: CaseHead, query: CaseQuery) -> bool:
    """Say of one case whether it belongs into a list."""
    day = head.changed.date()
    text = bare(f"{head.id} {head.title} {head.weapon}")
    return (
        all(bare(word) in text for word in query.words.split())
        and query.weapon in (None, head.weapon)
        and (query.state is CaseState.ALL or (query.state is CaseState.CLOSED) == head.closed)
        and (query.since or day) <= day <= (query.until or day)
    )


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25, deadline=None)
@given(new=st.lists(CASE, max_size=3), query=QUERY, limit=st.integers(1, 7))
def test_the_stretches_of_a_list_are_all_of_it_once(
    store: CaseStore, new: list[tuple[str, str, bool]], query: CaseQuery, limit: int
) -> None:
    """Cases heap up from one example to the next; what is found is what looking at each of them finds."""
    for title, weapon, closed in new:
        case = store.open(NewCase(weapon, title))
        if closed:
            store.close(case.id, closed=True)
    everything = store.heads(limit=1000).rows
    wanted = [head for head in everything if asked_for(head, query)]
    stretches = [store.heads(query, limit=limit, offset=offset) for offset in range(0, len(everything) + limit, limit)]
    assert [head for stretch in stretches for head in stretch.rows] == wanted
    assert {stretch.total for stretch in stretches} == {len(wanted)}


def test_an_empty_database_has_no_cases(store: CaseStore) -> None:
    assert (store.heads().rows, store.heads().total, store.count()) == ((), 0, 0)
