"""FIE Material Rules (Book 3), August 2026, Annex B, A.1 and A.2: each figure on the whole foil set-up with that resistance."""

from __future__ import annotations

import pytest

from foible.apparatus import TERMINALS, load_profile
from foible.circuit.routes import route
from foible.services.reasoning import Reasoning
from foil import arrangement, lamps, lit, setup

REST = arrangement()
OFF_TARGET = arrangement(press="left")
ON_TARGET = arrangement(press="left", on="right lamé front")


def loop_parts() -> list[str]:
    """Return the parts that the left loop B–C runs through at rest."""
    way = route(setup().network, [TERMINALS[1]], [TERMINALS[2]])
    assert way is not None
    return [branch for branch in way.branches if branch in setup().parts]


def target_parts() -> list[str]:
    """Return the parts between the front of the right lamé and the apparatus."""
    way = route(setup().network, [setup().places["right lamé front"]], [TERMINALS[3]])
    assert way is not None
    return [branch for branch in way.branches if branch in setup().parts]


def test_the_loop_runs_through_weapon_cord_reel_cable_and_apparatus() -> None:
    items = {setup().parts[part].item for part in loop_parts()}
    assert items == {"left weapon", "left cord", "left reel", "left floor cable", "apparatus"}
    assert len(loop_parts()) > 35, "two dozen joints and more in series"


@pytest.mark.parametrize("part", loop_parts())
def test_a_rise_of_the_closed_loop_by_up_to_200_ohm_gives_no_white(part: str) -> None:
    """A.1(b)4."""
    for ohms in (0.001, 50, 100, 199, 200):
        assert lit(REST, put_in={part: ohms}) == set()


def test_a_rise_spread_over_the_loop_counts_as_its_sum() -> None:
    """A.1(b)4: 200 Ω in all, ten times 20 Ω."""
    parts = loop_parts()[::4][:10]
    assert lit(REST, put_in=dict.fromkeys(parts, 20.0)) == set()


@pytest.mark.parametrize("ohms", [0.001, 200])
def test_a_break_gives_a_signal_with_up_to_200_ohm_outside(ohms: float) -> None:
    """A.1(b)3: the same for valid and non-valid hits."""
    assert lit(OFF_TARGET, put_in={"left cord B wire, middle": ohms}) == {"left white"}
    assert lit(ON_TARGET, put_in={"left cord B wire, middle": ohms}) == {"left coloured"}


@pytest.mark.parametrize("ohms", [0.001, 200, 499, 500])
@pytest.mark.parametrize("part", target_parts())
def test_a_hit_on_target_is_coloured_with_up_to_500_ohm_outside(part: str, ohms: float) -> None:
    """A.1(b)1 and A.1(b)2."""
    assert lit(ON_TARGET, put_in={part: ohms}) == {"left coloured"}


@pytest.mark.parametrize(
    ("on", "earth"),
    [
        ("right weapon guard", "right cord C wire, middle"),
        ("right weapon blade", "right reel C slip ring"),
        ("piste", "piste earth bond"),
    ],
)
def test_hits_on_guard_blade_and_piste_stay_dark_with_100_ohm_in_the_earth_circuit(on: str, earth: str) -> None:
    """A.1(b)5."""
    for ohms in (0.001, 100):
        assert lit(arrangement(press="left", on=on), put_in={earth: ohms}) == set()


def test_a_mere_touch_of_the_blade_on_a_jacket_is_no_hit_with_100_ohm_in_the_earth_circuit() -> None:
    """A.1(b)5."""
    touch = arrangement(touching="left weapon blade on right lamé front")
    assert lit(touch, put_in={"left cord C wire, middle": 100}) == set()


@pytest.mark.parametrize("ohms", [0.05, 10, 1_000, 1e6])
def test_hits_register_whatever_the_resistance_between_touching_blades(ohms: float) -> None:
    """A.1(b)6."""
    blades = {("left weapon blade", "right weapon blade"): ohms}
    assert lit(ON_TARGET, across=blades) == {"left coloured"}
    assert lit(OFF_TARGET, across=blades) == {"left white"}
    assert lit(REST, across=blades) == set()


@pytest.mark.parametrize("ohms", [0.05, 200, 449.9])
def test_yellow_lights_below_450_ohm_between_own_jacket_and_own_weapon(ohms: float) -> None:
    """A.2."""
    assert lit(REST, across={("left weapon guard", "left lamé front"): ohms}) == {"left yellow"}


@pytest.mark.parametrize("ohms", [475.1, 500, 1e4])
def test_yellow_never_lights_above_475_ohm(ohms: float) -> None:
    """A.2."""
    assert lit(REST, across={("left weapon guard", "left lamé front"): ohms}) == set()


def test_between_450_and_475_ohm_the_model_says_neither_yes_nor_no() -> None:
    """A.2 leaves 450–475 Ω open."""
    chance = lamps(REST, across={("left weapon guard", "left lamé front"): 462.5})["left yellow"]
    assert 0 < chance < 1


@pytest.mark.parametrize("ohms", [0.05, 200, 449.9])
def test_own_jacket_on_own_weapon_lets_every_hit_register(ohms: float) -> None:
    """A.2, anti-blocking: valid and non-valid hits, one's own and the opponent's."""
    leak = {("right weapon guard", "right lamé front"): ohms}
    assert lit(OFF_TARGET, across=leak) == {"left white", "right yellow"}
    assert lit(ON_TARGET, across=leak) == {"left coloured", "right yellow"}
    assert lit(arrangement(press="right"), across=leak) >= {"right white"}
    assert lit(arrangement(press="right", on="left lamé front"), across=leak) >= {"right coloured"}


def test_an_apparatus_without_anti_blocking_takes_an_earthed_jacket_for_earth() -> None:
    """rec.sport.fencing FAQ part 2, section 2.13 (1990s): nothing on good cloth of a lamé earthed by its owner's weapon."""
    leak = {("right weapon guard", "right lamé front"): 0.05}
    assert "left coloured" not in lit(ON_TARGET, across=leak, profile="no-anti-blocking-foil")
    assert lit(arrangement(press="left"), across=leak, profile="no-anti-blocking-foil") >= {"left white"}


def test_white_and_coloured_never_light_together() -> None:
    """A.1(a)4: after any hit no further hit on that side."""
    for ohms in (550, 900, 1500):
        chances = lamps(ON_TARGET, put_in={"right cord clip bite": ohms})
        assert chances["left white"] + chances["left coloured"] == pytest.approx(1)
        assert chances["left white"] > 0


def test_a_break_counts_after_14_ms_give_or_take_1_and_blocks_after_300_give_or_take_25() -> None:
    """A.1(b)1 and A.1(a)6."""
    profile = load_profile("fie-2026-foil")
    assert [profile.time("break").chance(ms) for ms in (12.9, 13, 14, 15)] == [0, 0, 0.5, 1]
    assert [Reasoning().chance_both_register("foil", ms) for ms in (0, 274, 300, 326)] == [1, 1, 0.5, 0]
