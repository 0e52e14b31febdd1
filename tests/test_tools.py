"""Meter, test box, weights and shims as evidence."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from foible.circuit import Branch, Network, Port, Shape, conductances_of, port_resistances
from foible.diagnosis import explain_tools
from foible.diagnosis.shown.readings import LEADS_OHMS, PRECISION, chance_of_reading, sensitivities, spread_of_port
from foible.errors import InputError
from foible.trials import TrialTable, arranged, read_reading, read_trial
from strip import Strip, strip

FOIL, EPEE, SABRE = strip("foil"), strip("épée"), strip("sabre")
SOCKET = ("left weapon B contact of the socket", "left weapon C contact of the socket")


def bench(kit: Strip, *places: str, **keys: object) -> tuple[Network, str, str]:
    """Return the network of a meter trial on sound kit, and the nodes the leads are on."""
    trial = kit.trial(meter=places, reads="open", **keys)
    first, second = (kit.setup.places[place] for place in places)
    return arranged(kit.setup, trial.arrangement).network(kit.setup.network), first, second


def resistance(network: Network, source: str, sink: str) -> float:
    """Return the resistance between two nodes [Ω]."""
    shape = Shape.of(network, (source, sink))
    return float(port_resistances(shape, shape.conductances(conductances_of(network)), [Port.between(source, sink)])[0, 0])


# --- readings -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "low", "high", "wobbles"),
    [
        ("1.6", 1.55, 1.65, False),
        ("0.9 ohm", 0.85, 0.95, False),
        ("12", 11.5, 12.5, False),
        ("open", 1e6, math.inf, False),
        ("over 10", 10, math.inf, False),
        ("under 1 Ω", 0, 1, False),
        ("2 to 6", 2, 6, True),
        ("6 to 2", 2, 6, True),
        ("1 to open", 1, math.inf, True),
        ("1,6", 1.55, 1.65, False),
        ("OL", 1e6, math.inf, False),
        ("0.L", 1e6, math.inf, False),
        ("∞", 1e6, math.inf, False),
        ("1k", 500, 1500, False),
        ("4k7", 4650, 4750, False),
        ("1.20 kΩ", 1195, 1205, False),
        ("2 MΩ", 1.5e6, 2.5e6, False),
        (">20", 20, math.inf, False),
        ("< 0,5 ohms", 0, 0.5, False),
        ("2-6", 2, 6, True),
        ("2 – 6 Ω", 2, 6, True),
        ("2…6", 2, 6, True),
        ("jumps between 1 and 5", 1, 5, True),
        ("0.4 Ω to OL", 0.4, math.inf, True),
    ],
)
def test_a_reading_is_an_interval(text: str, low: float, high: float, wobbles: bool) -> None:  # noqa: FBT001 — expected
    reading = read_reading(text)
    assert [reading.low, reading.high] == [pytest.approx(low), pytest.approx(high)]
    assert reading.wobbles is wobbles


@pytest.mark.parametrize("text", ["", "lots", "-1", "1.6.7", "over", "to 6", "1e3", "1 mΩ", "k", "2 -"])
def test_what_is_no_reading_is_refused(text: str) -> None:
    with pytest.raises(InputError, match="is not a meter reading"):
        read_reading(text)


def test_a_comma_that_may_stand_for_thousands_is_asked_about() -> None:
    """An English “1,000” is a thousand times a German one."""
    with pytest.raises(InputError, match=r"can be read as 1000 Ω or as 1\.000 Ω — write “1000” or “1\.000”"):
        read_reading("1,000")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1,6", "1.6 Ω"),
        ("1.6 ohm", "1.6 Ω"),
        ("OL", "open"),
        ("4k7", "4.7 kΩ"),
        ("2MΩ", "2 MΩ"),
        (">20", "over 20 Ω"),
        ("below 1 ohm", "under 1 Ω"),
        ("2-6", "2 to 6 Ω"),
        ("1 to ∞", "1 to open"),
        ("under 0.5 Ω", "under 0.5 Ω"),
    ],
)
def test_a_reading_is_said_with_one_unit_however_it_was_written(text: str, words: str) -> None:
    assert read_reading(text).words == words


@given(st.floats(0, 1e6, allow_nan=False), st.integers(0, 3))
def test_a_figure_reads_the_same_with_a_comma_and_with_a_point(ohms: float, places: int) -> None:
    with_point = f"{ohms:.{places}f}"
    if places == 3:
        with_point += "0"  # three digits behind a comma may be thousands
    one, other = read_reading(with_point), read_reading(with_point.replace(".", ","))
    assert (one.low, one.high) == (other.low, other.high)
    assert one.low <= float(with_point) <= one.high


# --- sensitivities --------------------------------------------------------------------------------------------------


@given(ohms=st.lists(st.floats(0.05, 100), min_size=5, max_size=5))
@hypothesis_settings(max_examples=60, deadline=None)
def test_sensitivities_are_the_slopes_of_finite_differences(ohms: list[float]) -> None:
    """A bridge of five resistors: dR/dr is the square of the current's share (Cohn 1950), here beside central differences."""
    ends = [("s", "a"), ("s", "b"), ("a", "b"), ("a", "t"), ("b", "t")]
    slopes = sensitivities(_bridge(ends, ohms), "s", "t")
    for i, value in enumerate(ohms):
        step = 1e-4 * value
        up, down = ([*ohms[:i], value + sign * step, *ohms[i + 1 :]] for sign in (1, -1))
        slope = (resistance(_bridge(ends, up), "s", "t") - resistance(_bridge(ends, down), "s", "t")) / (2 * step)
        assert slopes[f"r{i}"] == pytest.approx(slope, rel=1e-4, abs=1e-6)


def _bridge(ends: list[tuple[str, str]], ohms: list[float]) -> Network:
    return Network(tuple(Branch(f"r{i}", a, b, value) for i, ((a, b), value) in enumerate(zip(ends, ohms, strict=True))))


def test_sensitivities_times_resistances_add_up_to_the_resistance() -> None:
    """Euler: R is homogeneous of degree 1 in the branches, on the bench foil with the point up."""
    network, source, sink = bench(FOIL, *SOCKET)
    slopes = sensitivities(network, source, sink)
    total = sum(slopes[b.name] * b.ohms for b in network.branches if b.name in slopes)
    assert total == pytest.approx(resistance(network, source, sink), rel=1e-6)


# --- likelihood against Monte Carlo -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kit", "places"),
    [
        (FOIL, SOCKET),
        (FOIL, ("left cord clip", "left cord A pin of the reel plug")),
        (SABRE, SOCKET),
        (FOIL, ("left lamé front", "left lamé back")),
    ],
    ids=["foil", "cord", "sabre", "lamé"],
)
def test_the_chance_of_a_reading_on_sound_kit_is_that_of_simulated_kit_and_meters(kit: Strip, places: tuple[str, str]) -> None:
    """20,000 sets of good parts, log-normal within their spreads, read by meters with leads and an error; fixed seed."""
    network, source, sink = bench(kit, *places)
    spreads = {part.id: part.spread for part in kit.setup.parts.values()}
    rng = np.random.default_rng(20260801)
    count = 20_000
    factors = np.array([math.log(spreads.get(b.name, 1.0)) / 1.96 for b in network.branches])
    ohms = np.array([b.ohms for b in network.branches])[:, None] * np.exp(
        factors[:, None] * rng.standard_normal((len(factors), count))
    )
    shape = Shape.of(network, (source, sink))
    true = port_resistances(shape, shape.conductances(1 / ohms), [Port.between(source, sink)])[0]
    shown = true + LEADS_OHMS * rng.standard_normal(count) + PRECISION * true * rng.standard_normal(count)
    shown = np.maximum(shown, 0)
    good = resistance(network, source, sink)
    spread = spread_of_port(network, spreads, source, sink)
    hypotheses = kit.reasoner.hypotheses
    for text in (f"{good:.1f}", f"under {good:.2f}", f"over {1.2 * good:.2f}", f"over {good + 0.3:.2f}", "over 10"):
        reading = read_reading(text)
        _, chance = chance_of_reading(reading, np.full(len(hypotheses), good), good, spread, hypotheses)
        simulated = float(((shown >= reading.low) & (shown < reading.high)).mean())
        assert chance == pytest.approx(simulated, abs=0.06), (text, good, spread)


def test_published_readings_of_good_parts_lie_in_the_models_95_percent_ranges() -> None:
    """Armoury Tip 3, Blackheath FC: whole foil about 2 Ω at most, wire side near 0.9 Ω. Salle Boise: cord lines below 1 Ω.

    m.55.1, m.55.5, m.28.5 (FIE Material Rules, August 2026): reel at most 3 Ω, floor cable 2.5 Ω, lamé 5 Ω.
    """
    spreads = {part.id: part.spread for part in (*FOIL.setup.parts.values(), *EPEE.setup.parts.values())}
    epee = ("left weapon A contact of the socket", "left weapon B contact of the socket")
    network, source, sink = bench(EPEE, *epee, press="left")
    assert 1 < resistance(network, source, sink) <= 2, "épée pressed: about 2 Ω (Armoury Tip 3, Blackheath FC)"
    for places, published in (
        (SOCKET, (1.0, 2.0)),
        (("left weapon screw of the socket", "left weapon point"), (0.8, 2.0)),
        (("left cord clip", "left cord A pin of the reel plug"), (0.3, 1.0)),
        (("left lamé front", "left lamé back"), (0.5, 5.0)),
    ):
        network, source, sink = bench(FOIL, *places)
        middle, (lift, sigma) = resistance(network, source, sink), spread_of_port(network, spreads, source, sink)
        low, high = middle - 1.96 * sigma, middle + lift + 1.96 * sigma
        assert low < published[1]
        assert high > published[0]
        assert middle <= published[1], "good parts keep to the limit"


# --- what a meter tells -----------------------------------------------------------------------------------------------


def test_a_foil_that_reads_12_ohm_has_a_bad_joint_and_one_that_reads_1_6_has_not() -> None:
    """Armoury Tip 3, Blackheath FC: about 2 Ω is good; over 10 Ω, look for a real fault."""
    joints = FOIL.reasoner.find([FOIL.trial(meter=SOCKET, reads="25", note="on the bench")])
    sound = FOIL.reasoner.find([FOIL.trial(saw="left white"), FOIL.trial(meter=SOCKET, reads="1.6")])
    weapon = [next(s.probability for s in found.items if s.name == "left weapon") for found in (joints, sound)]
    assert weapon[0] > 0.8
    assert weapon[1] < 0.45
    assert joints.suspects[0].ohms < 150, "the severity is near the reading"
    low, high = joints.suspects[0].ohms_range
    assert 20 < low <= 23.5 <= high < 27, "25 Ω less what good parts read"


def test_a_cord_line_that_reads_open_is_broken_on_that_line() -> None:
    places = ("left cord B pin of the weapon plug", "left cord B pin of the reel plug")
    parts = FOIL.suspects(FOIL.trial(meter=places, reads="open"))
    assert all(part.startswith("left cord") for part in parts[:5])
    assert not any(" A " in part or " C " in part for part in parts[:4])


def test_a_reading_that_wobbles_while_the_blade_is_bent_is_the_wire() -> None:
    """Armoury Tip 3, Blackheath FC: bend the blade at several places; the reading jumps at the break."""
    places = ("left weapon screw of the socket", "left weapon point")
    parts = FOIL.suspects(FOIL.trial(meter=places, reads="0.9 to 30", move="bend left weapon blade"))
    assert parts[0] == "left weapon wire along the blade"


def test_a_pressed_foil_that_reads_closed_is_shorted() -> None:
    """Armoury Tip 3, Blackheath FC: pressed it must read open; closed means a short."""
    found = FOIL.reasoner.find([FOIL.trial(meter=SOCKET, reads="1.2", press="left")])
    assert found.suspects[0].failure.joins or found.suspects[0].failure.sets


@pytest.mark.parametrize("reads", ["7", "13", "25", "43", "75", "140", "600"])
def test_any_reading_is_a_severity_of_some_joint(reads: str) -> None:
    """Severity is continuous: no figure falls between the steps of a ladder."""
    found = FOIL.reasoner.find([FOIL.trial(meter=SOCKET, reads=reads)])
    assert found.items[0].name == "left weapon"
    belief, own = found.belief, np.array([item == "left weapon" for item in FOIL.reasoner.hypotheses.part_items])
    failed = belief.failed[own].sum() - belief.pairs[np.ix_(own, own)].sum() / 2  # alone or with another
    assert failed > 0.75
    assert found.unknown < 0.1


def test_two_agreeing_readings_of_one_failure_raise_no_doubt() -> None:
    """38 Ω and again 37 Ω are one severity, not two strokes of luck."""
    once = FOIL.reasoner.find([FOIL.trial(meter=SOCKET, reads="38")])
    twice = FOIL.reasoner.find([FOIL.trial(meter=SOCKET, reads="38"), FOIL.trial(meter=SOCKET, reads="37")])
    weapon = [next(s.probability for s in found.items if s.name == "left weapon") for found in (once, twice)]
    assert weapon[1] > weapon[0]
    assert twice.unknown < 0.1


def test_readings_that_fit_nothing_point_at_the_meter() -> None:
    found = FOIL.reasoner.find(
        [
            FOIL.trial(meter=("left cord clip", "left cord A pin of the reel plug"), reads="55"),
            FOIL.trial(meter=("right cord clip", "right cord A pin of the reel plug"), reads="70"),
            FOIL.trial(meter=("right lamé front", "right lamé back"), reads="60"),
        ]
    )
    assert found.suspects[0].part == "tools meter"


# --- test box -----------------------------------------------------------------------------------------------------------


def test_a_foil_in_the_box_is_lit_at_rest_and_dark_when_pressed() -> None:
    """Sask Sword, 1986: lamp lit at rest, out when the point is pressed."""
    good = [FOIL.trial(box="left weapon", lights="B-C"), FOIL.trial(box="left weapon", lights="nothing", press="left")]
    dead = [FOIL.trial(box="left weapon", lights="nothing"), FOIL.trial(box="left weapon", lights="nothing", press="left")]
    shorted = [FOIL.trial(box="left weapon", lights="B-C"), FOIL.trial(box="left weapon", lights="B-C", press="left")]
    items = [FOIL.reasoner.find(trials).items[0] for trials in (good, dead, shorted)]
    assert items[0].probability < 0.5
    assert (items[1].name, items[2].name) == ("left weapon", "left weapon")
    assert FOIL.reasoner.find(dead).suspects[0].failure.raises
    assert FOIL.reasoner.find(shorted).suspects[0].failure.joins


def test_the_box_tells_a_cord_with_its_pins_bridged() -> None:
    """How to Repair a Break in the Wire: bridge both weapon pins, the lamp is steady; dark means a broken line."""
    bridged = {"box": "left cord", "bridged": "left weapon plug B-C"}
    broken = FOIL.suspects(FOIL.trial(**bridged, lights="nothing"))
    assert all(part.startswith("left cord") for part in broken[:6])
    crossed = FOIL.suspects(FOIL.trial(box="left cord", lights="A-B"))
    assert any("insulation A-B" in part or "housing" in part for part in crossed[:3])


# --- gauges -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kit", "gauge", "part"),
    [
        (FOIL, "left 500 g weight", "left weapon pressure spring"),
        (FOIL, "left 1 mm travel gauge", "left weapon point travel"),
        (EPEE, "left 750 g weight", "left weapon return spring"),
        (EPEE, "left 0.5 mm shim", "left weapon contact spring"),
        (EPEE, "left 1.5 mm shim", "left weapon point travel"),
    ],
)
def test_a_gauge_points_at_the_part_it_is_made_for(kit: Strip, gauge: str, part: str) -> None:
    """Weights m.11.3 and m.19.2, travels m.19.4 (FIE Material Rules, August 2026). Fixes: rec.sport.fencing FAQ 2.10."""
    assert part in kit.suspects(kit.trial(gauge=gauge, found="fails"))[:2]
    before = kit.suspects(kit.trial(press="left", saw="left nothing")).index(part)
    after = kit.suspects(kit.trial(press="left", saw="left nothing"), kit.trial(gauge=gauge, found="passes")).index(part)
    assert after >= before


def test_a_shim_that_fails_both_fencers_is_worn() -> None:
    """fencingtactics.com: a gauge spun under pressed tips is worn thin and fails good weapons."""
    both = [EPEE.trial(gauge=f"{side} 0.5 mm shim", found="fails") for side in ("left", "right")]
    assert EPEE.suspects(*both)[0] == "tools 0.5 mm shim"


# --- refusals -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"meter": SOCKET}, "needs “reads” as well"),
        ({"reads": "1"}, "needs “meter” as well"),
        ({"meter": (SOCKET[0], SOCKET[0]), "reads": "1"}, "both leads are on"),
        ({"meter": SOCKET, "reads": "some"}, "is not a meter reading"),
        ({"box": "left lamé", "lights": "B-C"}, "does not go into a test box"),
        ({"box": "left weapon", "lights": "A-B"}, "is not a lamp of the test box here"),
        ({"gauge": "left 900 g weight", "found": "fails"}, "no gauge called"),
        ({"gauge": "left 500 g weight", "found": "loose"}, "no verdict of a gauge"),
        ({"gauge": "left 500 g weight"}, "needs “found” as well"),
    ],
)
def test_tools_used_wrongly_are_refused(keys: dict[str, object], words: str) -> None:
    _, wrong = read_trial(FOIL.setup, TrialTable.model_validate(keys))
    assert any(words in str(error) for _, error in wrong), wrong


def test_a_reading_that_the_lamps_deny_raises_doubt() -> None:
    """White at rest takes more than 200 Ω in the loop (Annex B A.1(b)4); 25 Ω at the socket does not explain it."""
    fits = FOIL.reasoner.find([FOIL.trial(saw="left white"), FOIL.trial(meter=SOCKET, reads="600")])
    denies = FOIL.reasoner.find([FOIL.trial(saw="left white"), FOIL.trial(meter=SOCKET, reads="25")])
    assert denies.unknown > 5 * fits.unknown


def test_why_speaks_of_the_tool_and_not_of_lamps_that_nobody_saw() -> None:
    trials = [
        EPEE.trial(
            press="left", meter=("left weapon A contact of the socket", "left weapon B contact of the socket"), reads="open"
        ),
        EPEE.trial(gauge="left 750 g weight", found="passes"),
        EPEE.trial(box="left cord", lights="nothing"),
    ]
    suspect = EPEE.reasoner.find(trials).suspects[0]
    told = [explain_tools(EPEE.setup, trial, suspect.failure, suspect.ohms) for trial in trials]
    network, *ends = bench(EPEE, "left weapon A contact of the socket", "left weapon B contact of the socket", press="left")
    shape = Shape.of(network, tuple(ends))
    sound = float(port_resistances(shape, shape.conductances(conductances_of(network)), [Port.between(*ends)])[0, 0])
    assert sound <= 2, "FIE Material Rules, August 2026, m.5.4.a"
    assert f"open with it, {sound:.2g} Ω with sound kit" in told[0]
    assert "750 g weight" in told[1]
    assert "lines A-B: open with it" in told[2]


@pytest.mark.parametrize(
    ("kit", "gauge"), [(SABRE, "left 500 g weight"), (EPEE, "left 500 g weight"), (FOIL, "left 0.5 mm shim")]
)
def test_a_gauge_of_another_weapon_is_refused(kit: Strip, gauge: str) -> None:
    _, wrong = read_trial(kit.setup, TrialTable(gauge=gauge, found=("fails",)))
    assert any("no gauge called" in str(error) for _, error in wrong)
