"""The rehearsals of benchmarks/rehearsal: patterns, the oracle, and that every scenario can be played."""

from __future__ import annotations

import numpy as np
import pytest
from benchmarks.rehearsal.__main__ import OWN
from benchmarks.rehearsal.judge import Ended, Made, judged
from benchmarks.rehearsal.oracle import Oracle
from benchmarks.rehearsal.patterns import Step, pattern
from benchmarks.rehearsal.scenario import Scenario, scenarios

from strip import strip

FOIL = strip("foil")
ALL = scenarios(OWN)
HELD_BACK = tuple(each for name in ("held-out.toml", "held-out-2.toml") for each in scenarios(OWN.with_name(name)))


def step(**keys: object) -> Step:
    return Step(FOIL.trial(**{"saw": "nothing", **keys}))


@pytest.mark.parametrize(
    ("text", "keys", "fits"),
    [
        ("rest", {}, True),
        ("rest", {"swapped": "left weapon"}, False),
        ("still", {"swapped": "left weapon"}, True),
        ("press: left", {"press": "left", "on": "piste"}, True),
        ("press: left on nothing", {"press": "left", "on": "piste"}, False),
        ("press: left on right lamé front", {"press": "left", "on": "right lamé front, elsewhere"}, False),
        ("move: tug left cord", {"move": "tug left cord weapon plug"}, True),
        ("swap: left weapon + move: beat left weapon blade", {"move": "beat left weapon blade"}, False),
        ("bridge: left weapon plug", {"unplugged": "left weapon plug", "bridged": "left weapon plug B-C"}, True),
        ("unplug", {"unplugged": "left weapon plug"}, True),
    ],
)
def test_a_pattern_fits_what_its_page_says(text: str, keys: dict[str, object], *, fits: bool) -> None:
    assert pattern(text).fits(step(**keys)) is fits


def test_forty_scenarios_and_forty_held_back_are_there_and_every_pattern_is_one_of_the_format() -> None:
    assert len(ALL) == 40
    assert len(HELD_BACK) == 40
    assert len({scenario.id for scenario in (*ALL, *HELD_BACK)}) == 80
    for scenario in (*ALL, *HELD_BACK):
        for texts in (*scenario.good_steps, *scenario.settled_by, scenario.proof):
            assert all(pattern(text).clauses for text in texts)
        assert all(pattern(bad.step).clauses for bad in scenario.bad_steps)


def scenario(name: str) -> Scenario:
    return next(each for each in ALL if each.id == name)


def answers(name: str, tries: int, **keys: object) -> list[str]:
    oracle = Oracle(scenario(name), FOIL.setup, np.random.default_rng(1))
    return [str(oracle.answer(step(**keys))["saw"]) for _ in range(tries)]


def test_a_fault_that_comes_with_a_movement_shows_about_as_often_as_its_scenario_says() -> None:
    """foil-grip-nut-loose-in-the-parry: 0.7 of the beats, never at rest, never with another foil."""
    name = "foil-grip-nut-loose-in-the-parry"
    beaten = answers(name, 300, move="beat left weapon blade")
    assert 0.6 < sum("white" in said for said in beaten) / 300 < 0.8
    assert set(answers(name, 50)) == {"['nothing']"}
    assert set(answers(name, 50, move="beat left weapon blade", swapped="left weapon")) == {"['nothing']"}


def test_a_cure_holds_until_what_brings_the_fault_back() -> None:
    """foil-white-until-pressed: gone with 0.8 after a press, which is still answered with the fault."""
    oracle = Oracle(scenario("foil-white-until-pressed"), FOIL.setup, np.random.default_rng(3))
    assert oracle.answer(step())["saw"] == ["left white", "left no yellow", "right nothing"]
    for _ in range(10):
        oracle.answer(step(press="left", on="right lamé front"))
    assert oracle.answer(step())["saw"] == ["nothing"]


# --- what a master says of a run, by the README of the rehearsals -----------------------------------------------------


def made(keys: dict[str, object], seconds: float = 10.0) -> Made:
    return Made(step(**keys), shown=True, guilty=False, seconds=seconds, say="")


WIRE_OFF = "foil-wire-off-at-the-socket"
BRIDGE: dict[str, object] = {"unplugged": "left weapon plug", "bridged": "left weapon plug B-C", "saw": "nothing"}


def test_the_exchange_that_is_the_ending_does_not_count_against_the_limits() -> None:
    """At most 2 trials and 45 s there; the foil exchanged and tried is the ending itself."""
    bridge, swap = made(BRIDGE, 12), made({"swapped": "left weapon"}, 60)
    told = judged(scenario(WIRE_OFF), [bridge, swap], Ended((("exchange", "left weapon", frozenset()),)))
    assert told.passed
    assert (told.trials, told.seconds) == (1, 12)
    other = judged(scenario(WIRE_OFF), [bridge, swap], Ended((("exchange", "left cord", frozenset()),)))
    assert (other.trials, other.seconds) == (2, 72)


def test_only_steps_up_to_where_it_was_settled_have_to_be_good() -> None:
    """The pins on the guard settle it; what only carries the ending out is not asked to be a good step."""
    tried = made({"swapped": "left weapon", "move": "beat left weapon blade"})
    told = judged(scenario(WIRE_OFF), [made(BRIDGE), tried], None)
    assert told.first == (True,)
    unsettled = judged(scenario(WIRE_OFF), [made({"press": "left", "saw": "left white"}), made(BRIDGE)], None)
    assert unsettled.first == (False, True)


def test_what_proves_that_nothing_is_wrong_is_no_trial_too_many() -> None:
    """“Any trial after `settled_by`, but for those that carry out or prove an ending”; this ending's `proof` is to fence on."""
    tug: dict[str, object] = {"move": ["tug left cord weapon plug", "tug left cord reel plug"]}
    bent: dict[str, object] = {"move": ["bend left weapon blade", "beat left weapon blade"]}
    run = [made(tug), made({"move": "beat left weapon blade"}), made(bent)]
    does_not_come_back = scenario("foil-white-does-not-come-back")
    fenced = judged(does_not_come_back, [*run, made({"move": "fence left"})], None)
    assert not fenced.bad
    pressed = judged(does_not_come_back, [*run, made({"press": "left", "on": "right lamé front"})], None)
    assert pressed.bad == ("more trials after it was settled",)
