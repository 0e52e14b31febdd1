"""The simulated worlds of benchmarks/accuracy and the kept cases of benchmarks/speed do what they say."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from benchmarks.accuracy.answers import Kit, expecting, said
from benchmarks.accuracy.cases import Cases, complains, drawn
from benchmarks.accuracy.faults import Fault, listed, unlisted
from benchmarks.accuracy.measure import ece, summary
from benchmarks.accuracy.networks import Networks
from benchmarks.accuracy.play import Played, Step, cured, cures, play
from benchmarks.accuracy.program import Deed, Program
from benchmarks.accuracy.readiness import AsModel, Curing, expected
from benchmarks.accuracy.world import WORLDS, world_named
from benchmarks.seconds import trial_s
from benchmarks.speed.kept import Before, kept_cases, networked

from foible.apparatus import load_profile
from foible.diagnosis.shown.hypotheses import Activity, all_hypotheses
from foible.diagnosis.shown.presence import Presence
from foible.kit import Setup, load_setup
from foible.trials import LIT_BEFORE, Group, TrialTable, load_catalogue, load_complaints, read_trial

pytestmark = pytest.mark.once

WEAPONS = ("foil", "épée", "sabre")
STEADY = Activity.STEADY


@cache
def setup_of(weapon: str) -> Setup:
    return load_setup(weapon)


@cache
def cases_of(weapon: str, world: str, count: int = 60) -> Cases:
    setup = setup_of(weapon)
    return drawn(setup, load_profile(setup.profile), world_named(world), count, 3)


def fault_of(name: str, ohms: float, activity: Activity = STEADY, weapon: str = "foil") -> Fault:
    return listed(setup_of(weapon), setup_of(weapon).failures[name], ohms, activity)


def networks_of(*cases: tuple[Fault, ...], weapon: str = "foil") -> Networks:
    setup = setup_of(weapon)
    return Networks(setup, load_profile(setup.profile), cases, 1)


def kit_of(*faults: Fault) -> Kit:
    rng = np.random.default_rng(5)
    ready = [AsModel(setup_of("foil"), fault, rng) for fault in faults]
    return Kit(networks_of(faults), 0, ready, rng, misread=0.0)


BROKEN = fault_of("left weapon wire along the blade: broken in the groove", np.inf)
PRESS = read_trial(setup_of("foil"), TrialTable(press="left", on="right lamé front"), answered=False)[0]


# --- what the kit shows -----------------------------------------------------------------------------------------------


def test_sound_kit_lights_the_colour_of_a_good_hit() -> None:
    """Annex B of the FIE Material Rules: a valid hit lights the coloured lamp of the fencer who hit."""
    assert kit_of().answer(PRESS) == {"saw": ("left coloured", "left no yellow", "right nothing")}


def test_a_broken_blade_wire_lights_white_whatever_is_pressed() -> None:
    """A foil's B–C loop is closed at rest; once open for good it lights white, so the press changes nothing."""
    assert kit_of(BROKEN).answer(PRESS) == {"saw": ("left white all along", "left no yellow", "right nothing")}


def test_exchanging_the_item_heals_its_fault() -> None:
    assert kit_of(BROKEN).answer(replace(PRESS, swapped=("left weapon",)))["saw"][0] == "left coloured"
    assert kit_of(BROKEN).answer(replace(PRESS, swapped=("left cord",)))["saw"][0] == "left white all along"


def test_one_who_expects_a_suspect_reports_what_it_would_show() -> None:
    assert BROKEN.failure is not None
    report = expecting(setup_of("foil"), PRESS, (BROKEN.failure, BROKEN.ohms))
    assert report == {"saw": ("left white", "left no yellow", "right nothing")}


def test_what_comes_and_goes_is_said_so() -> None:
    looks = {("left", Group.HIT): (2, LIT_BEFORE), ("left", Group.YELLOW): (0, 0)}
    dark = {("right", group): (0, 0) for group in Group}
    phrases = said(setup_of("foil"), PRESS, {**looks, **dark})
    assert phrases == ("left white sometimes", "left coloured sometimes", "left no yellow", "right nothing")


# --- faults and how they behave ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("weapon", WEAPONS)
def test_in_its_own_world_a_fault_is_as_ready_as_the_program_expects(weapon: str) -> None:
    """The rule is written twice: here and in `foible.diagnosis.shown.presence`."""
    setup = setup_of(weapon)
    hypotheses = all_hypotheses(setup)
    presence = Presence(setup, hypotheses)
    tables = [*(idea.table for idea in load_catalogue(setup)), *(each.table for each in load_complaints(setup, "left"))]
    made = {read_trial(setup, table, answered=False)[0].unseen() for table in tables}
    for trial in (each for each in made if each.moves or not each.swapped):
        both, one, _ = presence.regimes(replace(trial, swapped=()))
        for i in range(2, len(hypotheses), 29):
            failure = hypotheses.failures[int(hypotheses.failure[i])]
            own = expected(setup, listed(setup, failure, 1.0, Activity(int(hypotheses.activity[i]))), trial)
            assert own.mean == pytest.approx(both[i] + one[i]), (failure.id, trial)
            assert own.mean * own.flickers == pytest.approx(one[i]), (failure.id, trial)


def test_readiness_is_drawn_once_for_each_handling() -> None:
    ready = AsModel(setup_of("foil"), replace(BROKEN, activity=Activity.SELDOM), np.random.default_rng(1))
    bend = replace(PRESS, moves=("bend left weapon blade",))
    assert ready.shows(PRESS) == ready.shows(PRESS)
    assert ready.shows(bend) != ready.shows(PRESS)


def test_a_movement_cures_and_another_brings_back() -> None:
    rng = np.random.default_rng(2)
    ready = Curing(setup_of("foil"), BROKEN, rng)
    moves = [move for move in setup_of("foil").movements if setup_of("foil").movements[move] == "left weapon"]
    shown = [ready.shows(replace(PRESS, moves=(move,)))[0] > 0 for move in moves * 20]
    assert {True, False} == set(shown)
    assert shown != sorted(shown)
    assert shown != sorted(shown, reverse=True)


@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_fault_that_no_kit_file_knows_sits_in_its_item(weapon: str) -> None:
    setup = setup_of(weapon)
    item = {part.id: part.item for part in setup.parts.values()}
    nodes = {node: item.get(b.name) for b in setup.network.branches for node in (b.a, b.b) if b.name in item}
    rng = np.random.default_rng(4)
    listed_raises = {frozenset(failure.raises) for failure in setup.failures.values()}
    found = [unlisted(setup, each, rng) for each in ("left weapon", "left cord", "right reel") for _ in range(40)]
    for fault in filter(None, found):
        raised = {name for name, _ in fault.changes.raised}
        assert all(item[name] == fault.item for name in raised)
        assert frozenset(raised) not in listed_raises or not raised
        assert all(node in nodes for pair, _ in fault.changes.joined for node in pair)
    assert any(fault and fault.changes.joined for fault in found)
    assert any(fault and fault.changes.raised for fault in found)


# --- worlds -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_fifth_has_nothing_wrong_in_the_world_of_that_name(weapon: str) -> None:
    cases = cases_of(weapon, "nothing")
    assert sum(not faults for faults in cases.networks.cases) == len(cases) // 5 == 12
    sound = [entry for entry, faults in zip(cases.told, cases.networks.cases, strict=True) if not faults]
    assert all(entry.trial.hearsay for entry in sound), "a lamp that is on all the time is on for everybody"


def test_a_tenth_of_the_faults_is_unknown_in_the_world_of_that_name() -> None:
    faults = [fault for each in cases_of("foil", "unlisted", 200).networks.cases for fault in each]
    assert 0.04 < np.mean([fault.failure is None for fault in faults]) < 0.2
    assert all(fault.failure for each in cases_of("foil", "own").networks.cases for fault in each)


def test_without_a_metal_piste_nothing_of_it_fails_and_nobody_hits_it() -> None:
    cases = cases_of("épée", "floor")
    assert not any("piste" in fault.part for each in cases.networks.cases for fault in each)
    assert all(entry.trial.arrangement.on != "piste" for entry in cases.told)


@pytest.mark.parametrize("weapon", WEAPONS)
def test_every_fault_of_a_case_or_both_together_make_what_is_complained_of(weapon: str) -> None:
    cases = cases_of(weapon, "own")
    for place, faults in enumerate(cases.networks.cases):
        assert not faults or complains(cases, place, (1 << len(faults)) - 1)


def test_worlds_have_names_of_their_own() -> None:
    assert len({world.name for world in WORLDS}) == len(WORLDS) == 13


# --- right ------------------------------------------------------------------------------------------------------------


def test_exchanging_what_is_at_fault_cures_and_nothing_else_does() -> None:
    """A broken wire along the blade: the weapon cures it; a repair of its point, the cord or “nothing wrong” do not."""
    told = cases_of("foil", "own").told
    entry = next(each for each in told if each.complaint.say == "My white lamp is on all the time")
    cases = Cases(
        networks_of((BROKEN,)), (entry,), (entry.trial,), ((AsModel(setup_of("foil"), BROKEN, np.random.default_rng(1)),),)
    )
    assert cured(cases, 0, [Deed("exchange", "left weapon")], ())
    assert not cured(cases, 0, [Deed("exchange", "left cord")], ())
    assert not cured(cases, 0, [Deed("mend", "left weapon", "left weapon: clean the point")], ())
    assert not cured(cases, 0, [Deed("nothing wrong")], ())


def test_of_two_that_both_make_the_complaint_both_have_to_go() -> None:
    other = fault_of("left cord B wire at the reel plug: broken where it leaves the plug", np.inf)
    entry = next(each for each in cases_of("foil", "own").told if each.complaint.say == "My white lamp is on all the time")
    rng = np.random.default_rng(1)
    ready = tuple(AsModel(setup_of("foil"), fault, rng) for fault in (BROKEN, other))
    cases = Cases(networks_of((BROKEN, other)), (entry,), (entry.trial,), (ready,))
    assert all(complains(cases, 0, there) for there in (1, 2))
    assert not cured(cases, 0, [Deed("exchange", "left weapon")], ())
    assert cured(cases, 0, [Deed("exchange", "left weapon"), Deed("exchange", "left cord")], ())
    assert cured(cases, 0, [Deed("exchange", "left weapon")], ("left cord",))
    assert [cures(cases, 0, name) for name in ("left weapon", "left cord", "right cord")] == [0.5, 0.5, 0.0]


def test_of_two_of_which_one_makes_the_complaint_that_one_cures() -> None:
    silent = fault_of("right weapon wire along the blade: broken in the groove", np.inf)
    entry = next(each for each in cases_of("foil", "own").told if each.complaint.say == "My white lamp is on all the time")
    ready = tuple(AsModel(setup_of("foil"), fault, np.random.default_rng(1)) for fault in (BROKEN, silent))
    cases = Cases(networks_of((BROKEN, silent)), (entry,), (entry.trial,), (ready,))
    assert [complains(cases, 0, there) for there in (1, 2)] == [True, False]
    assert [cures(cases, 0, name) for name in ("left weapon", "right weapon", "nothing wrong")] == [1.0, 0.0, 0.0]


def test_each_trial_counts_what_the_first_name_cures_beside_what_it_has_by_halves() -> None:
    """A run by hand: three first names with 0.9, two of which cure, one of a pair of which only it is needed."""
    steps = (Step(0.9, 1.0, 1.0), Step(0.9, 1.0, 0.5), Step(0.9, 0.0, 0.0))
    run = Played(
        right=True, at_once=True, stated=0.9, trials=3, seconds=30.0, acted=0.0, sound=False, nothing=False, wasted=0, steps=steps
    )
    found = summary([run])
    assert (found["ece"], found["ece_halves"]) == pytest.approx((0.9 - 2 / 3, 0.9 - 0.5))


@pytest.mark.slow
def test_a_clip_that_was_off_is_put_on_and_the_case_goes_on_where_that_does_not_help() -> None:
    """A clip off and its wire broken: on first sight the clip is named, with the clip on it is white still, and the cord goes."""
    faults = tuple(
        fault_of(f"right cord {name}", np.inf)
        for name in ("clip bite: come off, or never put on", "A wire at the clip: broken at the clip")
    )
    entry = next(each for each in cases_of("foil", "own").told if each.complaint.say == "I hit the lamé and it came up white")
    ready = tuple(AsModel(setup_of("foil"), fault, np.random.default_rng(1)) for fault in faults)
    cases = Cases(networks_of(faults), (entry,), (entry.trial,), (ready,))
    runs = [run for seed in range(3) for run in play(Program("foil"), cases, seed, misread=0.0)]
    mended = [run for run in runs if "done: right cord: clip it on" in run.story]
    assert mended
    assert all(run.right and not run.at_once and "exchange" in run.story[-1] for run in mended)
    assert all(len(run.steps) > 1 for run in mended)


def test_calibration_counts_every_bin_by_its_moments() -> None:
    """By hand: (|0.9 − 0.8| · 30 + |0.2 − 0.5| · 10) / 40 = 0.15."""
    assert ece([[0.9, 0.8, 30], [0.2, 0.5, 10]]) == pytest.approx(0.15)


@pytest.mark.slow
def test_a_few_cases_are_played_to_their_end() -> None:
    runs = list(play(Program("foil"), cases_of("foil", "own", 4), 1, misread=0.02))
    found = summary(runs)
    assert found["cases"] == len(runs) == 4
    assert all(run.story[-1].startswith("[(") for run in runs)
    assert found["to_the_end_s"] >= found["seconds"] > 0


# --- speed ------------------------------------------------------------------------------------------------------------


def test_the_kept_cases_are_five_hundred_of_each_weapon_and_their_names_exist() -> None:
    kept = kept_cases()
    for weapon in WEAPONS:
        own = [case for case in kept if case.weapon == weapon]
        say = {complaint.say for complaint in load_complaints(setup_of(weapon), "left")}
        assert len(own) >= 500
        assert all(case.complaint in say for case in own)
        assert all(name in setup_of(weapon).failures for case in own for name, _, _ in case.faults)


def test_kept_cases_are_ready_to_be_played_and_make_their_complaints() -> None:
    kept = [case for case in kept_cases() if case.weapon == "sabre"][:40]
    cases = networked(setup_of("sabre"), kept)
    assert all(complains(cases, place, (1 << len(cases.networks.cases[place])) - 1) for place in range(len(cases)))


def test_a_kept_fault_shows_as_it_did_before() -> None:
    """Commit 682c21f: at rest 0.8 where it comes and goes often, and what the kit says where it is provoked."""
    often = Before(setup_of("foil"), replace(BROKEN, activity=Activity.OFTEN))
    assert often.shows(PRESS) == (0.8, 0.7)
    assert often.shows(replace(PRESS, moves=("fence left",))) == (0.9, 0.7)
    assert Before(setup_of("foil"), BROKEN).shows(PRESS) == (1.0, 0.0)


def test_a_trial_is_priced_by_what_is_done_in_it() -> None:
    """By hand: reading 3, tapping 2, watching 2, press 3; a foil fetched and exchanged 40 more."""
    table = TrialTable(press="left", on="right lamé front")
    assert trial_s(table, {}, ()) == 10
    assert trial_s(table, {"left weapon": "weapon"}, ["left weapon"]) == 50
