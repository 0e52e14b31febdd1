"""What every foil armourer knows. Common practice, no source, unless a test names one."""

from __future__ import annotations

import math

import pytest

from foible.apparatus import load_profile
from foible.circuit.routes import route
from foible.diagnosis import explain_lamps
from foible.kit import SIDES, other
from foil import arrangement, lit, setup

OPEN = math.inf


def lights(failure: str, ohms: float = OPEN, **keys: object) -> set[str]:
    """Return what lights with a failure in the kit."""
    found = setup().failures[failure]
    profile = load_profile("fie-2026-foil")
    explained = explain_lamps(setup(), profile, arrangement(**keys), [(found, ohms)] if found else [])
    return {f"{side} {lamp}" for side in SIDES for lamp, chance in explained[side].lamps.items() if chance > 0.99}


@pytest.mark.parametrize("side", SIDES)
class TestSoundFoil:
    """A sound foil on a sound strip."""

    def test_lights_nothing_at_rest(self, side: str) -> None:
        assert not {lamp for lamp in lit(arrangement()) if lamp.startswith(side)}

    def test_gives_white_on_anything_that_does_not_conduct(self, side: str) -> None:
        assert lit(arrangement(press=side)) == {f"{side} white"}

    @pytest.mark.parametrize("panel", ["front", "back", "flank", "shoulder"])
    def test_gives_colour_on_the_opponents_lame(self, side: str, panel: str) -> None:
        assert lit(arrangement(press=side, on=f"{other(side)} lamé {panel}")) == {f"{side} coloured"}

    def test_gives_colour_on_bib_and_clip(self, side: str) -> None:
        for place in ("bib", "cord clip"):
            assert lit(arrangement(press=side, on=f"{other(side)} {place}")) == {f"{side} coloured"}

    def test_gives_nothing_on_an_earthed_piste_or_the_opponents_guard_or_blade(self, side: str) -> None:
        for place in ("piste", f"{other(side)} weapon guard", f"{other(side)} weapon blade"):
            assert lit(arrangement(press=side, on=place)) == set()

    def test_gives_white_on_its_owners_lame_and_nothing_on_its_own_guard(self, side: str) -> None:
        assert lit(arrangement(press=side, on=f"{side} lamé front")) == {f"{side} white"}
        assert lit(arrangement(press=side, on=f"{side} weapon guard")) == set()

    def test_makes_the_apparatus_complain_until_a_sound_set_is_plugged_in(self, side: str) -> None:
        for plug in ("weapon plug", "reel plug", "back plug", "apparatus plug"):
            assert lit(arrangement(unplugged=f"{side} {plug}")) == {f"{side} white"}

    def test_lights_yellow_when_its_blade_lies_on_its_owners_lame(self, side: str) -> None:
        assert lit(arrangement(touching=f"{side} weapon blade on {side} lamé front")) == {f"{side} yellow"}

    def test_gives_nothing_when_its_bare_blade_lies_on_the_lame_it_hits(self, side: str) -> None:
        rival = other(side)
        bare = arrangement(press=side, on=f"{rival} lamé front", touching=f"{side} weapon blade on {rival} lamé front")
        taped = arrangement(press=side, on=f"{rival} lamé front", touching=f"{side} weapon taped blade on {rival} lamé front")
        assert lit(bare) == set()
        assert lit(taped) == {f"{side} coloured"}, "which is why the blade is taped"

    def test_goes_quiet_when_the_pins_are_held_on_the_guard(self, side: str) -> None:
        """Order of isolating the item: short the plug on the guard (Sheffield, Marburg, epee.dk, German booklet)."""
        held = arrangement(
            unplugged=f"{side} weapon plug",
            touching=[f"{side} cord {line} pin of the weapon plug on {side} weapon guard" for line in "BC"],
        )
        assert lit(held) == set()


def test_without_tape_the_blade_on_the_lame_kills_the_hit() -> None:
    """Why are foils taped and épées not?, note.mu article: the blade bridges point and blade through the cloth."""
    keys = {
        "press": "left",
        "on": "right lamé front",
        "touching": "left weapon taped blade on right lamé front",
    }
    assert lights("left weapon blade tape: missing or worn through", 0.05, **keys) == set()


def test_white_with_no_touch_means_that_the_loop_opens_somewhere() -> None:
    """Every failure that opens the loop gives white at rest, and no other single open failure does."""
    white = {
        failure.id
        for failure in setup().failures.values()
        if failure.item.startswith("left") and failure.raises and "left white" in lights(failure.id)
    }
    loop = {failure.id for failure in setup().failures.values() if failure.raises and set(failure.raises) & set(_loop_branches())}
    assert white == {name for name in loop if name.startswith("left")}


def _loop_branches() -> list[str]:
    way = route(setup().network, ["apparatus.left_b"], ["apparatus.left_c"])
    assert way is not None
    return list(way.branches)


@pytest.mark.parametrize(
    "failure",
    [
        "left weapon socket insulation: sabre-type socket fitted",
        "left weapon socket insulation: broken down",
        "left weapon contact cup: short inside the point",
        "left weapon wire behind the guard: bare, touching the guard",
        "left weapon wire along the blade: bare, touching the blade",
        "left weapon wire at the socket: stray strand on the socket frame",
        "left weapon point seat: point stuck out",
        "left cord weapon plug insulation B-C: strand or swarf across the lines",
    ],
)
def test_no_lamp_whatever_is_hit_means_that_the_loop_never_opens(failure: str) -> None:
    """A sabre-type socket in a foil fits and never gives a lamp; so does any short from B to C."""
    assert lights(failure, 0.05) == set()
    for on in (None, "right lamé front", "right cord clip"):
        assert lights(failure, 0.05, press="left", **({"on": on} if on else {})) == set()


@pytest.mark.parametrize(
    "failure",
    ["right cord clip bite: off, dirty or corroded", "right lamé cloth under the clip: corroded or torn"],
)
def test_colour_on_the_clip_and_white_on_the_lame_blame_the_lame_or_the_bite_of_the_clip(
    failure: str,
) -> None:
    assert lights(failure, press="left", on="right lamé front") == {"left white"}
    assert lights(failure, press="left", on="right cord clip") == {"left coloured"}


def test_b_and_c_exchanged_show_when_the_bare_blade_lies_on_the_lame() -> None:
    """“I Can't Score!”, American Fencer, Nov 2023: bare blade on the lamé, point pressed: colour means exchanged."""
    exchanged = "left cord order of the lines at the weapon plug: B and C exchanged"
    assert lights(exchanged, 0.05) == set()
    assert lights(exchanged, 0.05, press="left", on="right lamé front") == {"left white"}
    assert lights(exchanged, 0.05, press="left", touching="left weapon blade on right lamé front") == {"left coloured"}


def test_a_and_b_touching_in_the_plug_light_yellow() -> None:
    """Sword and Cord (club armoury slides): orange lamp, also possible: A and B touching inside the three-pin plug."""
    short = "left cord reel plug insulation A-B: strand or swarf across the lines"
    assert lights(short, 0.05) == {"left yellow"}


def test_an_unearthed_piste_gives_white() -> None:
    assert lights("piste earth bond: earth lead off or joint open", press="left", on="piste") == {"left white"}


def test_a_lame_that_touches_the_earthed_piste_gives_nothing() -> None:
    assert (
        lights(
            "right handling lamé on the piste: hem touching the metal piste",
            0.05,
            press="left",
            on="right lamé front",
        )
        == set()
    )
