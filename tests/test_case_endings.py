"""From the act to the end of a case: the proof line by line, what may end a case and how, and the way back."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from client import FromHere, TestClient
from foible.endings import CaseEnding, ending_named
from foible.errors import InputError, ProblemsError, UnknownNameError
from foible.records import CaseQuery, CaseStore, Database, EntryKind
from foible.services.case_files import save_case, take_in
from foible.services.cases import About, Cases
from foible.services.closing import close_with, line_failed, line_passed
from foible.services.proving import LineState, Proving, passing_report
from foible.situation import Mode, Situation
from foible.trials import TrialTable, read_trial, report_key, reported
from foible.web import Settings, create_app
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

pytestmark = pytest.mark.once

FIVE = 5
"""The most lines of a proof: nobody at a strip makes more; common practice, no source."""

WHITE = "It goes white, and I never hit anything"
AT_REST = "leave the whole strip at rest"
NOW = datetime(2026, 10, 3, 14, 30, tzinfo=UTC)


@pytest.fixture
def cases(tmp_path: Path) -> Iterator[Cases]:
    database = Database(f"sqlite:///{tmp_path / 'r.db'}")
    yield Cases(REASONING, CaseStore(database, clock=lambda: NOW))
    database.dispose()


@pytest.fixture
def foil_at_fault(cases: Cases) -> str:
    """Open a case of a steady white that goes as soon as the foil's plug is bridged: the foil, common practice, no source."""
    name = cases.open("foil", title="White at rest (invented)").id
    cases.note(name, TrialTable(saw=("left white",)), token="rest")
    cases.note(name, TrialTable(bridged=("left weapon plug B-C",), saw=("nothing",)), token="bridged")
    return name


def proof(cases: Cases, name: str) -> Proving:
    """Return how the proof of a case stands."""
    proving = cases.proving(cases.standing(name))
    assert proving is not None
    return proving


def let_pass(cases: Cases, name: str) -> None:
    """Have every line pass, each on its own."""
    for number, line in enumerate(proof(cases, name).lines):
        line_passed(cases, name, line.say, token=f"line {number}")


def test_nothing_is_to_be_proved_before_anything_is_put_right(cases: Cases, foil_at_fault: str) -> None:
    assert cases.proving(cases.standing(foil_at_fault)) is None
    with pytest.raises(InputError, match="nothing is exchanged or mended"):
        line_passed(cases, foil_at_fault, AT_REST, token="x")


def test_an_exchange_is_proved_by_what_failed_first_and_ends_as_fencing(cases: Cases, foil_at_fault: str) -> None:
    cases.acted(foil_at_fault, exchanged=["left weapon"], token="act")
    first, *_ = lines = proof(cases, foil_at_fault).lines
    assert (first.say, first.shows) == (AT_REST, "nothing")
    assert 1 <= len(lines) <= FIVE
    for number, line in enumerate(lines):
        assert [each.state for each in proof(cases, foil_at_fault).lines] == [
            *([LineState.PASSED] * number),
            *([LineState.OPEN] * (len(lines) - number)),
        ]
        line_passed(cases, foil_at_fault, line.say, token=f"line {number}")
    assert proof(cases, foil_at_fault).passed
    assert proof(cases, foil_at_fault).lines[0].say == first.say, "the lines stay what they were while they are answered"
    closed = close_with(cases, foil_at_fault, CaseEnding.EXCHANGED, token="end")
    assert (closed.closed, closed.ending, closed.ended_with, closed.ended) == (
        True,
        CaseEnding.EXCHANGED,
        ("left weapon",),
        NOW,
    )
    assert closed.entries[-1].kind is EntryKind.END
    (head,) = cases.store.heads(CaseQuery("fencing")).rows
    assert (head.ending, head.ended_with) == (CaseEnding.EXCHANGED, ("left weapon",))


def test_a_repair_is_proved_and_ends_as_mended(cases: Cases, foil_at_fault: str) -> None:
    repair = next(s.failure.job for s in cases.standing(foil_at_fault).diagnosis.finding.suspects if s.failure.repair)
    cases.acted(foil_at_fault, mended=[repair], token="act")
    with pytest.raises(InputError, match=r"of the .* lines of the proof have not passed — .*put right, not proved"):
        close_with(cases, foil_at_fault, CaseEnding.MENDED, token="end")
    let_pass(cases, foil_at_fault)
    with pytest.raises(InputError, match="nothing exchanged"):
        close_with(cases, foil_at_fault, CaseEnding.EXCHANGED, token="end")
    assert close_with(cases, foil_at_fault, CaseEnding.MENDED, token="end").ended_with == (repair,)


def test_a_failed_line_goes_back_to_the_reasoning_with_what_is_known(cases: Cases, foil_at_fault: str) -> None:
    cases.acted(foil_at_fault, exchanged=["left weapon"], token="act")
    before = cases.standing(foil_at_fault).diagnosis.finding.items[0]
    with pytest.raises(ProblemsError, match="not how"):
        line_failed(cases, foil_at_fault, AT_REST, token="mute")
    line_failed(cases, foil_at_fault, AT_REST, ["left white"], token="failed")
    stands = proof(cases, foil_at_fault)
    assert stands.failed
    assert stands.lines[0].state is LineState.FAILED
    after = cases.standing(foil_at_fault).diagnosis
    assert before.name == "left weapon"
    assert after.finding.items[0].name != "left weapon", "a good weapon is in, and it is white again"
    assert after.advice
    with pytest.raises(InputError, match="a line of the proof has failed"):
        close_with(cases, foil_at_fault, CaseEnding.UNPROVED, token="end")


def test_a_line_that_was_answered_like_any_trial_counts_as_answered(cases: Cases, foil_at_fault: str) -> None:
    """Another device, or the terminal, may answer the same trial without knowing of the proof."""
    cases.acted(foil_at_fault, exchanged=["left weapon"], token="act")
    noted = cases.answer(foil_at_fault, AT_REST, ["left nothing", "right nothing"], token="a")
    assert proof(cases, foil_at_fault).lines[0].state is LineState.PASSED
    cases.take_back(foil_at_fault, noted.entries[-1].number)
    assert proof(cases, foil_at_fault).lines[0].state is LineState.OPEN


def test_own_kit_refitted_is_no_longer_to_be_proved(cases: Cases, foil_at_fault: str) -> None:
    cases.acted(foil_at_fault, exchanged=["left weapon"], token="act")
    cases.back(foil_at_fault, token="back")
    assert cases.proving(cases.standing(foil_at_fault)) is None


def test_two_things_put_right_at_once_are_proved_together(cases: Cases, foil_at_fault: str) -> None:
    cases.acted(foil_at_fault, exchanged=["left weapon", "left reel"], token="act")
    stands = proof(cases, foil_at_fault)
    assert stands.things == ("left weapon", "left reel")
    assert 1 <= len(stands.lines) <= FIVE
    assert len({line.say for line in stands.lines}) == len(stands.lines)
    standing = cases.standing(foil_at_fault)
    told = cases.reasoning.diagnose(replace(standing.case, trials=standing.case.trials[:2]))
    first = {suspect.item: suspect for suspect in reversed(told.finding.suspects)}
    exchanged = [replace(first[item], failure=replace(first[item].failure, repair=None)) for item in stands.things]
    every = {line.say for suspect in exchanged for line in cases.reasoning.proof(told, suspect).lines}
    assert len(stands.lines) + stands.left_out == len(every), "what is left out of two proofs is counted"


@pytest.mark.parametrize("weapon", ["foil", "épée", "sabre"])
def test_every_line_of_every_proof_can_be_noted_as_passed(weapon: str, cases: Cases) -> None:
    """On the bench lines are readings, gauges, the test box and looks as well: each has words that a case file takes."""
    name = cases.open(weapon).id
    for item in ("left weapon", "left cord", "left reel"):
        cases.move(name, place=Mode.BENCH, item=item, tools=("meter", "box", "weight", "shims", "screwdriver"))
        standing = cases.standing(name)
        reasoning = cases.reasoning_of(standing)
        for suspect in standing.diagnosis.finding.suspects[:12]:
            for line in reasoning.proof(standing.diagnosis, suspect).lines:
                for idea in line.ideas:
                    table = reported(idea.table, report_key(idea), passing_report(idea, line.shows))
                    trial, wrong = read_trial(standing.case.setup, table)
                    assert not wrong, (line.say, line.shows)
                    assert trial.unseen() == idea.trial


def test_the_same_tap_sent_twice_counts_once(cases: Cases, foil_at_fault: str) -> None:
    cases.acted(foil_at_fault, exchanged=["left weapon"], token="act")
    once = line_passed(cases, foil_at_fault, AT_REST, token="tap")
    assert line_passed(cases, foil_at_fault, AT_REST, token="tap") == once
    let_pass(cases, foil_at_fault)
    ended = close_with(cases, foil_at_fault, CaseEnding.EXCHANGED, token="end")
    assert close_with(cases, foil_at_fault, CaseEnding.EXCHANGED, token="end") == ended


@pytest.mark.parametrize("ending", [each for each in CaseEnding if not each.puts_right])
def test_a_case_ends_without_anything_put_right(ending: CaseEnding, cases: Cases, foil_at_fault: str) -> None:
    closed = close_with(cases, foil_at_fault, ending, item="left weapon", token="end")
    assert closed.ending is ending
    assert closed.ended_with == (("left weapon",) if ending.about_item else ())


@pytest.mark.parametrize("ending", [each for each in CaseEnding if each.puts_right])
def test_what_was_not_done_cannot_end_a_case(ending: CaseEnding, cases: Cases, foil_at_fault: str) -> None:
    with pytest.raises(InputError, match="nothing is exchanged or mended"):
        close_with(cases, foil_at_fault, ending, token="end")
    assert not cases.store.case(foil_at_fault).closed


def test_an_item_that_there_is_not_cannot_go_to_the_workshop(cases: Cases, foil_at_fault: str) -> None:
    with pytest.raises(UnknownNameError, match="left moon"):
        close_with(cases, foil_at_fault, CaseEnding.WORKSHOP, item="left moon", token="end")


def test_a_reopened_case_keeps_that_it_was_closed(cases: Cases, foil_at_fault: str) -> None:
    close_with(cases, foil_at_fault, CaseEnding.NOT_NOW, token="end")
    again = cases.store.close(foil_at_fault, closed=False)
    assert (again.closed, again.ending, again.ended_with, again.ended) == (False, None, (), None)
    assert (again.entries[-1].say, again.entries[-1].taken_back) == ("closed: does not happen now", True)
    later = close_with(cases, foil_at_fault, CaseEnding.NO_FAULT, token="end later")
    other = close_with(cases, foil_at_fault, CaseEnding.WORKSHOP, token="end last")
    assert [entry.say for entry in other.standing if entry.kind is EntryKind.END] == ["closed: to the workshop"]
    taken_back = cases.take_back(foil_at_fault, other.entries[-1].number)
    assert (later.closed, other.closed, taken_back.closed) == (True, True, False)


def test_an_ending_goes_into_the_file_of_a_case_and_out_of_it(cases: Cases, foil_at_fault: str) -> None:
    close_with(cases, foil_at_fault, CaseEnding.OUT_OF_USE, item="left weapon", token="end")
    text = save_case(cases, foil_at_fault).text
    assert (tomllib.loads(text)["ending"], tomllib.loads(text)["ended_with"]) == ("out of use", ["left weapon"])
    taken = take_in(cases, text.encode(), name="the file").kept
    assert (taken.closed, taken.ending, taken.ended_with) == (True, CaseEnding.OUT_OF_USE, ("left weapon",))
    wrong = text.replace("out of use", "gone fishing").encode()
    with pytest.raises(ProblemsError, match="there is no ending called “gone fishing”"):
        take_in(cases, wrong, name="the file")


def test_piste_and_fencer_go_into_the_file_of_a_case_and_out_of_it(cases: Cases) -> None:
    name = cases.open("foil", about=About("3", "N. N.")).id
    text = save_case(cases, name).text
    assert (tomllib.loads(text)["piste"], tomllib.loads(text)["fencer"]) == ("3", "N. N.")
    taken = take_in(cases, text.encode(), name="the file").kept
    assert (taken.piste, taken.fencer) == ("3", "N. N.")
    with pytest.raises(ProblemsError, match="a piste of 50 characters is too long"):
        take_in(cases, text.replace('"3"', f'"{"3" * 50}"').encode(), name="the file")


def test_a_case_is_opened_where_the_last_one_was(cases: Cases) -> None:
    where = Situation(Mode.BENCH, "left lamé", ("meter",), facts=("orange lamps",))
    foil = cases.open("foil", where=where)
    assert (foil.place, foil.item, foil.tools, foil.facts) == ("bench", "left lamé", ("meter",), ("orange lamps",))
    epee = cases.open_complaint("épée", "I hit and nothing lit", "left", token="t", where=where)
    assert (epee.place, epee.item, epee.tools) == ("bench", None, ("meter",)), "there is no lamé at épée"


def test_programs_say_where_a_case_is(cases: Cases) -> None:
    with TestClient(FromHere(create_app(cases, Settings())), base_url="http://localhost") as client:
        made = client.post("/api/cases", json={"weapon": "foil", "piste": "3", "fencer": "N. N."}).json()
        assert (made["piste"], made["fencer"]) == ("3", "N. N.")
        said = client.put(f"/api/cases/{made['id']}/about", json={"title": "White", "piste": ""}).json()
        assert (said["title"], said["piste"], said["fencer"]) == ("White", "", "N. N.")
        assert client.put(f"/api/cases/{made['id']}/about", json={"title": ""}).status_code == 422


def test_a_trial_of_one_s_own_is_called_by_the_sentence_that_asks_for_it(cases: Cases) -> None:
    name = cases.open("foil").id
    cases.note(name, TrialTable(press="left", saw=("left white",)), token="a")
    cases.note(name, TrialTable(saw=("left white",), times=3), token="b")
    cases.note(name, TrialTable(move=("fence left",), saw=("left white sometimes",)), token="c")
    said = [entry.say for entry in cases.store.case(name).entries]
    assert said[:2] == ["press the left point on something that does not conduct", f"{AT_REST}, 3 times"]
    assert "fence left" not in said[2]
    cases.acted(name, exchanged=["left cord"], token="act")
    again = cases.note(name, TrialTable(swapped=("left cord",), saw=("nothing",)), token="e")
    assert [entry.say for entry in again.entries[-2:]] == ["left cord exchanged for a known-good one", AT_REST]


def test_an_ending_is_named_whatever_its_capitals() -> None:
    assert ending_named("  No fault FOUND ") is CaseEnding.NO_FAULT
    with pytest.raises(UnknownNameError, match="to the workshop"):
        ending_named("sold")


def test_programs_prove_and_end_a_case_too(cases: Cases, foil_at_fault: str) -> None:
    with TestClient(FromHere(create_app(cases, Settings())), base_url="http://localhost") as client:
        path = f"/api/cases/{foil_at_fault}"
        assert client.get(path).json()["proof"] is None
        acted = client.post(f"{path}/acts", json={"exchanged": ["left weapon"], "token": "a"}).json()
        assert [line["state"] for line in acted["proof"]["lines"]] == ["open"] * len(acted["proof"]["lines"])
        early = client.put(f"{path}/ending", json={"ending": "exchanged and fencing", "token": "b"})
        assert early.status_code == 422
        for number, line in enumerate(acted["proof"]["lines"]):
            body = {"line": line["say"], "passed": True, "token": f"p{number}"}
            proved = client.post(f"{path}/proof", json=body).json()
        assert proved["proof"]["passed"]
        ended = client.put(f"{path}/ending", json={"ending": proved["proof"]["ending"], "token": "c"}).json()
        assert (ended["closed"], ended["ending"], ended["ended_with"]) == (True, "exchanged and fencing", ["left weapon"])
        (listed,) = client.get("/api/cases?state=closed").json()
        assert (listed["ending"], listed["ended"]) == ("exchanged and fencing", NOW.isoformat())
        opened = client.delete(f"{path}/ending").json()
        assert (opened["closed"], opened["ending"]) == (False, None)
        body = {"line": AT_REST, "passed": False, "report": ["left white"], "token": "d"}
        assert client.post(f"{path}/proof", json=body).json()["proof"]["failed"]
        assert client.post(f"{path}/proof", json={**body, "line": "shake it", "token": "e"}).status_code == 422
