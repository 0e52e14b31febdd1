"""Limits of the rulebook as data: each reading and gauge at, just under and just over its limit.

The limits and their clauses: FIE Material Rules (Book 3), August 2026, typed here a second time from the rulebook.
"""

from __future__ import annotations

import pytest

from foible.kit import load_setup
from foible.rules import judged, limits_of
from foible.situation import Mode, Situation
from foible.trials import CaseTable, TrialTable, made_case, read_trial
from usual import REASONING

FOIL, EPEE, SABRE = "foil", "épée", "sabre"
REEL_B = ("left reel B contact of the fencer's socket", "left floor cable B pin of the plug at the reel")
FLOOR_A = ("right floor cable A pin of the plug at the reel", "right floor cable A pin of the plug at the apparatus")
LIMITS = [
    (FOIL, ("left weapon B contact of the socket", "left weapon C contact of the socket"), {}, "≤", 2.0, "m.5.4.a"),
    (
        EPEE,
        ("left weapon A contact of the socket", "left weapon B contact of the socket"),
        {"press": "left"},
        "≤",
        2.0,
        "m.5.4.a",
    ),
    (SABRE, ("left weapon B contact of the socket", "left weapon blade"), {}, "≤", 1.0, "m.5.4.a"),
    (FOIL, ("left cord A pin of the reel plug", "left cord clip"), {}, "≤", 1.0, "m.29.1.c"),
    (SABRE, ("left cord B pin of the weapon plug", "left cord B pin of the reel plug"), {}, "≤", 1.0, "m.29.1.c"),
    (EPEE, ("right cord C pin of the reel plug", "right cord C pin of the weapon plug"), {}, "≤", 1.0, "m.31.1.b"),
    (FOIL, ("left mask cord clip at the lamé", "left mask cord clip at the bib"), {}, "≤", 1.0, "m.27.3"),
    (SABRE, ("left mask cord clip at the lamé", "left mask cord clip at the bib"), {}, "≤", 1.0, "m.32.5"),
    (FOIL, ("left lamé front", "left lamé back"), {}, "≤", 5.0, "m.28.5.a"),
    (SABRE, ("right lamé sword sleeve", "right lamé armpit"), {}, "≤", 5.0, "m.34.4"),
    (FOIL, ("left bib cloth", "left bib"), {}, "≤", 5.0, "m.27.2"),
    (SABRE, ("left cuff cloth", "left cuff"), {}, "≤", 5.0, "m.33.4"),
    (SABRE, ("left mask mesh", "left mask bib"), {}, "<", 5.0, "m.32.5"),
    *((weapon, REEL_B, {}, "≤", 3.0, "m.55.1") for weapon in (FOIL, EPEE, SABRE)),
    *((weapon, FLOOR_A, {}, "≤", 2.5, "m.55.5") for weapon in (FOIL, EPEE, SABRE)),
    *((weapon, ("piste surface", "piste surface, other section"), {}, "≤", 5.0, "m.57.1") for weapon in (FOIL, EPEE, SABRE)),
]
GAUGES = [
    (FOIL, "left 500 g weight", "m.11.3"),
    (EPEE, "left 750 g weight", "m.19.2"),
    (FOIL, "left 1 mm travel gauge", "m.11.4"),
    (EPEE, "right 0.5 mm shim", "m.19.4.a"),
    (EPEE, "left 1.5 mm shim", "m.19.4.b"),
]


def kept(weapon: str, meter: tuple[str, str], reads: str, **keys: object) -> tuple[bool, str]:
    trial, wrong = read_trial(load_setup(weapon), TrialTable.model_validate({"meter": meter, "reads": reads, **keys}))
    assert not wrong
    judgement = judged(weapon, trial)
    assert judgement is not None
    return judgement.kept, judgement.words


@pytest.mark.parametrize(("weapon", "meter", "keys", "comparator", "value", "clause"), LIMITS)
def test_a_reading_is_judged_at_just_under_and_just_over_its_limit(  # noqa: PLR0913, PLR0917 — a row of the table
    weapon: str, meter: tuple[str, str], keys: dict[str, object], comparator: str, value: float, clause: str
) -> None:
    assert kept(weapon, meter, f"{value - 0.1:.1f}", **keys) == (True, f"within the limit of {clause}")
    assert kept(weapon, meter, f"{value:.1f}", **keys)[0] is (comparator == "≤")
    assert kept(weapon, meter, f"{value + 0.1:.1f}", **keys) == (False, f"over the limit of {clause}: fails control")
    assert kept(weapon, meter, "open", **keys)[0] is False
    assert kept(weapon, meter, f"{value - 0.5:.1f} to {value + 0.5:.1f}", **keys)[0] is False, "the worst of a wobble counts"


@pytest.mark.parametrize(("weapon", "gauge", "clause"), GAUGES)
def test_a_gauge_is_judged_by_its_clause(weapon: str, gauge: str, clause: str) -> None:
    for found, words in (("passes", f"within the limit of {clause}"), ("fails", f"fails the gauge of {clause}: fails control")):
        trial, wrong = read_trial(load_setup(weapon), TrialTable.model_validate({"gauge": gauge, "found": found}))
        assert not wrong
        judgement = judged(weapon, trial)
        assert judgement is not None
        assert judgement.words == words


def test_every_limit_of_the_data_is_held_to_the_rulebook_here() -> None:
    for weapon in (FOIL, EPEE, SABRE):
        metered = {(clause, comparator, value) for named, _, _, comparator, value, clause in LIMITS if named == weapon}
        gauged = {(gauge.split(" ", 1)[1], clause) for named, gauge, clause in GAUGES if named == weapon}
        tables = [limit.table for limit in limits_of(weapon)]
        assert {(table.clause, table.comparator, table.value) for table in tables if table.places} == metered
        assert {(table.gauge, table.clause) for table in tables if table.gauge} == gauged


def test_what_the_rules_have_no_limit_for_is_not_judged() -> None:
    """No clause has a figure for a foil's guard to its blade."""
    places = ("left weapon guard", "left weapon blade")
    trial, _ = read_trial(load_setup(FOIL), TrialTable.model_validate({"meter": places, "reads": "9.0"}))
    assert judged(FOIL, trial) is None


@pytest.mark.parametrize(
    ("reads", "words"), [("1.3", "over the limit of m.29.1.c: fails control"), ("0.4", "within the limit of m.29.1.c")]
)
def test_the_verdict_stands_beside_the_suspects_whatever_they_are(reads: str, words: str) -> None:
    trial = {"meter": ["left cord A pin of the reel plug", "left cord clip"], "reads": reads}
    case = made_case(CaseTable.model_validate({"weapon": FOIL, "trial": [trial]}), name="cord")
    bench = REASONING.at(Situation(Mode.BENCH, "left cord", ("meter",)))
    assert [(number, judgement.words) for number, judgement in bench.diagnose(case).judgements] == [(0, words)]
