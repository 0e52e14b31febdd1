"""The demo shows lives of cases as Foible leads them: what was put right is what it names, and the proofs bear it out."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from foible.diagnosis import Kind
from foible.endings import CaseEnding
from foible.records import CaseStore, Database, EntryKind
from foible.services.cases import Cases
from foible.web.demo import fill
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.services.cases import Standing

FINISHED = {CaseEnding.EXCHANGED, CaseEnding.WORKSHOP, CaseEnding.NO_FAULT}
"""How the demo's closed cases have ended; a fourth was reopened, and three were never worked on."""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cases]:
    database = Database(f"sqlite:///{tmp_path_factory.mktemp('demo') / 'r.db'}")
    cases = Cases(REASONING, CaseStore(database, clock=lambda: datetime(2026, 10, 3, tzinfo=UTC)))
    fill(cases)
    yield cases
    database.dispose()


def standing(demo: Cases, title: str) -> Standing:
    """Return how the case stands whose title has these words."""
    (found,) = (head for head in demo.store.heads().rows if title in head.title)
    return demo.standing(found.id)


def acted_on(demo: Cases, of: Standing) -> set[str]:
    """Return what was to be done, item or repair, just before the first exchange or repair of a case."""
    first = next(number for number, trial in enumerate(of.case.trials) if trial.swapped or trial.mended)
    diagnosis = demo.reasoning_of(of).diagnose(of.case, of.case.trials[:first])
    return {thing for deed in diagnosis.ending.acts for thing in (deed.item, deed.repair)}


def test_every_line_can_be_read_and_all_of_it_is_said_to_be_invented(demo: Cases) -> None:
    heads = demo.store.heads().rows
    assert all("(invented)" in head.title for head in heads)
    assert {head.ending for head in heads if head.ending} == FINISHED
    assert sum(head.ending is None for head in heads) == 4
    assert not [line for head in heads for line in demo.standing(head.id).unread]


def test_filled_twice_it_holds_no_case_twice(demo: Cases) -> None:
    before = demo.store.count()
    fill(demo)
    assert demo.store.count() == before


@pytest.mark.slow
@pytest.mark.parametrize(
    ("title", "thing"),
    [("piste 2", "left cord"), ("piste 4", "right weapon"), ("piste 7", "right cord: clip it on")],
)
def test_what_was_put_right_is_what_the_advice_named_and_its_proof_passed(demo: Cases, title: str, thing: str) -> None:
    of = standing(demo, title)
    assert thing in acted_on(demo, of)
    proving = demo.proving(of)
    assert proving is not None
    assert proving.things == (thing,)
    assert proving.passed is (of.kept.ending is not None)


@pytest.mark.slow
def test_where_nothing_was_found_the_advice_was_to_fence_on(demo: Cases) -> None:
    (deed,) = standing(demo, "piste 6").diagnosis.ending.acts
    assert deed.kind is Kind.NOTHING_WRONG


@pytest.mark.slow
def test_the_reopened_case_goes_back_to_the_reasoning_with_all_that_is_known(demo: Cases) -> None:
    of = standing(demo, "piste 7")
    (end,) = (entry for entry in of.kept.entries if entry.kind is EntryKind.END)
    assert end.taken_back
    proving = demo.proving(of)
    assert proving is not None
    assert proving.failed
    assert of.diagnosis.advice
