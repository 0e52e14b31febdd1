"""What the rulebook asks for without a figure, beside a table typed a second time; who checks what; what need not be checked.

Typed by hand from notes on FIE Material Rules (Book 3), August 2026, FIE Technical Rules (Book 1), August 2026, and USA Fencing
Rules, November 2025: a clause, and what it is about.
"""

from __future__ import annotations

import pytest

from foible.rules import requirements

FIE = """
m.11.2 point-front.foil
m.5.5.a point-kind.foil
m.5.5.b point-clean
m.11.6 circuit-rest.foil
m.10 wire.foil
m.10 groove-up.foil
m.5.2.c wire-sheath.foil
m.5.3.a–e socket-sound
m.5.3.c socket-secured
m.5.2.b contacts-fixed
m.5.2.a guard-pad-wide
m.13.2 flange.foil
m.5.5.c outside-metal.foil
m.9.1 guard-gauge.foil
m.9.2 guard-centred.foil
m.2.1 blade-steel
m.1.3 blade-unaltered
m.12.3 button-unheated.foil
m.12.8 control-button-fixing
m.38.1 tape-off.foil
m.19.3 weight-750-build
m.19.4.c stroke-fixed.epee
m.19.4.e screw-sunk.epee
m.19.1.c washer-recess.epee
m.19.1.a point-front.epee
B(a) circuit-rest.epee
m.19.1 earth.epee
m.18.1 wires.epee
m.5.2.d wire-sheath.epee
m.18.3 socket-holes.epee
m.4.3 handle-bare.epee
m.17.1 guard-gauge.epee
m.24.2 guard-gauge.sabre
m.24.1 guard-shape.sabre
m.24.5 guard-lined.sabre
m.24.7 handle-insulated.sabre
m.24.3 circuit-loop.sabre
m.5.5.c outside-metal.sabre
m.29.1.a cord-build
m.31.1.a cord-build.epee
m.29.1.b plug-clear
m.31.2 plug-clear.epee
m.29.1.b plug-secured
m.31.2 plug-secured.epee
m.29.2.a pin-use
m.31.3 pin-use.epee
m.29.3.b plug-free-of-guard
m.31.6 plug-free-of-guard.epee
m.29.2.b clip-joint
m.29.2.c clip-place
m.27.3 mask-cord-ends.foil
m.32.4 mask-cord-ends.sabre
m.27.3 mask-cord-colour.foil
m.32.4 mask-cord-colour.sabre
m.27.3 mask-cord-straight.foil
m.32.4 mask-cord-straight.sabre
m.28.5 lame-weave
m.28.5.b lame-sound
m.28.3 lame-lining
m.28.1 lame-cover.foil
m.34.1 lame-cover.sabre
m.33.1 cuff-cover.sabre
m.33.3 cuff-contact.sabre
m.32.1 mask-mesh-bare.sabre
m.32.2 bib-conduction.sabre
m.27.1 mask-mesh-insulated.foil
m.30.1 mask-plain.epee
m.25.7.c mask-punch
m.25.7.e mask-two-systems
m.25.7.e mask-no-tongue
m.55.2 reel-turning
m.55.2 reel-earth
m.55.4 reel-socket
m.55.7 suspended-cables
m.56.3 floor-cable-build
m.56.4 piste-earth
m.57.6 piste-paint
t.47.2.k piste-holes
m.44.5 power-kind
m.51.4 any-latch
m.53.1 any-verified
B(f) sound.epee
A.1(a)1–2 principle.foil
A.1(b)6 blades-touching.foil
A.1(a)4 same-side-lock.foil
A.2 own-short.foil
A.2 yellow-piste.foil
B(e)4 earth-lamp.epee
m.51.1 any-metal-silent
m.38.3 control-time
m.38.5 control-form
m.38.6 control-mask-fails
m.38.8 control-jacket-fails
m.41.2 control-retest
m.42.2.a–i control-gauges
m.42.2.a–i control-tester
m.42.2.d control-weights
m.42.2.a–i control-shims
m.42.2.a–i control-eddy-current
m.42.2.a–i control-marks
m.42.2.i mark-weapon
m.42.2.h mark-jacket
m.41.1 control-mark
m.37.2 blade-label
m.37.2 mask-label
m.37.2 clothing-label
t.64 control-roll-call
t.64 clothing-cloth-smooth.epee
t.64 no-communication
t.68.1 control-every-bout
m.37.1 control-responsible
"""
USA = """
m.19.6 circuit-rest.epee
m.5.3.b socket-sound
m.5.3.c earth.epee
m.5.3.d socket-secured
m.5.5.a tape-off.foil
m.8.5.d groove-up.foil
m.12.9 control-button-fixing
m.20.2 button-unheated.epee
m.24.6 guard-lined.sabre
m.24.8 handle-insulated.sabre
m.23.3 button-solid.sabre
m.32.5 mask-cord-colour.sabre
m.25.7.f mask-strap
m.56.5 reel-checker
chapter piste-metal-local
m.39.2 control-time
m.25.7.d control-mask-fails
m.28.5.c control-jacket-fails
m.39.3 control-retest
t.64 blade-label
t.64 mask-label
t.64 clothing-label
"""
DROPPED = {
    "blade-steel",
    "socket-holes.epee",
    "plug-clear",
    "plug-clear.epee",
    "mask-cord-straight.foil",
    "mask-cord-straight.sabre",
    "mask-two-systems",
    "mask-no-tongue",
    "piste-holes",
}
"""What USA Fencing Rules, November 2025, do not ask for; the holes of a piste (t.47) were not compared."""


def rows(table: str) -> dict[str, str]:
    """Return the clauses of a table by what they are about."""
    return {key: clause for clause, key in (line.split() for line in table.strip().splitlines())}


TABLES = {"fie-2026": rows(FIE), "usa-2025": {key: each for key, each in (rows(FIE) | rows(USA)).items() if key not in DROPPED}}


@pytest.mark.parametrize("edition", TABLES)
def test_what_is_judged_by_eye_stands_under_its_clause_and_nothing_else_is_there(edition: str) -> None:
    data = {each.id: each.clause for each in requirements(edition) if not each.has_figure}
    assert {
        key: clause.removeprefix("Annex B ").removeprefix("Appendix B ").split()[0] for key, clause in data.items()
    } == TABLES[edition]


@pytest.mark.parametrize("edition", TABLES)
def test_each_requirement_says_how_it_is_checked_by_whom_and_where_it_is_from(edition: str) -> None:
    """FIE Material Rules, August 2026, m.43: one for dimensions by gauge, one for everything electrical, one for marks."""
    for each in requirements(edition):
        assert each.station in ("dimensions", "electrics", "marks"), each.id
        assert each.source.startswith(("FIE ", "USA ")), each.id
        assert each.confidence in ("rule text", "secondary", "derived"), each.id
        assert each.weapons, each.id
        if each.unit in ("Ω", "V"):
            assert each.station == "electrics", each.id
        if each.tool in ("scale", "bend", "callipers"):
            assert each.station == "dimensions", each.id


def test_how_a_button_is_fixed_is_verified_only_on_demand() -> None:
    """FIE Material Rules, August 2026, m.12.8; at épée its figures are m.20.2–3."""
    fixing = {each.id for each in requirements() if each.part == "fixing of the button"}
    assert len(fixing) == 9
    assert {each.id for each in requirements() if each.id in fixing and each.required} == set()


def test_what_every_control_measures_is_required() -> None:
    """FIE Material Rules, August 2026, m.42.2 and m.43: gauges, flexibility, mesh, resistance, weights and travel."""
    named = {
        *("weapon-mass.foil", "blade-length.epee", "blade-droop.sabre", "blade-curve.foil", "mesh-opening", "mask-punch"),
        *("weapon-resistance.foil", "cord-wire.epee", "lame-resistance.sabre", "cuff-resistance.sabre", "mask-cord-wire.foil"),
        *("spring-weight.foil", "spring-weight.epee", "point-travel.epee", "residual-travel.epee"),
    }
    assert {each.id for each in requirements() if each.id in named and each.required} == named


def test_what_needs_callipers_or_cannot_be_there_at_control_is_tested_only_when_asked_for() -> None:
    """FIE Material Rules, August 2026: m.42.2 lists no callipers; by m.38.1 foils are shown without tape on the first 15 cm."""
    assert not [
        each.id
        for each in requirements()
        if each.tool == "callipers" and each.kind not in ("gauge", "test weight") and each.required
    ]
    assert [each.required for each in requirements() if each.id in ("tape-length.foil", "tape-off.foil")] == [False, True]


def test_a_mask_is_punched_only_in_doubt_under_the_american_rules() -> None:
    """USA Fencing Rules, November 2025, m.25.7.c: if in doubt. The FIE's of August 2026 have no such words."""
    required = {edition: next(each.required for each in requirements(edition) if each.id == "mask-punch") for edition in TABLES}
    assert required == {"fie-2026": True, "usa-2025": False}


def test_kinds_and_weapons_narrow_down() -> None:
    lames = requirements(kind="lamé", weapon="sabre")
    assert {each.kind for each in lames} == {"lamé"}
    assert all("sabre" in each.weapons for each in lames)
    assert "lame-cover.sabre" in {each.id for each in lames}
    assert "lame-cover.foil" not in {each.id for each in lames}
    assert requirements(kind="lamé", weapon="épée") == ()
