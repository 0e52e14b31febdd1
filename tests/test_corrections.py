"""What a reading of the kit's texts and profiles against the rulebook and a technician's memory found wrong, line by line.

Clauses: FIE Material Rules (Book 3), August 2026, unless another book is named; “memory” is a weapons technician's, no page read.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from foible.apparatus import load_profile
from foible.circuit import Port
from foible.diagnosis.shown.readings import LEADS_OHMS, spread_of_port
from foible.kit import load_setup
from foible.rules import limits_of
from foible.services.verdict import verdict_of
from foible.trials import CaseTable, arranged, made_case
from strip import strip
from usual import REASONING

ROOT = Path(__file__).parent.parent
FOIL, EPEE, SABRE = strip("foil"), strip("épée"), strip("sabre")
REPAIRS = load_setup("foil").repairs
METER_ROW = re.compile(
    r"^\| (?P<what>[^|]+) \| [^|]*?(?P<low>[\d.]+) to (?P<high>[\d.]+) \| (?:below )?(?P<limit>[\d.]+) \|", re.MULTILINE
)


def text_of(repair: str) -> str:
    return " ".join((*REPAIRS[repair].steps, REPAIRS[repair].clause or ""))


# --- repairs ----------------------------------------------------------------------------------------------------------


def test_tape_is_measured_from_the_tip_and_the_national_figure_stands_apart() -> None:
    """m.13.1: 15 cm ± 1 cm from the button, its body counted in. USA Fencing Rules, November 2025, m.13.1: from the barrel."""
    told = text_of("renew the blade tape")
    assert "15 cm from the tip of the point are covered, the barrel counted in: 14 to 16 cm" in told
    assert "USA Fencing Rules, November 2025, m.13.1: 15 cm from the barrel" in told
    assert "from the edge of the barrel over 15 cm" not in told


@pytest.mark.parametrize(
    ("repair", "figure", "clause"),
    [
        ("remake the cord end", "40 cm", "m.29.2.b"),
        ("remake the cord end", "device that holds it", "m.5.3.c"),
        ("resolder the clip", "less than 40 cm", "m.29.2.b"),
        ("resolder the clip", "8 × 3 mm", "m.29.2.c"),
        ("renew the lining of the sabre guard", "7 to 8 cm", "m.24.6"),
        ("renew the lining of the sabre guard", "grip and pommel", "m.24.7"),
        ("rewire the épée blade", "two separate holes", "m.18.3"),
        ("rewire the épée blade", "at least 2 mm deep", "m.18.2"),
        ("mend the wire behind the guard", "own hole", "m.18.3"),
        ("sheathe the wire behind the guard", "2 mm deep", "m.18.2"),
        ("exchange the socket", "a hole of its own", "m.18.3"),
    ],
)
def test_a_repair_leaves_what_its_clause_asks_for(repair: str, figure: str, clause: str) -> None:
    """Each clause as it stands in the table."""
    assert figure in text_of(repair)
    assert clause in text_of(repair)


def test_a_new_blade_is_dear_and_changes_what_control_measures() -> None:
    """m.2.1: maraging; about twice the price of a plain blade (memory). Mass, lengths, curve and flexibility are checked anew."""
    blade = REPAIRS["exchange the blade"]
    assert blade.price >= 100
    assert all(word in " ".join(blade.steps) for word in ("mass", "length", "curve", "flexibility", "controlled again"))
    for clause in ("m.6", "m.14", "m.22", "m.8.5", "m.16.5", "m.23.4", "m.8.6", "m.16.2", "m.23.3", "m.7", "m.15", "m.21"):
        assert re.search(rf"{re.escape(clause)}\b", blade.clause or ""), clause


# --- profiles ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("profile", ["fie-2026-foil", "no-anti-blocking-foil"])
def test_foil_earth_is_sure_up_to_100_ohm_only(profile: str) -> None:
    """A.1(b)5 guarantees 100 Ω in the earth circuit; the 200 Ω of A.1(b)4 are those of the closed circuit."""
    guard = FOIL.arrangement(press="left", on="right weapon guard")
    earth = "right cord C wire, middle"
    assert not any(FOIL.lamps(guard, put_in={earth: 100}, profile=profile).values())
    assert 0 < FOIL.lamps(guard, put_in={earth: 200}, profile=profile)["left white"] < 1
    assert FOIL.lamps(guard, put_in={earth: 600}, profile=profile)["left white"] == 1
    assert not any(FOIL.lamps(FOIL.arrangement(), put_in={"left cord C wire, middle": 200}, profile=profile).values())


def test_a_poor_sabre_target_is_left_open_well_beyond_250_ohm() -> None:
    """C(b)2 guarantees 100 Ω; no clause gives an upper end (C(b)3 is about a leak of the fencer who is hit): judgement."""
    cut = SABRE.arrangement(cut="left", on="right lamé front")
    assert SABRE.lamps(cut, put_in={"right cord A wire, middle": 100})["left coloured"] == 1
    assert 0 < SABRE.lamps(cut, put_in={"right cord A wire, middle": 300})["left coloured"] < 1
    assert SABRE.lamps(cut, put_in={"right cord A wire, middle": 600})["left coloured"] == 0


def test_the_sabre_has_its_times_for_a_whip_over() -> None:
    """C(b)5: 0–4 ms (+ 1) after the blades met a hit registers, 4–15 ms (+ 5) it does not; C(b)6: 15 ± 5 ms."""
    profile = load_profile("fie-2026-sabre")
    blocked, again, rearm = (profile.time(name) for name in ("whip_over", "whip_over_ends", "rearm"))
    assert [blocked.chance(ms) for ms in (0, 4, 5, 10)] == [0, 0, 1, 1]
    assert [again.chance(ms) for ms in (5, 15, 20, 30)] == [0, 0, 1, 1]
    assert [rearm.chance(ms) for ms in (10, 20)] == [0, 1]
    assert [window.clause for window in REASONING.times("sabre")][-3:] == ["C(b)5", "C(b)5", "C(b)6"]


# --- meter ------------------------------------------------------------------------------------------------------------


def test_no_good_reading_on_the_meter_page_goes_over_its_limit() -> None:
    """m.5.4.a: an épée of 2.5 Ω fails control, so it is not good."""
    rows = [row.groupdict() for row in METER_ROW.finditer((ROOT / "docs" / "meter.md").read_text(encoding="utf-8"))]
    assert len(rows) >= 7
    for row in rows:
        assert float(row["high"]) <= float(row["limit"]), row["what"]


def test_an_epee_of_good_parts_mostly_keeps_to_the_limit() -> None:
    """m.5.4.a: at most 2 Ω. The limit is the rules' own datum, not typed here."""
    limit = next(each.table for each in limits_of("épée") if each.table.clause == "m.5.4.a")
    setup = EPEE.setup
    alone = EPEE.arrangement(press="left", unplugged=["left weapon plug"])
    network = arranged(setup, alone).network(setup.network)
    ends = [setup.places[f"left weapon {line} contact of the socket"] for line in "AB"]
    spreads = {name: setup.parts[name].spread for name in setup.parts}
    lift, spread = spread_of_port(network, spreads, ends[0], ends[1])
    good = EPEE.reasoner.dictionary.ohms(alone, [Port.between(*ends)])[0, 0] + lift
    assert good + 1.96 * float(np.hypot(spread, LEADS_OHMS)) < limit.value + 0.1


# --- shares -----------------------------------------------------------------------------------------------------------


def test_what_is_left_over_is_never_more_than_all() -> None:
    """Both sides white is hardly one fault, and “other parts” then came to 104 %."""
    case = made_case(
        CaseTable.model_validate({"weapon": "foil", "trial": [{"saw": ["left white", "right white"], "times": 3}]}), name="both"
    )
    diagnosis = REASONING.diagnose(case)
    for count in (0, 1, 5, 20):
        rest = verdict_of(diagnosis, count, misread=(), alike=()).rest
        shown = diagnosis.finding.suspects[:count]
        some = sum(suspect.probability for suspect in shown)
        assert 0 <= rest.others <= 1 - rest.sound - rest.unknown + 1e-9
        assert rest.others >= 1 - rest.sound - rest.unknown - some - 1e-9
    everything = verdict_of(diagnosis, len(diagnosis.finding.suspects), misread=(), alike=()).rest
    assert everything.others == pytest.approx(0, abs=1e-6)
