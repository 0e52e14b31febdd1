"""Every figure of the rulebook at, just under and just over: the data beside a table typed a second time.

The tables were typed by hand from notes on FIE Material Rules (Book 3), August 2026, FIE Technical Rules (Book 1), August
2026, and USA Fencing Rules, November 2025, in the order of those notes. A row has a clause, what it is about, and the figure:
< and > leave the end itself out, ≤ and ≥ do not, and a dash joins two ends that are both in. Where the rules give a middle and
a tolerance the row has the two ends, worked out by hand.
"""

from __future__ import annotations

import re
from typing import NamedTuple

import pytest

from foible.rules import Requirement, requirements

FIE = """
m.11.3          spring-weight.foil              > 500 g
m.11.3          weight-500                      498 - 502 g
m.11.4          point-travel.foil               ≤ 1 mm
m.11.4          travel-gauge.foil               0.95 - 1.05 mm
m.11.1          point-diameter.foil             5.5 - 7 mm
m.11.1          barrel-step.foil                ≤ 0.3 mm
m.11.5          point-fixing.foil               ≥ 2 places
m.5.4.a         weapon-resistance.foil          ≤ 2 Ω
m.5.2.a         guard-pad                       < 2 cm
m.13.1          tape-length.foil                14 - 16 cm
m.6             weapon-mass.foil                < 500 g
m.7             weapon-length.foil              ≤ 110 cm
m.8.4           blade-length.foil               ≤ 90 cm
m.4.1           handle-length                   ≤ 20 cm
m.4.1           handle-length-inner             ≤ 18 cm
m.4.6.b         handle-thumb                    ≤ 2 cm
m.9.2           guard-diameter.foil             9.5 - 12 cm
m.8.6           blade-curve.foil                < 1 cm
m.8.5           blade-droop.foil                5.5 - 9.5 cm
m.8.5           weight-200                      199 - 201 g
m.8.2           blade-edge-angle.foil           40 - 50 °
m.8.2           blade-edges.foil                0.4 - 0.6 mm
m.12.4          blade-end.foil                  ≥ 3.5 mm
m.12.5          thread-core.foil                ≥ 2.7 mm
m.12.6          button-seat.foil                7 - 8 mm
m.12.7          groove-width.foil               ≤ 0.5 mm
m.12.7          groove-depth.foil               ≤ 0.6 mm
m.19.2          spring-weight.epee              > 750 g
m.19.3          weight-750                      747 - 753 g
m.19.4.a        lighting-stroke.epee            > 1 mm
m.19.4.a        residual-travel.epee            < 0.5 mm
m.19.4.b        point-travel.epee               > 1.5 mm
m.19.4.b        shim-long.epee                  1.45 - 1.55 mm
m.19.4.a        shim-short.epee                 0.45 - 0.55 mm
m.19.4.e        screw-hole.epee                 ≤ 2 mm
m.19.5          point-fixing.epee               ≥ 2 places
m.19.1.b        crown-diameter.epee             7.95 - 8.05 mm
m.19.1.b        base-diameter.epee              ≥ 7.7 mm
m.5.4.a         weapon-resistance.epee          ≤ 2 Ω
m.18.2          handle-notch.epee               ≥ 2 mm
m.14            weapon-mass.epee                < 770 g
m.15            weapon-length.epee              ≤ 110 cm
m.16.3          blade-length.epee               ≤ 90 cm
m.16.4          blade-side.epee                 ≤ 24 mm
m.17.2          guard-to-point.epee             ≤ 95.5 cm
m.17.1          guard-depth.epee                3 - 5.5 cm
m.17.3          guard-eccentricity.epee         ≤ 3.5 cm
m.16.2          blade-curve.epee                < 1 cm
m.16.5          blade-droop.epee                4.5 - 7 cm
m.20.2          blade-end.epee                  ≥ 4 mm
m.20.2          thread-core.epee                ≥ 3.05 mm
m.20.2          button-seat.epee                7 - 8 mm
m.5.4.a         weapon-resistance.sabre         ≤ 1 Ω
m.22            weapon-mass.sabre               < 500 g
m.21            weapon-length.sabre             ≤ 105 cm
m.23.1          blade-length.sabre              ≤ 88 cm
m.4.1           handle-length.sabre             ≤ 17 cm
m.23.1          blade-tip-width.sabre           ≥ 4 mm
m.23.1          blade-tip-thickness.sabre       ≥ 1.2 mm
m.23.2          button-section.sabre            4 - 6 mm
m.23.2          button-widest.sabre             ≤ 3 mm
m.23.3          blade-curve.sabre               < 4 cm
m.23.4          blade-droop.sabre               4 - 7 cm
m.24.6          guard-outside.sabre             7 - 8 cm
m.29.1.c        cord-wire                       ≤ 1 Ω
m.31.1.b        cord-wire.epee                  ≤ 1 Ω
m.55.6          reel-plug-pins                  3 - 3 pins in line
m.55.6          reel-plug-pin-diameter          4 - 4 mm
m.55.6          reel-plug-pin-a                 15 - 15 mm
m.55.6          reel-plug-pin-c                 20 - 20 mm
m.29.2.b        cord-branch                     ≥ 40 cm
m.29.2.c        clip-width                      ≥ 10 mm
m.29.2.c        clip-space-length               ≥ 8 mm
m.29.2.c        clip-space-height               ≥ 3 mm
m.27.3          mask-cord-length.foil           30 - 40 cm
m.32.4          mask-cord-length.sabre          30 - 40 cm
m.27.3          mask-cord-wire.foil             ≤ 1 Ω
m.32.5          mask-cord-wire.sabre            ≤ 1 Ω
m.28.5.a        lame-resistance.foil            ≤ 5 Ω
m.34.4          lame-resistance.sabre           ≤ 5 Ω
m.28.5.a        probe-mass                      500 - 500 g
m.28.5.a        probe-radius                    4 - 4 mm
m.28.4          lame-flap-width                 ≥ 2 cm
m.28.4          lame-flap-length                ≥ 3 cm
m.28.4          lame-collar                     ≥ 3 cm
m.28.7          lame-crotch.foil                ≥ 3 cm
m.33.2          cuff-turned-in.sabre            ≥ 5 cm
m.33.4          cuff-resistance.sabre           ≤ 5 Ω
m.33.1          glove-cloth.sabre               ≥ 800 N
m.33.1          glove-seams.sabre               ≥ 200 N
m.33.1          glove-cuff.sabre                ≥ 350 N
m.32.5          mask-resistance.sabre           < 5 Ω
m.27.2          bib-cover.foil                  1.5 - 2 cm
m.27.2          bib-resistance.foil             ≤ 5 Ω
m.25.7.a        mesh-opening                    ≤ 2.1 mm
m.25.7.a        mesh-wire                       ≥ 1 mm
m.25.7.d        mask-bib-cloth                  ≥ 1600 N
m.25.7.e        mask-band-width                 ≥ 45 mm
m.25.7.e        mask-band-strength              ≥ 750 N/cm
m.25.3.c        clothing-cloth                  ≥ 800 N
m.55.1          reel-wire                       ≤ 3 Ω
m.55.3          reel-length                     ≥ 20 m
m.55.5          floor-cable-wire                ≤ 2.5 Ω
m.57.1          piste-resistance                ≤ 5 Ω
m.57.4          piste-length                    17 - 18 m
m.58.1          power-12v                       11.4 - 12.6 V
m.51.11         power-backup                    ≥ 5 min
m.59.1.b        lamp-height                     ≥ 1.8 m
m.59.1.c        lamp-output-coloured            ≥ 2600 lm
m.59.1.c        lamp-output-white               ≥ 1100 lm
m.59.2.b        lamp-spacing                    ≤ 15 cm
m.51.10         any-sound-level                 80 - 100 dB
m.51.10         any-sound-time                  2 - 3 s
A.1(a)3         sound.foil                      ≤ 2 s
C(a)3           sound.sabre                     1 - 2 s
m.52.1          any-spares                      ≥ 2 apparatus
A.1(b)1         break-time.foil                 13 - 15 ms
A.1(b)2         valid-resistance.foil           ≥ 500 Ω
A.1(b)3         signal-resistance.foil          ≥ 200 Ω
A.1(b)4         loop-rise.foil                  ≥ 200 Ω
A.1(b)5         earth-rise.foil                 ≥ 100 Ω
A.1(a)6         blocking-time.foil              275 - 325 ms
A.2             return-resistance.foil          ≥ 200 Ω
A.2             yellow-lamp.foil                450 - 475 Ω
B(b)            double-hit.epee                 40 - 50 ms
B(c)            contact-time.epee               2 - 10 ms
B(c)            contact-resistance.epee         ≥ 100 Ω
B(d)            guard-silent.epee               ≥ 100 Ω
B(e)1           lamps-per-side.epee             ≥ 2 lamps
C(b)1           contact-time.sabre              0.1 - 1 ms
C(b)2           external-resistance.sabre       ≥ 100 Ω
C(b)3           yellow-lamp.sabre               ≥ 450 Ω
C(b)3           guard-hit.sabre                 < 250 Ω
C(a)8           blocking-time.sabre             160 - 180 ms
C(b)5           whip-registers.sabre            4 - 5 ms
C(b)5           whip-blocked.sabre              15 - 20 ms
C(b)5           whip-breaks.sabre               ≤ 10 breaks
C(b)6           whip-rearm.sabre                10 - 20 ms
C(b)7           control-break-resistance.sabre  ≤ 250 Ω
C(b)7           control-break-time.sabre        1 - 5 ms
m.51.8          any-clock-resolution            ≤ 0.01 s
m.38.1          hand-in.weapons                 ≤ 4 weapons
m.38.1          hand-in.cords                   ≤ 3 body cords
m.38.1          hand-in.lames                   ≤ 2 lamés
m.38.1          hand-in.masks                   ≤ 2 masks
m.38.1          hand-in.maskcords               ≤ 3 mask cords
t.117           at-piste.weapons                ≥ 2 weapons
t.117           at-piste.cords                  ≥ 2 body cords
t.117           at-piste.maskcords              ≥ 2 mask cords
m.43            control-team-size               ≥ 3 people
m.43            control-teams                   ≥ 3 teams
"""
USA = """
m.13.1          tape-length.foil                15 - 15 cm
m.12.8          groove-width.foil               ≤ 0.5 mm
m.12.8          groove-depth.foil               ≤ 0.6 mm
m.20.3          blade-end.epee                  ≥ 4 mm
m.20.3          thread-core.epee                ≥ 3.05 mm
m.20.3          button-seat.epee                7 - 8 mm
m.24.5          weapon-resistance.sabre         ≤ 1 Ω
m.24.7          guard-outside.sabre             7 - 8 cm
m.23.4          blade-curve.sabre               < 4 cm
m.23.5          blade-droop.sabre               4 - 7 cm
2.17            blade-size-0.foil               ≤ 775 mm
2.17            blade-size-2.foil               ≤ 825 mm
2.17            blade-size-3.foil               ≤ 850 mm
2.17            blade-size-0.epee               ≤ 775 mm
2.17            blade-size-2.epee               ≤ 825 mm
2.17            blade-size-3.epee               ≤ 850 mm
2.17            blade-size-0.sabre              ≤ 765 mm
2.17            blade-size-2.sabre              ≤ 820 mm
2.17            blade-size-3.sabre              ≤ 850 mm
2.17            blade-youngest                  ≤ 32.5 in
m.27.3          mask-cord-coiled.foil           ≤ 30 cm
m.32.4          mask-cord-coiled.sabre          ≤ 30 cm
m.28.8.a        shirt-belt.foil                 ≤ 15 Ω
m.28.8.b        shirt-sleeves.foil              ≤ 50 Ω
m.34.1          shirt.sabre                     ≤ 15 Ω
m.25.7.e        mask-bib-cloth                  ≥ 350 N
m.52.4          power-backup                    ≥ 5 min
m.59.1.c        lamp-output-coloured            ≥ 150 W
m.59.1.c        lamp-output-white               ≥ 75 W
m.59.2.b        lamp-groups                     ≥ 50 cm
national        hand-in.gloves                  ≤ 2 gloves
staffing        control-staff                   ≥ 1 h
"""
"""What USA Fencing Rules, November 2025, have that the FIE's do not, or have otherwise."""
DROPPED = {"mask-band-width", "mask-band-strength", "any-clock-resolution"}
"""Figures of the FIE's that USA Fencing Rules, November 2025, do not have."""

ROW = re.compile(r"(?P<clause>\S+)\s+(?P<id>\S+)\s+(?:(?P<sign>[<≤≥>]) (?P<end>\S+)|(?P<low>\S+) - (?P<high>\S+)) (?P<unit>.+)")


class Row(NamedTuple):
    """A row of a table: the signs of its ends with their values."""

    clause: str
    ends: tuple[tuple[str, float], ...]
    unit: str


def rows(table: str) -> dict[str, Row]:
    """Return the rows of a table by what they are about."""
    found = {}
    for line in table.strip().splitlines():
        match = ROW.fullmatch(line.strip())
        assert match, line
        if match["sign"]:
            ends: tuple[tuple[str, float], ...] = ((match["sign"], float(match["end"])),)
        else:
            ends = (("≥", float(match["low"])), ("≤", float(match["high"])))
        assert match["id"] not in found, line
        found[match["id"]] = Row(match["clause"], ends, match["unit"])
    return found


def fits(value: float, ends: tuple[tuple[str, float], ...]) -> bool:
    """Return whether a value keeps to a row."""
    compared = {"<": value.__lt__, "≤": value.__le__, "≥": value.__ge__, ">": value.__gt__}
    return all(compared[sign](end) for sign, end in ends)


TABLES = {"fie-2026": rows(FIE), "usa-2025": {key: row for key, row in (rows(FIE) | rows(USA)).items() if key not in DROPPED}}
EVERY = [(edition, key) for edition, table in TABLES.items() for key in table]
DATA = {edition: {each.id: each for each in requirements(edition)} for edition in TABLES}


@pytest.mark.parametrize(("edition", "key"), EVERY)
def test_a_value_at_just_under_and_just_over_each_end_is_judged_as_the_clause_has_it(edition: str, key: str) -> None:
    row, requirement = TABLES[edition][key], DATA[edition][key]
    assert requirement.unit == row.unit
    assert requirement.edition == edition
    assert row.clause in re.sub(r"(Annex|Appendix) B ", "", f"{requirement.clause} {' '.join(requirement.also)}").split()
    for _, end in row.ends:
        for value in (round(end - 0.001, 9), end, round(end + 0.001, 9)):
            assert requirement.kept(value) is fits(value, row.ends), (requirement.text, value)


@pytest.mark.parametrize("edition", TABLES)
def test_no_figure_of_the_data_is_without_a_row(edition: str) -> None:
    assert {key for key, each in DATA[edition].items() if each.has_figure} == set(TABLES[edition])


def test_a_requirement_without_a_figure_takes_no_value() -> None:
    """Groove up, tape, labels and colours are judged by eye: FIE Material Rules, August 2026, m.10."""
    groove = DATA["fie-2026"]["groove-up.foil"]
    assert groove.text == "by eye (m.10)"
    with pytest.raises(ValueError, match="no figure"):
        groove.kept(1)


@pytest.mark.parametrize(
    ("key", "text"),
    [
        ("cord-wire", "≤ 1 Ω (m.29.1.c)"),
        ("weapon-mass.epee", "< 770 g (m.14)"),
        ("blade-droop.foil", "5.5–9.5 cm (m.8.5)"),
        ("blade-edge-angle.foil", "40–50° (m.8.2)"),
        ("reel-plug-pin-a", "15 mm (m.55.6)"),
        ("mask-punch", "by mask punch (m.25.7.c)"),
    ],
)
def test_a_figure_reads_with_its_comparator_and_clause(key: str, text: str) -> None:
    assert DATA["fie-2026"][key].text == text


def test_two_open_ends_read_with_both_comparators() -> None:
    whole = DATA["fie-2026"]["double-hit.epee"]
    between = Requirement(**{**vars(whole), "lower_open": True, "upper_open": True})
    assert between.figure == "> 40 and < 50 ms"
    assert [between.kept(value) for value in (40, 40.001, 49.999, 50)] == [False, True, True, False]
