"""FIE Material Rules (Book 3), August 2026, Annex B, B (épée) and C (sabre): each figure on the whole set-up."""

from __future__ import annotations

import pytest

from foible.apparatus import TERMINALS, load_profile
from foible.circuit.routes import route
from foible.services.reasoning import Reasoning
from strip import strip

EPEE, SABRE = strip("épée"), strip("sabre")
LEFT_A, LEFT_B, LEFT_C = TERMINALS[:3]


def parts_between(weapon: str, source: str, sink: str) -> list[str]:
    """Return the parts that a current takes through sound kit from a node to another."""
    kit = strip(weapon).setup
    way = route(kit.network, [source], [sink])
    assert way is not None
    return [branch for branch in way.branches if branch in kit.parts]


class TestEpee:
    """Annex B, B."""

    @pytest.mark.parametrize("ohms", [0.001, 10, 99, 100])
    @pytest.mark.parametrize("part", parts_between("épée", LEFT_A, LEFT_B))
    def test_a_contact_registers_with_10_and_with_100_ohm_outside(self, part: str, ohms: float) -> None:
        """B(c)."""
        assert EPEE.lit(EPEE.arrangement(press="left"), put_in={part: ohms}) == {"left coloured"}

    @pytest.mark.parametrize("ohms", [0.001, 50, 100])
    @pytest.mark.parametrize(
        ("on", "earth"),
        [
            ("right weapon guard", "right cord C wire, middle"),
            ("right weapon guard", "right weapon socket nut"),
            ("right weapon blade", "right reel C slip ring"),
            ("piste", "piste earth bond"),
            ("piste surface, other section", "piste joint of the sections"),
        ],
    )
    def test_hits_on_guard_and_piste_do_not_register_with_100_ohm_in_the_earth_circuit(
        self, on: str, earth: str, ohms: float
    ) -> None:
        """B(d)."""
        made = EPEE.arrangement(press="left", on=on)
        assert "left coloured" not in EPEE.lit(made, put_in={earth: ohms})

    def test_the_earth_lamp_is_orange_and_optional(self) -> None:
        """B(e)4: this profile has it; it lights for the line that is earthed and no other lamp does."""
        assert EPEE.lit(EPEE.arrangement(press="left", on="piste")) == {"left yellow"}

    def test_both_sides_are_independent(self) -> None:
        """B(e)1: one side's hit, short or break changes nothing for the other."""
        assert EPEE.lit(EPEE.arrangement(press="right"), put_in={"left cord A wire, middle": 1e9}) == {"right coloured"}

    @pytest.mark.parametrize(("apart", "both"), [(0, 1), (39.9, 1), (45, 0.5), (50.1, 0), (300, 0)])
    def test_double_hits_below_40_ms_and_single_ones_above_50(self, apart: float, both: float) -> None:
        """B(b): less than 40 ms apart both lamps, more than 50 ms one lamp, a tolerance between."""
        assert Reasoning().chance_both_register("épée", apart) == pytest.approx(both)

    @pytest.mark.parametrize(("ms", "chance"), [(1.9, 0), (2, 0), (10, 1), (12, 1)])
    def test_a_contact_counts_within_2_to_10_ms(self, ms: float, chance: float) -> None:
        """B(c)."""
        assert load_profile("fie-2026-epee").time("contact").chance(ms) == chance


class TestSabre:
    """Annex B, C."""

    @pytest.mark.parametrize("ohms", [0.001, 50, 100])
    @pytest.mark.parametrize("part", parts_between("sabre", LEFT_B, LEFT_C))
    def test_up_to_100_ohm_of_connections_are_tolerated(self, part: str, ohms: float) -> None:
        """C(b)2: no white, and hits register."""
        assert SABRE.lit(SABRE.arrangement(), put_in={part: ohms}) == set()
        assert SABRE.lit(SABRE.arrangement(cut="left", on="right lamé front"), put_in={part: ohms}) == {"left coloured"}

    @pytest.mark.parametrize("ohms", [250.1, 300, 1e6])
    @pytest.mark.parametrize("part", parts_between("sabre", LEFT_B, LEFT_C))
    def test_a_control_loop_above_250_ohm_shows_white_on_its_own_side(self, part: str, ohms: float) -> None:
        """C(b)7 and C(a)6."""
        assert SABRE.lit(SABRE.arrangement(), put_in={part: ohms}) == {"left white"}

    def test_between_100_and_250_ohm_the_model_says_neither_yes_nor_no(self) -> None:
        """C(b)2 and C(b)7 leave a gap."""
        chance = SABRE.lamps(SABRE.arrangement(), put_in={"left cord B wire, middle": 180})["left white"]
        assert 0 < chance < 1

    @pytest.mark.parametrize("ohms", [0.05, 200, 449.9])
    def test_a_leak_of_0_to_450_ohm_lights_yellow_and_lets_hits_register(self, ohms: float) -> None:
        """C(b)3 and C(a)5."""
        leak = {("left weapon guard", "left lamé front"): ohms}
        assert SABRE.lit(SABRE.arrangement(), across=leak) == {"left yellow"}
        cuts = [("left", "right lamé front"), ("left", "right mask mesh"), ("right", "left lamé front")]
        for side, on in cuts:
            assert f"{side} coloured" in SABRE.lit(SABRE.arrangement(cut=side, on=on), across=leak)

    @pytest.mark.parametrize(("ms", "chance"), [(0.9, 0), (1, 0), (5, 1), (9, 1)])
    def test_a_break_of_the_control_loop_shows_after_3_ms_give_or_take_2(self, ms: float, chance: float) -> None:
        """C(b)7."""
        assert load_profile("fie-2026-sabre").time("break").chance(ms) == chance

    def test_hits_are_shut_out_after_170_ms_give_or_take_10(self) -> None:
        """C(a)8."""
        assert [Reasoning().chance_both_register("sabre", ms) for ms in (159, 181)] == [1, 0]

    def test_a_hit_on_the_guard_of_a_leaking_fencer_may_register_below_250_ohm(self) -> None:
        """C(b)3."""
        leak = {("left weapon guard", "left lamé front"): 100.0}
        assert SABRE.lamps(SABRE.arrangement(cut="right", on="left weapon guard"), across=leak)["right coloured"] > 0
