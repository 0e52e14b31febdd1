"""A database that Foible kept before names had a version: its cases open, with everything said in them and the same suspects.

tests/data/README.md tells how it was made; the JSON beside it is what the program of then read from it.
"""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from foible.records import CaseQuery, CaseStore, Database
from foible.services.cases import Cases, Standing
from foible.services.reasoning import Reasoning
from foible.trials import CaseTable, case_reading
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator

DATA = Path(__file__).parent / "data"
THEN: list[dict[str, Any]] = json.loads((DATA / "cases-before-names.json").read_text(encoding="utf-8"))["cases"]
SIX_DIGITS = 1e-6
AFRESH = Reasoning()
"""Has answered nothing from the old database."""
every_case = pytest.mark.parametrize("then", THEN, ids=[f"{case['weapon']}-{case['id']}" for case in THEN])


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cases]:
    copy = tmp_path_factory.mktemp("old") / "cases.sqlite"
    shutil.copy(DATA / "cases-before-names.sqlite", copy)
    database = Database(f"sqlite:///{copy}")
    yield Cases(REASONING, CaseStore(database, clock=lambda: datetime(2027, 1, 1, tzinfo=UTC)))
    database.dispose()


@pytest.fixture(scope="module")
def standings(cases: Cases) -> dict[str, Standing]:
    return {then["id"]: cases.standing(then["id"]) for then in THEN}


def test_no_case_is_missing_or_new(cases: Cases) -> None:
    assert {case.id for case in cases.store.heads(CaseQuery()).rows} == {then["id"] for then in THEN}


@every_case
def test_what_was_said_is_still_there(cases: Cases, then: dict[str, Any]) -> None:
    case = cases.store.case(then["id"])
    for key in ("title", "weapon", "complaint", "place", "item", "closed", "version"):
        assert getattr(case, key) == then[key]
    assert list(case.tools) == then["tools"]
    assert [case.opened.isoformat(), case.changed.isoformat()] == [then["opened"], then["changed"]]
    entries = [
        {
            "number": entry.number,
            "kind": entry.kind.value,
            "say": entry.say,
            "trial": dict(entry.trial),
            "by": entry.by,
            "at": entry.at.isoformat(),
            "taken_back": entry.taken_back,
        }
        for entry in case.entries
    ]
    assert entries == then["entries"]


@every_case
def test_the_suspects_are_those_of_the_same_trials_told_today(standings: dict[str, Standing], then: dict[str, Any]) -> None:
    """How trials are weighed may change; that nothing of what was said is lost or read otherwise may not."""
    standing = standings[then["id"]]
    told = [entry["trial"] for entry in then["entries"] if entry["kind"] == "trial" and not entry["taken_back"]]
    table = CaseTable.model_validate({"weapon": then["weapon"], "trial": told, **_head(standing)})
    written = case_reading(table, written=[0] * len(told))
    assert not written.slips
    today = AFRESH.at(standing.situation).diagnose(written.case)
    before = {suspect.part: suspect.probability for suspect in standing.diagnosis.finding.suspects}
    assert before == pytest.approx({suspect.part: suspect.probability for suspect in today.finding.suspects}, abs=SIX_DIGITS)


def _head(standing: Standing) -> dict[str, Any]:
    fitted: dict[str, dict[str, str]] = {}
    for side, slot, model in standing.case.fitted:
        fitted.setdefault(side, {})[slot] = model
    case = standing.case
    return {"complaint": case.complaint, "known_good": case.known_good, "profile": case.profile.name, **fitted}


@every_case
def test_what_is_exchanged_mended_and_skipped_stays_so(standings: dict[str, Standing], then: dict[str, Any]) -> None:
    standing = standings[then["id"]]
    assert list(standing.exchanged) == then["exchanged"]
    assert list(standing.mended) == then["mended"]
    assert [list(skip) for skip in standing.skipped] == then["skipped"]
    offered = {advice.idea.say for advice in standing.diagnosis.advice}
    assert offered.isdisjoint(say for _, say in standing.skipped)


def test_an_old_case_can_be_gone_on_with(cases: Cases) -> None:
    then = next(case for case in THEN if case["entries"] and not case["closed"])
    case = cases.answer(then["id"], then["first_advice"]["say"], ["left nothing", "right nothing"], token="after")
    assert len(case.entries) == len(then["entries"]) + 1
    assert case.version == then["version"] + 1
    assert [entry.say for entry in case.entries[:-1]] == [entry["say"] for entry in then["entries"]]
    trials = [entry for entry in then["entries"] if entry["kind"] == "trial" and not entry["taken_back"]]
    assert len(cases.standing(case.id).diagnosis.trials) == len(trials) + 1
