"""Kept cases at work: complaints, answers, what stays exchanged, what is skipped, and the bench."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from foible.endings import CaseEnding
from foible.errors import InputError, ProblemsError, UnknownNameError
from foible.kit import SIDES, load_setup
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.closing import close_with, line_failed, line_passed
from foible.services.kept_reading import kept_reading
from foible.services.reasoning import Reasoning
from foible.situation import Mode, Situation
from foible.trials import TrialTable, load_complaints, read_trial
from usual import REASONING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from foible.records import KeptCase
    from foible.services.kept_reading import KeptReading
    from foible.services.verdict import Diagnosis
    from foible.trials import Case

WHITE = "It goes white, and I never hit anything"
EXCHANGE = "exchange the left cord for a known-good one and leave all at rest"


@pytest.fixture
def cases(tmp_path: Path) -> Cases:
    return Cases(
        REASONING, CaseStore(Database(f"sqlite:///{tmp_path / 'r.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    )


@pytest.mark.parametrize("weapon", ["foil", "épée", "sabre"])
@pytest.mark.parametrize("side", SIDES)
def test_every_complaint_is_a_trial_of_its_weapon(weapon: str, side: str) -> None:
    setup = load_setup(weapon)
    complaints = load_complaints(setup, side)
    assert len({complaint.say for complaint in complaints}) == len(complaints) >= 8
    for complaint in complaints:
        trial, wrong = read_trial(setup, complaint.table)
        assert not wrong
        assert trial.seen is not None
        assert trial.seen.looks


def test_a_folder_laid_over_the_kit_brings_its_own_complaints_and_a_slip_in_them_is_at_its_line(tmp_path: Path) -> None:
    (tmp_path / "complaints").mkdir()
    file = tmp_path / "complaints" / "foil.toml"
    file.write_text('[[complaint]]\nsay = "It hums"\npress = "{side}"\nsaw = "{side} white"\n', encoding="utf-8")
    setup = load_setup("foil", overlays=[tmp_path])
    assert [complaint.say for complaint in load_complaints(setup, "left")] == ["It hums"]
    assert len(load_complaints(load_setup("sabre", overlays=[tmp_path]), "left")) >= 8
    file.write_text('[[complaint]]\nsay = "It hums"\non = "moon"\nsaw = "{side} white"\n', encoding="utf-8")
    with pytest.raises(ProblemsError, match=r"foil.toml:3: .*“moon”"):
        load_complaints(setup, "left")


def test_a_complaint_names_suspects_on_the_side_that_complains(cases: Cases) -> None:
    """A foil's loop that opens by itself is a matter of that fencer's weapon, cord or reel; common practice, no source."""
    for side in SIDES:
        standing = cases.standing(cases.open_complaint("foil", WHITE, side, token=side).id)
        assert standing.diagnosis.finding.items[0].name in {f"{side} {item}" for item in ("weapon", "cord", "reel")}


def test_the_armourers_tools_are_left_out_until_a_trial_has_used_one(cases: Cases) -> None:
    """What no trial has touched cannot have misled anybody."""
    name = cases.open("foil", title="A weapon at rest reads 6 to 8 Ω").id
    cases.note(name, TrialTable(saw=("left white",)), token="lamps")
    assert cases.standing(name).diagnosis.hidden == ("tools",)
    places = ("left weapon screw of the socket", "left weapon frame of the socket")
    measured = {"meter": places, "reads": "7"}
    cases.note(name, TrialTable.model_validate(measured), token="meter")
    assert cases.standing(name).diagnosis.hidden == ()
    other = cases.open("foil", title="A worn shim?").id
    cases.note(other, TrialTable(examine=("tools 0.5 mm shim",), found=("worn",)), token="look")
    assert cases.standing(other).diagnosis.hidden == ()


def test_a_weapon_on_its_own_lame_is_put_right_and_not_exchanged(cases: Cases) -> None:
    """Yellow that comes with the weapon on the own lamé is no failure of kit; common practice, no source."""
    name = cases.open("foil", title="Yellow now and then").id
    table = TrialTable(examine=("left handling weapon on own lamé",), found=("touching",))
    cases.note(name, TrialTable(saw=("left yellow",)), token="lamps")
    for number in range(3):
        cases.note(name, table, token=f"look {number}")
    standing = cases.standing(name)
    verdict = REASONING.verdict(standing.diagnosis, 5)
    assert verdict.items[0].words == "how it is held on the left"
    assert verdict.act is not None
    assert verdict.act.words == "on the left, lift the weapon off the lamé"


def test_an_answer_changes_the_suspects_and_can_be_taken_back(cases: Cases) -> None:
    case = cases.open_complaint("foil", WHITE, "left", token="a")
    before = cases.standing(case.id).diagnosis.finding
    answered = cases.answer(case.id, "leave the whole strip at rest", ["left white"], token="b")
    after = cases.standing(case.id).diagnosis.finding
    assert after.suspects[0].probability != pytest.approx(before.suspects[0].probability)
    cases.take_back(case.id, answered.entries[-1].number)
    assert cases.standing(case.id).diagnosis.finding.suspects[0] == before.suspects[0]


def test_what_was_exchanged_stays_so_until_the_fencers_own_is_in_again(cases: Cases) -> None:
    case = cases.open_complaint("foil", WHITE, "left", token="a")
    cases.answer(case.id, EXCHANGE, ["nothing"], token="b")
    assert cases.standing(case.id).exchanged == ("left cord",)
    cases.answer(case.id, "leave the whole strip at rest", ["nothing"], token="c")
    assert cases.standing(case.id).case.trials[-1].swapped == ("left cord",)
    cases.back(case.id, token="d")
    assert cases.standing(case.id).exchanged == ()
    cases.answer(case.id, "leave the whole strip at rest", ["left white"], token="e")
    assert cases.standing(case.id).case.trials[-1].swapped == ()


def test_a_trial_that_cannot_be_made_is_not_offered_until_that_is_taken_back(cases: Cases) -> None:
    case = cases.open_complaint("foil", WHITE, "left", token="a")
    first = cases.offered(cases.standing(case.id))
    assert first is not None
    kept = cases.skip(case.id, first.say, token="b")
    standing = cases.standing(case.id)
    assert first.say not in [advice.idea.say for advice in standing.diagnosis.advice]
    cases.take_back(case.id, kept.entries[-1].number)
    offered = cases.offered(cases.standing(case.id))
    assert offered is not None
    assert offered.say == first.say


def test_on_the_bench_only_what_lies_there_is_in_question_and_only_tools_at_hand_are_asked_for(cases: Cases) -> None:
    case = cases.open_complaint("foil", WHITE, "left", token="a")
    cases.move(case.id, place=Mode.BENCH, item="left cord", tools=["meter"])
    standing = cases.standing(case.id)
    assert {share.name for share in standing.diagnosis.finding.items if share.probability > 1e-6} <= {"left cord", "tools"}
    assert standing.diagnosis.advice
    assert all(set(advice.idea.needs) <= {"meter"} for advice in standing.diagnosis.advice)
    with pytest.raises(UnknownNameError, match="tool"):
        cases.move(case.id, place=Mode.BENCH, item="left cord", tools=["hammer"])


def test_an_answer_that_cannot_be_is_refused_with_every_reason_and_nothing_is_kept(cases: Cases) -> None:
    case = cases.open_complaint("foil", WHITE, "left", token="a")
    with pytest.raises(ProblemsError) as refused:
        cases.note(case.id, TrialTable(press="left", on="right moon", move=("juggle",), saw=("left white",)), token="b")
    assert len(refused.value.problems) == 2
    with pytest.raises(ProblemsError, match="contradict"):
        cases.answer(case.id, "leave the whole strip at rest", ["left white", "left coloured"], token="c")
    assert len(cases.store.case(case.id).entries) == 1


def test_a_case_ends_with_the_item_that_failed(cases: Cases) -> None:
    """White at rest that goes away with another cord is the cord; common practice, no source."""
    case = cases.open_complaint("foil", "My white lamp is on all the time", "left", token="a")
    cases.answer(case.id, "leave the whole strip at rest", ["left white"], token="b")
    cases.answer(case.id, EXCHANGE, ["nothing"], token="c")
    standing = cases.standing(case.id)
    assert standing.diagnosis.finding.items[0].name == "left cord"
    assert standing.diagnosis.finding.items[0].probability > 0.9


def test_a_repair_that_is_offered_on_the_bench_can_be_answered(cases: Cases) -> None:
    """The bench offers repairs to be made and looked at, which stand in no catalogue."""
    case = cases.open_complaint("foil", "My white lamp is on all the time", "left", token="a")
    cases.move(case.id, place=Mode.BENCH, item="left cord", tools=["meter", "screwdriver"])
    standing = cases.standing(case.id)
    repair = next(idea for idea in standing.diagnosis.candidates if idea.repair and idea.trial.meter)
    cases.answer(case.id, repair.say, ["0.4"], token="b")
    after = cases.standing(case.id)
    assert after.mended == (repair.repair,)


def test_the_same_complaint_sent_twice_opens_one_case(cases: Cases) -> None:
    first, second = (cases.open_complaint("foil", WHITE, "left", token="a") for _ in range(2))
    assert first == second
    assert cases.store.count() == 1


def test_no_trial_is_asked_for_over_and_over(cases: Cases) -> None:
    """Three times the same in a row, and something else is offered: nobody goes on looking at a strip at rest."""
    case = cases.open_complaint("foil", WHITE, "left", token="a")
    for number in range(3):
        cases.answer(case.id, "leave the whole strip at rest", ["nothing"], token=f"b{number}")
    offered = [advice.idea.say for advice in cases.standing(case.id).diagnosis.advice]
    assert offered
    assert "leave the whole strip at rest" not in offered


def test_a_case_is_read_and_reasoned_about_once_at_each_version(cases: Cases, monkeypatch: pytest.MonkeyPatch) -> None:
    """However often a page asks where it stands, or what it may be asked next."""
    read, reasoned = [], []

    def counted(kept: KeptCase, overlays: Sequence[Path]) -> KeptReading:
        read.append((kept.id, kept.version))
        return kept_reading(kept, overlays)

    def diagnosed(self: Reasoning, case: Case, *, without: Sequence[str]) -> Diagnosis:
        reasoned.append(len(case.trials))
        return diagnose(self, case, without=without)

    diagnose = Reasoning.diagnose
    monkeypatch.setattr("foible.services.cases.kept_reading", counted)
    monkeypatch.setattr(Reasoning, "diagnose", diagnosed)
    case = cases.open_complaint("foil", WHITE, "left", token="a")
    assert cases.standing(case.id) is cases.standing(case.id)
    idea = cases.offered(cases.standing(case.id))
    assert idea is not None
    answered = cases.answer(case.id, idea, ["left white"], token="b")
    assert cases.standing(case.id).kept == answered
    assert cases.asked(answered, idea.say) == idea
    assert read == [(case.id, case.version), (case.id, answered.version)]
    assert reasoned == [1, 2]


def test_whoever_did_not_hear_the_reply_may_send_it_again_whatever_has_happened_since(cases: Cases) -> None:
    """What a token stands for was done; whether it could be done now is not asked again."""
    name = cases.open_complaint("foil", WHITE, "left", token="a").id
    made_up = cases.standing(name).diagnosis.advice[0].idea.say
    cases.answer(name, made_up, ["nothing"], token="answer")
    cases.skip(name, "leave the whole strip at rest", token="skip")
    cases.note(name, TrialTable(saw=("left white",)), token="own")
    acted = cases.acted(name, exchanged=["left cord"], token="act")
    proving = cases.proving(cases.standing(name))
    assert proving
    line_passed(cases, name, proving.lines[0].say, token="line")
    close_with(cases, name, CaseEnding.NOT_NOW, token="end")
    cases.take_back(name, acted.entries[-1].number)
    before = cases.store.close(name, closed=False)
    with pytest.raises(InputError, match="nothing is exchanged"):
        line_passed(cases, name, proving.lines[0].say, token="another")
    again = (
        cases.answer(name, "hop on one leg", ["nothing"], token="answer"),
        cases.skip(name, "hop on one leg", token="skip"),
        cases.acted(name, token="act"),
        cases.note(name, TrialTable(saw=("hop",)), token="own"),
        line_passed(cases, name, proving.lines[0].say, token="line"),
        line_failed(cases, name, proving.lines[0].say, token="line"),
        close_with(cases, name, CaseEnding.EXCHANGED, token="end"),
    )
    assert all(kept == before for kept in again)


def test_what_the_eye_has_found_is_put_right_first_where_that_takes_seconds(cases: Cases) -> None:
    """A guard on the own lamé does not explain a hit that lights nothing, but nobody tries on before it is lifted off."""
    name = cases.open_complaint("foil", "I hit and nothing lit at all", "left", token="open").id
    look = TrialTable(examine=("left handling weapon on own lamé",), found=("touching",))
    verdict = REASONING.verdict(cases.standing(cases.note(name, look, token="look").id).diagnosis, 5)
    assert verdict.act is not None
    assert verdict.act.seen
    assert not verdict.act.now
    assert verdict.act.words == "on the left, lift the weapon off the lamé"


def test_a_repair_that_both_ends_of_a_wire_need_is_offered_though_nobody_knows_which(cases: Cases) -> None:
    """Line B open all along: either end of the wire, and remade alike; a meter at line C would not tell them apart."""
    where = Situation(Mode.BENCH, "left cord", ("meter", "box", "screwdriver"))
    kept = cases.open("foil", token="open", where=where)
    for end in ("two pins of the left cord's weapon plug", "three pins of the left cord's reel plug"):
        kept = cases.answer(kept, f"feel the {end}: springy, clean, screws tight", ["fine"], token=f"look {end[:5]}")
    for line, reads in (("C", "0.6"), ("A", "0.6"), ("B", "open")):
        say = f"hold the meter to both ends of line {line} of the left cord" + (", pin and clip" if line == "A" else "")
        kept = cases.answer(kept, say, [reads], token=f"line {line}")
    standing = cases.standing_of(kept)
    verdict = cases.reasoning_of(standing).verdict(standing.diagnosis, 5)
    ends = [line.part for line in verdict.suspects[:2]]
    assert ends == ["left cord B wire at the weapon plug", "left cord B wire at the reel plug"]
    assert max(line.probability for line in verdict.suspects) < 0.6
    assert verdict.act is not None
    assert verdict.act.words == "left cord: remake the cord end"
