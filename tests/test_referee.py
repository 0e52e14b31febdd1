"""What the referee is told of a fault in the bout, against the FIE Technical Rules (Book 1), August 2026, clause by clause."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from foible.facts import METAL_PISTE
from foible.kit import SIDES, load_setup, weapon_names
from foible.output.asjson import diagnosis_json
from foible.rules import Fault, rulings
from foible.situation import Mode, Situation
from foible.trials import CaseTable, TrialTable, complained_of, load_complaints, made_case, read_trial
from usual import REASONING

if TYPE_CHECKING:
    from foible.services.verdict import Diagnosis

SETUPS = {weapon: load_setup(weapon) for weapon in weapon_names()}


def told(
    weapon: str, failure: str = "", *, missing: str | None = None, spurious: str | None = None
) -> dict[str, list[tuple[str, str]]]:
    """Return what is told by question, as (line, clause), where one failure is the likeliest."""
    setup = SETUPS[weapon]
    made = setup.failures[failure] if failure else None
    lines: dict[str, list[tuple[str, str]]] = {}
    for each in rulings(Fault(weapon, setup.items[made.item] if made else None, made, missing=missing, spurious=spurious)):
        lines.setdefault(each.asks, []).append((each.say, each.clause))
    return lines


def clauses(weapon: str, failure: str, asks: str) -> str:
    return "; ".join(clause for _, clause in told(weapon, failure).get(asks, []))


NO_ANNULMENT = [
    ("épée", "left cord reel plug seat: not pushed home", "t.95.1"),
    ("épée", "left cord weapon plug seat: not pushed home", "t.95.1"),
    ("épée", "left weapon guard surface: paint or glue on it", "t.94.1"),
    ("épée", "left weapon blade surface: rusty", "t.94.1"),
    ("épée", "left weapon barrel thread: loose or cracked", "t.94.1"),
    ("sabre", "left weapon guard insulation: worn through inside, meeting the cuff", "t.99.2"),
    ("sabre", "left weapon insulation of outer guard, grip and pommel: worn or missing, meeting the sleeve", "t.99.2"),
]
"""Faults of the own kit that annul nothing, with the clause that says so."""


@pytest.mark.parametrize(("weapon", "failure", "clause"), NO_ANNULMENT)
def test_what_the_fencer_answers_for_annuls_nothing(weapon: str, failure: str, clause: str) -> None:
    ((say, named),) = told(weapon, failure, spurious="right")["hit"]
    assert say.startswith("It stands")
    assert clause in named


@pytest.mark.parametrize(("weapon", "clause"), [("foil", "t.80"), ("épée", "t.94.1–4"), ("sabre", "t.56")])
def test_a_hit_against_a_fencer_whose_own_does_not_show_can_be_annulled(weapon: str, clause: str) -> None:
    """Foil t.80, épée t.94: a proper hit of the fencer who is hit does not show; sabre has only the general t.56."""
    broken = "left cord B wire, middle: broken in the middle"
    first, second = told(weapon, broken, missing="left")["hit"][0], told(weapon, broken, spurious="left")["hit"][0]
    assert "given to the right fencer" in first[0]
    assert "given to the left fencer" in second[0]
    assert clause in first[1]
    assert clause in second[1]


@pytest.mark.parametrize("weapon", SETUPS)
def test_wherever_the_fault_is_it_has_to_be_shown_at_once_and_once_beyond_doubt(weapon: str) -> None:
    """t.56.1–6: only the last hit; the place of the fault does not matter; who changes kit unasked loses the claim."""
    for failure in ("left cord B wire, middle: broken in the middle", "apparatus left B input: dead", ""):
        (line,) = [say for say, clause in told(weapon, failure)["hit"] if clause.startswith("t.56.1–6")]
        for words in ("Only the last hit", "disadvantage", "at once", "nothing changed", "once beyond doubt", "loses the claim"):
            assert words in line


@pytest.mark.parametrize("weapon", SETUPS)
def test_own_kit_that_fencing_breaks_costs_no_card_and_what_was_refused_on_arrival_does(weapon: str) -> None:
    """t.72; t.71 with t.165 and t.170: first group, yellow and then red; t.73.1.a: no mark, red and the last hit annulled."""
    none, arrival, mark = told(weapon, "left cord B wire, middle: broken in the middle")["card"]
    assert none[1] == "t.72"
    assert none[0].startswith("None")
    assert "yellow, then red" in arrival[0]
    assert "t.71" in arrival[1]
    assert "red, and the last hit annulled" in mark[0]
    assert "t.73" in mark[1]


@pytest.mark.parametrize("weapon", SETUPS)
@pytest.mark.parametrize("failure", ["apparatus left B input: dead", "left reel B wire of the cable: broken at the entry hole"])
def test_the_halls_kit_costs_nobody_a_card_and_calls_for_the_technician(weapon: str, failure: str) -> None:
    """t.70–73 are about the fencers' own kit; t.56.8–9: call the technician, and alter nothing before."""
    assert told(weapon, failure)["card"][0][0].startswith("No:")
    assert "t.56.8–9" in clauses(weapon, failure, "hit")
    assert "t.72" not in clauses(weapon, failure, "hit") + clauses(weapon, failure, "time")


def test_a_replacement_has_five_minutes_and_a_changed_weapon_is_checked_again() -> None:
    """t.71, new in August 2026; t.68.1: the spring of foil and épée points, the wires in the guard of all three."""
    minutes, checked = told("foil", "left weapon barrel thread: loose or cracked")["time"]
    assert "Five minutes" in minutes[0]
    assert minutes[1] == "t.71"
    assert "spring" in checked[0]
    assert checked[1] == "t.68.1"
    assert "spring" not in told("sabre", "left weapon blade: broken")["time"][1][0]


def test_how_the_kit_is_held_is_nobodys_fault_in_kit() -> None:
    assert set(told("foil", "left handling weapon on own lamé: guard or bare blade resting on own lamé")) == {"hit"}


@pytest.mark.parametrize("weapon", SETUPS)
def test_a_complaint_says_whose_hits_are_in_doubt(weapon: str) -> None:
    """Every complaint about hits names the side whose they are, and no line keeps a gap open."""
    for side in SIDES:
        for complaint in load_complaints(SETUPS[weapon], side):
            assert not (complaint.missing and complaint.spurious)
            assert {complaint.missing, complaint.spurious} <= {None, *SIDES}
            told_trial = read_trial(SETUPS[weapon], complaint.table)[0]
            found = complained_of(SETUPS[weapon], complaint.say, [told_trial])
            assert found is not None
            assert found.side == side
    for failure in SETUPS[weapon].failures:
        said = told(weapon, failure, missing="left")
        assert all("  " not in line and "{" not in line for lines in said.values() for line, _ in lines)
        assert "hit" in said


def _diagnosed(place: Situation, complaint: int = 4) -> Diagnosis:
    said = load_complaints(SETUPS["foil"], "left")[complaint]
    on_clip = TrialTable(press="left", on="right lamé front", saw=("left nothing", "right nothing"))
    table = CaseTable(weapon="foil", complaint=said.say, facts=(METAL_PISTE,), trial=(said.table, on_clip))
    return REASONING.at(place).diagnose(made_case(table))


def test_a_diagnosis_at_the_piste_tells_the_referee_and_one_on_the_bench_does_not() -> None:
    """“I hit and nothing lit at all”, left: a hit given to the right fencer is the one in question (t.80)."""
    diagnosis = _diagnosed(Situation())
    lines = diagnosis_json(diagnosis, REASONING.verdict(diagnosis, 3), 3)["referee"]
    assert {line["asks"] for line in lines} >= {"hit", "card"}
    assert "given to the right fencer" in lines[0]["say"]
    assert lines[0]["clause"].startswith("t.80")
    on_bench = Situation(Mode.BENCH, "left weapon", ("meter",))
    diagnosis = _diagnosed(on_bench)
    assert diagnosis_json(diagnosis, REASONING.at(on_bench).verdict(diagnosis, 3), 3)["referee"] == []


def test_where_nothing_is_wrong_the_hit_stands() -> None:
    """t.56: without a test that shows a fault there is nothing to annul."""
    (only,) = [each for each in rulings(Fault("foil", sound=True, missing="left")) if each.asks == "hit"]
    assert only.say.startswith("It stands")
    assert only.derived
