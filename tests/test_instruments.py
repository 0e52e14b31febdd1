"""What an instrument can tell: its parts by hand, its form, and verdicts in words, in the terminal and on the page."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from command import foible
from foible.control.conformity import DecisionRule
from foible.control.instruments import Instrument, instrument_named, instruments, leads_known, leads_unknown
from foible.errors import InputError, UnknownNameError
from foible.records.control import Instrument as KeptInstrument
from foible.rules import tools_of_rules
from foible.services.control.entry import uncertainty_of
from foible.services.control.figures import figure, rounded
from foible.services.control.instruments import Fields, fields_of, instrument_in, instrument_of, told, usual_for
from foible.services.control.verdicts import chance_words, limit_asked, limits_with_room, rule_named, verdict

if TYPE_CHECKING:
    from collections.abc import Mapping

METER = Instrument("a meter", "meter", "Ω", step=0.1, zero=0.06, percent=1.0, repeat=0.03)
CORD = limit_asked("cord-wire")
"""One wire of a body cord, ≤ 1 Ω: FIE Material Rules, August 2026, m.29.1.c."""


def test_the_parts_of_an_uncertainty_add_up_in_quadrature() -> None:
    """JCGM 100:2008, F.2.2.1 (0.1/√12 = 0.0289), 4.3.7 (0.06/√3 = 0.0346; 1 % of 2 Ω /√3 = 0.0115), 5.1.2; by hand."""
    assert [part.u for part in METER.parts(2.0)] == pytest.approx([0.02887, 0.03464, 0.01155, 0.03], abs=1e-5)
    assert METER.uncertainty(2.0) == pytest.approx(0.05538, abs=1e-5)  # √(8.333 + 12 + 1.333 + 9) · 10⁻²


def test_what_changes_between_readings_is_kept_apart_from_what_does_not() -> None:
    scatter = METER.scatter(2.0)
    assert scatter.random == 0.03
    assert scatter.uncertainty() == pytest.approx(METER.uncertainty(2.0))
    assert replace(METER, repeat=0.0).scatter(2.0).fixed == 0.0


def test_leads_that_were_not_zeroed_are_subtracted_and_doubted() -> None:
    """JCGM 100:2008, 3.2.4: what is known to be there is corrected; of 0 to 0.4 Ω, 4.3.7, 0.2 ± 0.2 Ω, so 0.2/√3 = 0.1155."""
    assert leads_known(METER, 0.3).corrected(1.2) == pytest.approx(0.9)
    assert leads_known(METER, 0.3).uncertainty(1.0) == METER.uncertainty(1.0)
    doubted = leads_unknown(replace(METER, zero=0.0), 0.4)
    assert doubted.corrected(1.2) == pytest.approx(1.0)
    assert doubted.parts(1.0)[1].u == pytest.approx(0.11547, abs=1e-5)


def test_a_rule_in_millimetres_measures_a_limit_in_centimetres() -> None:
    ruler = instrument_named("steel rule, 1 mm").within("cm")
    assert ruler.step == pytest.approx(0.05)
    assert ruler.unit == "cm"
    with pytest.raises(InputError, match="reads Ω for a limit in mm"):
        METER.within("mm")


def test_every_usual_instrument_is_of_a_tool_that_control_has() -> None:
    assert {each.tool for each in instruments()} <= set(tools_of_rules())
    assert all(usual_for(each).tool for each in limits_with_room())


@pytest.mark.parametrize("instrument", instruments(), ids=lambda each: each.name)
def test_an_instrument_comes_back_from_its_form_and_from_what_is_kept(instrument: Instrument) -> None:
    assert instrument_in(fields_of(instrument)) == instrument
    assert instrument_of(at_table(instrument, u=1.0)) == instrument


def at_table(instrument: Instrument, u: float, made_up_of: Mapping[str, float] | None = None) -> KeptInstrument:
    """Return an instrument as a competition keeps it."""
    figures = instrument.made_up_of if made_up_of is None else made_up_of
    return KeptInstrument(7, 1, instrument.name, instrument.tool, instrument.unit, u, figures, item_id=None, version=1)


def test_the_table_trusts_a_meter_as_far_as_the_page_about_it_does() -> None:
    """JCGM 100:2008, 5.1.2, by hand for METER at 1 Ω: 0.1/√12, 0.06/√3, 1 % of 1 Ω /√3 and 0.03, added in quadrature."""
    limit = limit_asked("cord-wire")
    by_hand = math.hypot(0.1 / math.sqrt(12), 0.06 / math.sqrt(3), 0.01 / math.sqrt(3), 0.03)
    u, instrument = uncertainty_of(limit, [at_table(METER, u=9.0)])
    assert u == pytest.approx(by_hand)
    assert instrument == 7
    assert told(METER, limit, rule=DecisionRule.PLAIN).u == pytest.approx(by_hand)


def test_of_an_instrument_whose_uncertainty_alone_is_known_that_is_taken_in_the_unit_of_the_limit() -> None:
    rule = replace(METER, tool="rule", unit="mm")
    droop = limit_asked("blade-droop.foil")
    assert droop.unit == "cm"
    stated = at_table(replace(rule, tool=droop.tool), u=2.0, made_up_of={"stated": 2.0})
    u, instrument = uncertainty_of(droop, [stated])
    assert u == pytest.approx(0.2, rel=0.01)
    assert instrument == 7


def test_a_tool_that_nobody_brought_is_as_it_usually_is() -> None:
    limit = limit_asked("cord-wire")
    u, instrument = uncertainty_of(limit, ())
    assert u == pytest.approx(usual_for(limit).uncertainty(1.0))
    assert instrument is None


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"step": "a bit"}, "smallest step: “a bit” is no figure"),
        ({"step": "0"}, "smallest step"),
        ({"zero": "-1"}, "zero, within ±: -1"),
        ({"tool": "hammer"}, "no tool called “hammer”"),
        ({"leads": "read", "leads_ohm": ""}, "leads"),
        ({"sure": "very"}, "no sure called"),
    ],
)
def test_a_form_with_a_slip_names_its_field(changed: Mapping[str, str], says: str) -> None:
    with pytest.raises(InputError, match=says):
        instrument_in(replace(Fields(step="0.1"), **changed))


def test_a_tenth_of_an_ohm_cannot_tell_1_ohm_from_09() -> None:
    """With u = 0.082 Ω, ν = 8: the guard band is t₀.₉₅(8) u = 1.860 · 0.082 = 0.15 Ω (any table of Student's t)."""
    said = told("multimeter, 0.1 Ω", CORD, rule=DecisionRule.AGAINST_FALSE_PASS)
    (end,) = said.ends
    assert (end.passes, end.close, end.fails) == (0.8, (0.9, 1.0), 1.1)
    assert 0.9 > 1 - 1.860 * said.u > 0.8


def test_a_limit_with_two_ends_is_told_at_both() -> None:
    """Test weight of 500 g ± 2 g: FIE Material Rules, August 2026, m.11.3."""
    said = told("scale, 0.1 g", limit_asked("weight-500"), rule=DecisionRule.AGAINST_FALSE_FAIL)
    lower, upper = said.ends
    assert (lower.passes, upper.passes) == (498.0, 502.0)
    assert (lower.close and lower.close[1], upper.close and upper.close[0]) == (497.9, 502.1)


@pytest.mark.parametrize(
    ("reading", "rule", "outcome"),
    [
        (1.0, "plain", "pass"),
        (1.01, "plain", "fail"),
        (0.94, "guarded against false pass", "pass"),
        (0.97, "against false pass", "too close to call"),
        (1.03, "against false fail", "too close to call"),
        (1.06, "against false fail", "fail"),
    ],
)
def test_verdicts_at_just_under_and_just_over_1_ohm(reading: float, rule: str, outcome: str) -> None:
    """FIE Material Rules, August 2026, m.29.1.c: ≤ 1 Ω; the band of the meter that shows 0.01 Ω is 1.860 · 0.027 = 0.050 Ω."""
    assert verdict(reading, CORD, "multimeter, 0.01 Ω", rule=rule_named(rule)).conformity.outcome == outcome


def test_a_close_verdict_says_so_and_a_clear_one_does_not() -> None:
    close = verdict(1.02, CORD, "multimeter, 0.01 Ω", rule=DecisionRule.PLAIN)
    assert "the chance that it keeps the limit all the same is 24 %" in close.advice
    assert "≤ 1 Ω (m.29.1.c)" in close.say
    assert verdict(0.5, CORD, rule=DecisionRule.PLAIN).advice == ""


def test_words_that_fit_several_limits_are_not_guessed_at() -> None:
    with pytest.raises(InputError, match="fits 12 limits — name one of them: cord-wire"):
        limit_asked("cord")
    with pytest.raises(UnknownNameError):
        limit_asked("zzz")
    assert limit_asked("m.55.1").id == "reel-wire"


@pytest.mark.parametrize(
    ("chance", "words"), [(0.0, "under 0.1 %"), (0.004, "0.4 %"), (0.5, "50 %"), (0.995, "99.5 %"), (1.0, "over 99.9 %")]
)
def test_chances_in_words(chance: float, words: str) -> None:
    assert chance_words(chance) == words


def test_figures_take_a_comma_and_are_rounded_to_their_uncertainty() -> None:
    assert figure(" 1,05 ", "reading") == 1.05
    assert rounded(1.0512, 0.027) == "1.051"
    assert rounded(503.04, 0.97) == "503.04"
    with pytest.raises(InputError, match="from 0 to"):
        figure("nan", "reading")


def test_the_command_says_the_verdict_and_its_json() -> None:
    said = foible("verdict", "1,05", "cord-wire", "--u", "0.03", "--rule", "against false pass").stdout
    assert "fail: 1.050 Ω (u = 0.030 Ω) against ≤ 1 Ω (m.29.1.c)" in said
    told_as_json = json.loads(foible("verdict", "1.05", "cord-wire", "--u", "0.03", "--json").stdout)
    assert told_as_json["conforms"] == pytest.approx(0.067, abs=0.01)  # Student's t with 8 degrees: 0.067 (table)
    assert math.isclose(told_as_json["false_pass"], 1 - told_as_json["conforms"])
