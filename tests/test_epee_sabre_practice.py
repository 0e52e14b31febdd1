"""What every armourer knows of épée and sabre. Common practice, no source, unless a test names one."""

from __future__ import annotations

import pytest

from foible.kit import SIDES, other
from strip import strip

EPEE, SABRE, FOIL = strip("épée"), strip("sabre"), strip("foil")
EXCHANGED = "left cord order of the lines at the weapon plug: B and C exchanged"


@pytest.mark.parametrize("side", SIDES)
class TestSoundEpee:
    def test_lights_nothing_at_rest_plugged_in_or_not(self, side: str) -> None:
        for plug in (None, "weapon plug", "reel plug", "back plug"):
            keys = {"unplugged": f"{side} {plug}"} if plug else {}
            assert EPEE.lit(EPEE.arrangement(**keys)) == set(), "an open circuit gives no warning"

    def test_gives_colour_on_anything_but_earth(self, side: str) -> None:
        assert EPEE.lit(EPEE.arrangement(press=side)) == {f"{side} coloured"}

    def test_gives_no_hit_on_guard_blade_or_earthed_piste(self, side: str) -> None:
        for place in (f"{other(side)} weapon guard", f"{other(side)} weapon blade", "piste", f"{side} weapon guard"):
            assert f"{side} coloured" not in EPEE.lit(EPEE.arrangement(press=side, on=place))

    def test_registers_when_the_two_close_pins_are_held_together(self, side: str) -> None:
        """epee.dk guide: unplug at the weapon, press the two close pins on the guard: registers."""
        held = EPEE.arrangement(unplugged=f"{side} weapon plug", bridged=f"{side} weapon plug A-B")
        assert EPEE.lit(held) == {f"{side} coloured"}


@pytest.mark.parametrize("line", ["A", "B"])
@pytest.mark.parametrize("part", ["wire at the socket", "wire behind the guard", "wire along the blade", "wire at the point"])
def test_an_epee_with_a_broken_wire_gives_no_warning_at_all(part: str, line: str) -> None:
    failure = next(
        f for f in EPEE.setup.failures if f.startswith(f"left weapon {line} {part}: ") and "touch" not in f and "strand" not in f
    )
    assert EPEE.with_failure(failure) == set()
    assert EPEE.with_failure(failure, press="left") == set()


@pytest.mark.parametrize(
    "failure",
    [
        "right cord C wire at the weapon plug: broken where it leaves the plug",
        "right reel C slip ring: dirty ring or worn brush",
        "right floor cable C wire in the plug at the reel: end loose in the plug",
        "right weapon socket nut: loose or tarnished",
        "right weapon guard surface: oxidised or dirty",
    ],
)
def test_a_lost_c_line_makes_hits_on_that_fencers_guard_count(failure: str) -> None:
    """Fachfragen Degen, TV Gladbeck: a hit on the oxidised guard is signalled valid; the rest common practice."""
    assert "left coloured" in EPEE.with_failure(failure, press="left", on="right weapon guard")
    assert "right coloured" in EPEE.with_failure(failure, press="right"), "that fencer's own hits still count"


def test_a_short_to_guard_or_blade_lights_the_earth_lamp_and_kills_hits() -> None:
    """Felsökning på pisten, Falun fencing club: A or B wire of the weapon shorted to guard or blade."""
    for line in "AB":
        shorted = f"left weapon {line} wire behind the guard: bare, touching the guard"
        assert EPEE.with_failure(shorted, 0.05) == {"left yellow"}
        assert "left coloured" not in EPEE.with_failure(shorted, 0.05, press="left")


def test_b_and_c_exchanged_make_an_epee_misbehave() -> None:
    """The guard hangs on line B and a wire of the point on C: own hits go to earth, and hits on that guard count."""
    assert EPEE.with_failure(EXCHANGED, 0.05) == set()
    assert EPEE.with_failure(EXCHANGED, 0.05, press="left") == {"left yellow"}
    assert "right coloured" in EPEE.with_failure(EXCHANGED, 0.05, press="right", on="left weapon guard")


def test_b_and_c_exchanged_go_unseen_at_sabre_and_show_at_foil() -> None:
    for keys in ({}, {"cut": "left", "on": "right lamé front"}, {"cut": "left", "on": "right weapon guard"}):
        sound = SABRE.lit(SABRE.arrangement(**keys))
        assert SABRE.with_failure(EXCHANGED, 0.05, **keys) == sound
    assert FOIL.with_failure(EXCHANGED, 0.05, press="left", on="right lamé front") == {"left white"}


@pytest.mark.parametrize("side", SIDES)
class TestSoundSabre:
    def test_lights_nothing_at_rest_and_white_while_unplugged(self, side: str) -> None:
        assert SABRE.lit(SABRE.arrangement()) == set()
        for plug in ("weapon plug", "reel plug", "back plug", "apparatus plug"):
            assert SABRE.lit(SABRE.arrangement(unplugged=f"{side} {plug}")) == {f"{side} white"}

    @pytest.mark.parametrize(
        "on", ["lamé front", "lamé sword sleeve", "lamé rear sleeve", "cuff", "mask mesh", "mask bib", "cord clip"]
    )
    def test_gives_colour_on_every_part_of_the_target(self, side: str, on: str) -> None:
        assert SABRE.lit(SABRE.arrangement(cut=side, on=f"{other(side)} {on}")) == {f"{side} coloured"}

    def test_gives_nothing_on_weapon_or_piste(self, side: str) -> None:
        for on in (f"{other(side)} weapon guard", f"{other(side)} weapon blade", "piste"):
            assert SABRE.lit(SABRE.arrangement(cut=side, on=on)) == set()

    def test_lights_yellow_when_the_guard_rests_on_the_own_lame(self, side: str) -> None:
        """Fencing/Electrical Equipment Repair, Wikibooks."""
        made = SABRE.arrangement(touching=f"{side} weapon guard on {side} lamé front")
        assert SABRE.lit(made) == {f"{side} yellow"}


def test_a_foil_socket_in_a_sabre_leaves_one_line_hanging() -> None:
    assert SABRE.with_failure("left weapon socket kind: foil-type socket fitted") == {"left white"}


def test_a_dead_spot_gives_nothing_at_sabre_where_foil_gives_white() -> None:
    """“I Can't Score!”, American Fencer, Nov 2023."""
    dead = "right lamé front panel: dead patch"
    assert SABRE.with_failure(dead, cut="left", on="right lamé front") == set()
    assert SABRE.with_failure(dead, cut="left", on="right lamé front, elsewhere") == {"left coloured"}
    assert FOIL.with_failure(dead, press="left", on="right lamé front") == {"left white"}


@pytest.mark.parametrize("weapon", ["foil", "épée", "sabre"])
def test_the_three_weapons_share_reel_floor_cable_piste_and_the_core_of_the_cord(weapon: str) -> None:
    """The same parts with the same values, whatever weapon is plugged in."""
    kit, foil = strip(weapon).setup, FOIL.setup
    shared = [
        part
        for part in foil.parts
        if part.startswith(("left reel", "right floor cable", "piste", "left cord reel plug", "left cord C wire, middle"))
    ]
    assert len(shared) >= 40
    for part in shared:
        assert kit.parts[part] == foil.parts[part]
        if kit.parts[part].conducts:
            assert kit.network.branches[kit.network.index(part)] == foil.network.branches[foil.network.index(part)]


def test_an_apparatus_set_to_foil_is_given_away() -> None:
    """At épée the open loop looks like a break; at sabre the loop never opens, so that no cut shows."""
    wrong = "apparatus weapon setting: set to foil"
    assert EPEE.with_failure(wrong) >= {"left white", "right white"}
    assert SABRE.with_failure(wrong, cut="left", on="right lamé front") == set()


def test_suspects_at_epee_and_sabre_are_those_of_the_sources() -> None:
    """epee.dk guide: dead weapon, registers with the pins on the guard. falconsfocus: white at sabre is the socket."""
    dead = EPEE.suspects(
        EPEE.trial(press="left", saw="left nothing"),
        EPEE.trial(unplugged="left weapon plug", bridged="left weapon plug A-B", saw="left coloured"),
    )
    assert dead[0].startswith("left weapon")
    white = SABRE.suspects(
        SABRE.trial(saw="left white"),
        SABRE.trial(unplugged="left weapon plug", bridged="left weapon plug B-C", saw="left no white"),
    )
    assert white[0] in ("left weapon socket B contact", "left weapon socket C contact")


def test_nothing_at_epee_does_not_speak_of_the_optional_orange_lamp() -> None:
    """Annex B B(e)4. So the C line stays suspected where a hit on the other guard rightly shows nothing."""
    reports = [
        EPEE.trial(press="left", on="right weapon guard", saw="left coloured"),
        EPEE.trial(press="left", saw="left coloured"),
        EPEE.trial(press="right", on="left weapon guard", saw="nothing"),
    ]
    assert any(" C wire" in part for part in EPEE.suspects(*reports)[:4])
